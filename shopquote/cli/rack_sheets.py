"""Sheets and files of the rack: counting, labels, tracing, import and export."""

from datetime import date
from pathlib import Path
from typing import Annotated

from shopquote.cli.options import (
    DbOption,
    GoodRowsOption,
    JsonOption,
    ReplaceOption,
    argument,
    option,
    print_json,
    reading,
    tell_left_out,
    writing,
)
from shopquote.cli.rack_options import DateOption, rack_app
from shopquote.errors import Fault
from shopquote.services.shop.clock import now


@rack_app.command("count")
def count(
    file: Annotated[
        Path | None, argument("FILE", "The filled-in sheet, .xlsx or .csv; without it, one is written.")
    ] = None,
    place: Annotated[
        str | None, option("--place", "TEXT", "Only what is at this place, for a sheet to count with.")
    ] = None,
    out: Annotated[Path, option("--out", "DIR", "Folder for the sheet.")] = Path(),
    on: DateOption = None,
    good_rows: GoodRowsOption = False,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Stocktake: write a count sheet, or enter what was counted."""
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import day_typed, shop_notation

    with open_database(db) as database:
        with database.reading() as session:
            day, notation = day_typed(session, "--on", on, now().date()), shop_notation(session)
        if file is None:
            _write_count_sheet(database, place, out, day, as_json)
            return
        from shopquote.outputs.tables.rack_tables import count_json, print_count
        from shopquote.reading.table_files import read_table
        from shopquote.services.rack.stocktake import enter_count

        left_out: list[Fault] = []
        with database.session() as session:
            result = enter_count(
                session, read_table(file), on=day, scope=place, left_out=left_out if good_rows else None
            )
    print_json(count_json(result)) if as_json else print_count(result, notation)
    tell_left_out(left_out)


def _write_count_sheet(database: object, place: str | None, out: Path, day: date, as_json: bool) -> None:
    from shopquote.files import bring_in, set_aside
    from shopquote.outputs.books.goods_book import write_count_sheet
    from shopquote.outputs.papers.count_paper import write_count_paper
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.rack.stocktake_forms import COUNT_COLUMNS, count_rows
    from shopquote.services.shop.database import Database
    from shopquote.services.shop.shop_on_file import the_shop

    assert isinstance(database, Database)
    with database.reading() as session:
        rows = count_rows(session, place)
        shop = the_shop(session)
    with set_aside(out) as aside:
        path = aside / f"Rack count {day.isoformat()}"
        written = [
            write_count_sheet(COUNT_COLUMNS, rows, path.with_suffix(".xlsx"), paper=shop.paper),
            write_count_paper(
                COUNT_COLUMNS, rows, path.with_suffix(".pdf"), day=day, place=place, shop=shop.name,
                paper=shop.paper,
            ),
        ]  # fmt: skip
        files = bring_in(written, out)
    print_json({"pieces": len(rows), "files": files}) if as_json else print_files(files)


@rack_app.command("labels")
def labels(
    pieces: Annotated[
        list[str] | None, argument("PIECE...", "Codes on the labels; default everything on the rack.")
    ] = None,
    order: Annotated[
        str | None, option("--order", "ORDER", "What was received on this order and is still on the rack.")
    ] = None,
    out: Annotated[Path, option("--out", "DIR", "Folder for the sheet.")] = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write labels with codes to scan."""
    from shopquote.files import bring_in, set_aside
    from shopquote.outputs.books.label_book import write_labels
    from shopquote.outputs.papers.label_paper import write_label_paper
    from shopquote.outputs.tables.rack_tables import labels_of
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.buying.arrivals import codes_of_order
    from shopquote.services.rack.rack_on_file import pieces_by_code
    from shopquote.services.shop.shop_on_file import shop_unit, the_shop

    with reading(db) as session:
        codes = [*(pieces or ()), *(codes_of_order(session, order) if order else ())]
        found = pieces_by_code(session, codes)
        shop = the_shop(session)
        made = labels_of(found, shop_unit(session), shop.page_address)
        about = {"paper": shop.paper, "author": shop.name}
    with set_aside(out) as aside:
        written = [
            write_labels(made, aside / "Rack labels.xlsx", **about),
            write_label_paper(made, aside / "Rack labels.pdf", **about),
        ]
        files = bring_in(written, out)
    print_json({"labels": len(made), "files": files}) if as_json else print_files(files)


@rack_app.command("trace")
def trace(
    job: Annotated[str | None, option("--job", "JOB", "From a job back to heat, order and supplier.")] = None,
    mark: Annotated[str | None, option("--mark", "MARK", "Only this part of the job.")] = None,
    heat: Annotated[str | None, option("--heat", "HEAT", "From a heat on to every job.")] = None,
    piece: Annotated[str | None, option("--piece", "PIECE", "A piece and all from the same bar.")] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Trace a job or piece to its supplier, or a heat to its jobs."""
    from shopquote.errors import InputError
    from shopquote.outputs.tables.rack_tables import print_trace, trace_json
    from shopquote.services.rack.trace import trace_heat, trace_job, trace_piece
    from shopquote.services.shop.shop_on_file import shop_notation

    if sum(word is not None for word in (job, heat, piece)) != 1:
        raise InputError("Say what to trace: one of --job, --heat or --piece.")
    with reading(db) as session:
        if job is not None:
            links = trace_job(session, job, mark)
        else:
            links = trace_heat(session, heat) if heat is not None else trace_piece(session, piece or "")
        print_json(trace_json(links)) if as_json else print_trace(links, shop_notation(session))


@rack_app.command("import")
def import_(
    file: Annotated[Path, argument("FILE", "Sheet of bars, .csv or .xlsx.")],
    on: DateOption = None,
    good_rows: GoodRowsOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Put the bars of a sheet on the rack, all of them or none."""
    from shopquote.outputs.tables.rack_tables import pieces_json, print_pieces
    from shopquote.reading.table_files import read_table
    from shopquote.services.rack.stocktake import import_rack
    from shopquote.services.shop.shop_on_file import day_typed, shop_notation

    with writing(db) as session:
        day = day_typed(session, "--on", on, now().date())
        left_out: list[Fault] = []
        pieces = import_rack(session, read_table(file), on=day, left_out=left_out if good_rows else None)
        notation = shop_notation(session)
    print_json(pieces_json(pieces)) if as_json else print_pieces(pieces, notation)
    tell_left_out(left_out)


@rack_app.command("export")
def export(
    file: Annotated[Path, argument("FILE", "Ends in .csv or .xlsx.")],
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write everything on the rack to a file."""
    from shopquote.outputs.books.list_files import write_table
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.rack.stocktake_forms import RACK_COLUMNS, rack_rows

    with reading(db) as session:
        rows = rack_rows(session)
    path = write_table(file, "Rack", RACK_COLUMNS, rows)
    print_json({"pieces": len(rows), "files": [path]}) if as_json else print_files([path])
