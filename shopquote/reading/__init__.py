"""Input: a typed text, a cell or a TOML value becomes a value, or a fault that says where it stands.

`kinds` has one reader and one formatter for each kind of value; `forms` describes the columns of a sheet,
used to write and to read it; `table_files` and `toml_files` read files. Imports calc and errors.
"""
