"""What to buy for jobs beyond their own bars and the rack, from the suppliers that cost least.

For each section and grade several ways are planned: cut plans over all lengths on sale, over each length
alone, over each supplier's lengths alone, and pieces sawn by the supplier. The supplier choice then takes one
way for each, all orders and deliveries considered at once, and proves that no other choice among them is
cheaper. Begin at `plan_purchase`.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from shopquote.calc.buying.buying_plan import BarKind, BuyingPlan, Extra, Offer, SupplierTerms, Want, Way
from shopquote.calc.buying.choose import choose_suppliers, cut_offer
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import USUAL_CURRENCY
from shopquote.calc.takeoff.bars import tight_words
from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.takeoff.plan import Progress
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import CannotMakeError
from shopquote.services.buying.offers import ListedBar, supplier_terms
from shopquote.services.buying.purchase_lines import (
    BoughtLine,
    RackPick,
    bought_lines,
    guess_of,
    guess_words,
    rack_picks,
    shares_of,
)
from shopquote.services.buying.purchase_ways import (
    WORK,
    Effort,
    PlannedWay,
    SectionMarket,
    Units,
    different_ways,
    market_for,
    own_way,
    suffices,
)
from shopquote.services.buying.wanted import Wanted
from shopquote.services.buying.ways_weighed import MaterialWays, weighed_ways
from shopquote.services.shop.books import Books
from shopquote.services.shop.invented_words import invented_words

if TYPE_CHECKING:
    from shopquote.records.people import Supplier

# Share of a person's --seconds for cut plans; the rest is for the choice of suppliers, which is quick.
PLANS_SHARE = 0.75
NOTHING_BOUGHT = BuyingPlan((), {}, {}, Decimal(0), Decimal(0), 0.0)


@dataclass(frozen=True)
class PurchasePlan:
    """What to buy and what to take from the rack, with its proof; money is in the shop's currency.

    `cost` and `bound` are of the ways planned, lines without a price left out; `cuts_gap` is the most that
    better cut plans could still save. `apart` is what each group of jobs that share no bar yet would cost if
    ordered by itself, one after another; `shares` is what each job bears of `cost`. `taken` is the way chosen
    for each material, `names` its name in the jobs' `unit`. `extras` are bars bought beyond the need.
    `cut_short`: a person's --seconds ended a search. `guessed`: materials that no supplier lists, with the
    size whose price by mass stands for theirs. `bounds`: least cost of each material's bars, each length at
    the lowest price of one bar.
    """

    jobs: tuple[str, ...]
    lines: tuple[BoughtLine, ...]
    picks: tuple[RackPick, ...]
    deliveries: Mapping[str, Decimal]
    ways: Mapping[str, str]
    cost: Decimal
    bound: Decimal
    proven: bool
    cuts_proven: bool
    cuts_gap: Decimal
    apart: Mapping[str, Decimal]
    shares: Mapping[str, Decimal]
    seconds: float
    taken: Mapping[str, PlannedWay]
    extras: tuple[Extra, ...] = ()
    cut_short: bool = False
    guessed: Mapping[str, str] = field(default_factory=dict)
    bounds: Mapping[str, Decimal] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    unit: Unit = "mm"
    currency: str = USUAL_CURRENCY

    @property
    def guesses(self) -> tuple[str, ...]:
        """A note for each material whose price is guessed."""
        return guess_words(self.guessed)

    @property
    def tight(self) -> tuple[str, ...]:
        """A warning for each material whose cuts leave no room for bars that are short within tolerance."""
        words = {
            self.names[name]: tight_words(way.bars, lambda length: show_length(length, self.unit))
            for name, way in self.taken.items()
        }
        return tuple(f"{name}: {said} (the stock list's tolerance)." for name, said in words.items() if said)

    @property
    def invented(self) -> tuple[str, ...]:
        """Warnings about invented suppliers whose prices it rests on."""
        return invented_words(line.listed.supplier for line in self.lines)

    @property
    def saving(self) -> Decimal:
        """What ordering all groups at once saves over ordering each by itself."""
        return max(Decimal(0), sum(self.apart.values(), Decimal(0)) - self.cost) if self.apart else Decimal(0)


def plan_purchase(
    books: Books,
    wanted: Sequence[Wanted],
    saw: SawSettings,
    *,
    on: date,
    units: Units | None = None,
    groups: Sequence[tuple[str, ...]] = (),
    supplier: str | None = None,
    certificate: str | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
    markets: dict[str, SectionMarket] | None = None,
    guess: bool = False,
    work: int = WORK,
    prove: bool = False,
    bounds: bool = False,
) -> PurchasePlan:
    """The cheapest purchase found for all wanted materials, with its proof.

    Args:
        books: of the shop; nothing is written.
        wanted: materials with their pieces, each once.
        saw: kerf, trim and grip; offcuts are not credited, since no supplier pays for them.
        on: day of the price lists.
        units: to plan in and to order in; millimetres if left out.
        groups: jobs that share no bar yet; of two or more, the cost of each apart is worked out too.
        supplier: buy from this one only.
        certificate: kind to ask for in place of each supplier's usual one; "" for none.
        seconds: for all plans and the proof, if a person set a clock; None: they end by work counted.
        progress: called with cost and bound of the current cut plan.
        markets: markets read before, by material; those read now are added.
        guess: price a size that no supplier lists by mass as the nearest size, instead of refusing it.
        work: limit for all cut plans together; see `Work`.
        prove: include a proof of each cut plan's bound.
        bounds: search for the best bound on each material's cuts, not only the one by total length.

    Raises:
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    began = time.monotonic()
    units = units or Units()
    unit = units.planning
    saw = replace(saw, keep_percent=Decimal(0))
    if markets is None:
        markets = {}
    _read_markets(books, wanted, markets, on, supplier, guess=guess)
    lacking = [w for w in wanted if not suffices(w, saw, unit)]
    _refuse_unlisted(lacking, markets, unit)
    purchases = 1 + (len(groups) if len(groups) > 1 else 0)
    effort = Effort(purchases, work, _end(began, seconds, PLANS_SHARE), progress, prove)
    by_group, alone = _plan_apart(lacking, markets, groups, saw, units, effort, certificate)
    weighed = weighed_ways(lacking, markets, saw, units, effort, certificate, bounds=bounds)
    ends = _end(began, seconds)
    # What planning did not use of the person's time goes to the choice of suppliers.
    left = None if ends is None else max(0.0, ends - time.monotonic())
    chosen, buying = _choose(lacking, weighed, alone, left, certificate)
    taken = {w.name: own_way(w, saw, unit) for w in wanted if w not in lacking} | chosen
    lines = bought_lines(lacking, markets, chosen, buying)
    buying = (buying or NOTHING_BOUGHT).as_ordered(books.shop.currency)
    apart = _costs_as_ordered(by_group, books.shop.currency)
    return PurchasePlan(
        jobs=_owners(wanted),
        lines=lines,
        picks=_picks(wanted, taken),
        deliveries=buying.deliveries,
        ways={w.name_in(unit): taken[w.name].name for w in wanted},
        cost=buying.cost,
        bound=buying.bound,
        proven=buying.proven,
        cuts_proven=all(way.proven for way in chosen.values()),
        cuts_gap=sum((way.gap for way in chosen.values()), Decimal(0)),
        apart=apart,
        shares=shares_of(buying.cost, lines, apart, groups, books.shop.currency),
        seconds=time.monotonic() - began,
        taken=taken,
        bounds=_bounds(weighed),
        guessed=_guesses(lacking, markets, unit),
        extras=buying.extras,
        cut_short=effort.cut_short or buying.cut_short,
        names={w.name: w.name_in(unit) for w in wanted},
        unit=unit,
        currency=books.shop.currency,
    )


