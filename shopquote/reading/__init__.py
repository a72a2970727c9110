"""Every way in: a text, a cell or a TOML value becomes a value, or a fault with its place.

Imports calc and errors.
"""
