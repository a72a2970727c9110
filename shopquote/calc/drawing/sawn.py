"""A bar with its cuts: pieces to scale with their marks, then the offcut, kept or scrap.

Equal consecutive pieces are drawn one by one where there is room, else as one field with their count. Begin
at `draw_sawn`.
"""

from collections.abc import Sequence

from shopquote.calc.drawing.model import Drawing, Point
from shopquote.calc.drawing.pencil import Pencil
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length

BAR_MM = 6.4
NARROWEST_MM = 3.0  # pieces thinner than this on paper are drawn as one field
BESIDE_MM = 1.5  # space beside a text that must fit its field


@dataclass(frozen=True, slots=True)
class SawnPieces:
    """Pieces of one mark that are cut one after the other at one setting of the stop."""

    mark: str
    count: int
    length: Length


def draw_sawn(
    bar: Length, cuts: Sequence[SawnPieces], offcut: Length, *, kept: bool, width: float, size: float = 3.5
) -> Drawing:
    """Draw the bar over `width` mm; an offcut that goes back to the rack is dashed, scrap is crossed out."""
    factor = width / bar.mm_float
    pencil = Pencil(factor, size)
    used = sum(cut.count * cut.length.mm_float for cut in cuts)
    # Kerfs and trim are what is left of the bar; spread over the pieces they are too thin to draw.
    pieces = sum(cut.count for cut in cuts)
    between = max(0.0, bar.mm_float - used - offcut.mm_float) / max(1, pieces)
    at = 0.0
    for cut in cuts:
        long = (cut.length.mm_float + between) * factor
        if long >= NARROWEST_MM:
            for _ in range(cut.count):
                _field(pencil, at, at + long, cut.mark)
                at += long
        else:
            _field(pencil, at, at + long * cut.count, f"{cut.count} x {cut.mark}")
            at += long * cut.count
    if width - at > 0.3:
        _rest(pencil, at, width, kept=kept)
    return pencil.done()


def _corners(left: float, right: float) -> tuple[Point, ...]:
    return (left, 0.0), (right, 0.0), (right, BAR_MM), (left, BAR_MM)


def _field(pencil: Pencil, left: float, right: float, text: str) -> None:
    pencil.line(_corners(left, right), "thick", closed=True, ink=None)
    middle = (left + right) / 2
    if text_width(text, pencil.size + 1) + BESIDE_MM <= right - left:
        pencil.text(text, (middle, BAR_MM / 2), size=pencil.size + 1, bold=True, layer="marks")


def _rest(pencil: Pencil, left: float, right: float, *, kept: bool) -> None:
    corners = _corners(left, right)
    pencil.line(corners, "dashed" if kept else "thin", closed=True, ink=None)
    if not kept:
        pencil.line((corners[0], corners[2]), ink=None)
        pencil.line((corners[1], corners[3]), ink=None)
