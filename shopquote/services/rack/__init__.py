"""Bars and offcuts in the shop, and where each came from."""
