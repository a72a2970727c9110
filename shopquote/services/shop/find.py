"""Search jobs, quotes, orders, rack pieces, customers and suppliers by words or codes. Begin at `find`."""

from collections.abc import Sequence

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopquote.calc.frozen import dataclass
from shopquote.reading.kinds.documents import Letter, document_number, is_document
from shopquote.reading.kinds.lengths import bar_as_typed
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.joint_quotes import JointQuote, JointQuoteMember
from shopquote.records.logs import Invoice
from shopquote.records.orders import Order
from shopquote.records.people import Customer, Supplier
from shopquote.records.quotes import Quote
from shopquote.records.rack import RackPiece
from shopquote.services.shop.shop_on_file import shop_unit

# Results of each kind: more would push the other kinds off the screen.
MOST_OF_A_KIND = 20
LETTERS: tuple[Letter, ...] = ("J", "Q", "O", "R")
# A searched word in both spellings, as typed and as a number on file: R20 may be the rack piece R-0020, and a
# radius in a title.
Word = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoundEntry:
    """A search result: its kind, the code or name to open it by, and a line that describes it."""

    kind: str
    name: str
    words: str


def find(session: Session, typed: str, most: int = MOST_OF_A_KIND) -> tuple[FoundEntry, ...]:
    """Entries that contain every word of `typed`, newest first, at most `most` of each kind."""
    # At most eight words: each adds a condition to every query.
    words = [tuple(dict.fromkeys((word, as_on_file(word)))) for word in typed.split()[:8]]
    if not words:
        return ()
    return (
        *_jobs(session, words, most),
        *_joint_quotes(session, words, most),
        *_orders(session, words, most),
        *_pieces(session, words, most),
        *_partners(session, "customer", Customer, words, most),
        *_partners(session, "supplier", Supplier, words, most),
    )


def as_on_file(word: str) -> str:
    """The number of a job, quote, order or rack piece as stored; any other word unchanged.

    >>> as_on_file("q2"), as_on_file("j-5"), as_on_file("hook")
    ('Q-0002', 'J-0005', 'hook')
    """
    letter = next((one for one in LETTERS if is_document(word, one)), None)
    return word if letter is None else document_number(word, letter)


def _holds(word: Word, *columns: InstrumentedAttribute[str]) -> ColumnElement[bool]:
    """Condition that any of the columns contains the word; % and _ are no wildcards."""
    return or_(*(column.icontains(form, autoescape=True) for column in columns for form in word))


def _has(words: Sequence[Word], *columns: InstrumentedAttribute[str]) -> list[ColumnElement[bool]]:
    return [_holds(word, *columns) for word in words]


def _jobs(session: Session, words: Sequence[Word], most: int) -> list[FoundEntry]:
    quote = select(func.max(Quote.number)).where(Quote.job_id == Job.id).correlate(Job).scalar_subquery()
    query = (
        select(Job.number, JobRevision.title, Customer.name, Job.state, quote)
        .join(JobRevision, (JobRevision.job_id == Job.id) & (JobRevision.revision == Job.revision))
        .join(Customer, Customer.id == Job.customer_id)
    )
    for word in words:
        held = or_(
            _holds(word, Job.number, JobRevision.title, Customer.name, JobRevision.enquiry),
            Job.state.in_([form.casefold() for form in word]),
            Job.id.in_(select(Quote.job_id).where(_holds(word, Quote.number))),
            Job.id.in_(select(Invoice.job_id).where(_holds(word, Invoice.number))),
        )
        query = query.where(held)
    rows = session.execute(query.order_by(Job.id.desc()).limit(most))
    return [
        FoundEntry("job", number, f"{title} · {customer} · {state}" + (f" · {quoted}" if quoted else ""))
        for number, title, customer, state, quoted in rows
    ]


def _joint_quotes(session: Session, words: Sequence[Word], most: int) -> list[FoundEntry]:
    query = (
        select(JointQuote.number, Customer.name, func.count(func.distinct(Quote.job_id)))
        .join(JointQuoteMember, JointQuoteMember.joint_quote_id == JointQuote.id)
        .join(Quote, Quote.id == JointQuoteMember.quote_id)
        .join(Job, Job.id == Quote.job_id)
        .join(Customer, Customer.id == Job.customer_id)
        .where(*_has(words, JointQuote.number, Customer.name))
        .group_by(JointQuote.number, Customer.name)
    )
    rows = session.execute(query.order_by(JointQuote.number.desc()).limit(most))
    return [FoundEntry("joint quote", number, f"{customer} · {jobs} jobs") for number, customer, jobs in rows]


def _orders(session: Session, words: Sequence[Word], most: int) -> list[FoundEntry]:
    query = select(Order.number, Supplier.name, Order.state).join(Supplier, Supplier.id == Order.supplier_id)
    query = query.where(*_has(words, Order.number, Supplier.name, Order.state))
    rows = session.execute(query.order_by(Order.id.desc()).limit(most))
    return [FoundEntry("order", number, f"{supplier} · {state}") for number, supplier, state in rows]


def _pieces(session: Session, words: Sequence[Word], most: int) -> list[FoundEntry]:
    query = select(RackPiece).where(
        *_has(words, RackPiece.code, RackPiece.section_text, RackPiece.grade, RackPiece.heat, RackPiece.place)
    )
    rows, unit = session.scalars(query.order_by(RackPiece.id.desc()).limit(most)), shop_unit(session)
    return [
        FoundEntry("piece", piece.code, " · ".join(filter(None, [
            f"{piece.section_text} {piece.grade}", bar_as_typed(piece.length_text, piece.length, unit),
            piece.place, piece.heat, piece.state])))
        for piece in rows
    ]  # fmt: skip


def _partners(
    session: Session, kind: str, who: type[Customer] | type[Supplier], words: Sequence[Word], most: int
) -> list[FoundEntry]:
    query = select(who.name, who.email).where(*_has(words, who.name, who.email))
    rows = session.execute(query.order_by(who.name).limit(most))
    return [FoundEntry(kind, name, email) for name, email in rows]
