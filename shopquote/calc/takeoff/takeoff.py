"""From parts to bars: pieces gathered by section and grade, planned, and added up.

Begin at `take_off`. Within a section and grade the lengths add up exactly:
bought + from the rack = net + kerf + trim + kept + scrap, where the overlap of nested
mitres counts as kerf saved.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import PartSpec
from shopquote.calc.takeoff.answers import CutPlan, Material, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.own import own_first
from shopquote.calc.takeoff.plan import PLAN_WORK, Progress, plan_cuts
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import Length, Unit
from shopquote.errors import CannotMakeError

Item = tuple[PartAnswer, PartSpec | None, int, str]
Group = tuple[Section, Grade, tuple[Piece, ...]]

# Of many materials each gets at least this much work: less leaves gaps on the smallest lists.
LEAST_WORK = A_SECOND // 10


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


def take_off(
    items: Sequence[Item],
    stocks_for: Callable[[Section, Grade], Sequence[StockBar]],
    rack_for: Callable[[Section, Grade], Sequence[RackBar]],
    saw: SawSettings,
    unit: Unit = "mm",
    work: int = PLAN_WORK,
    seconds: float | None = None,
    progress: Progress | None = None,
    prove: bool = False,
) -> tuple[Material, ...]:
    """Plan every section and grade of one or several jobs.

    `work` and `seconds` are for all of them together. Stock without a price is left out where
    other stock of the same section has one. Of the rack, the jobs' own pieces come first.

    Raises:
        CannotMakeError: no bar on file is long enough; the message names the bar.
    """
    groups = group_pieces(items)
    materials: list[Material] = []
    number = max(1, len(groups))
    share = None if seconds is None else seconds / number
    each = max(work // number, LEAST_WORK)
    for section, grade, pieces in groups:
        stocks = list(stocks_for(section, grade))
        if any(stock.price is not None for stock in stocks):
            stocks = [stock for stock in stocks if stock.price is not None]
        rack = rack_for(section, grade)
        try:
            plan = plan_cuts(
                pieces, stocks, rack, saw, unit=unit, work=each, seconds=share, progress=progress, prove=prove
            )
        except CannotMakeError as error:
            bar = section.name(unit)
            hint = error.hint
            if not stocks and not rack:
                words = f'"{bar}" {grade.name} LENGTH price=... basis=kg'
                hint = f"Put one on file: shopquote stock set SUPPLIER {words}"
            raise CannotMakeError(f"{bar} {grade.name}: {error.message}", hint=hint) from error
        plan = replace(plan, bars=own_first(plan.bars, rack, pieces, saw))
        materials.append(add_up(section, grade, plan))
    return tuple(materials)


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
