"""shopquote receive: bars arrive."""

from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shopquote.cli.options import (
    DbOption,
    GoodRowsOption,
    JsonOption,
    ReplaceOption,
    argument,
    flag,
    option,
    print_json,
    tell_left_out,
)
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.errors import Fault

NOON = time(12)  # time of a delivery entered for another day, which nobody typed

OrderArgument = Annotated[str, argument("ORDER", "Number of the order: O-0007, or only 7.")]


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("receive")(receive)


def receive(
    order: OrderArgument,
    line: Annotated[str | None, option("--line", "N", "Only this line of the order.")] = None,
    count: Annotated[
        str | None, option("--count", "N", "Number of bars of the line; default all that are open.")
    ] = None,
    lengths: Annotated[
        str | None, option("--lengths", "LIST", "Measured lengths: '6100, 6150 x 3'; default as ordered.")
    ] = None,
    heat: Annotated[str, option("--heat", "HEAT", "Heat number of the bars.")] = "",
    certificate: Annotated[
        Path | None, option("--certificate", "FILE", "Mill certificate of the bars; a copy is kept.")
    ] = None,
    charged: Annotated[
        str | None, option("--charged", "MONEY", "Price really charged for one bar of the line.")
    ] = None,
    sheet: Annotated[
        Path | None, option("--from", "SHEET", "Read a filled-in goods-in sheet instead.")
    ] = None,
    blank: Annotated[
        Path | None, option("--blank", "DIR", "Only write a goods-in sheet to fill in, into DIR.")
    ] = None,
    delivery: Annotated[
        str | None, option("--delivery", "MONEY", "Amount really charged for the delivery.")
    ] = None,
    note_number: Annotated[str, option("--delivery-note", "TEXT", "Number of the delivery note.")] = "",
    place: Annotated[str, option("--place", "TEXT", "Where the bars are now.")] = "",
    new_prices: Annotated[
        bool, flag("--new-prices", "Also put changed prices on the supplier's list.")
    ] = False,
    last: Annotated[
        bool, flag("--last", "Nothing more will come on this order; jobs need what is missing again.")
    ] = False,
    on: Annotated[
        str | None, option("--on", "DATE", "Day that the bars were received; today if left out.")
    ] = None,
    strike: Annotated[
        str | None,
        option("--strike", "N", "Take back delivery N of the order, with --reason; it stays readable."),
    ] = None,
    reason: Annotated[str, option("--reason", "TEXT", "Why the delivery is taken back.")] = "",
    sure: Annotated[
        bool, flag("--sure", "Confirm more bars than are open, or lengths far from what was ordered.")
    ] = False,
    good_rows: GoodRowsOption = False,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Record bars that arrived: all that is open, one line, or what a goods-in sheet says."""
    from shopquote.outputs.tables.rack_tables import print_received, received_json
    from shopquote.reading.kinds import DAY, money
    from shopquote.services.buying.orders_on_file import order_notation
    from shopquote.services.buying.receive import receive_order
    from shopquote.services.buying.shelving import Delivery
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import refuse_ahead, shop_notation, value_typed

    with open_database(db) as database:
        if strike is not None:
            _strike(database, order, strike, reason, as_json)
            return
        if blank is not None:
            _write_goods_sheet(database, order, blank, as_json)
            return
        with database.session() as session:
            notation = shop_notation(session)
            day = value_typed(session, "--on", DAY, on)
            if day is not None:
                refuse_ahead(day, now().date())
            at = datetime.combine(day, NOON).astimezone() if day else now()
            left_out: list[Fault] | None = [] if good_rows else None
            arrivals = (
                _arrivals(session, order, line, count, lengths, heat, certificate, charged)
                if sheet is None
                else _arrivals_of_sheet(session, order, sheet, left_out)
            )
            paid = value_typed(session, "--delivery", money(), delivery, order_notation(session, order))
            came = Delivery(note_number, place, paid, new_prices, last)
            received = receive_order(
                session, order, arrivals, came, certificates=database.certificates, at=at, sure=sure
            )
        print_json(received_json(received)) if as_json else print_received(received, notation)
        tell_left_out(left_out or ())


def _strike(database: Any, order: str, which: str, reason: str, as_json: bool) -> None:
    from dataclasses import asdict

    from shopquote.services.buying.receipt_strike import strike_receipt
    from shopquote.services.shop.shop_on_file import count_typed

    with database.session() as session:
        number = count_typed(session, "--strike", which) or 0
        struck = strike_receipt(session, order, number, reason, at=now())
    if as_json:
        print_json(asdict(struck))
        return
    gone = f"; no longer on the rack: {', '.join(struck.codes)}" if struck.codes else ""
    typer.echo(f"{struck.order}: taken back: {struck.what}{gone}.")
    typer.echo(f"The order is {struck.state} again.")


def _arrivals(
    session: Any, order: str, line: str | None, count: str | None, lengths: str | None, heat: str,
    certificate: Path | None, charged: str | None,
) -> list[Any]:  # fmt: skip
    """What arrived, from the options. With none of them everything open did; the service fills that in."""
    from shopquote.reading.kinds import money
    from shopquote.services.buying.arrivals import arrivals_of_line
    from shopquote.services.buying.orders_on_file import order_notation
    from shopquote.services.shop.shop_on_file import count_typed, value_typed

    return arrivals_of_line(
        session, order, count_typed(session, "--line", line), count=count_typed(session, "--count", count),
        lengths=lengths, heat=heat, certificate=certificate,
        charged=value_typed(session, "--charged", money(), charged, order_notation(session, order)),
    )  # fmt: skip


def _arrivals_of_sheet(session: Any, order: str, sheet: Path, left_out: "list[Fault] | None") -> list[Any]:
    """What a filled-in goods-in sheet says. With a list `left_out`, faulty rows go there; else they raise."""
    from shopquote.reading.table_files import read_table
    from shopquote.services.buying.arrivals import lines_as_they_stand
    from shopquote.services.buying.goods_in import read_goods_sheet
    from shopquote.services.buying.orders_on_file import order_notation

    lines = lines_as_they_stand(session, order)
    return list(read_goods_sheet(read_table(sheet), order_notation(session, order), lines, left_out))


def _write_goods_sheet(database: Any, order: str, folder: Path, as_json: bool) -> None:
    from shopquote.outputs.books.book import safe_file_name
    from shopquote.outputs.books.goods_book import write_goods_sheet
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.buying.arrivals import open_lines
    from shopquote.services.shop.shop_on_file import the_shop

    with database.reading() as session:
        content = open_lines(session, order)
        path = folder / safe_file_name(f"Goods in {content['number']}")
        write_goods_sheet(content, path, paper=the_shop(session).paper)
    print_json({"files": [path]}) if as_json else print_files([path])
