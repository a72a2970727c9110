"""Many bent parts at once: lengths, marks, and which of the shop's benders makes which bend.

For parts of legs, bends and turns. The formulas are those of single parts, evaluated once for every
combination of bar, grade and radius and then applied to all bends with numpy. Begin at `survey`.
"""

from collections.abc import Sequence
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from shopquote.calc.bar.benders import Bender, BendingShop
from shopquote.calc.bar.fit import hand_force_n, nearest_former, serves
from shopquote.calc.bar.grades import Grade, at_thickness
from shopquote.calc.bar.limits import as_bent
from shopquote.calc.bar.moment import BendSection, bend_section
from shopquote.calc.bar.neutral_axis import k_of_bend, measured_beyond_mm, tests_for
from shopquote.calc.bar.pulls import pull_of, theory
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import Bend, Leg, Turn, Word
from shopquote.calc.bar.shortfalls import Demand, with_friction
from shopquote.calc.bar.sizes import SAME_MM
from shopquote.calc.bar.springback import springback_ratio
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import NM_PER_MM, Length
from shopquote.errors import CannotMakeError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Codes of shortfalls, those of `fit`, one bit each.
LACKS = ("bar-too-large", "moment", "no-former", "angle", "short-leg", "bends-too-near")
_TOO_LARGE, _MOMENT, _FORMER, _ANGLE, _LEG, _BETWEEN = (1 << bit for bit in range(len(LACKS)))


@dataclass(frozen=True, slots=True)
class PlainPart:
    """A part of legs, bends and turns only."""

    section: Section
    grade: Grade
    words: tuple[Word, ...]
    dims: Dims = "outside"
    bend_axis: BendAxis = "easy"


@dataclass(frozen=True, slots=True)
class Survey:
    """The results for p parts with b bends, all parts' bends in one sequence, on m benders.

    part_of, angle: index of the part and signed degrees of each bend, (b,). developed_nm, too_short (a leg
    shorter than its setbacks): (p,). start_nm, end_nm: marks, (b,). lacks: bits of `LACKS`, (b, m). chosen:
    index of the bender that makes each bend, -1 for none, (b,). pull_to: degrees, (b, m).
    """

    part_of: Ints
    angle: Floats
    developed_nm: Ints
    too_short: NDArray[np.bool_]
    start_nm: Ints
    end_nm: Ints
    lacks: NDArray[np.uint8]
    chosen: Ints
    pull_to: Floats

    def lacking(self, bender: int) -> dict[str, int]:
        """Number of bends with each shortfall on one bender, by code."""
        bits = self.lacks[:, bender]
        counts = {word: int(np.count_nonzero(bits & (1 << bit))) for bit, word in enumerate(LACKS)}
        return {word: count for word, count in counts.items() if count}

    def made_by(self, bender: int) -> tuple[int, int]:
        """Number of bends, and of whole parts, that one bender can make."""
        makes = self.lacks[:, bender] == 0
        missed = np.zeros(len(self.developed_nm), dtype=np.int64)
        np.add.at(missed, self.part_of, ~makes)
        return int(np.count_nonzero(makes)), int(np.count_nonzero(missed == 0))


def takes(words: Sequence[Word]) -> bool:
    """Whether a shape can be surveyed: legs, bends and turns only, with at least one bend."""
    return any(isinstance(word, Bend) for word in words) and all(
        isinstance(word, Leg | Bend | Turn) for word in words
    )


