"""Which supplier gets which bars: cheapest with deliveries, bundles and price steps.

Begin at `choose_suppliers`. The model is in whole numbers (money in
ten-thousandths, bars in bundles), its cost is added up again from the purchases
and its bound is proven in whole numbers (see `whole`).
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from shopquote.calc.buying.answers import (
    BarKind,
    BuyingPlan,
    Offer,
    PriceStep,
    Purchase,
    SupplierTerms,
    Want,
)
from shopquote.calc.buying.whole import WholeProgramme, solve_whole
from shopquote.calc.money import RATE_DIGITS, round_rate
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError


@dataclass(frozen=True)
class _Range:
    """Bundles of one offer at one price step: none, or from `least` to `most`."""

    offer: Offer
    price: int
    least: int
    most: int


@dataclass
class _Built:
    programme: WholeProgramme = field(default_factory=WholeProgramme)
    ways: dict[tuple[int, int], int] = field(default_factory=dict)
    bundles: list[tuple[_Range, int]] = field(default_factory=list)


def choose_suppliers(
    wants: Sequence[Want],
    offers: Sequence[Offer],
    terms: Sequence[SupplierTerms],
    *,
    seconds: float = 5.0,
) -> BuyingPlan:
    """The cheapest way to buy one way of every want, with its proof.

    More bars than needed may be bought where a bundle or a price step makes
    that necessary or cheaper; an offer is never bought beyond its whole need
    rounded up to a bundle, or its price step if that is more.

    Args:
        wants: each with at least one way.
        offers: all in one currency; `code` unique.
        terms: delivery terms; a supplier without terms delivers free.
        seconds: when to stop proving.

    Raises:
        CannotMakeError: nobody offers enough for any way of a want; names the bars lacking.
        InputError: an offer's figures make no sense.

    >>> from shopquote.calc.buying.answers import Need, Way
    >>> kind = BarKind("round 12", "S275", Length.from_mm(6000))
    >>> near = Offer("a", "Near", kind, 5328, (PriceStep(0, Decimal("7.00")),))
    >>> far = Offer("b", "Far", kind, 5328, (PriceStep(0, Decimal("6.50")),))
    >>> want = Want("round 12 S275", (Way("full bars", (Need(kind, 10),)),))
    >>> plan = choose_suppliers([want], [near, far], [SupplierTerms("Far", Decimal(20))])
    >>> plan.suppliers, plan.cost, plan.proven
    (('Near',), Decimal('70.0000'), True)
    """
    began = time.monotonic()
    _check(offers, terms)
    lacking = [message for want in wants if (message := _lacking(want, offers)) is not None]
    if lacking:
        raise CannotMakeError(
            "Nobody on file sells what is needed.\n" + "\n".join(f"  {line}" for line in lacking),
            hint="Add the bar to a supplier's list (shopquote stock), or lift its limit.",
        )
    built = _build(wants, offers, {term.name: term for term in terms})
    answer = solve_whole(built.programme, seconds)
    if answer.x is None or answer.bound is None:
        raise CannotMakeError(
            "The suppliers' limits and minimum masses leave no way to buy everything that is needed.",
            hint="Lift a limit, or buy for fewer jobs at once.",
        )
    purchases = _purchases(built, answer.x)
    deliveries = delivery_charges(purchases, terms)
    cost = sum((purchase.amount for purchase in purchases), Decimal(0)) + sum(deliveries.values(), Decimal(0))
    ways = {wants[m].name: wants[m].ways[a].name for (m, a), j in built.ways.items() if answer.x[j]}
    bound = min(cost, Decimal(answer.bound).scaleb(-RATE_DIGITS))
    return BuyingPlan(
        purchases, ways, deliveries, _four(cost), _four(bound), time.monotonic() - began, answer.nodes
    )


def delivery_charges(purchases: Sequence[Purchase], terms: Sequence[SupplierTerms]) -> dict[str, Decimal]:
    """What each supplier that gets an order charges for its delivery."""
    goods: dict[str, Decimal] = {}
    for purchase in purchases:
        name = purchase.offer.supplier
        goods[name] = goods.get(name, Decimal(0)) + purchase.amount
    by_name = {term.name: term for term in terms}
    charges = {}
    for name, amount in sorted(goods.items()):
        term = by_name.get(name, SupplierTerms(name))
        free = term.free_from is not None and amount >= term.free_from
        charges[name] = Decimal(0) if free else term.delivery_charge
    return charges


def cut_offer(bar: Offer, length: Length, cut_charge: Decimal) -> Offer:
    """The same bar sawn to `length` by the supplier, at the bar's price for that much of it.

    Mass is rounded to whole grams and prices to four decimals, half up.
    """
    share = Decimal(length.nm) / Decimal(bar.kind.length.nm)
    steps = tuple(PriceStep(step.from_g, round_rate(step.price * share + cut_charge)) for step in bar.steps)
    kind = BarKind(bar.kind.section, bar.kind.grade, length)
    mass_g = max(1, round(bar.mass_g * share))
    code = f"{bar.code} cut {length.nm}"
    return Offer(code, bar.supplier, kind, mass_g, steps, cut=True)


def _check(offers: Sequence[Offer], terms: Sequence[SupplierTerms]) -> None:
    codes = [offer.code for offer in offers]
    if len(set(codes)) != len(codes):
        raise InputError("Two offers have the same code.")
    for offer in offers:
        if offer.mass_g < 1 or offer.bundle < 1 or not offer.steps:
            raise InputError(f"Offer {offer.code}: mass, bundle and prices must be above zero.")
        if list(offer.steps) != sorted(offer.steps, key=lambda step: step.from_g):
            raise InputError(f"Offer {offer.code}: price steps must rise by mass.")
        for step in offer.steps:
            _units(step.price, f"offer {offer.code}")
    for term in terms:
        _units(term.delivery_charge, f"delivery of {term.name}")
        _units(term.free_from or Decimal(0), f"free delivery of {term.name}")


def _units(money: Decimal, where: str) -> int:
    """Money as whole ten-thousandths."""
    scaled = money.scaleb(RATE_DIGITS)
    if scaled != scaled.to_integral_value() or money < 0:
        raise InputError(f"Price of {where} is {money}; expected at least 0, with at most 4 decimals.")
    return int(scaled)


def _lacking(want: Want, offers: Sequence[Offer]) -> str | None:
    """Why no way of a want can be bought, or None when one can."""
    most: dict[BarKind, int | None] = {}
    for offer in offers:
        before = most.get(offer.kind, 0)
        whole = None if offer.limit is None else offer.limit // offer.bundle * offer.bundle
        most[offer.kind] = None if before is None or whole is None else before + whole
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


def _build(wants: Sequence[Want], offers: Sequence[Offer], terms: dict[str, SupplierTerms]) -> _Built:
    built = _Built()
    programme = built.programme
    largest: dict[BarKind, int] = {}
    cover: dict[BarKind, dict[int, int]] = {}
    for m, want in enumerate(wants):
        row = {}
        for a, way in enumerate(want.ways):
            j = built.ways[m, a] = programme.add_variable(0, 1, rank=1)
            row[j] = 1
            for need in way.needs:
                terms_of = cover.setdefault(need.kind, {})
                terms_of[j] = terms_of.get(j, 0) - need.count
        programme.add_row(row, 1)
    for want in wants:
        for kind, count in _most_of_each_kind(want).items():
            largest[kind] = largest.get(kind, 0) + count
    used = _add_suppliers(built, offers, terms)
    goods: dict[str, dict[int, int]] = {}
    for offer in sorted(offers, key=lambda offer: offer.code):
        if offer.kind not in largest:
            continue
        term = terms.get(offer.supplier, SupplierTerms(offer.supplier))
        ranges = _ranges(offer, largest[offer.kind], _units(term.delivery_charge, offer.supplier))
        _add_offer(built, offer, ranges, used.get(offer.supplier), cover, goods)
    for row in cover.values():
        programme.add_row(row, 0)
    _add_free_delivery(built, terms, used, goods)
    return built


def _most_of_each_kind(want: Want) -> dict[BarKind, int]:
    most: dict[BarKind, int] = {}
    for way in want.ways:
        here: dict[BarKind, int] = {}
        for need in way.needs:
            here[need.kind] = here.get(need.kind, 0) + need.count
        for kind, count in here.items():
            most[kind] = max(most.get(kind, 0), count)
    return most


def _add_suppliers(built: _Built, offers: Sequence[Offer], terms: dict[str, SupplierTerms]) -> dict[str, int]:
    """One variable for each supplier whose delivery costs something: it is used."""
    used = {}
    for name in sorted({offer.supplier for offer in offers}):
        charge = _units(terms[name].delivery_charge, name) if name in terms else 0
        if charge:
            used[name] = built.programme.add_variable(charge, 1, rank=0)
    return used


def _ranges(offer: Offer, need: int, delivery: int) -> list[_Range]:
    """The price steps of an offer as ranges of bundles, useless ones left out."""
    bundle_g = offer.bundle * offer.mass_g
    starts = [max(1, -(-step.from_g // bundle_g)) for step in offer.steps]
    most = max(-(-need // offer.bundle), max(starts))
    if offer.limit is not None:
        most = min(most, offer.limit // offer.bundle)
    ranges: list[_Range] = []
    for i, step in enumerate(offer.steps):
        end = min(most, starts[i + 1] - 1) if i + 1 < len(starts) else most
        price = _units(step.price, offer.code) * offer.bundle
        if starts[i] > end or _is_dominated(ranges, price * starts[i], need, offer.bundle, delivery):
            continue
        ranges.append(_Range(offer, price, starts[i], end))
    return ranges


def _is_dominated(ranges: list[_Range], least_cost: int, need: int, bundle: int, delivery: int) -> bool:
    """Whether the whole need is cheaper at an earlier step, even if that loses a free delivery."""
    bundles = -(-need // bundle)
    return any(
        earlier.least <= bundles <= earlier.most and earlier.price * bundles + delivery <= least_cost
        for earlier in ranges
    )


def _add_offer(
    built: _Built,
    offer: Offer,
    ranges: list[_Range],
    used: int | None,
    cover: dict[BarKind, dict[int, int]],
    goods: dict[str, dict[int, int]],
) -> None:
    programme = built.programme
    switches = {}
    for span in ranges:
        j = programme.add_variable(span.price, span.most, rank=3)
        built.bundles.append((span, j))
        cover[offer.kind][j] = offer.bundle
        goods.setdefault(offer.supplier, {})[j] = span.price
        if len(ranges) == 1 and span.least == 1:
            if used is not None:
                programme.add_row({used: span.most, j: -1}, 0)
            continue
        switch = programme.add_variable(0, 1, rank=2)
        switches[switch] = -1
        programme.add_row({switch: span.most, j: -1}, 0)
        programme.add_row({switch: -span.least, j: 1}, 0)
    if switches and used is not None:
        programme.add_row({used: 1, **switches}, 0)
    elif len(switches) > 1:
        programme.add_row(switches, -1)


def _add_free_delivery(
    built: _Built, terms: dict[str, SupplierTerms], used: dict[str, int], goods: dict[str, dict[int, int]]
) -> None:
    for name, j in used.items():
        term = terms[name]
        if term.free_from is None or name not in goods:
            continue
        charge = _units(term.delivery_charge, name)
        free_from = _units(term.free_from, name)
        free = built.programme.add_variable(-charge, 1, rank=0)
        built.programme.add_row({j: 1, free: -1}, 0)
        built.programme.add_row({**goods[name], free: -free_from}, 0)


def _purchases(built: _Built, x: list[int]) -> tuple[Purchase, ...]:
    purchases = []
    for span, j in built.bundles:
        if x[j]:
            price = Decimal(span.price // span.offer.bundle).scaleb(-RATE_DIGITS)
            purchases.append(Purchase(span.offer, x[j] * span.offer.bundle, price))
    return tuple(sorted(purchases, key=lambda p: (p.offer.supplier, p.offer.kind, p.offer.code)))


def _four(money: Decimal) -> Decimal:
    return money.quantize(Decimal(1).scaleb(-RATE_DIGITS))
