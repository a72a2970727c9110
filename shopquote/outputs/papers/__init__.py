"""Papers typeset from templates: layout is decided in `templates`, never in Python.

May import calc, records, services and the other rooms of outputs.
"""
