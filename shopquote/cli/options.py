"""What many commands share: options with one name, one help line and one meaning; a session; their JSON.

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
    """An option that is there or not, or takes one of the words of its type."""
    return typer.Option(name, help=told)


def argument(metavar: str, told: str) -> Any:
    """A word of a command without a name."""
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
    """A folder of an option; the option's own default is one already. No word at all is a slip."""
    if not str(text):
        raise typer.BadParameter("an empty word names no folder; for this one, give a point: .")
    return Path(text)


OutOption = Annotated[
    Path,
    typer.Option(
        "--out", parser=_folder_typed, metavar="DIR", help="Folder for the files; made when it is not there."
    ),
]

SecondsOption = Annotated[
    str | None,
    typer.Option("--seconds", metavar="S", help="Let the clock end the search; else work counted does."),
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


GoodRowsOption = Annotated[
    bool, flag("--good-rows", "Take a sheet's rows without mistakes; the others are told and left out.")
]


def tell_left_out(faults: Sequence[Any]) -> None:
    """Say on stderr which rows were left out of a sheet, and why."""
    if faults:
        rows = len({(fault.table, fault.mark) for fault in faults})
        typer.echo(f"{rows} left out; mend and enter the sheet again:", err=True)
        typer.echo(fault_lines(faults), err=True)


@contextmanager
def reading(db: str | None) -> Iterator[Any]:
    """A session that reads the database which `--db` names."""
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.reading() as session:
        yield session


@contextmanager
def writing(db: str | None) -> Iterator[Any]:
    """A session that writes: committed as a whole when its block ends, or not at all."""
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.session() as session:
        yield session


def print_json(value: Any) -> None:
    """Print what `--json` asks for."""
    from shopquote.outputs.tables.show import print_json as print_it

    print_it(value)