@dataclass
class _Kinds:
    """The different bends apart from their angles: bar as it lies, grade, inside radius, `dims`.

    `places`: index in `rows`, by the part's bar, axis, grade and `dims`, then by radius in nm and roll.
    """

    shop: BendingShop
    places: dict[tuple[int, str, int, str], dict[tuple[int, float], int]] = field(default_factory=dict)
    rows: list[tuple[float, ...]] = field(default_factory=list)
    by_bender: list[list[tuple[float, float, float]]] = field(default_factory=list)

    def of(self, part: PlainPart) -> dict[tuple[int, float], int]:
        """Indices of the bends of parts such as this."""
        # By identity: the parts of a list share their sections, so that none need be compared.
        key = (id(part.section), part.bend_axis, id(part.grade), part.dims)
        found = self.places.get(key)
        if found is None:
            if reason := part.section.cannot("bend"):
                raise CannotMakeError(f"A {part.section.kind}: {reason}.")
            found = self.places[key] = {}
        return found

    def place(self, part: PlainPart, radius_nm: int, roll: float) -> int:
        """The index of a new kind of bend, which is evaluated."""
        place = self.of(part)[radius_nm, roll] = len(self.rows)
        self._work_out(part, roll, radius_nm)
        return place

    def _work_out(self, part: PlainPart, roll: float, radius_nm: int) -> None:
        bar = bend_section(part.section, part.bend_axis, roll)
        radius = Length(radius_nm)
        grade = as_bent(at_thickness(part.grade, part.section.thickness_mm), part.section)
        inside = radius.mm_float
        k = bar.centroid_mm / bar.depth_mm
        if bar.square_on:
            k = k_of_bend(bar.section, grade, bar.axis, radius, self.shop).k
        _, spring = theory(bar, grade, inside + bar.centroid_mm)
        shares = [
            test.over_bend / test.angle
            for test in tests_for(self.shop.bend_tests, bar.section, grade, bar.axis, radius)
            if test.over_bend is not None
        ]
        pull = pull_of(bar, grade, inside + bar.centroid_mm, shares)
        measured = pull.usual if shares else 0.0
        more = measured_beyond_mm(part.dims, bar.depth_mm, bar.centroid_mm)
        self.rows.append((inside, bar.depth_mm, float("nan") if more is None else more, k))
        demand = Demand(
            bar=bar,
            grade=grade.at("usual"),
            most_over_usual=pull.most_over_usual,
            inside_mm=inside,
            held_mm=spring.held_mm - bar.centroid_mm,
            angle=1.0,
            pull_to=1.0,
            stress_mpa=spring.stress_mpa,
            moment_nmm=spring.moment_nmm,
            before_mm=0.0,
            after_mm=0.0,
            before_is_end=False,
            after_is_end=False,
        )
        self.by_bender.append([_on_bender(demand, bar, bender, measured) for bender in self.shop.benders])


def _on_bender(
    demand: Demand, bar: BendSection, bender: Bender, measured: float
) -> tuple[float, float, float]:
    """Shortfalls independent of the angle, ratio of pull to angle, and hand force in N, on one bender."""
    lacks = 0
    if bar.depth_mm > bender.opening.mm_float + 1e-9 or bar.width_mm > bender.width.mm_float + 1e-9:
        lacks |= _TOO_LARGE
    former, left = nearest_former(demand, bender)
    over, moment = 1 / (demand.held_mm + bar.centroid_mm), demand.moment_nmm
    over *= demand.inside_mm + bar.centroid_mm
    if former is None or not serves(demand, left):
        lacks |= _FORMER
    if former is not None:
        held = former.radius.mm_float + bar.centroid_mm
        moment = bar.moment_nmm(demand.stress_mpa, demand.grade.e_mpa, held)
        ratio = springback_ratio(bar, demand.stress_mpa, demand.grade.e_mpa, held)
        over = 1 / ratio if ratio > 0 else float("inf")
    moment *= demand.most_over_usual
    if with_friction(moment, bender) / 1000 > bender.largest_moment_nm:
        lacks |= _MOMENT
    return float(lacks), measured or over, hand_force_n(moment, bender) or 0.0


