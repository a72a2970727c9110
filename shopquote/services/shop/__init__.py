"""The shop itself: its database, lists and rules."""
