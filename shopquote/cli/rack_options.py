"""The group `shopquote rack` and the options that its commands share."""

from typing import Annotated

import typer

from shopquote.cli.options import argument, option

rack_app = typer.Typer(
    no_args_is_help=True, help="Bars and offcuts in the shop: what is where, for which job, of which heat."
)
CodeArgument = Annotated[str, argument("PIECE", "Code on the label: R-0007, typed or scanned.")]
CodesArgument = Annotated[list[str], argument("PIECE...", "Codes on the labels.")]
JobOption = Annotated[str, option("--job", "JOB", "The job: J-0007, or only 7.")]
PlaceOption = Annotated[str | None, option("--place", "TEXT", "Where it is; default where it was.")]
BarFilter = Annotated[str | None, option("--bar", "BAR", "Only this bar: 'round 12'.")]
GradeFilter = Annotated[str | None, option("--grade", "GRADE", "Only this grade.")]
DateOption = Annotated[str | None, option("--on", "DATE", "The day; default today.")]
ReasonOption = Annotated[str, option("--reason", "TEXT", "Why; kept with the piece.")]