def _read_markets(
    books: Books,
    wanted: Sequence[Wanted],
    markets: dict[str, SectionMarket],
    on: date,
    supplier: str | None,
    *,
    guess: bool,
) -> None:
    """Add the market of each material that was not read before."""
    for w in wanted:
        if w.name not in markets:
            markets[w.name] = market_for(books, w, on, supplier, guess=guess)


def _end(began: float, seconds: float | None, share: float = 1.0) -> float | None:
    """The moment, on the monotonic clock, when this share of the seconds is used up; None without a clock."""
    return None if seconds is None else began + seconds * share


def _owners(wanted: Sequence[Wanted]) -> tuple[str, ...]:
    return tuple(sorted({piece.owner for w in wanted for piece in w.pieces}))


def _picks(wanted: Sequence[Wanted], taken: Mapping[str, PlannedWay]) -> tuple[RackPick, ...]:
    return tuple(pick for w in wanted for pick in rack_picks(w, taken[w.name]))


def _guesses(wanted: Sequence[Wanted], markets: Mapping[str, SectionMarket], unit: Unit) -> dict[str, str]:
    """Materials that no supplier lists, each with the size whose price stands for its own."""
    return dict(pair for w in wanted if (pair := guess_of(w, markets[w.name], unit)))


def _bounds(weighed: Mapping[str, MaterialWays]) -> dict[str, Decimal]:
    """Least cost of each material's cuts, where its bars were planned."""
    found = ((name, ways.bound()) for name, ways in weighed.items())
    return {name: bound for name, bound in found if bound is not None}


def _refuse_unlisted(wanted: Sequence[Wanted], markets: Mapping[str, SectionMarket], unit: Unit) -> None:
    """Refuse materials that nobody lists, all in one message; those with any bar on the rack are tried
    anyway.
    """
    unlisted = [w for w in wanted if not markets[w.name].listed and not w.own and not w.free]
    if unlisted:
        names = ", ".join(w.name_in(unit) for w in unlisted)
        words = f'"{unlisted[0].section.name(unit)}" "{unlisted[0].grade.name}" LENGTH price=... basis=kg'
        raise CannotMakeError(
            f"No supplier on file lists {names}, and none is on the rack.",
            hint=f"Put it on file: shopquote stock set SUPPLIER {words}",
        )


