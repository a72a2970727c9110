"""Print a quote and, if it is new, its chance of being won as earlier quotes tell it."""

from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.cli.options import print_json

if TYPE_CHECKING:
    from shopquote.calc.pricing.document import QuoteDocument
    from shopquote.services.shop.database import Database


def show_quote(
    document: "QuoteDocument", files: list[Path], as_json: bool, new_in: "Database | None" = None
) -> None:
    """Print a quote. `new_in` is the database where a new one was stored, None for a reprint."""
    from shopquote.outputs.tables.owner_tables import chance_json, chance_text
    from shopquote.outputs.tables.quote_tables import print_quote, quote_json
    from shopquote.services.review.win_chance import chance_of_job

    told = None
    if new_in is not None:
        with new_in.reading() as session:
            told = chance_of_job(session, document.job)
    if as_json:
        print_json(quote_json(document, files) | chance_json(told, document.priced.currency))
        return
    print_quote(document, files)
    if told is not None:
        print(chance_text(*told))
