"""What jobs still need to order beyond the bars they have and the free rack, and whether it still holds."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.units import Length
from shopquote.errors import InputError
from shopquote.records.jobs import Job
from shopquote.records.orders import Order
from shopquote.services.buying.available_bars import groups_of
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.needs import JobBar, bars_for_jobs, linked_jobs, loaded, used_length
from shopquote.services.buying.purchase import PurchasePlan, plan_purchase
from shopquote.services.buying.purchase_ways import suffices
from shopquote.services.buying.takeoff import items_of_job, planning_units
from shopquote.services.buying.wanted import Wanted
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.free_rack import free_rack
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings


@dataclass(frozen=True)
class Moment:
    """What a purchase plan was based on, to check later that it still holds."""

    jobs: tuple[Job, ...]
    wanted: tuple[Wanted, ...]
    bars: tuple[JobBar, ...]

    def own(self) -> tuple[tuple[str, str, int, str, int], ...]:
        """The jobs' bars as plain values, to compare two moments."""
        # Places and heats are left out: a bar that was only moved leaves the plan right.
        return tuple(sorted((b.name, b.state, b.length.nm, b.section_key, b.count) for b in self.bars))

    def revisions(self) -> tuple[tuple[int, int, str], ...]:
        """Ids, revisions and states of the jobs, to compare two moments."""
        return tuple((job.id, job.revision, job.state) for job in self.jobs)


def jobs_of_order(order: Order) -> list[str]:
    """Numbers of the jobs whose pieces an order's bars will be cut into."""
    return sorted({owner for line in order.lines for load in loaded(line.loads) for owner, _, _, _ in load})


def plan_for_jobs(
    session: Session,
    job_numbers: Sequence[str],
    *,
    on: date,
    supplier: str | None = None,
    certificate: str | None = None,
    seconds: float | None = None,
    moment: Moment | None = None,
) -> PurchasePlan:
    """The purchase that would be ordered for jobs; writes nothing.

    Args:
        session: an open session.
        job_numbers: the jobs; those that share bars with them are planned with them.
        on: day of the price lists.
        supplier: buy from this one alone.
        certificate: kind of certificate to ask for; None: each supplier's usual one.
        seconds: end the search after so many seconds; None: it ends by work counted.
        moment: what `look_at_needs` found for these jobs; None: look now.

    Raises:
        NotFoundError: a job is not on file.
        InputError: a job is over.
        CannotMakeError: nobody sells what is needed.
    """
    moment = moment or look_at_needs(session, job_numbers)
    asked = tuple(find_job(session, number) for number in job_numbers)
    return plan_purchase(
        BooksOnFile(session),
        moment.wanted,
        saw_settings(session),
        on=on,
        units=planning_units(session, [job.number for job in asked]),
        groups=_groups(session, asked),
        supplier=supplier,
        certificate=certificate,
        seconds=seconds,
    )


def not_covered(
    session: Session, job_numbers: Sequence[str]
) -> tuple[tuple[Section, Grade, tuple[str, ...]], ...]:
    """Materials of which these jobs, and those they share bars with, have too little, orders included.

    Returns:
        Section, grade and numbers of the jobs that lack them.

    Raises:
        NotFoundError: a job is not on file.
        InputError: a job is over.
    """
    if not job_numbers:
        return ()
    saw, unit = saw_settings(session), planning_units(session, job_numbers).planning
    return tuple(
        (w.section, w.grade, tuple(sorted({piece.owner for piece in w.pieces})))
        for w in look_at_needs(session, job_numbers).wanted
        if not suffices(w, saw, unit)
    )


