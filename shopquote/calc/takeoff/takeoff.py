"""From parts to bars: pieces gathered by section and grade, and a plan of theirs added up.

Begin at `group_pieces`. Within a section and grade the lengths add up exactly:
bought + from the rack = net + kerf + trim + kept + scrap, where the overlap of nested
mitres counts as kerf saved.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import PartSpec
from shopquote.calc.money import money_step, round_money, round_money_down
from shopquote.calc.takeoff.cut_plan import CutPlan, Material, Piece
from shopquote.calc.takeoff.whole_sheets import Band, Sold, band_of
from shopquote.calc.units import Length

Item = tuple[PartAnswer, PartSpec | None, int, str]
Group = tuple[Section, Grade, tuple[Piece, ...]]


def group_pieces(items: Sequence[Item], sheets: Mapping[tuple[str, str], Sold] = {}) -> tuple[Group, ...]:
    """Pieces by section and grade, in the order of first appearance.

    An item is (answer of the bar room, part as asked for or None, pieces, owner). `sheets`: the wider sheet
    that pieces of a (section key, grade) are cut from; they are gathered there, band by band.
    """
    found: dict[tuple[str, str], tuple[Section, Grade, list[Piece]]] = {}
    for item, band in _on_sheets(items, sheets):
        answer, part, count, owner = item
        section = answer.section if band is None else band.sheet
        group = found.setdefault((section.key, answer.grade.name), (section, answer.grade, []))
        if count and band is None:
            group[2].extend(_pieces(answer, part, count, owner))
        elif count and band is not None:
            group[2].append(replace(_piece(answer, part, band.bands, owner), length=band.along))
    return tuple((section, grade, tuple(pieces)) for section, grade, pieces in found.values() if pieces)


def bands_of(items: Sequence[Item], sheets: Mapping[tuple[str, str], Sold]) -> tuple[Band, ...]:
    """The bands that pieces of sheet are cut from, part by part."""
    return tuple(band for item, band in _on_sheets(items, sheets) if band is not None and item[2])


def _on_sheets(
    items: Sequence[Item], sheets: Mapping[tuple[str, str], Sold]
) -> Iterator[tuple[Item, Band | None]]:
    for item in items:
        answer, part, count, owner = item
        sheet = sheets.get((answer.section.key, answer.grade.name))
        yield item, None if sheet is None else band_of(answer, part, count, owner, sheet)


def _pieces(answer: PartAnswer, part: PartSpec | None, count: int, owner: str) -> list[Piece]:
    """What is sawn for a part: one piece, or those that it is welded together from, mitres at the ends."""
    whole = _piece(answer, part, count, owner)
    lengths = answer.sawn_as
    if len(lengths) == 1:
        return [whole]
    first, last = whole.mitres
    found: list[Piece] = []
    for place, length in enumerate(lengths):
        mitres = (first if place == 0 else 0.0, last if place == len(lengths) - 1 else 0.0)
        alike = found and (found[-1].length, found[-1].mitres) == (length, mitres)
        if alike:
            found[-1] = replace(found[-1], count=found[-1].count + count)
        else:
            found.append(replace(whole, length=length, mitres=mitres))
    return found


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


@dataclass(frozen=True, slots=True)
class Share:
    """One job's stand-alone material cost, and its part of the joint cost."""

    owner: str
    alone: Decimal
    bears: Decimal

    @property
    def saving(self) -> Decimal:
        """What the job gains by being bought together."""
        return self.alone - self.bears


def share_cost(alone: Mapping[str, Decimal], together: Decimal, currency: str = "EUR") -> tuple[Share, ...]:
    """Divide the joint cost in proportion to the stand-alone costs; the parts add up exactly.

    What is left over after rounding down goes, the currency's least amount each, to the largest remainders.
    Where nothing costs anything alone, each job bears the same.

    >>> [str(share.bears) for share in share_cost({"J-1": Decimal(30), "J-2": Decimal(60)}, Decimal(80))]
    ['26.67', '53.33']
    >>> [str(share.bears) for share in share_cost({"J-1": Decimal(30)}, Decimal("80.125"))]
    ['80.13']
    """
    if not alone:
        return ()
    total = sum(alone.values(), start=Decimal(0))
    whole = round_money(together, currency)
    parts = {
        owner: whole * (cost / total if total else Decimal(1) / len(alone)) for owner, cost in alone.items()
    }
    bears = {owner: round_money_down(part, currency) for owner, part in parts.items()}
    step = money_step(currency)
    missing = int((whole - sum(bears.values(), start=Decimal(0))) / step)
    for owner in sorted(parts, key=lambda name: (bears[name] - parts[name], name))[:missing]:
        bears[owner] += step
    return tuple(Share(owner, cost, bears[owner]) for owner, cost in alone.items())
