"""Drawing of the finished part: its outline to scale, with dimensions as typed, by the part's `dims`.

Dimensions are as in ISO 129-1, auxiliary ones in brackets. Angles are angles of bend, drawn from the leg's
extension, so that 135 cannot be read as 45. Begin at `draw_finished`.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from math import hypot, pi, radians, tan

from shopquote.calc.bar.develop import SET_BACK, Run
from shopquote.calc.bar.neutral_axis import measured_beyond_mm, setback_mm
from shopquote.calc.bar.shape_told import spiral_words
from shopquote.calc.bar.shape_words import Hook, Joggle, Leg, Taper, Turn, Twist, Word
from shopquote.calc.bar.sizes import Say
from shopquote.calc.drawing.flat_outline import FlatPart, draw_outline, faces, points_on
from shopquote.calc.drawing.model import Drawing, Point
from shopquote.calc.drawing.outline import Stretch, lay_out, length_of, moved, outer_face
from shopquote.calc.drawing.pencil import Pencil, away, strip
from shopquote.calc.drawing.scales import Scale, best_scale
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.drawing.worked import draw_holes, draw_short_face, note_ends, note_welds
from shopquote.calc.frozen import dataclass
from shopquote.calc.lettering import counting_letter
from shopquote.calc.units import Length, show_angle, show_length

# Long straights are broken where the bar would be thinner than this on paper, in mm: to one of these shares
# of their length, and at least to this many thicknesses of the bar.
THINNEST_MM = 1.2
BROKEN_SHARES = (0.6, 0.4, 0.25, 0.15)
LEAST_BROKEN = 16
# Above this angle of bend, in degrees, the corner is so far away that the angle is written instead of drawn.
WIDEST_DRAWN = 115.0
# Next to a leg shorter than this on paper, in mm, the arc of an angle would crowd the leg's dimensions.
ARC_ROOM_MM = 15.0
# From so many equal bends on, one note with their number is made, so that notes do not cover the part.
# Repeated features are dimensioned so: en.technisches-zeichnen.net, repeating geometry; the least number is
# our own.
MANY_ALIKE = 5
HEIGHT_MM = 10.8  # reach from the part of the nearest dimension line of the overall height


@dataclass(frozen=True, slots=True)
class FinishedDrawing:
    """The drawing, its scale in words, if a straight is shortened, and dimensions to check a first piece."""

    drawing: Drawing
    scale: str
    broken: bool
    checks: tuple[tuple[str, str], ...]


def draw_finished(
    part: FlatPart, room: tuple[float, float], *, size: float = 3.5, breaks: bool = True
) -> FinishedDrawing:
    """Draw the part with its dimensions; the outline alone fits `room` in mm, dimensions are outside it.

    Without `breaks` no straight is shortened.
    """
    stretches, scale = _fitted(part, room, breaks)
    drawn = moved(stretches, scale.factor)
    pencil = Pencil(scale.factor, size)
    draw_outline(pencil, part, drawn, scale.factor)
    draw_holes(pencil, part.holes, drawn, part.depth)
    draw_short_face(pencil, part.told_ends, drawn, part.depth)
    left, right = faces(part, drawn, scale.factor)
    px, py = zip(*left, *right, strict=True)
    low, high = (min(px), min(py)), (max(px), max(py))
    if any(run.is_curve for run in part.runs):
        # The overall height is drawn last; room is kept for its extension lines.
        pencil.keep(
            (strip((x, y), (x + way * HEIGHT_MM, y), 0.2), "line")
            for x, way in ((low[0], -1), (high[0], 1))
            for y in (low[1], high[1])
        )
    checks = [*_leg_sizes(pencil, part, drawn, scale.factor)]
    checks += _bend_notes(pencil, part, drawn, scale.factor)
    note_ends(pencil, part.told_ends, drawn, part.depth)
    note_welds(pencil, part.welds, drawn, part.depth)
    checks += _overall(pencil, part, low, high, [text for _, text in checks])
    broken = any(stretch.broken for stretch in stretches)
    return FinishedDrawing(pencil.done(), scale.words, broken, tuple(checks))


def _fitted(part: FlatPart, room: tuple[float, float], breaks: bool) -> tuple[tuple[Stretch, ...], Scale]:
    """The laid-out part and the largest standard scale that fits; long straights are broken if it helps."""
    whole = lay_out(part.runs)
    scale = best_scale(_spread(part, whole), room)
    straights = [length_of(stretch) for stretch in whole if not stretch.run.is_curve]
    thin = part.depth * scale.factor < THINNEST_MM
    if not (breaks and thin and straights) or len(part.runs) < 2:
        return whole, scale
    best = whole, scale
    for share in BROKEN_SHARES:
        broken = lay_out(part.runs, broken_at=max(max(straights) * share, LEAST_BROKEN * part.depth))
        found = best_scale(_spread(part, broken), room)
        # Broken only if that allows a larger standard scale: a part shown whole is understood sooner.
        if found.factor > best[1].factor:
            best = broken, found
    return best


def _spread(part: FlatPart, stretches: Sequence[Stretch]) -> tuple[float, float]:
    left, right = faces(part, stretches, 1.0)
    xs, ys = zip(*left, *right, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def _leg_sizes(
    pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float
) -> list[tuple[str, str]]:
    """Draw a dimension for every straight, the shortest nearest to the part; gives (letter, dimension)."""
    bends = sum(stretch.angle for stretch in drawn if stretch.run.is_curve)
    # On the outside of most bends first, where nothing of the part is in the way.
    sides = (1, -1) if bends < 0 else (-1, 1)
    offsets = [part.depth * factor / 2 + more for more in (7, 13, 19, 25, 31, 37)]
    straights = [(length_of(s), number) for number, s in enumerate(drawn) if not s.run.is_curve]
    letters = {number: counting_letter(at) for at, (_, number) in enumerate(straights)}
    told: dict[int, tuple[str, str]] = {}
    for _, number in sorted(straights):
        stretch, text = drawn[number], _typed(part, drawn[number].run)
        if not text:  # within a joggle, whose own sizes are told
            continue
        p, q = (
            away(point[:2], stretch.start[2], way * factor * _beyond(part, drawn, number + way))
            for point, way in ((stretch.start, -1), (stretch.end, 1))
        )
        letter = letters[number]
        label = f"{letter} = {text}" if len(straights) > 1 else text
        if text_width(label, pencil.size) > hypot(q[0] - p[0], q[1] - p[1]):
            label = label.split(" twisted ")[0]  # its turns stand below the drawing too
        pencil.size_between(p, q, label, stretch.start[2], sides=sides, offsets=offsets)
        told[number] = letter, text
    return [told[number] for number in sorted(told)]


def _beyond(part: FlatPart, drawn: Sequence[Stretch], number: int) -> float:
    """Distance in mm of the part from a bend's tangent point to where the leg next to it is measured."""
    if not 0 <= number < len(drawn):
        return 0.0
    run = drawn[number].run
    if run.kind not in SET_BACK or run.bending is None:
        return 0.0
    beyond = measured_beyond_mm(part.dims, run.bending.depth_mm, run.bending.centroid_mm)
    return 0.0 if beyond is None else setback_mm(run.angle, run.inside_mm, beyond)


