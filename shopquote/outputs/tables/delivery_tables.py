"""A delivery note in the terminal, as text and as JSON."""

from collections.abc import Sequence
from pathlib import Path

from shopquote.calc.address import lines_of
from shopquote.outputs.looks import COUNT, MASS, Setting
from shopquote.outputs.table import Column, Table, json_rows, row_text
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
)
RECEIVED = "Received complete and undamaged: name, signature, date"


def delivery_table(note: DeliveryNote) -> Table[DeliveredLine]:
    """What is delivered, a line a mark."""
    return Table(DELIVERED, note.lines, f"Delivery note {note.job}", Setting("", note.units))


def delivery_facts(note: DeliveryNote) -> list[tuple[str, str]]:
    """Job, day, how much of the order, and the customer's own reference."""
    facts = [
        ("Job", f"{note.job}, {note.title}"),
        ("Day", note.day.isoformat()),
        ("Sets", f"{note.sets} of {note.ordered}"),
    ]
    return facts + [fact for fact in (("Finish", note.finish), ("Your reference", note.enquiry)) if fact[1]]


def total_mass(note: DeliveryNote) -> str:
    """Mass of the bars, in the shop's unit."""
    setting = Setting("", note.units)
    return f"{MASS.shown(note.mass_kg, setting)} {setting.words['mass']}"


def delivery_text(note: DeliveryNote) -> str:
    """The note as plain text."""
    table = delivery_table(note)
    lines = [f"Delivery note {note.job}", "", f"To: {note.customer.name}", f"From: {note.shop.name}"]
    lines += [f"{name}: {value}" for name, value in delivery_facts(note)]
    lines += ["", *(row_text(table, line) for line in note.lines), "", f"Total mass: {total_mass(note)}"]
    lines += ["", RECEIVED, "", *lines_of([note.shop.name, note.shop.address, note.shop.phone])]
    return "\n".join(lines) + "\n"


def delivery_json(note: DeliveryNote, files: Sequence[Path]) -> dict[str, object]:
    """The note for programs; masses in kg."""
    return {
        "job": note.job,
        "title": note.title,
        "customer": note.customer.name,
        "day": note.day,
        "sets": note.sets,
        "ordered": note.ordered,
        "lines": json_rows(DELIVERED, note.lines, Setting("", "mm")),
        "mass_kg": note.mass_kg,
        "files": list(files),
    }
