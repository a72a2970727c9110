"""Log bought items, bills for subcontract work, invoices, credits and payments of customers."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.money import round_money
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.logs import BoughtUse, Invoice, OutsideBill, Payment
from shopquote.records.people import Supplier
from shopquote.services.floor.log import MOST_COUNT, Logged, amount_of, open_for_log, plain_number, unlike
from shopquote.services.jobs.jobs import find_job, newest_revision
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.shop.shop_on_file import refuse_ahead, shop_currency, the_shop, words_on_file


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
    """Log bought items that were used; `cost` is the total of all `count` of them.

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
    # A warning only: a job often needs an item that nobody planned.
    notes = " ".join(filter(None, (note, _unplanned(session, job, row.name))))
    return Logged(job.number, f"{plain_number(count)} x {row.name}", row.cost, note=notes)


def _unplanned(session: Session, job: Job, name: str) -> str:
    """A warning if the job does not plan a bought item of this name; else empty."""
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
    """Log a bill for subcontract work; `cost` is its amount.

    Raises:
        NotFoundError: no such job.
        InputError: no name, or a cost that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    row = OutsideBill(
        job_id=job.id, name=_named(name, "outside work"),
        supplier=words_on_file(session, supplier, Supplier.name, OutsideBill.supplier),
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
    due: date | None = None,
    credit: bool = False,
    lowers: str | None = None,
    reason: str = "",
) -> Logged:
    """Log an invoice, or a credit that lowers one; `amount` is before tax and positive for both.

    A closed job may still be invoiced up to its price, as this changes none of its figures.

    Args:
        session: an open writing session.
        number: the job.
        invoice: number of the paper.
        amount: before tax, in the shop's currency.
        on: day of the paper.
        today: last day that `on` may be.
        at: the present moment.
        due: day by which an invoice is due; None: after the shop's `payment_days`. Credits are never due.
        credit: it is a credit.
        lowers: number of the invoice that a credit lowers; None: the one with its own number, else the job's
            only one.
        reason: required where more is invoiced than quoted, or credited than invoiced.

    Raises:
        NotFoundError: no such job, or no such invoice of it.
        InputError: the number is on file already or missing, an amount that cannot be used, due before its
            own day, a credit that may lower several invoices, a reason missing, or it would change what a
            closed job earned.
    """
    kind = "credit" if credit else "invoice"
    job, note = find_job(session, number), ""
    if job.state == "closed":
        refuse_other_price(session, job, amount, kind)
    else:
        # A paper for a job that was not won yet is a deposit: the job is then won, but not started.
        job, note = open_for_log(session, job, at, paper=True)
    refuse_ahead(on, today)
    if due is not None and due < on:
        raise InputError(
            f"--due is {due}; the invoice is of {on}, so expected that day or a later one.",
            hint="If it was written earlier, say on which day: --on DATE" if on == today else None,
        )
    name = _named(invoice, kind)
    _refuse_known_number(session, kind, name)
    lowered = _lowered(session, job, name, lowers) if credit else None
    if not reason.strip():
        # With a reason both checks are skipped: the person knows of the difference and says why it is right.
        check = _check_credited if credit else _check_agreed
        check(session, job, name, amount_of(session, amount))
    days = the_shop(session).payment_days
    if due is None and days is not None and not credit:
        due = on + timedelta(days=days)
    row = Invoice(
        job_id=job.id, number=name, invoiced_on=on, due_on=due, amount=amount_of(session, amount), kind=kind,
        note=reason.strip(), lowers_id=None if lowered is None else lowered.id,
    )  # fmt: skip
    session.add(row)
    session.flush()
    what = f"{kind} {name}" if lowered is None else f"credit {name} of invoice {lowered.number}"
    return Logged(job.number, what, row.amount, note=note)


def refuse_other_price(session: Session, job: Job, amount: Decimal, kind: str) -> None:
    """For a closed job, refuse an amount invoiced, or taken back if negative, that changes what it earned.

    Raises:
        InputError: it is a credit, or the job's price would differ from its closing.
    """
    quoted = _quoted(session, job) or Decimal(0)
    papers = select(Invoice.amount).where(Invoice.job_id == job.id, Invoice.kind == "invoice")
    billed = sum(session.scalars(papers), Decimal(0))
    # The price of a job is its quote, or what was invoiced if that is more: within the quote an invoice
    # leaves it as it is.
    if kind == "invoice" and max(quoted, billed + amount) == max(quoted, billed):
        return
    currency = shop_currency(session)
    left = round_money(max(quoted - billed, Decimal(0)), currency)
    raise InputError(
        f"{job.number} is closed; its figures stand, and {left} {currency} of its price are left to invoice.",
        hint="To invoice more, or to credit, open it again first: "
        f'shopquote close {job.number} --reopen "why"',
    )


def _quoted(session: Session, job: Job) -> Decimal | None:
    """Net price of the job's quote that counts; None without one."""
    chosen = chosen_quotes()
    return session.scalar(select(chosen.c.net).where(chosen.c.job_id == job.id))


def _refuse_known_number(session: Session, kind: str, name: str) -> None:
    # A credit may bear the number of the invoice that it lowers. Within a kind numbers differ by more than
    # case: people could not tell them apart. Only the columns needed, because every paper of the shop is
    # read.
    papers = (
        select(Invoice.number, Job.number).join(Job, Job.id == Invoice.job_id).where(Invoice.kind == kind)
    )
    for number, job in session.execute(papers):
        if name_key(number) == name_key(name):
            raise InputError(f"The {kind} {number} is on file already, for {job}.")


