"""Reads tables on a worksheet by their headings, as a person does: never by a column's number.

for line in rows_under(sheet, "Bar", "Amount"):
    assert line["Bar"].value == "round 12"
"""

from collections.abc import Iterator


def table_cells(sheet, *headings):
    """The first table that has these headings: a dictionary of heading to cell for each row below.

    A row without a value below any heading ends the table.
    """
    heads, below = _heads(sheet, headings)
    rows = []
    for row in sheet.iter_rows(min_row=below):
        cells = {heading: row[place] for heading, place in heads.items()}
        if all(cell.value in (None, "") for cell in cells.values()):
            break
        rows.append(cells)
    return rows


def rows_under(sheet, *headings):
    """The same with each cell's value."""
    return [{heading: cell.value for heading, cell in row.items()} for row in table_cells(sheet, *headings)]


def row_where(sheet, wanted, *headings):
    """The cells of a table's first row that holds these values (None: nothing yet), to read or to fill in."""
    heads, below = _heads(sheet, (*wanted, *headings))
    for row in sheet.iter_rows(min_row=below):
        if all(row[heads[heading]].value == value for heading, value in wanted.items()):
            return {heading: row[place] for heading, place in heads.items()}
    raise AssertionError(f"{sheet.title} has no row with {wanted}")


def fill(sheet, wanted, **values):
    """Write into that row, each value below its heading; returns the row's number."""
    cells = row_where(sheet, wanted, *values)
    for heading, value in values.items():
        cells[heading].value = value
    return next(iter(cells.values())).row


def _heads(sheet, headings):
    for row in sheet.iter_rows():
        places: dict[str, int] = {}
        for place, cell in enumerate(row):
            if isinstance(cell.value, str):
                places.setdefault(cell.value, place)
        if all(heading in places for heading in headings):
            return places, row[0].row + 1
    raise AssertionError(f"{sheet.title} has no table with {', '.join(headings)}")


def texts(sheet) -> Iterator[str]:
    """Every cell's value as text."""
    return (str(cell) for row in sheet.iter_rows(values_only=True) for cell in row if cell not in (None, ""))
