"""Every drawing of one part: as it is finished, as a straight bar with its marks, and at full size.

Begin at `draw_part`. Takes a part as asked for and as worked out; nothing is read or measured anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.bar.by_hand import folded_as
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.shape_words import Turn, Word
from shopquote.calc.bar.shapes import parse_shape, told_in_full
from shopquote.calc.drawing.finished import FlatPart, draw_finished, typed_length
from shopquote.calc.drawing.model import Drawing
from shopquote.calc.drawing.outline import is_flat
from shopquote.calc.drawing.space import Projection, SpacePart, draw_space
from shopquote.calc.drawing.straight import draw_straight
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Unit

# Room for the part's outline on a portrait page, its sizes not counted, mm.
ROOM_MM = (140.0, 75.0)
SPACE_ROOM_MM = (175.0, 150.0)
BAR_WIDTH_MM = 172.0


@dataclass(frozen=True, slots=True)
class PartDrawings:
    """The finished part and its straight bar; `schedule` are the letters and what stands for each.

    `checks` are what a first piece is measured by; `flat` is false for a part that bends in space.
    """

    mark: str
    finished: Drawing
    scale: str
    straight: Drawing
    flat: bool
    broken: bool
    schedule: tuple[tuple[str, str], ...]
    checks: tuple[tuple[str, str], ...]


def draw_part(
    part: PartSpec,
    answer: PartAnswer,
    unit: Unit,
    *,
    projection: Projection = "first angle",
    breaks: bool = True,
    size: float = 3.5,
) -> PartDrawings:
    """The drawings of one part; without `breaks` long straights keep their length, as a DXF needs it."""
    words = parse_shape(part.shape, unit) if part.shape is not None else ()
    straight = draw_straight(answer, unit, BAR_WIDTH_MM, size=size)
    schedule = tuple(_schedule(part, answer.runs, words))
    if is_flat(answer.runs):
        flat = flat_part(part, answer, unit)
        done = draw_finished(flat, ROOM_MM, size=size, breaks=breaks)
        return PartDrawings(
            part.mark, done.drawing, done.scale, straight, True, done.broken, schedule, done.checks
        )
    space = SpacePart(answer.runs, answer.section, part.bend_axis, unit)
    drawing, scale = draw_space(space, SPACE_ROOM_MM, projection, size=size)
    return PartDrawings(part.mark, drawing, scale, straight, False, False, schedule, schedule)


def flat_part(part: PartSpec, answer: PartAnswer, unit: Unit) -> FlatPart:
    """What a flat drawing needs of a part. A straight piece of flat bar is seen on its width."""
    words = parse_shape(part.shape, unit) if part.shape is not None else ()
    axis = part.bend_axis
    bends = any(run.is_curve for run in answer.runs)
    # Notched and folded, an angle is seen on the edge of the leg that is left whole.
    folded = any(run.by == "notch" for run in answer.runs)
    section = folded_as(answer.section, axis) if folded else answer.section
    axis = "easy" if folded else axis
    depth = section.depth_mm(axis) if bends else section.width_mm(axis)
    length = part.length.text if part.length else ""
    return FlatPart(answer.runs, words, section, depth, part.dims, part.ends, unit, length)


def _schedule(part: PartSpec, runs: Sequence[Run], words: Sequence[Word]) -> list[tuple[str, str]]:
    """Every run in order: a letter and its length for a straight, its own words for everything else."""
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
            rows.append((chr(ord("a") + letter % 26), typed_length(words, run)))
            letter += 1
        last = run.word
    return rows
