"""The invented shop of the demo: its history and its prices. Imported by the demo and by setting up alone.

May import every folder to the left of cli.
"""
