"""Quotes: estimated, made, stored, revised, answered and followed up."""
