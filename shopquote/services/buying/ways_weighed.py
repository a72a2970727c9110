"""Decide which ways of the materials are worth a cut plan. Begin at `weighed_ways`.

A cut plan is a search, and most ways can be ruled out without one. For each set of suppliers that may get
orders, a lower bound of a way is the cost of its length of pieces in whole bars; an upper bound of the
cheapest purchase follows from the ways planned so far. A way is planned only while its lower bound is below
that upper bound, so that the cheapest purchase over the ways planned is the cheapest over all.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import combinations

from shopquote.calc.buying.buying_plan import Offer
from shopquote.calc.buying.choose import cut_offer, delivery_terms
from shopquote.calc.buying.market import INFINITE, DeliveryTerms
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import RATE_DIGITS
from shopquote.calc.takeoff.cut_plan import SawSettings, StockBar
from shopquote.calc.takeoff.whole_bars import PricedLength, least_cost, needed_room, room_of
from shopquote.calc.units import ZERO, Length
from shopquote.errors import CannotMakeError
from shopquote.services.buying.offers import supplier_terms
from shopquote.services.buying.purchase_ways import (
    Effort,
    PlannedWay,
    SectionMarket,
    Units,
    different_ways,
    plan_way,
    sawn_way,
    tries_of,
)
from shopquote.services.buying.wanted import Wanted

# With more suppliers there are too many sets of them to bound each: all ways are planned then.
MOST_SUPPLIERS = 6
# Stands for the way "sawn by the supplier" where others have their index in `tries`.
SAWN = -1


def weighed_ways(
    wanted: Sequence[Wanted],
    markets: Mapping[str, SectionMarket],
    saw: SawSettings,
    units: Units,
    effort: Effort,
    certificate: str | None,
    *,
    bounds: bool = False,
) -> "dict[str, MaterialWays]":
    """The ways of each material, with cut plans for those that a cheapest purchase may take.

    Args:
        wanted: materials with their pieces, each once.
        markets: what can be bought of each.
        saw: kerf, trim and grip.
        units: to plan in and to order in.
        effort: work for the plans.
        certificate: kind to ask for in place of each supplier's usual one.
        bounds: plan each material over all lengths in any case, for the bound on the cost of its cuts.

    Raises:
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    found = [MaterialWays(w, markets[w.name], saw, units, effort) for w in wanted]
    effort.deal(2 * len(found))
    for ways in found:
        ways.use_bars()
    weighed = [ways for ways in found if ways.market.priced and not ways.all_there]
    suppliers = {bar.supplier.name: bar.supplier for ways in weighed for bar in ways.market.listed}
    if len(suppliers) > MOST_SUPPLIERS:
        weighed = []
    terms = map(delivery_terms, supplier_terms(suppliers.values(), certificate))
    _Purchase(weighed, terms).plan(effort)
    effort.deal(sum(len(ways.tries) if ways not in weighed else bounds for ways in found))
    for ways in found:
        if ways not in weighed:
            ways.plan_all()
        elif bounds:
            ways.plan(0)
    effort.purchases -= 1
    return {ways.wanted.name: ways for ways in found}


