"""What closes the gap that the core leaves, writes it down and checks it; loaded only when a gap is left."""
