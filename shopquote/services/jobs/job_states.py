"""The states of a job and the moves between them."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Literal

from sqlalchemy.orm import object_session

from shopquote.errors import InputError
from shopquote.reading.kinds import word_typed
from shopquote.records.jobs import Job, StateChange

JobState = Literal["asked", "quoted", "won", "started", "finished", "closed", "lost", "dropped"]

# The states that may follow each state. Closing and reopening are left to `shopquote close`, which works out
# and stores the figures.
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

# Sold and not finished: the shop has to make it.
STATES_TO_MAKE = ("won", "started")
# The customer has not decided yet.
STATES_ASKED = ("asked", "quoted")
# A job may be changed until its work is done.
STATES_TO_REVISE = (*STATES_ASKED, *STATES_TO_MAKE)

# Nothing more is cut for such a job.
STATES_OVER = ("finished", "closed", "lost", "dropped")
# Jobs whose quote the customer decided on. A dropped job counts as neither: nobody decided on its price.
WON_STATES = (*STATES_TO_MAKE, "finished", "closed")
LOST_STATES = ("lost",)
# Over for good: an answer to the quote changes nothing, and promised rack pieces are freed.
STATES_ENDED = ("closed", "lost", "dropped")


def move_job(job: Job, to: str, *, at: datetime, reason: str = "") -> None:
    """Move a job to another state, note the change, and free its promised pieces where it ends.

    Raises:
        InputError: the state does not exist or may not follow the present one; says which may.
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
    # A finished job keeps its promised pieces: closing books those that were sawn and frees the rest.
    if to in STATES_ENDED:
        _free_its_bars(job)


def _free_its_bars(job: Job) -> None:
    from shopquote.services.jobs.promises import give_up_bars  # the classes of rack and orders

    session = object_session(job)
    if session is not None:
        give_up_bars(session, job)


def on_from_the_end(job: Job) -> str:
    """Hint for a job in a final state: how it can be continued or made again."""
    if job.state == "closed":
        return f'It is opened again with a reason: shopquote close {job.number} --reopen "why"'
    return f"{asked_again(job)}."


def asked_again(job: Job) -> str:
    """Hint for making the same job once more, as the start of a sentence."""
    return f"Asked for again, it is a new job: shopquote job export {job.number}, then job add"


def way_to_won(job: Job) -> str:
    """Hint for a job that is not won: what makes it so, with the command."""
    if job.state in ("lost", "dropped"):
        return on_from_the_end(job)
    if job.state == "asked":
        return f"Quote it first: shopquote quote {job.number}"
    return f"When the customer has ordered: shopquote quotes accepted {job.number}"


def not_won_words(job: Job) -> str:
    """A warning about a job that is not ordered, or is lost or dropped; else empty."""
    if job.state in ("lost", "dropped"):
        return f"job {job.number} is {job.state}; nothing is made for it."
    if job.state in STATES_ASKED:
        return f"job {job.number} is only {job.state}; the customer has not accepted yet."
    return ""


def state_of_job(typed: str) -> str:
    """The state that a typed word names.

    Raises:
        InputError: no state; the message names all and the nearest.
    """
    return word_typed("State", tuple(MOVES), typed)


def one_of(words: Sequence[str]) -> str:
    """Words joined as choices: a, b or c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _way_to(job: Job, to: str) -> str | None:
    """The shortest chain of states from the job's to `to`, for a hint; None where none leads there.

    Breadth first: `ways` grows while it is walked, so that shorter chains are extended before longer ones.
    """
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