@dataclass(frozen=True, slots=True)
class _Seller:
    """An offer in whole bars; `steps` are (from how many bars, price of one in ten-thousandths of money)."""

    supplier: str
    bundle: int
    limit: int | None
    steps: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, offer: Offer) -> "_Seller":
        steps = tuple((-(-step.from_g // offer.mass_g), _units(step.price)) for step in offer.steps)
        return cls(offer.supplier, offer.bundle, offer.limit, steps)

    def lowest(self, most: int) -> int:
        """Lowest price of one bar; a step that takes more than `most` to reach is not counted."""
        return min((price for start, price in self.steps if start * price <= most), default=INFINITE)

    def cost(self, count: int) -> int:
        """Least cost of at least `count` bars, in whole bundles, more bars included where that is cheaper."""
        best = INFINITE
        for number, (start, price) in enumerate(self.steps):
            bars = -(-max(count, start) // self.bundle) * self.bundle
            ends = self.steps[number + 1][0] if number + 1 < len(self.steps) else bars + 1
            if bars < ends and (self.limit is None or bars <= self.limit):
                best = min(best, bars * price)
        return best


class MaterialWays:
    """The ways of one material: those planned so far, and lower bounds of the others.

    Costs are whole ten-thousandths of money. `planned` and `left_out` use indices of `tries`, or `SAWN`.
    `besides` are lengths worth buying though no way needs them, to make a delivery free.
    """

    def __init__(
        self, wanted: Wanted, market: SectionMarket, saw: SawSettings, units: Units, effort: Effort
    ) -> None:
        self.wanted, self.market, self.saw, self.units, self.effort = wanted, market, saw, units, effort
        self.tries = tries_of(market)
        self.planned: dict[int, PlannedWay] = {}
        self.left_out: set[int] = set()
        self.besides: tuple[Length, ...] = ()
        self._needs: dict[int, dict[Length, int]] = {}
        self._costs: dict[tuple[object, ...], dict[int, int]] = {}
        self._cheapest: dict[tuple[object, ...], dict[str, int]] = {}
        self._need, self._kerf = needed_room(wanted.pieces, saw, units.planning)
        for bar in (*wanted.own, *wanted.free):
            self._need -= max(0, room_of(bar.length, ZERO, saw, self._kerf))
        # Sellers by length; those of sawn pieces are added when their lengths are known.
        self._sellers: dict[Length, list[_Seller]] = {}
        for offer, _ in market.offers.values():
            self._sellers.setdefault(offer.kind.length, []).append(_Seller.of(offer))

    @property
    def has_bars(self) -> bool:
        """Whether any bars are there already."""
        return bool(self.wanted.own or self.wanted.free)

    @property
    def all_there(self) -> bool:
        """Whether the bars that are there hold all the pieces: no way is cheaper then."""
        return 0 in self.planned and not self._needs[0]

    def use_bars(self) -> None:
        """Plan over all lengths if bars are there: they may hold all pieces, and those are not sawn."""
        if self.has_bars:
            self.plan(0)

    def plan(self, at: int) -> None:
        """Plan the way with index `at`; it is left out if its bars are too short or too few, but for all
        lengths.

        Raises:
            CannotMakeError: not even all lengths hold the pieces.
        """
        if at in self.planned:
            return
        name, stock = self.tries[at]
        try:
            way = plan_way(self.wanted, stock, self.saw, self.units.planning, self.effort, name)
        except CannotMakeError:
            # The first try has every length on sale: if that cannot be cut, nothing can.
            if at == 0:
                raise
            self.left_out.add(at)
            return
        self._keep(at, way)
        if SAWN not in self.planned and (at == 0 or not self.has_bars):
            self._saw(way)

    def plan_all(self) -> None:
        """Plan every way; only the one over all lengths if the bars that are there suffice."""
        self.plan(0)
        for at in () if self.all_there else range(1, len(self.tries)):
            self.plan(at)

    def _keep(self, at: int, way: PlannedWay) -> None:
        self.planned[at] = way
        self._needs[at] = {need.kind.length: need.count for need in way.needs(self.wanted)}

    def _saw(self, way: PlannedWay) -> None:
        """Add the way that has the supplier saw what `way` cuts from bought bars."""
        sawn = sawn_way(self.wanted, self.market, way, self.units.ordering)
        if sawn is None:
            return
        self._keep(SAWN, sawn)
        for offer, _, charge in self.market.sawing():
            for length in self._needs[SAWN]:
                if length <= offer.kind.length:
                    cut = _Seller.of(cut_offer(offer, length, charge))
                    self._sellers.setdefault(length, []).append(cut)

    def ways(self) -> list[PlannedWay]:
        """Planned ways that buy different things, all lengths first, sawn last."""
        order = sorted(self.planned, key=lambda at: (at == SAWN, at))
        return different_ways([self.planned[at] for at in order if at not in self.left_out])

    def bound(self) -> Decimal | None:
        """Least cost of the bars, each length at the lowest price of one bar, in the shop's currency; None if
        unknown.
        """
        if 0 in self.planned:
            plan = self.planned[0].plan
            return None if plan is None else plan.bound
        prices = {bar.length: _units(bar.price) for bar in self.tries[0][1] if bar.price is not None}
        least = self._least(0, prices, settled=False)
        return None if least is None else Decimal(least).scaleb(-RATE_DIGITS)

    def costs(self, sellers: Iterable[str], most: int) -> dict[int, int]:
        """Least cost of each way from these suppliers, by index; price steps beyond `most` do not count."""
        prices = {
            length: min((one.lowest(most) for one in of if one.supplier in sellers), default=INFINITE)
            for length, of in self._sellers.items()
        }
        prices = {length: price for length, price in prices.items() if price < INFINITE}
        known = (tuple(prices.items()), len(self.planned), len(self.left_out))
        if known not in self._costs:
            self._costs[known] = self._costs_at(prices)
        return self._costs[known]

    def _costs_at(self, prices: Mapping[Length, int]) -> dict[int, int]:
        costs = {}
        # All lengths after each alone: of two equal lower bounds the quicker plan is made first.
        for at in (*range(1, len(self.tries)), 0, SAWN):
            if at in self.planned:
                costs[at] = sum(n * prices.get(length, INFINITE) for length, n in self._needs[at].items())
            elif at != SAWN and at not in self.left_out:
                least = self._least(at, prices, settled=True)
                costs[at] = INFINITE if least is None else least
        return costs

    def cheapest(self, sellers: Sequence[str]) -> Mapping[str, int]:
        """Cost by supplier of the cheapest planned way from these suppliers, without deliveries; empty for
        none.
        """
        # Asked after each plan of any material: for the others nothing has changed.
        known = (*sellers, len(self._needs))
        if known not in self._cheapest:
            self._cheapest[known] = self._cheapest_from(sellers)
        return self._cheapest[known]

    def _cheapest_from(self, sellers: Sequence[str]) -> dict[str, int]:
        best: dict[str, int] = {}
        for needs in self._needs.values():
            bought: dict[str, int] = {}
            for length, count in needs.items():
                offers = ((o.cost(count), o.supplier) for o in self._sellers[length] if o.supplier in sellers)
                cost, supplier = min(offers, default=(INFINITE, ""))
                bought[supplier] = bought.get(supplier, 0) + cost
            if sum(bought.values()) < (sum(best.values()) if best else INFINITE):
                best = bought
        return best

    def sold_below(self, spared: Mapping[str, int]) -> tuple[Length, ...]:
        """Lengths of which some supplier sells a bundle for no more than its free delivery saves."""
        return tuple(
            length
            for length, of in self._sellers.items()
            if any(one.cost(1) <= spared.get(one.supplier, -1) for one in of)
        )

    def _least(self, at: int, prices: Mapping[Length, int], *, settled: bool) -> int | None:
        """Lower bound by length for the way `at`; None if its bars cannot hold the pieces.

        `settled`: lengths that were planned alone, and proven, need not be considered alone again.
        """
        lengths = []
        for bar in self.tries[at][1]:
            if bar.length in prices:
                room = room_of(bar.length, bar.tolerance, self.saw, self._kerf)
                lengths.append(PricedLength(room, prices[bar.length], self._alone(bar, settled=settled)))
        return least_cost(self._need, lengths)

    def _alone(self, bar: StockBar, *, settled: bool) -> int | None:
        """Fewest bars of this length if no other is bought; None if plans of it alone can be disregarded."""
        at = next((i for i, (_, stock) in enumerate(self.tries) if stock == (bar,)), None)
        if at is None or at not in self.planned:
            return None if at in self.left_out else 0
        plan = self.planned[at].plan
        if plan is None or not bar.price:
            return 0
        return None if settled and plan.proven else -(-int(plan.bound * 10**6) // int(bar.price * 10**6))


class _Purchase:
    """Bounds of a purchase of all materials, by the set of suppliers that get orders."""

    def __init__(self, materials: Sequence[MaterialWays], terms: Iterable[DeliveryTerms]) -> None:
        self.materials = materials
        self.terms = {term.name: term for term in terms}
        names = sorted(self.terms) if materials else []
        self.sets = [some for n in range(len(names)) for some in combinations(names, n + 1)]

    def plan(self, effort: Effort) -> None:
        """Plan the ways that a cheapest purchase may take, and leave out the others."""
        effort.deal(2 * len(self.materials))
        for ways in self.materials:
            # Start with the single length of lowest bound: quickly planned, and often the one bought in the
            # end.
            while not ways.planned:
                costs = ways.costs(self.terms, INFINITE)
                ways.plan(min(costs, key=lambda at: (len(ways.tries[at][1]), costs[at])))
        while promising := self._promising():
            effort.deal(len(promising))
            ways, at = promising[0]
            ways.plan(at)
        self._leave_out_dearer()
        self._note_besides()

    def _promising(self) -> list[tuple[MaterialWays, int]]:
        """Unplanned ways whose lower bound is below the cheapest known purchase, lowest first."""
        known = self._at_most()
        least: dict[tuple[MaterialWays, int], int] = {}
        for sellers in self.sets:
            for total, ways, at in self._totals(sellers, known):
                if total < min(known, least.get((ways, at), INFINITE)) and at not in ways.planned:
                    least[ways, at] = total
        return sorted(least, key=lambda entry: least[entry])

    def _leave_out_dearer(self) -> None:
        """Leave out ways whose lower bound exceeds the cheapest known purchase."""
        known = self._at_most()
        if known >= INFINITE:
            return
        totals = [entry for sellers in self.sets for entry in self._totals(sellers, known)]
        for ways in self.materials:
            worth = {at for total, of, at in totals if of is ways and total <= known}
            ways.left_out |= set(ways.planned) - worth

    def _note_besides(self) -> None:
        """Set each material's lengths that may make a delivery free within the cheapest known purchase."""
        known = self._at_most()
        spared = {
            name: term.spared
            for name, term in self.terms.items()
            if term.free_from is not None and term.free_from <= known
        }
        for ways in self.materials:
            ways.besides = ways.sold_below(spared)

    def _totals(self, sellers: Sequence[str], known: int) -> list[tuple[int, MaterialWays, int]]:
        """Lower bounds (total, material, way) of purchases from exactly these suppliers, for each way.

        Empty if none of them can cost as little as the known purchase.
        """
        # A delivery that becomes free only above the known purchase's cost has to be paid.
        delivery = sum(self.terms[name].asked(known) for name in sellers)
        costs = [ways.costs(sellers, known) for ways in self.materials]
        total = delivery + sum(least := [min(of.values(), default=INFINITE) for of in costs])
        if total > known:
            return []
        # Other materials and deliveries leave less money for each material: fewer price steps are reached.
        left = [known - total + mine for mine in least]
        costs = [ways.costs(sellers, most) for ways, most in zip(self.materials, left, strict=True)]
        total = delivery + sum(least := [min(of.values(), default=INFINITE) for of in costs])
        return [
            (total - least[m] + cost, ways, at)
            for m, ways in enumerate(self.materials)
            for at, cost in costs[m].items()
        ]

    def _at_most(self) -> int:
        """Cost of the cheapest purchase known: an upper bound."""
        return min((self._bought_from(sellers) for sellers in self.sets), default=INFINITE)

    def _bought_from(self, sellers: Sequence[str]) -> int:
        """Cost of a purchase in which each material takes its cheapest planned way, deliveries added
        afterwards.
        """
        goods: dict[str, int] = {}
        for ways in self.materials:
            bought = ways.cheapest(sellers)
            if not bought:
                return INFINITE
            for name, cost in bought.items():
                goods[name] = goods.get(name, 0) + cost
        return sum(cost + self.terms[name].asked(cost) for name, cost in goods.items())


def _units(money: Decimal) -> int:
    """Money in whole ten-thousandths, rounded down."""
    return int(money.scaleb(RATE_DIGITS))