def _lowered(session: Session, job: Job, name: str, lowers: str | None) -> Invoice | None:
    """The invoice that a credit lowers; None if the job has none.

    Raises:
        InputError: it may be one of several.
        NotFoundError: the job has no invoice `lowers`.
    """
    if lowers is not None:
        return _invoice_of(session, job, lowers)
    papers = session.scalars(select(Invoice).where(Invoice.job_id == job.id, Invoice.kind == "invoice")).all()
    # Shops that number credits after the invoice need not name it twice.
    same = [paper for paper in papers if name_key(paper.number) == name_key(name)] or papers
    if len(same) > 1:
        told = ", ".join(paper.number for paper in same)
        raise InputError(
            f"{job.number} has the invoices {told}: which of them does credit {name} lower?",
            hint=f"Say it: --credit {name} --invoice {same[-1].number}",
        )
    return same[0] if same else None


def _check_agreed(session: Session, job: Job, name: str, amount: Decimal) -> None:
    """Refuse to invoice more than was quoted.

    Raises:
        InputError: the job's invoices would come to more than its quote.
    """
    quoted = _quoted(session, job)
    if quoted is None:
        return
    billed = _invoiced(session, job) + amount
    if billed <= quoted:
        return
    currency = shop_currency(session)
    told, over, net = (round_money(value, currency) for value in (billed, billed - quoted, quoted))
    raise InputError(
        f"With {name} {told} {currency} would be invoiced for {job.number}, {over} more than the {net} "
        "quoted.",
        hint='If more was agreed, say what: --reason "what was agreed"; else look at the amount again.',
    )


def _check_credited(session: Session, job: Job, name: str, amount: Decimal) -> None:
    """Refuse to credit more than was invoiced.

    Raises:
        InputError: the credit is larger than the job's invoices less credits.
    """
    left, currency = _invoiced(session, job), shop_currency(session)
    if amount > left:
        raise InputError(
            f"Credit {name} of {amount} {currency} is more than the {round_money(left, currency)} invoiced "
            f"for {job.number}.",
            hint='If it is right, say why: --reason "why"; else look at the amount again.',
        )


def _invoiced(session: Session, job: Job) -> Decimal:
    """Invoices less credits of a job."""
    rows = session.scalars(select(Invoice).where(Invoice.job_id == job.id))
    return sum((-row.amount if row.kind == "credit" else row.amount for row in rows), Decimal(0))


def log_payment(
    session: Session,
    number: str,
    invoice: str,
    amount: Decimal | None,
    *,
    on: date,
    today: date,
    reason: str = "",
) -> Logged:
    """Log money received for an invoice of the job, before tax; `amount` None: all that is open of it.

    A closed job may be paid too, as a payment changes none of its figures.

    Raises:
        NotFoundError: no such job, or no such invoice of it.
        InputError: an amount that cannot be used, a day before the invoice's, nothing is open, or more than
            is open without a reason.
    """
    job = find_job(session, number)
    refuse_ahead(on, today)
    paper = _invoice_of(session, job, _named(invoice, "invoice"))
    if on < paper.invoiced_on:
        raise InputError(
            f"The payment is of {on}, before invoice {paper.number} of {paper.invoiced_on}.",
            hint="Say on which day it came: --on DATE. If the invoice's own day is wrong, take it back and "
            f"log it again: shopquote log {job.number} --strike N --reason TEXT",
        )
    currency = shop_currency(session)
    left = round_money(_open_of(session, paper), currency)
    paid = left if amount is None else amount_of(session, amount)
    if amount is None and left <= 0:
        raise InputError(f"Invoice {paper.number} is paid: nothing of it is open.")
    if paid <= 0:
        raise InputError(f"Amount is {paid}; expected more than 0.")
    if paid > left and not reason.strip():
        raise InputError(
            f"{paid} {currency} is more than the {left} that are open of invoice {paper.number}.",
            hint="Amounts are before tax; without --amount all that is open is paid. If more came in, say "
            'why: --reason "why".',
        )
    session.add(Payment(invoice=paper, paid_on=on, amount=paid, note=reason.strip()))
    session.flush()
    still = left - paid
    return Logged(
        job.number, f"payment of {paper.number}", paid, note=f"{still} is open." if still > 0 else ""
    )


def _invoice_of(session: Session, job: Job, name: str) -> Invoice:
    rows = session.scalars(select(Invoice).where(Invoice.job_id == job.id, Invoice.kind == "invoice")).all()
    found = next((row for row in rows if name_key(row.number) == name_key(name)), None)
    if found is None:
        numbers = [row.number for row in rows]
        nearest = nearest_word(name, numbers)
        there = f"there are {', '.join(numbers)}" if numbers else "none is logged"
        raise NotFoundError(
            f"{job.number} has no invoice {name!r}; {there}.",
            hint=f"Did you mean {nearest!r}?" if nearest else f"See: shopquote log {job.number}",
        )
    return found


def _open_of(session: Session, paper: Invoice) -> Decimal:
    """Amount of an invoice less payments and credits."""
    paid = session.scalars(select(Payment.amount).where(Payment.invoice_id == paper.id))
    credited = session.scalars(select(Invoice.amount).where(Invoice.lowers_id == paper.id))
    return paper.amount - sum(paid, Decimal(0)) - sum(credited, Decimal(0))


def _named(text: str, what: str) -> str:
    if not text.strip():
        raise InputError(f"The {what} has no name.")
    return text.strip()
