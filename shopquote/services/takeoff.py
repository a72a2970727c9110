"""Materials of one job or of several bought together: which bars, which cuts.

Begin at `take_off_job`. Everything here reads an open session and writes nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.grades import Grade, mass_of_bar
from shopquote.calc.bar.sections import Section
from shopquote.calc.buying.prices import bar_price
from shopquote.calc.takeoff.answers import Material, RackBar, StockBar
from shopquote.calc.takeoff.plan import Progress
from shopquote.calc.takeoff.share import Share, share_cost
from shopquote.calc.takeoff.takeoff import Item, take_off
from shopquote.calc.units import Unit
from shopquote.errors import InputError
from shopquote.records.materials import StockItem, StockPrice
from shopquote.services.on_file import bending_shop, saw_settings, the_shop

SECONDS = 2.0


@dataclass(frozen=True, slots=True)
class Takeoff:
    """Materials of the jobs planned together. `shares` is what each job bears; one job bears all."""

    jobs: tuple[str, ...]
    unit: Unit
    currency: str
    materials: tuple[Material, ...]
    shares: tuple[Share, ...] = ()


def take_off_job(
    session: Session,
    job_numbers: Sequence[str],
    *,
    on: date,
    seconds: float = SECONDS,
    progress: Progress | None = None,
) -> Takeoff:
    """Plan the bars of one job, or of several as one purchase with the saving shared.

    Raises:
        NotFoundError: no job has this number.
        CannotMakeError: a section is not on file, or a piece is longer than any bar.
    """
    numbers = tuple(dict.fromkeys(job_numbers))
    if not numbers:
        raise InputError("No job is named.", hint="See: shopquote job list")
    by_job = {number: items_of_job(session, number) for number in numbers}
    unit = unit_of_job(session, numbers[0])
    saw = saw_settings(session)

    def plan(items: Sequence[Item], time: float, jobs: Sequence[str]) -> tuple[Material, ...]:
        return take_off(
            items,
            lambda section, grade: stock_bars(session, section, grade, on),
            lambda section, grade: rack_bars(session, section, grade, jobs),
            saw,
            unit,
            time,
            progress,
        )

    together = plan([item for items in by_job.values() for item in items], seconds, numbers)
    shares: tuple[Share, ...] = ()
    if len(numbers) > 1:
        alone = {number: plan(items, seconds / len(numbers), [number]) for number, items in by_job.items()}
        shares = share_cost({number: _cost(made) for number, made in alone.items()}, _cost(together))
    return Takeoff(numbers, unit, the_shop(session).currency, together, shares)


def _cost(materials: Sequence[Material]) -> Decimal:
    return sum((material.plan.cost for material in materials if material.plan.priced), start=Decimal(0))


def items_of_job(session: Session, job_number: str, shop: BendingShop | None = None) -> list[Item]:
    """Parts of a job as the takeoff takes them: (answer, part as asked for, pieces, job number).

    `shop` saves reading the benders and grades again for each of many jobs.
    """
    from shopquote.calc.bar.part import analyse_part
    from shopquote.services.jobs import load_job

    spec = load_job(session, job_number).spec
    shop = shop or bending_shop(session)
    return [
        (analyse_part(part, spec.units, shop), part, spec.quantity(part), job_number) for part in spec.parts
    ]


def unit_of_job(session: Session, job_number: str) -> Unit:
    """The unit that a job is written in."""
    from shopquote.services.jobs import load_job

    return load_job(session, job_number).spec.units


def stock_bars(session: Session, section: Section, grade: Grade, on: date) -> list[StockBar]:
    """Lengths that can be bought, with the price of a bar in the shop's currency on a day.

    The price is the newest one not after `on`, at the smallest quantity.
    Empty where no supplier has this section in this grade.
    """
    query = (
        select(StockItem)
        .where(StockItem.section_key == section.key, StockItem.grade == grade.name)
        .options(joinedload(StockItem.supplier), selectinload(StockItem.prices))
        .order_by(StockItem.length, StockItem.id)
    )
    return [
        StockBar(item.length, price_of_bar(item, section, grade, on), item.limit, item.supplier.name)
        for item in session.scalars(query)
    ]


def price_of_bar(item: StockItem, section: Section, grade: Grade, on: date) -> Decimal | None:
    """Price of one bar in the shop's currency, or None where none is on file yet."""
    price = newest_price(item.prices, on)
    if price is None:
        return None
    mass = mass_of_bar(section, grade, item.length)
    return bar_price(price.price, price.basis, item.length, mass) * item.supplier.exchange_rate  # type: ignore[arg-type]  # the column takes no other basis


def newest_price(prices: Sequence[StockPrice], on: date) -> StockPrice | None:
    """The newest price that counts on a day, at the smallest quantity."""
    valid = [price for price in prices if price.valid_from <= on]
    if not valid:
        return None
    return min(valid, key=lambda price: (-price.valid_from.toordinal(), price.break_kg))


def rack_bars(session: Session, section: Section, grade: Grade, jobs: Sequence[str]) -> list[RackBar]:
    """Bars on the rack that are free or promised to these jobs."""
    from shopquote.services.needs import bars_for_job
    from shopquote.services.rack import free_rack

    free = list(free_rack(session, section.key, grade.name))
    for number in jobs:
        for bar in bars_for_job(session, number):
            if (bar.section_key, bar.grade, bar.state) == (
                section.key,
                grade.name,
                "on the rack",
            ) and bar.code:
                free.append(RackBar(bar.code, bar.length, bar.heat, own=True))
    return list({bar.piece: bar for bar in free}.values())
