"""Plan the cutting of bars: `plan_cuts` is where to begin.

`sheet` turns pieces and bars into a problem in whole planning units, `search` looks for a plan
and a bound, `bars` turns the plan back into marks, exact lengths and money. Where sizes had to
be rounded, plans are sought with pieces rounded up and the bound with pieces rounded down.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from time import monotonic
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.bars import Load, bars_cut, cost_of
from shopquote.calc.takeoff.cut_job import MONEY_PARTS, CutJob, job_of
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.greedy import greedy_plan
from shopquote.calc.takeoff.groups import in_groups, least_by_length
from shopquote.calc.takeoff.nodes import Outcome
from shopquote.calc.takeoff.problem import Solution
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.write import proof_of
from shopquote.calc.takeoff.search import Search
from shopquote.calc.takeoff.sheet import Sheet, heat_choices, sheet_of
from shopquote.calc.takeoff.ties import better_among_equals
from shopquote.calc.takeoff.work import A_SECOND, Work
from shopquote.calc.units import NM_PER_MM, Unit, show_length
from shopquote.errors import CannotMakeError, InputError

MOST_PIECES = 1_000_000
# The largest list that was measured: 9 s of the processor (DEVELOPERS, Benches).
MOST_LENGTHS = 20_000
# Lists of more lengths are planned in groups of as many: patterns and tables grow with their product.
MOST_TOGETHER = 2_000
# A greedy plan of the sizes as they are costs little up to so many lengths.
MOST_LENGTHS_FILLED = 200
# What a plan may take where nobody says otherwise: 99 of 100 shop jobs are proven well within it.
PLAN_WORK = 2 * A_SECOND
# With a clock the work is as good as unlimited: a day's.
CLOCK_WORK = 86_400 * A_SECOND
# Part of the work for plans where the bound needs a search of its own. By 0.3 and 0.8 two lists to the
# thousandth of a millimetre came out the same.
PLANS_PART = 0.6
# Part of the work to look for a better plan of the same cost. Six lists without prices took 22 more bars by
# 0.05, 29 more by none, 2 fewer by 0.3 for a third more work; six priced jobs came out the same by none.
TIES_PART = 0.15

Progress = Callable[[Decimal, Decimal], None]


@dataclass(frozen=True, slots=True)
class _Found:
    """A plan as bars, with its cost in millionths of money or nanometres."""

    sheet: Sheet
    solution: Solution
    bars: tuple[BarCut, ...]
    loads: list[Load]
    cost: int

    @property
    def rank(self) -> tuple[int, int, int, int]:
        """Cheapest first, as its bars come out; then as solutions rank."""
        return (self.cost, *self.solution.rank[1:])


def plan_cuts(
    pieces: Sequence[Piece],
    stocks: Sequence[StockBar],
    rack: Sequence[RackBar],
    saw: SawSettings,
    *,
    unit: Unit = "mm",
    work: int = PLAN_WORK,
    seconds: float | None = None,
    progress: Progress | None = None,
    prove: bool = False,
) -> CutPlan:
    """The cheapest way found to cut the pieces, with a bound that holds.

    Args:
        pieces: what to cut; counts of 0 are left out.
        stocks: lengths that can be bought; either all have a price or none has. Prices
            count to a millionth.
        rack: bars on the rack, each used at most once and at no cost; among plans of equal cost
            least value is used.
        saw: kerf, trim, grip, and what is kept of offcuts. Offcuts of rack
            bars and of bars without a price are credited nothing.
        unit: which planning unit to round to where the lengths have no common one.
        work: how much to search (see `Work`); the best plan so far is returned then.
        seconds: the clock ends the search instead, and the answer says so.
        progress: called with (cost, bound) as they improve.
        prove: give a proof of the bound too where the plan is not proven cheapest.

    Raises:
        InputError: nothing to cut, a length or count out of range, prices for
            some stock lengths only.
        CannotMakeError: a piece is longer than any bar, or the bars do not suffice.
    """
    start = monotonic()
    wanted = _checked(pieces, stocks, rack, saw)
    stocks = [replace(stock, price=_to_a_millionth(stock.price)) for stock in stocks]
    budget = Work(work if seconds is None else CLOCK_WORK, seconds)
    job = job_of(wanted, stocks, rack, saw, unit)
    if len(job.order) > MOST_TOGETHER:
        plan = in_groups(job, wanted, budget, _planned)
    else:
        plan = _planned(job, wanted, budget, progress, prove)
    return replace(plan, seconds=monotonic() - start, cut_short=budget.cut_short, work=budget.done)


def _planned(
    job: CutJob, wanted: Sequence[Piece], work: Work, progress: Progress | None = None, prove: bool = False
) -> CutPlan:
    """The plan of a list that is planned together."""
    choices, all_heats = heat_choices(job)
    sheets = [sheet_of(job, heats, "bound") for heats in choices]
    floor = least_by_length(job)
    best: _Found | None = None
    if not all(sheet.exact for sheet in sheets):
        best = _rounded(job, wanted, choices, work.part(int(work.left * PLANS_PART)), progress)
    outcomes, found = _searched(job, wanted, sheets, work, progress, best)
    best = _finer([best, found])
    if best is None:
        raise CannotMakeError(
            "The bars with a limit do not suffice for all the pieces.",
            hint="Allow more bars of a length, or add a stock length without a limit.",
        )
    # Where a size rounds down to nothing, or not all heats were tried, there is no bound.
    sure = all_heats and all(sheet.sound for sheet in sheets)
    bound = _least_bound(outcomes, sheets) if sure else 0
    proven = sure and bound >= best.cost
    if proven:
        best = _best_of_equals(job, wanted, best, work.part(int(work.left * TIES_PART)))
    proof = None
    if sure and (proven or prove):
        proof = proof_of(job, wanted, sheets, outcomes, best.loads, best.cost, min(bound, best.cost))
        if faults_of_proof(proof):
            proof, proven = None, False
    return _answer(best.bars, max(bound, floor), proven, job.priced, proof)


def _least_bound(outcomes: Sequence[Outcome], sheets: Sequence[Sheet]) -> int:
    """The bound over all choices of heats: that of the one which may be cheapest."""
    return min(o.bound * s.cost_unit for o, s in zip(outcomes, sheets, strict=True))


def _best_of_equals(job: CutJob, wanted: Sequence[Piece], best: _Found, work: Work) -> _Found:
    """Of plans of the same cost the one with fewer bars and loads; only where no size was rounded."""
    if not best.sheet.exact:
        return best
    solution = better_among_equals(best.sheet.problem, best.solution, work)
    if solution is best.solution:
        return best
    return _finer([best, _as_bars(job, wanted, best.sheet, solution)]) or best


def _rounded(
    job: CutJob, wanted: Sequence[Piece], choices: Sequence[Any], work: Work, progress: Progress | None
) -> _Found | None:
    """The best plan with pieces rounded up, or by greedy filling of the sizes as they are."""
    sheets = [sheet_of(job, heats, "plan") for heats in choices]
    _, best = _searched(job, wanted, sheets, work, progress, None)
    if best is None or len(job.order) <= MOST_LENGTHS_FILLED:
        for heats in choices:
            sheet = sheet_of(job, heats, "fill")
            best = _finer([best, _as_bars(job, wanted, sheet, greedy_plan(sheet.problem, work))])
    return best


def _searched(
    job: CutJob,
    wanted: Sequence[Piece],
    sheets: Sequence[Sheet],
    work: Work,
    progress: Progress | None,
    best: _Found | None,
) -> tuple[list[Outcome], _Found | None]:
    """Search each problem for its share of the work; `best` is a plan found before."""
    outcomes: list[Outcome] = []
    for number, sheet in enumerate(sheets):
        # The least cost here that is no cheaper than the best plan.
        known = None if best is None else sheet.problem.on_grid(-(-best.cost // sheet.cost_unit))
        search = Search(
            sheet.problem,
            work.part(work.left // (len(sheets) - number)),
            _shown(progress, job, sheet),
            known=known,
        )
        outcomes.append(search.run())
        best = _finer([best, _as_bars(job, wanted, sheet, outcomes[-1].solution)])
    return outcomes, best


def _as_bars(job: CutJob, wanted: Sequence[Piece], sheet: Sheet, solution: Solution | None) -> _Found | None:
    """A solution as bars, where these hold their pieces as they are."""
    made = None if solution is None else bars_cut(job, sheet, solution, wanted)
    if solution is None or made is None:
        return None
    bars, loads = made
    return _Found(sheet, solution, bars, loads, cost_of(bars, job.priced))


def _finer(found: Sequence[_Found | None]) -> _Found | None:
    """The plan that ranks first."""
    return min((entry for entry in found if entry is not None), key=lambda entry: entry.rank, default=None)


def _shown(progress: Progress | None, job: CutJob, sheet: Sheet) -> Callable[[int, int], None] | None:
    """Progress in money. Sizes rounded up prove no bound, so the bound by length is shown instead."""
    if progress is None:
        return None
    unit, floor = sheet.cost_unit, least_by_length(job)

    def show(cost: int, bound: int) -> None:
        low = max(floor, bound * unit if sheet.exact else 0)
        progress(_shown_cost(cost * unit, job.priced), _shown_cost(min(low, cost * unit), job.priced))

    return show


def _shown_cost(cost: int, priced: bool) -> Decimal:
    return Decimal(cost) / (MONEY_PARTS if priced else NM_PER_MM)


def _answer(
    bars: tuple[BarCut, ...], bound: int, proven: bool, priced: bool, proof: dict[str, Any] | None
) -> CutPlan:
    cost = _shown_cost(cost_of(bars, priced), priced)
    low = cost if proven else max(Decimal(0), min(cost, _shown_cost(bound, priced)))
    return CutPlan(bars, cost, low, proven, 0.0, priced, proof)


# ---- what was asked -----------------------------------------------------------------------


def _to_a_millionth(price: Decimal | None) -> Decimal | None:
    exponent = None if price is None else price.as_tuple().exponent
    if price is None or not isinstance(exponent, int) or exponent >= -6:
        return price
    return price.quantize(Decimal("0.000001"), ROUND_HALF_UP)


def _checked(
    pieces: Sequence[Piece], stocks: Sequence[StockBar], rack: Sequence[RackBar], saw: SawSettings
) -> list[Piece]:
    """The pieces that are wanted."""
    for piece in pieces:
        if piece.length.nm <= 0:
            raise InputError(f"Piece {piece.mark!r} has length 0; every length must be above 0.")
        if piece.count < 0:
            raise InputError(f"Piece {piece.mark!r} has count {piece.count}; it must be 1 or more.")
    wanted = [piece for piece in pieces if piece.count]
    if not wanted:
        raise InputError("There is nothing to cut: the list has no pieces.")
    total = sum(piece.count for piece in wanted)
    if total > MOST_PIECES:
        raise InputError(f"{total} pieces are asked for; one plan takes at most {MOST_PIECES}.")
    if len({piece.length for piece in wanted}) > MOST_LENGTHS:
        raise InputError(f"More than {MOST_LENGTHS} different lengths in one plan; split the list.")
    _check_bars(stocks, rack)
    if min(saw.kerf.nm, saw.trim.nm, saw.grip.nm) < 0:
        raise InputError("Kerf, trim and grip must be 0 or more.")
    if not 0 <= saw.keep_percent <= 100:
        raise InputError(f"Credit for offcuts is {saw.keep_percent} %; expected 0 to 100.")
    return wanted


def _check_bars(stocks: Sequence[StockBar], rack: Sequence[RackBar]) -> None:
    if not stocks and not rack:
        raise CannotMakeError("There is no stock length and no rack bar to cut from.")
    for number, length in enumerate([*(bar.length for bar in stocks), *(bar.length for bar in rack)]):
        if length.nm <= 0:
            raise InputError(f"Bar {number + 1} has length 0; every bar must be longer than 0.")
    for stock in stocks:
        _check_stock(stock)
    for bar in rack:
        if bar.value is not None and not Decimal(0) <= bar.value <= Decimal(10**7):
            raise InputError(f"The value of a rack bar is {bar.value}; expected 0 to 10 000 000.")
    if len({stock.price is None for stock in stocks}) > 1:
        raise InputError(
            "Some stock lengths have a price and some have none.", hint="Give a price for each, or for none."
        )


def _check_stock(stock: StockBar) -> None:
    name = show_length(stock.length, "mm")
    if stock.limit is not None and stock.limit < 0:
        raise InputError(f"The limit of {name} bars is {stock.limit}; expected 0 or more.")
    if stock.price is not None and not Decimal(0) <= stock.price <= Decimal(10**7):
        raise InputError(f"The price of a bar is {stock.price}; expected 0 to 10 000 000.")
    if not 0 <= stock.tolerance.nm < stock.length.nm:
        raise InputError(f"The tolerance of {name} bars must be 0 or more and below their length.")
