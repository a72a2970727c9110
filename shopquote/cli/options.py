"""Options that many commands share, each with one name, one help line and one meaning."""

from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Annotated

import typer


def _given_before_the_command(ctx: typer.Context, value: str | None) -> str | None:
    """`shopquote --db X job list` and `shopquote job list --db X` mean the same."""
    if value is not None:
        return value
    given = ctx.find_root().params.get("db")
    return given if isinstance(given, str) else None


def typed_day(text: str) -> datetime:
    """A day of an option, at midnight; written so that no shop is needed to read it."""
    from datetime import time

    from shopquote.errors import InputError
    from shopquote.reading.kinds import DAY, Notation

    try:
        return datetime.combine(DAY.read(text, Notation()), time.min)
    except InputError as error:
        raise typer.BadParameter(error.message) from None


def typed_number(text: str | Decimal) -> Decimal:
    """A number of an option, written so that no shop is needed to read it.

    Typer hands the option's own default through it too, which is a number already.
    """
    from shopquote.errors import InputError
    from shopquote.reading.kinds import Notation, number_of

    try:
        return number_of(str(text).strip().removesuffix("%"), Notation())
    except InputError as error:
        raise typer.BadParameter(error.message) from None


DbOption = Annotated[
    str | None,
    typer.Option(
        "--db",
        metavar="DATABASE",
        help="Database: a file or a PostgreSQL URL. Default: SHOPQUOTE_DB, else a file in your data folder.",
        callback=_given_before_the_command,
    ),
]

JsonOption = Annotated[bool, typer.Option("--json", help="Print only JSON.")]

OutOption = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="Folder for the files; made when it is not there.")
]


def _replace_files(wanted: bool) -> bool:
    from shopquote.files import set_replacing

    set_replacing(wanted)
    return wanted


ReplaceOption = Annotated[
    bool,
    typer.Option(
        "--replace",
        help="Write over files that were changed since, or are not this program's.",
        callback=_replace_files,
    ),
]
