"""`shopquote deliver`: the note that goes with the goods."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, option, print_json
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("deliver")(deliver)


def deliver(
    job: Annotated[str, typer.Argument(metavar="JOB", help="Number of a job, such as J-0001.")],
    sets: Annotated[
        str | None, option("--sets", "N", "Sets in this delivery; default all that is left.")
    ] = None,
    pieces: Annotated[
        list[str] | None,
        option("--pieces", "MARK=N", "Pieces of a mark or bought item instead of sets; repeatable."),
    ] = None,
    again: Annotated[
        str | None, option("--note", "N", "Print note N of this job again; no new delivery is recorded.")
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="Another day than today.")] = None,
    pack: Annotated[
        bool,
        typer.Option(
            "--pack", help="One PDF besides, with the note, the heats of its parts and their certificates."
        ),
    ] = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Record a delivery and write its note: marks, counts, masses and what is left, without prices.

    To take a wrong one back: shopquote log JOB --strike N.
    """
    from shopquote.errors import InputError
    from shopquote.files import bring_in, refuse_unless_all_free, set_aside
    from shopquote.outputs.papers.delivery_paper import lacking, write_delivery_note
    from shopquote.outputs.tables.delivery_tables import delivery_json, delivery_table
    from shopquote.outputs.tables.show import print_files, print_table
    from shopquote.services.floor.delivery_note import (
        delivery_note,
        note_again,
        pieces_typed,
        record_delivery,
    )
    from shopquote.services.floor.document_pack import document_pack
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import count_typed, day_typed

    if sum(given not in (None, []) for given in (sets, pieces, again)) > 1:
        raise InputError("Give one of --sets, --pieces and --note.")
    # The delivery and its note are stored together or not at all, even if the run is killed midway.
    with open_database(db) as database, set_aside(out) as aside:
        with database.session() if again is None else database.reading() as session:
            if (which := count_typed(session, "--note", again)) is not None:
                note = note_again(session, job, which)
            else:
                day = day_typed(session, "--on", on, now().date())
                whole, some = count_typed(session, "--sets", sets), pieces_typed(session, pieces or ())
                note = delivery_note(session, job, day, whole, some)
                record_delivery(session, note)
            documents = document_pack(session, note.job, database.certificates) if pack else None
            missing = lacking(note, documents) if documents else []
            written = write_delivery_note(note, aside, documents)
            refuse_unless_all_free(written, out)
        files = bring_in(written, out)
    if as_json:
        print_json(delivery_json(note, files, missing))
        return
    print_table(delivery_table(note))
    for told in missing:
        print(f"Note: {told}")
    print_files(files)
