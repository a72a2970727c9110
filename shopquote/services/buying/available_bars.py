"""Bars on file that may be cut without being ordered, and the sheets that suppliers list."""

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.takeoff.cut_plan import RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Group, Item, group_pieces
from shopquote.calc.takeoff.whole_sheets import Sold
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.services.buying.offers_on_file import ON_SALE
from shopquote.services.buying.wanted import wider_sheets
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.free_rack import free_rack
from shopquote.services.shop.shop_on_file import saw_settings

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


def groups_of(session: Session, items: Sequence[Item], held: Sequence["JobBar"] = ()) -> tuple[Group, ...]:
    """The items' pieces grouped by material to buy; strips of sheet by the wider sheet they are cut from.

    `held`: bars that the jobs have already, which keep strips on the sheet that was bought for them.
    """
    return group_pieces(items, sheets_of(session, items, held))


def sheets_of(
    session: Session, items: Sequence[Item], held: Sequence["JobBar"]
) -> dict[tuple[str, str], Sold]:
    """The wider sheet that pieces of a (section key, grade) are cut from, of those that suppliers list."""
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
    return wider_sheets(items, rows, held)


def rack_bars(session: Session, section: Section, grade: Grade, jobs: Sequence[str]) -> list[RackBar]:
    """Rack bars that are free or promised to these jobs; of a bar shared with other jobs, these jobs' part.

    Pieces that the supplier sawed to length are left out, as they are not cut; see `Takeoff.besides`.
    """
    return rack_with(session, section, grade, held_bars(session, jobs), jobs, saw_settings(session))


def rack_with(
    session: Session,
    section: Section,
    grade: Grade,
    held: Sequence["JobBar"],
    jobs: Collection[str],
    saw: SawSettings,
) -> list[RackBar]:
    """Like `rack_bars`, but the caller passes the jobs' bars, which it reads once for all materials."""
    key = (section.key, grade.name)
    free = free_rack(session, *key)
    if not held:
        return list(free)
    from shopquote.services.buying.needs import part_for  # the classes of rack and orders

    own = [
        RackBar(bar.code, part, bar.heat, own=True)
        for bar in held
        if (bar.section_key, bar.grade) == key
        and bar.state == "on the rack"
        and bar.code
        and not bar.cut
        and (part := part_for(bar, jobs, saw)).nm > 0
    ]
    return [*free, *own]


def held_bars(session: Session, jobs: Sequence[str]) -> Sequence["JobBar"]:
    """Every bar that these jobs have, on the rack, on order or used.

    Raises:
        NotFoundError: a job is not on file.
    """
    from shopquote.services.buying.needs import bars_for_jobs

    return bars_for_jobs(session, [find_job(session, number) for number in jobs])
