"""`shopquote price`: what job files would cost the customer; nothing is stored, no database needed."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, print_json
from shopquote.cli.quote import BreaksOption, MarginOption, WhatIfOption, pair
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("price")(price)


def price(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Job files, .toml or .xlsx.")],
    breaks: BreaksOption = None,
    margin: MarginOption = None,
    what_if: WhatIfOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Price job files and store nothing; without a database, by the lists of a new shop."""
    from shopquote.outputs.tables.quote_tables import prices_json, print_prices
    from shopquote.services.quotes.price_files import price_files
    from shopquote.services.quotes.quote_options import QuoteOptions

    options = QuoteOptions(breaks=breaks, margin_pct=margin)
    changes = dict(map(pair, what_if or ()))
    priced = price_files(files, options, database=db, at=now(), changes=changes)
    print_json(prices_json(priced)) if as_json else print_prices(priced)
