"""The group `shopquote rack` and the options that its commands share."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    pass


rack_app = typer.Typer(
    no_args_is_help=True, help="Bars and offcuts in the shop: what lies where, for which job, of which heat."
)
CodeArgument = Annotated[
    str, typer.Argument(metavar="PIECE", help="Code on the label: R-0007, typed or scanned.")
]
CodesArgument = Annotated[list[str], typer.Argument(metavar="PIECE...", help="Codes on the labels.")]
JobOption = Annotated[str, typer.Option("--job", metavar="JOB", help="The job: J-0007, or only 7.")]
PlaceOption = Annotated[
    str | None, typer.Option("--place", metavar="TEXT", help="Where it lies; as before if left out.")
]
BarFilter = Annotated[str | None, typer.Option("--bar", metavar="BAR", help="Only this bar: 'round 12'.")]
GradeFilter = Annotated[str | None, typer.Option("--grade", metavar="GRADE", help="Only this grade.")]
DateOption = Annotated[str | None, typer.Option("--on", metavar="DATE", help="The day; today if left out.")]
ReasonOption = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; kept with the piece.")]
