"""`shopquote order`: buying bar."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from shopquote.cli.options import (
    DbOption,
    GoodRowsOption,
    JsonOption,
    OutOption,
    ReplaceOption,
    SecondsOption,
    argument,
    flag,
    option,
    print_json,
    reading,
    tell_left_out,
    writing,
)
from shopquote.errors import Fault, InputError
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from shopquote.calc.buying.order_document import OrderDocument
    from shopquote.services.buying.orders_on_file import NamedPrice
    from shopquote.services.shop.database import Database


class OrderGroup(TyperGroup):
    """A group whose commands may be left out: `order J-0001 J-0002` is `order for J-0001 J-0002`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put `for` before words that do not begin with a command of the group."""
        if args and args[0] not in self.commands and args[0] not in ("-h", "--help"):
            args = ["for", *args]
        return super().parse_args(ctx, args)


order_app = typer.Typer(
    cls=OrderGroup,
    no_args_is_help=True,
    help="Order bar for jobs: shopquote order JOB... places one order for each supplier, for what these jobs "
    "still need beyond the rack and open orders. Or use one of the commands below.",
)

OrderArgument = Annotated[str, argument("ORDER", "Number of the order: O-0007, or only 7.")]
ReasonOption = Annotated[str, option("--reason", "TEXT", "Why; kept with the order.")]
LetterOption = Annotated[bool, flag("--letter", "A draft e-mail to the supplier, with the order as PDF.")]
DateOption = Annotated[str | None, option("--on", "DATE", "Day of the order; default today.")]
PricesOption = Annotated[
    list[str] | None,
    option(
        "--price",
        "LINE=PRICE",
        "Price of one bar of a line, or by /kg, /lb, /cwt, /m or /ft: 1=1.15/kg; repeatable.",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.add_typer(order_app, name="order")


@order_app.command("for")
def order_for(
    jobs: Annotated[list[str], argument("JOB...", "Jobs to order for, together.")],
    ask: Annotated[
        bool, flag("--ask", "A request for prices instead of an order: without prices, nothing promised.")
    ] = False,
    supplier: Annotated[str | None, option("--supplier", "NAME", "Buy from this supplier only.")] = None,
    place: Annotated[str, option("--place", "TEXT", "Where to deliver; default the shop's address.")] = "",
    due: Annotated[str | None, option("--due", "DATE", "Day by which delivery is wanted.")] = None,
    certificate: Annotated[
        str | None, option("--certificate", "TYPE", "EN 10204 type: 2.1, 2.2, 3.1 or 3.2.")
    ] = None,
    marking: Annotated[str | None, option("--marking", "TEXT", "How the bars are to be marked.")] = None,
    tolerance: Annotated[str, option("--tolerance", "TEXT", "Length tolerance, such as '0 to +5 mm'.")] = "",
    note: Annotated[str, option("--note", "TEXT", "A note to the supplier.")] = "",
    seconds: SecondsOption = None,
    on: DateOption = None,
    letter: LetterOption = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Order what jobs still need; the word `for` may be left out."""
    from shopquote.files import bring_in, refuse_unless_all_free, set_aside
    from shopquote.outputs.tables.order_tables import orders_json, print_placed, write_all
    from shopquote.reading.kinds import DAY, SECONDS
    from shopquote.services.buying.orders import OrderWish, order_for_jobs
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import day_typed, value_typed

    written: list[Path] = []
    with open_database(db) as database, set_aside(out) as aside:
        with database.reading() as session:
            day = day_typed(session, "--on", on, now().date())
            wanted = value_typed(session, "--due", DAY, due)
            limit = value_typed(session, "--seconds", SECONDS, seconds)
        wish = OrderWish(supplier, ask, place, wanted, certificate, marking, tolerance, note)

        # Orders and their papers are stored together or not at all, even if the run is killed midway.
        def write_papers(documents: "Sequence[OrderDocument]") -> None:
            written[:] = write_all(documents, aside, letter=letter)
            refuse_unless_all_free(written, out)

        placed = order_for_jobs(database, jobs, wish, on=day, seconds=limit, write_papers=write_papers)
        files = bring_in(written, out)
    print_json(orders_json(placed, files)) if as_json else print_placed(placed, files)


