"""One part from its words to everything the shop needs to know of it.

Begin at `analyse_part`. Developed and cut length, bend marks, over-bend, bender,
force, strain, mass, area, envelope; what cannot be made at all is refused, what a
person must decide about is a problem.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, cos, radians, tan

from shopquote.calc.bar import centreline
from shopquote.calc.bar.answers import BendAnswer, BendMark, PartAnswer, Problem
from shopquote.calc.bar.benders import Bender, BendingShop
from shopquote.calc.bar.collide import Contact, contacts
from shopquote.calc.bar.develop import Bending, Development, Run, develop, facet_gap_mm, hits_for_gap
from shopquote.calc.bar.fit import Demand, Fit, HowMade, as_length, choose_benders, is_hard_pull
from shopquote.calc.bar.grades import Grade, find_grade
from shopquote.calc.bar.holes import hole_volume_mm3
from shopquote.calc.bar.moment import BendSection, bend_section
from shopquote.calc.bar.neutral_axis import KAnswer, k_of_bend, mean_and_spread, tests_for
from shopquote.calc.bar.order import Order, Step, bend_order, told_in_words
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.bar.shapes import Arc, Word, parse_shape
from shopquote.calc.bar.springback import (
    Spring,
    largest_set_radius_mm,
    least_radius_mm,
    outer_strain,
    spring_of,
)
from shopquote.calc.job import End, PartSpec
from shopquote.calc.units import Length, Unit
from shopquote.errors import CannotMakeError, InputError

LARGEST_MITRE = 80.0
# Longest part worth a developed length: 1 km.
LONGEST_PART_MM = 1_000_000.0

# A taper is drawn about this many bar sizes of stock in one heat: common practice, no source.
STOCK_SIZES_PER_HEAT = 4.0


@dataclass(frozen=True, slots=True)
class _Made:
    """One curve with its mechanics, before a bender is chosen."""

    run: Run
    bar: BendSection
    spring: Spring
    over_bend_to: float
    over_bend_source: str
    start_mm: float
    hits: int
    made_by: HowMade | None
    is_3d: bool

    def hits_of(self, fit: Fit) -> int:
        """Small bends that a fit makes this curve by; 1 in one pull or by rolls."""
        return self.hits if fit.how == "small bends" else 1


def analyse_part(part: PartSpec, unit: Unit, shop: BendingShop) -> PartAnswer:
    """Work one part out with a shop's benders, grades and tests.

    Raises:
        InputError: bar, grade or shape cannot be read; names the part's mark.
        CannotMakeError: the geometry is impossible; names mark, leg, what lacks and the cure.
    """
    where = f"Part {part.mark}"
    section, grade, words = _read(part, unit, shop, where)
    development = _develop(part, section, grade, words, shop, where)
    if development.flat_mm > LONGEST_PART_MM:
        raise CannotMakeError(
            f"{where}: developed length is {development.flat_mm / 1000:.0f} m; at most 1 km."
        )
    made = _mechanics(development, section, grade, words, part, shop)
    fits = choose_benders([_demand(one, development, grade) for one in made], shop)
    cut = _planned_up(development.flat_mm, shop.planning_step(unit))
    bends = tuple(_bend_answer(one, fit, grade, shop, cut) for one, fit in zip(made, fits, strict=True))
    stops = centreline.trace(development.runs, section)
    meetings = _meetings(stops, development, section, where)
    order = _order(development, made, fits, laps=any(problem.code == "laps-itself" for problem in meetings))
    mitred = _mitre_lengths(section, part.ends)
    _check_mitres(mitred, cut, where)
    volume = _volume_mm3(part, section, development, mitred, where)
    return PartAnswer(
        mark=part.mark,
        section=section,
        grade=grade,
        developed=as_length(development.flat_mm),
        cut=cut,
        ends=part.ends,
        bends=bends,
        mass_kg=volume * 1e-9 * grade.density_kg_m3,
        area_m2=_area_m2(section, development, part.ends),
        envelope_mm=centreline.envelope_mm(stops, section, part.bend_axis),
        end_cut_area_mm2=(_cut_area(section, part.ends[0]), _cut_area(section, part.ends[1])),
        forge_heats=_heats(development, section),
        centreline_mm=tuple(stop.point for stop in stops),
        centre_of_gravity_mm=centreline.centre_of_gravity_mm(stops),
        problems=(*_problems(made, fits, grade, shop), *meetings, *_order_problem(order)),
        cautions=_cautions(development, grade),
        why=_why(development, made, grade),
        straights_mm=tuple(run.flat_mm for run in development.runs if not run.is_curve),
        short_points_mm=mitred,
        datum=shop.datum,
        bend_order=order.steps,
        order_note=told_in_words(order),
    )


def _read(
    part: PartSpec, unit: Unit, shop: BendingShop, where: str
) -> tuple[Section, Grade, tuple[Word, ...]]:
    try:
        section = parse_section(part.bar, unit)
        grade = find_grade(part.grade, shop.grades)
        words = parse_shape(part.shape, unit) if part.shape is not None else ()
    except InputError as error:
        raise InputError(f"{where}: {error.message}", hint=error.hint, faults=error.faults) from None
    if (part.shape is None) == (part.length is None):
        raise InputError(
            f"{where}: has {'both' if part.shape else 'neither'} length and shape; expected one."
        )
    if part.length is not None and not part.length.length.nm > 0:
        raise InputError(f"{where}: length is {part.length.text!r}; expected a length above 0.")
    return section, grade, words


def _develop(
    part: PartSpec, section: Section, grade: Grade, words: tuple[Word, ...], shop: BendingShop, where: str
) -> Development:
    if part.length is not None:
        length = part.length.length.mm_float
        return Development((Run("straight", 0, length, length),), length, length)

    def bending_of(roll: float) -> Bending:
        bar = bend_section(section, part.bend_axis, _half_turn(roll))
        return Bending(bar.axis, bar.roll, bar.depth_mm, bar.width_mm, bar.centroid_mm)

    def k_of(lie: Bending, radius_mm: float) -> KAnswer:
        if lie.roll:
            return KAnswer(
                lie.centroid_mm / lie.depth_mm, "centreline", "the bar does not lie on a face; its centroid"
            )
        return k_of_bend(section, grade, lie.axis, as_length(radius_mm), shop)

    return develop(
        words,
        section,
        part.dims,
        bending_of,
        k_of,
        where=where,
        twist_loss_pct=float(shop.twist_loss_pct),
        forge_loss_pct=float(shop.forge_loss_pct),
    )


def _half_turn(roll: float) -> float:
    """Roll brought to 0..180, free of the noise of adding turns."""
    return round(roll % 180.0, 9) % 180.0


def _mechanics(
    development: Development,
    section: Section,
    grade: Grade,
    words: Sequence[Word],
    part: PartSpec,
    shop: BendingShop,
) -> list[_Made]:
    made: list[_Made] = []
    position = 0.0
    turned = False
    for run in development.runs:
        turned = turned or bool(run.turn % 180)
        if run.is_curve and run.bending is not None:
            bar = bend_section(section, run.bending.axis, run.bending.roll)
            spring = _spring(bar, grade, run.centre_mm)
            over, source = _over_bend(run, section, grade, spring, shop)
            hits, made_by = _hits(run, words[run.word - 1], shop)
            is_3d = bool(made) and (turned or run.kind == "helix")
            made.append(_Made(run, bar, spring, over, source, position, hits, made_by, is_3d))
            turned = False
        position += run.flat_mm
    return made


@lru_cache(maxsize=8192)
def _spring_cached(bar: BendSection, grade: Grade, centre_mm: float) -> Spring:
    return spring_of(bar, grade, centre_mm)


def _spring(bar: BendSection, grade: Grade, centre_mm: float) -> Spring:
    return _spring_cached(bar, grade, centre_mm)


def _over_bend(
    run: Run, section: Section, grade: Grade, spring: Spring, shop: BendingShop
) -> tuple[float, str]:
    """Angle to pull to, and whether theory or the shop's own test says so."""
    assert run.bending is not None
    tests = tests_for(shop.bend_tests, section, grade, run.bending.axis, as_length(run.inside_mm))
    shares = [test.over_bend / test.angle for test in tests if test.over_bend is not None]
    if shares:
        mean, _ = mean_and_spread(shares)
        count = "1 test piece" if len(shares) == 1 else f"{len(shares)} test pieces"
        return run.angle * mean, f"measured on {count} of the shop's own"
    return run.angle / spring.ratio, "theory: elastic-plastic springback"


