"""Questions put to the cut planner and the plans it answers with."""

from dataclasses import field
from decimal import Decimal
from typing import Any

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import ZERO, Length


@dataclass(frozen=True, slots=True)
class Piece:
    """Pieces of one mark to cut; `mitres` are degrees off square at both ends.

    `heat_group`: pieces that bear the same group name come from one heat.
    `owner` names the job, so that a saving can be shared back. `depth` is the
    section's depth in the mitre plane; without it mitres do not nest.
    """

    mark: str
    length: Length
    count: int
    mitres: tuple[float, float] = (0.0, 0.0)
    heat_group: str | None = None
    owner: str = ""
    depth: Length = ZERO


@dataclass(frozen=True, slots=True)
class StockBar:
    """A length that can be bought; `price` is for one bar, None where no price is on file.

    `tolerance`: how much shorter than `length` a bar may come; plans leave so much unused.
    """

    length: Length
    price: Decimal | None = None
    limit: int | None = None
    supplier: str = ""
    tolerance: Length = ZERO


@dataclass(frozen=True, slots=True)
class RackBar:
    """One piece on the rack. It costs nothing, but among plans of equal cost least value is used.

    `own`: the jobs have it already, promised or on order, so that it counts as nothing.
    `value`: what it is worth; None: by its length, at the shop's per cent of a new bar's price.
    """

    piece: str
    length: Length
    heat: str = ""
    own: bool = False
    value: Decimal | None = None


@dataclass(frozen=True, slots=True)
class SawSettings:
    """The saw and the shop's rule for offcuts.

    `grip`: what the vise cannot hold. An offcut of at least `keep_min` is
    kept, and `keep_percent` of the price of that much of its bar is credited, in
    whole cents.
    `nest_mitres`: pieces with the same mitre at both ends are turned end for end
    and cut into each other.
    `rack_worth_percent`: of the price of that much new bar, what a rack bar without a value of its own is
    worth where plans of equal cost are told apart.
    """

    kerf: Length
    trim: Length = ZERO
    grip: Length = ZERO
    keep_min: Length | None = None
    keep_percent: Decimal = Decimal(0)
    nest_mitres: bool = False
    rack_worth_percent: Decimal = Decimal(100)

    @property
    def lost(self) -> Length:
        """What no piece of a bar is cut from, kerfs aside: the squaring cut and what the vise holds."""
        return self.trim + self.grip


@dataclass(frozen=True, slots=True)
class BarCut:
    """One cutting pattern and how many bars are cut so.

    `pieces` is (mark, length, count in one bar, owner). Per bar:
    stock + overlap = pieces + kerf + trim + offcut; the offcut is kept or scrap.
    `kerf` is all that the saw takes: (pieces - 1) kerfs between them and, where anything is
    left, the cut that frees it from the last piece. The offcut is what then lies on the
    floor. `overlap` is what nested mitres share.
    `spare`: how much shorter the bar could be and still hold its pieces, grip and tolerance.
    `tolerance`: how much shorter than `stock` it may come.
    `end_kerf`: width of the cut that frees an offcut.
    `value`: what the rack piece cost, where that is on file.
    `sawn`: the supplier saws it to this length, so that nothing is cut here. A bar without
    pieces is bought for the bundle, the price step or the free delivery, and stays whole.
    """

    stock: Length
    count: int
    pieces: tuple[tuple[str, Length, int, str], ...]
    kerf: Length
    trim: Length
    offcut: Length
    kept: bool
    rack_piece: str | None = None
    supplier: str = ""
    price: Decimal | None = None
    credit: Decimal = Decimal(0)
    overlap: Length = ZERO
    spare: Length = ZERO
    end_kerf: Length = ZERO
    sawn: bool = False
    value: Decimal | None = None
    tolerance: Length = ZERO


def offcut_after(before: Length, kerf: Length) -> Length:
    """What is left of a bar once a cut has freed it, from what was left before that cut.

    >>> offcut_after(Length.from_mm(4500), Length.from_mm(2)).mm
    Decimal('4498.000000')
    """
    return Length(max(0, before.nm - kerf.nm))


@dataclass(frozen=True, slots=True)
class CutPlan:
    """A plan with its proof. `cost` and `bound` are money, or bought mm without prices.

    `cut_short`: the clock that a person set ended the search, so that another run may differ.
    `work`: units of work that it took (see `work.Work`).
    """

    bars: tuple[BarCut, ...]
    cost: Decimal
    bound: Decimal
    proven: bool
    seconds: float
    priced: bool
    proof: dict[str, Any] | None = field(default=None, compare=False)
    cut_short: bool = False
    work: int = field(default=0, compare=False)

    @property
    def gap(self) -> Decimal:
        """How far the plan may be from the cheapest possible, in the unit of `cost`."""
        return max(Decimal(0), self.cost - self.bound)

    @property
    def bars_used(self) -> int:
        """Bars cut, rack pieces included."""
        return sum(bar.count for bar in self.bars)


@dataclass(frozen=True, slots=True)
class Material:
    """One section and grade of a takeoff. Lengths are totals and add up:

    bought + from the rack = net + kerf + trim + kept + scrap.
    """

    section: Section
    grade: Grade
    pieces: int
    net: Length
    bought: Length
    rack: Length
    kerf: Length
    trim: Length
    kept: Length
    scrap: Length
    mass_kg: float
    plan: CutPlan
