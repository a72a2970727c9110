"""Bending instructions of a part: for each bend the angle to pull to, marks, stop, hits, and gap left.

Begin at `bend_answers`.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import cos, floor, hypot, radians, sin

from shopquote.calc.bar.benders import Bender, BendingShop, Datum
from shopquote.calc.bar.curves import Curve
from shopquote.calc.bar.fit import Fit, as_length
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.limits import is_too_tight, limits_of
from shopquote.calc.bar.part_answer import BendAnswer, BendMark, OrderStep
from shopquote.calc.bar.pulls import beside_degrees
from shopquote.calc.bar.small_bends import SmallBends, gap_mm
from shopquote.calc.bar.small_bends_on import made_on
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, Unit

# Flow stress used for bends that do not spring back, so that the common formulas give a springback of 0.
NO_SPRING_MPA = 1e-6
# Points along a bend at which it is compared with the one asked for.
LOOKS = 8


@dataclass(frozen=True, slots=True)
class _Place:
    """The situation of one bend: its step of the bending order, bends made before it, number of bends."""

    step: OrderStep
    made: frozenset[int]
    bends: int


def bend_answers(
    curves: Sequence[Curve],
    fits: Sequence[Fit | None],
    order: Sequence[OrderStep],
    grade: Grade,
    shop: BendingShop,
    cut: Length,
) -> tuple[BendAnswer, ...]:
    """Instructions for all bends of a part, in order along the bar.

    `curves` and `fits` correspond one to one. Without an `order`, bends are made in order along the bar.
    `cut` is the sawn length.
    """
    steps = order or [OrderStep(number, "finish", False, 0.0) for number in range(1, len(curves) + 1)]
    places = {
        step.bend: _Place(step, frozenset(done.bend for done in steps[:at]), len(curves))
        for at, step in enumerate(steps)
    }
    return tuple(
        _answer(number, curve, fit, places[number], grade, shop, cut)
        for number, (curve, fit) in enumerate(zip(curves, fits, strict=True), start=1)
    )


def _answer(
    number: int, curve: Curve, fit: Fit | None, place: _Place, grade: Grade, shop: BendingShop, cut: Length
) -> BendAnswer:
    run = curve.run
    start, end = curve.start_mm, curve.start_mm + run.flat_mm
    limit, least = limits_of(grade, curve.bar)
    answer = BendAnswer(
        angle=run.angle,
        inside_radius=as_length(run.inside_mm),
        mark=BendMark(as_length(start), as_length((start + end) / 2), as_length(end)),
        over_bend_to=curve.over_bend_to,
        over_bend_source=curve.over_bend_source,
        moment_nm=curve.spring.moment_nmm * curve.pull.most_over_usual / 1000,
        outer_strain=curve.outer_strain,
        is_3d=curve.is_3d,
        kind=run.kind,
        word=run.word,
        k=run.k.k if run.k else 0.5,
        k_rule=run.k.rule if run.k else "centreline",
        k_spread=run.k.spread if run.k else 0.0,
        flow_stress_mpa=curve.spring.stress_mpa,
        strain_limit=limit,
        least_radius=as_length(least),
        held_radius=as_length(curve.held_mm),
        bar=curve.bar,
        turn=run.turn if number > 1 else 0.0,
        leg=run.leg,
        pitch_mm=run.pitch_mm,
        by=run.by,
        hot=curve.hot or _beyond_cold(curve, fit, grade),
    )
    if run.by != "bender":
        return _with_setting(_by_hand(answer), None, place, shop.datum, cut)
    made = fit if fit is not None and fit.makes_it else None
    answer = _by_bender(answer, curve, fit, made)
    answer = replace(answer, unmade=fit is not None and made is None and not answer.hot)
    small = curve.small if curve.hits_of(fit) > 1 else None
    if small is not None:
        answer = _with_small_bends(answer, curve, small, made, shop, cut)
        answer = replace(answer, hit_between=_hit_ranges(answer, curve, small, made, grade))
    else:
        between = curve.pull.between(curve.run.angle, answer.over_bend_to)
        answer = replace(answer, gap_mm=_former_gap_mm(answer), over_bend_between=between)
    return _with_setting(answer, made.bender if made else None, place, shop.datum, cut)


def _by_bender(answer: BendAnswer, curve: Curve, fit: Fit | None, made: Fit | None) -> BendAnswer:
    """The answer with the bender's data. Of a bender that cannot make the bend, only its way and force."""
    if fit is None:
        return answer
    answer = replace(
        answer, hand_force_n=fit.hand_force_n, how=fit.how, works_by=_works_by(fit.bender, fit.how)
    )
    if made is None:
        return answer
    return replace(
        answer,
        over_bend_to=curve.over_bend_to if made.how == "rolls" or curve.measured else made.pull_to,
        moment_nm=made.moment_nmm / 1000,
        bender=made.bender.name,
        former_radius=made.former.radius if made.former else None,
        left_radius=as_length(made.left_mm),
        stress_mpa=made.stress_mpa,
    )


