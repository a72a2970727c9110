"""A plane part at 1:1, to check the bent bar on: outline, centre line, holes, tangent points of curves.

Nothing is shortened and there are no dimensions; `tiles` divides the drawing into sheets.
"""

from collections.abc import Iterator
from math import ceil, pi

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.drawing.flat_outline import draw_outline
from shopquote.calc.drawing.model import Drawing
from shopquote.calc.drawing.outline import is_flat, lay_out
from shopquote.calc.drawing.part import flat_part
from shopquote.calc.drawing.pencil import Pencil, away
from shopquote.calc.drawing.worked import outline_holes
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import PartSpec
from shopquote.calc.lettering import counting_letter
from shopquote.calc.units import Unit
from shopquote.errors import CannotMakeError

OVERLAP_MM = 10.0  # of two sheets that are glued together
TANGENT_MM = 6.0  # length beyond the bar of the stroke at a tangent point
AROUND_MM = 4.0


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet's window on the drawing in mm; row and column from 1, from the top left."""

    row: int
    column: int
    left: float
    bottom: float
    width: float
    height: float

    @property
    def name(self) -> str:
        """The name printed on it: row as a letter, column as a number."""
        return f"{counting_letter(self.row - 1)}{self.column}"


def draw_full_size(part: PartSpec, answer: PartAnswer, unit: Unit) -> Drawing:
    """Draw the part at 1:1.

    Raises:
        CannotMakeError: its bends do not lie in one plane.
    """
    if not is_flat(answer.runs):
        raise CannotMakeError(
            f"Part {part.mark} bends in space; a full-size template needs all bends in one plane.",
            hint="Draw it without --full-size, or choose flat parts with --mark.",
        )
    pencil = Pencil(1.0)
    flat = flat_part(part, answer, unit)
    stretches = lay_out(answer.runs)
    draw_outline(pencil, flat, stretches, 1.0)
    outline_holes(pencil, flat.holes, stretches, flat.depth)
    reach = flat.depth / 2 + TANGENT_MM
    for stretch in stretches:
        if stretch.run.is_curve:
            for x, y, heading in (stretch.start, stretch.end):
                ends = away((x, y), heading + pi / 2, reach), away((x, y), heading - pi / 2, reach)
                pencil.line(ends, "thin", "marks", ink=None)
    return pencil.done()


def tiles(drawing: Drawing, width: float, height: float) -> Iterator[Tile]:
    """The windows of `width` by `height` mm that cover a drawing, each overlapping the next by `OVERLAP_MM`.

    The drawing is centred on all of them together, so that its edges stay clear of the sheets' edges.
    """
    wide, tall = drawing.width + 2 * AROUND_MM, drawing.height + 2 * AROUND_MM
    across = max(1, ceil((wide - OVERLAP_MM) / (width - OVERLAP_MM)))
    down = max(1, ceil((tall - OVERLAP_MM) / (height - OVERLAP_MM)))
    step_x, step_y = width - OVERLAP_MM, height - OVERLAP_MM
    left = (drawing.low[0] + drawing.high[0]) / 2 - (across * step_x + OVERLAP_MM) / 2
    top = (drawing.low[1] + drawing.high[1]) / 2 + (down * step_y + OVERLAP_MM) / 2
    for row in range(down):
        for column in range(across):
            bottom = top - row * step_y - height
            yield Tile(row + 1, column + 1, left + column * step_x, bottom, width, height)
