"""The tabs of the floor sheets that the shop fills in; `services.floor.sheet` reads them back.

Their headings are those of `services.floor.tabs`, and so are the columns to fill in.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.job import OPERATIONS
from shopquote.calc.units import show_bar
from shopquote.outputs.books.book import Book, put_line
from shopquote.outputs.books.sheet_table import Drawn, Theme, draw, widen
from shopquote.outputs.books.style import LABEL, NOTE, TITLE, WRAPPED
from shopquote.outputs.looks import DAY, TEXT, whole_minutes
from shopquote.outputs.table import Column, Fill, Table
from shopquote.outputs.tables.floor_tables import bars_words
from shopquote.reading import kinds
from shopquote.reading.forms import FormColumn
from shopquote.services.floor.floor_sheet import FloorSheet
from shopquote.services.floor.tabs import BARS_TAB, MINUTES_TAB, SCRAP_TAB, Tab, identity

Cells = Mapping[str, Any]

# Room to write by hand, and letters large enough to read at arm's length.
FILL_THEME = Theme(WRAPPED.but(rule="b", down="center", size=12), row_height=24)
HEAD_ROW = 5
_WIDTHS = {
    "Operation": 14, "Planned minutes": 11, "Day": 13, "Person": 16, "Minutes": 12, "Rework": 10,
    "Reason or note": 36, "Bar": 9, "Section": 16, "Grade": 10, "Length": 11, "Rack piece": 13, "Heat": 12,
    "Planned": 9, "Used": 8, "Came back": 18, "Cost": 10, "Delivery": 10, "Mark": 12, "Pieces": 10,
    "Reason": 48,
}  # fmt: skip


def tab_columns(tab: Tab, also: Sequence[str] = ()) -> tuple[Column[Cells], ...]:
    """The columns of a tab; those named in `also` are to be filled in too, in the spare rows."""

    def column(of: FormColumn) -> Column[Cells]:
        name = of.name
        filled: Fill = "both" if name in tab.shaded else "spare" if name in also else ""
        look = DAY if of.kind is kinds.DAY else TEXT
        return Column(name, lambda row: row.get(name), look, _WIDTHS.get(name, 12), fill=filled)

    return tuple(column(of) for of in tab.form.columns)


def minutes_tab(book: Book, sheet: FloorSheet) -> Worksheet:
    """Draw two rows for each planned operation (for two people or days), and spare rows."""
    page = book.add(MINUTES_TAB.name)
    rows = [
        {"Operation": name, "Planned minutes": planned}
        for name, minutes in sheet.minutes
        for planned in (whole_minutes(minutes), None)
    ]
    how = "One row for each person and day. Minutes as 90, 1:30 or 1.5 h. Rework: yes, with the reason."
    drawn = _tab(page, sheet, MINUTES_TAB, how, rows, ("Operation",))
    _choices(drawn, "Operation", ",".join(OPERATIONS))
    _choices(drawn, "Rework", "yes")
    return page


def bars_tab(book: Book, sheet: FloorSheet) -> Worksheet:
    """Draw a row for each bar of the saw list; its length is exact, to read back as the same bar."""
    page = book.add(BARS_TAB.name)
    rows = [
        {
            "Bar": bars_words(bar), "Section": bar.bar, "Grade": bar.grade,
            "Length": show_bar(bar.length, sheet.unit), "Rack piece": bar.piece,
            "Heat": bar.heat, "Planned": bar.count,
        }
        for bar in sheet.saw
    ]  # fmt: skip
    how = (
        "Used: how many of the bars were sawn. Came back: measured lengths that went back on the rack, "
        f"separated by semicolons; bare numbers are {sheet.unit}. Cost: the total of the row's bars, only "
        "if the shop has no price for such a bar on file. Delivery: what was charged for bringing them, 0 "
        "if nothing was. Rework: yes, with the reason."
    )
    drawn = _tab(page, sheet, BARS_TAB, how, rows, ("Section", "Grade", "Length", "Rack piece"))
    _choices(drawn, "Rework", "yes")
    return page


def scrap_tab(book: Book, sheet: FloorSheet) -> Worksheet:
    """Draw empty rows for spoilt pieces."""
    page = book.add(SCRAP_TAB.name)
    marks = ", ".join(part.mark for part in sheet.parts)
    how = f"Pieces that were spoilt, with the reason. Marks of this job: {marks}"
    _tab(page, sheet, SCRAP_TAB, how, [], ())
    return page


def _tab(
    page: Worksheet, sheet: FloorSheet, tab: Tab, how: str, rows: Sequence[Cells], also: Sequence[str]
) -> Drawn[Cells]:
    columns = tab_columns(tab, also)
    last = len(columns)
    widen(page, columns)
    put_line(page, 1, last, f"{tab.name} {sheet.job}", TITLE, fit=False)
    page.row_dimensions[1].height = 26
    put_line(page, 2, last, identity(sheet), LABEL)
    put_line(page, 3, last, how, NOTE)
    page.freeze_panes = f"A{HEAD_ROW + 1}"
    return draw(page, Table(columns, rows), HEAD_ROW, theme=FILL_THEME, spare=tab.spare)


def _choices(drawn: Drawn[Cells], heading: str, words: str) -> None:
    """Add a drop-down list to the cells below a heading; other words may be typed too."""
    (column,) = [column for column in drawn.places if column.heading == heading]
    rule = DataValidation(type="list", formula1=f'"{words}"', allow_blank=True, showErrorMessage=False)
    drawn.sheet.add_data_validation(rule)
    letter = drawn.letter(column)
    rule.add(f"{letter}{drawn.first}:{letter}{drawn.last_row}")