def survey(parts: Sequence[PlainPart], shop: BendingShop) -> Survey:
    """Develop, mark and try every bend of many parts on every bender.

    Raises:
        CannotMakeError: a part has another word than leg, bend and turn, or no bend.
    """
    kinds = _Kinds(shop)
    legs: list[int] = []
    angles: list[float] = []
    kind: list[int] = []
    counts = [_flatten(part, kinds, legs, angles, kind) for part in parts]
    leg_nm = np.array(legs, dtype=np.int64)
    return _answer(
        np.maximum(leg_nm, 0) / NM_PER_MM, leg_nm >= 0, np.array(angles), np.array(kind, dtype=np.int64),
        np.array(counts, dtype=np.int64), kinds,
    )  # fmt: skip


NO_LEG = -1  # between two bends that follow each other


def _flatten(part: PlainPart, kinds: _Kinds, legs: list[int], angles: list[float], kind: list[int]) -> int:
    """Append one part: leg lengths in nm before, between and after its bends; return the number of bends."""
    leg, roll, before = NO_LEG, 0.0, len(angles)
    lopsided, first = part.section.lopsided, None
    whole = 360.0 if lopsided else 180.0
    find = kinds.of(part).get
    add_leg, add_angle, add_kind = legs.append, angles.append, kind.append
    for word in part.words:
        # By exact class, faster than isinstance, and no word has subclasses: this loop dominates large
        # surveys.
        what = type(word)
        if what is Leg:
            length = word.length.length.nm  # type: ignore[union-attr]
            leg = length if leg < 0 else leg + length
        elif what is Bend:
            lies = roll
            if lopsided:
                back = 180.0 if word.angle < 0 else 0.0  # type: ignore[union-attr]
                if first is None:
                    first = 180.0 * ((part.section.rolled(roll) + back) % 360.0 >= 180.0)
                lies = part.section.half_turn(part.section.rolled(roll) + back - first)
            key = word.radius.length.nm, lies  # type: ignore[union-attr]
            place = find(key)
            add_kind(kinds.place(part, *key) if place is None else place)
            add_angle(word.angle)  # type: ignore[union-attr]
            add_leg(leg)
            leg = NO_LEG
        elif what is Turn:
            roll = round((roll + word.angle) % whole, 9) % whole  # type: ignore[union-attr]
        else:
            name = what.__name__.lower()
            raise CannotMakeError(f"A survey takes legs, bends and turns; a part has {name!r}.")
    if len(angles) == before:
        raise CannotMakeError("A survey takes bent parts; a part has no bend.")
    legs.append(leg)
    return len(angles) - before


def _answer(
    legs: Floats, has_leg: NDArray[np.bool_], angles: Floats, kind: Ints, counts: Ints, kinds: _Kinds
) -> Survey:
    inside, depth, beyond, k = np.array(kinds.rows).T[:, kind]
    turned = np.abs(angles)
    part_of = np.repeat(np.arange(len(counts)), counts)
    before = np.arange(len(angles)) + part_of
    after = before + 1
    factor = np.where(turned <= 90, np.tan(np.radians(np.minimum(turned, 90.0)) / 2), 1.0)
    setback = np.where(np.isnan(beyond), 0.0, factor * (inside + np.nan_to_num(beyond)))
    straights = legs.copy()
    # Each index occurs once in `before` and once in `after`, so plain fancy-index subtraction is right.
    straights[before] -= np.where(has_leg[before], setback, 0.0)
    straights[after] -= np.where(has_leg[after], setback, 0.0)
    first_gap = np.concatenate(([0], np.cumsum(counts + 1)[:-1]))
    too_short = np.logical_or.reduceat(straights < -SAME_MM, first_gap)
    straights = np.maximum(straights, 0.0)
    allowance = np.radians(turned) * (inside + k * depth)
    start, end, developed = _places(straights, allowance, counts, part_of, before, first_gap)
    lacks, pull_to, force = _tried(straights, angles, kind, before, after, part_of, counts, kinds)
    return Survey(
        part_of=part_of,
        angle=angles,
        developed_nm=developed,
        too_short=too_short,
        start_nm=start,
        end_nm=end,
        lacks=lacks,
        chosen=_chosen(lacks, force, part_of, counts, kinds.shop),
        pull_to=pull_to,
    )


