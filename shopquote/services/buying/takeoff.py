"""Takeoff of one job, or of several bought together: materials, bars and cuts.

Begin at `take_off_job`. Everything here reads an open session and writes nothing.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy.orm import Session

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import Material
from shopquote.calc.takeoff.plan import Progress
from shopquote.calc.takeoff.takeoff import Item, Share, bands_of, share_cost
from shopquote.calc.takeoff.whole_sheets import Band
from shopquote.calc.units import Length, Unit
from shopquote.errors import InputError
from shopquote.services.buying.available_bars import groups_of, held_bars, sheets_of
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.purchase import PurchasePlan, plan_purchase
from shopquote.services.buying.purchase_lines import guess_of, guess_words
from shopquote.services.buying.purchase_materials import materials_of
from shopquote.services.buying.purchase_ways import Units, market_for
from shopquote.services.buying.wanted import Wanted, wanted_of
from shopquote.services.jobs.jobs import find_job, load_job, newest_revision
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings, shop_unit, the_shop, with_bars_of

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class Besides:
    """Bars of one length that the jobs have already and that the plan leaves out; `where` says where they
    are.
    """

    bar: str
    grade: str
    length: Length
    where: str
    count: int


@dataclass(frozen=True, slots=True)
class Takeoff:
    """Materials of the jobs planned together; `shares` is what each job bears, empty for a single job.

    `jobs` has each job's unit, in which its pieces are shown; `unit` is that of the bars. `besides` are bars
    on order and pieces sawn by the supplier: the plan covers all that the jobs take, as if these did not
    exist. `bands`: how strips of sheet lie on a wider one. `purchase`: who would sell the bars, with
    deliveries.
    """

    jobs: Mapping[str, Unit]
    unit: Unit
    currency: str
    materials: tuple[Material, ...]
    shares: tuple[Share, ...] = ()
    besides: tuple[Besides, ...] = ()
    purchase: PurchasePlan | None = None
    bands: tuple[Band, ...] = ()


def take_off_job(
    session: Session,
    job_numbers: Sequence[str],
    *,
    on: date,
    seconds: float | None = None,
    progress: Progress | None = None,
    prove: bool = False,
) -> Takeoff:
    """Plan the bars of one job, or of several as one purchase with its cost shared, just as `order` buys.

    Args:
        session: an open session.
        job_numbers: the jobs.
        on: day of the price lists.
        seconds: end the search after so many seconds; None: it ends by work counted.
        progress: called with cost and bound of the current cut plan.
        prove: include proofs of the bounds.

    Raises:
        NotFoundError: no job has this number.
        InputError: no job is named.
        CannotMakeError: a section is not on file, or a piece is longer than any bar.
    """
    numbers = tuple(dict.fromkeys(find_job(session, number).number for number in job_numbers))
    if not numbers:
        raise InputError("No job is named.", hint="See: shopquote job list")
    shop = bending_shop(session)
    items = [item for number in numbers for item in items_of_job(session, number, shop)]
    saw, books = saw_settings(session), BooksOnFile(session)
    held = held_bars(session, numbers)
    wanted = wanted_of(books, items, held, numbers, saw)
    groups = tuple((number,) for number in numbers) if len(numbers) > 1 else ()
    units = units_of_jobs(session, numbers)
    told = Units.of(units.values(), shop_unit(session))
    plan = plan_purchase(
        books, wanted, saw, on=on, units=told, groups=groups, seconds=seconds,
        progress=progress, guess=True, prove=prove, bounds=True,
    )  # fmt: skip
    currency = the_shop(session).currency
    alone = {group[0]: plan.apart[group[0]] for group in groups}
    shares = share_cost(alone, plan.cost, currency) if groups else ()
    materials = materials_of(plan, wanted, saw)
    bands = bands_of(items, sheets_of(session, items, held))
    return Takeoff(units, told.planning, currency, materials, shares, _besides(held), plan, bands)


def unlisted_sizes(session: Session, job_numbers: Sequence[str], on: date) -> tuple[str, ...]:
    """A note for each size of these jobs that no supplier lists: what a quote would base its price on."""
    shop = bending_shop(session)
    items = [item for number in job_numbers for item in items_of_job(session, number, shop)]
    books, words = BooksOnFile(session), list[str]()
    unit = planning_units(session, job_numbers).planning
    for section, grade, pieces in groups_of(session, items):
        wanted = Wanted(section, grade, pieces)
        market = market_for(books, wanted, on, None, guess=True)
        name = wanted.name_in(unit)
        if guessed := guess_of(wanted, market, unit):
            words += guess_words(dict([guessed]))
        elif not market.listed:
            words.append(
                f"{name} is on nobody's list, nor is any size of {grade.name}: it cannot be quoted yet."
            )
    return tuple(words)


def items_of_job(session: Session, job_number: str, shop: BendingShop | None = None) -> list[Item]:
    """Parts of a job as the takeoff takes them: (answer, part as typed, number of pieces, job number).

    `shop`: benders and grades read before, for callers with many jobs; None reads them.
    """
    from shopquote.calc.bar.part import analyse_part

    spec = load_job(session, job_number).spec
    shop = with_bars_of(session, shop or bending_shop(session), job_number)
    return [
        (
            analyse_part(part, spec.units, shop, galvanised=spec.is_galvanised),
            part,
            spec.quantity(part),
            job_number,
        )
        for part in spec.parts
    ]


def units_of_jobs(session: Session, job_numbers: Sequence[str]) -> dict[str, Unit]:
    """The unit that each job is written in, by its number."""
    jobs = [find_job(session, number) for number in job_numbers]
    return {job.number: newest_revision(session, job).unit for job in jobs}


def planning_units(session: Session, job_numbers: Sequence[str]) -> Units:
    """Units in which bars of these jobs are planned and ordered."""
    return Units.of(units_of_jobs(session, job_numbers).values(), shop_unit(session))


def _besides(held: Sequence["JobBar"]) -> tuple[Besides, ...]:
    """Bars of the jobs that no plan can cut: those on order, and pieces sawn by the supplier."""
    counts: dict[tuple[str, str, Length, str], int] = {}
    for bar in held:
        if bar.state == "on order":
            where = f"on order, {bar.order_number}"
        elif bar.state == "on the rack" and bar.cut:
            where = "on the rack, sawn by the supplier"
        else:
            continue
        key = (bar.section_text or bar.section_key, bar.grade, bar.length, where)
        counts[key] = counts.get(key, 0) + bar.count
    return tuple(Besides(*key, count) for key, count in sorted(counts.items()))
