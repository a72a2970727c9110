"""Plan a cut list from a CSV file or workbook, without a database.

Columns mark, length, count in any order; every mistake of the file is reported at once. Begin at `cut_list`.
"""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import CutPlan, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.plan import MOST_PIECES, Progress, plan_cuts
from shopquote.calc.units import Length, Unit
from shopquote.errors import InputError
from shopquote.reading.forms import Form, FormColumn
from shopquote.reading.kinds import (
    MEASURE,
    NAME,
    SECONDS,
    Notation,
    count,
    length,
    money,
    one_currency,
    percent,
    read_typed,
)
from shopquote.reading.table_files import read_table

# More rows are no shop's list: reading them would only take minutes and memory.
MOST_ROWS = 100_000
# Each rack bar is a bar type of its own in the planner's problem.
MOST_RACK_BARS = 10_000

CUT_FORM = Form(
    (
        FormColumn("mark", NAME, "", needed=True, filled=True),
        FormColumn("length", MEASURE, needed=True, filled=True),
        FormColumn("count", count(least=1, most=MOST_PIECES), needed=True, filled=True),
    ),
    closed=True,
)


@dataclass(frozen=True, slots=True)
class CutWords:
    """The command line's words about bars and saw, as typed.

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
    path: Path, words: CutWords, unit: Unit, progress: Progress | None = None, *, prove: bool = False
) -> CutPlan:
    """Read the list and the bars, and plan the cuts; `prove` adds the proof of the bound where there is one.

    Raises:
        InputError: the file or a value cannot be used.
        CannotMakeError: a piece is longer than any bar, or there is too little bar.
    """
    seconds = None if words.seconds is None else read_typed("--seconds", SECONDS, words.seconds, Notation())
    saw = read_saw(words, unit)
    notation = Notation(unit, currency=_currency_of(words))
    stocks = [read_stock(text, notation) for text in words.stock]
    rack = [bar for number, text in enumerate(words.rack) for bar in read_rack(text, number + 1, notation)]
    if len(rack) > MOST_RACK_BARS:
        raise InputError(f"{len(rack)} rack bars are given; at most {MOST_RACK_BARS} can be planned with.")
    pieces = read_cut_list(path, unit)
    return plan_cuts(pieces, stocks, rack, saw, unit=unit, seconds=seconds, progress=progress, prove=prove)


def read_saw(words: CutWords, unit: Unit) -> SawSettings:
    """Kerf, trim, grip, least length kept and credit of offcuts from their words.

    Raises:
        InputError: one of them cannot be read.
    """
    notation = Notation(unit)
    keep_min: Length | None = None
    credit = Decimal(0)
    if words.keep is not None:
        least, _, rest = words.keep.partition(":")
        keep_min = _length("--keep", least, notation)
        if rest:
            credit = read_typed("--keep", percent(100), rest, Notation())
    return SawSettings(
        kerf=_length("--kerf", words.kerf, notation),
        trim=_length("--trim", words.trim, notation),
        grip=_length("--grip", words.grip, notation),
        keep_min=keep_min,
        keep_percent=credit,
    )


def _currency_of(words: CutWords) -> str:
    """The one currency sign that prices and values bear: without a shop any is taken, but no two."""
    parts = [text.split(":") for text in (*words.stock, *words.rack)]
    # A price is the second part of --stock, a value the third of --rack; no other part bears a sign.
    return one_currency(part for typed in parts for part in typed[1:3])


def read_stock(text: str, notation: Notation) -> StockBar:
    """A stock length as typed, L[:PRICE[:LIMIT[:TOLERANCE]]]; any part but the length may be empty.

    Raises:
        InputError: too many parts, one that cannot be read, or no length.

    >>> read_stock("6 m:24.60", Notation()).price
    Decimal('24.60')
    """
    parts = text.split(":")
    if len(parts) > 4:
        raise InputError(f"--stock {text!r} has too many parts; expected LENGTH[:PRICE[:LIMIT[:TOLERANCE]]].")
    length = _length("--stock", parts[0], notation)
    if not length:
        raise InputError(f"--stock {text!r}: the length is 0; a bar must be longer than 0.")
    price = None
    if len(parts) > 1 and parts[1].strip():
        price = _money("--stock", parts[1], notation)
    limit = _whole("--stock", parts[2]) if len(parts) > 2 and parts[2].strip() else None
    short = _length("--stock", parts[3], notation) if len(parts) > 3 and parts[3].strip() else Length(0)
    return StockBar(length, price, limit, tolerance=short)


def read_rack(text: str, number: int, notation: Notation) -> list[RackBar]:
    """Rack bars as typed, L[:COUNT[:VALUE]]; VALUE is per bar. `number`, their place in the list, names them.

    Raises:
        InputError: too many parts, one that cannot be read, no length, or too many bars.

    >>> [bar.value for bar in read_rack("3 m:2:7.50", 1, Notation())]
    [Decimal('7.50'), Decimal('7.50')]
    """
    parts = text.split(":")
    if len(parts) > 3:
        raise InputError(f"--rack {text!r} has too many parts; expected LENGTH[:COUNT[:VALUE]].")
    length = _length("--rack", parts[0], notation)
    if not length:
        raise InputError(f"--rack {text!r}: the length is 0; a bar must be longer than 0.")
    count = _whole("--rack", parts[1]) if len(parts) > 1 and parts[1].strip() else 1
    value = None
    if len(parts) > 2 and parts[2].strip():
        value = _money("--rack", parts[2], notation)
    if count > MOST_RACK_BARS:
        raise InputError(f"--rack {text!r}: {count} bars; at most {MOST_RACK_BARS} can be planned with.")
    if count == 1:
        return [RackBar(f"rack {number}", length, value=value)]
    return [RackBar(f"rack {number}.{i + 1}", length, value=value) for i in range(count)]


def read_cut_list(path: Path, unit: Unit) -> list[Piece]:
    """Pieces of a file with the columns of `CUT_FORM`.

    Raises:
        InputError: the file cannot be read, or all its mistakes together.
    """
    table = read_table(path)
    sheet = CUT_FORM.open(table, Notation(unit))
    if len(table.rows) > MOST_ROWS:
        raise InputError(f"{path.name} has more than {MOST_ROWS} rows; split the list.")
    found = [[sheet.value(row, name) for name in CUT_FORM.headings] for row in table.rows]
    if sheet.faults:
        raise InputError.from_faults(sheet.faults, after="")
    if not found:
        raise InputError(f"{path.name} has no pieces: there is nothing to cut.")
    return [Piece(mark, size.length, pieces) for mark, size, pieces in found]


def _length(option: str, text: str, notation: Notation) -> Length:
    return read_typed(option, length(), text, notation)


def _money(option: str, text: str, notation: Notation) -> Decimal:
    return read_typed(option, money(), text, notation)


def _whole(option: str, text: str) -> int:
    return read_typed(option, count(), text, Notation())
