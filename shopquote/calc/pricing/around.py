"""What a job takes around the bench: drawing, buying, checking, going out to fit it, work that others do.

Each is a standard at a usual value or 0, and what is 0 is named as not charged: what is not known is never
counted as nothing without a word. What a job says of its site goes before the shop's usual minutes.
Begin at `around_minutes` and `not_charged`.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from shopquote.calc.job import JobSpec, OutsideSpec
from shopquote.calc.money import round_money, round_rate
from shopquote.calc.pricing.inwards import SIXTH
from shopquote.calc.pricing.material_costs import exactly
from shopquote.calc.pricing.priced_quote import CostLine
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import WorkItem
from shopquote.calc.units import KM_PER_MILE

# Operation, what is done once in a job, and its standard.
_ONCE = (
    ("office", "measure and draw", "office.drawing"),
    ("office", "buy, order and bill", "office.buying"),
    ("checking", "check against the drawing", "checking.job"),
    ("site", "travel to the site and back", "site.travel"),
    ("site", "fit on site", "site.fitting"),
    ("delivery", "deliver", "delivery.job"),
)
# What a job says of its site stands in place of the usual minutes of these.
_TRAVEL, _FITTING = "site.travel", "site.fitting"
CARRIAGE = "outside.carriage"
ZINC_PICKED_UP = "outside.zinc"
VEHICLE = "site.vehicle"
HIRED = "gear hired for the site, tolls, lodging"


def driven_km(job: JobSpec) -> Decimal:
    """Kilometres that one vehicle drives for a job's site, there and back on every journey."""
    if job.site is None:
        return Decimal(0)
    one_way = job.site.distance * (KM_PER_MILE if job.units == "in" else 1)
    return one_way * 2 * job.site.journeys


def around_minutes(job: JobSpec) -> Iterator[WorkItem]:
    """The work around the bench, once in a job; a standard of 0 adds nothing."""
    said = _said_of_site(job)
    for operation, what, standard in _ONCE:
        if standard in said:
            what, standard, units = said[standard]
            yield WorkItem(operation, what, standard, "set-up", per_job=float(units))
        else:
            yield WorkItem(operation, what, standard, "set-up", per_job=1)


def _said_of_site(job: JobSpec) -> dict[str, tuple[str, str, Decimal]]:
    """By the usual standard: what is done, the standard of an hour or kilometre, how many of all who go."""
    if job.site is None:
        return {}
    people = job.site.people
    drive = ("travel to the site and back", "site.drive", driven_km(job) * people)
    fit = ("fit on site", "site.fitting-hour", job.site.hours * people)
    # Without a distance the usual journey stands; hours of 0 say that nothing is fitted.
    return {_FITTING: fit} | ({_TRAVEL: drive} if job.site.distance else {})


def site_lines(job: JobSpec, book: StandardsBook, currency: str) -> list[CostLine]:
    """The vehicle by the kilometre, and what the job says is paid besides."""
    if job.site is None:
        return []
    one, fare, other = Decimal(1), book.value(VEHICLE), job.site.cost
    driven = driven_km(job).quantize(SIXTH)
    # The shop's own vehicle uses up fuel and tyres; what is hired comes with a bill.
    vehicle = round_money(driven * fare, currency)
    lines = [
        CostLine("consumables", "vehicle to the site", driven, "km", fare, vehicle, VEHICLE),
        CostLine("outside", HIRED, one, "lot", other, round_money(other, currency)),
    ]
    return [line for line in lines if line.amount]


def not_charged(job: JobSpec, book: StandardsBook) -> list[str]:
    """One sentence that names all work around the bench which this estimate leaves out; empty when none.

    Minutes that the job gives by hand for an operation, and what it says of its site, speak for it.
    """
    by_hand = {labour.operation for labour in job.labour}
    said = {*_said_of_site(job), *(("delivery.job",) if job.site is not None else ())}
    left = [
        f"{what} ({standard})"
        for operation, what, standard in _ONCE
        if operation not in by_hand and standard not in said and not book.value(standard)
    ]
    if any(work.carriage is None for work in job.outside) and not book.value(CARRIAGE):
        left.append(f"carriage to and from work outside ({CARRIAGE})")
    return [f"Not charged, for its standard is 0: {', '.join(left)}."] if left else []


def outside_lines(
    outside: Sequence[OutsideSpec],
    mass_kg: float,
    area_m2: float,
    book: StandardsBook,
    currency: str,
    sets: int,
    assemblies: int = 1,
) -> list[CostLine]:
    """Subcontract work, with its least charge, and what it costs to take the work there and back.

    Args:
        outside: what is done, by kg, m2, each or lot; zinc is weighed after dipping, with what was picked up.
        mass_kg: black mass of one set.
        area_m2: surface of one set.
        book: the shop's standards.
        currency: of every amount.
        sets: complete sets made.
        assemblies: how many like ones are in a set; "each" is one of them.
    """
    lines = []
    for work in outside:
        picked_up = float(book.value(ZINC_PICKED_UP)) / 100 if work.is_zinc else 0.0
        quantity = {
            "kg": exactly(mass_kg * sets * (1 + picked_up)),
            "m2": exactly(area_m2 * sets),
            "each": Decimal(sets * assemblies),
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
    return [*lines, *_carriage(outside, book, currency)]


def _carriage(outside: Sequence[OutsideSpec], book: StandardsBook, currency: str) -> Iterator[CostLine]:
    """Each piece of work's own carriage; the usual one once for all that name none."""
    fares = [(work.carriage, f"carriage: {work.name}", "") for work in outside if work.carriage is not None]
    if len(fares) < len(outside):
        fares.append((book.value(CARRIAGE), "carriage to and from work outside", CARRIAGE))
    for fare, text, standard in fares:
        if fare:
            yield CostLine("outside", text, Decimal(1), "lot", fare, round_money(fare, currency), standard)
