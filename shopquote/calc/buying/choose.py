"""Which supplier gets which bars: the cheapest choice with deliveries, bundles and price steps.

Begin at `choose_suppliers`. It checks the input, states the problem in integers (money in ten-thousandths)
for `search`, and adds the cost up again from the purchases. The bound is exact (see `search`).
"""

import time
from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import gcd
from operator import mul

import numpy as np

from shopquote.calc.buying.buying_plan import (
    BarKind,
    BuyingPlan,
    Extra,
    Offer,
    PriceStep,
    Purchase,
    SupplierTerms,
    Want,
    Way,
)
from shopquote.calc.buying.market import Block, DeliveryTerms, Item, Market
from shopquote.calc.buying.search import search_choice
from shopquote.calc.money import RATE_DIGITS, round_rate
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError

# Limit of the search, in its units of work: 300 wants with 13,338 offers were proven with 0.9 of it.
MOST_WORK = 1_000_000_000


def choose_suppliers(
    wants: Sequence[Want],
    offers: Sequence[Offer],
    terms: Sequence[SupplierTerms],
    *,
    seconds: float | None = None,
    most_work: int = MOST_WORK,
) -> BuyingPlan:
    """The cheapest way to buy one way of every want, with its proof.

    More bars than needed may be bought where a bundle or a price step makes that necessary or
    cheaper, or where they make a delivery free.

    Args:
        wants: each with at least one way; no kind of bar is needed by two of them.
        offers: all in one currency; `code` unique.
        terms: delivery terms; a supplier without terms delivers free.
        seconds: a time limit that a person set; None: only `most_work` counts, so that the answer does not
            depend on the machine's load.
        most_work: limit of the search, in table cells and solver work.

    Raises:
        CannotMakeError: nobody offers enough for any way of a want; names the bars lacking.
        InputError: an offer's figures make no sense.

    >>> from shopquote.calc.buying.buying_plan import Need, Way
    >>> kind = BarKind("round 12", "S275", Length.from_mm(6000))
    >>> near = Offer("a", "Near", kind, 5328, (PriceStep(0, Decimal("7.00")),))
    >>> far = Offer("b", "Far", kind, 5328, (PriceStep(0, Decimal("6.50")),))
    >>> want = Want("round 12 S275", (Way("full bars", (Need(kind, 10),)),))
    >>> plan = choose_suppliers([want], [near, far], [SupplierTerms("Far", Decimal(20))])
    >>> plan.suppliers, plan.cost, plan.proven
    (('Near',), Decimal('70.0000'), True)
    """
    # The clock serves a person's time limit and the time that is shown; no result depends on it otherwise.
    began = time.monotonic()
    _check(wants, offers, terms)
    offered = _offered(offers)
    lacking = [message for want in wants if (message := _lacking(want, offered)) is not None]
    if lacking:
        raise CannotMakeError(
            "Nobody on file sells what is needed.\n" + "\n".join(f"  {line}" for line in lacking),
            hint="Add the bar to a supplier's list (shopquote stock), or lift its limit.",
        )
    market = market_of(wants, offers, terms)
    found = search_choice(
        market, most_work, lambda: seconds is not None and time.monotonic() > began + seconds
    )
    if found.counts is None or found.bound is None:
        raise CannotMakeError(
            "The suppliers' limits and minimum masses leave no way to buy everything that is needed.",
            hint="Lift a limit, or buy for fewer jobs at once.",
        )
    purchases = _purchases(market, found.counts)
    deliveries = delivery_charges(purchases, terms)
    cost = sum((purchase.amount for purchase in purchases), Decimal(0)) + sum(deliveries.values(), Decimal(0))
    ways = {want.name: _way_taken(want, purchases) for want in wants}
    bound = min(cost, Decimal(found.bound).scaleb(-RATE_DIGITS))
    return BuyingPlan(
        purchases, ways, deliveries, _four(cost), _four(bound), time.monotonic() - began, found.nodes,
        cut_short=found.cut_short, extras=extra_bars(wants, ways, purchases, terms),
    )  # fmt: skip


def delivery_charges(purchases: Sequence[Purchase], terms: Sequence[SupplierTerms]) -> dict[str, Decimal]:
    """The charge for delivery and certificate of each supplier that gets an order, by name."""
    goods: dict[str, Decimal] = {}
    for purchase in purchases:
        name = purchase.offer.supplier
        goods[name] = goods.get(name, Decimal(0)) + purchase.amount
    by_name = {term.name: term for term in terms}
    charges = {}
    for name, amount in sorted(goods.items()):
        term = by_name.get(name, SupplierTerms(name))
        free = term.free_from is not None and amount >= term.free_from
        charges[name] = term.certificate_charge + (Decimal(0) if free else term.delivery_charge)
    return charges


