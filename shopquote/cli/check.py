"""`shopquote check`: read job files, report every mistake, store nothing."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, print_json


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("check")(check)


def check(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Job files, .toml or .xlsx.")],
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Report every mistake in job files and workbooks; store nothing."""
    from shopquote.errors import CannotMakeError, InputError
    from shopquote.outputs.tables.check_tables import checked_json, mistakes_json, print_checked
    from shopquote.services.jobs.check import check_jobs
    from shopquote.services.jobs.part import shop_to_bend_with

    try:
        shop, notation, _own = shop_to_bend_with(db)
        checked = check_jobs(files, shop, notation)
    except (InputError, CannotMakeError) as error:
        if as_json:
            print_json(mistakes_json(error))
        raise
    print_json(checked_json(checked)) if as_json else print_checked(checked)