def _hits(run: Run, word: Word, shop: BendingShop) -> tuple[int, HowMade | None]:
    """Small bends that make a curve, and how it is made where the person said so."""
    if run.kind == "bend":
        return 1, None
    if isinstance(word, Arc):
        if word.hits is not None:
            return word.hits, "small bends"
        gap = (word.gap.length if word.gap is not None else shop.arc_gap).mm_float
        return hits_for_gap(run.angle, run.centre_mm, gap), "rolls" if word.rolled else None
    radius = (run.centre_mm + run.centre_end_mm) / 2
    return hits_for_gap(run.angle, radius, shop.arc_gap.mm_float), None


def _demand(one: _Made, development: Development, grade: Grade) -> Demand:
    runs = development.runs
    at = runs.index(one.run)
    before, first = _straight_beside(runs, at, -1)
    after, last = _straight_beside(runs, at, 1)
    return Demand(
        bar=one.bar,
        grade=grade,
        inside_mm=one.run.inside_mm,
        held_mm=one.spring.held_mm - one.bar.centroid_mm,
        angle=one.run.angle,
        pull_to=one.over_bend_to,
        stress_mpa=one.spring.stress_mpa,
        moment_nmm=one.spring.moment_nmm,
        before_mm=before,
        after_mm=after,
        before_is_end=first,
        after_is_end=last,
        curve=one.run.kind != "bend",
        wraps=one.run.kind != "scroll",
        flat_mm=one.run.flat_mm,
        hits=one.hits,
        made_by=one.made_by,
        least_mm=_limits(grade, one.bar.depth_mm)[1],
    )