def _beyond_cold(curve: Curve, fit: Fit | None, grade: Grade) -> bool:
    """Whether a bend must be made hot: too tight for cold metal, or too strong for every bender."""
    if curve.run.by != "bender" or fit is None:
        return False
    strong = any(lack.code == "moment" for lack in fit.shortfalls)
    return strong or is_too_tight(grade, curve.bar, curve.run.inside_mm)


def _by_hand(answer: BendAnswer) -> BendAnswer:
    """The answer for a bend made without a bender; only on a pin or mandrel does it spring back."""
    how = "hot" if answer.hot else _BY[answer.by]
    if answer.hot or answer.by in ("notch", "blocks"):
        return replace(
            answer, how=how, over_bend_to=answer.angle, held_radius=answer.inside_radius,
            flow_stress_mpa=NO_SPRING_MPA,
        )  # fmt: skip
    return replace(answer, how=how)


_BY = {
    "fire": "hot", "wrap": "hot", "pin": "on a pin", "blocks": "in joggle blocks",
    "notch": "notched and folded",
    "mandrel": "on a mandrel",
}  # fmt: skip


def _works_by(bender: Bender, how: str) -> str:
    return "rolls" if how == "rolls" else bender.works_by


def _former_gap_mm(answer: BendAnswer) -> float:
    """Greatest distance in mm from the bend asked for where the former leaves another radius.

    The bend's middle is kept, so both legs are displaced equally. At an angle p from the start of both arcs
    they differ by off (sin p - a/2, 1 - cos p), off being the difference of radii and a the angle of bend.
    """
    if answer.left_radius is None or answer.how == "rolls":
        return 0.0
    off = answer.left_radius.mm_float - answer.inside_radius.mm_float
    turned, worst = radians(abs(answer.angle)), 0.0
    for look in range(LOOKS + 1):
        p = turned * look / LOOKS
        along = p - turned / 2
        x = sin(p) - turned / 2 - along * cos(p)
        y = 1 - cos(p) - along * sin(p)
        worst = max(worst, hypot(x, y))
    return abs(off) * worst


def _with_small_bends(
    answer: BendAnswer, curve: Curve, small: SmallBends, made: Fit | None, shop: BendingShop, cut: Length
) -> BendAnswer:
    """Add marks, angles, over-bends and formers of the small bends."""
    by_former = made.small if made else None
    pulls = by_former.pulls if by_former else tuple(angle / curve.spring.ratio for angle in small.angles)
    # Where no bender makes them: on the former that would leave the curve's tightest radius.
    centre_mm = curve.run.inside_mm + curve.bar.centroid_mm
    left = by_former.left_mm if by_former else (centre_mm,) * len(pulls)
    marks = tuple(
        from_datum(as_length(curve.start_mm + centre), shop.datum, cut) for centre in small.centres_mm
    )
    same_step = max(small.steps_mm) - min(small.steps_mm) < 0.01
    depth, centroid = curve.bar.depth_mm, curve.bar.centroid_mm
    return replace(
        answer,
        hits=len(small.angles),
        over_bend_to=sum(pulls),
        gap_mm=gap_mm(curve.run, small, shop.small_bends, left),
        hit_advance=as_length(sum(small.steps_mm) / len(small.steps_mm)) if same_step else None,
        hit_angle=sum(small.angles) / len(small.angles),
        hit_over_bend=sum(pulls) / len(pulls),
        hit_marks=marks,
        hit_angles=small.angles,
        hit_over_bends=pulls,
        hit_turn=small.turn,
        hit_formers=tuple(former.radius for former in by_former.formers) if by_former else (),
        hit_left=tuple(as_length(radius - centroid) for radius in left),
        hit_stress_mpa=by_former.stress_mpa if by_former else (),
        hit_ks=tuple(
            (centroid - gain / radians(abs(angle))) / depth
            for gain, angle in zip(small.gains_mm, small.angles, strict=True)
        ),
    )


def _hit_ranges(
    answer: BendAnswer, curve: Curve, small: SmallBends, made: Fit | None, grade: Grade
) -> tuple[tuple[float, float], ...]:
    """Least and greatest angle to pull each small bend to, in degrees, from weakest to strongest metal.

    Each on its own former, including the springback of the bar beside it; or by the shop's tests of the
    curve.
    """
    pull = curve.pull
    if made is None or made.small is None or curve.measured:
        low, high = pull.least / pull.usual, pull.most / pull.usual
        return tuple(_ordered(angle * low, angle * high) for angle in answer.hit_over_bends)
    soft, strong = (made_on(curve.bar, grade.at(one), small, made.small.formers) for one in ("least", "most"))
    beside = beside_degrees(curve.bar, grade, strong.moment_nmm)
    return tuple(
        _ordered(low, high + (beside if high > 0 else -beside))
        for low, high in zip(soft.pulls, strong.pulls, strict=True)
    )