# --- jobs apart ---------------------------------------------------------------------------------


def _plan_apart(
    wanted: Sequence[Wanted],
    markets: Mapping[str, SectionMarket],
    groups: Sequence[tuple[str, ...]],
    saw: SawSettings,
    units: Units,
    effort: Effort,
    certificate: str | None,
) -> tuple[dict[str, BuyingPlan], dict[str, PlannedWay]]:
    """What each group buys if ordered by itself, in turn, and all their bars together as one more way."""
    if len(groups) < 2:
        return {}, {}
    apart: dict[str, BuyingPlan] = {}
    bars: dict[str, list[PlannedWay]] = {w.name: [] for w in wanted}
    taken: set[str] = set()
    for group in groups:
        chosen, buying = _plan_group(wanted, markets, group, saw, units, effort, taken, certificate)
        apart[", ".join(group)] = buying
        for name, way in chosen.items():
            bars[name].append(way)
            taken.update(way.rack_codes)
    together = {
        name: PlannedWay(
            "job by job",
            tuple(bar for way in ways for bar in way.bars),
            tuple(piece for way in ways for piece in way.sawn),
            all(way.proven for way in ways),
            sum((way.gap for way in ways), Decimal(0)),
            {exact: length for way in ways for exact, length in way.ordered.items()},
        )
        for name, ways in bars.items()
        if ways
    }
    return apart, together


def _costs_as_ordered(by_group: Mapping[str, BuyingPlan], currency: str) -> dict[str, Decimal]:
    return {group: plan.as_ordered(currency).cost for group, plan in by_group.items()}


def _plan_group(
    wanted: Sequence[Wanted],
    markets: Mapping[str, SectionMarket],
    group: tuple[str, ...],
    saw: SawSettings,
    units: Units,
    effort: Effort,
    taken: set[str],
    certificate: str | None,
) -> tuple[dict[str, PlannedWay], BuyingPlan]:
    mine = []
    for w in wanted:
        part = w.of(group)
        if not part.pieces:
            continue
        part = replace(
            part,
            own=tuple(bar for bar in w.own if bar.piece not in taken),
            free=tuple(bar for bar in w.free if bar.piece not in taken),
        )
        mine.append(part)
    # All ways, as if it were ordered alone: with fewer it would seem dearer, and the saving larger.
    weighed = weighed_ways(mine, markets, saw, units, effort, certificate)
    chosen, buying = _choose(mine, weighed, {}, effort.left(), certificate)
    return chosen, buying or NOTHING_BOUGHT


# --- choice -------------------------------------------------------------------------------------


def _choose(
    wanted: Sequence[Wanted],
    weighed: Mapping[str, MaterialWays],
    alone: Mapping[str, PlannedWay],
    seconds: float | None,
    certificate: str | None,
) -> tuple[dict[str, PlannedWay], BuyingPlan | None]:
    """The way chosen for each material, those of `alone` included; without any price, its first way."""
    ways = {w.name: weighed[w.name].ways() for w in wanted}
    for name, way in alone.items():
        ways[name] = different_ways([*ways[name], way])
    chosen = {w.name: ways[w.name][0] for w in wanted if not weighed[w.name].market.priced}
    priced = [w for w in wanted if w.name not in chosen]
    if not priced:
        return chosen, None
    wants, offers = [], []
    suppliers: dict[str, Supplier] = {}
    for w in priced:
        named = tuple(Way(f"{i} {way.name}", way.needs(w)) for i, way in enumerate(ways[w.name]))
        besides = weighed[w.name].besides
        kinds = (BarKind(w.section.key, w.grade.name, length) for length in besides)
        wants.append(Want(w.name, named, tuple(kinds)))
        for offer, bar in _offers(weighed[w.name].market, ways[w.name], besides):
            offers.append(offer)
            suppliers[bar.supplier.name] = bar.supplier
    terms = supplier_terms(suppliers.values(), certificate)
    if seconds is None:
        buying = _chosen_before(tuple(wants), tuple(offers), terms)
    else:
        buying = choose_suppliers(wants, offers, terms, seconds=seconds)
    for w in priced:
        chosen[w.name] = ways[w.name][int(buying.ways[w.name].split(" ", 1)[0])]
    return chosen, buying


# Cached: a what-if, and most keystrokes in a price on the page, leave the purchase as it was.
@lru_cache(maxsize=64)
def _chosen_before(
    wants: tuple[Want, ...], offers: tuple[Offer, ...], terms: tuple[SupplierTerms, ...]
) -> BuyingPlan:
    return choose_suppliers(wants, offers, terms)


def _offers(
    market: SectionMarket, ways: Sequence[PlannedWay], besides: Sequence[Length]
) -> list[tuple[Offer, ListedBar]]:
    offers = list(market.offers.values())
    sawn = {length for way in ways for length in way.ordered.values()}
    sawn |= set(besides) - {bar.length for bar in market.listed}
    for offer, bar, charge in market.sawing():
        offers += [
            (cut_offer(offer, length, charge), bar) for length in sorted(sawn) if length <= offer.kind.length
        ]
    return offers
