"""A supplier order, or a request for prices, as a PDF: the same columns and words as its workbook.

Laid out from the stored document alone, so that an old order prints as it was. Begin at `write_order_paper`.
"""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from shopquote.calc.address import lines_of
from shopquote.calc.buying.order_document import OrderDocument
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.order_book import closing_words, order_facts, order_sums
from shopquote.outputs.papers.paper_table import paper_table
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.order_columns import MASS_COLUMN, kind_words, order_table


def write_order_paper(order: OrderDocument, folder: Path) -> Path:
    """Write the PDF of an order into a folder; returns its path."""
    name = f"{kind_words(order)} {order.shown_number} {order.supplier.name}"
    path = folder / safe_file_name(name, ".pdf")
    return put_file(path, typeset("order", order_data(order)))


def order_data(order: OrderDocument) -> dict[str, Any]:
    """All that the supplier sees."""
    shop, supplier, table = order.shop, order.supplier, order_table(order)
    heading = f"{kind_words(order)} {order.shown_number}"
    number = shop.tax_number and f"VAT No. {shop.tax_number}"
    return {
        "title": heading,
        "shop": shop.name,
        "paper": order.paper,
        "language": "en",
        "footer": f"{shop.name} · {heading}",
        "to_word": "To",
        "wide": ["Length", "Standard, condition"],
        "from": lines_of([shop.address, shop.email, shop.phone, number]),
        "to": lines_of([supplier.name, supplier.address, supplier.email, supplier.phone]),
        "facts": [
            [name, f"{value:%Y-%m-%d}" if isinstance(value, date) else value]
            for name, value in order_facts(order)
        ],
        "lines": paper_table(table.columns, table.rows, table.setting),
        "sums": [list(row) for row in _sums(order)],
        "closing": closing_words(order),
    }


def _sums(order: OrderDocument) -> Iterator[tuple[str, str]]:
    table = order_table(order)
    yield "Total mass", f"{table.total(MASS_COLUMN)} {table.setting.words['mass']}"
    if not order.is_ask:
        for name, amount in order_sums(order):
            yield name, f"{amount} {order.currency}"
