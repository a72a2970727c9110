"""Quotes: drafted, stored, changed, answered."""
