"""What closed jobs earned, and what that teaches."""
