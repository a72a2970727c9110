"""Calculates one part: developed and cut length, bend marks, over-bend, bender, force, mass, area, size.

Begin at `analyse_part`. What cannot be made at all is refused; what a person must decide is a `Problem`.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from math import ceil, dist

from shopquote.calc.bar import centreline
from shopquote.calc.bar.advice import coils_to_wind, scroll_formers
from shopquote.calc.bar.bend_answers import bend_answers
from shopquote.calc.bar.benders import Bender, BendingShop
from shopquote.calc.bar.by_hand import folded_as, notch_of, notched_leg_mm
from shopquote.calc.bar.curves import Curve, curves_of, demand_of
from shopquote.calc.bar.develop import Bending, BendingOf, Development, LegPlace, Run
from shopquote.calc.bar.end_told import end_told
from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.end_work import section_at, with_ends
from shopquote.calc.bar.ends import back_mm, cut_area_mm2, mitres_of
from shopquote.calc.bar.fit import Fit, as_length, choose_benders
from shopquote.calc.bar.grades import Grade, at_thickness, find_grade
from shopquote.calc.bar.hand_words import told_by_hand
from shopquote.calc.bar.hole_places import hole_marks
from shopquote.calc.bar.holes import hole_volume_mm3, thread_problems
from shopquote.calc.bar.level import level_envelope_mm
from shopquote.calc.bar.limits import as_bent
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.neutral_axis import KAnswer, k_of_bend
from shopquote.calc.bar.order import BendOrder, bend_order, told_in_words
from shopquote.calc.bar.part_answer import HoleMark, PartAnswer, Problem
from shopquote.calc.bar.problems import (
    cautions_of,
    mark_problems,
    meetings,
    order_problems,
    problems_of,
    rolled_ends,
    unused_problems,
)
from shopquote.calc.bar.section_kinds import KINDS
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.bar.shape_told import shape_told
from shopquote.calc.bar.shape_words import Fold, Leg, Ring, Turn, Word
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.splice import closed_to_welds, longest_for, parted, splice_problems
from shopquote.calc.bar.swing import Step
from shopquote.calc.bar.why import why_of
from shopquote.calc.bar.word_runs import develop
from shopquote.calc.job import BendAxis, Dims, PartSpec
from shopquote.calc.units import Length, Unit
from shopquote.errors import CannotMakeError, InputError

# Longest developed length: 1 km; a longer one is a typing slip.
LONGEST_PART_MM = 1_000_000.0

# Length of stock, in bar sizes, that is drawn out in one heat: common practice, no source.
STOCK_SIZES_PER_HEAT = 4.0


def analyse_part(part: PartSpec, unit: Unit, shop: BendingShop, *, galvanised: bool = False) -> PartAnswer:
    """Calculate one part with a shop's benders, grades and tests; `galvanised`: to be hot-dip galvanised.

    Raises:
        InputError: bar, grade or shape cannot be read; names the part's mark.
        CannotMakeError: the geometry is impossible; names the mark, the leg, what is lacking and the cure.
    """
    where, say = f"Part {part.mark}", Say(unit)
    section, grade, words = _read(part, unit, shop, where)
    steel = as_bent(
        at_thickness(grade, section.thickness_mm), section, galvanised=galvanised,
        rolled_across=part.rolled == "across",
    )  # fmt: skip
    bent = _as_bent(part, section, words, where)
    development = _develop(part, section, bent, grade, words, shop, where, say)
    development, cut_away = with_ends(development, section, part.ends, where, say, float(shop.forge_loss_pct))
    if development.flat_mm > LONGEST_PART_MM:
        raise CannotMakeError(f"{where}: it is {development.flat_mm / 1e6:.1f} km long; at most 1 km.")
    stops = centreline.trace(development.runs, bent)
    meets = meetings(stops, development, bent, where, say)
    curves = curves_of(development, bent, steel, words, shop, where)
    fits = _fits(curves, development, steel, shop, say)
    # A ring, or a frame of one bar, is sprung aside as it closes, so its ends may meet.
    closes = dist(stops[0].point, stops[-1].point) < section.depth_mm("easy")
    meets = _unless_mitred_shut(meets, part) if closes else meets
    order = _order(development, curves, fits, springs_aside=bool(meets) or closes)
    hold = part.hold.length.mm_float if part.hold is not None else 0.0
    cut = _planned_up(development.flat_mm + hold, shop.planning_step(unit))
    bends = tuple(
        replace(bend, told=told_by_hand(bend, section, part.bend_axis, steel, say))
        for bend in bend_answers(curves, fits, order.steps, steel, shop, cut)
    )
    mitres = mitres_of(section, part.ends, cut.mm_float, _plane_turn(development), where, say)
    hole_places, hole_problems = hole_marks(
        part.holes, development, section, part.bend_axis, where, say, part.ends
    )
    bar, step = longest_for(section, grade, shop, unit), shop.planning_step(unit)
    closed = closed_to_welds(development.runs, hole_places, section)
    pieces = parted(cut, bar.room, step, closed) if part.splice else (cut,)
    told = shape_told(words, development.runs, section, say, float(shop.twist_loss_pct))
    volume = _volume_mm3(part, section, development, hole_places, where, say)
    return PartAnswer(
        mark=part.mark,
        section=section,
        grade=grade,
        developed=as_length(development.flat_mm),
        cut=cut,
        ends=part.ends,
        bends=bends,
        mass_kg=max(0.0, volume - cut_away) * 1e-9 * grade.density_kg_m3,
        area_m2=_area_m2(section, development, part.ends),
        envelope_mm=centreline.envelope_mm(stops, bent, "easy" if bent is not section else part.bend_axis),
        end_cut_area_mm2=(cut_area_mm2(section, part.ends[0]), cut_area_mm2(section, part.ends[1])),
        forge_heats=_heats(development, section),
        centreline_mm=tuple(stop.point for stop in stops),
        twists=centreline.twists(development.runs, stops),
        centre_of_gravity_mm=centreline.centre_of_gravity_mm(stops),
        straights_mm=tuple(run.flat_mm for run in development.runs if not run.is_curve),
        mitre_mm=mitres.back_mm if mitres else (0.0, 0.0),
        mitres=mitres,
        level_mm=level_envelope_mm(
            development.runs, stops, bent, "easy" if bent is not section else part.bend_axis
        ),
        hole_marks=hole_places,
        datum=shop.datum,
        bend_order=order.steps,
        order_note=told_in_words(order),
        problems=(
            *problems_of(curves, fits, bent, steel, shop, say),
            *meets,
            *order_problems(order),
            *hole_problems,
            *scroll_formers(curves, steel, say),
            *coils_to_wind(curves, fits),
            *mark_problems(bends, cut, shop.datum, say),
            *rolled_ends(bends, cut),
            *thread_problems(part.holes),
            *splice_problems(pieces, bar, part.splice, development.runs, say, sheet=section.form.by_width),
            *unused_problems(part, section, development),
        ),
        cautions=cautions_of(development, section, hot_bends=any(bend.hot for bend in bends)),
        why=(*told, *why_of(development, curves, fits, steel, part.dims)),
        runs=development.runs,
        end_notes=end_told(part, section, development, say, float(shop.forge_loss_pct)),
        shape_notes=told,
        pieces=pieces,
    )


def _read(
    part: PartSpec, unit: Unit, shop: BendingShop, where: str
) -> tuple[Section, Grade, tuple[Word, ...]]:
    try:
        section = parse_section(part.bar, unit, part.width.length if part.width is not None else None)
        grade = find_grade(part.grade, shop.grades)
        words = parse_shape(part.shape, unit) if part.shape is not None else ()
    except InputError as error:
        raise InputError(f"{where}: {error.message}", hint=error.hint, faults=error.faults) from None
    if part.toes == "in":
        section = _toes_in(section, where)
    if section.needs_width:
        raise InputError(
            f"{where}: {section.kind} has no width.", hint=f"Add width = ..., or write {section.form.typed}."
        )
    if (part.shape is None) == (part.length is None):
        raise InputError(
            f"{where}: has {'both' if part.shape else 'neither'} length and shape; expected one of the two."
        )
    if part.worked_ends and any(isinstance(word, Ring) for word in words):
        raise InputError(f"{where}: a ring is closed and has no ends to turn or thread; leave them out.")
    if part.length is not None and not part.length.length.nm > 0:
        raise InputError(f"{where}: length is {part.length.text!r}; expected a length above 0.")
    return section, grade, words


def _toes_in(section: Section, where: str) -> Section:
    if section.form.toes:
        return replace(section, toes_in=True)
    with_toes = " and ".join(kind.word for kind in KINDS.values() if kind.toes)
    raise InputError(f"{where}: toes = in is for {with_toes}; its bar is {section.kind}.")


def _unless_mitred_shut(meets: list[Problem], part: PartSpec) -> list[Problem]:
    """Contacts without the meeting ends of a frame of one bar that are mitred to fit each other."""
    if not all(end.kind == "mitre" for end in part.ends):
        return meets
    return [found for found in meets if found.code != "end-meets-bar"]


def _as_bent(part: PartSpec, section: Section, words: Sequence[Word], where: str) -> Section:
    """The section that is bent: for an angle that is notched and folded, its whole leg.

    Raises:
        CannotMakeError: it is folded and also bent with both legs.
    """
    if not any(isinstance(word, Fold) for word in words) or not section.form.folds:
        return section
    if any(not isinstance(word, Leg | Fold | Turn) for word in words):
        raise CannotMakeError(
            f"{where}: an angle is folded or bent, not both in one piece.",
            hint="Make it of two and weld them.",
        )
    return folded_as(section, part.bend_axis)


def _develop(
    part: PartSpec,
    section: Section,
    bent: Section,
    grade: Grade,
    words: tuple[Word, ...],
    shop: BendingShop,
    where: str,
    say: Say,
) -> Development:
    if part.length is not None:
        length = part.length.length.mm_float
        leg = LegPlace(0.0, 0.0, length)
        return Development((Run("straight", 0, length, length),), length, length, (leg,))

    def k_of(lie: Bending, radius_mm: float) -> KAnswer:
        if lie.roll % 180:
            return KAnswer(
                lie.centroid_mm / lie.depth_mm, "centreline", "the bar does not lie on a face; its centroid"
            )
        inside = bent.turned_over if lie.roll else bent
        return k_of_bend(inside, grade, lie.axis, as_length(radius_mm), shop)

    return develop(
        words,
        section,
        part.dims,
        _lie_of(bent, part.bend_axis if bent is section else "easy"),
        k_of,
        where=where,
        say=say,
        twist_loss_pct=float(shop.twist_loss_pct),
        forge_loss_pct=float(shop.forge_loss_pct),
    )


def _lie_of(bent: Section, axis: BendAxis) -> BendingOf:
    """The function that gives how the section lies in a bend when rolled by an angle in degrees."""

    def bending_of(roll: float) -> Bending:
        roll = bent.half_turn(roll)
        bar = bend_section(bent, axis, roll)
        over = 180.0 if roll >= 180.0 and bar.square_on else 0.0
        return Bending(bar.axis, bar.roll + over, bar.depth_mm, bar.width_mm, bar.centroid_mm)

    return bending_of


def plane_runs(words: Sequence[Word], section: Section, dims: Dims, axis: BendAxis) -> tuple[Run, ...]:
    """The runs of a shape for its finished centre line only; straight lengths are rough, without a shop's K.

    Raises:
        CannotMakeError: the geometry is impossible.
    """
    part = PartSpec("", "", 1, "", "", bend_axis=axis)
    bent = _as_bent(part, section, words, "Part")

    def k_of(lie: Bending, radius_mm: float) -> KAnswer:
        return KAnswer(lie.centroid_mm / lie.depth_mm, "centreline", "its centroid")

    return develop(words, section, dims, _lie_of(bent, axis if bent is section else "easy"), k_of).runs


def _plane_turn(development: Development) -> float:
    """Angle in degrees, above -180 to 180, by which the bar is turned about its axis between its ends."""
    turned = round(sum(run.turn for run in development.runs[1:]), 6) % 360
    return turned - 360 if turned > 180 else turned


def _planned_up(length_mm: float, step: Length) -> Length:
    # In whole nanometres: float noise would add a step to a length that is a multiple of it already.
    nanometres = round(length_mm * 1e6)
    return Length(ceil(nanometres / step.nm) * step.nm) if nanometres % step.nm else Length(nanometres)


def _volume_mm3(
    part: PartSpec,
    section: Section,
    development: Development,
    marks: Sequence[HoleMark],
    where: str,
    say: Say,
) -> float:
    # A mitre removes half of a piece as long as its short point is set back.
    back = sum(back_mm(section, end) for end in part.ends) / 2
    whole = section.area_mm2 * (development.flat_mm - back)
    taken = sum(
        notch_of(run.angle, notched_leg_mm(section, part.bend_axis), section.thickness_mm).removed_mm3
        for run in development.runs
        if run.by == "notch"
    )
    for kind, hole in enumerate(part.holes, start=1):
        flat = development.flat_mm
        metal = Counter(
            section_at(section, part.ends, mark.at.mm_float, flat) for mark in marks if mark.kind == kind
        )
        # Holes that are only counted have no place, and so the metal of the plain bar.
        for drilled, count in (metal or {section: hole.count}).items():
            taken += count * hole_volume_mm3(drilled, hole, where, say, part.bend_axis, flat)
    if taken >= whole:
        raise CannotMakeError(f"{where}: its holes take all of its metal.", hint="Check dia and count.")
    return whole - taken


def _area_m2(section: Section, development: Development, ends: tuple[End, End]) -> float:
    skin = section.perimeter_mm * development.flat_mm
    return (skin + sum(cut_area_mm2(section, end) for end in ends)) * 1e-6


def _heats(development: Development, section: Section) -> int:
    size = section.thickness_mm
    heats = 0
    for run in development.runs:
        if run.kind == "taper":
            heats += max(1, ceil(run.flat_mm / (STOCK_SIZES_PER_HEAT * size)))
    return heats


def _fits(
    curves: Sequence[Curve], development: Development, steel: Grade, shop: BendingShop, say: Say
) -> tuple[Fit | None, ...]:
    """The fit of each curve that is made on a bender; None for those made by hand."""
    by_bender = [curve for curve in curves if curve.run.by == "bender"]
    demands = [
        demand_of(curve, development, steel, say, formers_along=shop.formers_along) for curve in by_bender
    ]
    found = iter(choose_benders(demands, shop))
    return tuple(next(found) if curve.run.by == "bender" else None for curve in curves)


# A stand-in for vise, anvil and mandrel in the bending order, with nothing in the bar's way.
_BY_HAND = Bender(
    "by hand",
    0.0,
    Length(0),
    Length(0),
    Length(0),
    (),
    Length(0),
    Length(0),
    works_by="wipe",
    arc_step=Length(0),
)


def _order(
    development: Development, curves: Sequence[Curve], fits: Sequence[Fit | None], *, springs_aside: bool
) -> BendOrder:
    """The bending order; none where a bend has no bender to try it on."""
    steps: list[Step] = []
    if all(curve.run.by != "bender" for curve in curves):
        return BendOrder(())
    for curve, fit in zip(curves, fits, strict=True):
        if curve.run.by != "bender":
            run, turned = curve.run, curve.torsion_of(None)
            steps.append(
                Step(curve.at, _BY_HAND, run.inside_mm, run.angle, curve.bar.depth_mm, "by hand", turned)
            )
            continue
        if fit is None:
            return BendOrder(())
        former = fit.former.radius.mm_float if fit.former else curve.run.inside_mm
        steps.append(
            Step(
                curve.at, fit.bender, former, fit.pull_to, curve.bar.depth_mm, fit.how, curve.torsion_of(fit)
            )
        )  # fmt: skip
    return bend_order(development.runs, steps, laps=springs_aside)