@order_app.command("list")
def list_(
    state: Annotated[
        list[str] | None, option("--state", "STATE", "Only orders in this state; repeatable.")
    ] = None,
    supplier: Annotated[str | None, option("--supplier", "NAME", "Only this supplier's.")] = None,
    job: Annotated[str | None, option("--job", "JOB", "Only for this job.")] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List orders and requests for prices, the newest first."""
    from shopquote.outputs.tables.order_tables import list_json, print_list
    from shopquote.services.buying.orders_on_file import list_orders

    with reading(db) as session:
        orders = list_orders(session, states=state or (), supplier=supplier, job=job)
        print_json(list_json(orders)) if as_json else print_list(orders)


@order_app.command("show")
def show(
    order: OrderArgument,
    revision: Annotated[str | None, option("--revision", "N", "An older revision.")] = None,
    write: Annotated[bool, flag("--write", "Write its files again into --out.")] = False,
    letter: LetterOption = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Show an order and what was received on it; print it again."""
    from shopquote.outputs.tables.order_tables import order_json, print_order, write_all
    from shopquote.services.buying.order_documents import stored_order
    from shopquote.services.buying.orders_on_file import find_order
    from shopquote.services.buying.receipt_strike import struck_receipts
    from shopquote.services.shop.shop_on_file import count_typed, shop_unit

    with reading(db) as session:
        found = find_order(session, order, count_typed(session, "--revision", revision))
        files = write_all([stored_order(found)], out, letter=letter) if write or letter else ()
        struck = struck_receipts(session, found)
        if as_json:
            print_json({**order_json(found, files), "taken_back": list(struck)})
        else:
            print_order(found, shop_unit(session), files)
            for line in struck:
                print(line)


@order_app.command("place")
def place(
    order: OrderArgument,
    price: PricesOption = None,
    on: DateOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Turn a request for prices into an order."""
    from shopquote.services.buying.orders import place_request
    from shopquote.services.shop.shop_on_file import day_typed

    def place_it(session: Any) -> Any:
        day = day_typed(session, "--on", on, now().date())
        return place_request(session, order, _prices_by_line(session, order, price or []), on=day)

    _store_with_papers(place_it, out, as_json, db)


@order_app.command("change")
def change(
    order: OrderArgument,
    count: Annotated[
        list[str] | None,
        option("--count", "LINE=COUNT", "Number of bars of a line, 0 to drop it; repeatable."),
    ] = None,
    price: PricesOption = None,
    reason: ReasonOption = "",
    on: DateOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Change an order of which nothing was received yet: a new revision."""
    from shopquote.reading import kinds
    from shopquote.services.buying.orders_on_file import change_order
    from shopquote.services.shop.shop_on_file import day_typed, shop_notation

    if not count and not price:
        raise InputError("Nothing is changed.", hint="Say what: --count LINE=COUNT or --price LINE=PRICE")

    def change_it(session: Any) -> Any:
        day = day_typed(session, "--on", on, now().date())
        counts = _by_line(count or [], "--count", kinds.count(), shop_notation(session))
        named = _prices_by_line(session, order, price or [])
        return change_order(session, order, counts=counts, prices=named, on=day, reason=reason)

    _store_with_papers(change_it, out, as_json, db)


@order_app.command("cancel")
def cancel(
    order: OrderArgument,
    reason: ReasonOption = "",
    delivery: Annotated[
        str | None,
        option(
            "--delivery",
            "AMOUNT",
            "Charged for all its deliveries; default what was told when bars were received.",
        ),
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Cancel what was not received; the jobs need it again. Bars received bear the deliveries charged."""
    from shopquote.reading.kinds import money
    from shopquote.services.buying.orders_on_file import cancel_order, order_notation
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import value_typed

    with open_database(db) as database:
        with database.session() as session:
            charged = value_typed(session, "--delivery", money(), delivery, order_notation(session, order))
            cancelled = cancel_order(session, order, reason, delivery=charged).number
        _show_one(database, cancelled, (), as_json)


@order_app.command("prices")
def prices(
    supplier: Annotated[str, argument("SUPPLIER", "Name of the supplier on file.")],
    file: Annotated[Path, argument("FILE", "Its price list, .csv or .xlsx.")],
    column: Annotated[
        list[str] | None,
        option(
            "--column",
            "WORD=HEADING",
            "Which column holds what: bar, grade, length, price, basis, bundle, limit, 'price from "
            "500' (kg), 'price from 2000 lb'...; 'bar=Shape + Size' joins two columns, 'basis==kg' means kg "
            "in all rows. Repeatable; kept with the supplier.",
        ),
    ] = None,
    means: Annotated[
        list[str] | None,
        option(
            "--means",
            "THEIRS=OURS",
            "What the supplier's words for bars and grades mean: RND=round, 43A=S275. Repeatable; kept with "
            "the supplier; RND= forgets a word.",
        ),
    ] = None,
    sheet: Annotated[str | None, option("--sheet", "TITLE", "Sheet of the workbook to read.")] = None,
    heading_row: Annotated[
        str | None, option("--heading-row", "ROW", "Row with the column headings; kept with the supplier.")
    ] = None,
    preview: Annotated[bool, flag("--preview", "Show what would change; store nothing.")] = False,
    good_rows: GoodRowsOption = False,
    on: Annotated[
        str | None, option("--on", "DATE", "Day from which the prices count; default today.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Store a supplier's price list, whatever its columns."""
    from shopquote.outputs.tables.order_tables import price_list_json, print_price_list
    from shopquote.services.buying.price_headings import taught, usable_columns
    from shopquote.services.buying.price_list import (
        keep_words,
        named_columns,
        price_table,
        read_price_list,
        store_price_list,
    )
    from shopquote.services.shop.shop_on_file import count_typed, day_typed

    words, left_out = taught(means or []), list[Fault]()
    usable, table = dict[str, str](), None
    try:
        with writing(db) as session:
            day = day_typed(session, "--on", on, now().date(), ahead=True)  # a list may be for next month
            row = count_typed(session, "--heading-row", heading_row)
            named = named_columns(column or [])
            table = price_table(session, supplier, file, sheet=sheet, heading_row=row, columns=named)
            usable = usable_columns(table, named)
            read = read_price_list(
                session, supplier, table, on=day, columns={**named, **words},
                left_out=left_out if good_rows else None,
            )  # fmt: skip
            if not preview:
                store_price_list(session, read)
    except InputError as mistake:
        if mistake.faults and not preview and (usable or words):
            with writing(db) as session:
                typed = {**usable, **words}
                if kept := keep_words(session, supplier, typed, mistake.faults, table):
                    said = f"Only what you named is kept with the supplier: {', '.join(kept)}."
                    mistake.hint = " ".join(filter(None, (said, mistake.hint)))
        raise
    print_json(price_list_json(read, stored=not preview)) if as_json else print_price_list(
        read, stored=not preview
    )
    tell_left_out(left_out)


def _store_with_papers(change: "Callable[[Any], Any]", out: Path, as_json: bool, db: str | None) -> None:
    """Change an order and write its papers, both or neither, then show it."""
    from shopquote.files import bring_in, refuse_unless_all_free, set_aside
    from shopquote.outputs.tables.order_tables import write_all
    from shopquote.services.buying.order_documents import stored_order
    from shopquote.services.buying.orders_on_file import find_order
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, set_aside(out) as aside:
        with database.session() as session:
            number = change(session).number
            session.flush()
            written = write_all([stored_order(find_order(session, number))], aside)
            refuse_unless_all_free(written, out)
        _show_one(database, number, bring_in(written, out), as_json)


def _show_one(database: "Database", number: str, files: "Sequence[Path]", as_json: bool) -> None:
    """Show an order after a change, with its files and the jobs that now lack bar."""
    from shopquote.outputs.tables.order_tables import order_json, print_lacking, print_order
    from shopquote.services.buying.order_needs import lacking_for_order
    from shopquote.services.buying.orders_on_file import find_order
    from shopquote.services.shop.shop_on_file import shop_unit

    with database.reading() as session:
        order = find_order(session, number)
        lacking = () if order.kind == "ask" else lacking_for_order(session, order)
        if as_json:
            lacks = [{"bar": bar, "jobs": jobs} for bar, jobs in lacking]
            print_json({**order_json(order, files), "lacking": lacks})
        else:
            print_order(order, shop_unit(session), files)
            print_lacking(lacking)


def _prices_by_line(session: Any, order: str, words: list[str]) -> "dict[int, NamedPrice]":
    """Read `LINE=PRICE` or `LINE=PRICE/BASIS` words; without a basis the price is for one bar."""
    from shopquote.calc.buying.prices import read_basis
    from shopquote.reading.kinds import TEXT, money
    from shopquote.services.buying.orders_on_file import NamedPrice, order_notation

    notation = order_notation(session, order)
    # Read apart: the price by the shop's locale, its basis as a word.
    plain = _by_line([word.partition("/")[0] for word in words], "--price", money(), notation)
    named = [f"{word.partition('=')[0]}={word.partition('/')[2]}" for word in words]
    bases = _by_line(named, "--price", TEXT, notation)
    return {line: NamedPrice(price, read_basis(bases[line] or "bar")) for line, price in plain.items()}


def _by_line(words: list[str], option: str, kind: Any, notation: Any) -> dict[int, Any]:
    """Read `LINE=VALUE` words as values of one kind, by line number."""
    from shopquote.reading.kinds import count, read_typed

    values: dict[int, Any] = {}
    for word in words:
        line, equals, value = word.partition("=")
        if not equals:
            raise InputError(f"{option} {word!r}: expected LINE=VALUE, such as 1=12.50.")
        number = read_typed(f"{option} {word!r}: line", count(least=1), line, notation)
        values[number] = read_typed(f"{option} {word!r}", kind, value, notation)
    return values
