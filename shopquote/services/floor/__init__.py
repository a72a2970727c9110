"""Sheets for the floor, and what the floor says back."""
