"""Workbooks: one module for each, built on `book` (cells), `sheet_table` (tables) and `charts`."""
