"""The safe: what keeps the records whole: checks, cures, backups."""
