"""The floor sheets as a workbook: saw list, bend list, welds and holes, and tabs to fill in.

Lays out what `services.floor` worked out; no money is in it. Shaded cells are
filled in by the shop and read back by `services.sheet`.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.job import OPERATIONS
from shopquote.calc.units import show_length
from shopquote.outputs.books.book import (
    Book,
    fit_row,
    new_book,
    put,
    put_across,
    put_row,
    safe_file_name,
    set_page,
    set_widths,
)
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.label_book import put_scan
from shopquote.outputs.books.style import (
    CAUTION,
    DAY,
    EDITABLE,
    HEAD,
    HEADING,
    LABEL,
    NOTE,
    PLAIN,
    TITLE,
    WHOLE,
    WRAPPED,
    Style,
)
from shopquote.services.floor.floor import (
    BARS_TAB,
    MINUTES_TAB,
    SCRAP_TAB,
    Bend,
    BendPart,
    FloorSheet,
    SawBar,
    Tab,
    identity,
    shown,
    shown_mark,
)

# Read at arm's length: larger letters than on a desk sheet.
CELL = WRAPPED.but(rule="b", down="center", size=12)
STRONG = CELL.but(bold=True)
# Figures stand in the middle: on the floor they are read across, never added up.
RIGHT = CELL.but(across="center")
NUMBER_CELL = WHOLE.but(rule="b", down="center", across="center", size=12)
TICK = CELL.but(fill=EDITABLE, rule="lrtb")
FILL = PLAIN.but(fill=EDITABLE, rule="lrtb", wrap=True, down="center", size=12)
FILL_DAY = FILL.but(number=DAY.number)
FILL_ROW_HEIGHT = 24.0
# In the units of a drawing, 36 000 in a millimetre: the last columns' right end.
JOB_SCAN_SIDE, JOB_SCAN_ACROSS = 560_000, 950_000
UNIT_WORD = {"mm": "mm", "in": "in"}


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
    _minutes_tab(book, sheet)
    _bars_tab(book, sheet)
    _scrap_tab(book, sheet)
    name = safe_file_name(f"{sheet.job} rev {sheet.revision} floor")
    return save_book(book, folder / name)


def _head(page: Worksheet, sheet: FloorSheet, what: str, columns: int) -> int:
    """Title, job and cautions of one tab; returns the next free row."""
    put_across(page, 1, 1, columns, f"{what} {sheet.job}", TITLE, fit=False)
    page.row_dimensions[1].height = 26
    due = f", due {sheet.due.isoformat()}" if sheet.due else ""
    count = f"{sheet.sets} {'set' if sheet.sets == 1 else 'sets'}"
    text = f"{sheet.title} for {sheet.customer}: {count}, revision {sheet.revision}{due}"
    put_across(page, 2, 1, columns, text, WRAPPED)
    row = 3
    if sheet.use != "general":
        for caution in sheet.cautions[:1]:
            put_across(page, row, 1, columns, caution, CAUTION)
            row += 1
    return row + 1


def _finish_tab(page: Worksheet, sheet: FloorSheet, *, landscape: bool, head_rows: str | None = None) -> None:
    set_page(
        page, paper=sheet.paper, landscape=landscape, head_rows=head_rows,
        footer=f"{sheet.shop}  {sheet.job} revision {sheet.revision}, made {sheet.made_on.isoformat()}",
    )  # fmt: skip


def _heads(page: Worksheet, row: int, *names: str) -> None:
    """Headings side by side; one that begins with > stands over figures, in the middle."""
    looks = [HEAD.but(across="center") if name.startswith(">") else HEAD for name in names]
    put_row(page, row, [name.lstrip(">") for name in names], looks)
    page.row_dimensions[row].height = 27


def _job_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Job")
    set_widths(page, [9, 26, 9, 22, 14, 14])
    row = _head(page, sheet, "Job", 6)
    unit = UNIT_WORD[sheet.unit]
    put(page, row, 1, "Parts", HEADING)
    row += 1
    _heads(page, row, "Mark", "Name", ">Pieces", "Bar", "Grade", f">Cut {unit}")
    looks = [STRONG, CELL, NUMBER_CELL, CELL, CELL, RIGHT]
    for mark, name, count, bar, grade, cut in sheet.parts:
        row += 1
        put_row(page, row, [mark, name, count, bar, grade, shown(cut, sheet.unit)], looks)
    row += 2
    if sheet.minutes:
        put(page, row, 1, "Planned minutes", HEADING)
        for name, minutes in sheet.minutes:
            row += 1
            put_across(page, row, 1, 2, name, CELL)
            put(page, row, 3, round(float(minutes)), NUMBER_CELL)
        row += 2
    row = _text_block(page, row, "Bought items", [f"{count} x {name}" for name, count in sheet.bought])
    row = _text_block(page, row, "Work by others", sheet.outside)
    row = _text_block(page, row, "Finish", [sheet.finish] if sheet.finish else [])
    put(page, row, 1, "Cautions", HEADING)
    for caution in sheet.cautions or ("Follow the shop's rules for each machine.",):
        row += 1
        put_across(page, row, 1, 6, caution, CAUTION)
    row += 1
    put_across(page, row, 1, 6, "Local codes and licensed practice go before anything on this sheet.", NOTE)
    _finish_tab(page, sheet, landscape=False)


def _text_block(page: Worksheet, row: int, heading: str, lines: Iterable[str]) -> int:
    rows = list(lines)
    if not rows:
        return row
    put(page, row, 1, heading, HEADING)
    for text in rows:
        row += 1
        put_across(page, row, 1, 6, text, WRAPPED)
    return row + 2


def _saw_tab(book: Book, sheet: FloorSheet) -> None:
    """Bar by bar in sawing order; a row a setting of the stop, a box to tick for each."""
    page = book.add("Saw list")
    unit = UNIT_WORD[sheet.unit]
    set_widths(page, [9, 18, 11, 11, 22, 10, 10, 9, 9, 12, 16, 6])
    row = _head(page, sheet, "Saw list", 10)
    put_scan(page, 1, 11, sheet.job, JOB_SCAN_SIDE, across=JOB_SCAN_ACROSS)
    _heads(
        page, row, "Bar", "Section", "Grade", f">Length {unit}", "From", "Place", "Heat", "Mark",
        ">Pieces a bar", f">Cut {unit}", "Ends", "Done",
    )  # fmt: skip
    first = row
    before: SawBar | None = None
    for bar in sheet.saw:
        if before is not None and (bar.section_key, bar.grade) != (before.section_key, before.grade):
            row += 1
            page.row_dimensions[row].height = 6
        before = bar
        row = _saw_bar(page, row, bar, sheet)
    row += 2
    put_across(
        page, row, 1, 12, "Length left is before the last cut. Keep means: put it back on the rack with its "
        "heat marked before the marked end is sawn off, and write its measured length on the tab Bars used. "
        "Or enter it by scanning (rack scan): the code above for this job, each bar's label, then what came "
        "back of it.",
        NOTE,
    )  # fmt: skip
    _finish_tab(page, sheet, landscape=True, head_rows=f"{first}:{first}")


def _saw_bar(page: Worksheet, row: int, bar: SawBar, sheet: FloorSheet) -> int:
    number = f"{bar.first}" if bar.count == 1 else f"{bar.first} to {bar.last}"
    head = [number, bar.bar, bar.grade, shown(bar.length, sheet.unit), bar.source, bar.place, bar.heat]
    looks: list[Style] = [STRONG, CELL, CELL, RIGHT, CELL, CELL, CELL]
    plain = CELL.but(rule="")
    for index, cut in enumerate(bar.cuts):
        row += 1
        put_row(page, row, head if index == 0 else [""] * 7, looks if index == 0 else plain)
        put_row(
            page, row, [cut.mark, cut.count, shown(cut.length, sheet.unit), cut.ends, ""],
            [STRONG, NUMBER_CELL, RIGHT.but(bold=True), CELL, TICK], start=8,
        )  # fmt: skip
        page.row_dimensions[row].height = 20 if len(bar.source) < 24 and len(cut.ends) < 16 else 33
    row += 1
    left = shown(bar.offcut, sheet.unit)
    text = f"left {left}: keep" if bar.kept else f"left {left}: scrap" if bar.offcut else "nothing left"
    if bar.sawn:
        text = "sawn by the supplier: check its length, no cut"
    put_row(page, row, [""] * 7, plain)
    put_across(page, row, 8, 11, text, LABEL.but(rule="b", bold=bar.kept, size=11))
    put(page, row, 12, "", TICK if bar.kept else LABEL.but(rule="b"))
    return row


def _bend_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Bend list")
    set_widths(page, [7, 16, 11, 12, 9, 9, 10, 10, 18, 30, 6])
    row = _head(page, sheet, "Bend list", 11)
    put_across(
        page,
        row,
        1,
        10,
        f"Bend marks are measured from the {_datum(sheet.datum)} of the sawn piece.",
        WRAPPED,
    )
    row += 1
    for part in sheet.bends:
        row += 1
        row = _bend_part(page, row, part, sheet)
    row += 2
    put_across(
        page, row, 1, 11, "Angles are of bend: 0 is straight. A minus bends the other way. Pull-to angles "
        "come from calculated springback unless the shop has a bend test of its own: bend a test piece.",
        NOTE,
    )  # fmt: skip
    _finish_tab(page, sheet, landscape=True)


def _datum(datum: str) -> str:
    return {"start": "start (first leg)", "finish": "far end (last leg)", "middle": "middle"}[datum]


def _bend_part(page: Worksheet, row: int, part: BendPart, sheet: FloorSheet) -> int:
    unit = UNIT_WORD[sheet.unit]
    cut = f"sawn {shown(part.cut, sheet.unit)} {unit}"
    title = f"{part.mark}  {part.name}: {part.count} pieces of {part.bar} {part.grade}, {cut}"
    put_across(page, row, 1, 11, title, HEADING, fit=False)
    row += 1
    put_across(page, row, 1, 11, part.shape, LABEL.but(wrap=True))
    for problem in part.problems:
        row += 1
        put_across(page, row, 1, 11, problem, CAUTION)
    row += 1
    if not part.bends:
        put_across(page, row, 1, 10, "Twist and forge as in the words above.", CELL)
        put(page, row, 11, "", TICK)
        page.row_dimensions[row].height = 22
        return row + 1
    _heads(
        page,
        row,
        "Bend",
        "First",
        f">Mark at {unit}",
        ">Mark is",
        ">Angle",
        ">Pull to",
        f">Inside radius {unit}",
        f">Former radius {unit}",
        "Bender",
        "Note",
        "Done",
    )
    for bend in part.bends:
        row += 1
        cells = _bend_cells(bend, sheet)
        put_row(page, row, cells, _BEND_LOOKS)
        page.row_dimensions[row].height = 22
        fit_row(page, row, cells[9], 30, 12)
    if part.order_note:
        row += 1
        put_across(page, row, 1, 11, part.order_note, NOTE)
    return row + 1


STRONG_RIGHT = RIGHT.but(bold=True)
_BEND_LOOKS = (STRONG, CELL, STRONG_RIGHT, RIGHT, RIGHT, STRONG_RIGHT, RIGHT, RIGHT, CELL, CELL, TICK)


def _bend_cells(bend: Bend, sheet: FloorSheet) -> list[str]:
    notes = []
    if bend.hits > 1:
        places = ", ".join(shown_mark(mark, sheet.unit) for mark in bend.marks)
        notes.append(f"{bend.hits} small bends, each pulled to this angle, centres at {places}")
    notes.append(f"pull-to: {bend.source.partition(':')[0]}")
    if not bend.bender:
        notes.append("no bender on file makes it")
    former = shown_mark(bend.former, sheet.unit) if bend.former is not None else ""
    return [
        f"{bend.number}",
        bend.before,
        shown_mark(bend.mark, sheet.unit),
        f"{bend.mark_at} of bend",
        _degrees(bend.angle),
        _degrees(bend.over_bend_to),
        shown_mark(bend.inside_radius, sheet.unit),
        former,
        bend.bender,
        "; ".join(notes),
        "",
    ]


def _degrees(angle: float) -> str:
    """Degrees to half a degree.

    >>> _degrees(-92.26)
    '-92.5°'
    """
    return f"{round(angle * 2) / 2:g}°"


def _worked_ends_tab(book: Book, sheet: FloorSheet) -> None:
    """Stands before the bends: a bent piece does not go in the lathe."""
    page = book.add("Ends")
    set_widths(page, [14, 22, 12, 14, 14, 18, 6])
    row = _head(page, sheet, "Ends turned and threaded", 7)
    _heads(page, row, "Work", "Bar", "Mark", ">Ends of a piece", ">Ends in the job", "", "Done")
    looks = [STRONG, CELL, STRONG, NUMBER_CELL, NUMBER_CELL, CELL, TICK]
    for work, bar, mark, each, total in sheet.worked_ends:
        row += 1
        put_row(page, row, [work, bar, mark, each, total, "", ""], looks)
        page.row_dimensions[row].height = 22
    put_across(
        page, row + 2, 1, 7, "Before bending, where a bent piece would not go in the lathe. Diameters, "
        "lengths and threads are those of the drawing. Bar that stands out behind the headstock can whip: "
        "cut it first or support it.", NOTE,
    )  # fmt: skip
    _finish_tab(page, sheet, landscape=False)


def _weld_and_hole_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add("Welds and holes")
    set_widths(page, [12, 14, 14, 12, 14, 34, 6])
    row = _head(page, sheet, "Welds and holes", 7)
    if sheet.welds:
        put(page, row, 1, "Welds in the whole job", HEADING)
        row += 1
        _heads(page, row, "Kind", ">Leg", ">Length", ">Count", "Process", "Note", "Done")
        looks = [STRONG, RIGHT, RIGHT, NUMBER_CELL, CELL, CELL, TICK]
        for kind, leg, length, count, process, note in sheet.welds:
            row += 1
            put_row(page, row, [kind, leg, length, count, process, note, ""], looks)
        row += 2
    if sheet.holes:
        put(page, row, 1, "Holes", HEADING)
        row += 1
        _heads(page, row, "Mark", ">Diameter", ">In a piece", ">In the job", "Besides", "", "Done")
        looks = [STRONG, RIGHT, NUMBER_CELL, NUMBER_CELL, CELL, CELL, TICK]
        for mark, dia, each, total, extra in sheet.holes:
            row += 1
            put_row(page, row, [mark, dia, each, total, extra, "", ""], looks)
    unit = UNIT_WORD[sheet.unit]
    put_across(page, row + 2, 1, 7, f"Sizes without a unit are in {unit}, as typed in the job.", NOTE)
    _finish_tab(page, sheet, landscape=False)


def _fill_head(page: Worksheet, sheet: FloorSheet, tab: Tab, how: str, widths: Sequence[float]) -> int:
    set_widths(page, widths)
    columns = len(tab.columns)
    put_across(page, 1, 1, columns, f"{tab.name} {sheet.job}", TITLE, fit=False)
    page.row_dimensions[1].height = 26
    put_across(page, 2, 1, columns, identity(sheet), LABEL)
    put_across(page, 3, 1, columns, how, NOTE)
    put_row(page, 5, tab.columns, HEAD)
    page.freeze_panes = "A6"
    return 6


def _fill_row(page: Worksheet, row: int, tab: Tab, values: Sequence[object]) -> None:
    for column, (name, value) in enumerate(zip(tab.columns, values, strict=True), start=1):
        look = (FILL_DAY if name == "Day" else FILL) if name in tab.shaded else CELL
        put(page, row, column, value, look)  # type: ignore[arg-type]
    page.row_dimensions[row].height = FILL_ROW_HEIGHT


def _choices(page: Worksheet, column: str, first: int, last: int, words: str) -> None:
    rule = DataValidation(type="list", formula1=f'"{words}"', allow_blank=True, showErrorMessage=False)
    page.add_data_validation(rule)
    rule.add(f"{column}{first}:{column}{last}")


def _minutes_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add(MINUTES_TAB.name)
    how = "One row for each person and day. Minutes as 90, 1:30 or 1.5 h. Rework: yes, with the reason."
    row = first = _fill_head(page, sheet, MINUTES_TAB, how, [14, 11, 13, 16, 12, 10, 36])
    spare = MINUTES_TAB.but_shaded("Operation")
    for name, minutes in sheet.minutes:
        for planned in (round(float(minutes)), None):
            _fill_row(page, row, MINUTES_TAB, [name, planned, None, None, None, None, None])
            row += 1
    for _ in range(MINUTES_TAB.spare):
        _fill_row(page, row, spare, [None] * 7)
        row += 1
    _choices(page, "A", first, row - 1, ",".join(OPERATIONS))
    _choices(page, "F", first, row - 1, "yes")
    _finish_tab(page, sheet, landscape=False, head_rows="5:5")


def _bars_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add(BARS_TAB.name)
    unit = UNIT_WORD[sheet.unit]
    how = (
        "Used: how many of the bars were sawn. Came back: measured lengths that went back on the rack, "
        f"apart by a semicolon; bare numbers are {unit}. Cost: what the row's bars cost in all, only where "
        "the shop has no price of such a bar on file. Rework: yes, with the reason."
    )
    row = _fill_head(page, sheet, BARS_TAB, how, [9, 16, 10, 11, 13, 12, 9, 8, 18, 10, 13, 9, 24])
    for bar in sheet.saw:
        number = f"{bar.first}" if bar.count == 1 else f"{bar.first} to {bar.last}"
        length = shown_exact(bar, sheet)
        values = [number, bar.bar, bar.grade, length, bar.piece, bar.heat, bar.count, *[None] * 6]
        _fill_row(page, row, BARS_TAB, values)
        row += 1
    spare = BARS_TAB.but_shaded("Section", "Grade", "Length", "Rack piece")
    for _ in range(BARS_TAB.spare):
        _fill_row(page, row, spare, [None] * len(BARS_TAB.columns))
        row += 1
    _choices(page, get_column_letter(BARS_TAB.columns.index("Rework") + 1), 6, row - 1, "yes")
    _finish_tab(page, sheet, landscape=True, head_rows="5:5")


def shown_exact(bar: SawBar, sheet: FloorSheet) -> str:
    """A bar's length with its unit, exact, so that it reads back as the same bar."""
    return show_length(bar.length, sheet.unit, exact=True)