def _straight_beside(runs: Sequence[Run], at: int, step: int) -> tuple[float, bool]:
    """Straight bar next to a curve, mm, and whether it reaches the end of the bar."""
    length = 0.0
    index = at + step
    while 0 <= index < len(runs) and not runs[index].is_curve:
        length += runs[index].flat_mm
        index += step
    return length, not 0 <= index < len(runs)


def _bend_answer(one: _Made, fit: Fit | None, grade: Grade, shop: BendingShop, cut: Length) -> BendAnswer:
    run = one.run
    start, end = one.start_mm, one.start_mm + run.flat_mm
    mark = BendMark(as_length(start), as_length((start + end) / 2), as_length(end))
    limit, least = _limits(grade, one.bar.depth_mm)
    made_fit = fit if fit is not None and fit.makes_it else None
    answer = BendAnswer(
        angle=run.angle,
        inside_radius=as_length(run.inside_mm),
        mark=mark,
        over_bend_to=_pull_to(one, made_fit),
        over_bend_source=one.over_bend_source,
        moment_nm=(made_fit.moment_nmm if made_fit else one.spring.moment_nmm) / 1000,
        outer_strain=outer_strain(run.inside_mm + one.bar.centroid_mm, one.bar.outer_mm),
        hits=one.hits if fit is None else one.hits_of(fit),
        is_3d=one.is_3d,
        bender=made_fit.bender.name if made_fit else None,
        former_radius=made_fit.former.radius if made_fit and made_fit.former else None,
        hand_force_n=fit.hand_force_n if fit is not None else None,
        kind=run.kind,
        word=run.word,
        how=fit.how if fit is not None else "former",
        k=run.k.k if run.k else 0.5,
        k_rule=run.k.rule if run.k else "centreline",
        k_spread=run.k.spread if run.k else 0.0,
        flow_stress_mpa=one.spring.stress_mpa,
        strain_limit=limit,
        least_radius=as_length(least),
        left_radius=as_length(made_fit.left_mm) if made_fit else None,
        held_radius=as_length(one.spring.held_mm - one.bar.centroid_mm),
        hit_over_bend=made_fit.pull_to if made_fit and made_fit.how == "small bends" else 0.0,
    )
    return _with_marks(answer, one, fit.bender if fit is not None else None, shop, cut)


