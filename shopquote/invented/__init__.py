"""The invented shop of the demo: its price list, its jobs and two years of history.

Only `shopquote demo` and the set-up of a new shop import this package. It may import every package of the
program but `cli`.
"""
