"""Problems of a part that a person must decide: metal, benders, bending order, contacts, marks off the bar.

A problem is a warning with a cure; only what cannot be made at all is refused. Begin at `problems_of`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.centreline import Stop
from shopquote.calc.bar.collide import Contact, contacts
from shopquote.calc.bar.curves import Curve
from shopquote.calc.bar.develop import Development
from shopquote.calc.bar.fit import Fit, is_hard_pull
from shopquote.calc.bar.grades import Grade, bright_mpa, heat_note
from shopquote.calc.bar.limits import (
    edge_buckles_below_mm,
    is_too_tight,
    limit_source,
    limits_of,
    stretches_far,
)
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.order import BendOrder
from shopquote.calc.bar.part_answer import BendAnswer, Problem
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shortfalls import with_friction
from shopquote.calc.bar.sizes import Say, apart
from shopquote.calc.bar.springback import largest_set_radius_mm, least_radius_mm
from shopquote.calc.bar.tube_bends import tube_bend
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Length, show_angle
from shopquote.errors import CannotMakeError


def problems_of(
    curves: Sequence[Curve],
    fits: Sequence[Fit | None],
    section: Section,
    grade: Grade,
    shop: BendingShop,
    say: Say,
) -> list[Problem]:
    """Problems of each curve: of its metal, then of the benders tried on it. Equal curves share a line.

    What is too tight for cold metal is bent hot, at the anvil if no bender makes it; then only that is
    reported.
    """
    # Numbers of curves by problem, as keys: a shortfall on both sides of a bend is reported once.
    numbers_by: dict[tuple[str, str, str, str], dict[int, None]] = {}
    for number, (curve, fit) in enumerate(zip(curves, fits, strict=True), start=1):
        run = curve.run
        size = f"({show_angle(abs(run.angle))}, r {say(run.inside_mm)})"
        in_fire = fit is not None and not fit.makes_it and is_too_tight(grade, curve.bar, run.inside_mm)
        tried = [] if in_fire else _bender(fit, shop, say, heat_note(grade, section))
        tried += (
            [] if curve.hot or fit is None or not fit.makes_it else _bright(fit, section, grade, shop, say)
        )
        for problem in (*_metal(curve, section, grade, say), *tried):
            # Ten equal bends with the same problem are reported once, with their numbers.
            numbers_by.setdefault((problem.code, run.kind, size, problem.message), {})[number] = None
    found = [
        Problem(code, f"{kind.capitalize()} {', '.join(map(str, numbers))} {size}: {message}")
        for (code, kind, size, message), numbers in numbers_by.items()
    ]
    if any(curve.run.by == "bender" for curve in curves) and not shop.benders:
        found.append(
            Problem("no-bender", "No bender is on file, so none was tried; see: shopquote benders set.")
        )
    return found


def _bender(fit: Fit | None, shop: BendingShop, say: Say, heated: str) -> list[Problem]:
    if fit is None:
        return []
    if fit.makes_it:
        return [_hard_pull(fit, shop, say, heated)] if is_hard_pull(fit, shop.hand_pull_n) else []
    # What is too strong is bent hot by hand, so the bender's other shortfalls do not matter.
    strong = [lack for lack in fit.shortfalls if lack.code == "moment"]
    return [
        Problem(
            lack.code,
            f"no bender on file makes it. Nearest is {fit.bender.name}: {lack.message}; {lack.cure}.",
        )
        for lack in strong or fit.shortfalls
    ]


def _bright(fit: Fit, section: Section, grade: Grade, shop: BendingShop, say: Say) -> list[Problem]:
    """The moment if the bar is delivered cold drawn: at most in proportion to its strength.

    That holds because the section is plastic through almost all of its depth.
    """
    bright = bright_mpa(grade, section)
    if not bright:
        return []
    reckoned = grade.at("most").tensile_mpa
    takes = with_friction(fit.moment_nmm * bright / reckoned, fit.bender) / 1000
    pull = (fit.hand_force_n or 0.0) * bright / reckoned
    lacks = ""
    if takes > fit.bender.largest_moment_nm:
        lacks = f", more than {fit.bender.name} can"
    elif pull > shop.hand_pull_n and not is_hard_pull(fit, shop.hand_pull_n):
        lacks = ", more than one person pulls for long"
    return [
        Problem(
            "bright-bar",
            f"{grade.name} drawn cold (bright) may reach {bright:g} MPa, and {reckoned:g} are reckoned: it "
            f"then takes up to {say.moment(takes)}{lacks}, and springs back further. Order it annealed or "
            "hot rolled, or bend a test piece first.",
        )
    ]


def _hard_pull(fit: Fit, shop: BendingShop, say: Say, heated: str) -> Problem:
    force = fit.hand_force_n or 0.0
    asks, pulls = say.forces(force, shop.hand_pull_n)
    # Lever length at which one person's force suffices: force and length are in inverse proportion.
    lever = fit.bender.lever.mm_float * force / shop.hand_pull_n
    return Problem(
        "hand-force",
        f"the lever of {fit.bender.name} asks for {asks}; one person pulls {pulls} for long. "
        f"A bender with a lever of {say.up(lever)} would do, or a "
        f"powered one, or bend it hot{heated}; put no pipe over a lever.",
    )


def _metal(curve: Curve, section: Section, grade: Grade, say: Say) -> list[Problem]:
    if curve.hot or curve.run.by in ("notch", "mandrel"):
        return []
    found = [*_too_tight(curve, section, grade, say), *_edge_buckles(curve, section, say)]
    if not grade.cold_bend:
        found.append(Problem("not-for-bending", f"{grade.name} cuts freely and cracks; do not bend it cold."))
    if not curve.bar.square_on:
        found.append(
            Problem(
                "lies-on-edge",
                f"the bar is rolled {show_angle(curve.bar.roll)} and lies on no face of the former; "
                "twist it first, or turn the plane by a whole quarter.",
            )
        )
    if section.form.bent_warning is not None:
        code, text = section.form.bent_warning
        found.append(Problem(code, _toes_in(text) if curve.bar.section.toes_in else text))
    if section.is_hollow:
        found.extend(_flattens(curve, section, say))
    largest = largest_set_radius_mm(curve.bar, grade.at("usual"))
    if curve.run.inside_mm > largest:
        found.append(
            Problem(
                "springs-into-place",
                f"above r {say(largest)} the bar takes no set; it springs into place and back.",
            )
        )
    return found


def _toes_in(text: str) -> str:
    """A section's bend warning, worded for a bend with its toes inside."""
    turned = text.replace("its heel inside", "its toes inside").replace(
        "its flange inside", "its stem inside"
    )
    turned = turned.replace(
        "its flat face on the former; a bend the other way needs", "its round face on the former, which needs"
    )
    return turned.replace("stretches or buckles", "is crushed and buckles")


