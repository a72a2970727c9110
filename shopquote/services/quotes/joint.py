"""A joint quote: several jobs of one customer on one paper, their bars bought together.

Stored are each job's own quote, sealed like any other, and which quotes stand on the paper. The paper is made
from them whenever it is printed. An answer may be to all jobs or to some.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.pricing.document import QuoteDocument, document_from_text
from shopquote.calc.pricing.inwards import inward_costs, saved_together
from shopquote.calc.pricing.joint import joint_document
from shopquote.calc.pricing.material_costs import material_lines
from shopquote.calc.pricing.priced_quote import CostLine
from shopquote.calc.pricing.standards import completed
from shopquote.calc.takeoff.takeoff import share_cost
from shopquote.errors import InputError, NotFoundError, counted
from shopquote.reading.kinds.documents import document_number
from shopquote.records.jobs import Job
from shopquote.records.joint_quotes import JointQuote, JointQuoteMember
from shopquote.records.quotes import Quote
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.orders_on_file import open_orders_words
from shopquote.services.jobs.job_states import STATES_ENDED
from shopquote.services.jobs.jobs import find_job, load_job, newest_revision
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.draft import PLAN_WORK, Draft, QuoteWishes
from shopquote.services.quotes.planner import Planner, plan_together
from shopquote.services.quotes.quote import draft_of, refuse_to_quote
from shopquote.services.quotes.quotes_on_file import (
    QuoteRow,
    answer_quote,
    list_quotes,
    store_quote,
    stored_quote,
)
from shopquote.services.shop.books import Books
from shopquote.services.shop.database import next_number
from shopquote.services.shop.shop_on_file import bending_shop, the_shop, with_bars_of

# Most jobs on one paper; each is priced twice, and a longer list is a series order.
MOST_JOBS = 40
NOTHING = Decimal(0)


@dataclass(frozen=True)
class Joint:
    """A joint quote: each job's quote, and the paper made from them."""

    quotes: tuple[QuoteDocument, ...]
    document: QuoteDocument


def draft_joint(
    session: Session, job_numbers: Sequence[str], today: date, wishes: QuoteWishes | None = None
) -> tuple[Draft, ...]:
    """Draft a quote of each job with their bars and deliveries bought together; stores nothing.

    The minimum order charge is that of the whole paper.

    Raises:
        InputError: fewer than two jobs, over `MOST_JOBS`, or different customers; or as `draft_quote`.
        NotFoundError, CannotMakeError: as `draft_quote` raises.
    """
    wishes = wishes or QuoteWishes()
    if wishes.sets is not None or wishes.overrides:
        raise InputError("Sets and prices by hand are one job's; quote it by itself, or revise its job file.")
    # Read once for all jobs; each then gets the bars of its own.
    shop = bending_shop(session)
    loaded = [load_job(session, job.number) for job in _one_customer(session, job_numbers)]
    answers = [work_out_parts(one.spec, with_bars_of(session, shop, one.job.number)) for one in loaded]
    ready = list(zip(loaded, answers, strict=True))

    def drafts(each: Iterable[QuoteWishes]) -> list[Draft]:
        return [draft_of(session, *job, today, asked) for job, asked in zip(ready, each, strict=True)]

    # First each job alone, without other quantities: needed only for what it would pay by itself.
    apart = drafts([replace(wishes, breaks=(), minimum_order=NOTHING)] * len(ready))
    books = BooksOnFile(session)
    planners = {Planner(books, *job, today): job[0].spec.sets for job in ready}
    alone = {draft.document.job: _charged(draft.document.estimate.costs) for draft in apart}
    together = _together(books, planners, apart, today)
    shares = share_cost(alone, together, apart[0].document.priced.currency)
    savings = {share.owner: share.saving for share in shares}
    # The jobs are made one after the other: the lead time of each counts the work of those before it.
    minutes = tuple(draft.document.estimate.minutes for draft in apart)
    asked = [
        replace(wishes, minimum_order=NOTHING, saving=savings[one.job.number], ahead=minutes[:place])
        for place, one in enumerate(loaded)
    ]
    made = drafts(asked)
    if parts := _least_shared(made, the_shop(session).minimum_order):
        made = drafts(replace(one, minimum_order=part) for one, part in zip(asked, parts, strict=True))
    return tuple(_told(draft, made) for draft in made)


def _least_shared(made: Sequence[Draft], least: Decimal) -> list[Decimal]:
    """What each job bears of a minimum order charge that all together do not reach; empty if they do."""
    nets = {draft.document.job: draft.document.priced.net for draft in made}
    if not least or sum(nets.values(), NOTHING) >= least:
        return []
    return [share.bears for share in share_cost(nets, least, made[0].document.priced.currency)]