def _typed(part: FlatPart, run: Run) -> str:
    """The dimension of a straight as typed: the sum of its legs, or a twist with its turns."""
    return typed_length(part.words, run) if part.words else part.length_text


def typed_length(words: Sequence[Word], run: Run) -> str:
    """The length of a straight, twist or taper as typed; consecutive legs as a sum."""
    word = words[run.word - 1]
    if isinstance(word, Twist):
        return f"{word.length.text} twisted {word.turns:g} turns"
    if isinstance(word, Taper):
        return f"{word.length.text} tapered to {word.tip.text}"
    if isinstance(word, Hook):
        return word.tip.text if word.tip is not None else ""
    texts = []
    for following in words[run.word - 1 :]:
        if isinstance(following, Leg):
            texts.append(following.length.text)
        elif not isinstance(following, Turn):
            break
    return " + ".join(texts)


def _bend_notes(
    pencil: Pencil, part: FlatPart, drawn: Sequence[Stretch], factor: float
) -> Iterator[tuple[str, str]]:
    """Draw notes of radius and angle of bends, and of other curves; gives pairs ("bend 1", its angle)."""
    noted = 0
    told: set[str] = set()
    alike = Counter(_bend_words(part, stretch.run) for stretch in drawn if stretch.run.kind in SET_BACK)
    for number, (at, stretch) in enumerate(((n, s) for n, s in enumerate(drawn) if s.run.is_curve), start=1):
        run = stretch.run
        if run.kind in SET_BACK:
            words = _bend_words(part, run)
            if (times := alike[words]) < MANY_ALIKE:
                legs = [length_of(leg) for leg in drawn[max(at - 1, 0) : at + 2] if not leg.run.is_curve]
                _bend_note(pencil, part, stretch, factor, room=min(legs, default=0.0))
            elif words not in told:
                _note_radius(pencil, stretch, factor, f"{times} × {words}")
                told.add(words)
            yield f"bend {number}", show_angle(abs(run.angle))
        elif run.word != noted or not run.word:
            _curve_note(pencil, part, stretch, factor)
        noted = run.word


