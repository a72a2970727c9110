"""Safety of the records: checks, cures, backups, export."""
