"""Drawings of parts and bars as plain lines, arcs and texts, in millimetres on paper.

Nothing else draws; `outputs/drawings` writes what is drawn here as SVG, DXF, PNG and PDF. Imports calc.
"""