def _one_customer(session: Session, job_numbers: Sequence[str]) -> list[Job]:
    jobs = list({job.number: job for job in (find_job(session, number) for number in job_numbers)}.values())
    if not 2 <= len(jobs) <= MOST_JOBS:
        raise InputError(
            f"Different jobs for one quote: {len(jobs)}; expected 2 to {MOST_JOBS}.",
            hint=f"Quote one job: shopquote quote {jobs[0].number}" if jobs else None,
        )
    for job in jobs:
        refuse_to_quote(session, job)
        if job.customer_id != jobs[0].customer_id:
            raise InputError(
                f"Job {job.number} is for {job.customer.name}, job {jobs[0].number} for "
                f"{jobs[0].customer.name}; one quote is for one customer."
            )
    return jobs


def _charged(costs: Iterable[CostLine]) -> Decimal:
    """What an estimate charges for bars and deliveries, scrap allowance excluded."""
    return sum((line.amount for line in costs if line.category == "material" and line.unit != "%"), NOTHING)


def _together(books: Books, planners: dict[Planner, int], apart: Sequence[Draft], today: date) -> Decimal:
    """What all jobs together would be charged for bars and deliveries bought as one purchase."""
    bought = plan_together(books, planners, today, PLAN_WORK * len(planners))
    first = apart[0].document
    prices = {
        (price.section_key, price.grade): price.price
        for draft in apart
        for price in draft.document.metre_prices
    }
    credit = first.offcut_credit_pct or NOTHING
    bars, _, _ = material_lines(
        bought.materials, completed(first.standards), first.policy, prices, credit, first.units
    )
    inwards, _ = inward_costs(bought.materials, bought.charges, first.policy)
    return _charged([*bars, *inwards])


def _told(draft: Draft, all_of_them: Sequence[Draft]) -> Draft:
    """The draft with a note for the shop on what buying together changes."""
    document = draft.document
    saved = round_money(saved_together(document.estimate.costs), document.priced.currency)
    others = ", ".join(other.document.job for other in all_of_them if other is not draft)
    what = f"{saved} less" if saved >= 0 else f"{-saved} more"
    note = f"Bars and deliveries are bought together with {others}: {what} than for {document.job} alone."
    if document.priced.breaks:
        note += " Its other quantities are priced with bars bought for it alone."
    estimate = replace(document.estimate, notes=(*document.estimate.notes, note))
    return replace(draft, document=replace(document, estimate=estimate))


def store_joint(session: Session, drafts: Sequence[Draft], *, at: datetime | None = None) -> Joint:
    """Store each job's quote and the joint quote; if nothing changed, the newest revision stays.

    Raises:
        InputError: as `store_quote` raises.
    """
    newest = _newest_of_jobs(session, [find_job(session, draft.document.job).id for draft in drafts])
    number = newest.number if newest else next_number(session, "Q")
    documents = tuple(store_quote(session, draft, at=at, paper=number) for draft in drafts)
    rows = [_row_of(session, document) for document in documents]
    # No job's quote got a new revision, so the paper gets none.
    if newest and {member.quote_id for member in newest.members} == {row.id for row in rows}:
        return _joint(newest)
    joint = JointQuote(
        number=number,
        revision=newest.revision + 1 if newest else 1,
        issued_on=documents[0].issued_on,
        members=[JointQuoteMember(position=place, quote=row) for place, row in enumerate(rows, start=1)],
    )
    session.add(joint)
    session.flush()
    return _joint(joint)


def _row_of(session: Session, document: QuoteDocument) -> Quote:
    return session.scalars(
        select(Quote).where(Quote.number == document.number, Quote.revision == document.revision)
    ).one()


def _newest_of_jobs(session: Session, job_ids: Sequence[int]) -> JointQuote | None:
    """The newest joint quote of exactly these jobs."""
    query = (
        select(JointQuote)
        .join(JointQuoteMember)
        .join(Quote)
        .where(Quote.job_id == job_ids[0])
        .order_by(JointQuote.id.desc())
    )
    for joint in session.scalars(query):
        # With one job more or less it is another paper, under its own number.
        if {member.quote.job_id for member in joint.members} == set(job_ids):
            return joint
    return None


def _joint(row: JointQuote) -> Joint:
    quotes = tuple(document_from_text(member.quote.snapshot) for member in row.members)
    return Joint(quotes, joint_document(row.number, row.revision, quotes))


def stored_joint(session: Session, number: str, revision: int | None = None) -> Joint:
    """A stored joint quote as it was issued; `revision` None is the newest.

    Raises:
        NotFoundError: no joint quote has this number or revision.
    """
    return _joint(_find(session, number, revision))


