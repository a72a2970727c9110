"""The start page: jobs by state, what is late, waiting or without bars, and the search."""

from datetime import date
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.frozen import dataclass
from shopquote.outputs.table import Table
from shopquote.outputs.tables.job_list_tables import JOBS
from shopquote.page.desk import desk
from shopquote.reading.kinds.documents import is_document, scanned_code
from shopquote.services.buying.needs import without_bars
from shopquote.services.jobs.drafts import list_drafts
from shopquote.services.jobs.job_list import JobLine, newest_jobs
from shopquote.services.jobs.job_states import STATES_OVER, STATES_TO_MAKE, state_of_job
from shopquote.services.shop.find import LETTERS, FoundEntry, as_on_file, find
from shopquote.services.shop.lists import read_list
from shopquote.services.shop.shop_on_file import the_shop

rooms = Blueprint("office", __name__)
MOST_OF_A_STATE, MOST_LISTED = 8, 200
# In the order in which they need somebody: what waits for an answer, what is made, what is asked.
SHOWN_STATES = (
    ("quoted", "Waiting for an answer"), ("won", "Won, to be started"), ("started", "On the floor"),
    ("asked", "Asked, not quoted"), ("finished", "Finished, to be closed"),
)  # fmt: skip


# Lists that a price needs: a new shop is shown those that are empty.
TO_BEGIN = (
    ("suppliers", "Who you buy bars from"), ("stock", "The bars that you buy, with their prices"),
    ("benders", "What you bend on, with its formers"),
)  # fmt: skip


@dataclass(frozen=True)
class StateGroup:
    """Jobs of one state as the start page shows them; `more` counts those left out."""

    state: str
    title: str
    jobs: list[JobLine]
    more: int


@rooms.get("/")
def start() -> str | Response:
    """Show jobs by state; with `find`, what contains those words."""
    typed = request.args.get("find", "").strip()
    held = desk()
    today = held.now().date()
    with held.database.reading() as session:
        if typed:
            return _found(session, typed)
        groups = groups_by_state(session)
        late, more_late = newest_jobs(session, MOST_OF_A_STATE, late_on=today)
        shop = the_shop(session)
        to_make = {line.job for group in groups if group.state in STATES_TO_MAKE for line in group.jobs}
        bare = without_bars(session, to_make | {line.job for line in late if line.state in STATES_TO_MAKE})
        any_job = bool(groups or newest_jobs(session, 1)[0])
        lacking = [] if any_job else lists_to_begin(session)
        return render_template(
            "start.html", lacking=lacking, groups=groups, bare=bare, late=late, more_late=more_late,
            shop=shop, today=today, days_late=days_late, drafts=list_drafts(session),
            any_job=any_job,
        )  # fmt: skip


def _found(session: Any, typed: str) -> str | Response:
    """What contains the typed words, or a redirect to the one thing that a code names."""
    job, slash, mark = "".join(scanned_code(typed).split()).partition("/")
    if slash and mark and is_document(job, "J"):
        return redirect(url_for("floor.sheet", code=job, mark=mark))
    found = find(session, typed)
    # A full number, as a scanner types it, leads straight to the thing.
    named = [one for one in found if one.name.casefold() == as_on_file(typed).casefold()]
    if not named and any(is_document(typed, letter) for letter in LETTERS):
        named = list(found)  # the number of a quote leads to its job
    if len(named) == 1:
        return redirect(address_of(named[0]))
    return render_template("found.html", typed=typed, found=found, address=address_of)


def lists_to_begin(session: Any) -> list[tuple[str, str]]:
    """The lists that a first price needs and that are empty, with what to put on them."""
    return [(name, words) for name, words in TO_BEGIN if not read_list(session, name).entries]


@rooms.get("/jobs")
def jobs() -> str:
    """List the jobs of a state, or the late ones, newest first."""
    asked = request.args.get("state", "")
    state = state_of_job(asked) if asked else ""
    late = request.args.get("late") == "yes"
    held = desk()
    with held.database.reading() as session:
        lines, older = newest_jobs(
            session, MOST_LISTED, states=[state] if state else [], late_on=held.now().date() if late else None
        )
    title = (
        "Late"
        if late
        else next((words for word, words in SHOWN_STATES if word == state), state or "All jobs")
    )
    return render_template(
        "jobs.html", title=title, table=Table(JOBS, lines[::-1], title), older=older, job_address=job_address
    )


def job_address(line: JobLine) -> str:
    """The page of a job."""
    return url_for("quote.show", job=line.job)


def groups_by_state(session: Any) -> list[StateGroup]:  # a Session; the page does not import SQLAlchemy
    """The newest jobs of each state that needs somebody."""
    groups = []
    for state, title in SHOWN_STATES:
        # A few of each state, so that the page stays quick with ten thousand jobs.
        lines, more = newest_jobs(session, MOST_OF_A_STATE, states=[state])
        if lines:
            groups.append(StateGroup(state, title, lines[::-1], more))
    return groups


def days_late(job: JobLine, today: date) -> int:
    """Days that an unfinished job is past its due day; 0 if it is not late."""
    return (today - job.due).days if job.due and job.due < today and job.state not in STATES_OVER else 0


def address_of(found: FoundEntry) -> str:
    """The page of a thing that was found."""
    if found.kind == "job":
        return url_for("quote.show", job=found.name)
    if found.kind == "joint quote":
        return url_for("joint.show", number=found.name)
    if found.kind == "order":
        return url_for("bars.order", number=found.name)
    if found.kind == "piece":
        return url_for("bars.piece", code=found.name)
    return url_for("shop.entries", name=f"{found.kind}s", find=found.name)
