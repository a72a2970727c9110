"""Tables, their constraints and exact column types; no pricing.

Imports `shopquote.calc` and `shopquote.errors` only.
"""
