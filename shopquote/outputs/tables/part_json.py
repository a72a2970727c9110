"""JSON of `part`."""

from collections.abc import Iterable, Sequence

from shopquote.calc.bar.ends import Mitres
from shopquote.calc.bar.forging import Forging, forgings_of
from shopquote.calc.bar.hole_words import ToldHole, told_holes
from shopquote.calc.bar.holes import drill_mm
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import PartSpec
from shopquote.outputs.table import Column, json_rows
from shopquote.outputs.tables.part_tables import BEND_FACTS, HOLE_FACTS, Parts

FORGING_FACTS: tuple[Column[Forging], ...] = (
    Column("kind", lambda one: one.kind),
    Column("begin_mm", lambda one: round(one.begin_mm, 4)),
    Column("stock_mm", lambda one: round(one.stock_mm, 4)),
    Column("done_mm", lambda one: round(one.done_mm, 4)),
    Column("tip_mm", lambda one: round(one.tip_mm, 4) if one.kind == "taper" else None),
    Column("turns", lambda one: round(one.turns, 6) if one.kind == "twist" else None),
)


def parts_json(parts: Parts, cautions: Sequence[str] = (), *, why: bool = False) -> dict[str, object]:
    """Parts as plain values: lengths in mm, angles in degrees, moments in N m, forces in N."""
    return {"parts": [_part_json(part, answer, why) for part, answer in parts], "cautions": list(cautions)}


def _rounded(sizes: Iterable[float], digits: int) -> list[float]:
    return [round(size, digits) for size in sizes]


def _mitres_json(mitres: Mitres) -> dict[str, object]:
    return {
        "long_point_mm": round(mitres.long_mm, 3),
        "short_point_mm": round(mitres.short_mm, 3),
        "hand": mitres.hand,
        "roll": mitres.roll,
        "weld_mm": _rounded(mitres.weld_mm, 2),
    }


def _hole_json(told: ToldHole) -> dict[str, object]:
    """One kind of hole of a part; holes in an end and holes without a place have no mark on the bar."""
    return {
        "letter": told.letter or None,
        "size": told.hole.size,
        "drill_mm": round(drill_mm(told.hole), 4),
        "count": told.hole.count,
        "works": list(told.hole.works),
        "where": told.words or None,
    }


def _part_json(part: PartSpec, answer: PartAnswer, why: bool) -> dict[str, object]:
    made: dict[str, object] = {
        "mark": answer.mark,
        "name": part.name,
        "bar": answer.section.key,
        "bar_typed": part.bar,
        "grade": answer.grade.name,
        "grade_in_full": answer.grade_in_full,
        "developed_mm": answer.developed,
        "cut_mm": answer.cut,
        "pieces_mm": list(answer.sawn_as),
        "bend_marks_mm": [bend.mark.start for bend in answer.bends],
        "bends": json_rows(BEND_FACTS, answer.bends),
        "straights_mm": _rounded(answer.straights_mm, 6),
        "mass_kg": round(answer.mass_kg, 6),
        "area_m2": round(answer.area_m2, 8),
        "envelope_mm": _rounded(answer.envelope_mm, 3),
        "centre_of_gravity_mm": _rounded(answer.centre_of_gravity_mm, 3),
        "centreline_mm": [_rounded(point, 4) for point in answer.centreline_mm],
        "envelope_level_mm": answer.level_mm and _rounded(answer.level_mm, 3),
        "shape": part.shape,
        "length": part.length.text if part.length else None,
        "dims": part.dims,
        "thickness_mm": round(answer.section.depth_mm(part.bend_axis), 6),
        "width_mm": round(answer.section.width_mm(part.bend_axis), 6),
        "ends": [str(end) for end in answer.ends],
        "mitre_mm": _rounded(answer.mitre_mm, 3),
        "mitres": answer.mitres and _mitres_json(answer.mitres),
        "hole_marks_mm": json_rows(HOLE_FACTS, answer.hole_marks),
        "holes": [_hole_json(told) for told in told_holes(part, answer, "mm")],
        "cut_area_mm2": _rounded(answer.end_cut_area_mm2, 2),
        "forge_heats": answer.forge_heats,
        "end_notes": list(answer.end_notes),
        "shape_notes": list(answer.shape_notes),
        "forgings": json_rows(FORGING_FACTS, forgings_of(answer.runs)),
        "datum": answer.datum,
        "bend_order": [
            {
                "bend": step.bend,
                "end": step.end,
                "swap": step.swap,
                "roll": step.roll,
                "grip": step.grip or None,
                "way": step.way or None,
            }
            for step in answer.bend_order
        ],
        "bend_order_note": answer.order_note,
        "problems": [{"code": problem.code, "message": problem.message} for problem in answer.problems],
        "cautions": list(answer.cautions),
    }
    if why:
        made["why"] = list(answer.why)
    return made
