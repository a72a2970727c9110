"""Every way in: a text, a cell or a TOML value becomes a value, or a fault with its place.

`kinds` has one reader and one shower for each kind of value; `forms` the columns of a sheet, as data for
both directions; `table_files` and `toml_files` the files. Imports calc and errors.
"""
