"""Weld symbols: by ISO 2553 (system A) with first-angle projection, by AWS A2.4 with third-angle.

Drawn for a weld on the arrow side: by ISO on the solid line with the dashed one below, by AWS below the line.
Sizes as typed in the job. Millimetres on paper. `draw_weld_symbol` draws one alone, `note_weld` one with its
arrow on the part.
"""

from collections.abc import Sequence
from math import atan2, cos, pi

from shopquote.calc.bar.sizes import Say
from shopquote.calc.drawing.model import Drawing, DrawnArc, Point, Projection
from shopquote.calc.drawing.pencil import Inked, Pencil, Place, away, strip
from shopquote.calc.drawing.weld_places import Spot
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import WeldSpec, iso_weld_size
from shopquote.calc.units import Unit

GLYPH_MM = 4.0
LEADER: tuple[Point, Point] = ((-7.0, -6.0), (0.0, 0.0))
TAIL_MM = 3.0
DASHED_MM = 1.4
AIR_MM = 1.4
BEGINS_MM = 3.0  # of the line, before the first figure
# Lengths of the leader, tried in this order: the shortest one that reaches free paper is the easiest to
# follow.
LENGTHS_MM = (8.0, 12.0, 17.0, 23.0, 30.0, 38.0)


@dataclass(frozen=True, slots=True)
class WeldSign:
    """The content of a symbol; `each`: number of welds of that length, None where unknown.

    `projection` decides the standard; `unit` is the job's, for calculated sizes.
    """

    weld: WeldSpec
    projection: Projection
    size: float
    each: int | None
    unit: Unit

    @property
    def by_iso(self) -> bool:
        """Whether it is drawn by ISO 2553 rather than AWS A2.4."""
        return self.projection == "first angle"

    @property
    def before(self) -> str:
        """The size, left of the sign; AWS A2.4 gives the leg, also where a throat was typed."""
        typed = self.weld.leg
        if self.by_iso:
            return iso_weld_size(self.weld.kind, typed.text)
        # Rounded up, since a leg rounded down would give less throat than was asked for.
        leg = Say(self.unit).up(typed.length.mm_float)
        return leg if typed.text[:1] == "a" else typed.text.removeprefix("z")

    @property
    def after(self) -> str:
        """Number and length, right of the sign."""
        length = self.weld.length.text
        if self.each is None or self.each == 1:
            return length
        return f"{self.each} × {length}" if self.by_iso else f"{length} ({self.each})"

    @property
    def line_mm(self) -> float:
        """Length of its reference line in mm."""
        words = text_width(self.before, self.size) + text_width(self.after, self.size)
        return BEGINS_MM + words + 2 * AIR_MM + GLYPH_MM + 2.0

    @property
    def whole_mm(self) -> float:
        """Length in mm from the arrow's end of the reference line to the end of the tail."""
        return self.line_mm + TAIL_MM + 1.0 + text_width(self.weld.process, self.size)


@dataclass(frozen=True, slots=True)
class DrawnWeld:
    """A symbol and where its arrow points: index of the run, and the spot on it."""

    sign: WeldSign
    run: int
    spot: Spot


def draw_weld_symbol(
    weld: WeldSpec, projection: Projection, *, size: float = 3.5, unit: Unit = "mm"
) -> Drawing:
    """Draw arrow, reference line, sign with size and length, and the process in the tail."""
    pencil = Pencil(1.0, size)
    _draw(pencil, WeldSign(weld, projection, size, weld.count, unit), (0.0, 0.0), 1)
    pencil.line(LEADER, "thin", "notes")
    pencil.arrow(LEADER[0], _heading(LEADER[1], LEADER[0]), "notes")
    return pencil.done()


def note_weld(pencil: Pencil, tip: Point, sign: WeldSign, ways: Sequence[float]) -> None:
    """Draw the symbol with its arrow on `tip` where it overlaps least; `ways`: directions of its leader."""
    pencil.best(_noted(pencil, tip, sign, way, length) for way in ways for length in LENGTHS_MM)


def _noted(pencil: Pencil, tip: Point, sign: WeldSign, way: float, length: float) -> Place:
    knee = away(tip, way, length)
    side = 1 if cos(way) >= -1e-9 else -1
    high = max(GLYPH_MM, sign.size * 1.05 + 1.2)
    up, down = (high, DASHED_MM) if sign.by_iso else (0.0, high)
    low, top = knee[1] - max(down, TAIL_MM), knee[1] + max(up, TAIL_MM)
    far = knee[0] + side * sign.whole_mm
    whole = ((knee[0], low), (far, low), (far, top), (knee[0], top))

    def draw() -> None:
        pencil.line((tip, knee), layer="notes")
        pencil.arrow(tip, way + pi, "notes")
        _draw(pencil, sign, knee, side)

    ink: tuple[Inked, ...] = ((whole, "text"), (strip(away(tip, way, 0.3), knee, 0.15), "line"))
    return Place(length * 0.15, lambda: ink, draw)


def _draw(pencil: Pencil, sign: WeldSign, at: Point, side: int) -> None:
    """Draw line, sign and tail from the arrow's end of the line to `side`; text reads rightwards."""
    size, up = sign.size, 1.0 if sign.by_iso else -1.0
    left = at[0] if side > 0 else at[0] - sign.line_mm
    end = at[0] + side * sign.line_mm
    at_text = at[1] + up * (size * 0.35 + 1.2)
    x = left + (BEGINS_MM if side > 0 else 2.0)
    pencil.text(sign.before, (x + text_width(sign.before, size) / 2, at_text), layer="notes")
    x += text_width(sign.before, size) + AIR_MM
    _sign(pencil, sign.weld, (x, at[1]), up)
    x += GLYPH_MM + AIR_MM
    pencil.text(sign.after, (x + text_width(sign.after, size) / 2, at_text), layer="notes")
    pencil.line((at, (end, at[1])), "thin", "notes")
    if sign.by_iso:
        pencil.line(((at[0], at[1] - DASHED_MM), (end, at[1] - DASHED_MM)), "dashed", "notes")
    for way in (1, -1):
        pencil.line(((end, at[1]), (end + side * TAIL_MM, at[1] + way * TAIL_MM)), "thin", "notes")
    behind = end + side * (TAIL_MM + 1.0 + text_width(sign.weld.process, size) / 2)
    pencil.text(sign.weld.process, (behind, at[1]), layer="notes")


def _sign(pencil: Pencil, weld: WeldSpec, foot: Point, up: float) -> None:
    """Draw the sign: a fillet's triangle, a groove's V, a plug's box, a tack's circle."""
    x, y = foot
    right, high = x + GLYPH_MM, y + up * GLYPH_MM
    if weld.kind == "fillet":
        pencil.line((foot, (x, high), (right, y)), "thin", "notes", closed=True)
    elif weld.kind == "groove":
        pencil.line(((x, high), ((x + right) / 2, y), (right, high)), "thin", "notes")
    elif weld.kind == "plug":
        pencil.line((foot, (x, high), (right, high), (right, y)), "thin", "notes")
    else:
        middle = (x + right) / 2, y + up * GLYPH_MM / 2
        pencil.arc(DrawnArc(middle, GLYPH_MM / 2, 0.0, 360.0, "thin", "notes"))


def _heading(start: Point, end: Point) -> float:
    return atan2(end[1] - start[1], end[0] - start[0])
