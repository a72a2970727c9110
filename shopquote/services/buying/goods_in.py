"""The filled-in goods-in sheet of a delivery, read into arrivals.

Columns: line, count, length, heat, certificate, charged each. A row whose count
is empty has not come; several rows of one line are several lengths or heats. What
the sheet says is ordered and open must still be so, or it was entered before.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

from shopquote.errors import Fault, InputError, Misread, nearest_word
from shopquote.reading.kinds import HEAT, MEASURE, Kind, Notation, count, fault_of, money
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.services.buying.receive import Arrival, OpenLine

NEEDED = ("line", "count")

Value = TypeVar("Value")
_COUNT = count(least=1, most=10_000)


def read_goods_sheet(
    table: FileTable, notation: Notation, lines: Mapping[int, OpenLine] | None = None
) -> tuple[Arrival, ...]:
    """Arrivals of a goods-in sheet; certificate files are looked for beside the sheet.

    Args:
        table: the sheet, read.
        notation: of its lengths and amounts.
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
            arrivals.append(_arrival(table.path, row, cells, notation, faults))
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
    line = next((lines[number] for number in lines if str(number) == cells["line"]), None)
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


def _arrival(
    path: Path, row: TableRow, cells: dict[str, str], notation: Notation, faults: list[Fault]
) -> Arrival:
    def value(key: str, kind: Kind[Value], usual: Value) -> Value:
        try:
            return kind.read(cells.get(key, ""), notation)
        except Misread as error:
            faults.append(fault_of(error, path.name, "", f"row {row.number}", key))
            return usual

    line, pieces = value("line", _COUNT, 1), value("count", _COUNT, 1)
    measured, heat = value("length", MEASURE.or_nothing, None), value("heat", HEAT, "")
    charged = value("charged each", money().or_nothing, None)
    certificate = None
    if text := cells.get("certificate", ""):
        certificate = path.parent / text
        if not certificate.is_file():
            found, expected = repr(text[:60]), f"a file in {path.parent}"
            faults.append(Fault(path.name, "", f"row {row.number}", "certificate", found, expected))
    return Arrival(line, pieces, measured, heat, certificate, "", charged)
