"""The rate at which an hour of work must be charged, with its derivation in words.

Money is Decimal in the shop's currency; rates leave with 4 decimals.
Begin at `burdened_rate`.
"""

from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.errors import InputError


@dataclass(frozen=True, slots=True)
class RateWorking:
    """A rate per productive hour, its two parts, and the steps of its derivation in words."""

    rate: Decimal
    wage_part: Decimal
    overhead_part: Decimal
    steps: tuple[str, ...]


def burdened_rate(
    wage: Decimal,
    burden_pct: Decimal,
    paid_hours: Decimal,
    productive_pct: Decimal,
    *,
    overhead_per_year: Decimal = Decimal(0),
    people: int = 1,
) -> RateWorking:
    """Rate per productive hour from wage, burden, hours and overhead.

    Args:
        wage: per paid hour.
        burden_pct: employer's taxes, insurance, holidays: per cent of the wage.
        paid_hours: of one person in a year.
        productive_pct: share of the paid hours that go into jobs.
        overhead_per_year: rent, power, insurance, machines, office.
        people: who work on jobs and so carry the overhead.

    Raises:
        InputError: a value is negative, or no hour is productive.

    Source: definition; the worked value is 25 x 2080 x 1.3 / (2080 x 0.75) = 43.33.

    >>> burdened_rate(Decimal(25), Decimal(30), Decimal(2080), Decimal(75)).rate
    Decimal('43.3333')
    """
    for name, value in (("Wage", wage), ("Burden", burden_pct), ("Overhead", overhead_per_year)):
        if value < 0:
            raise InputError(f"{name} is {value}; it must be at least 0.")
    if paid_hours <= 0 or not 0 < productive_pct <= 100 or people < 1:
        raise InputError(
            f"{paid_hours} paid hours of {people} people, {productive_pct} % productive: "
            "hours and people must be above 0 and the share above 0 and at most 100 %."
        )
    productive = paid_hours * productive_pct / 100
    paid = wage * (1 + burden_pct / 100) * paid_hours
    wage_part = round_rate(paid / productive)
    overhead_part = round_rate(overhead_per_year / (people * productive))
    steps = (
        f"wage {wage} and burden {burden_pct} % cost {paid:.2f} a year for {paid_hours} paid hours",
        f"{productive_pct} % of them are productive: {productive:.1f} hours",
        f"{paid:.2f} / {productive:.1f} = {wage_part} an hour for wages",
        f"overhead {overhead_per_year} / ({people} x {productive:.1f}) = {overhead_part} an hour",
        f"together {wage_part + overhead_part} an hour",
    )
    return RateWorking(wage_part + overhead_part, wage_part, overhead_part, steps)
