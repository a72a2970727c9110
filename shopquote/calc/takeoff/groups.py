"""Long lists in groups of lengths, and what any plan costs at least by lengths or counts alone."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from shopquote.calc.takeoff.cut_job import MONEY_PARTS, Bar, CutJob, CutSize, size_of
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Piece
from shopquote.calc.takeoff.work import Work
from shopquote.calc.units import NM_PER_MM
from shopquote.errors import CannotMakeError

# Lengths of a group: larger ones waste less, but a plan's work grows with the square. Two lists of 2,400
# lengths cost 0.12 % more by 250 and 0.04 % less by 1,000, for half as much time again.
A_GROUP = 500
# Pieces of up to so many to a bar are counted. Where all of 2,400 lengths go one, two or three to a bar the
# gap falls so from 8.4, 6.9 and 7.7 % to 0.00, 0.06 and 0.03; 16 in place of 8 said no more of six lists.
MOST_TO_A_BAR = 8
# Prices of the pieces are rounded down to such parts.
PARTS = 1 << 20

_Planned = Callable[[CutJob, Sequence[Piece], Work], CutPlan]


def least_by_length(job: CutJob) -> int:
    """What any plan costs at least: the length of pieces that is not on the rack, at the cheapest prices.

    In millionths of money, or nanometres without prices. Kerfs are left out; a credited rest is
    taken off as if each bar were full, which costs least for the length that it holds.
    """
    rates: list[tuple[Fraction, int | None]] = []
    need = sum((size.room - size.kerf) * count for size, count in job.demands.items())
    for bar in job.bars:
        room = bar.room(job.saw)
        if bar.stock is None:
            need -= max(0, room) * len(bar.rack)
        elif room > 0:
            cost = Fraction(bar.cost(job.priced))
            if job.credits:
                # What is not for pieces is at most left over; all of it is credited then.
                rest = Fraction(bar.length.nm - room, bar.length.nm)
                cost *= 1 - Fraction(job.saw.keep_percent) / 100 * rest
            rates.append((cost / room, None if bar.limit is None else room * bar.limit))
    total = Fraction(0)
    for rate, most in sorted(rates, key=lambda entry: entry[0]):
        held = max(0, need) if most is None else min(max(0, need), most)
        total += held * rate
        need -= held
    return int(total)


def least_by_count(job: CutJob) -> int:
    """What any plan costs at least by how many pieces a bar can hold; in the unit of `least_by_length`.

    Of pieces that take more than a (k+1)th of a bar it holds at most k: each pays a kth of it, one that takes
    n of (k+1) parts and more pays n kths, one that takes exactly as much pays that. Of a bar whose rest is
    credited only the part without credit is shared so; the rest is paid by length.
    Source, from memory: S. P. Fekete and J. Schepers, Mathematical Programming 91 (2001).
    """
    widest = max(size.kerf for size in job.order)
    share = Fraction(job.saw.keep_percent) / 100 if job.credits else Fraction(0)
    bought = [
        (bar.room(job.saw), int(cost * (1 - share)), cost * share / bar.length.nm)
        for bar, cost in ((bar, PARTS * bar.cost(job.priced)) for bar in job.bars)
        if bar.stock is not None and bar.room(job.saw) > 0 and bar.limit != 0
    ]
    worths = [
        sum(count * _price(size, bought, widest, k) for size, count in job.demands.items())
        for k in range(1, MOST_TO_A_BAR + 1)
    ]
    return max(0, max(worths) - _rack_worth(job, bought)) // PARTS


def _rack_worth(job: CutJob, bars: Sequence[tuple[int, int, Fraction]]) -> int:
    """What the pieces of all rack bars pay at most, in PARTS: they would fit in a bought bar as long."""
    worth = 0
    for bar in job.bars:
        if bar.stock is None:
            costs = [cost + int(slope * room) + 1 for room, cost, slope in bars if room >= bar.room(job.saw)]
            if not costs:
                return 1 << 100
            worth += len(bar.rack) * min(costs)
    return worth


def _price(size: CutSize, bars: Sequence[tuple[int, int, Fraction]], widest: int, k: int) -> int:
    """What a piece pays at least, in PARTS: `bars` by room, cost to be shared, and cost for each nm."""
    prices = []
    for room, cost, slope in bars:
        if size.alone <= room:
            parts, over = divmod(size.room * (k + 1), room + widest)
            length = (size.room - size.kerf) * slope.numerator // slope.denominator
            prices.append(parts * cost // (k if over else k + 1) + length)
    return min(prices, default=0)


def in_groups(job: CutJob, wanted: Sequence[Piece], work: Work, planned: _Planned) -> CutPlan:
    """A plan of each group of lengths, one after another; bars with a limit go to the first that use them.

    Lengths are dealt out like cards, longest first, so that each group has long and short ones.
    The bound is by length or by count alone; no proof is written of it, so that none is called proven.

    Raises:
        CannotMakeError: pieces of one heat, or bars that run out under the groups.
    """
    if any(size.group for size in job.order):
        raise CannotMakeError(
            f"{len(job.order)} lengths are planned in groups, which pieces of one heat do not allow.",
            hint="Plan the pieces of one heat in a list of their own.",
        )
    number = -(-len(job.order) // A_GROUP)
    group_of = {size: place % number for place, size in enumerate(job.order)}
    groups: list[list[Piece]] = [[] for _ in range(number)]
    for piece in wanted:
        groups[group_of[size_of(piece, job.saw, job.unit)]].append(piece)
    bars: list[BarCut] = []
    left = list(job.bars)
    for place, pieces in enumerate(groups):
        plan = planned(_part_of(job, pieces, left), pieces, work.part(work.left // (number - place)))
        bars.extend(plan.bars)
        left = _less(left, plan.bars)
    cost = sum((_cost(bar, job.priced) for bar in bars), start=Decimal(0))
    bound = Decimal(max(least_by_length(job), least_by_count(job))) / (
        MONEY_PARTS if job.priced else NM_PER_MM
    )
    return CutPlan(tuple(bars), cost, min(bound, cost), False, 0.0, job.priced)


def _part_of(job: CutJob, pieces: Sequence[Piece], bars: Sequence[Bar]) -> CutJob:
    demands: dict[CutSize, int] = {}
    for piece in pieces:
        size = size_of(piece, job.saw, job.unit)
        demands[size] = demands.get(size, 0) + piece.count
    longest = max(size.alone for size in demands)
    if not bars or max(bar.room(job.saw) for bar in bars) < longest:
        raise CannotMakeError(
            "The bars with a limit run out under a list that is planned in groups of lengths.",
            hint="Allow more bars of a length, or split the list.",
        )
    order = tuple(size for size in job.order if size in demands)
    return replace(job, order=order, demands=demands, bars=tuple(bars))


def _less(bars: Sequence[Bar], cut: Sequence[BarCut]) -> list[Bar]:
    """Stock and rack left once a plan has taken its bars."""
    taken = {bar.rack_piece for bar in cut}
    bought: dict[object, int] = {}
    for one in cut:
        if one.rack_piece is None:
            key = (one.stock, one.supplier, one.price)
            bought[key] = bought.get(key, 0) + one.count
    found: list[Bar] = []
    for bar in bars:
        if bar.stock is None:
            rack = tuple(piece for piece in bar.rack if piece.piece not in taken)
            found += [replace(bar, rack=rack)] if rack else []
        elif bar.stock.limit is None:
            found.append(bar)
        else:
            key = (bar.length, bar.stock.supplier, bar.stock.price)
            used = min(bar.stock.limit, bought.get(key, 0))
            bought[key] = bought.get(key, 0) - used
            if bar.stock.limit > used:
                found.append(replace(bar, stock=replace(bar.stock, limit=bar.stock.limit - used)))
    return found


def _cost(bar: BarCut, priced: bool) -> Decimal:
    if priced:
        return ((bar.price or Decimal(0)) - bar.credit) * bar.count
    return Decimal(0) if bar.rack_piece is not None else bar.stock.mm * bar.count
