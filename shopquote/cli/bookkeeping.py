"""`shopquote bookkeeping`: quotes won, invoices, payments and bills of a period, as CSV."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, print_json, reading
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("bookkeeping")(bookkeeping)


def bookkeeping(
    since: Annotated[
        str | None, typer.Option("--since", metavar="DATE", help="First day; default 1 January of this year.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="Last day; default today.")
    ] = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write quotes won, invoices, credits, payments, bills and bars received of a period as CSV."""
    from shopquote.files import put_file
    from shopquote.outputs.tables.bookkeeping_tables import postings_csv, postings_json, print_postings
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.review.bookkeeping import postings
    from shopquote.services.shop.shop_on_file import day_typed

    today = now().date()
    with reading(db) as session:
        first = day_typed(session, "--since", since, today.replace(month=1, day=1), ahead=True)
        last = day_typed(session, "--until", until, today, ahead=True)
        rows = postings(session, first, last)
    file = put_file(out / f"Bookkeeping {first} to {last}.csv", postings_csv(rows).encode())
    if as_json:
        print_json({"since": first, "until": last, "rows": postings_json(rows), "files": [file]})
        return
    print_postings(rows)
    print_files([file])