def _too_tight(curve: Curve, section: Section, grade: Grade, say: Say) -> list[Problem]:
    depth, radius = curve.bar.depth_mm, curve.run.inside_mm
    if not is_too_tight(grade, curve.bar, radius):
        return _far(curve, grade)
    limit, least = limits_of(grade, curve.bar)
    easy = ""
    if section.has_axes and curve.bar.axis == "hard" and curve.bar.square_on:
        easy_least = limits_of(grade, bend_section(section, "easy"))[1]
        easy = f", turn the bar (the easy way goes to r {say.up(easy_least)})"
    cracks = least_radius_mm(grade, depth)
    stretches, most = apart(curve.outer_strain * 100, limit * 100)
    strain = f"its outer face stretches {stretches} %"
    if cracks is not None and radius < cracks - 1e-9:
        return [
            Problem(
                "cracks",
                f"{strain}; by its reduction of area {grade.name} cracks below r {say.up(cracks)}. "
                f"Use r {say.up(least)} or more{easy}, or bend it hot{heat_note(grade, section)}.",
            )
        ]
    return [
        Problem(
            "radius-too-tight",
            f"{strain}, more than the {most} % of its least radius; {grade.name} is bent cold "
            f"to r {say.up(least)} at the tightest ({limit_source(grade, curve.bar)}). "
            f"Use that{easy}, or bend it hot{heat_note(grade, section)}, and bend a test piece first.",
        )
    ]


def _far(curve: Curve, grade: Grade) -> list[Problem]:
    """The problem of a bend within its limit whose outer strain exceeds the grade's elongation."""
    if not stretches_far(grade, curve.bar, curve.outer_strain):
        return []
    stretches, sure = apart(curve.outer_strain * 100, grade.elongation_pct)
    return [
        Problem(
            "stretches-far",
            f"its outer face stretches {stretches} %, more than the {sure} % that a test piece of "
            f"{grade.name} is sure to stretch; "
            "a short bend takes more, but not every bar does. Bend a test piece first, or widen the radius.",
        )
    ]