def _bend_words(part: FlatPart, run: Run) -> str:
    return f"{_radius_text(part, run)} · {show_angle(abs(run.angle))}"


def _bend_note(pencil: Pencil, part: FlatPart, stretch: Stretch, factor: float, *, room: float) -> None:
    """Draw radius and angle of a bend; `room`: length in mm on paper of the shorter leg next to it."""
    run = stretch.run
    # A right angle needs no arc, and one of a wide bend would run through the part.
    in_words = abs(run.angle) == 90.0 or abs(run.angle) > WIDEST_DRAWN or room < ARC_ROOM_MM
    _note_radius(pencil, stretch, factor, _bend_words(part, run) if in_words else _radius_text(part, run))
    if in_words:
        return
    reach = (run.inside_mm + part.depth / 2) * factor * tan(radians(abs(run.angle)) / 2)
    heading = stretch.start[2]
    apex = away(stretch.start[:2], heading, reach)
    pencil.angle_at(apex, heading, stretch.angle, max(reach, 3.0))


def _note_radius(pencil: Pencil, stretch: Stretch, factor: float, words: str) -> None:
    """Draw a note with its arrow on the inside of a bend."""
    assert stretch.centre is not None
    side = pi / 2 if stretch.angle > 0 else -pi / 2
    middle = stretch.start[2] + radians(stretch.angle) / 2 - side  # from the centre to the middle of the bend
    tip = away(stretch.centre, middle, stretch.run.inside_mm * factor)
    pencil.note_at(tip, words, [middle + pi + lean for lean in (0, 0.35, -0.35, 0.7, -0.7)])


def _curve_note(pencil: Pencil, part: FlatPart, stretch: Stretch, factor: float) -> None:
    """Draw a note of a ring, an arc or a scroll with its arrow on the outer face."""
    run = stretch.run
    points = list(points_on(stretch))
    # A quarter along: clear of both ends, where legs and their sizes are.
    x, y, heading = points[len(points) // 4]
    out = heading - (pi / 2 if stretch.angle > 0 else -pi / 2)
    tip = away((x, y), out, outer_face(stretch, part.depth) * factor)
    pencil.note_at(tip, _curve_words(part, run), [out + lean for lean in (0, 0.4, -0.4, 0.8, -0.8)])


def _curve_words(part: FlatPart, run: Run) -> str:
    def shown(mm: float) -> str:
        return show_length(Length.from_mm(mm), part.unit, exact=True)

    if run.kind == "ring":
        return f"ring, inside Ø {shown(2 * run.inside_mm)}"
    if run.kind == "arc":
        return f"{_radius_text(part, run)}, {show_angle(abs(run.angle))}"
    if run.kind in ("eye", "hook"):
        return f"{run.kind}, inside Ø {shown(2 * run.inside_mm)}"
    if run.kind == "joggle":
        word = part.words[run.word - 1] if part.words else None
        sizes = f" {word.offset.text} over {word.length.text}" if isinstance(word, Joggle) else ""
        return f"joggle{sizes}, R {shown(run.inside_mm)}"
    if run.kind == "ellipse":
        return f"ellipse, inside {shown(2 * run.axes_mm[0])} x {shown(2 * run.axes_mm[1])}"
    if run.kind == "collar":
        return "closed hot"
    return spiral_words(part.words[run.word - 1], run, Say(part.unit))


def _radius_text(part: FlatPart, run: Run) -> str:
    if run.kind in ("corner", "fold"):
        return "sharp corner" if run.kind == "corner" else "fold"
    word = part.words[run.word - 1] if part.words else None
    radius = getattr(word, "radius", None)
    return f"R {radius.text}" if radius is not None else ""


def _overall(
    pencil: Pencil, part: FlatPart, low: Point, high: Point, typed: Sequence[str]
) -> Iterator[tuple[str, str]]:
    """Draw the overall size in brackets, unless a typed dimension gives it; `low`, `high`: bounding box."""
    if len(part.runs) < 2:
        return
    # A twisted or tapered bar alone is as high as it is thick.
    ways = 2 if any(run.is_curve for run in part.runs) else 1
    whole = lay_out(part.runs)
    xs, ys = zip(*(point for face in faces(part, whole, 1.0) for point in face), strict=True)
    for span, along in ((max(xs) - min(xs), 0.0), (max(ys) - min(ys), pi / 2))[:ways]:
        shown = show_length(Length.from_mm(span), part.unit)
        if shown.rsplit(" ", 1)[0] not in typed:
            pencil.size_of_box(low, high, f"({shown})", upright=along > 0)
        yield ("overall length" if not along else "overall height"), shown
