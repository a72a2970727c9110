"""The customer's quote as a PDF, typeset from the stored document alone.

Only named fields are passed to the template, so that nothing internal can slip through: no cost, rate,
margin or minute. Begin at `write_quote_paper`.
"""

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from shopquote.calc.address import Address
from shopquote.calc.drawing.picture import draw_picture
from shopquote.calc.pricing.document import PartPicture, QuoteDocument
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.quote_parts import part_words, quote_file_name
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.quote_words import Voice, voice_of

PICTURE_MM = (50.0, 24.0)


def write_quote_paper(document: QuoteDocument, folder: Path) -> Path:
    """Write the quote of a document into a folder as a PDF; returns the file."""
    path = folder / safe_file_name(quote_file_name(document), ".pdf")
    return put_file(path, typeset("quote", quote_data(document)))


def quote_data(document: QuoteDocument) -> dict[str, Any]:
    """The template's data for a quote: all that the customer sees, in the customer's language."""
    voice = voice_of(document.wording.locale, document.priced.currency)
    words, priced = document.wording, document.priced
    revision = f"{voice['revision']} {document.revision}"
    return {
        "title": f"{voice['quote']} {document.number}",
        "shop": document.shop.name,
        "paper": words.paper,
        "language": words.locale.split("_")[0],
        "footer": f"{document.shop.name} · {document.number} · {revision}",
        "shop_lines": _shop_lines(document.shop, voice),
        "logo": words.logo and "logo",
        # The logo stored with the quote: a new logo does not change an old paper.
        "logo_bytes": list(base64.b64decode(words.logo)),
        "invented": voice["invented"] if words.invented else "",
        "for_word": voice["for"],
        "customer": _customer_lines(document.customer),
        "facts": [list(fact) for fact in _facts(document, voice)],
        "job_title": document.title,
        "description": document.description.splitlines(),
        "line_head": [voice[name] for name in ("number", "what", "quantity", "unit_price", "amount")],
        "lines": [
            [str(number), voice.line(document, line), voice.figure(line.quantity),
             voice.money(line.unit_price), voice.money(line.amount)]
            for number, line in enumerate(priced.lines, start=1)
        ],
        "sums": [list(row) for row in _sums(document, voice)],
        "notes": [] if priced.taxes else [voice["exempt" if document.tax_exempt else "no_tax"]],
        "total_word": voice["total"],
        "total": voice.money(priced.total),
        "parts": [_part(part, voice) for part in document.parts],
        "breaks_word": voice["breaks"],
        "break_head": [voice[name] for name in ("sets", "price_of_set", "total_net", "note")],
        "breaks": _breaks(document, voice),
        "terms": [[voice[name], text] for name, text in voice.terms(document)],
        "cautions_word": voice["cautions"],
        "cautions": [voice.caution(caution) for caution in document.cautions],
        "accept": voice["accept"],
        "accept_words": voice["accept_words"],
        "blanks": _blanks(document, voice),
    }  # fmt: skip


def _breaks(document: QuoteDocument, voice: Voice) -> list[list[str]]:
    return [
        [str(step.sets), voice.money(step.unit_price), voice.money(step.total), voice.better(step)]
        for step in document.priced.breaks
    ]


def _blanks(document: QuoteDocument, voice: Voice) -> list[list[str]]:
    """Blanks for the customer to fill in: who orders, when, and which of several prices or jobs."""
    blanks = [[voice["name"], voice["order_number"]], [voice["signature"], voice["date"]]]
    if document.priced.breaks:
        blanks.append([voice["chosen"], ""])
    if document.priced.several_jobs:
        blanks.append([voice["only_jobs"], ""])
    return blanks


def _shop_lines(shop: Address, voice: Voice) -> list[str]:
    lines = [*shop.address.splitlines(), " · ".join(filter(None, (shop.email, shop.phone)))]
    if shop.tax_number:
        lines.append(f"{voice['tax_number']} {shop.tax_number}")
    return [line for line in lines if line]


def _customer_lines(customer: Address) -> list[str]:
    return [customer.name, *customer.address.splitlines(), *filter(None, (customer.email, customer.phone))]


def _facts(document: QuoteDocument, voice: Voice) -> Iterator[tuple[str, str]]:
    yield voice["quote"], f"{document.number}, {voice['revision']} {document.revision}"
    yield voice["date"], voice.day(document.issued_on)
    yield voice["valid_until"], voice.day(document.valid_until)
    yield voice["job"], document.job
    if document.revision > 1:
        yield voice["replaces"], f"{voice['revision']} {document.revision - 1}"
    if document.due is not None:
        yield voice["due"], voice.day(document.due)
    if document.drawing:
        yield voice["drawing"], document.drawing
    if document.enquiry:
        yield voice["enquiry"], document.enquiry


def _sums(document: QuoteDocument, voice: Voice) -> Iterator[tuple[str, str]]:
    yield voice["net"], voice.money(document.priced.net)
    for tax in document.priced.taxes:
        yield f"{tax.name} {voice.percent(tax.percent)} %", voice.money(tax.amount)


def _part(part: PartPicture, voice: Voice) -> dict[str, str]:
    drawn = ""
    if len(part.line_mm) >= 2:
        drawn = svg(draw_picture(part.line_mm, part.depth_mm, PICTURE_MM, part.twists), title=part.name)
    return {"svg": drawn, "words": part_words(part, voice)}