def lacking_for_order(session: Session, order: Order) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Materials of an order of which its running jobs have too little, all their bars considered.

    Returns:
        Bar and grade in words, and the job numbers, for each.
    """
    materials = {(line.section_key, line.grade) for line in order.lines}
    running = [
        number for number in jobs_of_order(order) if find_job(session, number).state not in STATES_OVER
    ]
    return tuple(
        (f"{section.words} {grade.name}", jobs)
        for section, grade, jobs in not_covered(session, running)
        if (section.key, grade.name) in materials
    )


def look_at_needs(session: Session, job_numbers: Sequence[str]) -> Moment:
    """The jobs with those that they share bars with, their bars, and what they still need.

    Raises:
        NotFoundError: a job is not on file.
        InputError: no job is named, or one is over.
    """
    if not job_numbers:
        raise InputError("No job is named.", hint="See: shopquote job list")
    asked = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    for job in asked:
        if job.state in STATES_OVER:
            raise InputError(f"Job {job.number} is {job.state}; nothing is ordered for it any more.")
    jobs = linked_jobs(session, asked)
    bars = bars_for_jobs(session, jobs)
    # Without a job's own bars: those are given to the planner as such.
    shop = bending_shop(session)
    items = [item for job in jobs for item in items_of_job(session, job.number, shop)]
    return Moment(jobs, _wanted(session, items, bars, saw_settings(session)), bars)


def _wanted(
    session: Session, items: Sequence[Item], bars: Sequence[JobBar], saw: SawSettings
) -> tuple[Wanted, ...]:
    """Needs, with bars already owned. A used bar still counts for the pieces cut from it."""
    own: dict[tuple[str, str], list[RackBar]] = {}
    sawn: dict[tuple[str, str], list[Length]] = {}
    for bar in bars:
        material = (bar.section_key, bar.grade)
        if bar.cut:
            sawn.setdefault(material, []).extend([bar.length] * bar.count)
            continue
        own.setdefault(material, []).extend(
            RackBar(name, used_length(bar, saw), bar.heat or bar.batch, own=True) for name in bar.names()
        )
    wanted = []
    for section, grade, pieces in groups_of(session, items, bars):
        material = (section.key, grade.name)
        left = _not_sawn(pieces, sawn.get(material, ()))
        if not left:
            continue
        shortest = min(piece.length for piece in left)
        # Free pieces that cannot hold even the shortest piece would only slow the planner.
        free = free_rack(session, section.key, grade.name, at_least=shortest + saw.trim)
        wanted.append(Wanted(section, grade, left, tuple(own.get(material, ())), free))
    return tuple(wanted)


def _not_sawn(pieces: Sequence[Piece], sawn: Sequence[Length]) -> tuple[Piece, ...]:
    """The pieces that remain when those which the supplier sawed to length are taken off."""
    left = {i: piece.count for i, piece in enumerate(pieces)}
    by_length = sorted(left, key=lambda i: pieces[i].length, reverse=True)
    # Sawn lengths rising, each to the longest piece it holds: no length is spent on a piece that a shorter
    # one would serve.
    for length in sorted(sawn):
        for i in by_length:
            if left[i] and pieces[i].length <= length:
                left[i] -= 1
                break
    return tuple(replace(piece, count=left[i]) for i, piece in enumerate(pieces) if left[i])


def pieces_held(bars: Sequence[JobBar]) -> dict[tuple[str, str, Length], int]:
    """Number of pieces that bars will be cut into, by (job, mark, length); pieces sawn by the supplier
    excluded.
    """
    held: dict[tuple[str, str, Length], int] = {}
    for bar in bars:
        for owner, mark, length, count in () if bar.cut else bar.load:
            held[owner, mark, length] = held.get((owner, mark, length), 0) + count
    return held


def _groups(session: Session, asked: Sequence[Job]) -> tuple[tuple[str, ...], ...]:
    """The asked jobs in groups with the jobs they share bars with; no bar is shared between groups."""
    groups: list[tuple[str, ...]] = []
    seen: set[str] = set()
    for job in asked:
        if job.number in seen:
            continue
        group = tuple(linked.number for linked in linked_jobs(session, [job]))
        seen.update(group)
        groups.append(group)
    return tuple(groups)


def still_holds(session: Session, job_numbers: Sequence[str], moment: Moment, plan: PurchasePlan) -> bool:
    """Whether the jobs, their bars and the free pieces that the plan takes are as `moment` saw them."""
    asked = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    jobs = linked_jobs(session, asked)
    now = Moment(jobs, (), bars_for_jobs(session, jobs))
    if now.own() != moment.own() or now.revisions() != moment.revisions():
        return False
    free = {(w.section.key, w.grade.name): dict.fromkeys(bar.piece for bar in w.free) for w in moment.wanted}
    for (key, grade), codes in free.items():
        taken = {pick.name: pick.length for pick in plan.picks if pick.name in codes}
        if not taken:
            continue
        # Lengths too: a stocktake may have corrected a piece meanwhile.
        there = {bar.piece: bar.length for bar in free_rack(session, key, grade)}
        if any(there.get(code) != length for code, length in taken.items()):
            return False
    return True
