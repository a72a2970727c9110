"""Jobs and their parts, from file to database and back."""
