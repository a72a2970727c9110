"""A straight bar bent by what the floor gets: marks, angles to pull to, formers, turns between bends.

A simulation of its own, to check the answers by: it knows nothing of the shape that was asked for and
shares no formula with its development. Each pull wraps the bar round a former from the
grip on, lets it spring back by its elastic-plastic moment, and what lies beyond moves with it. Float
mm, radians; many parts of as many pulls are bent at once. Begin at `pulls_of` and `rebend`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, hypot, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from shopquote.calc.bar.benders import Bender
from shopquote.calc.bar.forging import Forging
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.bar.part_answer import BendAnswer, PartAnswer
from shopquote.calc.bar.springback import springback_ratio
from shopquote.calc.units import Length

Floats = NDArray[np.float64]

# A coil made in one, on a former or by rolls, is walked in parts of this angle.
COIL_PART = radians(2)


@dataclass(frozen=True, slots=True)
class Pull:
    """One pull of the lever, or one stretch through the rolls.

    mark_mm: from the start of the bar, as set to the bender's mark; set_at, offset_mm: which point of the
    bend is set there, seen from the grip, and how far beside it; grip: end that is clamped, '' for none.
    toward: direction of the bend's inner side round the bar, radians from wherever, right-handed from start
    to finish. pull: angle under load; held_mm: inside radius of the former; k: depth of the neutral axis
    over T. `stress_mpa`, `e_mpa`: what it springs back by. rise: what a turn of a coil is left to advance.
    """

    mark_mm: float
    set_at: str
    offset_mm: float
    grip: str
    toward: float
    pull: float
    held_mm: float
    bar: BendSection
    k: float
    stress_mpa: float
    e_mpa: float
    rise: float = 0.0


@dataclass(frozen=True, slots=True)
class Bent:
    """What is left: arrays of (parts, bends) in order along the bar.

    begin_mm: where each arc begins on the straight bar; flat_mm, true_mm: straight bar that it took
    and its length along the centre line now; turned: angle left; toward: direction of its inner side.
    """

    begin_mm: Floats
    flat_mm: Floats
    true_mm: Floats
    turned: Floats
    toward: Floats


def let_go(pulls: Sequence[Pull], forged: Sequence[Forging] = ()) -> Bent:
    """Each pull after release, and what was drawn out or twisted, sorted along the bar; one part."""
    drawn = [(one.begin_mm, one.stock_mm, one.done_mm, 0.0, 0.0) for one in forged]
    rows = sorted([*drawn, *(row for pull in pulls for row in _left(pull, {}))])
    columns = np.array(rows, dtype=float).reshape(len(rows), 5)
    return Bent(*(columns[None, :, column] for column in range(5)))


def let_go_all(parts: Sequence[Sequence[Pull]]) -> Bent:
    """The same for many parts of as many pulls each; pulls that are alike spring back once."""
    known: dict[tuple[int, float, float, float], float] = {}
    rows = np.array([sorted(row for pull in pulls for row in _left(pull, known)) for pulls in parts])
    return Bent(*(rows[:, :, column] for column in range(5)))


Row = tuple[float, float, float, float, float]


def _left(pull: Pull, known: dict[tuple[int, float, float, float], float]) -> list[Row]:
    """Where the arc begins, straight bar taken, length now, angle left, direction; a coil in many parts."""
    bar = pull.bar
    held = pull.held_mm + bar.centroid_mm
    # By the section's identity: to compare its sizes each time would take longer than to bend.
    key = (id(bar), pull.stress_mpa, pull.e_mpa, held)
    if key not in known:
        known[key] = springback_ratio(bar, pull.stress_mpa, pull.e_mpa, held)
    ratio = known[key]
    turned, radius = pull.pull * ratio, held / ratio
    flat = hypot(turned * (radius - bar.centroid_mm + pull.k * bar.depth_mm), pull.rise * turned / (2 * pi))
    # The grip is where the bend starts; it grows away from there. A ram's has no grip: as if from the start.
    way = -1.0 if pull.grip == "finish" else 1.0
    nearest = pull.mark_mm - way * pull.offset_mm
    nearest -= way * {"start": 0.0, "centre": flat / 2, "end": flat}[pull.set_at]
    begin = nearest if way > 0 else nearest - flat
    if not pull.rise:
        return [(begin, flat, turned * radius, turned, pull.toward)]
    # A coil bends and turns at once: in small parts, each about the bar's own screw axis.
    count = ceil(turned / COIL_PART)
    true, slope = hypot(turned * radius, pull.rise * turned / (2 * pi)), atan2(pull.rise, 2 * pi * radius)
    screw = turned / cos(slope) / count
    return [
        (
            begin + flat * part / count, flat / count, true / count, screw * cos(slope) * cos(slope),
            pull.toward + screw * sin(slope) * cos(slope) * (part + 0.5),
        )
        for part in range(count)
    ]  # fmt: skip


def rebend(bent: Bent) -> tuple[Floats, Floats]:
    """Centre line of the bars: points and directions, (parts, 2 bends + 1, 3), at the ends of every arc.

    The first is the bar's start, at the origin along x; `finish_of` adds the far end.
    """
    parts, count = bent.begin_mm.shape
    point, along = np.zeros((parts, 3)), np.tile([1.0, 0.0, 0.0], (parts, 1))
    first, second = np.tile([0.0, 1.0, 0.0], (parts, 1)), np.tile([0.0, 0.0, 1.0], (parts, 1))
    points, lines = np.empty((parts, 2 * count + 1, 3)), np.empty((parts, 2 * count + 1, 3))
    points[:, 0], lines[:, 0] = point, along
    at = np.zeros(parts)
    for bend in range(count):
        point = point + along * (bent.begin_mm[:, bend] - at)[:, None]
        at = bent.begin_mm[:, bend] + bent.flat_mm[:, bend]
        points[:, 2 * bend + 1], lines[:, 2 * bend + 1] = point, along
        point, along, first, second = _arc(bent, bend, point, along, first, second)
        points[:, 2 * bend + 2], lines[:, 2 * bend + 2] = point, along
    return points, lines


Frame = tuple[Floats, Floats, Floats, Floats]


def _arc(bent: Bent, bend: int, point: Floats, along: Floats, first: Floats, second: Floats) -> Frame:
    """The frame after one arc. The two sides are carried along without turning about the bar."""
    toward, turned = bent.toward[:, bend], bent.turned[:, bend]
    c, s = np.cos(toward)[:, None], np.sin(toward)[:, None]
    inner, aside = c * first + s * second, c * second - s * first
    ct, st = np.cos(turned)[:, None], np.sin(turned)[:, None]
    # sin(a)/a and (1 - cos(a))/a of a straight are 1 and 0.
    angle = np.where(np.abs(turned) < 1e-9, 1e-9, turned)
    length = bent.true_mm[:, bend]
    point = point + along * (length * np.sin(angle) / angle)[:, None]
    point = point + inner * (length * 2 * np.sin(angle / 2) ** 2 / angle)[:, None]
    along, inner = ct * along + st * inner, ct * inner - st * along
    return point, along, c * inner - s * aside, s * inner + c * aside


def finish_of(bent: Bent, points: Floats, lines: Floats, length_mm: Floats) -> Floats:
    """The far ends of bars of these straight lengths, (parts, 3)."""
    rest = length_mm - (bent.begin_mm[:, -1] + bent.flat_mm[:, -1])
    ends: Floats = points[:, -1] + lines[:, -1] * rest[:, None]
    return ends


def sampled(bent: Bent, length_mm: float, step_mm: float) -> tuple[Floats, Floats]:
    """Points of one bar, and where on the straight bar each lay: ends of arcs and at most `step_mm` apart."""
    edges: list[Row] = []
    at = 0.0
    for begin, flat, true, turned, toward in np.stack(
        [bent.begin_mm[0], bent.flat_mm[0], bent.true_mm[0], bent.turned[0], bent.toward[0]], axis=1
    ):
        edges += _parted(at, begin - at, begin - at, 0.0, 0.0, step_mm)
        edges += _parted(begin, flat, true, turned, toward, step_mm)
        at = begin + flat
    edges += _parted(at, length_mm - at, length_mm - at, 0.0, 0.0, step_mm)
    columns = np.array(edges).reshape(len(edges), 5)
    fine = Bent(*(columns[None, :, column] for column in range(5)))
    points, _ = rebend(fine)
    places = np.concatenate(([0.0], columns[:, 0] + columns[:, 1]))
    return np.concatenate((points[0, :1], points[0, 2::2])), places


def _parted(
    begin: float, flat: float, true: float, turned: float, toward: float, step_mm: float
) -> list[Row]:
    count = max(1, ceil(abs(true) / step_mm))
    return [
        (begin + flat * part / count, flat / count, true / count, turned / count, toward)
        for part in range(count)
    ]


# ---- What the floor gets, as pulls ------------------------------------------------------------


def pulls_of(answer: PartAnswer, benders: Sequence[Bender]) -> list[Pull]:
    """The pulls of one part, read from what its answer tells the floor and from the benders' own settings.

    In the order of bending where there is one: the bar lies in the bender with some side up, is turned
    and swapped as told, and the bender bends to the left, or to the right where that is told.
    """
    by_name = {bender.name: bender for bender in benders}
    up, pulls = 0.0, []
    for step in answer.bend_order or _along_the_bar(answer):
        bend = answer.bends[step.bend - 1]
        bender = by_name.get(bend.bender or "")
        up += radians(step.roll)
        # Machine axes: x from the fixed side to the swinging one, z up, y to the left. With the start fixed
        # x runs as the bar does and left is a quarter turn back from up; turned end for end it is the other.
        left = up - radians(90) if step.end == "start" else up + radians(90)
        toward = left + radians(180) if step.way == "right" else left
        pulls += _pulls_of_bend(answer, bend, toward, bender)
        up += _turned_by(bend)
    return pulls


@dataclass(frozen=True, slots=True)
class _Told:
    bend: int
    end: str
    roll: float
    way: str


def _along_the_bar(answer: PartAnswer) -> list[_Told]:
    """Without an order: each bend in turn, the start fixed, the plane turned as the shape says."""
    return [
        _Told(number, "start", bend.turn if number > 1 else 0.0, "left" if bend.angle > 0 else "right")
        for number, bend in enumerate(answer.bends, start=1)
    ]


def _pulls_of_bend(answer: PartAnswer, bend: BendAnswer, toward: float, bender: Bender | None) -> list[Pull]:
    assert bend.bar is not None
    set_at = bend.bender_mark_at
    offset = bender.mark_offset_nm / 1e6 if bender and bend.works_by != "rolls" else 0.0
    grip = bend.grip_end if bender is not None else "start"
    e_mpa = answer.grade.e_mpa

    def pull(mark: Length, way: float, angle: float, held: Length, k: float, stress: float) -> Pull:
        return Pull(
            _from_start(mark, answer), set_at, offset, grip, way, abs(radians(angle)), held.mm_float,
            bend.bar, k, stress, e_mpa,  # type: ignore[arg-type]  # asserted above
            bend.pitch_mm if bend.hits == 1 else 0.0,
        )  # fmt: skip

    if bend.hits > 1:
        formers = bend.hit_formers or (bend.held_radius or bend.inside_radius,) * bend.hits
        stresses = bend.hit_stress_mpa or (bend.flow_stress_mpa,) * bend.hits
        turn = radians(bend.hit_turn)
        return [
            pull(mark, toward + turn * (number + 0.5), angle, held, k, stress)
            for number, (mark, angle, held, k, stress) in enumerate(
                zip(bend.hit_bender_marks, bend.hit_over_bends, formers, bend.hit_ks, stresses, strict=True)
            )
        ]
    held = bend.former_radius if bend.former_radius is not None else bend.held_radius or bend.inside_radius
    stress = bend.stress_mpa if bend.former_radius is not None else bend.flow_stress_mpa
    assert bend.bender_mark is not None
    return [pull(bend.bender_mark, toward, bend.over_bend_to, held, bend.k, stress)]


def _turned_by(bend: BendAnswer) -> float:
    """Radians that the bar is turned in the bender from before a curve to after it."""
    if bend.hits > 1:
        return radians(bend.hit_turn) * bend.hits
    if not bend.pitch_mm or bend.bar is None:
        return 0.0
    centre = bend.inside_radius.mm_float + bend.bar.centroid_mm
    return radians(bend.angle) * sin(atan2(bend.pitch_mm, 2 * pi * centre))


def _from_start(mark: Length, answer: PartAnswer) -> float:
    if answer.datum == "finish":
        return (answer.cut - mark).mm_float
    if answer.datum == "middle":
        return mark.mm_float + (answer.cut.nm // 2) / 1e6
    return mark.mm_float
