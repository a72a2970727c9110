"""From parts to bars: pieces gathered by section and grade, and a plan of theirs added up.

Begin at `group_pieces`. Within a section and grade the lengths add up exactly:
bought + from the rack = net + kerf + trim + kept + scrap, where the overlap of nested
mitres counts as kerf saved.
"""

from collections.abc import Sequence

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import PartSpec
from shopquote.calc.takeoff.answers import CutPlan, Material, Piece
from shopquote.calc.units import Length

Item = tuple[PartAnswer, PartSpec | None, int, str]
Group = tuple[Section, Grade, tuple[Piece, ...]]


def group_pieces(items: Sequence[Item]) -> tuple[Group, ...]:
    """Pieces by section and grade, in the order of first appearance.

    An item is (answer of the bar room, part as asked for or None, pieces, owner).
    """
    found: dict[tuple[str, str], tuple[Section, Grade, list[Piece]]] = {}
    for answer, part, count, owner in items:
        key = (answer.section.key, answer.grade.name)
        group = found.setdefault(key, (answer.section, answer.grade, []))
        if count:
            group[2].append(_piece(answer, part, count, owner))
    return tuple((section, grade, tuple(pieces)) for section, grade, pieces in found.values() if pieces)


def _piece(answer: PartAnswer, part: PartSpec | None, count: int, owner: str) -> Piece:
    mitres = (float(answer.ends[0].mitre), float(answer.ends[1].mitre))
    depth = Length(0)
    if any(mitres):
        axis = part.bend_axis if part is not None else "easy"
        depth = Length.from_mm(answer.section.depth_mm(axis))
    one_heat = part is not None and part.one_heat
    return Piece(
        answer.mark, answer.cut, count, mitres, f"{owner} {answer.mark}" if one_heat else None, owner, depth
    )


def add_up(section: Section, grade: Grade, plan: CutPlan) -> Material:
    """Totals of a plan; `mass_kg` is the mass of what is bought and taken from the rack."""
    net = pieces = bought = rack = kerf = trim = kept = scrap = 0
    for bar in plan.bars:
        pieces += bar.count * sum(count for _, _, count, _ in bar.pieces)
        net += bar.count * sum(length.nm * count for _, length, count, _ in bar.pieces)
        if bar.rack_piece is None:
            bought += bar.count * bar.stock.nm
        else:
            rack += bar.count * bar.stock.nm
        kerf += bar.count * (bar.kerf.nm - bar.overlap.nm)
        trim += bar.count * bar.trim.nm
        kept += bar.count * bar.offcut.nm if bar.kept else 0
        scrap += 0 if bar.kept else bar.count * bar.offcut.nm
    mass = (bought + rack) / 1e9 * section.mass_per_m(grade.density_kg_m3)
    return Material(
        section,
        grade,
        pieces,
        Length(net),
        Length(bought),
        Length(rack),
        Length(kerf),
        Length(trim),
        Length(kept),
        Length(scrap),
        mass,
        plan,
    )
