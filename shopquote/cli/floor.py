"""shopquote floor: the sheets that the shop works from."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import (
    DbOption,
    JsonOption,
    OutOption,
    ReplaceOption,
    SecondsOption,
    print_json,
    reading,
)
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("floor")(floor)


def floor(
    job: Annotated[str, typer.Argument(metavar="JOB", help="Number of a job, such as J-0001.")],
    labels: Annotated[
        bool, typer.Option("--labels", help="Also write labels for its pieces, for ready-cut label sheets.")
    ] = False,
    out: OutOption = Path(),
    seconds: SecondsOption = None,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write a job's traveller with drawings, and a workbook with lists and tabs to fill in."""
    from shopquote.files import bring_in, set_aside
    from shopquote.outputs.books.floor_book import write_floor_book
    from shopquote.outputs.papers.label_paper import write_piece_labels
    from shopquote.outputs.papers.traveller import write_traveller
    from shopquote.outputs.tables.floor_tables import floor_json
    from shopquote.outputs.tables.show import print_files
    from shopquote.reading.kinds import SECONDS
    from shopquote.services.floor.floor import floor_sheet
    from shopquote.services.jobs.job_states import not_won_words
    from shopquote.services.jobs.jobs import find_job
    from shopquote.services.shop.shop_on_file import value_typed

    with reading(db) as session:
        limit = value_typed(session, "--seconds", SECONDS, seconds)
        sheet = floor_sheet(session, job, at=now(), seconds=limit)
        mind = not_won_words(find_job(session, job))
    with set_aside(out) as aside:
        writers = [write_floor_book, write_traveller, *([write_piece_labels] if labels else [])]
        files = bring_in([write(sheet, aside) for write in writers], out)
    if as_json:
        print_json({**floor_json(sheet), "files": files})
        return
    if mind:
        typer.echo(f"Note: {mind}")
    print_files(files)
