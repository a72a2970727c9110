"""The drawings of one part: finished, and as a straight bar with its marks. Begin at `draw_part`.

Takes a part as asked for and as calculated; nothing is calculated again.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shopquote.calc.bar.by_hand import folded_as
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.hole_words import drilled_ends
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.shape_words import Turn, Word
from shopquote.calc.bar.shapes import parse_shape, told_in_full
from shopquote.calc.drawing.finished import draw_finished, typed_length
from shopquote.calc.drawing.flat_outline import FlatPart
from shopquote.calc.drawing.model import Drawing, DrawnText, Projection
from shopquote.calc.drawing.outline import is_flat
from shopquote.calc.drawing.space import SpacePart, draw_space
from shopquote.calc.drawing.straight import draw_straight
from shopquote.calc.drawing.weld_places import PlacedWeld, run_at
from shopquote.calc.drawing.weld_symbol import DrawnWeld, WeldSign
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.drawing.worked import DrawnHole, EndHoles
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import Dims, PartSpec
from shopquote.calc.lettering import counting_letter
from shopquote.calc.units import Unit

# How the legs are measured, in full words beside the drawing.
MEASURED: dict[Dims, str] = {
    "outside": "sizes to the outside",
    "inside": "sizes to the inside",
    "centre": "sizes to the centre line",
    "tangent": "sizes to the tangent points",
}
# Room in mm for the part's outline without dimensions, on a portrait page.
ROOM_MM = (140.0, 75.0)
SPACE_ROOM_MM = (175.0, 120.0)
BAR_WIDTH_MM = 172.0


@dataclass(frozen=True, slots=True)
class Room:
    """Room on paper in mm for a plane outline, for views of a part in space, and for the straight bar."""

    flat: tuple[float, float] = ROOM_MM
    space: tuple[float, float] = SPACE_ROOM_MM
    bar: float = BAR_WIDTH_MM


@dataclass(frozen=True, slots=True)
class PartDrawings:
    """Drawings of the finished part and of its straight bar.

    `schedule`: pairs of letter and dimension; `checks`: dimensions by which a first piece is checked; `flat`:
    its bends lie in one plane; `welds_left`: number of welds on a leg or bend that the part does not have.
    """

    mark: str
    finished: Drawing
    scale: str
    straight: Drawing
    flat: bool
    broken: bool
    schedule: tuple[tuple[str, str], ...]
    checks: tuple[tuple[str, str], ...]
    welds_left: int = 0


_PAPER = Room()


def draw_part(
    part: PartSpec,
    answer: PartAnswer,
    unit: Unit,
    *,
    projection: Projection = "first angle",
    breaks: bool = True,
    size: float = 3.5,
    room: Room = _PAPER,
    welds: Sequence[PlacedWeld] = (),
) -> PartDrawings:
    """The drawings of one part; without `breaks` straights keep their length, as a DXF needs.

    `size` is the height of letters in mm on paper. A symbol is drawn for each of `welds`.
    """
    words = parse_shape(part.shape, unit) if part.shape is not None else ()
    end_holes = _end_holes(part, len(answer.runs))
    straight = draw_straight(answer, unit, room.bar, end_holes=end_holes, size=size)
    schedule = tuple(_schedule(part, answer.runs, words))
    flat = replace(
        flat_part(part, answer, unit),
        welds=tuple(_drawn_welds(welds, answer.runs, words, projection, size, unit)),
    )
    left = len(welds) - len(flat.welds)
    if is_flat(answer.runs):
        done = draw_finished(flat, room.flat, size=size, breaks=breaks)
        return PartDrawings(
            part.mark, done.drawing, done.scale, straight, True, done.broken, schedule, done.checks, left
        )
    space = SpacePart(
        answer.runs, answer.section, part.bend_axis, unit, flat.holes, flat.told_ends, flat.welds
    )
    drawing, scale = draw_space(space, room.space, projection, size=size)
    return PartDrawings(part.mark, drawing, scale, straight, False, False, schedule, schedule, left)


def _drawn_welds(
    placed: Sequence[PlacedWeld], runs: Sequence[Run], words: Sequence[Word], projection: Projection,
    size: float, unit: Unit,
) -> Iterator[DrawnWeld]:  # fmt: skip
    for one in placed:
        run = run_at(one.place, runs, words)
        if run is not None:
            yield DrawnWeld(WeldSign(one.weld, projection, size, one.each, unit), run, one.place.spot)


def captioned(drawing: Drawing, words: str, size: float = 3.5) -> Drawing:
    """A drawing with a line of text below it, `size` mm high, for use without a paper around it."""
    middle = (drawing.low[0] + drawing.high[0]) / 2
    wide = text_width(words, size) / 2
    at = (middle, drawing.low[1] - 2 * size)
    low = min(drawing.low[0], middle - wide), at[1] - size
    high = max(drawing.high[0], middle + wide), drawing.high[1]
    return Drawing((*drawing.items, DrawnText(words, at, size)), drawing.scale, low, high)


def convention(part: PartSpec, drawn: PartDrawings) -> str:
    """A line that says how to read the drawing: scale, how legs are measured, shortened straights."""
    words = [f"scale {drawn.scale}"]
    if part.shape is not None:
        words.append(MEASURED[part.dims])
    if any(end.kind == "mitre" for end in part.ends):
        words.append("lengths over long points")
    if drawn.broken:
        words.append("long straights shortened")
    return ", ".join(words)


def flat_part(part: PartSpec, answer: PartAnswer, unit: Unit) -> FlatPart:
    """What the drawing of a plane part needs. A straight piece of flat bar is seen on its width."""
    words = parse_shape(part.shape, unit) if part.shape is not None else ()
    axis = part.bend_axis
    bends = any(run.is_curve for run in answer.runs)
    # Notched and folded, an angle is seen on the edge of the leg that is left whole.
    folded = any(run.by == "notch" for run in answer.runs)
    section = folded_as(answer.section, axis) if folded else answer.section
    axis = "easy" if folded else axis
    depth = section.depth_mm(axis) if bends else section.width_mm(axis)
    length = part.length.text if part.length else ""
    easily = bends and section.depth_mm(axis) > section.width_mm(axis)
    # A straight piece lies on the face that is drilled; of a bent one the bend decides.
    seen = ("left", "right", *([""] if easily else [])) if bends else ("inside", "outside", "")
    holes = tuple(_drawn_holes(part, answer, seen))
    return FlatPart(
        answer.runs,
        words,
        section,
        depth,
        part.dims,
        part.ends,
        unit,
        length,
        holes,
        answer.mitres,
        _end_holes(part, len(answer.runs)),
        welds_at=tuple(at.mm_float / answer.cut.mm_float for at in answer.welds_at),
    )


def _end_holes(part: PartSpec, runs: int) -> EndHoles:
    """The holes along the bar in its start and in its finish end."""
    along = [(hole, drilled_ends(hole, runs)) for hole in part.holes if hole.along]
    return (
        tuple(hole for hole, (start, _) in along if start),
        tuple(hole for hole, (_, finish) in along if finish),
    )


def _drawn_holes(part: PartSpec, answer: PartAnswer, seen: Sequence[str]) -> Iterator[DrawnHole]:
    """The holes across the bar with their marks, seen as circles where their face is among `seen`."""
    for kind, hole in enumerate(part.holes, start=1):
        marks = [mark for mark in answer.hole_marks if mark.kind == kind]
        for mark, (at, _) in zip(marks, hole.places, strict=True):
            if not hole.along:
                yield DrawnHole(mark, hole, at.text, hole.face in seen)


def _schedule(part: PartSpec, runs: Sequence[Run], words: Sequence[Word]) -> list[tuple[str, str]]:
    """Every run in order: a letter and the length of a straight, the typed words of others."""
    if not words:
        return [("a", part.length.text if part.length else "")]
    rows: list[tuple[str, str]] = []
    texts = [told_in_full(text) for text in (part.shape or "").split(";")]
    letter, last = 0, 0
    for run in runs:
        for number in range(last, run.word - 1):
            if isinstance(words[number], Turn):
                rows.append(("", texts[number]))
        if run.is_curve:
            # An eye's neck, both bends of a joggle and a spring's closed ends are one word.
            if run.word != last:
                rows.append(("", texts[run.word - 1]))
        elif typed_length(words, run):
            rows.append((counting_letter(letter), typed_length(words, run)))
            letter += 1
        last = run.word
    return rows
