"""Whether a new customer may be one that is on file already, typed another way. Begin at `like_customers`."""

from difflib import get_close_matches

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.people import Customer

# How alike two names are spelt that may be one, by difflib's ratio: common practice, no source.
_SPELT_ALIKE = 0.85
_LEAST_LETTERS = 4


def like_customers(session: Session, customer: Customer, job: str) -> tuple[str, ...]:
    """A note where a customer of no other job than this has a name like one on file; else nothing.

    Like is what begins with the other, holds its words, or is spelt nearly so.
    """
    others = select(Job.id).where(Job.customer_id == customer.id, Job.number != job).limit(1)
    if customer.id is not None and session.scalar(others) is not None:
        return ()
    names = session.scalars(select(Customer.name).where(~Customer.retired).order_by(Customer.name))
    known = next((name for name in names if name != customer.name and _may_be_one(customer.name, name)), None)
    if known is None:
        return ()
    return (f"Customer {customer.name} is new. Did you mean {known}, who is on file? Then type that name.",)


def _may_be_one(one: str, other: str) -> bool:
    short, long = sorted((name_key(one), name_key(other)), key=len)
    if short == long or len(short) < _LEAST_LETTERS:
        return False
    held = long.startswith(short) or f" {short} " in f" {long} "
    return held or bool(get_close_matches(short, [long], 1, _SPELT_ALIKE))
