"""Which bender and former make a bend, with what force, or what is lacking.

Float mm, N mm, degrees. Begin at `fit_bend`. These are warnings for planning: the program never says what
load a bender, a lever or a hook may carry.
"""

from collections.abc import Sequence
from math import isfinite

from shopquote.calc.bar.benders import Bender, BendingShop, Former
from shopquote.calc.bar.shortfalls import (
    Demand,
    HowMade,
    Shortfall,
    angle_shortfall,
    former_shortfall,
    leg_shortfalls,
    moment_shortfalls,
    no_former,
    roll_shortfalls,
    size_shortfalls,
    step_shortfalls,
    with_friction,
)
from shopquote.calc.bar.sizes import SAME_MM
from shopquote.calc.bar.small_bends import SmallBends
from shopquote.calc.bar.small_bends_on import MadeSmall, largest_along, made_on
from shopquote.calc.bar.springback import springback_ratio
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length

# A former serves if the radius that it leaves is within the larger of these two of the one asked for (a share
# of it, and mm): common practice, no source.
FORMER_SHARE = 0.05
FORMER_MM = 1.0


@dataclass(frozen=True, slots=True)
class Fit:
    """The result of trying a bender on a bend: the former it would use, and every shortfall.

    left_mm: inside radius after release; pull_to: angle to pull to in degrees, the total of small bends;
    moment_nmm: bending moment needed at a flow stress of `stress_mpa`; `small`: its small bends.
    """

    bender: Bender
    former: Former | None
    how: HowMade
    left_mm: float
    pull_to: float
    moment_nmm: float
    hand_force_n: float | None
    shortfalls: tuple[Shortfall, ...]
    stress_mpa: float = 0.0
    small: MadeSmall | None = None

    @property
    def makes_it(self) -> bool:
        """Whether the bender can make the bend: it has no shortfall."""
        return not self.shortfalls


def hand_force_n(moment_nmm: float, bender: Bender) -> float | None:
    """Force in N at the end of the lever: moment / lever, plus the friction allowance; None when powered.

    >>> size = Length.from_mm(50)
    >>> bench = Bender("bench", 260.0, size, size, Length.from_mm(1000), (), size, size)
    >>> round(hand_force_n(72_000, bench), 1)
    82.8
    """
    if bender.powered or not bender.lever:
        return None
    return with_friction(moment_nmm, bender) / bender.lever.mm_float


def fit_bend(demand: Demand, bender: Bender) -> Fit:
    """Try one bender on one bend."""
    lacking = [*size_shortfalls(demand, bender), *leg_shortfalls(demand, bender)]
    former, left = nearest_former(demand, bender)
    how: HowMade = "former"
    pull_to, moment, small = demand.pull_to, demand.moment_nmm, None
    if demand.curve and not _wraps_on(demand, former, left, bender):
        how = demand.made_by or _curve_by(demand, bender)
        left = demand.inside_mm
        if how == "rolls":
            former = None
            lacking.extend(roll_shortfalls(demand, bender))
        else:
            former = small_bend_former(demand, bender)
            if former is None:
                lacking.append(no_former(demand))
            elif demand.small is not None:
                small = _small_on(demand, demand.small, bender, former)
                pull_to, moment = sum(small.pulls), small.moment_nmm
            lacking.extend(step_shortfalls(demand, bender))
    elif former is None:
        lacking.append(no_former(demand))
    else:
        by_theory, moment = _on_former(demand, former, demand.angle, demand.stress_mpa)
        pull_to = demand.pull_to if demand.measured else by_theory
        if not serves(demand, left):
            lacking.append(former_shortfall(demand, former, left, _next_left(demand, bender)))
    moment *= demand.most_over_usual
    lacking.extend(moment_shortfalls(demand, moment, bender))
    if how == "former" and abs(pull_to) > bender.largest_angle + 1e-9:
        lacking.append(angle_shortfall(pull_to, bender))
    return Fit(
        bender, former, how, left, pull_to, moment, hand_force_n(moment, bender), tuple(lacking),
        small.stress_mpa[0] if small else demand.stress_mpa, small,
    )  # fmt: skip


def _wraps_on(demand: Demand, former: Former | None, left: float, bender: Bender) -> bool:
    """Whether a curve is bent round one former in one pull."""
    if demand.made_by is not None or not demand.wraps or former is None or not serves(demand, left):
        return False
    return abs(_on_former(demand, former, demand.angle, demand.stress_mpa)[0]) <= bender.largest_angle


def small_bend_former(demand: Demand, bender: Bender) -> Former | None:
    """The former for small bends: the largest that is tighter than the curve and no tighter than allowed."""
    fitting = [
        former for former in _that_take(demand, bender) if former.radius.mm_float <= demand.held_mm + 1e-9
    ]
    return max(fitting, key=lambda former: former.radius.nm, default=None)


def _that_take(demand: Demand, bender: Bender) -> list[Former]:
    """Formers that take the bar and are no tighter than its grade allows.

    For a curve that is itself tighter than that, all: the risk of cracking is then reported for the curve.
    """
    least = demand.least_mm if demand.inside_mm >= demand.least_mm - 1e-9 else 0.0
    return [
        former
        for former in bender.all_formers
        if least - 1e-9 <= former.radius.mm_float
        and (former.largest is None or former.largest.mm_float >= demand.bar.depth_mm)
    ]


