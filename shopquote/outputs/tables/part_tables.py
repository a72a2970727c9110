"""Worked-out parts for people and programs: tables in the terminal, and JSON."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shopquote.calc.bar.answers import BendAnswer, PartAnswer
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import PartSpec
from shopquote.calc.units import KG_PER_LB, Length, Unit, show_length, show_mark
from shopquote.outputs.tables.show import console, new_table, print_facts, print_table

if TYPE_CHECKING:
    from shopquote.services.jobs.part import BendersTried

Parts = Sequence[tuple[PartSpec, PartAnswer]]

M2_IN_FT2 = 0.3048**2
MOST_MARKS = 60  # of small bends, in the terminal

# ---- JSON ---------------------------------------------------------------------------------


def parts_json(parts: Parts, cautions: Sequence[str] = (), *, why: bool = False) -> dict[str, object]:
    """Parts as plain values: lengths in mm, angles in degrees, moments in N m, forces in N."""
    return {
        "parts": [_part_json(part, answer, why) for part, answer in parts],
        "cautions": list(cautions),
    }


def _part_json(part: PartSpec, answer: PartAnswer, why: bool) -> dict[str, object]:
    made: dict[str, object] = {
        "mark": answer.mark,
        "name": part.name,
        "bar": answer.section.key,
        "grade": answer.grade.name,
        "developed_mm": answer.developed,
        "cut_mm": answer.cut,
        "bend_marks_mm": [bend.mark.start for bend in answer.bends],
        "bends": [_bend_json(bend) for bend in answer.bends],
        "straights_mm": [round(straight, 6) for straight in answer.straights_mm],
        "mass_kg": round(answer.mass_kg, 6),
        "area_m2": round(answer.area_m2, 8),
        "envelope_mm": [round(size, 3) for size in answer.envelope_mm],
        "centre_of_gravity_mm": [round(place, 3) for place in answer.centre_of_gravity_mm],
        "centreline_mm": [[round(place, 4) for place in point] for point in answer.centreline_mm],
        "mitre_mm": [round(size, 3) for size in answer.mitre_mm],
        "cut_area_mm2": [round(area, 2) for area in answer.end_cut_area_mm2],
        "forge_heats": answer.forge_heats,
        "datum": answer.datum,
        "bend_order": [
            {"bend": step.bend, "end": step.end, "swap": step.swap, "roll": step.roll}
            for step in answer.bend_order
        ],
        "bend_order_note": answer.order_note,
        "problems": [{"code": problem.code, "message": problem.message} for problem in answer.problems],
        "cautions": list(answer.cautions),
    }
    if why:
        made["why"] = list(answer.why)
    return made


def _bend_json(bend: BendAnswer) -> dict[str, object]:
    return {
        "kind": bend.kind,
        "angle": bend.angle,
        "inside_radius_mm": bend.inside_radius,
        "over_bend_to": round(bend.over_bend_to, 4),
        "over_bend_source": bend.over_bend_source,
        "moment_nm": round(bend.moment_nm, 4),
        "hits": bend.hits,
        "how": bend.how,
        "bender": bend.bender,
        "former_radius_mm": bend.former_radius,
        "hand_force_n": None if bend.hand_force_n is None else round(bend.hand_force_n, 2),
        "outer_strain": round(bend.outer_strain, 6),
        "strain_limit": None if bend.strain_limit is None else round(bend.strain_limit, 6),
        "least_radius_mm": bend.least_radius,
        "left_radius_mm": bend.left_radius,
        "held_radius_mm": bend.held_radius,
        "flow_stress_mpa": round(bend.flow_stress_mpa, 3),
        "k": round(bend.k, 6),
        "k_rule": bend.k_rule,
        "k_spread": round(bend.k_spread, 6),
        "mark_start_mm": bend.mark.start,
        "mark_centre_mm": bend.mark.centre,
        "mark_end_mm": bend.mark.end,
        "bender_mark_mm": bend.bender_mark,
        "bender_mark_at": bend.bender_mark_at,
        "hit_advance_mm": bend.hit_advance,
        "hit_angle": round(bend.hit_angle, 4),
        "hit_over_bend": round(bend.hit_over_bend, 4),
        "hit_marks_mm": list(bend.hit_marks),
        "in_space": bend.is_3d,
    }


def benders_json(tried: "BendersTried") -> dict[str, object]:
    """What each bender on file makes of the same parts."""
    return {
        "bends": tried.bends,
        "parts": tried.parts,
        "left_out": list(tried.left_out),
        "benders": [
            {"bender": trial.bender, "bends": trial.bends, "parts": trial.parts, "lacks": dict(trial.lacks)}
            for trial in tried.trials
        ],
    }


# ---- Terminal -----------------------------------------------------------------------------


def print_parts(
    parts: Parts, unit: Unit, cautions: Sequence[str] = (), *, why: bool = False, own_shop: bool = True
) -> None:
    """Print each part: its lengths, its bends, and what a person must decide about."""
    for part, answer in parts:
        print_facts(_facts(part, answer, unit), title=f"{part.mark}  {part.name}")
        if answer.bends:
            _print_bends(answer, unit)
        _print_lines("To decide", [problem.message for problem in answer.problems])
        if why:
            _print_lines("Why, in mm, N and MPa", answer.why)
        console().print()
    _print_lines("Caution", cautions)
    if not own_shop:
        console().print("Benders and grades are the usual ones; put your own on file: shopquote setup")


def print_benders(tried: "BendersTried") -> None:
    """Print what each bender on file makes of the same parts."""
    console().print(f"Benders on file, tried on all bends ({tried.bends} in {tried.parts} of the parts)")
    table = new_table(("bends", "right"), ("parts", "right"), "bender and what lacks")
    for trial in tried.trials:
        lacks = ", ".join(f"{count} {code}" for code, count in trial.lacks.items())
        table.add_row(str(trial.bends), str(trial.parts), f"{trial.bender}{': ' if lacks else ''}{lacks}")
    print_table(table)
    if tried.left_out:
        console().print(f"Left out, for they have other curves than bends: {', '.join(tried.left_out)}")


def _facts(part: PartSpec, answer: PartAnswer, unit: Unit) -> list[tuple[str, str]]:
    size = " x ".join(show_length(_length(side), unit) for side in answer.envelope_mm)
    balance = ", ".join(
        f"{axis} {show_length(_length(place), unit)}"
        for axis, place in zip("xyz", answer.centre_of_gravity_mm, strict=True)
    )
    facts = [
        ("bar", f"{part.bar}, {answer.grade.name}"),
        ("developed length", _fine(answer.developed, unit)),
        ("cut length", show_length(answer.cut, unit, exact=True)),
        ("mass", _mass(answer.mass_kg, unit)),
        ("area", _area(answer.area_m2, unit)),
        ("size over all", size),
    ]
    if answer.bends:
        # x runs along the bar at its start, y to the inside of the first bend.
        facts.append(("balances at", balance))
    for name, end, short in zip(("start", "finish"), answer.ends, answer.mitre_mm, strict=True):
        if end.kind == "mitre":
            facts.append((f"{name} end", f"{end}: short point {show_length(_length(short), unit)} back"))
    if any(end.kind == "mitre" for end in answer.ends):
        facts.append(("sawn area", " and ".join(_sawn(area, unit) for area in answer.end_cut_area_mm2)))
    if answer.forge_heats:
        facts.append(("forge heats", str(answer.forge_heats)))
    if answer.order_note:
        facts.append(("bend order", answer.order_note))
    return facts


def _print_bends(answer: PartAnswer, unit: Unit) -> None:
    heads = ("bend", "inside r", f"mark from {answer.datum}", "pull to", "moment", "at hand", "strain")
    _print_rows(heads, [_bend_row(number, bend, unit) for number, bend in enumerate(answer.bends, start=1)])
    lies = ("bend", "begins at", "centre", "ends at", "K", "neutral axis by")
    _print_rows(lies, [_place_row(number, bend, unit) for number, bend in enumerate(answer.bends, start=1)])
    _print_lines("Made by", _makers(answer.bends, unit))
    _print_lines("Small bends", _small_bends(answer, unit))


def _print_rows(heads: Sequence[str], rows: Sequence[tuple[str, ...]]) -> None:
    widths = [max(len(text) for text in column) for column in zip(heads, *rows, strict=True)]
    if sum(widths) + 2 * len(widths) > console().width:
        # Never cut a figure short: a narrow terminal gets a line for each.
        for row in rows:
            print_facts(list(zip(heads, row, strict=True)))
        return
    table = new_table(*((head, "right") for head in heads))
    for row in rows:
        table.add_row(*row)
    print_table(table)


def _bend_row(number: int, bend: BendAnswer, unit: Unit) -> tuple[str, ...]:
    say = Say(unit)
    pull = f"{bend.hit_over_bend:.1f}° each" if bend.hits > 1 else f"{bend.over_bend_to:.1f}°"
    return (
        f"{number}  {bend.angle:g}°",
        show_length(bend.inside_radius, unit, exact=True),
        "" if bend.bender_mark is None else show_mark(bend.bender_mark, unit),
        pull,
        say.moment(bend.moment_nm),
        "" if bend.hand_force_n is None else say.force(bend.hand_force_n),
        f"{bend.outer_strain * 100:.0f} of {(bend.strain_limit or 0) * 100:.0f} %",
    )


def _place_row(number: int, bend: BendAnswer, unit: Unit) -> tuple[str, ...]:
    """Where a bend lies along the bar from its start, and the K that its length was worked out with."""
    spread = f" ± {bend.k_spread:.3f}" if bend.k_spread else ""
    places = (bend.mark.start, bend.mark.centre, bend.mark.end)
    return (str(number), *(show_mark(place, unit) for place in places), f"{bend.k:.3f}{spread}", bend.k_rule)


def _small_bends(answer: PartAnswer, unit: Unit) -> list[str]:
    lines = []
    for number, bend in enumerate(answer.bends, start=1):
        if bend.hits > 1:
            marks = [show_mark(mark, unit).rsplit(" ", 1)[0] for mark in bend.hit_marks[:MOST_MARKS]]
            left = len(bend.hit_marks) - len(marks)
            more = f" and {left} more, all of them in --json" if left else ""
            lines.append(
                f"bend {number}: {bend.hits} of {abs(bend.hit_angle):.2f}°, centres from {answer.datum} at "
                f"{', '.join(marks)} {unit}{more}"
            )
    return lines


def _makers(bends: Sequence[BendAnswer], unit: Unit) -> list[str]:
    """What makes each bend; bends made alike share a line."""
    by_way: dict[str, list[int]] = {}
    for number, bend in enumerate(bends, start=1):
        source = "measured" if bend.over_bend_source.startswith("measured") else "theory"
        set_by = "" if bend.bender is None else f"; mark is the {bend.bender_mark_at} of the bend"
        by_way.setdefault(f"{_made_by(bend, unit)}{set_by}; over-bend by {source}", []).append(number)
    return [f"bend {', '.join(str(number) for number in numbers)}: {way}" for way, numbers in by_way.items()]


def _made_by(bend: BendAnswer, unit: Unit) -> str:
    if bend.bender is None:
        return "no bender on file"
    former = (
        ""
        if bend.former_radius is None
        else f", former r {show_length(bend.former_radius, unit, exact=True)}"
    )
    if bend.hits > 1 and bend.hit_advance is not None:
        return f"{bend.bender}{former}, {bend.hits} small bends {_fine(bend.hit_advance, unit)} apart"
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
    return f"{mass_kg:.3f} kg" if unit == "mm" else f"{mass_kg / float(KG_PER_LB):.3f} lb ({mass_kg:.3f} kg)"


def _area(area_m2: float, unit: Unit) -> str:
    return f"{area_m2:.4f} m2" if unit == "mm" else f"{area_m2 / M2_IN_FT2:.3f} ft2 ({area_m2:.4f} m2)"


def _sawn(area_mm2: float, unit: Unit) -> str:
    return f"{area_mm2:.0f} mm2" if unit == "mm" else f"{area_mm2 / 25.4**2:.3f} in2"


def _length(value_mm: float) -> Length:
    return Length(round(value_mm * 1e6))
