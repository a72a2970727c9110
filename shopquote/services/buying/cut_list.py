"""Plan a plain cut list from a CSV file; no database.

Columns mark, length, count in any order; every mistake of the file is reported at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

from shopquote.calc.takeoff.answers import CutPlan, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import MOST_PIECES, Progress, plan_cuts
from shopquote.calc.units import Length, Unit
from shopquote.errors import Fault, InputError, Misread, TwoReadings, nearest_word
from shopquote.reading.kinds import (
    SECONDS,
    Kind,
    Notation,
    count,
    fault_of,
    length,
    measure,
    number,
    read_typed,
)
from shopquote.reading.table_files import csv_lines

COLUMNS = ("mark", "length", "count")
MOST_BYTES = 10_000_000
MOST_ROWS = 100_000
MOST_RACK_BARS = 10_000
Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class CutWords:
    """What the command line says about bars and saw, as typed.

    `stock` is L[:PRICE[:LIMIT[:TOLERANCE]]], `rack` L[:COUNT[:VALUE]], `keep` MIN[:PERCENT].
    """

    stock: Sequence[str]
    rack: Sequence[str] = ()
    kerf: str = "0"
    trim: str = "0"
    grip: str = "0"
    keep: str | None = None
    seconds: str | None = None


def cut_list(
    path: Path,
    words: CutWords,
    unit: Unit,
    progress: Progress | None = None,
    *,
    prove: bool = False,
) -> CutPlan:
    """Read the list and the bars, and plan the cuts; `prove`: with a proof of the bound where there is one.

    Raises:
        InputError: the file or a value cannot be used.
        CannotMakeError: a piece is longer than any bar, or there is too little bar.
    """
    seconds = None if words.seconds is None else read_typed("--seconds", SECONDS, words.seconds, Notation())
    saw = read_saw(words, unit)
    stocks = [read_stock(text, unit) for text in words.stock]
    rack = [bar for number, text in enumerate(words.rack) for bar in read_rack(text, number + 1, unit)]
    if len(rack) > MOST_RACK_BARS:
        raise InputError(f"{len(rack)} rack bars are given; at most {MOST_RACK_BARS} can be planned with.")
    pieces = read_cut_list(path, unit)
    return plan_cuts(pieces, stocks, rack, saw, unit=unit, seconds=seconds, progress=progress, prove=prove)


def read_saw(words: CutWords, unit: Unit) -> SawSettings:
    """Kerf, trim, grip and the rule for leftovers."""
    keep_min: Length | None = None
    percent = Decimal(0)
    if words.keep is not None:
        least, _, rest = words.keep.partition(":")
        keep_min = _length("--keep", least, unit)
        if rest:
            percent = _number("--keep", rest.removesuffix("%"), "a percentage from 0 to 100")
            if percent > 100:
                raise InputError(f"--keep: credit is {percent} %; expected 0 to 100.")
    return SawSettings(
        kerf=_length("--kerf", words.kerf, unit),
        trim=_length("--trim", words.trim, unit),
        grip=_length("--grip", words.grip, unit),
        keep_min=keep_min,
        keep_percent=percent,
    )


def read_stock(text: str, unit: Unit) -> StockBar:
    """A stock length as typed, L[:PRICE[:LIMIT[:TOLERANCE]]]; a part may be left empty.

    >>> read_stock("6 m:24.60", "mm").price
    Decimal('24.60')
    """
    parts = text.split(":")
    if len(parts) > 4:
        raise InputError(f"--stock {text!r} has too many parts; expected LENGTH[:PRICE[:LIMIT[:TOLERANCE]]].")
    length = _length("--stock", parts[0], unit)
    if not length:
        raise InputError(f"--stock {text!r}: the length is 0; a bar must be longer than 0.")
    price = None
    if len(parts) > 1 and parts[1].strip():
        price = _number("--stock", parts[1], "a price such as 24.60")
    limit = _whole("--stock", parts[2]) if len(parts) > 2 and parts[2].strip() else None
    short = _length("--stock", parts[3], unit) if len(parts) > 3 and parts[3].strip() else Length(0)
    return StockBar(length, price, limit, tolerance=short)


def read_rack(text: str, number: int, unit: Unit) -> list[RackBar]:
    """Rack bars as typed, L[:COUNT[:VALUE]], named by place in the list; VALUE is that of one bar.

    >>> [bar.value for bar in read_rack("3 m:2:7.50", 1, "mm")]
    [Decimal('7.50'), Decimal('7.50')]
    """
    parts = text.split(":")
    if len(parts) > 3:
        raise InputError(f"--rack {text!r} has too many parts; expected LENGTH[:COUNT[:VALUE]].")
    length = _length("--rack", parts[0], unit)
    if not length:
        raise InputError(f"--rack {text!r}: the length is 0; a bar must be longer than 0.")
    count = _whole("--rack", parts[1]) if len(parts) > 1 and parts[1].strip() else 1
    value = None
    if len(parts) > 2 and parts[2].strip():
        value = _number("--rack", parts[2], "what a bar is worth, such as 7.50")
    if count > MOST_RACK_BARS:
        raise InputError(f"--rack {text!r}: {count} bars; at most {MOST_RACK_BARS} can be planned with.")
    if count == 1:
        return [RackBar(f"rack {number}", length, value=value)]
    return [RackBar(f"rack {number}.{i + 1}", length, value=value) for i in range(count)]


def read_cut_list(path: Path, unit: Unit) -> list[Piece]:
    """Pieces of a CSV file with the columns mark, length, count.

    Raises:
        InputError: the file cannot be read, or all its mistakes together.
    """
    rows = list(_rows(path))
    if not rows:
        raise InputError(f"{path.name} is empty; expected the columns mark, length, count.")
    places = _places(path.name, rows[0][1])
    faults: list[Fault] = []
    pieces: list[Piece] = []
    for line, row in rows[1:]:
        if not any(cell.strip() for cell in row):
            continue
        if len(pieces) + len(faults) >= MOST_ROWS:
            raise InputError(f"{path.name} has more than {MOST_ROWS} rows; split the list.")
        cells = {name: row[at].strip() if at < len(row) else "" for name, at in places.items()}
        # A number such as 1,450 in a file with commas falls into two cells: never drop one in silence.
        left_over = [
            cell.strip() for at, cell in enumerate(row) if at not in places.values() and cell.strip()
        ]
        if left_over:
            found = ", ".join(map(repr, left_over[:3]))
            faults.append(
                Fault(path.name, f"row {line}", cells["mark"], "", found, "nothing under no heading")
            )
            continue
        piece = _piece(path.name, line, cells, unit, faults)
        if piece is not None:
            pieces.append(piece)
    if faults:
        raise InputError.from_faults(faults, after="")
    if not pieces:
        raise InputError(f"{path.name} has no pieces: there is nothing to cut.")
    return pieces


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    return [(number, row) for number, row in csv_lines(path) if any(cell.strip() for cell in row)]


def _places(file: str, header: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    faults: list[Fault] = []
    for at, cell in enumerate(header):
        name = cell.strip().lower()
        if name in found:
            faults.append(Fault(file, "row 1", "", name, "the column twice", "each column once"))
        elif name in COLUMNS:
            found[name] = at
        elif name:
            near = nearest_word(name, COLUMNS)
            faults.append(
                Fault(
                    file, "row 1", "", f"column {at + 1}", repr(cell.strip()), "mark, length or count", near
                )
            )
    for name in COLUMNS:
        if name not in found:
            faults.append(Fault(file, "row 1", "", name, "no such column", "the columns mark, length, count"))
    if faults:
        raise InputError.from_faults(faults, after="")
    return found


_COUNT = count(least=1, most=MOST_PIECES)
_LENGTH = measure(above=True)


def _piece(file: str, line: int, cells: dict[str, str], unit: Unit, faults: list[Fault]) -> Piece | None:
    row, mark = f"row {line}", cells["mark"]
    before = len(faults)
    if not mark:
        faults.append(Fault(file, row, "", "mark", "nothing", "a mark"))

    def value(key: str, kind: Kind[Value]) -> Value | None:
        try:
            return kind.read(cells[key], Notation(unit))
        except Misread as error:
            faults.append(fault_of(error, file, row, mark, key))
            return None

    found, pieces = value("length", _LENGTH), value("count", _COUNT)
    if found is None or pieces is None or len(faults) > before:
        return None
    return Piece(mark, found.length, pieces)


def _length(option: str, text: str, unit: Unit) -> Length:
    return read_typed(option, length(), text, Notation(unit))


def _number(option: str, text: str, expected: str) -> Decimal:
    try:
        return number().read(text, Notation())
    except TwoReadings as error:
        raise InputError(f"{option}: {error.message}") from error
    except Misread as error:
        raise InputError(f"{option}: {error.found} cannot be used; expected {expected}.") from error


def _whole(option: str, text: str) -> int:
    return read_typed(option, count(), text, Notation())
