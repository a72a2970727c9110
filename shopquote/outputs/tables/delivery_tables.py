"""A delivery note in the terminal and as JSON; the masses that its paper shows."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import KG_PER, Unit
from shopquote.outputs.looks import COUNT, NUMBER, Setting
from shopquote.outputs.table import Column, Table, json_rows
from shopquote.services.floor.delivery_note import DeliveredLine, DeliveryNote

# Rounding error allowed in a line's total, in the unit shown: less than a platform scale can tell.
MOST_OFF = Decimal("0.05")
# Rounding error allowed in the mass of one piece, as a share of it.
MOST_OF_A_PIECE = Decimal("0.1")
MOST_DIGITS = 3


@dataclass(frozen=True, slots=True)
class WeighedLine:
    """A line with the printed masses of one piece and of all, in kg or lb; None for bought items."""

    line: DeliveredLine
    each: Decimal | None
    total: Decimal | None


def weighed(note: DeliveryNote, unit: Unit) -> list[WeighedLine]:
    """The lines with masses that add up as printed: count x printed mass of a piece is the line's total.

    All masses have the same number of decimals, the fewest from one to three with which every total is right
    and no mass is zero: a washer of 30 g is not printed as 0.0 kg.
    """
    masses = [None if line.each_kg is None else line.each_kg / KG_PER[unit] for line in note.lines]
    exact = [(mass, line.count) for mass, line in zip(masses, note.lines, strict=True) if mass is not None]

    def holds(digits: int) -> bool:
        off = [(abs(_rounded(mass, digits) - mass), mass, count) for mass, count in exact]
        return all(gap * count <= MOST_OFF and gap <= mass * MOST_OF_A_PIECE for gap, mass, count in off)

    digits = next(filter(holds, range(1, MOST_DIGITS)), MOST_DIGITS)
    lines = []
    for line, mass in zip(note.lines, masses, strict=True):
        each = None if mass is None else _rounded(mass, digits)
        lines.append(WeighedLine(line, each, None if each is None else each * line.count))
    return lines


def total_mass(lines: Sequence[WeighedLine]) -> Decimal:
    """The total mass of the printed lines."""
    return sum((line.total for line in lines if line.total is not None), Decimal(0))


def _rounded(mass: Decimal, digits: int) -> Decimal:
    return mass.quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)


DELIVERED: tuple[Column[WeighedLine], ...] = (
    Column("Mark", lambda row: row.line.mark),
    Column("What", lambda row: row.line.what),
    Column("Bar", lambda row: row.line.bar),
    Column("Count", lambda row: row.line.count, COUNT, said="{} off"),
    Column("{mass} each", lambda row: row.each, NUMBER, key="each_kg", said="{} {mass} each"),
    Column("Total {mass}", lambda row: row.total, NUMBER, key="total_kg", said="{} {mass}"),
    Column("Left", lambda row: row.line.left, COUNT),
)


def delivery_table(note: DeliveryNote) -> Table[WeighedLine]:
    """The delivered pieces, a line for each mark."""
    lines, setting = weighed(note, note.units), Setting("", note.units)
    return Table(DELIVERED, lines, f"Delivery note {note.name}", setting)


def delivery_json(note: DeliveryNote, files: Sequence[Path], lacking: Sequence[str]) -> dict[str, object]:
    """The note for programs; masses in kg. `lacking`: what the document pack has no paper of."""
    lines = weighed(note, "mm")
    return {
        "job": note.job,
        "number": note.number,
        "title": note.title,
        "customer": note.customer.name,
        "day": note.day,
        "sets": note.sets,
        "ordered": note.ordered,
        "lines": json_rows(DELIVERED, lines, Setting("", "mm")),
        "mass_kg": total_mass(lines),
        "lacking": list(lacking),
        "files": list(files),
    }
