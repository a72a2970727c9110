"""Read a filled-in goods-in sheet into arrivals.

Columns: line, count, length, heat, certificate, charged each. A row without a count was not received; several
rows of one line are several lengths or heats. The sheet repeats what was ordered and open when it was
written: if that has changed, the sheet was entered before.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from shopquote.errors import Fault, InputError
from shopquote.reading.forms import FilledForm, Form, FormColumn
from shopquote.reading.kinds import HEAT, MEASURE, TEXT, Notation, count, money
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.services.buying.arrivals import Arrival, OpenLine

# The same limit as `receive.MOST_BARS`, found here with its row.
_COUNT = count(least=1, most=10_000)
GOODS_FORM = Form(
    (
        FormColumn("line", _COUNT, 1, needed=True),
        FormColumn("bar", TEXT, ""),
        FormColumn("grade", TEXT, ""),
        FormColumn("open", TEXT, ""),
        FormColumn("count", _COUNT, 0, needed=True),
        FormColumn("length", MEASURE),
        FormColumn("heat", HEAT, "", aliases=("heat number",)),
        FormColumn("certificate", TEXT, ""),
        FormColumn("charged each", money()),
    )
)


def read_goods_sheet(
    table: FileTable,
    notation: Notation,
    lines: Mapping[int, OpenLine] | None = None,
    left_out: list[Fault] | None = None,
) -> tuple[Arrival, ...]:
    """Arrivals of a goods-in sheet; certificate files are looked for beside it.

    Args:
        table: the sheet, read.
        notation: unit and locale of its lengths and amounts.
        lines: the order's present lines, which the sheet must agree with.
        left_out: receives the faults of rows to leave out; None: any fault refuses the whole sheet.

    Raises:
        InputError: the faults of the sheet, by row, unless `left_out` takes them and some row is good; or
            no row has a count. A sheet of another order, or written before the last delivery, is a fault.
    """
    sheet = GOODS_FORM.open(table, notation)
    arrivals = []
    for row in _with_lines(sheet):
        if sheet.text(row, "count"):
            before = len(sheet.faults)
            arrival = _arrival(sheet, row)
            sheet.faults += _other_than_open(sheet, row, lines or {})
            if left_out is None or len(sheet.faults) == before:
                arrivals.append(arrival)
    if left_out is not None:
        left_out += sheet.faults
    if sheet.faults and (left_out is None or not arrivals):
        raise InputError.from_faults(sheet.faults)
    if not arrivals:
        raise InputError(f"{table.path}: no row has a count; nothing was received.")
    return tuple(arrivals)


def _with_lines(sheet: FilledForm) -> Iterator[TableRow]:
    """The rows, each with its line number: a row without one continues the line above it."""
    heading, above = sheet.headings["line"], ""
    for row in sheet.table.rows:
        own = [sheet.text(row, name) for name in ("line", "length", "heat")]
        if above and sheet.text(row, "count") and not any(own):
            # A bare count is a total that somebody wrote below: it must not be received again.
            sheet.fault(row, "line", "", "a line, a length or a heat beside the count; leave a total out")
            continue
        above = own[0] or above
        yield replace(row, cells={**row.cells, heading: above})


def _other_than_open(sheet: FilledForm, row: TableRow, lines: Mapping[int, OpenLine]) -> list[Fault]:
    """Faults of a row whose bar, grade or open count differ from the order as it stands now."""
    line = next((lines[number] for number in lines if str(number) == sheet.text(row, "line")), None)
    if line is None:
        return []
    left = f"{line.open} open: the sheet was entered, or another delivery was; write a new one (--blank)"
    wanted = (
        ("bar", line.bar, f"{line.bar}, as ordered"),
        ("grade", line.grade, f"{line.grade}, as ordered"),
        ("open", str(line.open), left),
    )
    return [
        Fault(*sheet.place(row), key, repr(sheet.text(row, key)[:60]), expected)
        for key, value, expected in wanted
        if sheet.text(row, key) not in ("", value)
    ]


def _arrival(sheet: FilledForm, row: TableRow) -> Arrival:
    line, pieces, length, heat, charged = (
        sheet.value(row, key) for key in ("line", "count", "length", "heat", "charged each")
    )
    certificate = None
    if text := sheet.text(row, "certificate"):
        certificate = sheet.table.path.parent / text
        if not certificate.is_file():
            sheet.fault(row, "certificate", text, f"a file in {certificate.parent}")
    return Arrival(line, pieces, length, heat, certificate, "", charged)
