"""Indirect work of a job: drawing, buying, checking, fitting on site, and subcontract work.

Each is a standard with a usual value or 0. What stands at 0 is reported as not charged, so that nothing is
left out silently. What a job says of its site replaces the shop's usual minutes for it. Begin at
`around_minutes` and `not_charged`.
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

# Work done once in a job: operation, what is done, standard.
_ONCE = (
    ("office", "measure and draw", "office.drawing"),
    ("office", "buy, order and bill", "office.buying"),
    ("checking", "check against the drawing", "checking.job"),
    ("site", "travel to the site and back", "site.travel"),
    ("site", "fit on site", "site.fitting"),
    ("delivery", "deliver", "delivery.job"),
)
# Standards of usual site minutes, which what a job says of its site replaces.
_TRAVEL, _FITTING = "site.travel", "site.fitting"
CARRIAGE = "outside.carriage"
ZINC_PICKED_UP = "outside.zinc"
VEHICLE = "site.vehicle"
HIRED = "gear hired for the site, tolls, lodging"


def driven_km(job: JobSpec) -> Decimal:
    """Kilometres that one vehicle drives to a job's site and back on all journeys; 0 without a site."""
    if job.site is None:
        return Decimal(0)
    one_way = job.site.distance * (KM_PER_MILE if job.units == "in" else 1)
    return one_way * 2 * job.site.journeys


def around_minutes(job: JobSpec) -> Iterator[WorkItem]:
    """The indirect work of a job, once for the job; a standard of 0 adds nothing."""
    said = _said_of_site(job)
    for operation, what, standard in _ONCE:
        if standard in said:
            what, standard, units = said[standard]
            yield WorkItem(operation, what, standard, "set-up", per_job=float(units))
        else:
            yield WorkItem(operation, what, standard, "set-up", per_job=1)


def _said_of_site(job: JobSpec) -> dict[str, tuple[str, str, Decimal]]:
    """What the job says of its site, by the usual standard that it replaces.

    Each is: what is done, the standard per hour or kilometre, and how many of these for all who go.
    """
    if job.site is None:
        return {}
    people = job.site.people
    drive = ("travel to the site and back", "site.drive", driven_km(job) * people)
    fit = ("fit on site", "site.fitting-hour", job.site.hours * people)
    # A distance of 0 was not given, so the usual journey holds; hours of 0 mean that nothing is fitted.
    return {_FITTING: fit} | ({_TRAVEL: drive} if job.site.distance else {})


def site_lines(job: JobSpec, book: StandardsBook, currency: str) -> list[CostLine]:
    """Cost lines of the vehicle, by the kilometre, and of the other cost that the job states."""
    if job.site is None:
        return []
    one, fare, other = Decimal(1), book.value(VEHICLE), job.site.cost
    driven = driven_km(job).quantize(SIXTH)
    # The shop's own vehicle is a consumable (fuel, tyres); what is hired is billed, so it is bought.
    vehicle = round_money(driven * fare, currency)
    lines = [
        CostLine("consumables", "vehicle to the site", driven, "km", fare, vehicle, VEHICLE),
        CostLine("outside", HIRED, one, "lot", other, round_money(other, currency)),
    ]
    return [line for line in lines if line.amount]


def not_charged(job: JobSpec, book: StandardsBook) -> list[str]:
    """One sentence that names the indirect work which this estimate leaves out; an empty list when none.

    An operation with minutes by hand, and site work that the job describes, are not left out.
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
    """Cost lines of subcontract work with its minimum charge, and of carriage there and back.

    Args:
        outside: the work, charged by kg, m2, each or lot. Galvanisers weigh after dipping, zinc included.
        mass_kg: mass of one set before galvanising.
        area_m2: surface of one set.
        book: the shop's standards.
        currency: of every amount.
        sets: complete sets made.
        assemblies: identical assemblies in a set; "each" means one of them.
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
        # The minimum applies to the whole lot, not to each set.
        amount = max(least, round_money(quantity * price, currency))
        lines.append(
            CostLine(
                "outside", work.name, quantity, work.basis, price, amount, "price.outside", minimum=least
            )
        )
    return [*lines, *_carriage(outside, book, currency)]


def _carriage(outside: Sequence[OutsideSpec], book: StandardsBook, currency: str) -> Iterator[CostLine]:
    """Carriage as stated for each work; the usual carriage once for all works that state none."""
    fares = [(work.carriage, f"carriage: {work.name}", "") for work in outside if work.carriage is not None]
    if len(fares) < len(outside):
        fares.append((book.value(CARRIAGE), "carriage to and from work outside", CARRIAGE))
    for fare, text, standard in fares:
        if fare:
            yield CostLine("outside", text, Decimal(1), "lot", fare, round_money(fare, currency), standard)
