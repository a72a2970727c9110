"""Worked-out parts for people and programs: tables in the terminal, and JSON."""

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from shopquote.calc.bar.ends import mitre_words
from shopquote.calc.bar.hole_words import told_holes
from shopquote.calc.bar.part_answer import (
    BendAnswer,
    HoleMark,
    PartAnswer,
    rolled_words,
    setting_words,
    shown_pulls,
)
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.threads import find_thread
from shopquote.calc.job import HoleSpec, PartSpec
from shopquote.calc.units import Length, Unit, show_angle, show_length, show_mark, show_mass
from shopquote.outputs.looks import COUNT, EXACT_LENGTH, FIGURE, Look, Setting
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import console, print_facts, print_table

if TYPE_CHECKING:
    from shopquote.services.jobs.part import BendersTried, BenderTrial

Parts = Sequence[tuple[PartSpec, PartAnswer]]

M2_IN_FT2 = 0.3048**2
MOST_MARKS = 60  # of small bends, in the terminal

# ---- JSON ---------------------------------------------------------------------------------


Numbered = tuple[int, BendAnswer]


def _optional(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def pull_angle(bend: BendAnswer) -> str:
    """The angle to pull to; of small bends the least and the most. Hot bends need no over-bend."""
    if bend.hot:
        return "hot"
    if bend.unmade:
        return "no bender"
    if bend.hits == 1:
        return show_angle(bend.over_bend_to)
    pulls = shown_pulls(bend.hit_over_bends)
    least, most = min(pulls, key=float), max(pulls, key=float)
    return f"{most}° each" if least == most else f"{least} to {most}°"


def _pull(bend: BendAnswer, setting: Setting) -> str:
    if rolled := rolled_words(bend, setting.unit):
        return rolled
    angle, between = pull_angle(bend), bend.pull_range
    if bend.hot or bend.unmade or not between:
        return angle
    return f"{angle} {between}" if bend.hits == 1 else f"{angle}, {between}"


def _between(bend: BendAnswer) -> list[float] | None:
    return bend.over_bend_between and [round(angle, 4) for angle in bend.over_bend_between]


def _strain(of: Numbered) -> str:
    return f"{of[1].outer_strain * 100:.0f} of {(of[1].strain_limit or 0) * 100:.0f} %"


def _k(of: Numbered) -> str:
    return f"{of[1].k:.3f}" + (f" ± {of[1].k_spread:.3f}" if of[1].k_spread else "")


MOMENT = Look(lambda value, setting: Say(setting.unit).moment(value), lambda value, setting: round(value, 4))
FORCE = Look(lambda value, setting: Say(setting.unit).force(value), lambda value, setting: round(value, 2))
PULL = Look(_pull, lambda bend, setting: pull_angle(bend))
BEND_MARK = Look(lambda value, setting: show_mark(value, setting.unit), lambda value, setting: value)

# For people: `BENDS` has the settings of the bender, `PLACES` where each bend is. `BEND_FACTS` is for JSON.
BENDS: tuple[Column[Numbered], ...] = (
    Column("Bend", lambda of: f"{of[0]}  {show_angle(of[1].angle)}", FIGURE),
    Column("Inside r", lambda of: of[1].inside_radius, EXACT_LENGTH),
    Column("Mark", lambda of: of[1].bender_mark, BEND_MARK),
    Column("Pull to", lambda of: of[1], PULL),
    Column("Moment", lambda of: of[1].moment_nm, MOMENT),
    Column("Hand force", lambda of: of[1].hand_force_n, FORCE),
    Column("Strain", _strain, FIGURE),
)
PLACES: tuple[Column[Numbered], ...] = (
    Column("Bend", lambda of: of[0], COUNT),
    Column("Begins at", lambda of: of[1].mark.start, BEND_MARK),
    Column("Centre", lambda of: of[1].mark.centre, BEND_MARK),
    Column("Ends at", lambda of: of[1].mark.end, BEND_MARK),
    Column("K", _k, FIGURE),
    Column("Neutral-axis rule", lambda of: of[1].k_rule, FIGURE),
)
BEND_FACTS: tuple[Column[BendAnswer], ...] = (
    Column("kind", lambda bend: bend.kind),
    Column("angle", lambda bend: bend.angle),
    Column("inside_radius_mm", lambda bend: bend.inside_radius),
    Column("over_bend_to", lambda bend: round(bend.over_bend_to, 4)),
    Column("over_bend_between", lambda bend: _between(bend)),
    Column("over_bend_source", lambda bend: bend.over_bend_source),
    Column("moment_nm", lambda bend: bend.moment_nm, MOMENT),
    Column("hits", lambda bend: bend.hits),
    Column("how", lambda bend: bend.how),
    Column("bender", lambda bend: bend.bender),
    Column("former_radius_mm", lambda bend: bend.former_radius),
    Column("hand_force_n", lambda bend: bend.hand_force_n, FORCE),
    Column("outer_strain", lambda bend: round(bend.outer_strain, 6)),
    Column("strain_limit", lambda bend: _optional(bend.strain_limit, 6)),
    Column("least_radius_mm", lambda bend: bend.least_radius),
    Column("left_radius_mm", lambda bend: bend.left_radius),
    Column("held_radius_mm", lambda bend: bend.held_radius),
    Column("flow_stress_mpa", lambda bend: round(bend.flow_stress_mpa, 3)),
    Column("k", lambda bend: round(bend.k, 6)),
    Column("k_rule", lambda bend: bend.k_rule),
    Column("k_spread", lambda bend: round(bend.k_spread, 6)),
    Column("mark_start_mm", lambda bend: bend.mark.start),
    Column("mark_centre_mm", lambda bend: bend.mark.centre),
    Column("mark_end_mm", lambda bend: bend.mark.end),
    Column("bender_mark_mm", lambda bend: bend.bender_mark),
    Column("bender_mark_at", lambda bend: bend.bender_mark_at),
    Column("hit_advance_mm", lambda bend: bend.hit_advance),
    Column("hit_angle", lambda bend: round(bend.hit_angle, 4)),
    Column("hit_over_bend", lambda bend: round(bend.hit_over_bend, 4)),
    Column("hit_marks_mm", lambda bend: list(bend.hit_marks)),
    Column("hit_bender_marks_mm", lambda bend: list(bend.hit_bender_marks)),
    Column("hit_angles", lambda bend: [round(angle, 4) for angle in bend.hit_angles]),
    Column("hit_over_bends", lambda bend: [round(angle, 4) for angle in bend.hit_over_bends]),
    Column("hit_between", lambda bend: [[round(angle, 4) for angle in pair] for pair in bend.hit_between]),
    Column("hit_formers_mm", lambda bend: list(bend.hit_formers)),
    Column("hit_turn", lambda bend: round(bend.hit_turn, 4)),
    Column("gap_mm", lambda bend: round(bend.gap_mm, 4)),
    Column("turn", lambda bend: bend.turn),
    Column("leg", lambda bend: bend.leg),
    Column("works_by", lambda bend: bend.works_by),
    Column("grip", lambda bend: bend.grip_end or None),
    Column("stop_end", lambda bend: bend.stop_end or None),
    Column("stop_mm", lambda bend: bend.stop),
    Column("in_space", lambda bend: bend.is_3d),
    Column("made_by", lambda bend: bend.by),
    Column("hot", lambda bend: bend.hot),
    Column("unmade", lambda bend: bend.unmade),
    Column("told", lambda bend: bend.told or None),
)


HOLE_FACTS: tuple[Column[HoleMark], ...] = (
    Column("letter", lambda hole: hole.letter),
    Column("dia", lambda hole: round(hole.dia_mm, 4)),
    Column("thread", lambda hole: hole.thread or None),
    Column("at_mm", lambda hole: hole.at),
    Column("across_mm", lambda hole: round(hole.across_mm, 4)),
    Column("leg", lambda hole: hole.leg),
    Column("face", lambda hole: hole.face or None),
    Column("in_bend", lambda hole: hole.in_bend),
    Column("clear_mm", lambda hole: _optional(hole.clear_mm, 3)),
    Column("needs_mm", lambda hole: round(hole.needs_mm, 3)),
    Column("after_bending", lambda hole: hole.after_bending),
)


def _lacks(trial: "BenderTrial") -> str:
    lacks = ", ".join(f"{count} {code}" for code, count in trial.lacks.items())
    return f"{trial.bender}: {lacks}" if lacks else trial.bender


TRIALS: "tuple[Column[BenderTrial], ...]" = (
    Column("Bender", lambda trial: trial.bender, on=JSON),
    Column("Bends", lambda trial: trial.bends, COUNT),
    Column("Parts", lambda trial: trial.parts, COUNT),
    Column("Bender, and what it lacks", _lacks, on=SEEN),
    Column("Lacks", lambda trial: dict(trial.lacks), on=JSON),
)


def benders_json(tried: "BendersTried") -> dict[str, object]:
    """JSON of `part --benders`: what each bender on file can make of the parts, and why not the rest."""
    return {
        "bends": tried.bends,
        "parts": tried.parts,
        "left_out": list(tried.left_out),
        "benders": json_rows(TRIALS, tried.trials),
    }


# ---- Terminal -----------------------------------------------------------------------------


def print_parts(
    parts: Parts, unit: Unit, cautions: Sequence[str] = (), *, why: bool = False, own_shop: bool = True
) -> None:
    """Print each part: its lengths, its bends, and its warnings."""
    for part, answer in parts:
        print_facts(_facts(part, answer, unit), title=f"{part.mark}  {part.name}")
        if answer.bends:
            _print_bends(answer, unit)
        _print_lines("Hole marks on the straight bar", _hole_lines(part, answer, unit))
        _print_lines("To decide", [problem.message for problem in answer.problems])
        if why:
            _print_lines("Why, in mm, N and MPa", answer.why)
        console().print()
    _print_lines("Caution", cautions)
    if not own_shop:
        console().print("Benders and grades are the usual ones; put your own on file: shopquote setup")


def print_benders(tried: "BendersTried") -> None:
    """Print what each bender on file can make of the parts, and why not the rest."""
    console().print(f"Benders on file, tried on all bends ({tried.bends} in {tried.parts} of the parts)")
    print_table(Table(TRIALS, tried.trials))
    if tried.left_out:
        console().print(f"Left out, for they have other curves than bends: {', '.join(tried.left_out)}")


def _facts(part: PartSpec, answer: PartAnswer, unit: Unit) -> list[tuple[str, str]]:
    size = " x ".join(show_length(_length(side), unit) for side in answer.envelope_mm)
    balance = ", ".join(
        f"{axis} {show_length(_length(place), unit)}"
        for axis, place in zip("xyz", answer.centre_of_gravity_mm, strict=True)
    )
    facts = [
        ("bar", f"{part.bar}, {answer.grade_in_full}"),
        ("developed length", _fine(answer.developed, unit)),
        ("cut length", show_length(answer.cut, unit, exact=True)),
        ("mass", _mass(answer.mass_kg, unit)),
        ("area", _area(answer.area_m2, unit)),
        ("overall size", size),
        *_level(answer, unit),
    ]
    if answer.bends:
        # x runs along the bar at its start, y to the inside of the first bend.
        facts.append(("centre of gravity", balance))
    if answer.mitres:
        facts.append(("mitres", mitre_words(answer.mitres, Say(unit))))
        welds = " and ".join(show_length(_length(size), unit) for size in answer.mitres.weld_mm)
        facts.append(("weld round the ends", welds))
    for name, end, short in zip(("start", "finish"), answer.ends, answer.mitre_mm, strict=True):
        if end.kind == "mitre":
            facts.append((f"{name} end", f"{end}: short point {show_length(_length(short), unit)} back"))
    if any(end.kind == "mitre" for end in answer.ends):
        facts.append(("sawn area", " and ".join(_sawn(area, unit) for area in answer.end_cut_area_mm2)))
    hold = filter(None, [part.hold_words])
    told = (("shape", answer.shape_notes), ("hold", hold), ("ends", answer.end_notes))
    facts += [(name, note) for name, notes in told for note in notes]
    if answer.forge_heats:
        facts.append(("forge heats", str(answer.forge_heats)))
    if answer.order_note:
        facts.append(("bend order", answer.order_note))
    return facts


def _level(answer: PartAnswer, unit: Unit) -> list[tuple[str, str]]:
    """Overall size with the longest leg level, if that differs from the size along the first leg."""
    if answer.level_mm is None or all(
        abs(a - b) < 0.05 for a, b in zip(answer.level_mm, answer.envelope_mm, strict=True)
    ):
        return []
    size = " x ".join(show_length(_length(side), unit) for side in answer.level_mm)
    return [("lying level on its longest leg", size)]


def _hole_lines(part: PartSpec, answer: PartAnswer, unit: Unit) -> list[str]:
    """Each hole on the straight bar, from the datum of the bend marks."""
    return [
        f"{told.letter}: {_hole_size(told.hole)} on leg {told.hole.leg}, {told.words}".removeprefix(": ")
        for told in told_holes(part, answer, unit)
        if told.words
    ]


def _hole_size(hole: HoleSpec) -> str:
    """A hole's size, its drill if it is tapped, and what else is done to it."""
    drill = f" (drill {find_thread(hole.thread).drill_text})" if hole.dia is None else ""
    return " ".join([hole.size, *hole.sized_works]) + drill


def _print_bends(answer: PartAnswer, unit: Unit) -> None:
    bends = list(enumerate(answer.bends, start=1))
    setting = Setting(unit=unit)
    print_table(Table(BENDS, bends, setting=setting))
    print_table(Table(PLACES, bends, setting=setting))
    print(f"Marks are from {answer.datum}, where a bend begins and ends from the start.")
    _print_lines("Made by", _makers(answer.bends, unit))
    _print_lines("Small bends", _small_bends(answer, unit))


def _small_bends(answer: PartAnswer, unit: Unit) -> list[str]:
    lines = []
    for number, bend in enumerate(answer.bends, start=1):
        if bend.hits > 1 and not bend.unmade:
            pulls = shown_pulls(bend.hit_over_bends)
            same = len(set(pulls)) == 1
            marks = [show_mark(mark, unit).rsplit(" ", 1)[0] for mark in bend.hit_bender_marks]
            if not same:
                marks = [f"{mark} to {pull}°" for mark, pull in zip(marks, pulls, strict=True)]
            left = max(0, len(marks) - MOST_MARKS)
            more = f" and {left} more, all of them in --json" if left else ""
            each = f" of {abs(bend.hit_angle):.2f}°" if same else ""
            turn = f", the bar turned {show_angle(abs(bend.hit_turn))} between them" if bend.hit_turn else ""
            lines.append(
                f"bend {number}: {bend.hits}{each}, {bend.bender_mark_at} of each from {answer.datum} at "
                f"{', '.join(marks[:MOST_MARKS])} {unit}{more}{turn}; within "
                f"{_fine(_length(bend.gap_mm), unit)} of the curve"
            )
            lines.extend(_former_changes(number, bend, unit))
    return lines


def _former_changes(number: int, bend: BendAnswer, unit: Unit) -> list[str]:
    """The ranges of small bends that share a former, if it changes along the curve."""
    if len(set(bend.hit_formers)) < 2:
        return []
    stretches, first = [], 1
    for former, hits in groupby(bend.hit_formers):
        last = first + len(list(hits)) - 1
        stretches.append(f"{first} to {last} on r {show_length(former, unit, exact=True)}")
        first = last + 1
    return [f"bend {number}, formers along it: {', '.join(stretches)}"]


def _makers(bends: Sequence[BendAnswer], unit: Unit) -> list[str]:
    """Bender and former of each bend; bends made alike share a line."""
    by_way: dict[str, list[int]] = {}
    for number, bend in enumerate(bends, start=1):
        source = "measured" if bend.over_bend_source.startswith("measured") else "theory"
        set_by = "" if bend.bender is None else f"; {setting_words(bend, unit)}"
        over = "" if bend.told or bend.hot else f"; over-bend by {source}"
        by_way.setdefault(f"{_made_by(bend, unit)}{set_by}{over}", []).append(number)
    return [f"bend {', '.join(str(number) for number in numbers)}: {way}" for way, numbers in by_way.items()]


def _made_by(bend: BendAnswer, unit: Unit) -> str:
    if bend.told:
        return bend.told
    if bend.bender is None:
        return "no bender on file"
    former = (
        ""
        if bend.former_radius is None
        else f", former r {show_length(bend.former_radius, unit, exact=True)}"
    )
    if bend.hits > 1:
        apart = "" if bend.hit_advance is None else f" {_fine(bend.hit_advance, unit)} apart"
        return f"{bend.bender}{former}, {bend.hits} small bends{apart}"
    if bend.hot:
        return f"{bend.bender}{former}, hot"
    if former and bend.left_radius is not None:
        return f"{bend.bender}{former} leaves r {_fine(bend.left_radius, unit)}"
    return f"{bend.bender}{former}" if former else f"{bend.bender}, {bend.how}"


def _print_lines(heading: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    out = console()
    out.print(heading)
    for line in lines:
        out.print(f"  - {line}")


def _fine(length: Length, unit: Unit) -> str:
    """A length finer than on sheets: to 0.1 mm, or to 1/64 in."""
    if unit == "mm":
        return f"{length.mm_float:.1f} mm"
    return show_length(Length(round(length.nm / 396_875) * 396_875), "in", exact=True)


def _mass(mass_kg: float, unit: Unit) -> str:
    told = show_mass(mass_kg, unit, ".3f")
    return told if unit == "mm" else f"{told} ({mass_kg:.3f} kg)"


def _area(area_m2: float, unit: Unit) -> str:
    return f"{area_m2:.4f} m2" if unit == "mm" else f"{area_m2 / M2_IN_FT2:.3f} ft2 ({area_m2:.4f} m2)"


def _sawn(area_mm2: float, unit: Unit) -> str:
    return f"{area_mm2:.0f} mm2" if unit == "mm" else f"{area_mm2 / 25.4**2:.3f} in2"


def _length(value_mm: float) -> Length:
    return Length(round(value_mm * 1e6))