def _scrap_tab(book: Book, sheet: FloorSheet) -> None:
    page = book.add(SCRAP_TAB.name)
    how = "Pieces that were spoiled, with the reason. Marks of this job: " + ", ".join(
        part[0] for part in sheet.parts
    )
    row = _fill_head(page, sheet, SCRAP_TAB, how, [12, 10, 13, 18, 48])
    for _ in range(SCRAP_TAB.spare):
        _fill_row(page, row, SCRAP_TAB, [None] * len(SCRAP_TAB.columns))
        row += 1
    _finish_tab(page, sheet, landscape=False, head_rows="5:5")


def floor_json(sheet: FloorSheet) -> dict[str, object]:
    """The sheets as plain values: lengths in mm as numbers, minutes as text."""
    return {
        "job": sheet.job,
        "revision": sheet.revision,
        "sheet": sheet.serial,
        "saw_list": [
            {
                "bars": [bar.first, bar.last],
                "bar": bar.bar,
                "grade": bar.grade,
                "length_mm": bar.length,
                "from": bar.source,
                "piece": bar.piece or None,
                "place": bar.place,
                "heat": bar.heat,
                "cuts": [
                    {"mark": cut.mark, "count": cut.count, "length_mm": cut.length, "ends": cut.ends}
                    for cut in bar.cuts
                ],
                "offcut_mm": bar.offcut,
                "kept": bar.kept,
                "sawn_by_supplier": bar.sawn,
            }
            for bar in sheet.saw
        ],
        "bend_list": [
            {
                "mark": part.mark,
                "count": part.count,
                "cut_mm": part.cut,
                "datum": sheet.datum,
                "bends": [
                    {
                        "bend": bend.number,
                        "mark_mm": bend.mark,
                        "mark_at": bend.mark_at,
                        "angle": bend.angle,
                        "over_bend_to": bend.over_bend_to,
                        "inside_radius_mm": bend.inside_radius,
                        "former_radius_mm": bend.former,
                        "bender": bend.bender or None,
                        "hits": bend.hits,
                        "hit_marks_mm": bend.marks,
                        "before": bend.before,
                    }
                    for bend in part.bends
                ],
                "problems": part.problems,
            }
            for part in sheet.bends
        ],
        "welds": [
            {"kind": kind, "leg": leg, "length": length, "count": count, "process": process, "note": note}
            for kind, leg, length, count, process, note in sheet.welds
        ],
        "holes": [
            {"mark": mark, "dia": dia, "in_a_piece": each, "in_the_job": total, "besides": extra}
            for mark, dia, each, total, extra in sheet.holes
        ],
        "worked_ends": [
            {"work": work, "bar": bar, "mark": mark, "ends_of_a_piece": each, "ends_in_the_job": total}
            for work, bar, mark, each, total in sheet.worked_ends
        ],
        "minutes": dict(sheet.minutes),
        "cautions": sheet.cautions,
    }
