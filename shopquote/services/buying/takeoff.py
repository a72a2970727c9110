"""Materials of one job or of several bought together: which bars, which cuts.

Begin at `take_off_job`. Everything here reads an open session and writes nothing.
"""

from collections.abc import Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.answers import Material, RackBar, SawSettings
from shopquote.calc.takeoff.plan import Progress
from shopquote.calc.takeoff.takeoff import Group, Item, Share, bands_of, group_pieces, share_cost
from shopquote.calc.takeoff.whole_sheets import Band, Sold, sheets_for, stem_of
from shopquote.calc.units import Length, Unit
from shopquote.errors import InputError
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.buying.bought import materials_of
from shopquote.services.buying.offers import ON_SALE
from shopquote.services.buying.purchase import PurchasePlan, plan_purchase
from shopquote.services.buying.purchase_lines import guess_of, guess_words
from shopquote.services.buying.purchase_ways import Units, Wanted, market_for
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.on_file import bending_shop, saw_settings, section_of, shop_unit, the_shop

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class Besides:
    """Bars of one length that the jobs have already and that the plan leaves out; `where` is in words."""

    bar: str
    grade: str
    length: Length
    where: str
    count: int


@dataclass(frozen=True, slots=True)
class Takeoff:
    """Materials of the jobs planned together. `shares` is what each job bears; one job bears all.

    `besides` are bars on order for the jobs and pieces that the supplier sawed: the plan is of all that
    the jobs take, as if these were not there. `bands`: how pieces of sheet lie on a wider one.
    `purchase`: who would sell it, with deliveries.
    """

    jobs: tuple[str, ...]
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
    """Plan the bars of one job, or of several as one purchase with the saving shared; as `order` buys.

    `seconds`: the clock ends the search, where a person wants that. `prove`: with proofs of bounds too.

    Raises:
        NotFoundError: no job has this number.
        CannotMakeError: a section is not on file, or a piece is longer than any bar.
    """
    numbers = tuple(dict.fromkeys(job_numbers))
    if not numbers:
        raise InputError("No job is named.", hint="See: shopquote job list")
    items = [item for number in numbers for item in items_of_job(session, number)]
    saw = saw_settings(session)
    held = _held_bars(session, numbers)
    wanted = wanted_of(session, items, held, numbers, saw)
    groups = tuple((number,) for number in numbers) if len(numbers) > 1 else ()
    unit = unit_of_job(session, numbers[0])
    plan = plan_purchase(
        session, wanted, saw, on=on, units=Units(unit, shop_unit(session)), groups=groups, seconds=seconds,
        progress=progress, guess=True, prove=prove,
    )  # fmt: skip
    currency = the_shop(session).currency
    alone = {group[0]: plan.apart[group[0]] for group in groups}
    shares = share_cost(alone, plan.cost, currency) if groups else ()
    materials = materials_of(plan, wanted, saw)
    bands = bands_of(items, sheets_of(session, items, held))
    return Takeoff(numbers, unit, currency, materials, shares, _besides(held), plan, bands)


def wanted_of(
    session: Session, items: Sequence[Item], held: Sequence["JobBar"], jobs: Sequence[str], saw: SawSettings
) -> tuple[Wanted, ...]:
    """What the items need, with the rack bars that they may be cut from."""
    wanted = []
    for section, grade, pieces in groups_of(session, items, held):
        rack = rack_with(session, section, grade, held, jobs, saw)
        own, free = (tuple(bar for bar in rack if bar.own is mine) for mine in (True, False))
        wanted.append(Wanted(section, grade, pieces, own, free))
    return tuple(wanted)


def groups_of(session: Session, items: Sequence[Item], held: Sequence["JobBar"] = ()) -> tuple[Group, ...]:
    """The items' pieces by what is bought for them: sheet of a width that nobody sells comes off a wider one.

    `held`: bars that the jobs have already.
    """
    return group_pieces(items, sheets_of(session, items, held))


