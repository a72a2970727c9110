"""A delivery note in the terminal and as JSON."""

from collections.abc import Sequence
from pathlib import Path

from shopquote.outputs.looks import COUNT, MASS, Setting
from shopquote.outputs.table import Column, Table, json_rows
from shopquote.services.floor.delivery_note import DeliveredLine, DeliveryNote

TOTAL_MASS: Column[DeliveredLine] = Column(
    "Total {mass}", lambda line: line.total_kg, MASS, key="total_kg", said="{} {mass}"
)
DELIVERED: tuple[Column[DeliveredLine], ...] = (
    Column("Mark", lambda line: line.mark),
    Column("What", lambda line: line.what),
    Column("Bar", lambda line: line.bar),
    Column("Count", lambda line: line.count, COUNT, said="{} off"),
    Column("{mass} each", lambda line: line.each_kg, MASS, key="each_kg", said="{} {mass} each"),
    TOTAL_MASS,
    Column("Left", lambda line: line.left, COUNT),
)


def delivery_table(note: DeliveryNote) -> Table[DeliveredLine]:
    """What is delivered, a line a mark."""
    return Table(DELIVERED, note.lines, f"Delivery note {note.name}", Setting("", note.units))


def delivery_json(note: DeliveryNote, files: Sequence[Path]) -> dict[str, object]:
    """The note for programs; masses in kg."""
    return {
        "job": note.job,
        "number": note.number,
        "title": note.title,
        "customer": note.customer.name,
        "day": note.day,
        "sets": note.sets,
        "ordered": note.ordered,
        "lines": json_rows(DELIVERED, note.lines, Setting("", "mm")),
        "mass_kg": note.mass_kg,
        "files": list(files),
    }
