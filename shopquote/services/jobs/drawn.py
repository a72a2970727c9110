"""Parts of a job file or a stored job, worked out for drawing; and the way back, from a DXF to a shape.

Begin at `find_parts` and `part_of_drawing`. Reads files and the database; stores nothing.
"""

from pathlib import Path
from typing import Any

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.drawing.chain import GAP_MM, DrawnLine, words_of
from shopquote.calc.drawing.drawn_holes import LikeHoles, holes_of, rings_at_ends
from shopquote.calc.drawing.model import Projection
from shopquote.calc.drawing.printed import gives_line, read_printed
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import Dims, JobSpec, PartSpec
from shopquote.calc.units import Unit
from shopquote.reading.dxf_lines import CENTRE_LAYER, read_dxf
from shopquote.reading.kinds import SECTION, Notation, length, read_typed
from shopquote.services.jobs.part import work_out, work_out_file

# On US Letter views stand in third angle (ASME Y14.3), elsewhere in first (ISO 5456-2).
PROJECTION_OF: dict[str, Projection] = {"A4": "first angle", "Letter": "third angle"}


@dataclass(frozen=True, slots=True)
class PartsToDraw:
    """A job's parts with their answers; `number` and `shop_name` are empty for a job file."""

    job: JobSpec
    parts: tuple[tuple[PartSpec, PartAnswer], ...]
    number: str = ""
    shop_name: str = ""
    paper: str = "A4"

    @property
    def projection(self) -> Projection:
        """Arrangement of the views of a part that bends in more than one plane."""
        return PROJECTION_OF[self.paper]


def find_parts(what: str, *, mark: str | None = None, database: str | None = None) -> PartsToDraw:
    """Parts of the file `what`, if it exists or ends like a job file, else of the job with that number.

    Raises:
        InputError: the file has mistakes. NotFoundError: no such job or mark.
        CannotMakeError: lists every part that cannot be made. DatabaseError: it cannot be used.
    """
    path = Path(what)
    if path.suffix.lower() in (".toml", ".xlsx") or path.exists():
        found = work_out_file(path, mark=mark, database=database)
        return PartsToDraw(found.job, found.parts)
    from shopquote.services.jobs.jobs import load_job
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import bending_shop, the_shop

    with open_database(database) as opened, opened.reading() as session:
        loaded = load_job(session, what)
        shop = the_shop(session)
        parts = work_out(loaded.spec, bending_shop(session, loaded.job.number), mark=mark)
        return PartsToDraw(loaded.spec, parts, loaded.job.number, shop.name, shop.paper)


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """What a DXF says of a part: words of its shape, its holes, and the number of circles that lie on no leg.

    `printed_left`: the drawing has words of a shape printed on it, but they do not give its line, so that the
    line was read instead.
    """

    shape: str
    holes: tuple[LikeHoles, ...] = ()
    circles_left: int = 0
    printed_left: bool = False


def shape_of_drawing(path: Path, bar: str, **how: Any) -> str:
    """The words of the shape alone; options and errors as of `part_of_drawing`."""
    return part_of_drawing(path, bar, **how).shape


def part_of_drawing(
    path: Path,
    bar: str,
    *,
    units: Unit = "mm",
    layer: str | None = None,
    dims: Dims = "outside",
    drawn: DrawnLine = "centre",
    gap: str | None = None,
) -> DrawnPart:
    """Words of the shape that a DXF's line describes; a circle alone or at an end is a ring, others are
    holes.

    Our own drawings print the words on the sheet: those are used if they have these units and dims and give
    the drawn line, because they hold what was typed, without rounding.

    Args:
        path: the DXF.
        bar: the section as typed.
        units: unit of the words.
        layer: layer of the line; None: the one that has it.
        dims: how the words measure legs.
        drawn: which line of the bar is drawn, its centre line or a face.
        gap: largest gap that joins two ends, as typed; None: `GAP_MM`.

    Raises:
        InputError: the drawing, the bar or the gap cannot be read.
        CannotMakeError: the line is no single open chain; tells where.
    """
    notation = Notation(units)
    section = read_typed("--bar", SECTION, bar, notation)
    gap_mm = GAP_MM if gap is None else read_typed("--gap", length(above=True), gap, notation).mm_float
    lines = read_dxf(path, units, layer=layer)
    circles = [(circle.centre, circle.diameter) for circle in lines.circles]
    printed = read_printed(lines.notes)
    asked = drawn == "centre" and lines.layer.casefold() == CENTRE_LAYER
    printed_left = False
    if asked and printed and (printed.dims, printed.unit, printed.axis) == (dims, units, "easy"):
        if gives_line(printed, section, lines.pieces, circles):
            return DrawnPart(printed.shape)
        printed_left = True
    if not lines.pieces and len(circles) == 1:
        diameter = circles[0][1] / (25.4 if units == "in" else 1.0)
        return DrawnPart(f"ring d {diameter:g} centre", printed_left=printed_left)
    shape = words_of(lines.pieces, section, units, dims=dims, drawn=drawn, gap_mm=gap_mm)
    if drawn == "centre":
        first, last, circles = rings_at_ends(lines.pieces, circles, units, gap_mm)
        shape = "; ".join(filter(None, (first, shape, last)))
    holes, left = holes_of(lines.pieces, circles, section, units, dims=dims, drawn=drawn, gap_mm=gap_mm)
    return DrawnPart(shape, holes, left, printed_left)
