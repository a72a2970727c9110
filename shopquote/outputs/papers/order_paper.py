"""A supplier order, or a request for prices, as a PDF: the same columns and words as its workbook.

Laid out from the stored document alone, so that an old order prints as it was. Begin at `write_order_paper`.
"""

from pathlib import Path
from typing import Any

from shopquote.calc.address import lines_of
from shopquote.calc.buying.order_document import OrderDocument
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.order_book import closing_words, told_facts, told_sums
from shopquote.outputs.papers.paper_table import paper_table
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.order_columns import order_heading, order_table, order_voice


def write_order_paper(order: OrderDocument, folder: Path) -> Path:
    """Write the PDF of an order into a folder; returns its path."""
    name = f"{order_heading(order)} {order.supplier.name}"
    path = folder / safe_file_name(name, ".pdf")
    return put_file(path, typeset("order", order_data(order)))


def order_data(order: OrderDocument) -> dict[str, Any]:
    """The template's data for an order: all that the supplier sees."""
    shop, supplier, voice = order.shop, order.supplier, order_voice(order)
    heading, table = order_heading(order), order_table(order, voice)
    number = shop.tax_number and f"{voice['tax_number']} {shop.tax_number}"
    return {
        "title": heading,
        "shop": shop.name,
        "paper": order.paper,
        "language": voice.locale[:2],
        "footer": f"{shop.name} · {heading}",
        "to_word": voice["to"],
        "wide": [voice.says(heading) for heading in ("Length", "Standard, condition")],
        "from": lines_of([shop.address, shop.email, shop.phone, number]),
        "to": lines_of([supplier.name, supplier.address, supplier.email, supplier.phone]),
        "facts": [list(fact) for fact in told_facts(order)],
        "lines": paper_table(table.columns, table.rows, table.setting),
        "sums": [list(row) for row in told_sums(order)],
        "closing": closing_words(order),
    }
