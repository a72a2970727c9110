"""The invented shop of the demo: its history and its prices. Imported by the commands demo and setup alone.

May import every folder to the left of cli.
"""
