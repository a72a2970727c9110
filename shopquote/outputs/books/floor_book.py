"""The floor sheets as a workbook: saw list, bend list, welds and holes, and tabs to fill in.

Lays out what `services.floor.floor` worked out; no money is in it. The columns are in
`tables.floor_tables`, the tabs to fill in are `floor_tabs`.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.outputs.books.book import Bands, Book, new_book, put_first, put_line, safe_file_name, set_page
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.floor_tabs import HEAD_ROW, bars_tab, minutes_tab, scrap_tab
from shopquote.outputs.books.label_book import put_scan
from shopquote.outputs.books.sheet_table import Theme, draw, widen
from shopquote.outputs.books.style import CAUTION, EDITABLE, HEADING, LABEL, NOTE, TITLE, WRAPPED
from shopquote.outputs.looks import SIZE, Setting
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.floor_tables import BENDS, ENDS, HOLES, PARTS, PLANNED, SAW, WELDS, saw_rows
from shopquote.reading.kinds.documents import printed_code
from shopquote.services.floor.floor_sheet import BendPart, FloorSheet

# Read at arm's length: larger letters than on a desk sheet. Figures stand in the middle: on the floor they
# are read across, never added up.
CELL = WRAPPED.but(rule="b", down="center", size=12)
TICK = CELL.but(fill=EDITABLE, rule="lrtb")
FLOOR = Theme(CELL, figures="center", row_height=22, head_height=27)
# In the units of a drawing, 36 000 in a millimetre: the last columns' right end.
JOB_SCAN_SIDE, JOB_SCAN_ACROSS = 560_000, 950_000
SAW_NOTE = (
    "Length left is before the last cut. Keep means: put it back on the rack with its heat marked before the "
    "marked end is sawn off, and write its measured length on the tab Bars used. Or enter it by scanning "
    "(rack scan): the code above for this job, each bar's label, then the length that is left of it."
)
BEND_NOTE = (
    "Angles are angles of bend: 0 is straight, a minus bends the other way. Pull-to angles come from "
    "calculated springback, unless the shop has a bend test of its own: bend a test piece."
)
ENDS_NOTE = (
    "Do this before bending, if a bent piece would not fit in the lathe. Diameters, lengths and threads are "
    "on the drawing. Bar that sticks out behind the headstock can whip: cut it first or support it."
)
_DATUM = {"start": "start (first leg)", "finish": "far end (last leg)", "middle": "middle"}


def write_floor_book(sheet: FloorSheet, folder: Path) -> Path:
    """Write the workbook into a folder and return its path.

    Raises:
        InputError: the folder cannot be written.
    """
    book = new_book(f"Floor sheets {sheet.job} revision {sheet.revision}", sheet.shop)
    _job_tab(book, sheet)
    _saw_tab(book, sheet)
    if sheet.worked_ends:
        _worked_ends_tab(book, sheet)
    if sheet.bends:
        _bend_tab(book, sheet)
    if sheet.welds or sheet.holes:
        _weld_and_hole_tab(book, sheet)
    for tab, wide in ((minutes_tab, False), (bars_tab, True), (scrap_tab, False)):
        _finish_tab(tab(book, sheet), sheet, landscape=wide, head_row=HEAD_ROW)
    return save_book(book, folder / safe_file_name(f"{sheet.job} rev {sheet.revision} floor"))


def _head(page: Worksheet, sheet: FloorSheet, what: str, columns: Sequence[Column[Any]]) -> int:
    """Draw title, job and cautions of a tab; returns the next free row."""
    widen(page, columns)
    last = sum(column.span for column in columns if "sheet" in column.on)
    put_line(page, 1, last, f"{what} {sheet.job}", TITLE, fit=False)
    page.row_dimensions[1].height = 26
    due = f", due {sheet.due.isoformat()}" if sheet.due else ""
    count = f"{sheet.sets} {'set' if sheet.sets == 1 else 'sets'}"
    text = f"{sheet.title} for {sheet.customer}: {count}, revision {sheet.revision}{due}"
    put_line(page, 2, last, text, WRAPPED)
    row = 3
    if sheet.use != "general":
        for caution in sheet.cautions[:1]:
            put_line(page, row, last, caution, CAUTION)
            row += 1
    return row + 1


def _finish_tab(page: Worksheet, sheet: FloorSheet, *, landscape: bool, head_row: int | None = None) -> None:
    set_page(
        page, paper=sheet.paper, landscape=landscape,
        head_rows=None if head_row is None else f"{head_row}:{head_row}",
        footer=f"{sheet.shop}  {sheet.job} revision {sheet.revision}, made {sheet.made_on.isoformat()}",
    )  # fmt: skip


def _setting(sheet: FloorSheet) -> Setting:
    return Setting(unit=sheet.unit)


def _job_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Job")
    row = _head(page, sheet, "Job", PARTS)
    put_first(page, row, "Parts", HEADING)
    row = draw(page, Table(PARTS, sheet.parts, setting=_setting(sheet)), row + 1, theme=FLOOR).below + 1
    if sheet.minutes:
        put_first(page, row, "Planned minutes", HEADING)
        row = draw(page, Table(PLANNED, sheet.minutes), row + 1, theme=FLOOR).below + 1
    row = _text_block(page, row, "Order of making", sheet.making)
    row = _text_block(page, row, "Notes", (*sheet.remarks, *sheet.part_remarks))
    row = _text_block(page, row, "Bought items", [f"{count} x {name}" for name, count in sheet.bought])
    row = _text_block(page, row, "Subcontract work", sheet.outside)
    row = _text_block(page, row, "Finish", [sheet.finish] if sheet.finish else [])
    put_first(page, row, "Cautions", HEADING)
    last = len(PARTS)
    for caution in sheet.cautions or ("Follow the shop's rules for each machine.",):
        row += 1
        put_line(page, row, last, caution, CAUTION)
    row += 1
    put_line(page, row, last, "Local codes and licensed practice go before anything on this sheet.", NOTE)
    _finish_tab(page, sheet, landscape=False)


def _text_block(page: Worksheet, row: int, heading: str, lines: Iterable[str]) -> int:
    rows = list(lines)
    if not rows:
        return row
    put_first(page, row, heading, HEADING)
    for text in rows:
        row += 1
        put_line(page, row, len(PARTS), text, WRAPPED)
    return row + 2


# The code to scan goes beside the title, over the last columns.
_SCAN_COLUMNS = 2
_SAW_HEAD = Bands(title=len(SAW) - _SCAN_COLUMNS, scan=_SCAN_COLUMNS)


def _saw_tab(book: Book, sheet: FloorSheet) -> None:
    """Bars in sawing order, a row for each setting of the stop, with a box to tick."""
    page, setting = book.add("Saw list"), _setting(sheet)
    row = _head(page, sheet, "Saw list", SAW[:-_SCAN_COLUMNS])
    widen(page, SAW)
    code = printed_code(sheet.job, sheet.page)
    put_scan(page, 1, _SAW_HEAD.first("scan"), code, JOB_SCAN_SIDE, across=JOB_SCAN_ACROSS)
    rows = [saw_row for bar in sheet.saw for saw_row in saw_rows(bar, setting)]
    drawn = draw(page, Table(SAW, rows, setting=setting), row, theme=FLOOR)
    put_line(page, drawn.below + 1, len(SAW), SAW_NOTE, NOTE)
    _finish_tab(page, sheet, landscape=True, head_row=row)


def _bend_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Bend list")
    row = _head(page, sheet, "Bend list", BENDS)
    last = len([column for column in BENDS if "sheet" in column.on])
    datum = f"Bend marks are measured from the {_DATUM[sheet.datum]} of the sawn piece."
    put_line(page, row, last, datum, WRAPPED)
    row += 1
    for part in sheet.bends:
        row = _bend_part(page, row + 1, part, sheet, last)
    put_line(page, row + 2, last, BEND_NOTE, NOTE)
    _finish_tab(page, sheet, landscape=True)


def _bend_part(page: Worksheet, row: int, part: BendPart, sheet: FloorSheet, last: int) -> int:
    """Draw one part with its notes and bends; returns the row below."""
    cut = f"sawn {SIZE.text(part.cut, _setting(sheet))} {sheet.unit}"
    title = f"{part.mark}  {part.name}: {part.count} pieces of {part.bar} {part.grade}, {cut}"
    put_line(page, row, last, title, HEADING, fit=False)
    row += 1
    put_line(page, row, last, part.shape, LABEL.but(wrap=True))
    for line in part.forging:
        row += 1
        put_line(page, row, last, line, WRAPPED)
    for problem in part.problems:
        row += 1
        put_line(page, row, last, problem, CAUTION)
    row += 1
    if not part.bends:
        columns = Bands(words=last - 1, tick=1)
        columns.put(page, row, "words", "Twist and forge as in the words above.", CELL)
        columns.put(page, row, "tick", "", TICK)
        page.row_dimensions[row].height = FLOOR.row_height
        return row + 1
    row = draw(page, Table(BENDS, part.bends, setting=_setting(sheet)), row, theme=FLOOR).below
    if part.order_note:
        put_line(page, row, last, part.order_note, NOTE)
        row += 1
    return row


def _worked_ends_tab(book: Book, sheet: FloorSheet) -> None:
    """Work on ends, before the bends, because a bent piece does not fit into the lathe."""
    page = book.add("Ends")
    row = _head(page, sheet, "Ends turned and threaded", ENDS)
    drawn = draw(page, Table(ENDS, sheet.worked_ends), row, theme=FLOOR)
    put_line(page, drawn.below + 1, len(ENDS), ENDS_NOTE, NOTE)
    _finish_tab(page, sheet, landscape=False)


def _weld_and_hole_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Welds and holes")
    row = _head(page, sheet, "Welds and holes", WELDS)
    if sheet.welds:
        put_first(page, row, "Welds in the whole job", HEADING)
        row = draw(page, Table(WELDS, sheet.welds), row + 1, theme=FLOOR).below + 1
    if sheet.holes:
        put_first(page, row, "Holes", HEADING)
        row = draw(page, Table(HOLES, sheet.holes), row + 1, theme=FLOOR).below + 1
    note = f"Sizes without a unit are in {sheet.unit}, as typed in the job."
    put_line(page, row, sum(column.span for column in HOLES), note, NOTE)
    _finish_tab(page, sheet, landscape=False)
