"""Review: what finished jobs earned, in charts, and suggested standards to accept."""

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.review.variance import per_cent
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Table
from shopquote.outputs.tables.month_words import month_of
from shopquote.outputs.tables.review_columns import OPERATIONS, SUGGESTIONS, group_columns, jobs_columns
from shopquote.page.desk import desk
from shopquote.page.papers import download
from shopquote.page.pictures import bars_chart
from shopquote.services.review.accepted import accept_suggestions
from shopquote.services.review.job_groups import jobs_of_group
from shopquote.services.review.review import GROUPINGS
from shopquote.services.review.review_answer import ReviewWish, answer_review, filters_typed
from shopquote.services.shop.shop_on_file import the_shop

rooms = Blueprint("review", __name__)
# The workbook has every row.
MOST_ROWS, MOST_DRAWN = 100, 15


@rooms.get("/review")
def show() -> str:
    """Show finished jobs, grouped as asked."""
    by = request.args.get("by", "customer")
    by = by if by in GROUPINGS else "customer"
    days = _days(request.args)
    group = request.args.get("group", "").strip()
    held = desk()
    with held.database.reading() as session:
        wish = ReviewWish(**days, by=(by,))
        answer = answer_review(session, wish, today=held.now().date())
        many, setting = answer.many, Setting(answer.many.currency)
        rows: Sequence[Any] = jobs_of_group(session, many.jobs, by, group) if group else many.jobs
    # The worst first, because there is most to learn.
    rows = sorted(rows, key=lambda row: row.margin_steps)
    shown, groups = rows[:MOST_ROWS], many.groups.get(by, ())
    worth = answer.lesson.worth_taking
    return render_template(
        "review.html", answer=answer, month=month_of(answer), by=by, days=days, group=group,
        groupings=GROUPINGS, worth=worth,
        jobs=Table(jobs_columns(shown), shown, setting=setting), job_address=job_address,
        groups=Table(group_columns(by.capitalize()), groups[:MOST_ROWS], setting=setting),
        operations=Table(OPERATIONS, many.operations, setting=setting),
        suggestions=Table(SUGGESTIONS, worth, setting=setting),
        group_address=lambda row: group_address(by, days, row.name),
        chart=bars_chart(
            [(row.name, pct, group_address(by, days, row.name)) for row, pct in _margins(groups)],
            " %", f"margin by {by}",
        ),
        job_chart=bars_chart(
            [(row.title, pct, job_address(row)) for row, pct in _margins(rows)], " %", "margin by job",
        ),
    )  # fmt: skip


def _days(typed: Mapping[str, str]) -> dict[str, Any]:
    """The period in words: a month, or all since a day."""
    since, month = (typed.get(name, "").strip() for name in ("since", "month"))
    return {"month": month or None, "since": None if month else since or None}


def _margins(rows: Sequence[Any]) -> list[tuple[Any, float]]:
    """The first rows with a price, as many as the chart holds, with their margin in per cent of it."""
    held = ((row, per_cent(row.price - row.cost_actual, row.price)) for row in rows)
    return [(row, float(pct)) for row, pct in held if pct is not None][:MOST_DRAWN]


def job_address(row: Any) -> str:
    """The page of the job in a row."""
    return url_for("quote.show", job=row.number)


def group_address(by: str, days: Mapping[str, Any], name: str) -> str:
    """The page that lists the jobs of a group."""
    return url_for("review.show", by=by, **days, group=name, _anchor="jobs")


@rooms.get("/review/month/<month>")
def month_paper(month: str) -> Response:
    """Download the one-page PDF of a month."""
    from shopquote.outputs.papers.month_paper import write_month_paper

    held = desk()
    with held.database.reading() as session, tempfile.TemporaryDirectory() as folder:
        answer = answer_review(session, ReviewWish(month=month), today=held.now().date())
        shop, currency = the_shop(session), answer.many.currency
        return download(
            write_month_paper(
                month_of(answer), Path(folder), shop=shop.name, paper=shop.paper, currency=currency
            )
        )


@rooms.post("/review")
def take() -> Response:
    """Accept suggested standards from today on, as learned from the jobs that were shown."""
    held, today = desk(), desk().now().date()
    with held.writing() as session:
        _, learned = filters_typed(session, ReviewWish(**_days(request.form)), today)
        taken = accept_suggestions(session, [request.form.get("take", "")], on=today, filters=learned)
    flash(f"Accepted: {', '.join(item.standard for item in taken)}. Stored quotes stay as they are.")
    return redirect(url_for("review.show"), 303)
