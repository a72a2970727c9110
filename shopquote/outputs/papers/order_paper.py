"""A supplier order, or a request for prices, as a PDF: the same columns and words as its workbook.

Laid out from the stored snapshot alone, so that an old order prints as it was. Begin at `write_order_paper`.
"""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.order_book import SUMS, closing_words, lines_of, order_facts, shown_number
from shopquote.outputs.papers.paper_table import paper_table
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.order_columns import MASS_COLUMN, Snapshot, is_ask, kind_words, order_table


def write_order_paper(snapshot: Snapshot, folder: Path) -> Path:
    """Write the PDF of an order into a folder; returns its path."""
    name = f"{kind_words(snapshot)} {shown_number(snapshot)} {snapshot['supplier']['name']}"
    path = folder / safe_file_name(name, ".pdf")
    return put_file(path, typeset("order", order_data(snapshot)))


def order_data(snapshot: Snapshot) -> dict[str, Any]:
    """All that the supplier sees."""
    shop, supplier, table = snapshot["shop"], snapshot["supplier"], order_table(snapshot)
    heading = f"{kind_words(snapshot)} {shown_number(snapshot)}"
    number = shop["tax_number"] and f"VAT No. {shop['tax_number']}"
    return {
        "title": heading,
        "shop": shop["name"],
        "paper": shop["paper"],
        "language": "en",
        "footer": f"{shop['name']} · {heading}",
        "from": lines_of([shop["address"], shop["email"], shop["phone"], number]),
        "to": lines_of([supplier["name"], supplier["address"], supplier["email"], supplier["phone"]]),
        "facts": [
            [name, f"{value:%Y-%m-%d}" if isinstance(value, date) else value]
            for name, value in order_facts(snapshot)
        ],
        "lines": paper_table(table.columns, table.rows, table.setting),
        "sums": [list(row) for row in _sums(snapshot)],
        "closing": closing_words(snapshot),
    }


def _sums(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    table = order_table(snapshot)
    yield "Total mass", f"{table.total(MASS_COLUMN)} {table.setting.words['mass']}"
    if not is_ask(snapshot):
        for name, key in SUMS:
            yield name, f"{snapshot[key]} {snapshot['currency']}"
