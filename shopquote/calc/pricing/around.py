"""What a job takes around the bench: drawing, buying, checking, going out to fit it, work that others do.

Each is a standard at a usual value or 0, and what is 0 is named as not charged: what is not known is never
counted as nothing without a word. Begin at `around_minutes` and `not_charged`.
"""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from shopquote.calc.job import JobSpec, OutsideSpec
from shopquote.calc.money import round_money, round_rate
from shopquote.calc.pricing.answers import CostLine
from shopquote.calc.pricing.material_costs import exactly
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import WorkItem

# Operation, what is done once in a job, and its standard.
_ONCE = (
    ("office", "measure and draw", "office.drawing"),
    ("office", "buy, order and bill", "office.buying"),
    ("checking", "check against the drawing", "checking.job"),
    ("site", "travel to the site and back", "site.travel"),
    ("site", "fit on site", "site.fitting"),
    ("delivery", "deliver", "delivery.job"),
)
CARRIAGE = "outside.carriage"
ZINC_PICKED_UP = "outside.zinc"


def around_minutes() -> Iterator[WorkItem]:
    """The work around the bench, once in a job; a standard of 0 adds nothing."""
    for operation, what, standard in _ONCE:
        yield WorkItem(operation, what, standard, "set-up", per_job=1)


def not_charged(job: JobSpec, book: StandardsBook) -> list[str]:
    """One sentence that names all work around the bench which this estimate leaves out; empty when none.

    Minutes that the job gives by hand for an operation speak for it.
    """
    by_hand = {labour.operation for labour in job.labour}
    left = [
        f"{what} ({standard})"
        for operation, what, standard in _ONCE
        if operation not in by_hand and not book.value(standard)
    ]
    if job.outside and not book.value(CARRIAGE):
        left.append(f"carriage to and from work outside ({CARRIAGE})")
    return [f"Not charged, for its standard is 0: {', '.join(left)}."] if left else []


def outside_lines(
    outside: Iterable[OutsideSpec],
    mass_kg: float,
    area_m2: float,
    book: StandardsBook,
    currency: str,
    sets: int,
) -> list[CostLine]:
    """Work done by others, with its least charge, and what it costs to take the work there and back.

    Args:
        outside: what is done, by kg, m2, set or lot; zinc is weighed after dipping, with what was picked up.
        mass_kg: black mass of one set.
        area_m2: surface of one set.
        book: the shop's standards.
        currency: of every amount.
        sets: complete sets made.
    """
    lines = []
    for work in outside:
        picked_up = float(book.value(ZINC_PICKED_UP)) / 100 if work.is_zinc else 0.0
        quantity = {
            "kg": exactly(mass_kg * sets * (1 + picked_up)),
            "m2": exactly(area_m2 * sets),
            "each": Decimal(sets),
            "lot": Decimal(1),
        }[work.basis]
        price = round_rate(work.rate * book.value("price.outside"))
        least = round_money(work.minimum, currency)
        # The minimum is the bill's own: whoever does the work asks it of the whole lot.
        amount = max(least, round_money(quantity * price, currency))
        lines.append(
            CostLine(
                "outside", work.name, quantity, work.basis, price, amount, "price.outside", minimum=least
            )
        )
    if lines and (fare := book.value(CARRIAGE)):
        one, amount = Decimal(1), round_money(fare, currency)
        lines.append(
            CostLine("outside", "carriage to and from work outside", one, "lot", fare, amount, CARRIAGE)
        )
    return lines
