"""The filled-in goods-in sheet of a delivery, read into arrivals.

Columns: line, count, length, heat, certificate, charged each. A row whose count
is empty has not come; several rows of one line are several lengths or heats. What
the sheet says is ordered and open must still be so, or it was entered before.
"""

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from shopquote.calc.units import Measure, Unit
from shopquote.errors import Fault, InputError, nearest_word
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.records.columns import exact_decimal
from shopquote.services.buying.receive import Arrival, OpenLine

NEEDED = ("line", "count")


def read_goods_sheet(
    table: FileTable, unit: Unit, lines: Mapping[int, OpenLine] | None = None
) -> tuple[Arrival, ...]:
    """Arrivals of a goods-in sheet; certificate files are looked for beside the sheet.

    Args:
        table: the sheet, read.
        unit: of its bare lengths.
        lines: the order's lines as they stand, for which the sheet must have been written.

    Raises:
        InputError: all mistakes of the sheet, by row; or no row has a count. A sheet of another
            order, or one written before another delivery (or entered already), is a mistake too.
    """
    columns = {heading.strip().lower(): heading for heading in table.headings}
    faults: list[Fault] = [
        Fault(table.path.name, "headings", "", word, ", ".join(table.headings)[:80], f"a column {word}",
              nearest_word(word, table.headings))
        for word in NEEDED if word not in columns
    ]  # fmt: skip
    if faults:
        raise InputError.from_faults(faults)
    arrivals = []
    for row in table.rows:
        cells = {word: row.cells.get(heading, "").strip() for word, heading in columns.items()}
        if cells["count"]:
            arrivals.append(_arrival(table.path, row, cells, unit, faults))
            faults += _other_than_open(table.path, row, cells, lines or {})
    if faults:
        raise InputError.from_faults(faults)
    if not arrivals:
        raise InputError(f"{table.path}: no row has a count; nothing came.")
    return tuple(arrivals)


def _other_than_open(
    path: Path, row: TableRow, cells: Mapping[str, str], lines: Mapping[int, OpenLine]
) -> list[Fault]:
    """Where a row tells of another bar, or of more or fewer bars to come, than the order now."""
    number = cells["line"]
    line = lines.get(int(number)) if number.isascii() and number.isdigit() and len(number) <= 9 else None
    if line is None:
        return []
    left = f"{line.open} to come: the sheet was entered, or another delivery was; write a new one (--blank)"
    wanted = (
        ("bar", line.bar, f"{line.bar}, as ordered"),
        ("grade", line.grade, f"{line.grade}, as ordered"),
        ("open", str(line.open), left),
    )
    return [
        Fault(path.name, "", f"row {row.number}", key, repr(cells[key][:60]), expected)
        for key, value, expected in wanted
        if cells.get(key) and cells[key] != value
    ]


def _arrival(path: Path, row: TableRow, cells: dict[str, str], unit: Unit, faults: list[Fault]) -> Arrival:
    def fault(key: str, expected: str) -> None:
        faults.append(Fault(path.name, "", f"row {row.number}", key, repr(cells[key][:60]), expected))

    whole = {}
    for key in NEEDED:
        text = cells[key]
        if not text.isascii() or not text.isdigit() or not 0 < int(text) <= 10_000:
            fault(key, "a whole number from 1 to 10000")
            text = "1"
        whole[key] = int(text)
    length = None
    if text := cells.get("length", ""):
        try:
            length = Measure.parse(text, unit)
        except InputError:
            fault("length", "a length such as 6100 or 20 ft")
    charged: Decimal | None = None
    if text := cells.get("charged each", ""):
        try:
            charged = exact_decimal(text)
        except InputError:
            fault("charged each", "an amount")
    certificate = None
    if text := cells.get("certificate", ""):
        certificate = path.parent / text
        if not certificate.is_file():
            fault("certificate", f"a file in {path.parent}")
    return Arrival(whole["line"], whole["count"], length, cells.get("heat", ""), certificate, "", charged)