def _small_on(demand: Demand, bends: SmallBends, bender: Bender, tightest: Former) -> MadeSmall:
    formers = (tightest,) * len(bends.angles)
    if demand.formers_along and not demand.wraps:
        formers = largest_along(demand.bar, demand.grade, bends, _that_take(demand, bender), tightest)
    return made_on(demand.bar, demand.grade, bends, formers)


def _on_former(demand: Demand, former: Former, angle: float, stress_mpa: float) -> tuple[float, float]:
    """Angle in degrees to pull to on a former, and the moment there in N mm."""
    held = former.radius.mm_float + demand.bar.centroid_mm
    moment = demand.bar.moment_nmm(stress_mpa, demand.grade.e_mpa, held)
    ratio = springback_ratio(demand.bar, stress_mpa, demand.grade.e_mpa, held)
    return (angle / ratio if ratio > 0 else float("inf")), moment


def _curve_by(demand: Demand, bender: Bender) -> HowMade:
    # Rolls are set to one radius at a time, so they make no scrolls.
    if demand.wraps and bender.rolls_to is not None and bender.rolls_to.mm_float <= demand.held_mm + 1e-9:
        return "rolls"
    return "small bends"


def nearest_former(demand: Demand, bender: Bender) -> tuple[Former | None, float]:
    """The former to use and the inside radius in mm that it leaves.

    The former with the radius asked for where it serves, since that is what a person would take; else the one
    that leaves the nearest radius. None where no former bends the bar beyond its elastic limit.
    """
    best: Former | None = None
    best_off = 0.0
    for former in bender.all_formers:
        if former.largest is not None and former.largest.mm_float < demand.bar.depth_mm:
            continue
        radius = former.radius.mm_float
        if abs(radius - demand.inside_mm) < SAME_MM:
            left = left_by_former(demand, former)
            if serves(demand, left):
                return former, left
        # The radius left increases with the radius held, so the nearest former leaves the nearest radius.
        off = abs(radius - demand.held_mm)
        if best is None or off < best_off:
            best, best_off = former, off
    if best is None:
        return None, 0.0
    left = left_by_former(demand, best)
    return (best, left) if isfinite(left) else (None, 0.0)


def _next_left(demand: Demand, bender: Bender) -> float | None:
    """The least radius in mm above the one drawn that some former leaves and the grade allows, or None."""
    left = (left_by_former(demand, former) for former in _that_take(demand, bender))
    floor = max(demand.least_mm, demand.inside_mm)
    return min((radius for radius in left if isfinite(radius) and radius > floor), default=None)


def left_by_former(demand: Demand, former: Former) -> float:
    """Inside radius in mm that a bend on a former has after release."""
    held = former.radius.mm_float + demand.bar.centroid_mm
    ratio = springback_ratio(demand.bar, demand.stress_mpa, demand.grade.e_mpa, held)
    return held / ratio - demand.bar.centroid_mm if ratio > 0 else float("inf")


def serves(demand: Demand, left: float) -> bool:
    """Whether the inside radius left by a former, in mm, is near enough to the one asked for."""
    return abs(left - demand.inside_mm) <= max(FORMER_MM, FORMER_SHARE * demand.inside_mm)


def choose_benders(demands: Sequence[Demand], shop: BendingShop) -> tuple[Fit | None, ...]:
    """One fit for each bend, by one bender for the whole part where possible.

    Benders that make more of the bends are preferred, then those with fewer bends too hard to pull by hand,
    then those with fewer curves made by small bends, then the lighter one. A bend that no bender makes has
    the fit of the bender that comes nearest, with its shortfalls.
    """
    if not shop.benders:
        return tuple(None for _ in demands)
    table = [[fit_bend(demand, bender) for demand in demands] for bender in shop.benders]
    ranked = sorted(range(len(table)), key=lambda row: _rank(table[row], shop.hand_pull_n))
    chosen: list[Fit | None] = []
    for column in range(len(demands)):
        fits = [table[row][column] for row in ranked]
        making = [fit for fit in fits if fit.makes_it]
        by_hand = [fit for fit in making if not is_hard_pull(fit, shop.hand_pull_n)]
        if by_hand or making:
            chosen.append((by_hand or making)[0])
        else:
            chosen.append(min(fits, key=_far_off))
    return tuple(chosen)


def _far_off(fit: Fit) -> tuple[bool, int, float]:
    """Sort key: how far a bender is from making a bend; one without a suitable tool comes last."""
    toolless = fit.former is None and fit.how != "rolls"
    return toolless, len(fit.shortfalls), max(lack.share for lack in fit.shortfalls)


def _rank(fits: Sequence[Fit], hand_pull_n: float) -> tuple[int, int, int, float]:
    missed = sum(not fit.makes_it for fit in fits)
    hard = sum(is_hard_pull(fit, hand_pull_n) for fit in fits)
    small = sum(fit.how == "small bends" for fit in fits)
    return missed, hard, small, fits[0].bender.largest_moment_nm if fits else 0.0


def is_hard_pull(fit: Fit, hand_pull_n: float) -> bool:
    """Whether the lever needs more than the force of one person."""
    return fit.hand_force_n is not None and fit.hand_force_n > hand_pull_n


def as_length(value_mm: float) -> Length:
    """Millimetres from a formula as a `Length`, rounded to the nanometre."""
    return Length(round(value_mm * 1e6))
