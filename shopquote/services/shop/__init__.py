"""The shop's own: its database, its lists, its rules."""
