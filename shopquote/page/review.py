"""Review: what finished jobs earned, in pictures, and standards to take with a press."""

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Table
from shopquote.outputs.tables.review_columns import JOBS, OPERATIONS, SUGGESTIONS, group_columns
from shopquote.page.desk import desk
from shopquote.page.pictures import bars_chart
from shopquote.services.review.accepted import accept_suggestions
from shopquote.services.review.review import GROUPINGS
from shopquote.services.review.review_answer import ReviewWish, answer_review

rooms = Blueprint("review", __name__)
MOST_ROWS, MOST_DRAWN = 100, 15


@rooms.get("/review")
def show() -> str:
    """Finished jobs, grouped by what is asked."""
    by = request.args.get("by", "customer")
    by = by if by in GROUPINGS else "customer"
    since = request.args.get("since", "").strip()
    held = desk()
    with held.database.reading() as session:
        wish = ReviewWish(since=since or None, by=(by,))
        answer = answer_review(session, wish, today=held.now().date())
    many, setting = answer.many, Setting(answer.many.currency)
    rows = sorted(many.jobs, key=lambda row: row.margin_steps)
    groups = many.groups.get(by, ())
    worth = answer.lesson.worth_taking
    return render_template(
        "review.html", answer=answer, by=by, since=since, groupings=GROUPINGS, worth=worth,
        jobs=Table(JOBS, rows[:MOST_ROWS], setting=setting), job_address=job_address,
        groups=Table(group_columns(by.capitalize()), groups[:MOST_ROWS], setting=setting),
        operations=Table(OPERATIONS, many.operations, setting=setting),
        suggestions=Table(SUGGESTIONS, worth, setting=setting),
        chart=bars_chart(_drawn(groups, "name"), " %", f"margin by {by}"),
        job_chart=bars_chart(_drawn(_with_price(rows), "title"), " %", "margin by job"),
    )  # fmt: skip


def _with_price(rows: Any) -> list[Any]:
    return [row for row in rows if row.price]


def _drawn(rows: Any, name: str) -> list[tuple[str, float]]:
    """Names with their margin in per cent of the price."""
    return [
        (str(getattr(row, name)), float((row.price - row.cost_actual) / row.price * 100))
        for row in rows[:MOST_DRAWN]
        if row.price
    ]


def job_address(row: Any) -> str:
    """Where a job of a row is opened."""
    return url_for("quote.show", job=row.number)


@rooms.post("/review")
def take() -> Response:
    """Suggested standards become the shop's own from today."""
    held = desk()
    with held.writing() as session:
        taken = accept_suggestions(session, [request.form.get("take", "")], on=held.now().date())
    flash(f"Taken: {', '.join(item.standard for item in taken)}. Stored quotes stay as they are.")
    return redirect(url_for("review.show"), 303)
