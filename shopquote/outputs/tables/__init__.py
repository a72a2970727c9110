"""Terminal tables and JSON."""
