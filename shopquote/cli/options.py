"""What commands share: options that look and mean the same everywhere, sessions, JSON output.

A number, amount, length or day stays text until the command knows the shop's notation: what a comma
means is the shop's to say (`value_typed`, `day_typed` and `count_typed` of `services/shop/shop_on_file`).
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from shopquote.errors import fault_lines


def option(name: str, metavar: str, told: str) -> Any:
    """An option that takes a value; `told` is its line in the help."""
    return typer.Option(name, metavar=metavar, help=told)


def flag(name: str, told: str) -> Any:
    """A switch, or an option that takes one of the words of its enumerated type."""
    return typer.Option(name, help=told)


def argument(metavar: str, told: str) -> Any:
    """A positional argument; `told` is its line in the help."""
    return typer.Argument(metavar=metavar, help=told)


def _given_before_the_command(ctx: typer.Context, value: str | None) -> str | None:
    """`shopquote --db X job list` and `shopquote job list --db X` mean the same."""
    if value is not None:
        return value
    given = ctx.find_root().params.get("db")
    return given if isinstance(given, str) else None


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


def _folder_typed(text: str | Path) -> Path:
    """The folder that an option names; its default is a `Path` already.

    Raises:
        BadParameter: the text is empty, as an unset shell variable leaves it.
    """
    if not str(text):
        raise typer.BadParameter("an empty word names no folder; for this one, give a point: .")
    return Path(text)


OutOption = Annotated[
    Path,
    typer.Option(
        "--out", parser=_folder_typed, metavar="DIR", help="Folder for the files; created if missing."
    ),
]

SecondsOption = Annotated[
    str | None,
    typer.Option(
        "--seconds",
        metavar="S",
        help="End the search after S seconds; the result then depends on the machine.",
    ),
]


def _replace_files(wanted: bool) -> bool:
    from shopquote.files import set_replacing

    set_replacing(wanted)
    return wanted


ReplaceOption = Annotated[
    bool,
    typer.Option(
        "--replace",
        help="Overwrite files that were changed, or that are not this program's.",
        callback=_replace_files,
    ),
]


GoodRowsOption = Annotated[
    bool, flag("--good-rows", "Take the rows without mistakes; report the others and leave them out.")
]


def tell_left_out(faults: Sequence[Any]) -> None:
    """Report on stderr which rows of a sheet were left out, and why; nothing where there are none."""
    if faults:
        rows = len({(fault.table, fault.mark) for fault in faults})
        typer.echo(f"{rows} left out; correct them and enter the sheet again:", err=True)
        typer.echo(fault_lines(faults), err=True)


@contextmanager
def reading(db: str | None) -> Iterator[Any]:
    """A session for reading the database that `--db` names."""
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.reading() as session:
        yield session


@contextmanager
def writing(db: str | None) -> Iterator[Any]:
    """A session for writing: committed when its block ends, rolled back if the block raises."""
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.session() as session:
        yield session


def print_json(value: Any) -> None:
    """Print a value as JSON on stdout; the encoder is imported only when it is needed."""
    from shopquote.outputs.tables.show import print_json as print_it

    print_it(value)
