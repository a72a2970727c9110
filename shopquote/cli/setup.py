"""`shopquote setup`: create or upgrade the database and ask for the shop's own details."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shopquote.calc.frozen import dataclass
from shopquote.cli.first_rates import Walk
from shopquote.cli.options import DbOption, JsonOption, flag, writing
from shopquote.errors import counted
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.errors import Fault
    from shopquote.services.shop.database import Database
    from shopquote.services.shop.setup import ShopDetails


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command()(setup)


def setup(
    yes: Annotated[
        bool,
        typer.Option(
            "--yes", "-y", help="Ask nothing: keep what is on file, or start with an invented shop."
        ),
    ] = False,
    own: Annotated[
        bool, flag("--own", "Start a new shop with no invented supplier, price or bender.")
    ] = False,
    drop_invented: Annotated[
        bool, flag("--drop-invented", "Only remove the invented entries from a shop that has its own.")
    ] = False,
    rates: Annotated[
        bool, flag("--rates", "Only go through the fifteen rates that matter, with a sample job's price.")
    ] = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Create or upgrade the database and ask for the shop's details; Enter keeps each answer on file."""
    from shopquote.outputs.tables.setup_tables import print_joined, show_set_up
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.new_shop import details_on_file, set_up
    from shopquote.services.shop.shop_on_file import is_set_up

    if drop_invented:
        _drop(db, as_json=as_json)
        return
    if rates:
        with open_database(db) as database:
            Walk(database, _take_price_list).go()
        return
    with open_database(db, create=True) as database:
        if not as_json:
            print_joined(database.joined)
        with database.reading() as session:
            known, is_new = details_on_file(session), not is_set_up(session)
        details = known if yes else _ask(replace(known, name="") if is_new and own else known, new=is_new)
        start = _ask_start() if is_new and not (yes or own) else _Start(own=own)
        with database.session() as session:
            result = set_up(session, details, on=now().date(), own=start.own)
        show_set_up(database.name, result, database.joined, as_json=as_json)
        # After the shop is stored, so that an unreadable list costs none of the answers.
        if start.file is not None:
            _take_price_list(database, start.supplier, start.file)
        if is_new and not (yes or as_json):
            if _wants_the_walk():
                Walk(database, _take_price_list).go()
            typer.echo("Next: write a job file, or change a copy of a sample job, and: shopquote price FILE")


def _wants_the_walk() -> bool:
    """Ask whether to go through the rates now; the end of input counts as no."""
    try:
        return typer.confirm(
            "Go through the fifteen rates that matter now, and see what each does to a price?",
            default=True, err=True,
        )  # fmt: skip
    except typer.Abort:
        return False


def _drop(db: str | None, *, as_json: bool) -> None:
    from shopquote.outputs.tables.setup_tables import show_dropped
    from shopquote.services.shop.invented_entries import drop_invented

    with writing(db) as session:
        dropped = drop_invented(session)
    show_dropped(dropped, as_json=as_json)


@dataclass(frozen=True)
class _Start:
    """What a new shop starts from: nothing, invented lists, or a supplier's own price list."""

    own: bool
    supplier: str = ""
    file: Path | None = None


def _ask_start() -> _Start:
    """Which prices a new shop starts from; asked again until the answer can be used."""
    from shopquote.errors import InputError
    from shopquote.outputs.tables.show import print_error

    try:
        while True:
            typed = typer.prompt(
                "Prices and benders to start from: invented (to try the program with), own (none), or the "
                "file of a supplier's price list",
                default="invented", err=True,
            ).strip()  # fmt: skip
            if typed.casefold() in ("invented", "own"):
                return _Start(own=typed.casefold() == "own")
            if (file := Path(typed).expanduser()).is_file():
                return _Start(True, typer.prompt("Name of that supplier", err=True).strip(), file)
            print_error(InputError(f"{typed!r}: expected invented, own or the name of a file that is there."))
    except typer.Abort as gone:
        raise InputError(
            "The questions were not all answered; no detail was stored.",
            hint="To keep what is on file without questions: shopquote setup --yes",
        ) from gone


