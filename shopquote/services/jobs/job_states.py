"""The states of a job and the moves between them."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Literal

from sqlalchemy.orm import object_session

from shopquote.errors import InputError
from shopquote.reading.kinds import word_typed
from shopquote.records.jobs import Job, StateChange

JobState = Literal["asked", "quoted", "won", "started", "finished", "closed", "lost", "dropped"]

# From each state, where a job may go next. Closing and opening a closed job again is
# the business of `shopquote close`, which works out and keeps the figures.
MOVES: Mapping[str, tuple[JobState, ...]] = {
    "asked": ("quoted", "lost", "dropped"),
    "quoted": ("won", "lost", "dropped"),
    "won": ("started", "dropped"),
    "started": ("finished", "dropped"),
    "finished": ("closed", "dropped"),
    "closed": ("finished",),
    "lost": (),
    "dropped": (),
}

# What the shop has to make: sold, and not finished.
STATES_TO_MAKE = ("won", "started")
# Nothing is decided yet.
STATES_ASKED = ("asked", "quoted")
# A job may be changed until its work is done.
STATES_TO_REVISE = (*STATES_ASKED, *STATES_TO_MAKE)

# Nothing is cut for a job any more; the rack pieces promised to it are free again.
STATES_OVER = ("finished", "closed", "lost", "dropped")
# Of a job whose quote was decided on; nobody decided on the price of one that was dropped.
WON_STATES = (*STATES_TO_MAKE, "finished", "closed")
LOST_STATES = ("lost",)
# What the customer says to its quote changes nothing any more.
STATES_ENDED = ("closed", "lost", "dropped")


def move_job(job: Job, to: str, *, at: datetime, reason: str = "") -> None:
    """Move a job to another state and note it.

    Raises:
        InputError: the move is not open to it; says which are.
    """
    to = state_of_job(to)
    if to == job.state:
        raise InputError(f"Job {job.number} is {to} already.")
    moves = MOVES[job.state]
    if to not in moves:
        if not moves:
            raise InputError(
                f"Job {job.number} is {job.state}, which is its end; it cannot become {to}.",
                hint=on_from_the_end(job),
            )
        raise InputError(
            f"Job {job.number} is {job.state} and cannot become {to}; it can become {one_of(moves)}.",
            hint=_way_to(job, to),
        )
    job.state_changes.append(StateChange(from_state=job.state, to_state=to, at=at, reason=reason))
    job.state = to
    # Of a finished job the bars were sawn, or lie there: its closing tells, and frees what is left.
    if to in STATES_ENDED:
        _free_its_bars(job)


def _free_its_bars(job: Job) -> None:
    from shopquote.services.jobs.promises import free_promised, promised_to  # the classes of rack and orders

    session = object_session(job)
    if session is not None:
        free_promised(session, promised_to(session, job))


def on_from_the_end(job: Job) -> str:
    """How a job that is over goes on, if at all."""
    if job.state == "closed":
        return f'It is opened again with a reason: shopquote close {job.number} --reopen "why"'
    return f"{asked_again(job)}."


def asked_again(job: Job) -> str:
    """How a job that is over is made once more, in words to go on behind."""
    return f"Asked for again, it is a new job: shopquote job export {job.number}, then job add"


def way_to_won(job: Job) -> str:
    """How a job that is not won comes to be, in a sentence with its command."""
    if job.state in ("lost", "dropped"):
        return on_from_the_end(job)
    if job.state == "asked":
        return f"Quote it first: shopquote quote {job.number}"
    return f"When the customer has ordered: shopquote quotes accepted {job.number}"


def not_won_words(job: Job) -> str:
    """Of a job that nobody ordered, or that is over without being made, a warning; else empty."""
    if job.state in ("lost", "dropped"):
        return f"job {job.number} is {job.state}; nothing is made for it."
    if job.state in STATES_ASKED:
        return f"job {job.number} is only {job.state}; the customer has not accepted yet."
    return ""


def state_of_job(typed: str) -> str:
    """A state as it is called.

    Raises:
        InputError: says the states and the nearest.
    """
    return word_typed("State", tuple(MOVES), typed)


def one_of(words: Sequence[str]) -> str:
    """Words as a sentence lists choices: a, b or c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _way_to(job: Job, to: str) -> str | None:
    """The states between here and there, so that a person knows what is missing."""
    ways: list[list[str]] = [[job.state]]
    seen = {job.state}
    for way in ways:
        for state in MOVES[way[-1]]:
            if state == to:
                return f"The way there: {' -> '.join([*way, to])}."
            if state not in seen:
                seen.add(state)
                ways.append([*way, state])
    return None
