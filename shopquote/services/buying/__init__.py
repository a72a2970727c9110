"""What to buy, from whom, and what came."""
