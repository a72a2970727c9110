"""What a cut plan is asked for: pieces by size, bars by length, in whole nanometres. Begin at `job_of`.

A bar holds its pieces when the sum of lengths + (pieces - 1) kerfs fits in stock - trim -
grip - tolerance. Each piece takes the kerf of its own mitre.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import cos, radians, tan

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.units import NM_PER_INCH, NM_PER_MM, Length, Unit, show_length
from shopquote.errors import CannotMakeError, InputError

# Finer than a saw's stop is set; sizes of inch jobs are nearly all whole sixty-fourths.
PLANNING_UNIT_NM = {"mm": NM_PER_MM // 10, "in": NM_PER_INCH // 64}
# Costs are whole numbers in the search; prices have at most four decimals, so none is rounded.
MONEY_PARTS = 1_000_000
# A mitre steeper than this is not sawn on a saw for bars; its kerf along the bar would grow without end.
STEEPEST = 80


@dataclass(frozen=True, slots=True)
class CutSize:
    """What makes pieces alike to the planner: nm along the bar, its kerf, nesting block, heat group."""

    room: int
    kerf: int
    block: tuple[int, float] | None
    opening: int
    group: str | None

    @property
    def alone(self) -> int:
        """Nanometres that one piece takes of a bar by itself."""
        return self.room - self.kerf + self.opening


@dataclass(frozen=True, slots=True)
class Bar:
    """One length of bar and the stock entry or rack pieces behind it; `value` of one rack piece."""

    stock: StockBar | None
    rack: tuple[RackBar, ...]
    length: Length
    source: tuple[str, ...]
    value: int = 0

    @property
    def limit(self) -> int | None:
        """How many there are; None: as many as wanted."""
        return len(self.rack) if self.stock is None else self.stock.limit

    def whole(self, saw: SawSettings) -> int:
        """Nanometres for pieces, kerfs and offcut."""
        return self.length.nm - saw.trim.nm

    def room(self, saw: SawSettings) -> int:
        """Nanometres for pieces and the kerfs between them."""
        return self.whole(saw) - saw.grip.nm - (self.stock.tolerance.nm if self.stock else 0)

    def cost(self, priced: bool) -> int:
        """Millionths of money, or nanometres without prices; a rack piece costs nothing."""
        if self.stock is None:
            return 0
        price = (self.stock.price or Decimal(0)) * MONEY_PARTS
        return int(price.to_integral_value(ROUND_HALF_UP)) if priced else self.length.nm


@dataclass(frozen=True)
class CutJob:
    """Pieces by size, longest first, and the bars for them."""

    order: tuple[CutSize, ...]
    demands: dict[CutSize, int]
    bars: tuple[Bar, ...]
    saw: SawSettings
    unit: Unit
    priced: bool

    @property
    def credits(self) -> bool:
        """Whether offcuts earn a credit."""
        return self.priced and self.saw.keep_min is not None and self.saw.keep_percent > 0


def job_of(
    pieces: Sequence[Piece], stocks: Sequence[StockBar], rack: Sequence[RackBar], saw: SawSettings, unit: Unit
) -> CutJob:
    """Pieces gathered by size, bars by length.

    Raises:
        InputError: a mitre is too steep.
        CannotMakeError: a piece is longer than any bar.
    """
    demands: dict[CutSize, int] = {}
    for piece in pieces:
        size = size_of(piece, saw, unit)
        demands[size] = demands.get(size, 0) + piece.count
    order = sorted(demands, key=lambda size: (-size.room, size.kerf, str(size.block), size.group or ""))
    priced = any(stock.price is not None for stock in stocks)
    bars = _bars(stocks, rack, any(size.group for size in order), saw.rack_worth_percent)
    _longest_fits(pieces, bars, saw, unit)
    return CutJob(tuple(order), demands, tuple(bars), saw, unit, priced)


def size_of(piece: Piece, saw: SawSettings, unit: Unit) -> CutSize:
    """Room along the bar: the length and the kerf to its neighbour; nested mitres share some.

    Raises:
        InputError: a mitre too steep to be sawn.
    """
    first, second = piece.mitres
    steep = max(abs(first), abs(second))
    kerf = mitre_kerf(saw, steep, unit)
    if steep >= STEEPEST:
        raise InputError(f"Piece {piece.mark!r} has a mitre of {steep} degrees; expected below {STEEPEST}.")
    step = PLANNING_UNIT_NM[unit]
    shared = int(piece.depth.nm * tan(radians(steep)) + 1) // step * step
    if not saw.nest_mitres or abs(first) != abs(second) or not shared or piece.length.nm <= 2 * shared:
        return CutSize(piece.length.nm + kerf, kerf, None, 0, piece.heat_group)
    return CutSize(piece.length.nm + kerf - shared, kerf, (piece.depth.nm, steep), shared, piece.heat_group)


def mitre_kerf(saw: SawSettings, mitre: float, unit: Unit) -> int:
    """Kerf along the bar, k / cos m, rounded up to the planning unit so that sizes share it.

    1 nm is left for float noise.
    """
    if not mitre or mitre >= STEEPEST:
        return saw.kerf.nm
    step = PLANNING_UNIT_NM[unit]
    return -int(-(saw.kerf.nm / cos(radians(mitre)) - 1) // step) * step


def _bars(
    stocks: Sequence[StockBar], rack: Sequence[RackBar], by_heat: bool, worth_percent: Decimal
) -> list[Bar]:
    """Bars that can be had: rack pieces of equal length and value together."""
    found = [
        Bar(stock, (), stock.length, ("bought", stock.supplier, str(stock.length.nm)))
        for stock in stocks
        if stock.limit != 0
    ]
    values = rack_values(stocks, rack, worth_percent)
    together: dict[tuple[int, str, int], list[RackBar]] = {}
    for bar, value in zip(rack, values, strict=True):
        heat = (bar.heat or f"\0{bar.piece}") if by_heat else ""
        together.setdefault((bar.length.nm, heat, value), []).append(bar)
    found.extend(
        Bar(None, tuple(bars), Length(length), ("rack", heat), value)
        for (length, heat, value), bars in together.items()
    )
    return found


def rack_values(
    stocks: Sequence[StockBar], rack: Sequence[RackBar], percent: Decimal = Decimal(100)
) -> list[int]:
    """What each rack piece counts for among plans of equal cost: in cents, or 0.1 mm without any price.

    Its value on file; where there is none, its length at so many per cent of the rate of the cheapest new
    bar, else at the rate of the cheapest rack piece with a value. What the jobs have already counts as
    nothing.
    """
    new = [Fraction(stock.price) / stock.length.nm for stock in stocks if stock.price is not None]
    known = [Fraction(bar.value) / bar.length.nm for bar in rack if bar.value is not None]
    rate = min(new) * Fraction(percent) / 100 if new else min(known, default=None)
    if rate is None:
        return [0 if bar.own else bar.length.nm // (NM_PER_MM // 10) for bar in rack]
    worths = [rate * bar.length.nm if bar.value is None else Fraction(bar.value) for bar in rack]
    return [0 if bar.own else round(worth * 100) for bar, worth in zip(rack, worths, strict=True)]


def _longest_fits(pieces: Sequence[Piece], bars: Sequence[Bar], saw: SawSettings, unit: Unit) -> None:
    if not bars:
        raise CannotMakeError("There is no bar to cut from: every stock length has a limit of 0.")

    def show(nm: int) -> str:
        # In inches where the job is: what is no 64th would be told in millimetres beside them.
        exact = show_length(Length(nm), unit, exact=True)
        if exact.endswith(unit):
            return exact
        return f"{Decimal(nm) / NM_PER_INCH:.3f}".rstrip("0").rstrip(".") + " in"

    longest = max(bars, key=lambda bar: bar.room(saw))
    usable, whole = longest.room(saw), longest.length.nm
    if usable <= 0:
        lost = " and ".join(
            f"{word} {show(length.nm)}"
            for word, length in (
                ("trim", saw.trim),
                ("grip", saw.grip),
                ("tolerance", longest.stock.tolerance if longest.stock else Length(0)),
            )
            if length
        )
        raise CannotMakeError(
            f"With {lost} nothing is left of the longest bar, which is {show(whole)}.",
            hint="Look whether trim and grip are in the right unit.",
        )
    piece = max(pieces, key=lambda p: p.length.nm)
    if piece.length.nm > usable:
        off = "" if usable == whole else f", {show(usable)} of it usable"
        raise CannotMakeError(
            f"Piece {piece.mark!r} is {show(piece.length.nm)} long; the longest bar is {show(whole)}{off}.",
            hint="Add a longer stock length, or join it from pieces: splice = true in a job file.",
        )