_TUBE_CURES = {
    "sand": "fill it with dry sand, well rammed, or bend it slowly and look at the inner wall",
    "mandrel": "empty it wrinkles: use a mandrel, or fill it with sand and close its ends",
    "outside": "even with a mandrel it wrinkles: widen the radius, thicken the wall, or have it bent outside",
}


def _flattens(curve: Curve, section: Section, say: Say) -> list[Problem]:
    """The problem of a hollow bar that flattens or wrinkles when bent empty, with the cure."""
    depth = curve.bar.depth_mm
    bend = tube_bend(curve.run.angle, depth, section.thickness_mm, curve.run.centre_mm)
    wants = bend.wants(curve.run.centre_mm)
    if not wants:
        return []
    centre = curve.bar.centroid_mm
    return [
        Problem(
            "flattens",
            f"hollow bar: its outer wall thins by {bend.thinning * 100:.0f} % and it flattens by up to "
            f"{bend.ovality * 100:.0f} %. At D/t {depth / section.thickness_mm:.0f} it is bent empty to "
            f"r {say.up(bend.empty_mm - centre)} and with a mandrel to r {say.up(bend.mandrel_mm - centre)}; "
            f"{_TUBE_CURES[wants]}.",
        )
    ]


def _edge_buckles(curve: Curve, section: Section, say: Say) -> list[Problem]:
    """The problem of a flat on edge whose compressed edge buckles unless it is guided."""
    bar = curve.bar
    if not section.form.sheet_like or bar.axis != "hard" or not bar.square_on:
        return []
    least = edge_buckles_below_mm(bar.depth_mm, bar.width_mm)
    if curve.run.centre_mm >= least:
        return []
    return [
        Problem(
            "edge-buckles",
            f"bent on edge, its inner edge buckles below r {say.up(least - bar.centroid_mm)} (plate theory) "
            "unless it is held flat: bend it in a slot as wide as it is thick, or turn the bar.",
        )
    ]


def order_problems(order: BendOrder) -> list[Problem]:
    """The problem that no bending order is clear; none where there is one."""
    if not order.trapped_by:
        return []
    return [
        Problem(
            "traps-the-bar",
            f"No order of bends keeps the bar clear: {order.trapped_by}. Make the legs between longer, use a "
            "smaller former, or make it of two pieces and weld them.",
        )
    ]


def mark_problems(bends: Sequence[BendAnswer], cut: Length, datum: str, say: Say) -> list[Problem]:
    """Problems of marks that a bender's offset puts off the bar."""
    low = -cut.nm // 2 if datum == "middle" else 0
    found = []
    for number, bend in enumerate(bends, start=1):
        mark = bend.bender_mark
        if mark is not None and not low <= mark.nm <= low + cut.nm:
            found.append(
                Problem(
                    "mark-off-bar",
                    f"Bend {number}: the mark for {bend.bender or 'the bender'} falls "
                    f"{say(mark.mm_float)} from the datum, off the bar; mark the other end, or leave more "
                    "to hold.",
                )
            )
    return found


# A curve within this distance, in mm, of the end of its bar counts as reaching it.
_AT_THE_END_MM = 1.0


def rolled_ends(bends: Sequence[BendAnswer], cut: Length) -> list[Problem]:
    """Problems of rolled curves that reach an end of the bar, which rolls leave straight: common practice."""
    found = []
    for bend in bends:
        rooms = (bend.mark.start.mm_float, (cut - bend.mark.end).mm_float)
        ends = [end for end, room in zip(("start", "finish"), rooms, strict=True) if room < _AT_THE_END_MM]
        if bend.how == "rolls" and bend.bender is not None and ends:
            curve = f"{bend.kind.capitalize()} ({show_angle(abs(bend.angle))})"
            told = (
                f"{curve}: rolls leave the bar straight at the {' and the '.join(ends)} end, for about half "
                "the distance of the outer rolls. Leave that much more there and saw it off, or set the end "
                "on a former first (common practice, no source)."
            )
            found.append(Problem("rolled-end", told))
    return found


