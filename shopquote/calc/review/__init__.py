"""What a finished job earned, and what the standards should have been."""