def jobs_of_joint(session: Session, number: str) -> tuple[str, ...]:
    """The jobs on a joint quote, in the order of the paper.

    Raises:
        NotFoundError: no joint quote has this number.
    """
    return tuple(member.quote.job.number for member in _find(session, number).members)


def job_of_quote(session: Session, number: str) -> str | None:
    """The job whose own quote has a number; None of a joint quote's, or where none has it."""
    wanted = document_number(number, "Q")
    return session.scalar(select(Job.number).join(Quote).where(Quote.number == wanted).limit(1))


def _find(session: Session, number: str, revision: int | None = None) -> JointQuote:
    wanted = document_number(number, "Q")
    query = select(JointQuote).where(JointQuote.number == wanted).order_by(JointQuote.revision.desc())
    if revision is not None:
        query = query.where(JointQuote.revision == revision)
    row = session.scalars(query.limit(1)).first()
    if row is not None:
        return row
    job = job_of_quote(session, number)
    if job is not None:
        raise NotFoundError(f"{wanted} is one job's quote.", hint=f"Name its job: {job}")
    which = wanted if revision is None else f"{wanted} revision {revision}"
    raise NotFoundError(f"Joint quote {which} is not on file.", hint="See: shopquote quotes list")


def answer_joint(
    session: Session,
    number: str,
    answer: str,
    on: date,
    *,
    reason: str = "",
    at: datetime | None = None,
    only: Sequence[str] = (),
) -> list[QuoteRow]:
    """Record the customer's answer to all open quotes of a joint quote; quotes answered before keep their
    answer.

    `only`: job numbers that the answer is for; empty means all.

    Raises:
        NotFoundError: no joint quote has this number.
        InputError: none is open any more, one was quoted anew since, or as `answer_quote` raises.
    """
    joint = _find(session, number)
    quotes = [member.quote for member in joint.members if not only or member.quote.job.number in only]
    if replaced := [quote.job.number for quote in quotes if quote.state == "replaced"]:
        together = " ".join(quote.job.number for quote in quotes)
        raise InputError(
            f"{joint.number} revision {joint.revision}: {', '.join(replaced)} was quoted anew since.",
            hint=f"Answer job by job, or quote them together again: shopquote quote {together}",
        )
    # `answer_quote` checks the word of the answer.
    still_open = [quote for quote in quotes if quote.state == "sent" and quote.job.state not in STATES_ENDED]
    if not still_open:
        states = ", ".join(
            f"{quote.job.number} {quote.job.state if quote.state == 'sent' else quote.state}"
            for quote in quotes
        )
        raise InputError(f"{joint.number} revision {joint.revision} has no open quote: {states}.")
    return [
        answer_quote(session, quote.job.number, answer, on, reason=reason, revision=quote.revision, at=at)
        for quote in still_open
    ]


def told_beside(session: Session, rows: Sequence[QuoteRow]) -> list[str]:
    """Warnings beside answers: what is lost of a joint quote, and orders that bring bars for nobody."""
    told = [told_of_part(session, row) for row in rows]
    told += [_told_of_sets(session, row) for row in rows]
    told += [open_orders_words(session, find_job(session, row.job)) for row in rows]
    return list(dict.fromkeys(filter(None, told)))


def _told_of_sets(session: Session, row: QuoteRow) -> str:
    """A warning if more or fewer sets were accepted than the job is for."""
    if row.state != "accepted":
        return ""
    quoted = stored_quote(session, row.job, row.revision).priced.sets
    wanted = newest_revision(session, find_job(session, row.job)).sets
    if quoted == wanted:
        return ""
    return (
        f"{row.number} is for {counted(quoted, 'set')} and {row.job} for {wanted}: that many are bought and "
        f"made until {row.job} is revised."
    )


def told_of_part(session: Session, row: QuoteRow) -> str:
    """A warning if one job of a joint quote is accepted and others are not: the saving that it loses."""
    if not row.joint or row.state != "accepted":
        return ""
    joint = stored_joint(session, row.joint)
    rows = {
        one.job: one
        for quote in joint.quotes
        for one in list_quotes(session, row.issued_on, job_number=quote.job)
    }
    others = [job for job, one in rows.items() if one.state != "accepted"]
    if not others:
        return ""
    own = next((quote for quote in joint.quotes if quote.job == row.job), joint.document)
    saved = round_money(saved_together(own.estimate.costs), own.priced.currency)
    return (
        f"{', '.join(others)} of {row.joint} not ordered: bought alone, the bars of {row.job} may cost "
        f"{saved} more than quoted."
    )