def _ordered(one: float, other: float) -> tuple[float, float]:
    return (one, other) if abs(one) <= abs(other) else (other, one)


def _with_setting(
    answer: BendAnswer, bender: Bender | None, place: _Place, datum: Datum, cut: Length
) -> BendAnswer:
    """Add the mark by which the bar is set in the bender, the gripped end and the stop.

    The bend begins at the grip, on its far side; the mark's offset is positive away from the grip.
    """
    grip = place.step.grip if bender is not None else "start"
    # On rolls the bar is fed in from its mark, whatever the bender's `mark_at`.
    set_by = bender if answer.how != "rolls" else None
    at = set_by.mark_at if set_by else "start"
    offset = set_by.mark_offset_nm if set_by else 0

    def point(centre: Length, half_nm: int) -> Length:
        way = -1 if grip == "finish" else 1
        moved = {"start": -half_nm, "centre": 0, "end": half_nm}[at] + offset
        return Length(centre.nm + way * moved)

    mark = point(answer.mark.centre, _half_arc_nm(answer))
    hit_points: tuple[Length, ...] = ()
    if answer.hit_marks:
        hit_points = tuple(
            from_datum(point(_to_start(centre, datum, cut), _arc_nm(angle, left, k, answer) // 2), datum, cut)
            for centre, angle, left, k in zip(
                answer.hit_marks, answer.hit_angles, answer.hit_left, answer.hit_ks, strict=True
            )
        )
    stop_end = _stop_end(answer, place, grip)
    stop = None if not stop_end else mark if stop_end == "start" else cut - mark
    return replace(
        answer,
        bender_mark=from_datum(mark, datum, cut),
        bender_mark_at=at,
        hit_bender_marks=hit_points,
        grip_end=place.step.grip if bender is not None else "",
        stop_end=stop_end,
        stop=stop,
    )


def _half_arc_nm(answer: BendAnswer) -> int:
    """Half the bend allowance in nm, at the radius that the former leaves, else the one asked for."""
    if answer.how != "former" or answer.left_radius is None or answer.hits > 1:
        return (answer.mark.end.nm - answer.mark.start.nm) // 2
    return _arc_nm(answer.angle, answer.left_radius, answer.k, answer) // 2


def _arc_nm(angle: float, left: Length, k: float, answer: BendAnswer) -> int:
    depth = answer.bar.depth_mm if answer.bar else 0.0
    circle = radians(abs(angle)) * (left.mm_float + k * depth)
    return (
        round(hypot(circle, answer.pitch_mm * angle / 360) * 1e6) if answer.hits == 1 else round(circle * 1e6)
    )


def _stop_end(answer: BendAnswer, place: _Place, grip: str) -> str:
    """The end of the bar that can go against a stop, being still straight up to the mark; "" for none.

    The gripped end where there is one; on a ram either end, the finish first.
    """
    # Small bends are fed from mark to mark, so a fixed stop is of no use.
    if answer.how == "rolls" or answer.hits > 1:
        return ""
    number = place.step.bend
    straight = {
        "start": not any(bend < number for bend in place.made),
        "finish": not any(bend > number for bend in place.made),
    }
    for end in (grip,) if grip else ("finish", "start"):
        if straight[end]:
            return end
    return ""


def from_datum(point: Length, datum: str, cut: Length) -> Length:
    """A position along the bar (from its start) as measured from the shop's datum.

    Negative for positions before the middle, where that is the datum.
    """
    if datum == "finish":
        return cut - point
    if datum == "middle":
        return Length(point.nm - cut.nm // 2)
    return point


def on_piece(mark: Length, datum: str, cut: Length, unit: Unit) -> Length:
    """A mark moved so that it is still on the sawn piece after sheets round it to 0.5 mm or 1/32 in.

    >>> on_piece(Length.from_mm("357.4"), "start", Length.from_mm("357.4"), "mm").mm_float
    357.0
    """
    step = Length.from_mm("0.5").nm if unit == "mm" else Length.from_inches("1/32").nm
    low = -(cut.nm // 2) if datum == "middle" else 0
    if not low <= mark.nm <= low + cut.nm:
        return mark  # really off the piece, which is reported as a problem
    shown = floor(mark.nm / step + 0.5) * step
    if low <= shown <= low + cut.nm:
        return mark
    return Length(shown - step if shown > low else shown + step)


def _to_start(place: Length, datum: Datum, cut: Length) -> Length:
    """The inverse of `from_datum`: a position measured from the datum, as from the start of the bar."""
    if datum == "finish":
        return cut - place
    if datum == "middle":
        return Length(place.nm + cut.nm // 2)
    return place
