"""What jobs still need beyond their bars and the rack, at one moment of the database."""

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
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.needs import JobBar, bars_for_jobs, linked_jobs, loaded
from shopquote.services.buying.purchase import PurchasePlan, plan_purchase
from shopquote.services.buying.purchase_ways import suffices
from shopquote.services.buying.takeoff import groups_of, items_of_job, planning_units
from shopquote.services.buying.wanted import Wanted
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.free_rack import free_rack
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings


@dataclass(frozen=True)
class Moment:
    """All that a plan counts on, so that it can be seen whether it still holds."""

    jobs: tuple[Job, ...]
    wanted: tuple[Wanted, ...]
    bars: tuple[JobBar, ...]

    def own(self) -> tuple[tuple[str, str, int, str, int], ...]:
        """What the jobs have, in a form that can be compared."""
        return tuple(sorted((b.name, b.state, b.length.nm, b.section_key, b.count) for b in self.bars))

    def revisions(self) -> tuple[tuple[int, int, str], ...]:
        """The jobs as they stand."""
        return tuple((job.id, job.revision, job.state) for job in self.jobs)


def jobs_of_order(order: Order) -> list[str]:
    """The jobs whose pieces an order is for."""
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
    """What would be ordered for jobs; writes nothing."""
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
    """Materials of which jobs, with those that they share bars with, have too little, on order included.

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
    """Bars and grades of an order of which its running jobs have too little, whatever they have elsewhere."""
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
    """The jobs with those that they share bars with, their bars, and what is still needed.

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
        # A used bar held its pieces: the offcut took the end in the vise with it, and was
        # measured before or after the cut that freed it.
        length = bar.length + saw.kerf + saw.grip if bar.state == "used" else bar.length
        own.setdefault(material, []).extend(
            RackBar(name, length, bar.heat or bar.batch, own=True) for name in bar.names()
        )
    wanted = []
    for section, grade, pieces in groups_of(session, items, bars):
        material = (section.key, grade.name)
        left = _not_sawn(pieces, sawn.get(material, ()))
        if not left:
            continue
        shortest = min(piece.length for piece in left)
        # Pieces that hold not even the shortest one would only make the plan slower.
        free = free_rack(session, section.key, grade.name, at_least=shortest + saw.trim)
        wanted.append(Wanted(section, grade, left, tuple(own.get(material, ())), free))
    return tuple(wanted)


def _not_sawn(pieces: Sequence[Piece], sawn: Sequence[Length]) -> tuple[Piece, ...]:
    """Pieces less those that the supplier sawed to length; the longest that fits goes to each."""
    left = {i: piece.count for i, piece in enumerate(pieces)}
    by_length = sorted(left, key=lambda i: pieces[i].length, reverse=True)
    # The shortest sawn lengths go first, each to the longest piece it holds: no length is spent on a piece
    # that a shorter one serves.
    for length in sorted(sawn):
        for i in by_length:
            if left[i] and pieces[i].length <= length:
                left[i] -= 1
                break
    return tuple(replace(piece, count=left[i]) for i, piece in enumerate(pieces) if left[i])


def pieces_held(bars: Sequence[JobBar]) -> dict[tuple[str, str, Length], int]:
    """Pieces that bars are to be cut into, by job, mark and length; those that the supplier saws left out."""
    held: dict[tuple[str, str, Length], int] = {}
    for bar in bars:
        for owner, mark, length, count in () if bar.cut else bar.load:
            held[owner, mark, length] = held.get((owner, mark, length), 0) + count
    return held


def _groups(session: Session, asked: Sequence[Job]) -> tuple[tuple[str, ...], ...]:
    """The asked jobs with those they share bars with; groups share nothing with each other."""
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
    """Whether the jobs, their bars and the free pieces that the plan takes are as they were."""
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
        # The length too: a count may have found the piece shorter than the book said.
        there = {bar.piece: bar.length for bar in free_rack(session, key, grade)}
        if any(there.get(code) != length for code, length in taken.items()):
            return False
    return True
