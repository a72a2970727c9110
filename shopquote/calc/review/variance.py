"""Variances of a finished job: actual against estimated cost, split into parts that add up exactly.

Amounts are Decimal in the shop's currency, minutes are Decimal, rates are per hour. Begin at
`labour_variance` and `material_variance`; `add_up` sums lines.

A split goes from the estimate to the actual by changing one factor at a time: first the number of units made,
then the time or the amount used, then the rate or the price paid. The cost after each change is rounded to
the currency, and a part is the difference of two of them, so the parts of a line add up to its difference to
the last cent. The order (quantity, efficiency, rate) is the usual one of standard costing: the flexed budget.
Source: flexible-budget variance analysis, Horngren, Datar and Rajan, Cost Accounting, chapters 7 and 8 (their
outlines are public); the split itself is an identity.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money

MINUTES_PER_HOUR = Decimal(60)
ZERO = Decimal(0)
ALLOWANCE = "allowance"  # name of the line for what a quote allows in a category beyond its items
CONTINGENCY = "contingency"
PARTS = ("quantity", "time", "rate", "price")

_PLAIN = {"quantity": "quantity", "time": "time", "rate": "hourly rate", "price": "price paid"}


@dataclass(frozen=True, slots=True)
class Variance:
    """One line of a review: estimated and actual cost, and the parts of their difference.

    A positive part means more cost than estimated. `actual - estimated` equals the sum of `quantity`, `time`,
    `rate` and `price` exactly. `rework` is included in `time`, not added to it. `as_quoted`: nothing was
    logged, so the estimate stands for the actual cost.
    """

    category: str
    name: str
    estimated: Decimal
    actual: Decimal
    quantity: Decimal = ZERO
    time: Decimal = ZERO
    rate: Decimal = ZERO
    price: Decimal = ZERO
    minutes_estimated: Decimal = ZERO
    minutes_actual: Decimal = ZERO
    rework: Decimal = ZERO
    as_quoted: bool = False

    @property
    def is_allowed(self) -> bool:
        """Whether it is an allowance or the contingency, to which nothing can be logged."""
        return self.name == ALLOWANCE or self.category == CONTINGENCY

    @property
    def difference(self) -> Decimal:
        """Actual less estimated cost; positive is worse than estimated."""
        return self.actual - self.estimated

    @property
    def difference_minutes(self) -> Decimal:
        """Actual less estimated minutes."""
        return self.minutes_actual - self.minutes_estimated

    @property
    def parts(self) -> dict[str, Decimal]:
        """The four parts by name, in the order of the split."""
        return {"quantity": self.quantity, "time": self.time, "rate": self.rate, "price": self.price}


def labour_cost(minutes: Decimal, rate: Decimal, currency: str) -> Decimal:
    """The cost of minutes at a rate per hour, rounded to the currency.

    >>> labour_cost(Decimal(50), Decimal(48), "EUR")
    Decimal('40.00')
    """
    return round_money(minutes * rate / MINUTES_PER_HOUR, currency)


def labour_variance(
    name: str,
    *,
    estimated: Decimal,
    minutes_estimated: Decimal,
    actual: Decimal,
    minutes_actual: Decimal,
    rate_estimated: Decimal | None = None,
    minutes_rework: Decimal = ZERO,
    made_over_planned: Decimal = Decimal(1),
    run_share: Decimal = Decimal(1),
    same_rate: bool = False,
    currency: str = "EUR",
) -> Variance:
    """Split one operation's labour into quantity, time and rate.

    Args:
        name: the operation.
        estimated: labour cost in the quote.
        minutes_estimated: minutes in the quote, for the planned sets.
        actual: labour cost logged, each entry at the rate of its day.
        minutes_actual: minutes logged, rework included.
        rate_estimated: money per hour in the quote; None takes it from the estimated cost.
        minutes_rework: of these, minutes logged as rework.
        made_over_planned: sets made over sets quoted; 1 when all were made.
        run_share: share, 0 to 1, of the estimated minutes that grows with the quantity (run time); the rest
            is set-up, which does not.
        same_rate: every entry was at the estimated rate, so that a difference from rounding single entries
            must not appear as a difference of rates.
        currency: of the amounts.

    An operation that was not estimated has no rate to compare with, so all of its cost is a time variance;
    one that was not logged is all time saved.
    """
    factor = 1 + (made_over_planned - 1) * run_share
    flexed = round_money(estimated * factor, currency)
    # No estimated rate to compare with: the whole cost is a time variance.
    if minutes_estimated == 0:
        flexed = estimated
        at_estimated_rate = actual
        rework = _share(actual, minutes_rework, minutes_actual, currency)
    else:
        rate = estimated * MINUTES_PER_HOUR / minutes_estimated if rate_estimated is None else rate_estimated
        at_estimated_rate = actual if same_rate else labour_cost(minutes_actual, rate, currency)
        rework = labour_cost(minutes_rework, rate, currency)
    return Variance(
        "labour",
        name,
        estimated,
        actual,
        quantity=flexed - estimated,
        time=at_estimated_rate - flexed,
        rate=actual - at_estimated_rate,
        minutes_estimated=minutes_estimated,
        minutes_actual=minutes_actual,
        rework=rework,
    )


def material_variance(
    category: str,
    name: str,
    *,
    estimated: Decimal,
    quantity_estimated: Decimal,
    actual: Decimal,
    quantity_actual: Decimal,
    currency: str = "EUR",
) -> Variance:
    """Split material or bought items into a quantity and a price variance.

    Both quantities are in the same unit (metres of bar, pieces, kilograms). Without an estimate the whole
    cost is a quantity variance, since none was planned to be used.
    """
    # No estimated price to compare with: the whole cost is a quantity variance.
    if quantity_estimated == 0:
        at_estimated_price = actual
    else:
        at_estimated_price = round_money(estimated * quantity_actual / quantity_estimated, currency)
    return Variance(
        category,
        name,
        estimated,
        actual,
        quantity=at_estimated_price - estimated,
        price=actual - at_estimated_price,
    )


def lump_variance(
    category: str,
    name: str,
    *,
    estimated: Decimal,
    actual: Decimal,
    made_over_planned: Decimal = Decimal(1),
    currency: str = "EUR",
) -> Variance:
    """The variance of a cost without a measured quantity (a bill, an allowance): by sets made, then by price.

    Without an estimate the whole cost is a quantity variance, as with materials.
    """
    flexed = round_money(estimated * made_over_planned, currency) if estimated else actual
    return Variance(category, name, estimated, actual, quantity=flexed - estimated, price=actual - flexed)


def follow_labour(
    category: str,
    name: str,
    *,
    estimated: Decimal,
    minutes_estimated: Decimal,
    minutes_actual: Decimal,
    currency: str = "EUR",
) -> Variance:
    """The variance of a cost charged by hours worked, such as overhead: the actual follows the minutes."""
    actual = estimated
    if minutes_estimated > 0:
        actual = round_money(estimated * minutes_actual / minutes_estimated, currency)
    return Variance(category, name, estimated, actual, time=actual - estimated)


def add_up(lines: Iterable[Variance], category: str = "", name: str = "total") -> Variance:
    """The sum of lines, part by part; its parts add up because those of every line do."""
    rows = list(lines)

    def total(field: str) -> Decimal:
        return sum((getattr(row, field) for row in rows), ZERO)

    return Variance(
        category,
        name,
        total("estimated"),
        total("actual"),
        quantity=total("quantity"),
        time=total("time"),
        rate=total("rate"),
        price=total("price"),
        minutes_estimated=total("minutes_estimated"),
        minutes_actual=total("minutes_actual"),
        rework=total("rework"),
    )


@dataclass(frozen=True, slots=True)
class Earned:
    """What one job earned, in money and per hour of the shop's time.

    `contribution` is the price less everything bought for this job alone (material, consumables, bought
    items, subcontract work): what the shop's hours earned.
    """

    price: Decimal
    cost: Decimal
    contribution: Decimal
    minutes: Decimal

    @property
    def margin(self) -> Decimal:
        """Price less cost."""
        return self.price - self.cost

    @property
    def margin_pct(self) -> Decimal | None:
        """Margin in per cent of the price, rounded to 0.1; None without a price."""
        return per_cent(self.margin, self.price)

    @property
    def margin_per_hour(self) -> Decimal | None:
        """Margin per hour worked on the job; None without hours."""
        return per_hour(self.margin, self.minutes)

    @property
    def contribution_per_hour(self) -> Decimal | None:
        """Contribution per hour worked on the job; None without hours."""
        return per_hour(self.contribution, self.minutes)


def per_cent(part: Decimal, whole: Decimal) -> Decimal | None:
    """`part` in per cent of `whole`, rounded half up to 0.1; None when the whole is not above zero.

    >>> per_cent(Decimal(1), Decimal(3))
    Decimal('33.3')
    """
    return None if whole <= 0 else round_to(part / whole * 100, "0.1")


def per_hour(amount: Decimal, minutes: Decimal) -> Decimal | None:
    """An amount per hour, rounded to 0.01; None without minutes."""
    return None if minutes <= 0 else round_to(amount * MINUTES_PER_HOUR / minutes, "0.01")


def round_to(value: Decimal, step: str) -> Decimal:
    """A value rounded half up to a step such as "0.1".

    >>> round_to(Decimal("0.25"), "0.1")
    Decimal('0.3')
    """
    return value.quantize(Decimal(step), ROUND_HALF_UP)


def explain(
    lines: Iterable[Variance],
    price: Decimal,
    *,
    quoted: Decimal | None = None,
    currency: str = "EUR",
    large_pct: Decimal = Decimal(2),
) -> tuple[str, ...]:
    """One plain sentence for each large part of a variance, the largest first.

    A part is large from `large_pct` per cent of the `quoted` price on (of `price` where none is given, of the
    estimated cost where there is no price). An invoiced price other than the quoted one is a part too.
    """
    rows = list(lines)
    asked = price if quoted is None else quoted
    base = asked if asked > 0 else sum((row.estimated for row in rows), ZERO)
    least = base * large_pct / 100
    found = [
        (abs(amount), _sentence(row, part, amount, currency))
        for row in rows
        for part, amount in row.parts.items()
        if amount != 0 and abs(amount) >= least
    ]
    if quoted is not None and price != quoted and abs(price - quoted) >= least:
        found.append((abs(price - quoted), _price_sentence(price, quoted, currency)))
    # By amount, then by text, so that equal amounts always come in the same order.
    return tuple(text for _, text in sorted(found, key=lambda item: (-item[0], item[1])))


def _price_sentence(price: Decimal, quoted: Decimal, currency: str) -> str:
    word = "more" if price > quoted else "less"
    more, billed, offered = (
        f"{round_money(amount, currency)} {currency}" for amount in (abs(price - quoted), price, quoted)
    )
    return f"What was agreed, less credits, came to {more} {word} than quoted: {billed} against {offered}."


def _sentence(row: Variance, part: str, amount: Decimal, currency: str) -> str:
    word = "more" if amount > 0 else "less"
    if row.is_allowed:
        return _allowance_sentence(row, amount, currency)
    # "Sawing", not "Sawing (labour)": the operation says already what kind of cost it is.
    plain = row.category == "labour" or row.category in row.name
    what = row.name if plain else f"{row.name} ({row.category})"
    money = f"{round_money(abs(amount), currency)} {currency}"
    head = f"{what[:1].upper()}{what[1:]} cost {money} {word} than quoted"
    if part == "time":
        return f"{head}{_why_time(row, currency)}."
    if part == "rate":
        return f"{head} through the {_PLAIN[part]}: the hour cost {word} than the quote assumed."
    if part == "price":
        return f"{head}: the {_PLAIN[part]} was {'higher' if amount > 0 else 'lower'} than the quote assumed."
    if row.estimated == 0:
        return f"{head}: the quote had not counted it."
    if row.actual == 0:
        return f"{head}: none of it was logged."
    if row.category == "labour":
        return f"{head}: {word} was made than the quote assumed."
    return f"{head}: {word} of it was used than the quote assumed."


def _allowance_sentence(row: Variance, amount: Decimal, currency: str) -> str:
    money = f"{round_money(abs(amount), currency)} {currency}"
    if amount > 0:
        short = f"{money} of {row.category} less than its lines come to"
        return f"The quote counted {short}, which was not saved."
    what = "contingency" if row.category == CONTINGENCY else f"{row.category} beyond its lines"
    return (
        f"The quote allowed {money} of {what}: it counts as not spent, for nothing can be logged to it and "
        "what went wrong stands in the lines that are logged."
    )


def _why_time(row: Variance, currency: str) -> str:
    if row.category != "labour":
        return ", because it follows the hours worked"
    if row.minutes_actual == 0:
        return ": no minutes were logged on it"
    if row.minutes_estimated == 0:
        return f": {_minutes(row.minutes_actual)} that the quote had not counted"
    text = f": {_minutes(row.minutes_actual)} against {_minutes(row.minutes_estimated)} in the quote"
    if row.minutes_actual > row.minutes_estimated and row.rework > 0:
        text += f", of which rework {round_money(row.rework, currency)} {currency}"
    return text


def _minutes(minutes: Decimal) -> str:
    return f"{round_to(minutes, '1')} min"


def _share(amount: Decimal, part: Decimal, whole: Decimal, currency: str) -> Decimal:
    return ZERO if whole == 0 else round_money(amount * part / whole, currency)
