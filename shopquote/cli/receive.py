"""shopquote receive: bars arrive."""

from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

import typer

from shopquote.cli.options import DbOption, JsonOption, ReplaceOption, typed_day

OrderArgument = Annotated[
    str, typer.Argument(metavar="ORDER", help="Number of the order: O-0007, or only 7.")
]


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("receive")(receive)


def receive(
    order: OrderArgument,
    line: Annotated[
        int | None, typer.Option("--line", metavar="N", help="Only this line of the order came.")
    ] = None,
    count: Annotated[
        int | None, typer.Option("--count", metavar="N", help="How many bars of the line; all that is open.")
    ] = None,
    lengths: Annotated[
        str | None,
        typer.Option(
            "--lengths", metavar="LIST", help="As measured: '6100, 6150 x 3'. As ordered if left out."
        ),
    ] = None,
    heat: Annotated[str, typer.Option("--heat", metavar="HEAT", help="Heat number of what came.")] = "",
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="FILE", help="Its certificate; a copy is kept.")
    ] = None,
    charged: Annotated[
        str | None, typer.Option("--charged", metavar="MONEY", help="Really charged for one bar of the line.")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option("--from", metavar="SHEET", help="The filled-in goods-in sheet instead.")
    ] = None,
    blank: Annotated[
        Path | None, typer.Option("--blank", metavar="DIR", help="Only write a goods-in sheet to fill in.")
    ] = None,
    delivery: Annotated[
        str | None, typer.Option("--delivery", metavar="MONEY", help="Really charged for the delivery.")
    ] = None,
    note_number: Annotated[
        str, typer.Option("--delivery-note", metavar="TEXT", help="Number of the delivery note.")
    ] = "",
    place: Annotated[str, typer.Option("--place", metavar="TEXT", help="Where the bars lie now.")] = "",
    new_prices: Annotated[
        bool, typer.Option("--new-prices", help="Put changed prices on the supplier's list too.")
    ] = False,
    last: Annotated[
        bool, typer.Option("--last", help="Nothing more comes on this order; what is short is needed again.")
    ] = False,
    on: Annotated[
        datetime | None,
        typer.Option(
            "--on", parser=typed_day, metavar="DATE", help="Day that the bars came; today if left out."
        ),
    ] = None,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Bars arrive: all that is open, one line, or what a goods-in sheet says."""
    from shopquote.outputs.tables.rack_tables import print_received, received_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.buying.receive import receive_order
    from shopquote.services.buying.shelving import Delivery
    from shopquote.services.shop.clock import now
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.on_file import shop_unit

    at = on.replace(hour=12).astimezone() if on else now()
    with open_database(db) as database:
        if blank is not None:
            _write_goods_sheet(database, order, blank, as_json)
            return
        with database.session() as session:
            unit = shop_unit(session)
            arrivals = _arrivals(session, order, line, count, lengths, heat, certificate, charged, sheet)
            came = Delivery(note_number, place, _money(session, "--delivery", delivery), new_prices, last)
            received = receive_order(
                session, order, arrivals, came, certificates=database.certificates, at=at
            )
        print_json(received_json(received)) if as_json else print_received(received, unit)


def _arrivals(
    session: Any, order: str, line: int | None, count: int | None, lengths: str | None, heat: str,
    certificate: Path | None, charged: str | None, sheet: Path | None,
) -> list[Any]:  # fmt: skip
    """What came, from the sheet or from the options; the service tells all from some."""
    from shopquote.reading.table_files import read_table
    from shopquote.services.buying.arrivals import arrivals_of_line, lines_as_they_stand
    from shopquote.services.buying.goods_in import read_goods_sheet
    from shopquote.services.shop.on_file import shop_notation

    if sheet is not None:
        lines = lines_as_they_stand(session, order)
        return list(read_goods_sheet(read_table(sheet), shop_notation(session), lines))
    return arrivals_of_line(
        session, order, line, count=count, lengths=lengths, heat=heat, certificate=certificate,
        charged=_money(session, "--charged", charged),
    )  # fmt: skip


def _write_goods_sheet(database: Any, order: str, folder: Path, as_json: bool) -> None:
    from shopquote.outputs.books.book import safe_file_name
    from shopquote.outputs.books.goods_book import write_goods_sheet
    from shopquote.outputs.tables.show import print_files, print_json
    from shopquote.services.buying.arrivals import open_lines
    from shopquote.services.shop.on_file import the_shop

    with database.reading() as session:
        content = open_lines(session, order)
        path = folder / safe_file_name(f"Goods in {content['number']}")
        write_goods_sheet(content, path, paper=the_shop(session).paper)
    print_json({"files": [path]}) if as_json else print_files([path])


def _money(session: Any, option: str, text: str | None) -> Decimal | None:
    from shopquote.reading.kinds import money, read_typed
    from shopquote.services.shop.on_file import shop_notation

    return None if text is None else read_typed(option, money(), text, shop_notation(session))
