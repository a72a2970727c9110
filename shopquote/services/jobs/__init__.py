"""Jobs and their parts: read from files, stored, listed, revised, and their states."""