def _take_price_list(database: "Database", supplier: str, file: Path) -> None:
    """Store the first supplier and its price list.

    Raises:
        InputError: the list cannot be read, or is not wanted; the supplier stays on file.
    """
    from shopquote.errors import InputError
    from shopquote.outputs.tables.order_tables import print_price_list
    from shopquote.services.buying.price_list import price_table, read_price_list, store_price_list
    from shopquote.services.shop.lists import set_entry

    today = now().date()
    left_out: list[Fault] = []
    with database.session() as session:
        set_entry(session, "suppliers", [supplier], on=today)
    try:
        with database.session() as session:
            table = price_table(session, supplier, file)
            read = read_price_list(session, supplier, table, on=today, left_out=left_out)
            if left_out and not _takes_the_rest(left_out, len(read.changes)):
                raise InputError("No price was stored.", hint="Correct the list, or teach its words: --means")
            store_price_list(session, read)
    except InputError:
        typer.echo(
            "The shop is set up; only its price list is missing. Once it can be read: "
            f'shopquote order prices "{supplier}" "{file}"', err=True,
        )  # fmt: skip
        raise
    print_price_list(read, stored=True)
    if left_out:
        typer.echo(
            "For the other rows, once they are corrected or their words taught (--means): "
            f'shopquote order prices "{supplier}" "{file}"', err=True,
        )  # fmt: skip
    _ask_delivery(database, supplier)


def _ask_delivery(database: "Database", supplier: str) -> None:
    """Ask what a delivery from the supplier costs, which quotes charge; repeat until it is an amount."""
    from shopquote.errors import InputError
    from shopquote.outputs.tables.show import print_error
    from shopquote.services.shop.lists import set_entry

    while True:
        try:
            typed = typer.prompt("    Their charge for a delivery", default="0", err=True).strip()
            with database.session() as session:
                set_entry(session, "suppliers", [supplier, f"delivery_charge={typed}"], on=now().date())
        except InputError as mistake:
            print_error(mistake)
        except typer.Abort:
            return
        else:
            return


def _takes_the_rest(left_out: "Sequence[Fault]", bars: int) -> bool:
    """Report the faulty rows and ask whether to take the others; the end of input counts as no."""
    for fault in left_out:
        typer.echo(f"  {fault}", err=True)
    others = "the other bar" if bars == 1 else f"the other {bars} bars"
    asked = f"{counted(len(left_out), 'row')} cannot be read. Take {others} now?"
    try:
        # Ctrl-C stops only this question; the answers before it stay.
        return typer.confirm(asked, default=True, err=True)
    except typer.Abort:
        return False


def _ask(known: "ShopDetails", *, new: bool) -> "ShopDetails":
    """Ask for the shop's details, offering those on file or, for a new shop, what is usual in its country.

    Raises:
        InputError: the questions were stopped; nothing is stored.
    """
    from shopquote.errors import InputError
    from shopquote.services.shop.setup import QUESTIONS, asked_of_a_new_shop, in_its_country, own_details

    known = asked_of_a_new_shop(known) if new else known
    try:
        for name, question in QUESTIONS:
            answer = _ask_one(name, question, known)
            known = own_details(replace(known, **{name: answer}))
            if new and name == "locale":
                known = in_its_country(known, answer)
    except typer.Abort as gone:
        raise InputError(
            "The questions were not all answered; no detail was stored.",
            hint="To keep what is on file without questions: shopquote setup --yes",
        ) from gone
    return known


def _ask_one(name: str, question: str, known: "ShopDetails") -> Any:
    from shopquote.errors import InputError
    from shopquote.outputs.tables.show import print_error
    from shopquote.services.shop.setup import detail_from_text, detail_text

    while True:
        default = detail_text(getattr(known, name))
        typed = typer.prompt(question, default=default, show_default=bool(default), err=True)
        try:
            return detail_from_text(name, str(typed))
        except InputError as error:
            print_error(error)