def _places(
    straights: Floats, allowance: Floats, counts: Ints, part_of: Ints, before: Ints, first_gap: Ints
) -> tuple[Ints, Ints, Ints]:
    """Start and end of every bend and length of every part in nm, measured from each part's start."""
    gaps = np.cumsum(straights)
    bends = np.cumsum(allowance)
    first_bend = np.concatenate(([0], np.cumsum(counts)[:-1]))
    gaps_gone = np.concatenate(([0.0], gaps))[first_gap]
    bends_gone = np.concatenate(([0.0], bends))[first_bend]
    end = gaps[before] - gaps_gone[part_of] + bends - bends_gone[part_of]
    last_bend = first_bend + counts - 1
    developed = end[last_bend] + straights[first_gap + counts]
    whole = [np.rint(values * NM_PER_MM).astype(np.int64) for values in (end - allowance, end, developed)]
    return whole[0], whole[1], whole[2]


def _tried(
    straights: Floats,
    angles: Floats,
    kind: Ints,
    before: Ints,
    after: Ints,
    part_of: Ints,
    counts: Ints,
    kinds: _Kinds,
) -> tuple[NDArray[np.uint8], Floats, Floats]:
    """Shortfalls, angle to pull to in degrees and hand force in N, by bend and bender."""
    benders = kinds.shop.benders
    table = np.array(kinds.by_bender).reshape(len(kinds.rows), len(benders), 3)
    # One column at a time, so that gathered values are contiguous: most time of large surveys is spent here.
    lacks = table[:, :, 0].astype(np.uint8)[kind]
    pull_to = np.ascontiguousarray(table[:, :, 1])[kind]
    pull_to *= angles[:, None]
    largest = np.array([bender.largest_angle for bender in benders])
    lacks |= (np.abs(pull_to) > largest + 1e-9) * np.uint8(_ANGLE)
    least_leg = np.array([bender.smallest_leg.mm_float for bender in benders]) - 1e-9
    least_gap = np.array([bender.smallest_between.mm_float for bender in benders]) - 1e-9
    first = np.concatenate(([True], part_of[1:] != part_of[:-1]))
    last = np.concatenate((part_of[1:] != part_of[:-1], [True]))
    for gap, at_end in ((straights[before], first), (straights[after], last)):
        short = (gap[:, None] < least_gap) * np.uint8(_BETWEEN)
        short[at_end] = (gap[at_end, None] < least_leg) * np.uint8(_LEG)
        lacks |= short
    return lacks, pull_to, np.ascontiguousarray(table[:, :, 2])[kind]


def _chosen(lacks: NDArray[np.uint8], force: Floats, part_of: Ints, counts: Ints, shop: BendingShop) -> Ints:
    """The bender for each bend, by the order of preference of `choose_benders`."""
    if not shop.benders:
        return np.full(len(part_of), -1, dtype=np.int64)
    first_bend = np.concatenate(([0], np.cumsum(counts)[:-1]))
    hard = force > shop.hand_pull_n
    missed = np.add.reduceat((lacks != 0).astype(np.int64), first_bend)
    hard_ones = np.add.reduceat(hard.astype(np.int64), first_bend)
    strength = np.array([bender.largest_moment_nm for bender in shop.benders])
    strengths = np.broadcast_to(strength, missed.shape)
    ranked = np.lexsort((strengths, hard_ones, missed), axis=1)
    rank = np.empty_like(ranked)
    np.put_along_axis(rank, ranked, np.broadcast_to(np.arange(len(strength)), ranked.shape), axis=1)
    cost = rank.astype(np.int32)[part_of]
    cost += hard * np.int32(1000)
    cost += (lacks != 0) * np.int32(1_000_000)
    best = np.argmin(cost, axis=1)
    return np.where(cost[np.arange(len(best)), best] >= 1_000_000, -1, best)
