"""`shopquote deliver`: the note that goes with the goods."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, print_json
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("deliver")(deliver)


def deliver(
    job: Annotated[str, typer.Argument(metavar="JOB", help="Number of a job, such as J-0001.")],
    sets: Annotated[str | None, typer.Option(metavar="N", help="Sets in this delivery; else all.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="Another day than today.")] = None,
    pack: Annotated[
        bool, typer.Option("--pack", help="One PDF too: note, heats of its parts, their certificates.")
    ] = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write the delivery note of a job, marks, counts and masses without prices, as PDF and text."""
    from shopquote.outputs.papers.delivery_paper import write_delivery_note
    from shopquote.outputs.tables.delivery_tables import delivery_json, delivery_table
    from shopquote.outputs.tables.show import print_files, print_table
    from shopquote.services.floor.delivery_note import delivery_note
    from shopquote.services.floor.document_pack import document_pack
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.on_file import count_typed, day_typed

    with open_database(db) as database, database.reading() as session:
        day = day_typed(session, "--on", on, now().date())
        note = delivery_note(session, job, day, count_typed(session, "--sets", sets))
        documents = document_pack(session, note.job, database.certificates) if pack else None
    files = write_delivery_note(note, out, documents)
    if as_json:
        print_json(delivery_json(note, files))
        return
    print_table(delivery_table(note))
    print_files(files)
