"""From cost to price: lines, price breaks, taxes, chance of a loss. Begin at `price_job`.

Unit prices are rounded half up once. A line is unit price times quantity, the net is the sum of the lines,
and each tax a percentage of the rounded net, so that the printed figures add up.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.calc.money import (
    currency_digits,
    margin_of_price,
    price_at_margin,
    round_money,
    round_money_down,
    round_money_up,
)
from shopquote.calc.pricing.priced_quote import (
    BreakPrice,
    Confidence,
    Estimate,
    PricedQuote,
    PriceOverride,
    PricingPolicy,
    QuoteLine,
    TaxLine,
)
from shopquote.errors import InputError, nearest_word

SET_LINE = "set"
RUSH_LINE = "rush"
DISCOUNT_LINE = "discount"
MINIMUM_LINE = "minimum"
# Margins are stored as shown, to 0.01 %, so that a reprint shows the same.
CENT_PCT = Decimal("0.01")
# A difference from the margin asked for that may come from rounding unit prices; no note is made of it.
HARDLY_ANOTHER_PCT = Decimal("0.05")
_CHARGES = (RUSH_LINE, DISCOUNT_LINE, MINIMUM_LINE)
HARDLY_MORE = Decimal("1.02")


def price_job(
    job: JobSpec, estimate: Estimate, policy: PricingPolicy, *, others: Sequence[Estimate] = ()
) -> PricedQuote:
    """Price an estimate, and other quantities of the same job beside it.

    Args:
        job: gives the words of the lines and the pieces in a set.
        estimate: of the quantity that is quoted.
        policy: margin or markup, minimum order, rush, discount, taxes, overrides.
        others: estimates of other quantities for price breaks, each from its own cut plan.

    Raises:
        InputError: margin of 100 % or more, both or neither of margin and markup, a cost of
            zero, an override of a line that is not there or without a reason.
    """
    check_policy(policy)
    if estimate.cost <= 0:
        raise InputError(
            "This job costs nothing: no material, minutes, bought items or outside work to price."
        )
    lines = _with_charges(
        _overridden(_calculated_lines(job, estimate, policy), policy), estimate.sets, policy
    )
    net = sum((line.amount for line in lines), Decimal(0))
    breaks, notes = _breaks(job, estimate, net, others, policy)
    if net < estimate.cost:
        notes = (f"The net price is {estimate.cost - net} below the cost.", *notes)
    notes = (*notes, *_margin_note(estimate, policy, lines, net))
    # The cost at which this price gives exactly the margin asked for.
    allowed = net * (1 - asked_margin_pct(estimate, policy) / 100)
    return PricedQuote(
        sets=estimate.sets,
        currency=policy.currency,
        lines=lines,
        net=net,
        taxes=taxes_on(net, policy),
        breaks=breaks,
        cost=estimate.cost,
        chance_below_target_pct=estimate.chance_above(allowed),
        chance_of_loss_pct=estimate.chance_above(net),
        notes=notes,
    )


def check_policy(policy: PricingPolicy) -> None:
    """Refuse a policy from which no price follows.

    Raises:
        InputError: see `price_job`.
    """
    # With both they contradict each other; with neither the job would be sold at cost unnoticed.
    if (policy.margin_pct is None) == (policy.markup_pct is None):
        raise InputError("Give a margin (on the price) or a markup (on the cost), one of the two.")
    if policy.margin_pct is not None and not 0 <= policy.margin_pct < 100:
        raise InputError(
            f"Margin is {policy.margin_pct} %; it must be at least 0 and below 100 % of the price.",
            hint="A share of the cost is a markup: 100 % markup is 50 % margin.",
        )
    for name in ("markup_pct", "rush_pct", "minimum_order", "bought_markup_pct", "outside_markup_pct"):
        value = getattr(policy, name)
        if value is not None and value < 0:
            raise InputError(
                f"{name.replace('_pct', '').replace('_', ' ')} is {value}; it must be at least 0."
            )
    if not 0 <= policy.discount_pct < 100:
        raise InputError(f"Discount is {policy.discount_pct} %; it must be at least 0 and below 100 %.")


def asked_margin_pct(estimate: Estimate, policy: PricingPolicy) -> Decimal:
    """The margin on the whole price in per cent that the policy gives, separate markups included."""
    return margin_of_price(price_of(estimate, policy), estimate.cost)


def price_of(estimate: Estimate, policy: PricingPolicy) -> Decimal:
    """Unrounded price of all sets: cost at the policy's margin or markup.

    Bought items and subcontract work are priced at their own markup where the policy has one.
    """
    by_category = estimate.by_category
    own = {"bought": policy.bought_markup_pct, "outside": policy.outside_markup_pct}
    rest = estimate.cost
    price = Decimal(0)
    for category, markup in own.items():
        if markup is not None:
            # Cost with its own markup is excluded from the margin, so that it is not marked up twice.
            rest -= by_category[category]
            price += by_category[category] * (1 + markup / 100)
    if policy.markup_pct is not None:
        return price + rest * (1 + policy.markup_pct / 100)
    return price + price_at_margin(rest, policy.margin_pct or Decimal(0))


def _margin_note(
    estimate: Estimate, policy: PricingPolicy, lines: Sequence[QuoteLine], net: Decimal
) -> Iterator[str]:
    """A note why the margin of the price differs from the one asked for; none where it does not."""
    if policy.markup_pct is None:
        asked, words = policy.margin_pct or Decimal(0), "margin of {} % of the price"
        given = margin_of_price(net, estimate.cost) if net else Decimal(0)
    else:
        asked, words = policy.markup_pct, "markup of {} % on the cost"
        given = (net / estimate.cost - 1) * 100
    if abs(given - asked) < HARDLY_ANOTHER_PCT:
        return
    reasons = [
        f"{name} ({estimate.by_category[category]}) at their own markup of {markup:f} %"
        for category, name, markup in (
            ("bought", "bought items", policy.bought_markup_pct),
            ("outside", "work outside", policy.outside_markup_pct),
        )
        if markup is not None and estimate.by_category[category]
    ]
    reasons += [f"{line.text.lower()}: {line.amount}" for line in lines if line.key in _CHARGES]
    reasons += [f"{line.key}: price set by hand" for line in lines if line.override_reason]
    why = "; ".join(reasons) or "unit prices are rounded"
    yield f"Asked for was a {words.format(f'{asked:f}')}, this price leaves {given:.2f} %: {why}."


def taxes_on(net: Decimal, policy: PricingPolicy) -> tuple[TaxLine, ...]:
    """Each tax as a percentage of the rounded net, rounded once; none for an exempt customer."""
    if policy.tax_exempt:
        return ()
    return tuple(
        TaxLine(tax.name, tax.percent, net, round_money(net * tax.percent / 100, policy.currency))
        for tax in policy.taxes
    )


@dataclass(frozen=True, slots=True)
class PriceTarget:
    """The result of a target price.

    Its margin, and the minutes that must be saved to reach the target margin.

    `savings` is empty and `share_of_all_pct` None where the margin is met. `share_of_all_pct` is also None
    where the cost would be too high even without any labour.
    """

    net: Decimal
    margin_pct: Decimal
    target_pct: Decimal
    cost_allowed: Decimal
    too_dear_by: Decimal
    chance_of_loss_pct: Decimal
    confidence: Confidence
    savings: tuple[tuple[str, Decimal, Decimal], ...]
    share_of_all_pct: Decimal | None = None


def price_target(estimate: Estimate, policy: PricingPolicy, net: Decimal) -> PriceTarget:
    """Margin of a given net price, and the minutes to save for the policy's margin.

    `savings` has, for each operation that could restore the margin alone, (operation, minutes to save,
    minutes now), the smallest share first. `share_of_all_pct` is the per cent of its minutes that each
    operation would have to save if all save the same share.

    Raises:
        InputError: the price is not above zero.
    """
    margin = margin_of_price(net, estimate.cost).quantize(CENT_PCT, ROUND_HALF_UP)
    target = asked_margin_pct(estimate, policy)
    allowed = round_money(net * (1 - target / 100), policy.currency)
    excess = max(Decimal(0), estimate.cost - allowed)
    on_labour = (
        (1 + policy.scrap_pct / 100) * (1 + policy.overhead_pct / 100) * (1 + policy.contingency_pct / 100)
    )
    savings = []
    for operation in estimate.operations:
        if excess and operation.rate:
            minutes = (excess / on_labour / operation.rate * 60).quantize(Decimal("0.1"), ROUND_HALF_UP)
            if minutes <= operation.minutes:
                savings.append((operation.operation, minutes, operation.minutes))
    savings.sort(key=lambda saving: saving[1] / saving[2])
    labour = sum((operation.amount for operation in estimate.operations), Decimal(0)) * on_labour
    share = (excess / labour * 100).quantize(Decimal("0.1"), ROUND_HALF_UP) if labour else Decimal(0)
    return PriceTarget(
        net, margin,
        target.quantize(CENT_PCT, ROUND_HALF_UP),
        allowed, excess, estimate.chance_above(net), estimate.confidence, tuple(savings),
        share if 0 < share <= 100 else None,
    )  # fmt: skip


def _calculated_lines(job: JobSpec, estimate: Estimate, policy: PricingPolicy) -> tuple[QuoteLine, ...]:
    """One line for the set; or one for each part and one for cost that belongs to no part."""
    price = price_of(estimate, policy)
    if policy.lines == "set" or not estimate.parts:
        unit = round_money(price / estimate.sets, policy.currency)
        return (_line(SET_LINE, job.title, estimate.sets, unit),)
    direct = sum((part.cost for part in estimate.parts), Decimal(0))
    # Joints, bought items and finish belong to the set; without these the parts bear everything.
    apart = bool(job.is_joined or job.bought or job.outside or job.finish)
    carried = direct if apart else estimate.cost
    per_cost = price * carried / estimate.cost / direct if direct else Decimal(0)
    lines = [
        _line(
            f"part {part.mark}",
            f"{part.mark} {part.name}".strip(),
            part.pieces,
            round_money(part.cost * per_cost / part.pieces, policy.currency),
        )
        for part in estimate.parts
    ]
    rest = price - sum((line.amount for line in lines), Decimal(0))
    if apart:
        unit = round_money(rest / estimate.sets, policy.currency)
        lines.append(_line(SET_LINE, f"{job.title}: joining, finishing and packing", estimate.sets, unit))
    return tuple(lines)


def _line(key: str, text: str, quantity: int, unit: Decimal) -> QuoteLine:
    # From the rounded unit price, so that a customer who multiplies gets the printed amount.
    return QuoteLine(key, text, quantity, unit, unit * quantity)


def _overridden(lines: tuple[QuoteLine, ...], policy: PricingPolicy) -> tuple[QuoteLine, ...]:
    known = {line.key: line for line in lines}
    for override in policy.overrides:
        line = known.get(override.line)
        if line is None:
            near = nearest_word(override.line, known)
            meant = f"; did you mean {near!r}?" if near else ""
            apart = " A line for each part: --lines part." if policy.lines == "set" else ""
            raise InputError(
                f"No line {override.line!r} to set a price for{meant or '.'}",
                hint=f"Lines: {', '.join(known)}.{apart}",
            )
        known[override.line] = _override(line, override, policy.currency)
    return tuple(known.values())


def _override(line: QuoteLine, override: PriceOverride, currency: str) -> QuoteLine:
    if not override.reason.strip():
        raise InputError(f"Line {line.key!r}: a price set by hand needs a reason.")
    if override.unit_price < 0 or round_money(override.unit_price, currency) != override.unit_price:
        raise InputError(
            f"Line {line.key!r}: unit price is {override.unit_price}; expected at least 0 "
            f"with at most {currency_digits(currency)} decimals."
        )
    unit = round_money(override.unit_price, currency)
    return replace(
        line,
        unit_price=unit,
        amount=unit * line.quantity,
        override_reason=override.reason.strip(),
        calculated=line.unit_price,
    )


def _with_charges(lines: tuple[QuoteLine, ...], sets: int, policy: PricingPolicy) -> tuple[QuoteLine, ...]:
    """The lines with rush charge, discount and minimum order charge added, each per set."""
    currency = policy.currency
    amount = sum((line.amount for line in lines), Decimal(0))
    charged = list(lines)

    def charge(key: str, text: str, unit: Decimal) -> None:
        nonlocal amount
        if unit:
            charged.append(_line(key, text, sets, unit))
            amount += charged[-1].amount

    charge(RUSH_LINE, "Rush work", round_money(amount * policy.rush_pct / 100 / sets, currency))
    # After the rush charge, so that the discount is on it too.
    charge(DISCOUNT_LINE, "Discount", -round_money(amount * policy.discount_pct / 100 / sets, currency))
    if amount < policy.minimum_order:
        charge(
            MINIMUM_LINE,
            "Minimum order charge",
            # Rounded up: to the nearest, all sets together could stay below the minimum.
            round_money_up((policy.minimum_order - amount) / sets, currency),
        )
    return tuple(charged)


def _breaks(
    job: JobSpec, quoted: Estimate, net: Decimal, others: Sequence[Estimate], policy: PricingPolicy
) -> tuple[tuple[BreakPrice, ...], tuple[str, ...]]:
    """Price breaks with unit prices that do not rise and totals that do not fall, and notes.

    The price of the quoted quantity is not changed.
    """
    if not others:
        return (), ()
    estimates = {estimate.sets: estimate for estimate in (*others, quoted)}
    plain = replace(policy, overrides=())
    own: dict[int, Decimal] = {}
    for sets, estimate in estimates.items():
        lines = _with_charges(_calculated_lines(job, estimate, plain), sets, plain)
        # Overrides count for the quoted quantity alone; others are priced as calculated.
        total = net if sets == quoted.sets else sum((line.amount for line in lines), Decimal(0))
        own[sets] = round_money(total / sets, policy.currency)
    steps = sorted(own)
    units = in_order(steps, own, quoted.sets, policy.currency)
    breaks, notes = [], []
    for sets in steps:
        breaks.append(_break(estimates[sets], units[sets], own[sets], better_quantity(steps, units, sets)))
        if units[sets] != own[sets]:
            notes.append(
                f"{sets} sets: planned on its own the unit price is {own[sets]}; {units[sets]} is offered, "
                "so that the unit price never rises with the quantity and the total never falls."
            )
    if policy.overrides:
        notes.append(
            f"The price set by hand is for {quoted.sets} sets; other quantities are priced as calculated."
        )
    return tuple(breaks), tuple(notes)


def _break(estimate: Estimate, unit: Decimal, own: Decimal, better: tuple[int, Decimal] | None) -> BreakPrice:
    total = unit * estimate.sets
    margin = (
        ((total - estimate.cost) / total * 100).quantize(CENT_PCT, ROUND_HALF_UP) if total > 0 else Decimal(0)
    )
    return BreakPrice(estimate.sets, unit, total, estimate.cost, margin, own, better)


def in_order(steps: Sequence[int], own: dict[int, Decimal], anchor: int, currency: str) -> dict[int, Decimal]:
    """Adjust unit prices so that they do not rise with quantity and totals do not fall.

    The price of `anchor` is kept. A smaller quantity is raised to the unit price of the next larger one, but
    not above its total; a larger one is lowered accordingly.

    Args:
        steps: quantities, increasing; `anchor` is one of them.
        own: calculated unit price by quantity.
        anchor: the quoted quantity.
        currency: gives the digits of a unit price.

    Returns:
        Unit price by quantity.
    """
    place = list(steps).index(anchor)
    units = {anchor: own[anchor]}
    for larger, sets in zip(reversed(steps[1 : place + 1]), reversed(steps[:place]), strict=True):
        # If its total exceeded that of the next larger quantity, nobody would order the smaller one.
        most = round_money_down(units[larger] * larger / sets, currency)
        units[sets] = min(max(own[sets], units[larger]), most)
    for smaller, sets in zip(steps[place:], steps[place + 1 :], strict=False):
        least = round_money_up(units[smaller] * smaller / sets, currency)
        units[sets] = max(min(own[sets], units[smaller]), least)
    return units


def better_quantity(steps: Sequence[int], units: dict[int, Decimal], sets: int) -> tuple[int, Decimal] | None:
    """The largest quantity whose total is at most 2 % higher, with the difference; None without one."""
    total = units[sets] * sets
    for larger in reversed(steps):
        if larger > sets and units[larger] * larger <= total * HARDLY_MORE:
            return larger, units[larger] * larger - total
    return None