def _pull_to(one: _Made, fit: Fit | None) -> float:
    """Angle of the whole bend to pull to: the shop's own measure, else theory on the former chosen."""
    if fit is None or fit.how == "rolls" or one.over_bend_source.startswith("measured"):
        return one.over_bend_to
    return fit.pull_to * one.hits_of(fit)


def _with_marks(
    answer: BendAnswer, one: _Made, bender: Bender | None, shop: BendingShop, cut: Length
) -> BendAnswer:
    """Adds the marks of small bends and the mark that the chosen bender is set by."""
    hits = answer.hits
    if hits > 1:
        advance = one.run.flat_mm / hits
        marks = tuple(
            _from_datum(as_length(one.start_mm + advance * (number + 0.5)), shop, cut)
            for number in range(hits)
        )
        answer = replace(
            answer,
            hit_advance=as_length(advance),
            hit_angle=one.run.angle / hits,
            hit_over_bend=answer.hit_over_bend or answer.over_bend_to / hits,
            hit_marks=marks,
        )
    at = bender.mark_at if bender else "start"
    point = {"start": answer.mark.start, "centre": answer.mark.centre, "end": answer.mark.end}[at]
    offset = Length(bender.mark_offset_nm) if bender else Length(0)
    return replace(answer, bender_mark=_from_datum(point + offset, shop, cut), bender_mark_at=at)


