"""Pure calculation: values in, values out. No files, clock, database or printing.

Imports nothing of the project but `shopquote.errors`.
"""