def sheets_of(
    session: Session, items: Sequence[Item], held: Sequence["JobBar"]
) -> dict[tuple[str, str], Sold]:
    """The wider sheet that pieces of a (section key, grade) come off, as suppliers list them."""
    wide = [item[0] for item in items if item[0].section.form.by_width]
    if not wide:
        return {}
    query = select(StockItem.section_key, StockItem.grade, StockItem.length).join(Supplier)
    query = query.where(
        StockItem.grade.in_({answer.grade.name for answer in wide}),
        StockItem.section_key.startswith("sheet ") | StockItem.section_key.startswith("mesh "),
        *ON_SALE,
    )
    rows = [(key, grade, length) for key, grade, length in session.execute(query)]
    owned = [(bar.section_key, bar.grade, bar.length) for bar in held if not bar.cut]
    sold: dict[tuple[str, str], list[Sold]] = {}
    for key, grade, length in sorted({*rows, *owned}):
        section = section_of(key)
        if section.form.by_width:
            sold.setdefault((stem_of(section), grade), []).append((section, length))
    return sheets_for(items, sold, frozenset((key, grade) for key, grade, _ in owned))


def unlisted_sizes(session: Session, job_numbers: Sequence[str], on: date) -> tuple[str, ...]:
    """Words for every size of these jobs that nobody lists: what a quote would guess its price by."""
    items = [item for number in job_numbers for item in items_of_job(session, number)]
    words: list[str] = []
    unit = unit_of_job(session, job_numbers[0]) if job_numbers else "mm"
    for section, grade, pieces in groups_of(session, items):
        wanted = Wanted(section, grade, pieces)
        market = market_for(session, wanted, on, None, guess=True)
        name = wanted.name_in(unit)
        if guessed := guess_of(wanted, market, unit):
            words += guess_words(dict([guessed]))
        elif not market.listed:
            words.append(
                f"{name} is on nobody's list, nor is any size of {grade.name}: it cannot be quoted yet."
            )
    return tuple(words)


def items_of_job(session: Session, job_number: str, shop: BendingShop | None = None) -> list[Item]:
    """Parts of a job as the takeoff takes them: (answer, part as asked for, pieces, job number).

    `shop` saves reading the benders and grades again for each of many jobs.
    """
    from shopquote.calc.bar.part import analyse_part
    from shopquote.services.jobs.jobs import load_job

    spec = load_job(session, job_number).spec
    shop = shop or bending_shop(session)
    return [
        (
            analyse_part(part, spec.units, shop, galvanised=spec.is_galvanised),
            part,
            spec.quantity(part),
            job_number,
        )
        for part in spec.parts
    ]


def unit_of_job(session: Session, job_number: str) -> Unit:
    """The unit that a job is written in."""
    from shopquote.services.jobs.jobs import load_job

    return load_job(session, job_number).spec.units


def rack_bars(session: Session, section: Section, grade: Grade, jobs: Sequence[str]) -> list[RackBar]:
    """Bars on the rack that are free or promised to these jobs, of shared ones the jobs' own part.

    Pieces that the supplier sawed to length are no bars to cut; see `Takeoff.besides`.
    """
    return rack_with(session, section, grade, _held_bars(session, jobs), jobs, saw_settings(session))


def rack_with(
    session: Session,
    section: Section,
    grade: Grade,
    held: Sequence["JobBar"],
    jobs: Collection[str],
    saw: SawSettings,
) -> list[RackBar]:
    """Like `rack_bars`, but the caller passes the jobs' bars, read once for all their materials."""
    from shopquote.services.buying.needs import part_for
    from shopquote.services.rack.rack_on_file import free_rack

    key = (section.key, grade.name)
    own = [
        RackBar(bar.code, part, bar.heat, own=True)
        for bar in held
        if (bar.section_key, bar.grade) == key
        and bar.state == "on the rack"
        and bar.code
        and not bar.cut
        and (part := part_for(bar, jobs, saw)).nm > 0
    ]
    return [*free_rack(session, *key), *own]


def _held_bars(session: Session, jobs: Sequence[str]) -> Sequence["JobBar"]:
    from shopquote.services.buying.needs import bars_for_jobs

    return bars_for_jobs(session, [find_job(session, number) for number in jobs])


def _besides(held: Sequence["JobBar"]) -> tuple[Besides, ...]:
    """What the jobs have that no plan can cut: bars on order, pieces that the supplier sawed."""
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
