"""shopquote shape: read a line of a drawing as words of a shape."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import JsonOption, argument, flag, option, print_json


class Dims(StrEnum):
    """How the legs are measured."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    CENTRE = "centre"
    TANGENT = "tangent"


class DrawnAlong(StrEnum):
    """Where on the bar the drawn line lies, seen from its start."""

    CENTRE = "centre"
    LEFT = "left"
    RIGHT = "right"


class ShownUnit(StrEnum):
    """The unit of bare numbers."""

    MM = "mm"
    IN = "in"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("shape")(shape)


def shape(
    drawing: Annotated[Path, argument("DRAWING", "A DXF drawing of the bar's line.")],
    bar: Annotated[str, option("--bar", "SECTION", "The bar, such as 'round 12'.")],
    layer: Annotated[str | None, option("--layer", "L", "Layer that the line is on.")] = None,
    dims: Annotated[Dims, flag("--dims", "How legs are measured.")] = Dims.OUTSIDE,
    line: Annotated[
        DrawnAlong, flag("--line", "What the line is: the bar's centre, or its left or right face.")
    ] = DrawnAlong.CENTRE,
    units: Annotated[ShownUnit, flag("--units", "Unit of bare numbers.")] = ShownUnit.MM,
    gap: Annotated[
        str | None, option("--gap", "G", "Largest gap at which two ends still count as joined.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Read a bar's line from a drawing and print it as words of a shape."""
    from shopquote.services.jobs.drawn import part_of_drawing

    part = part_of_drawing(
        drawing, bar, units=units.value, layer=layer, dims=dims.value, drawn=line.value, gap=gap
    )
    if as_json:
        holes = [
            {"dia": hole.dia, "leg": hole.leg, "at": list(hole.at), "across": hole.across, "face": hole.face}
            for hole in part.holes
        ]
        facts = {"bar": bar, "dims": dims.value, "units": units.value, "shape": part.shape}
        print_json(
            {**facts, "holes": holes, "circles_left": part.circles_left, "printed_left": part.printed_left}
        )
        return
    typer.echo(f'shape = "{part.shape}"')
    if part.holes:
        typer.echo(f"holes = [{', '.join(map(str, part.holes))}]")
    if part.printed_left:
        told = (
            "The words printed on the drawing do not give its line with this bar, so the line itself was read"
        )
        typer.echo(f"# {told}", err=True)
    if part.circles_left:
        typer.echo(
            f"# {part.circles_left} circles are not on a straight leg of the bar and are left out", err=True
        )
