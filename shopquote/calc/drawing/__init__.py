"""Drawings of parts and bars: lines, arcs and texts in millimetres on paper; and shapes read from drawings.

`outputs/drawings` writes the drawings as SVG, DXF, PNG and PDF. Imports calc only.
"""