def cut_offer(bar: Offer, length: Length, cut_charge: Decimal) -> Offer:
    """The offer of a piece that the supplier saws from this bar.

    It costs the bar's price in proportion to `length`, plus `cut_charge`. Mass is rounded to whole grams and
    prices to four decimals, half up.
    """
    share = Decimal(length.nm) / Decimal(bar.kind.length.nm)
    steps = tuple(PriceStep(step.from_g, round_rate(step.price * share + cut_charge)) for step in bar.steps)
    kind = BarKind(bar.kind.section, bar.kind.grade, length)
    mass_g = max(1, round(bar.mass_g * share))
    code = f"{bar.code} cut {length.nm}"
    return Offer(code, bar.supplier, kind, mass_g, steps, cut=True)


def _check_offer(offer: Offer) -> None:
    if offer.mass_g < 1 or offer.bundle < 1 or not offer.steps:
        raise InputError(f"Offer {offer.code}: mass, bundle and prices must be above zero.")
    if list(offer.steps) != sorted(offer.steps, key=lambda step: step.from_g):
        raise InputError(f"Offer {offer.code}: price steps must rise by mass.")
    for step in offer.steps:
        _units(step.price, f"offer {offer.code}")


def _check(wants: Sequence[Want], offers: Sequence[Offer], terms: Sequence[SupplierTerms]) -> None:
    kinds = [kind for want in wants for kind in _kinds_of(want)]
    if len(set(kinds)) != len(kinds):
        raise InputError("Two wants need the same kind of bar; they are one want.")
    codes = [offer.code for offer in offers]
    if len(set(codes)) != len(codes):
        raise InputError("Two offers have the same code.")
    for offer in offers:
        _check_offer(offer)
    for term in terms:
        _units(term.delivery_charge, f"delivery of {term.name}")
        _units(term.certificate_charge, f"certificate of {term.name}")
        _units(term.free_from or Decimal(0), f"free delivery of {term.name}")


def _units(money: Decimal, where: str) -> int:
    """Money in whole ten-thousandths; `where` names it in the error.

    Raises:
        InputError: it has more than four decimals.
    """
    scaled = money.scaleb(RATE_DIGITS)
    if scaled != scaled.to_integral_value() or money < 0:
        raise InputError(f"Price of {where} is {money}; expected at least 0, with at most 4 decimals.")
    return int(scaled)


def _offered(offers: Sequence[Offer]) -> dict[BarKind, int | None]:
    """How many bars of each kind all offers have together; None without a limit."""
    most: dict[BarKind, int | None] = {}
    for offer in offers:
        before = most.get(offer.kind, 0)
        # Of a limit that is not a multiple of the bundle, only whole bundles can be bought.
        whole = None if offer.limit is None else offer.limit // offer.bundle * offer.bundle
        most[offer.kind] = None if before is None or whole is None else before + whole
    return most


def _lacking(want: Want, most: Mapping[BarKind, int | None]) -> str | None:
    """Which bars are lacking for every way of a want, in words; None where one way can be bought."""
    worst = ""
    for way in want.ways:
        short = []
        for need in way.needs:
            have = most.get(need.kind, 0)
            if have is not None and have < need.count:
                mm = need.kind.length.mm.normalize()
                short.append(f"{need.count} of {mm:f} mm needed, {have} offered")
        if not short:
            return None
        worst = worst or f"{want.name}: " + "; ".join(short)
    return worst or f"{want.name}: no way to cover it"


def market_of(wants: Sequence[Want], offers: Sequence[Offer], terms: Sequence[SupplierTerms]) -> Market:
    """The problem stated in integers, as the search takes it."""
    by_name = {term.name: term for term in terms}
    most = _most_needed(wants)
    names = sorted({offer.supplier for offer in offers})
    suppliers = tuple(delivery_terms(by_name.get(name, SupplierTerms(name))) for name in names)
    items: list[Item] = []
    of_kind: dict[BarKind, list[int]] = {}
    # Sorted by code: of equally cheap choices the first is taken, whatever order the list on file has.
    for offer in sorted(offers, key=lambda offer: offer.code):
        # No want can use it.
        if offer.kind not in most:
            continue
        s = names.index(offer.supplier)
        item = _item(offer, s, most[offer.kind], suppliers[s])
        if item is not None:
            of_kind.setdefault(offer.kind, []).append(len(items))
            items.append(item)
    blocks = [_block(want, of_kind) for want in wants]
    # Every cost is a sum of multiples of these, so their common divisor divides all costs.
    grid = gcd(
        *(_units(step.price, "") for item in items for step in item.offer.steps),
        *(charge for supplier in suppliers for charge in (supplier.charge, supplier.kept)),
    )
    return Market(suppliers, tuple(items), tuple(blocks), max(1, grid))


def _kinds_of(want: Want) -> set[BarKind]:
    return {*want.besides, *(need.kind for way in want.ways for need in way.needs)}


def _most_needed(wants: Sequence[Want]) -> dict[BarKind, int]:
    """The greatest number of bars of each kind that any way needs."""
    most: dict[BarKind, int] = {kind: 0 for want in wants for kind in want.besides}
    for way in (way for want in wants for way in want.ways):
        for need in way.needs:
            most[need.kind] = max(most.get(need.kind, 0), _needed(way, need.kind))
    return most


