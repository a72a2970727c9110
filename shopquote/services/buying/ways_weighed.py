"""Which ways of the materials are worth a cut plan: begin at `weighed_ways`.

A cut plan is a search, and most ways can be seen to be dearer than others without one: their bars cost at
least what so much length costs in whole bars, for each set of suppliers that may get the orders. What the
cheapest purchase by the ways planned so far costs at most follows from the same sets. A way is planned
only while a purchase with it may still cost less, so that the cheapest purchase over the ways planned is
the cheapest over all of them.
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

# Of more suppliers not every set is looked at: all ways are planned then.
MOST_SUPPLIERS = 6
# In place of a number of a try: sawn by the supplier.
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
    """The ways of each material, those planned that a cheapest purchase may take.

    Args:
        wanted: materials with their pieces, each once.
        markets: what can be bought of each.
        saw: kerf, trim and grip.
        units: to plan in and to order in.
        effort: work for the plans.
        certificate: asked for in place of what each supplier's orders usually ask for.
        bounds: plan each material over all lengths in any case, for the bound on what its cuts cost.

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
    """An offer in whole bars: from so many on, each costs a price in ten-thousandths."""

    supplier: str
    bundle: int
    limit: int | None
    steps: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, offer: Offer) -> "_Seller":
        steps = tuple((-(-step.from_g // offer.mass_g), _units(step.price)) for step in offer.steps)
        return cls(offer.supplier, offer.bundle, offer.limit, steps)

    def lowest(self, most: int) -> int:
        """The lowest price of a bar; a step whose bars alone cost more than `most` is not reached."""
        return min((price for start, price in self.steps if start * price <= most), default=INFINITE)

    def cost(self, count: int) -> int:
        """What at least so many bars cost, in whole bundles and with more of them where that is cheaper."""
        best = INFINITE
        for number, (start, price) in enumerate(self.steps):
            bars = -(-max(count, start) // self.bundle) * self.bundle
            ends = self.steps[number + 1][0] if number + 1 < len(self.steps) else bars + 1
            if bars < ends and (self.limit is None or bars <= self.limit):
                best = min(best, bars * price)
        return best


class MaterialWays:
    """The ways of one material: those planned so far, and what the others cost at least.

    `besides`: lengths that are worth buying where no way needs them, to make a delivery free.
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
        self._need, self._kerf = needed_room(wanted.pieces, saw, units.planning)
        for bar in (*wanted.own, *wanted.free):
            self._need -= max(0, room_of(bar.length, ZERO, saw, self._kerf))
        # Who sells each length; those of sawn pieces are added once they are known.
        self._sellers: dict[Length, list[_Seller]] = {}
        for offer, _ in market.offers.values():
            self._sellers.setdefault(offer.kind.length, []).append(_Seller.of(offer))

    @property
    def has_bars(self) -> bool:
        """Whether some bars are there already."""
        return bool(self.wanted.own or self.wanted.free)

    @property
    def all_there(self) -> bool:
        """Whether the bars that are there hold all the pieces: nothing is cheaper."""
        return 0 in self.planned and not self._needs[0]

    def use_bars(self) -> None:
        """Plan over all lengths where bars are there: they may hold all, and what they do is not sawn."""
        if self.has_bars:
            self.plan(0)

    def plan(self, at: int) -> None:
        """Plan one way; where its bars are too short or too few it is left out, save over all lengths."""
        if at in self.planned:
            return
        name, stock = self.tries[at]
        try:
            way = plan_way(self.wanted, stock, self.saw, self.units.planning, self.effort, name)
        except CannotMakeError:
            if at == 0:
                raise
            self.left_out.add(at)
            return
        self._keep(at, way)
        if SAWN not in self.planned and (at == 0 or not self.has_bars):
            self._saw(way)

    def plan_all(self) -> None:
        """Plan every way to buy; only the first, with every length on offer, where the jobs have all bars."""
        self.plan(0)
        for at in () if self.all_there else range(1, len(self.tries)):
            self.plan(at)

    def _keep(self, at: int, way: PlannedWay) -> None:
        self.planned[at] = way
        self._needs[at] = {need.kind.length: need.count for need in way.needs(self.wanted)}

    def _saw(self, way: PlannedWay) -> None:
        """What a way cuts from bought bars, sawn by the supplier instead."""
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
        """The planned ways that differ in what they buy, all lengths first and sawn last."""
        order = sorted(self.planned, key=lambda at: (at == SAWN, at))
        return different_ways([self.planned[at] for at in order if at not in self.left_out])

    def bound(self) -> Decimal | None:
        """What the bars cost at least, each length at the lowest price that anybody asks for one bar."""
        if 0 in self.planned:
            plan = self.planned[0].plan
            return None if plan is None else plan.bound
        prices = {bar.length: _units(bar.price) for bar in self.tries[0][1] if bar.price is not None}
        least = self._least(0, prices, settled=False)
        return None if least is None else Decimal(least).scaleb(-RATE_DIGITS)

    def costs(self, sellers: Iterable[str], most: int) -> dict[int, int]:
        """What each way costs at least from these suppliers, where more than `most` is too dear."""
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
        # All lengths after each alone: of two that may cost the same the quicker plan is made first.
        for at in (*range(1, len(self.tries)), 0, SAWN):
            if at in self.planned:
                costs[at] = sum(n * prices.get(length, INFINITE) for length, n in self._needs[at].items())
            elif at != SAWN and at not in self.left_out:
                least = self._least(at, prices, settled=True)
                costs[at] = INFINITE if least is None else least
        return costs

    def cheapest(self, sellers: Iterable[str]) -> dict[str, int]:
        """The cheapest planned way from these suppliers, deliveries apart: what each asks; empty for none."""
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
        """Lengths of which some supplier sells a few bars for no more than its free delivery spares."""
        return tuple(
            length
            for length, of in self._sellers.items()
            if any(one.cost(1) <= spared.get(one.supplier, -1) for one in of)
        )

    def _least(self, at: int, prices: Mapping[Length, int], *, settled: bool) -> int | None:
        """By length; `settled`: a length that is planned alone, as well as can be, is not alone here."""
        lengths = []
        for bar in self.tries[at][1]:
            if bar.length in prices:
                room = room_of(bar.length, bar.tolerance, self.saw, self._kerf)
                lengths.append(PricedLength(room, prices[bar.length], self._alone(bar, settled=settled)))
        return least_cost(self._need, lengths)

    def _alone(self, bar: StockBar, *, settled: bool) -> int | None:
        """The fewest bars of a length where no other is bought; None where such plans need no look."""
        at = next((i for i, (_, stock) in enumerate(self.tries) if stock == (bar,)), None)
        if at is None or at not in self.planned:
            return None if at in self.left_out else 0
        plan = self.planned[at].plan
        if plan is None or not bar.price:
            return 0
        return None if settled and plan.proven else -(-int(plan.bound * 10**6) // int(bar.price * 10**6))


class _Purchase:
    """What a purchase of all materials costs at least and at most, by the suppliers that get orders."""

    def __init__(self, materials: Sequence[MaterialWays], terms: Iterable[DeliveryTerms]) -> None:
        self.materials = materials
        self.terms = {term.name: term for term in terms}
        names = sorted(self.terms) if materials else []
        self.sets = [some for n in range(len(names)) for some in combinations(names, n + 1)]

    def plan(self, effort: Effort) -> None:
        """Plan the ways that a cheapest purchase may take, and leave out the others."""
        effort.deal(2 * len(self.materials))
        for ways in self.materials:
            # The length that seems cheapest alone: it is quickly planned, and often the one that is bought.
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
        """The ways not planned yet with which a purchase may cost less than one known, the least first."""
        known = self._at_most()
        least: dict[tuple[MaterialWays, int], int] = {}
        for sellers in self.sets:
            for total, ways, at in self._totals(sellers, known):
                if total < min(known, least.get((ways, at), INFINITE)) and at not in ways.planned:
                    least[ways, at] = total
        return sorted(least, key=lambda entry: least[entry])

    def _leave_out_dearer(self) -> None:
        """Leave out the ways with which every purchase costs more than one that is known."""
        known = self._at_most()
        if known >= INFINITE:
            return
        totals = [entry for sellers in self.sets for entry in self._totals(sellers, known)]
        for ways in self.materials:
            worth = {at for total, of, at in totals if of is ways and total <= known}
            ways.left_out |= set(ways.planned) - worth

    def _note_besides(self) -> None:
        """Tell each material which of its lengths may make a delivery free that a known purchase affords."""
        known = self._at_most()
        spared = {
            name: term.spared
            for name, term in self.terms.items()
            if term.free_from is not None and term.free_from <= known
        }
        for ways in self.materials:
            ways.besides = ways.sold_below(spared)

    def _totals(self, sellers: Sequence[str], known: int) -> list[tuple[int, MaterialWays, int]]:
        """What a purchase from just these suppliers costs at least with each way of each material.

        Empty where none costs as little as one that is known.
        """
        # A delivery that is free from more than a whole purchase costs is paid for.
        delivery = sum(self.terms[name].asked(known) for name in sellers)
        costs = [ways.costs(sellers, known) for ways in self.materials]
        total = delivery + sum(least := [min(of.values(), default=INFINITE) for of in costs])
        if total > known:
            return []
        # The others and the deliveries leave less for a material: fewer of its price steps are reached.
        left = [known - total + mine for mine in least]
        costs = [ways.costs(sellers, most) for ways, most in zip(self.materials, left, strict=True)]
        total = delivery + sum(least := [min(of.values(), default=INFINITE) for of in costs])
        return [
            (total - least[m] + cost, ways, at)
            for m, ways in enumerate(self.materials)
            for at, cost in costs[m].items()
        ]

    def _at_most(self) -> int:
        """What the cheapest of some purchases by the planned ways costs."""
        return min((self._bought_from(sellers) for sellers in self.sets), default=INFINITE)

    def _bought_from(self, sellers: Sequence[str]) -> int:
        """The cost where each material is bought as is cheapest without deliveries."""
        goods: dict[str, int] = {}
        for ways in self.materials:
            bought = ways.cheapest(sellers)
            if not bought:
                return INFINITE
            for name, cost in bought.items():
                goods[name] = goods.get(name, 0) + cost
        return sum(cost + self.terms[name].asked(cost) for name, cost in goods.items())


def _units(money: Decimal) -> int:
    """Money as ten-thousandths, rounded down where it is finer."""
    return int(money.scaleb(RATE_DIGITS))