def _from_datum(point: Length, shop: BendingShop, cut: Length) -> Length:
    """A place on the bar measured from the shop's datum; from the middle it may be negative."""
    if shop.datum == "finish":
        return cut - point
    if shop.datum == "middle":
        return Length(point.nm - cut.nm // 2)
    return point


def _limits(grade: Grade, depth_mm: float) -> tuple[float, float]:
    """Strain limit and least inside radius (mm) of a grade: the larger of the shop's and of cracking."""
    shop_least = grade.min_radius_ratio * depth_mm
    cracks = least_radius_mm(grade, depth_mm)
    least = max(shop_least, cracks or 0.0)
    return 1 / (2 * least / depth_mm + 1), least


def _planned_up(length_mm: float, step: Length) -> Length:
    nanometres = round(length_mm * 1e6)
    return Length(ceil(nanometres / step.nm) * step.nm) if nanometres % step.nm else Length(nanometres)


def _mitre_lengths(section: Section, ends: tuple[End, End]) -> tuple[float, float]:
    """Long point less short point at each end, mm: h tan m, h the larger size of the bar."""
    largest = max(section.sizes_mm[:2]) if len(section.sizes_mm) > 1 else section.sizes_mm[0]
    return _point_difference(largest, ends[0]), _point_difference(largest, ends[1])


def _point_difference(height: float, end: End) -> float:
    return height * tan(radians(float(end.mitre))) if end.kind == "mitre" else 0.0


def _check_mitres(mitred: tuple[float, float], cut: Length, where: str) -> None:
    if max(mitred) > cut.mm_float:
        raise CannotMakeError(
            f"{where}: a mitre takes {max(mitred):.1f} mm of a piece of {cut.mm_float:g} mm.",
            hint="Make the piece longer or the mitre nearer to square.",
        )


def _cut_area(section: Section, end: End) -> float:
    return section.area_mm2 / cos(radians(float(end.mitre))) if end.kind == "mitre" else section.area_mm2


def _volume_mm3(
    part: PartSpec, section: Section, development: Development, mitred: tuple[float, float], where: str
) -> float:
    whole = section.area_mm2 * (development.flat_mm - sum(mitred) / 2)
    taken = 0.0
    for hole in part.holes:
        taken += hole.count * hole_volume_mm3(section, hole, where)
    if taken >= whole:
        raise CannotMakeError(f"{where}: its holes take all of its metal.", hint="Check dia and count.")
    return whole - taken


def _area_m2(section: Section, development: Development, ends: tuple[End, End]) -> float:
    skin = section.perimeter_mm * development.flat_mm
    return (skin + sum(_cut_area(section, end) for end in ends)) * 1e-6


def _heats(development: Development, section: Section) -> int:
    size = min(section.sizes_mm)
    heats = 0
    for run in development.runs:
        if run.kind == "taper":
            heats += max(1, ceil(run.flat_mm / (STOCK_SIZES_PER_HEAT * size)))
    return heats


def _order(
    development: Development, made: Sequence[_Made], fits: Sequence[Fit | None], *, laps: bool
) -> Order:
    """The bend order, where every bend has a bender to try it on."""
    steps: list[Step] = []
    for one, fit in zip(made, fits, strict=True):
        if fit is None:
            return Order(())
        at = development.runs.index(one.run)
        former = fit.former.radius.mm_float if fit.former else one.run.inside_mm
        steps.append(Step(at, fit.bender, former, fit.pull_to * one.hits_of(fit), one.bar.depth_mm))
    return bend_order(development.runs, steps, laps=laps)


def _order_problem(order: Order) -> list[Problem]:
    if not order.trapped_by:
        return []
    return [
        Problem(
            "traps-the-bar",
            f"No order of bends keeps the bar clear: {order.trapped_by}. Make the legs between longer, use a "
            "smaller former, or make it of two pieces and weld them.",
        )
    ]


def _meetings(
    stops: Sequence[centreline.Stop],
    development: Development,
    section: Section,
    where: str,
) -> list[Problem]:
    """Where the bar meets itself: refused where it crosses itself, else a matter to decide about."""
    lies = {(run.bending.axis, run.bending.roll) for run in development.runs if run.bending is not None}
    if not lies:
        return []
    bars = [bend_section(section, axis, roll) for axis, roll in lies]
    if len(bars) == 1 and not any(run.turn % 180 for run in development.runs[1:]):
        clearance = bars[0].depth_mm
    else:
        clearance = min(min(bar.depth_mm, bar.width_mm) for bar in bars)
    found: dict[str, Problem] = {}
    for contact in contacts(stops, development.runs, clearance):
        first, second = development.runs[contact.first_run], development.runs[contact.second_run]
        pair = f"{first.kind} (word {first.word}) and {second.kind} (word {second.word})"
        if contact.kind == "crosses":
            raise _crossing(contact, development, clearance, where)
        if contact.kind == "end meets":
            found.setdefault(
                "end-meets-bar",
                Problem(
                    "end-meets-bar",
                    f"An end runs {clearance - contact.apart_mm:.1f} mm into the bar: {pair}; shorten "
                    "that end, or lay it beside the bar.",
                ),
            )
        else:
            found.setdefault(
                "laps-itself",
                Problem("laps-itself", f"The bar lies along itself: {pair}; lay one beside the other."),
            )
    return list(found.values())


def _crossing(contact: Contact, development: Development, clearance: float, where: str) -> CannotMakeError:
    first, second = development.runs[contact.first_run], development.runs[contact.second_run]
    begins = sum(run.true_mm for run in development.runs[: contact.second_run])
    free = contact.second_mm - begins - clearance
    cure = "Lead it past with a turn of the bending plane"
    if second.kind == "straight" and free > 0:
        cure = f"End it {free:.1f} mm after its bend, or lead it past with a turn of the bending plane"
    return CannotMakeError(
        f"{where}: the bar runs into itself: {second.kind} (word {second.word}) crosses {first.kind} "
        f"(word {first.word}) {contact.first_mm:.1f} mm along the bar; their centre lines come within "
        f"{contact.apart_mm:.1f} mm and the bar is {clearance:g} mm.",
        hint=f"{cure}, or change the legs between them.",
    )


def _problems(
    made: Sequence[_Made], fits: Sequence[Fit | None], grade: Grade, shop: BendingShop
) -> tuple[Problem, ...]:
    found: list[Problem] = []
    for number, (one, fit) in enumerate(zip(made, fits, strict=True), start=1):
        name = f"{one.run.kind.capitalize()} {number} ({one.run.angle:g} degrees, r {one.run.inside_mm:g} mm)"
        found.extend(_metal_problems(name, one, grade))
        if fit is None:
            continue
        if not fit.makes_it:
            for lack in fit.shortfalls:
                found.append(
                    Problem(
                        lack.code,
                        f"{name}: no bender on file makes it. Nearest is {fit.bender.name}: "
                        f"{lack.message}; {lack.cure}.",
                    )
                )
        elif is_hard_pull(fit, shop.hand_pull_n):
            found.append(_hard_pull(name, fit, shop))
    return tuple(found)


def _hard_pull(name: str, fit: Fit, shop: BendingShop) -> Problem:
    force = fit.hand_force_n or 0.0
    lever = fit.bender.lever.mm_float * force / shop.hand_pull_n
    return Problem(
        "hand-force",
        f"{name}: the lever of {fit.bender.name} asks for {force:.0f} N; one person pulls "
        f"{shop.hand_pull_n:.0f} N for long. A bender with a lever of {lever:.0f} mm would do, or a "
        "powered one, or bend it hot; put no pipe over a lever.",
    )


def _metal_problems(name: str, one: _Made, grade: Grade) -> list[Problem]:
    found = []
    _, least = _limits(grade, one.bar.depth_mm)
    cracks = least_radius_mm(grade, one.bar.depth_mm)
    radius = one.run.inside_mm
    if cracks is not None and radius < cracks - 1e-9:
        found.append(
            Problem(
                "cracks",
                f"{name}: below an inside radius of {cracks:.1f} mm {grade.name} cracks by its reduction "
                f"of area; use r {least:.1f} mm or more, or bend it hot.",
            )
        )
    elif radius < least - 1e-9:
        found.append(
            Problem(
                "radius-too-tight",
                f"{name}: {grade.name} is bent cold to r {least:.1f} mm at the tightest; use that, or bend "
                "it hot, and bend a test piece first.",
            )
        )
    if not grade.cold_bend:
        found.append(
            Problem("not-for-bending", f"{name}: {grade.name} cuts freely and cracks; do not bend it cold.")
        )
    if not one.bar.square_on:
        found.append(
            Problem(
                "lies-on-edge",
                f"{name}: the bar is rolled {one.bar.roll:g} degrees and lies on no face of the former; "
                "twist it first, or turn the plane by a whole quarter.",
            )
        )
    largest = largest_set_radius_mm(one.bar, grade)
    if radius > largest:
        found.append(
            Problem(
                "springs-into-place",
                f"{name}: above r {largest:.0f} mm the bar takes no set; it springs into place and back.",
            )
        )
    return found


def _cautions(development: Development, grade: Grade) -> tuple[str, ...]:
    kinds = {run.kind for run in development.runs}
    found = []
    if any(run.is_curve for run in development.runs):
        found.append("Springback and force are theory until measured: bend a test piece first.")
        found.append(
            "Bar springs when released; keep hands off the former, the pins and the sweep of the lever."
        )
    if kinds & {"taper", "twist"}:
        found.append("Hot work: fire watch, eye protection, no coated metal in the fire.")
    return tuple(found)


def _why(development: Development, made: Sequence[_Made], grade: Grade) -> tuple[str, ...]:
    lines = []
    for run in development.runs:
        if not run.is_curve:
            lines.append(f"{run.kind} {run.flat_mm:.3f} mm")
        elif run.k is not None and run.bending is not None:
            lines.append(
                f"{run.kind} {run.angle:g} degrees r {run.inside_mm:g} mm: A (R + K T) = "
                f"{run.flat_mm:.3f} mm, T {run.bending.depth_mm:g} mm, K {run.k.k:.3f} "
                f"({run.k.rule}: {run.k.source})"
            )
    for one in made:
        lines.append(
            f"word {one.run.word}: springback ratio {one.spring.ratio:.5f} at {one.spring.stress_mpa:.0f} "
            f"MPa, held at {one.spring.held_mm - one.bar.centroid_mm:.2f} mm; {one.over_bend_source}"
        )
        if one.hits > 1:
            gap = facet_gap_mm(one.run.angle, one.run.centre_mm, one.hits)
            lines.append(f"word {one.run.word}: {one.hits} small bends stand {gap:.2f} mm off the curve")
    lines.append(f"mass at {grade.density_kg_m3:g} kg/m3 ({grade.sources.get('density_kg_m3', 'own')})")
    return tuple(lines)