def _block(want: Want, of_kind: Mapping[BarKind, Sequence[int]]) -> Block:
    """A want as indices of the items that supply each of its kinds, and its ways."""
    kinds = sorted(_kinds_of(want))
    ways = tuple(
        tuple((k, _needed(way, kind)) for k, kind in enumerate(kinds) if _needed(way, kind))
        for way in want.ways
    )
    return Block(tuple(tuple(of_kind.get(kind, ())) for kind in kinds), ways)


def _needed(way: Way, kind: BarKind) -> int:
    return sum(need.count for need in way.needs if need.kind == kind)


def delivery_terms(term: SupplierTerms) -> DeliveryTerms:
    """A supplier's terms in whole ten-thousandths.

    Raises:
        InputError: an amount is below zero or has more than four decimals.
    """
    kept = _units(term.certificate_charge, term.name)
    charge = _units(term.delivery_charge, term.name) + kept
    free_from = None if term.free_from is None else _units(term.free_from, term.name)
    return DeliveryTerms(term.name, charge, free_from, kept)


def _item(offer: Offer, supplier: int, need: int, terms: DeliveryTerms) -> Item | None:
    """The counts of an offer that can be worth buying, with their costs; None where there is none.

    Bars beyond the need and the last price step serve only to make a delivery free, so they are listed only
    as long as together they cost no more than that delivery.
    """
    bundle_g = offer.bundle * offer.mass_g
    starts = [max(1, -(-step.from_g // bundle_g)) for step in offer.steps]
    prices = [_units(step.price, offer.code) * offer.bundle for step in offer.steps]
    # At least the whole need, and enough to reach the last price step.
    most = max(-(-need // offer.bundle), starts[-1])
    if terms.free_from is not None and prices[-1]:
        most += terms.spared // prices[-1]
    if offer.limit is not None:
        most = min(most, offer.limit // offer.bundle)
    if not need and (terms.free_from is None or min(map(mul, starts, prices)) > terms.spared):
        return None
    bundles = np.arange(starts[0], most + 1, dtype=np.int64)
    if not len(bundles):
        return None
    step = np.searchsorted(np.array(starts), bundles, side="right") - 1
    return Item(offer, supplier, bundles * offer.bundle, bundles * np.array(prices, dtype=np.int64)[step])


def _purchases(market: Market, counts: Mapping[int, int]) -> tuple[Purchase, ...]:
    purchases = []
    for j, count in counts.items():
        price = Decimal(market.cost_of(j, count) // count).scaleb(-RATE_DIGITS)
        purchases.append(Purchase(market.items[j].offer, count, price))
    return tuple(sorted(purchases, key=lambda p: (p.offer.supplier, p.offer.kind, p.offer.code)))


def _way_taken(want: Want, purchases: Sequence[Purchase]) -> str:
    """Name of the first way whose needs the purchases cover."""
    bought: dict[BarKind, int] = {}
    for purchase in purchases:
        bought[purchase.offer.kind] = bought.get(purchase.offer.kind, 0) + purchase.count
    return next(
        way.name
        for way in want.ways
        if all(bought.get(need.kind, 0) >= _needed(way, need.kind) for need in way.needs)
    )


def extra_bars(
    wants: Sequence[Want],
    ways: Mapping[str, str],
    purchases: Sequence[Purchase],
    terms: Sequence[SupplierTerms],
) -> tuple[Extra, ...]:
    """The bars bought beyond the need of the chosen ways, with what each purchase of them saves.

    `ways` is the chosen way by want, both by name.
    """
    spare: dict[BarKind, int] = {}
    for purchase in purchases:
        spare[purchase.offer.kind] = spare.get(purchase.offer.kind, 0) + purchase.count
    for want in wants:
        way = next(way for way in want.ways if way.name == ways[want.name])
        for need in way.needs:
            spare[need.kind] -= need.count
    extras = []
    for purchase in sorted(purchases, key=lambda p: (p.offer.kind, p.offer.code)):
        count = min(spare[purchase.offer.kind], purchase.count)
        if count:
            spare[purchase.offer.kind] -= count
            extras.append(_extra(purchase, count, purchases, terms))
    return tuple(extras)


def _extra(
    purchase: Purchase, count: int, purchases: Sequence[Purchase], terms: Sequence[SupplierTerms]
) -> Extra:
    """The `count` extra bars of a purchase, with the saving against leaving them out where they can be."""
    offer, left = purchase.offer, purchase.count - count
    steps = [step for step in offer.steps if left * offer.mass_g >= step.from_g]
    if left % offer.bundle or (left and not steps):
        return Extra(offer, count, None, bundle=bool(left % offer.bundle))
    price = steps[-1].price if left else Decimal(0)
    rest = tuple(
        Purchase(offer, left, price) if other is purchase else other
        for other in purchases
        if other is not purchase or left
    )
    now, then = delivery_charges(purchases, terms), delivery_charges(rest, terms)
    delivery = then.get(offer.supplier, Decimal(0)) - now.get(offer.supplier, Decimal(0))
    saves = price * left - purchase.amount + delivery
    return Extra(offer, count, saves, free_delivery=delivery > 0, price_step=price > purchase.unit_price)


def _four(money: Decimal) -> Decimal:
    return money.quantize(Decimal(1).scaleb(-RATE_DIGITS))
