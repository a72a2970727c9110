"""Notice when a new customer may be one already on file, spelt differently. Begin at `like_customers`."""

from difflib import get_close_matches

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.people import Customer

# Least similarity of two spellings, by difflib's ratio 0 to 1, to ask about: common practice, no source.
_SPELT_ALIKE = 0.85
# Shorter names, such as initials, are contained in too many others.
_LEAST_LETTERS = 4


def like_customers(session: Session, customer: Customer, job: str) -> tuple[str, ...]:
    """A note for the shop if the customer has no other job and its name is like one on file; else empty.

    Names are alike where one begins with the other, contains it as whole words, or is spelt nearly the same.
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
