"""Supplier choice.

Which supplier gets which bars, in which bundles, in full lengths or sawn by the supplier.
"""