def meetings(
    stops: Sequence[Stop], development: Development, section: Section, where: str, say: Say
) -> list[Problem]:
    """Problems where the bar touches itself.

    Raises:
        CannotMakeError: it crosses itself; names both words, their distance and the cure.
    """
    lies = {(run.bending.axis, run.bending.roll) for run in development.runs if run.bending is not None}
    if not lies:
        return []
    bars = [bend_section(section, axis, roll) for axis, roll in lies]
    if len({bar.depth_mm for bar in bars}) == 1 and not any(run.turn % 180 for run in development.runs[1:]):
        clearance = bars[0].depth_mm
    else:
        # In space either side of the bar may touch, so only the smaller size is certain to collide.
        clearance = min(min(bar.depth_mm, bar.width_mm) for bar in bars)
    found: dict[str, Problem] = {}
    for contact in contacts(stops, development.runs, clearance):
        pair = f"{development.name_of(contact.first_run)} and {development.name_of(contact.second_run)}"
        if contact.kind == "crosses":
            raise _crossing(contact, development, clearance, where, say)
        if contact.kind == "hook crosses":
            text = (
                f"A hook closes across the bar: {pair}; spring it aside by one bar ({say(clearance)}), as a "
                "link is closed, or open the hook."
            )
            found.setdefault("hook-crosses", Problem("hook-crosses", text))
        elif contact.kind == "end meets":
            text = (
                f"An end runs {say.up(clearance - contact.apart_mm)} into the bar: {pair}; shorten that end, "
                "or lay it beside the bar."
            )
            found.setdefault("end-meets-bar", Problem("end-meets-bar", text))
        else:
            text = f"The bar lies along itself: {pair}; lay one beside the other."
            found.setdefault("laps-itself", Problem("laps-itself", text))
    return list(found.values())


def _crossing(
    contact: Contact, development: Development, clearance: float, where: str, say: Say
) -> CannotMakeError:
    first, second = development.runs[contact.first_run], development.runs[contact.second_run]
    begins = sum(run.true_mm for run in development.runs[: contact.second_run])
    free = contact.second_mm - begins - clearance
    cure = "Lead it past with a turn of the bending plane"
    if second.kind == "straight" and free > 0:
        cure = f"End it {say.down(free)} after its bend, or lead it past with a turn of the bending plane"
    return CannotMakeError(
        f"{where}: the bar runs into itself: {second.kind} (word {second.word}) crosses {first.kind} "
        f"(word {first.word}) {say(contact.first_mm)} along the bar; their centre lines come within "
        f"{say(contact.apart_mm)} and the bar is {say(clearance)}.",
        hint=f"{cure}, or change the legs between them.",
    )


def cautions_of(development: Development, section: Section, *, hot_bends: bool = False) -> tuple[str, ...]:
    """The usual safety cautions for the work on a part."""
    kinds = {run.kind for run in development.runs}
    found = []
    if any(run.is_curve for run in development.runs):
        found.append("Springback and force are theory until measured: bend a test piece first.")
        found.append(
            "Bar springs when released; keep hands off the former, the pins and the sweep of the lever."
        )
    if hot_bends or kinds & {"taper", "twist", "corner"}:
        found.append(
            "Hot work: fire watch, eye protection, good air; no galvanised or plated bar in the fire."
        )
        if section.is_hollow:
            found.append("A sealed hollow bursts when heated: vent it first.")
    return tuple(found)


def unused_problems(part: PartSpec, section: Section, development: Development) -> list[Problem]:
    """Problems of fields and words that have no effect on a part's bar, which its author should know."""
    found = []
    smooth = section.form.is_round and not section.form.ribs
    if smooth and any(run.kind == "twist" for run in development.runs):
        bar, other = ("tube", "rectangular tube") if section.is_hollow else ("bar", "flat bar")
        text = f"a twist does not show on a round {bar}: leave it out, or take square or {other}."
        found.append(Problem("twist-unseen", text))
    if part.width is not None and not section.form.by_width:
        found.append(
            Problem("width-unused", f"its width counts for nothing: a {section.kind} is as wide as it is.")
        )
    if section.is_hollow is False and any(hole.walls for hole in part.holes):
        found.append(Problem("walls-unused", f"walls count for nothing in a {section.kind}, which is solid."))
    return found
