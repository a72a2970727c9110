"""Which bars to buy and how to saw them, with a proven bound."""
