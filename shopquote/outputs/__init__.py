"""Lays finished results out: workbooks, terminal tables, JSON. Computes no price.

Imports calc, records, services and errors.
"""
