"""shopquote draw: a dimensioned drawing of each part."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import (
    DbOption,
    JsonOption,
    OutOption,
    ReplaceOption,
    argument,
    flag,
    option,
    print_json,
)


class DrawnAs(StrEnum):
    """Kinds of file that a drawing is written as."""

    PDF = "pdf"
    SVG = "svg"
    PNG = "png"
    DXF = "dxf"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("draw")(draw)


def draw(
    what: Annotated[str, argument("FILE|JOB", "A job file, a job workbook, or a job's number.")],
    mark: Annotated[str | None, option("--mark", "MARK", "Only the part with this mark.")] = None,
    drawn_as: Annotated[
        DrawnAs,
        flag(
            "--as",
            "pdf: a sheet for each part; svg, png: the drawing; dxf: part and straight bar at full size.",
        ),
    ] = DrawnAs.PDF,
    full_size: Annotated[
        bool, flag("--full-size", "At 1:1 as a PDF, over as many sheets as it takes.")
    ] = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Draw each part: finished with dimensions, straight with its marks, bend by bend, or at full size."""
    from shopquote.outputs.drawings.write import write_drawings
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.jobs.drawn import find_parts

    found = find_parts(what, mark=mark, database=db)
    files = write_drawings(found, out, drawn_as.value, full_size=full_size)
    if as_json:
        print_json({"files": files})
    else:
        print_files(files)
