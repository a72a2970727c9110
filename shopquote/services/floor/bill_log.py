"""Log bought items, bills for subcontract work and what the customer was invoiced."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.money import round_money
from shopquote.errors import InputError
from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.logs import BoughtUse, Invoice, OutsideBill
from shopquote.services.floor.log import (
    MOST_COUNT,
    Logged,
    amount_of,
    open_for_log,
    plain_number,
    shop_currency,
    unlike,
)
from shopquote.services.jobs.jobs import newest_revision
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.shop.on_file import refuse_ahead


def log_bought(
    session: Session,
    number: str,
    name: str,
    cost: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    count: Decimal = Decimal(1),
    source: str | None = None,
) -> Logged:
    """A bought item really used; `cost` is the total of all `count` of them.

    Raises:
        NotFoundError: no such job.
        InputError: no name, or a cost or count that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    if count <= 0 or count > MOST_COUNT:
        raise InputError(f"Count of {name!r} is {count}; expected more than 0 and at most {MOST_COUNT}.")
    row = BoughtUse(
        job_id=job.id, name=_named(name, "bought item"), count=count, cost=amount_of(session, cost),
        used_on=on, source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    notes = " ".join(filter(None, (note, _unplanned(session, job, row.name))))
    return Logged(job.number, f"{plain_number(count)} x {row.name}", row.cost, note=notes)


def _unplanned(session: Session, job: Job, name: str) -> str:
    """What to say of a bought item that the job does not plan; nothing of one that it does."""
    planned = [item.name for item in newest_revision(session, job).bought]
    if name_key(name) in {name_key(item) for item in planned}:
        return ""
    return unlike(
        f"{name} is not among the bought items of {job.number}: it counts beside them.", name, planned
    )


def log_outside(
    session: Session,
    number: str,
    name: str,
    cost: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    supplier: str = "",
    source: str | None = None,
) -> Logged:
    """A bill for work done by others.

    Raises:
        NotFoundError: no such job.
        InputError: no name, or a cost that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    row = OutsideBill(
        job_id=job.id, name=_named(name, "outside work"), supplier=supplier.strip(),
        amount=amount_of(session, cost), billed_on=on, source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, row.name, row.amount, note=note)


def log_invoice(
    session: Session,
    number: str,
    invoice: str,
    amount: Decimal,
    *,
    on: date,
    today: date,
    at: datetime,
    credit: bool = False,
    reason: str = "",
) -> Logged:
    """An invoice, or a credit against one; the amount is before tax and positive either way.

    Raises:
        NotFoundError: no such job.
        InputError: the number is on file already, no number, an amount that cannot be used, or more is
            invoiced than was quoted without a reason.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    kind = "credit" if credit else "invoice"
    name = _named(invoice, kind)
    # A credit may bear the number of the invoice that it lowers, but no number stands twice in its kind.
    held = session.scalar(select(Invoice).where(Invoice.number == name, Invoice.kind == kind))
    if held is not None:
        raise InputError(f"The {kind} {name} is on file already, for {held.job.number}.")
    if not credit and not reason.strip():
        _check_agreed(session, job, name, amount_of(session, amount))
    row = Invoice(
        job_id=job.id, number=name, invoiced_on=on, amount=amount_of(session, amount), kind=kind,
        note=reason.strip(),
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, f"{kind} {name}", row.amount, note=note)


def _check_agreed(session: Session, job: Job, name: str, amount: Decimal) -> None:
    """More than the quote is only invoiced when more was agreed, which somebody must say.

    Raises:
        InputError: it would come to more than the job's quote.
    """
    chosen = chosen_quotes()
    quoted = session.scalar(select(chosen.c.net).where(chosen.c.job_id == job.id))
    if quoted is None:
        return
    before = session.scalars(select(Invoice).where(Invoice.job_id == job.id)).all()
    billed = sum((-row.amount if row.kind == "credit" else row.amount for row in before), amount)
    if billed <= quoted:
        return
    currency = shop_currency(session)
    told, over, net = (round_money(value, currency) for value in (billed, billed - quoted, quoted))
    raise InputError(
        f"With {name} {told} {currency} would be invoiced for {job.number}, {over} more than the {net} "
        "quoted.",
        hint='If more was agreed, say what: --reason "what was agreed"; else look at the amount again.',
    )


def _named(text: str, what: str) -> str:
    if not text.strip():
        raise InputError(f"The {what} has no name.")
    return text.strip()
