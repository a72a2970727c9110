"""The workshop floor: sheets to work from, and what is logged on jobs."""
