"""What all entries on a job have in common, and scrapped pieces.

Minutes are logged in `time_log`, bars in `bar_log`, bought items and bills in `bill_log`. Functions take an
open writing session and the job's number; the caller commits. Costs are rounded to the currency when they are
logged, at the rate or price of their day, so that all later sums add up to the cent.
"""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.records.crew import PersonRow
from shopquote.records.jobs import Job
from shopquote.records.logs import ScrapNote
from shopquote.records.page import WHO_WORKED
from shopquote.services.jobs.job_states import move_job, on_from_the_end
from shopquote.services.jobs.jobs import find_job, newest_revision
from shopquote.services.shop.shop_on_file import refuse_ahead, shop_currency, words_on_file

# The most pieces that a job may have, so that anything more is a typing error.
MOST_COUNT = 100_000
# An entry of more than so many times the pieces to make, and more than a few, is taken for a typing error.
FAR_OFF_PIECES, FEW_PIECES = 10, 50


@dataclass(frozen=True, slots=True)
class Logged:
    """One logged entry: what a person reads back, and its cost."""

    job: str
    what: str
    cost: Decimal
    minutes: Decimal = Decimal(0)
    note: str = ""


def log_scrap(
    session: Session,
    number: str,
    mark: str,
    count: int,
    *,
    on: date,
    today: date,
    at: datetime,
    reason: str,
    person: str = "",
    source: str | None = None,
    was: int = 0,
) -> Logged:
    """Log scrapped pieces of a mark, with the reason.

    `was` is the count of the entry that this one replaces; `source` as of `log_bars`.

    Raises:
        NotFoundError: no such job or mark.
        InputError: no reason, or a count that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    check_count(count)
    if not reason.strip():
        raise InputError("Scrapped pieces need a reason: --reason TEXT.")
    said = check_pieces(session, job, mark, count, "scrapped", was=was)
    row = ScrapNote(
        job_id=job.id, mark=mark.strip(), count=count, scrapped_on=on, reason=reason.strip(),
        person=person_on_file(session, person), source=source,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return Logged(job.number, said, Decimal(0), note=note)


def person_on_file(session: Session, typed: str) -> str:
    """A person's name as spelt on the list of people, else in earlier entries; a new name as typed."""
    return words_on_file(session, typed, PersonRow.name, *WHO_WORKED)


def check_pieces(session: Session, job: Job, mark: str, count: int, what: str, *, was: int = 0) -> str:
    """Check a count of pieces that is being entered, and return it in words as `told_pieces` does.

    `was` is the count before a correction: a lower one is never doubted.

    Raises:
        NotFoundError: no such mark.
        InputError: more than `FAR_OFF_PIECES` times what is to be made, and more than `FEW_PIECES`.
    """
    if count <= was:
        return told_pieces(session, job, mark, count, what)
    to_make = pieces_to_make(session, job)
    if mark.strip() not in to_make:
        raise NotFoundError(unlike(f"{job.number} has no part {mark!r}.", mark, list(to_make)))
    planned = to_make[mark.strip()]
    # Both limits: ten times a job of one or two pieces is no typing error yet.
    if count > max(FAR_OFF_PIECES * planned, FEW_PIECES):
        raise InputError(
            f"{count:,} x {mark.strip()} {what}, where {planned:,} are to be made: nothing is entered.",
            hint="Type the count again.",
        )
    return _in_words(mark, count, what, planned)


def told_pieces(session: Session, job: Job, mark: str, count: int, what: str) -> str:
    """A count of pieces in words, and how many are to be made if that is fewer; `what` is what became of
    them.
    """
    # Without the check: a later revision may make far fewer, or none of the mark.
    return _in_words(mark, count, what, pieces_to_make(session, job).get(mark.strip(), count))


def _in_words(mark: str, count: int, what: str, planned: int) -> str:
    over = f", where {planned:,} are to be made" if count > planned else ""
    return f"{count} x {mark.strip()} {what}{over}"


def pieces_to_make(session: Session, job: Job) -> dict[str, int]:
    """Pieces to make by mark, by the job's newest revision."""
    revision = newest_revision(session, job)
    return {part.mark: part.per_set * revision.sets for part in revision.parts}


def open_for_log(
    session: Session, number: str | Job, at: datetime, *, paper: bool = False
) -> tuple[Job, str]:
    """The job, moved to a state in which it can be logged on, and a note of that move or "".

    Work logged on a job that is not won shows that the customer agreed, so that it becomes won, and started.
    A `paper` to the customer, such as an invoice, shows the same but starts nothing: deposits precede work.

    Raises:
        NotFoundError: no such job.
        InputError: the job is closed, lost or dropped.
    """
    job = find_job(session, number)
    if job.state == "closed":
        raise InputError(
            f"{job.number} is closed; its figures stand.",
            hint=f'To log on it, open it again first: shopquote close {job.number} --reopen "why"',
        )
    if job.state in ("lost", "dropped"):
        raise InputError(
            f"{job.number} is {job.state}; nothing can be logged on it.",
            hint=on_from_the_end(job),
        )
    # Every state in between is noted: the history then tells why a job that nobody quoted was started.
    steps = {"asked": ("quoted", "won", "started"), "quoted": ("won", "started"), "won": ("started",)}
    path = steps.get(job.state, ())
    if paper:
        # All but "started".
        path = path[:-1]
    was = job.state
    for state in path:
        move_job(job, state, at=at, reason="it was invoiced" if paper else "work was logged")
    return job, f"{job.number} was {was} and is now {path[-1]}." if path else ""


def check_rework(rework: bool, reason: str) -> None:
    """Refuse rework without a reason.

    Raises:
        InputError: there is none.
    """
    if rework and not reason.strip():
        raise InputError("Rework needs a reason: --reason TEXT.")


def check_count(count: int) -> None:
    """Refuse a count below 1 or above `MOST_COUNT`.

    Raises:
        InputError: it is out of range.
    """
    if not 1 <= count <= MOST_COUNT:
        raise InputError(f"Count is {count}; expected 1 to {MOST_COUNT}.")


def unlike(message: str, word: str, known: Sequence[str]) -> str:
    """A message, and the known word nearest to the one typed."""
    nearest = nearest_word(word, known)
    return f"{message} Did you mean {nearest!r}?" if nearest else message


def plain_number(number: Decimal) -> str:
    """A number without trailing zeros."""
    return f"{number.normalize():f}"


def amount_of(session: Session, amount: Decimal) -> Decimal:
    """An amount of money in the shop's currency, rounded to its digits.

    Raises:
        InputError: below zero, or no number.
    """
    if not amount.is_finite() or amount < 0:
        raise InputError(f"Amount is {amount}; expected a number of at least 0.")
    return round_money(amount, shop_currency(session))
