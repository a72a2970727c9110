"""`shopquote rack`: bars and offcuts in the shop."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, argument, option, print_json, reading, writing
from shopquote.cli.rack_options import (
    BarFilter,
    CodeArgument,
    CodesArgument,
    DateOption,
    GradeFilter,
    JobOption,
    PlaceOption,
    ReasonOption,
    rack_app,
)
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.services.shop.database import Database


def register(app: typer.Typer) -> None:
    """Add the group to the root."""
    import shopquote.cli.rack_sheets  # noqa: F401  its commands join the group as it is imported

    app.add_typer(rack_app, name="rack")


@rack_app.command("list")
def list_(
    bar: BarFilter = None,
    grade: GradeFilter = None,
    job: Annotated[str | None, option("--job", "JOB", "Only pieces promised to this job.")] = None,
    heat: Annotated[str | None, option("--heat", "HEAT", "Only this heat.")] = None,
    state: Annotated[
        list[str] | None, option("--state", "STATE", "free, promised, used or scrapped; repeatable.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List the bars and offcuts on the rack."""
    from shopquote.outputs.tables.rack_tables import pieces_json, print_pieces
    from shopquote.reading.kinds import SECTION
    from shopquote.services.rack.rack_on_file import LIVE, list_pieces, read_state
    from shopquote.services.shop.shop_on_file import shop_notation, value_typed

    states = [read_state(word) for word in state] if state else LIVE
    with reading(db) as session:
        notation = shop_notation(session)
        section = value_typed(session, "--bar", SECTION, bar)
        key = None if section is None else section.key
        pieces = list_pieces(session, states=states, section_key=key, grade=grade, job_number=job, heat=heat)
        print_json(pieces_json(pieces)) if as_json else print_pieces(pieces, notation)


