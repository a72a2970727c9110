"""What went to customers and what they paid: delivery notes, invoices, credit notes and payments."""

from collections.abc import Iterator
from decimal import Decimal

from sqlalchemy import and_, case, func, or_, select
from sqlalchemy.orm import Session, aliased

from shopquote.reading.kinds import name_key
from shopquote.records.jobs import BoughtItem, Job, JobRevision, PartRow
from shopquote.records.logs import Invoice, JobDelivery, JobDeliveryLine, Payment, StruckEntry
from shopquote.services.floor.delivery_note import DELIVERY
from shopquote.services.safe.checks.found import MOST_LINES, Found


def went_out_as_ordered(session: Session) -> Iterator[Found]:
    """Every delivery note has lines, of marks that its job has and no more than any revision ordered.

    None of a job's numbered notes is missing.
    """
    empty = (
        select(Job.number, JobDelivery.number)
        .join(Job, Job.id == JobDelivery.job_id)
        .where(JobDelivery.id.not_in(select(JobDeliveryLine.delivery_id)))
        .limit(MOST_LINES)
    )
    for number, note in session.execute(empty).all():
        yield Found(f"delivery {number}-{note} has no lines")
    yield from _notes_that_are_gone(session)
    yield from _more_than_ordered(session)


def _notes_that_are_gone(session: Session) -> Iterator[Found]:
    taken_back = (
        select(StruckEntry.job_id, func.count().label("count"))
        .where(StruckEntry.kind == DELIVERY, StruckEntry.job_id.is_not(None))
        .group_by(StruckEntry.job_id)
        .subquery()
    )
    # Notes are numbered from 1 in each job: the highest number is the count, less those struck.
    written, back = func.max(JobDelivery.number), func.coalesce(func.max(taken_back.c.count), 0)
    rows = session.execute(
        select(Job.number, written, func.count(), back)
        .join(Job, Job.id == JobDelivery.job_id)
        .outerjoin(taken_back, taken_back.c.job_id == JobDelivery.job_id)
        .group_by(Job.number)
        .having(written != func.count() + back)
        .limit(MOST_LINES)
    )
    for number, newest, stored, struck in rows.all():
        yield Found(
            f"job {number}: its newest delivery note is {newest}; {stored} are on file, {struck} taken back"
        )


def _more_than_ordered(session: Session) -> Iterator[Found]:
    """Pieces delivered of a mark or bought item, against the most that any revision of the job asks for."""
    went = (
        select(
            JobDelivery.job_id,
            JobDeliveryLine.mark,
            # A part is known by its mark alone, since a revision may give it another name.
            case((JobDeliveryLine.mark == "", JobDeliveryLine.what), else_="").label("item"),
            func.sum(JobDeliveryLine.count).label("count"),
        )
        .join(JobDelivery, JobDelivery.id == JobDeliveryLine.delivery_id)
        .group_by(JobDelivery.job_id, JobDeliveryLine.mark, "item")
    )
    rows = session.execute(went).all()
    asked = _most_asked(session) if rows else {}
    numbers = {row: number for row, number in session.execute(select(Job.id, Job.number))} if rows else {}
    listed = 0
    for job, mark, item, count in rows:
        most = asked.get((job, mark, item), 0)
        if count > most and listed < MOST_LINES:
            listed += 1
            yield Found(
                f"job {numbers.get(job, job)}: {count} x {mark or item} were delivered, ordered were {most}"
            )


def _most_asked(session: Session) -> dict[tuple[int, str, str], int]:
    """By (job id, mark, bought item), the most pieces that any revision of the job asks for.

    The most of all revisions, not the newest: pieces may have gone out before a revision asked for fewer.
    """
    most: dict[tuple[int, str, str], int] = {}
    delivered = select(JobDelivery.job_id)
    for owner, name in ((PartRow, PartRow.mark), (BoughtItem, BoughtItem.name)):
        rows = session.execute(
            select(JobRevision.job_id, name, func.sum(owner.per_set * JobRevision.sets))
            .join(JobRevision, JobRevision.id == owner.job_revision_id)
            .where(JobRevision.job_id.in_(delivered))
            .group_by(JobRevision.id, JobRevision.job_id, name)
        )
        for job, word, count in rows:
            key = (job, word, "") if owner is PartRow else (job, "", word)
            most[key] = max(most.get(key, 0), int(count))
    return most


def papers_of_money_fit(session: Session) -> Iterator[Found]:
    """Invoices are due and paid no earlier than written, a credit note lowers an invoice of its own job, and
    nobody paid more than an invoice asks for unless a payment's note says why.
    """
    lowered = aliased(Invoice)
    rows = session.execute(
        select(Invoice.number, Invoice.kind, Invoice.invoiced_on, Invoice.due_on, lowered.number, Job.number)
        .join(Job, Job.id == Invoice.job_id)
        .outerjoin(lowered, lowered.id == Invoice.lowers_id)
        .where(
            or_(
                Invoice.due_on < Invoice.invoiced_on,
                and_(Invoice.kind == "invoice", Invoice.lowers_id.is_not(None)),
                lowered.kind == "credit",
                lowered.job_id != Invoice.job_id,
            )
        )
        .limit(MOST_LINES)
    )
    for number, kind, on, due, lowers, job in rows.all():
        lowering = f" and lowers {lowers}" if lowers is not None else ""
        yield Found(f"{kind} {number} of job {job}, of {on}, is due {due or 'at no time'}{lowering}")
    yield from _numbers_twice(session)
    yield from _payments(session)


def _numbers_twice(session: Session) -> Iterator[Found]:
    seen: dict[tuple[str, str], str] = {}
    for kind, number in session.execute(select(Invoice.kind, Invoice.number).order_by(Invoice.id)):
        # By kind: a credit may bear the number of the invoice that it lowers.
        first = seen.setdefault((kind, name_key(number)), number)
        if first is not number:
            yield Found(f"{kind} {first} and {kind} {number} are one number in two spellings")


def _payments(session: Session) -> Iterator[Found]:
    paid, said = func.sum(Payment.amount), func.max(func.length(Payment.note))
    rows = session.execute(
        select(Invoice.number, Invoice.kind, Invoice.amount, paid, func.min(Payment.paid_on))
        .join(Payment, Payment.invoice_id == Invoice.id)
        .group_by(Invoice.id, Invoice.number, Invoice.kind, Invoice.amount, Invoice.invoiced_on)
        .having(
            or_(
                Invoice.kind == "credit",
                func.min(Payment.paid_on) < Invoice.invoiced_on,
                and_(paid > Invoice.amount, said == 0),
            )
        )
        .limit(MOST_LINES)
    )
    for number, kind, amount, came, first in rows.all():
        shown = Decimal(came).normalize()
        yield Found(f"{kind} {number} of {amount.normalize():f}: {shown:f} was paid, first on {first}")
