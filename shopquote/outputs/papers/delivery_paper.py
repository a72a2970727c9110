"""A delivery note as a PDF to sign, and as text. It holds no price."""

from pathlib import Path
from typing import Any

from shopquote.calc.address import lines_of
from shopquote.files import bring_in, put_file, set_aside
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.papers.paper_table import paper_table
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.delivery_tables import (
    RECEIVED,
    delivery_facts,
    delivery_table,
    delivery_text,
    total_mass,
)
from shopquote.services.floor.delivery_note import DeliveryNote


def write_delivery_note(note: DeliveryNote, folder: Path) -> list[Path]:
    """Write the PDF and the text into a folder; returns their paths."""
    name = f"Delivery note {note.job} {note.day}"
    with set_aside(folder) as aside:
        paper = put_file(aside / safe_file_name(name, ".pdf"), typeset("order", delivery_data(note)))
        text = put_file(aside / safe_file_name(name, ".txt"), delivery_text(note).encode())
        return bring_in([paper, text], folder)


def delivery_data(note: DeliveryNote) -> dict[str, Any]:
    """All that the customer sees, laid out as an order is."""
    shop, customer, table = note.shop, note.customer, delivery_table(note)
    heading = f"Delivery note {note.job}"
    return {
        "title": heading,
        "shop": shop.name,
        "paper": note.paper,
        "language": "en",
        "footer": f"{shop.name} · {heading}",
        "from": lines_of([shop.address, shop.email, shop.phone]),
        "to": lines_of([customer.name, customer.address, customer.email, customer.phone]),
        "facts": [list(fact) for fact in delivery_facts(note)],
        "lines": paper_table(table.columns, table.rows, table.setting),
        "sums": [["Total mass", total_mass(note)]],
        "closing": [f"{RECEIVED}: " + "_" * 40],
    }