@rack_app.command("add")
def add(
    bar: Annotated[str, argument("BAR", "The bar, such as 'round 12'.")],
    grade: Annotated[str, argument("GRADE", "The grade, such as S275.")],
    length: Annotated[str, argument("LENGTH", "Its length, such as '1450' or '4 ft'.")],
    count: Annotated[str, option("--count", "N", "How many such pieces.")] = "1",
    heat: Annotated[str, option("--heat", "HEAT", "Heat number, if known.")] = "",
    place: Annotated[str, option("--place", "TEXT", "Where it is.")] = "",
    cost: Annotated[str, option("--cost", "MONEY", "What one piece cost.")] = "0",
    note: Annotated[str, option("--note", "TEXT", "A note.")] = "",
    on: DateOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Put bars on the rack that were already in the shop."""
    from shopquote.outputs.tables.rack_tables import pieces_json, print_pieces
    from shopquote.reading import kinds
    from shopquote.services.rack.rack import add_pieces
    from shopquote.services.shop.shop_on_file import day_typed, grade_on_file, shop_notation

    with writing(db) as session:
        notation = shop_notation(session)
        section = kinds.read_typed("Bar", kinds.SECTION, bar, notation)
        pieces = add_pieces(
            session, section, section.text, grade_on_file(session, grade).name,
            kinds.read_typed("Length", kinds.MEASURE, length, notation),
            count=kinds.read_typed("--count", kinds.count(least=1), count, notation), heat=heat, place=place,
            cost=kinds.read_typed("--cost", kinds.money(), cost, notation),
            note=note, on=day_typed(session, "--on", on, now().date()),
        )  # fmt: skip
    print_json(pieces_json(pieces)) if as_json else print_pieces(pieces, notation)


@rack_app.command("use")
def use(
    piece: CodeArgument,
    job: JobOption,
    back: Annotated[
        list[str] | None, option("--back", "LENGTH", "An offcut that goes back on the rack; repeatable.")
    ] = None,
    place: PlaceOption = None,
    kind: Annotated[str, option("--kind", "KIND", "work, rework or scrap: why it was cut.")] = "work",
    reason: ReasonOption = "",
    on: DateOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Record that a piece was cut for a job; --back LENGTH puts what is left on the rack."""
    from shopquote.outputs.tables.rack_tables import print_used, used_json
    from shopquote.reading.kinds import MEASURE, read_typed
    from shopquote.services.floor.log import open_for_log
    from shopquote.services.rack.rack_uses import use_bar
    from shopquote.services.shop.shop_on_file import day_typed, shop_notation

    with writing(db) as session:
        notation = shop_notation(session)
        day = day_typed(session, "--on", on, now().date())
        found, note = open_for_log(session, job, now())
        used = use_bar(
            session, piece, found.number,
            returned=[read_typed("--back", MEASURE, text, notation) for text in back or ()],
            used_on=day, kind=kind, reason=reason, place=place,
        )  # fmt: skip
    if as_json:
        print_json(used_json(used))
        return
    print_used(used, notation)
    if note:
        typer.echo(note)


@rack_app.command("scan")
def scan(
    file: Annotated[
        Path | None, argument("FILE", "File of lines that a scanner stored; without it, scan them here.")
    ] = None,
    job: Annotated[
        str, option("--job", "JOB", "The job for free pieces, until a job's code is scanned.")
    ] = "",
    place: Annotated[
        str | None, option("--place", "TEXT", "Where offcuts are; default where their bar was.")
    ] = None,
    on: DateOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Enter what was sawn by scanning: a piece's code, then each length that is left of it.

    Scan a job's code on its saw list to say which job free pieces are for. A file is entered as a whole or
    not at all; typed or scanned here, each piece is entered when the next code or a blank line follows.
    """
    import sys

    from shopquote.outputs.tables.rack_tables import print_scanned, scanned_json
    from shopquote.services.floor.scans import scan_lines
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import day_typed

    at = now()
    with open_database(db) as database:
        with database.reading() as session:
            day = day_typed(session, "--on", on, at.date())
        # Scanned at a terminal, each piece is stored at once: a flat battery then loses one at most.
        if file is None and sys.stdin.isatty() and not as_json:
            _scan_here(database, job, place, day)
            return
        if file is not None:
            from shopquote.reading.table_files import read_text

            lines, name = read_text(file).splitlines(), file.name
        else:
            lines, name = sys.stdin.read().splitlines(), "scans"
        with database.session() as session:
            sawn = scan_lines(session, lines, job=job, on=day, at=at, place=place, name=name)
    print_json(scanned_json(sawn)) if as_json else print_scanned(sawn)


def _scan_here(database: "Database", job: str, place: str | None, day: date) -> None:
    """Enter each piece by itself; after a mistake the next piece can be scanned."""
    import sys

    from shopquote.errors import InputError
    from shopquote.outputs.tables.rack_tables import print_scanned
    from shopquote.services.floor.scans import one_by_one, scan_lines

    print("Scan a piece, then type each length that is left. A blank line ends.", flush=True)
    for lines in one_by_one(sys.stdin):
        try:
            with database.session() as session:
                sawn = scan_lines(session, lines, job=job, on=day, at=now(), place=place)
        except InputError as error:
            told = [fault.message or str(fault) for fault in error.faults] or [error.message]
            print("Not entered:", "; ".join(told), flush=True)
        else:
            print_scanned(sawn)


@rack_app.command("return")
def return_(
    piece: CodeArgument,
    length: Annotated[str, argument("LENGTH", "Length of the offcut.")],
    place: PlaceOption = None,
    on: DateOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Put an offcut of a piece that was cut earlier back on the rack."""
    from shopquote.outputs.tables.rack_tables import print_codes
    from shopquote.reading.kinds import MEASURE, read_typed
    from shopquote.services.rack.rack_uses import return_offcut
    from shopquote.services.shop.shop_on_file import day_typed, shop_notation

    with writing(db) as session:
        measure = read_typed("Length", MEASURE, length, shop_notation(session))
        day = day_typed(session, "--on", on, now().date())
        code = return_offcut(session, piece, measure, place=place, on=day)
    print_json({"piece": code}) if as_json else print_codes([code], "Back on the rack")


@rack_app.command("scrap")
def scrap(
    pieces: CodesArgument, reason: ReasonOption = "", as_json: JsonOption = False, db: DbOption = None
) -> None:
    """Scrap free pieces: all that are named, or none."""
    from shopquote.outputs.tables.rack_tables import print_codes
    from shopquote.services.rack.rack import scrap_piece

    with writing(db) as session:
        codes = [scrap_piece(session, code, reason).code for code in pieces]
    print_json({"scrapped": codes}) if as_json else print_codes(codes, "Scrapped")


@rack_app.command("spare")
def spare(
    before: Annotated[
        str | None, option("--before", "DATE", "Only on the rack since before this day.")
    ] = None,
    shorter: Annotated[
        str | None,
        option("--shorter", "LENGTH", "Only shorter than this; default the length that the saw keeps."),
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List old or short free pieces that could be scrapped; changes nothing."""
    from shopquote.errors import InputError
    from shopquote.outputs.tables.rack_tables import pieces_json, print_pieces
    from shopquote.reading.kinds import DAY, length
    from shopquote.services.rack.rack_on_file import scrap_offers
    from shopquote.services.shop.shop_on_file import saw_settings, shop_notation, value_typed

    with reading(db) as session:
        day = value_typed(session, "--before", DAY, before)
        limit = value_typed(session, "--shorter", length(), shorter)
        # The saw's shortest offcut to keep is the shop's own definition of too short.
        if day is None and limit is None:
            limit = saw_settings(session).keep_min
        if day is None and limit is None:
            raise InputError("Nothing says what is too old or too short.", hint="Use --before or --shorter.")
        pieces = scrap_offers(session, made_before=day, shorter_than=limit)
        print_json(pieces_json(pieces)) if as_json else print_pieces(pieces, shop_notation(session))


@rack_app.command("promise")
def promise(pieces: CodesArgument, job: JobOption, as_json: JsonOption = False, db: DbOption = None) -> None:
    """Promise free pieces to a job: all that are named, or none."""
    from shopquote.outputs.tables.rack_tables import pieces_json, print_codes
    from shopquote.services.rack.rack import promise_pieces

    with writing(db) as session:
        promised = promise_pieces(session, pieces, job)
        if as_json:
            print_json(pieces_json(promised))
    if not as_json:
        print_codes([piece.code for piece in promised], "Promised")


@rack_app.command("release")
def release(
    pieces: Annotated[list[str] | None, argument("PIECE...", "Codes on the labels.")] = None,
    job: Annotated[
        str | None, option("--job", "JOB", "All that is promised to JOB; with pieces, check that they are.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Release promised pieces for other jobs."""
    from shopquote.errors import InputError
    from shopquote.outputs.tables.rack_tables import print_released, released_json
    from shopquote.services.rack.rack import release_promises

    if not pieces and job is None:
        raise InputError("Nothing is named.", hint="Name pieces, or a job with --job.")
    with writing(db) as session:
        released = release_promises(session, job, pieces or ())
    print_json(released_json(released)) if as_json else print_released(released)


@rack_app.command("move")
def move(
    pieces: CodesArgument,
    place: Annotated[str, option("--place", "TEXT", "Where they are now.")],
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Move pieces to another place."""
    from shopquote.outputs.tables.rack_tables import print_codes
    from shopquote.services.rack.rack import move_piece

    with writing(db) as session:
        codes = [move_piece(session, code, place).code for code in pieces]
    print_json({"moved": codes, "place": place}) if as_json else print_codes(codes, f"Now at {place}")


@rack_app.command("heat")
def heat(
    pieces: CodesArgument,
    number: Annotated[str, option("--heat", "HEAT", "The right heat number.")],
    reason: ReasonOption = "",
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Correct the heat number of bars and of everything cut from them; the old number is kept beside it."""
    from shopquote.outputs.tables.rack_tables import print_codes
    from shopquote.services.rack.heats import certificates_of, mend_heats

    with writing(db) as session:
        mended = mend_heats(session, pieces, number, reason)
        codes, heat, papers = [piece.code for piece in mended], mended[0].heat, certificates_of(mended)
    if as_json:
        print_json({"pieces": codes, "heat": heat, "certificates": papers})
        return
    print_codes(codes, f"Heat {heat or 'not known'}")
    if papers:
        typer.echo(f"Check that the certificate names that heat: {', '.join(papers)}.")


@rack_app.command("certificate")
def certificate(
    pieces: CodesArgument,
    file: Annotated[Path, option("--file", "FILE", "The certificate; a copy is kept.")],
    kind: Annotated[
        str, option("--kind", "TYPE", "2.1, 2.2, 3.1 or 3.2; default what the order asked for.")
    ] = "",
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Add a certificate that came after its bars, for all bars of that heat in their delivery."""
    from shopquote.outputs.tables.rack_tables import print_codes
    from shopquote.services.rack.heats import certify_bars
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.session() as session:
        certified = certify_bars(session, pieces, file, database.certificates, kind=kind, at=now())
        codes = [piece.code for piece in certified]
    if as_json:
        print_json({"pieces": codes, "certificate": file.name})
        return
    print_codes(codes, f"Certificate {file.name}")


@rack_app.command("value")
def value(as_json: JsonOption = False, db: DbOption = None) -> None:
    """Show what the rack is worth at cost, by bar and grade."""
    from shopquote.outputs.tables.rack_tables import print_value, value_json
    from shopquote.services.rack.rack_on_file import rack_value
    from shopquote.services.shop.shop_on_file import shop_notation

    with reading(db) as session:
        values, notation = rack_value(session), shop_notation(session)
    print_json(value_json(values, notation)) if as_json else print_value(values, notation)
