"""Reviews and logs as JSON. The keys are a contract: other programs read them."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.outputs.looks import MONEY, Setting, json_number
from shopquote.outputs.table import json_rows
from shopquote.outputs.tables.review_columns import (
    AT_BOTTLENECK,
    BY_HAND,
    DONE,
    JOBS,
    LOG,
    NEW_PACES,
    ODD,
    OPERATIONS,
    REPEATS,
    SUGGESTIONS,
    WIN_RATES,
    categories_json,
    group_columns,
    parts_json,
    variance_columns,
)

if TYPE_CHECKING:
    from shopquote.calc.review.ranges import BackTest
    from shopquote.services.floor.log_list import JobLog
    from shopquote.services.floor.log_words import Done
    from shopquote.services.review.job_figures import JobFigures
    from shopquote.services.review.job_groups import Group
    from shopquote.services.review.job_review import JobReview
    from shopquote.services.review.learning import StandardsLesson, Suggestion
    from shopquote.services.review.review import ManyReview


def _money(amount: Decimal | None, currency: str) -> str | None:
    return None if amount is None else str(MONEY.data(amount, Setting(currency)))


def review_json(
    many: "ManyReview",
    lesson: "StandardsLesson",
    files: Iterable[Path],
    details: Sequence["JobReview"] = (),
    by: Sequence[str] = (),
) -> dict[str, object]:
    """JSON of `review`: every job, totals, suggestions and files; named jobs in full."""
    setting = Setting(many.currency)
    full = {review.job: review for review in details}
    operations = json_rows(OPERATIONS, many.operations, setting)
    answer: dict[str, object] = {
        "jobs": [
            job_json(full[row.number]) | _money_in(row, setting)
            if row.number in full
            else figures_json(row, setting)
            for row in many.jobs
        ],
        "totals": totals_json(many),
        "suggestions": json_rows(SUGGESTIONS, lesson.worth_taking, setting),
        "files": list(files),
        "currency": many.currency,
        **_groups(many, by, operations),
        "operations": operations,
        "gaps": {"jobs": many.gaps[0], "at_most": _money(many.gaps[1], many.currency)},
        "quoted_ranges": dict(zip(("inside", "jobs"), many.ranges_held, strict=True)),
        "win_rates": json_rows(WIN_RATES, many.win_rates),
        "odd": json_rows(ODD, lesson.oddities, setting),
        "repeats": json_rows(REPEATS, lesson.repeats),
        "by_hand": json_rows(BY_HAND, lesson.by_hand),
        "new_paces": json_rows(NEW_PACES, lesson.new_paces),
        "told_paces": dict(lesson.told_paces),
    }
    if lesson.back_test is not None:
        answer["back_test"] = back_test_json(lesson.back_test)
    return answer


def _money_in(row: "JobFigures", setting: Setting) -> dict[str, object]:
    """Invoiced, to invoice, paid and overdue of a job, the same figures as in a row of many jobs."""
    (told,) = json_rows(JOBS, [row], setting)
    return {"invoiced_so_far": told["invoiced"]} | {
        name: told[name] for name in ("to_invoice", "paid", "overdue")
    }


def _groups(many: "ManyReview", by: Sequence[str], operations: object) -> dict[str, object]:
    """The groupings asked for; no key if none was."""
    setting = Setting(many.currency)
    groups: dict[str, object] = {
        name: json_rows(group_columns("name"), groups, setting)
        for name, groups in many.groups.items()
        if name in by
    }
    if "operation" in by:
        groups["operation"] = operations
    return {"groups": groups} if by else {}


def figures_json(row: "JobFigures", setting: Setting) -> dict[str, object]:
    """JSON of one job among many."""
    (answer,) = json_rows(JOBS, [row], setting)
    return {**answer, "categories": categories_json(row.estimated, row.actual, setting)}


def job_json(review: "JobReview") -> dict[str, object]:
    """JSON of one job in full, with the four parts of every variance."""
    currency, setting = review.currency, Setting(review.currency)
    total = review.total
    estimated, actual = review.estimated, review.actual
    return {
        "job": review.job,
        "title": review.title,
        "customer": review.customer,
        "state": review.state,
        "done_on": review.done_on,
        "closed_on": review.closed_on or None,
        "quote": review.quote,
        "currency": currency,
        "quoted": _money(review.quoted, currency),
        "price": _money(review.price, currency),
        "invoiced": review.invoiced,
        "cost_estimated": _money(total.estimated, currency),
        "cost_actual": _money(total.actual, currency),
        "margin_estimated": _money(estimated.margin, currency),
        "margin_actual": _money(actual.margin, currency),
        "margin_estimated_pct": estimated.margin_pct,
        "margin_actual_pct": actual.margin_pct,
        "margin_per_hour": actual.margin_per_hour,
        "contribution_per_hour": actual.contribution_per_hour,
        "categories": {
            name: {"estimated": MONEY.data(row.estimated, setting), "actual": MONEY.data(row.actual, setting)}
            for name, row in review.categories.items()
        },
        "variance": parts_json(total, setting),
        "lines": json_rows(variance_columns(setting), review.lines, setting),
        "minutes_estimated": json_number(total.minutes_estimated),
        "minutes_actual": json_number(total.minutes_actual),
        "minutes_rework": json_number(review.minutes_rework),
        "scrapped": [
            {"mark": mark, "count": count, "reason": reason} for mark, count, reason in review.scrapped
        ],
        "as_quoted": review.assumed,
        "as_quoted_at_most": _money(review.gap, currency),
        "allowed_not_spent": _money(review.not_spent, currency),
        "as_quoted_minutes": json_number(review.minutes_assumed),
        "why": review.sentences,
        "notes": review.notes,
    }


def totals_json(many: "ManyReview") -> dict[str, object]:
    """JSON of the sum of all jobs."""
    total, setting = many.total, Setting(many.currency)
    bottleneck = many.bottleneck
    return {
        **group_json(total, setting),
        "contingency_not_spent": _money(many.contingency_not_spent[1], many.currency),
        "categories": categories_json(many.estimated, many.actual, setting),
        "bottleneck": None
        if bottleneck is None
        else {
            "operation": bottleneck.operation,
            "hours": bottleneck.hours,
            "earned_per_hour": MONEY.plain(bottleneck.per_hour, setting),
            "jobs": json_rows(AT_BOTTLENECK, bottleneck.jobs, setting),
            "kinds": json_rows(AT_BOTTLENECK, bottleneck.kinds, setting),
        },
    }


def group_json(group: "Group", setting: Setting) -> dict[str, object]:
    """JSON of one group of jobs."""
    return json_rows(group_columns("name"), [group], setting)[0]


def suggestion_json(item: "Suggestion", currency: str) -> dict[str, object]:
    """JSON of a standard as it is, as the jobs show it, and as suggested, in its own unit."""
    return json_rows(SUGGESTIONS, [item], Setting(currency))[0]


def back_test_json(test: "BackTest") -> dict[str, object]:
    """JSON of how ranges and standards would have done on jobs not used for learning."""
    return {
        "jobs": test.jobs,
        "level_pct": round(100 * test.level),
        "inside": test.inside,
        "covered_pct": round(test.covered_pct, 1),
        "error_now_pct": round(test.error_now_pct, 1),
        "error_learned_pct": round(test.error_learned_pct, 1),
        "off_now_pct": round(test.off_now_pct, 1),
        "off_learned_pct": round(test.off_learned_pct, 1),
        "usual_low_pct": round(test.low_pct, 1),
        "usual_high_pct": round(test.high_pct, 1),
    }


def log_json(held: "JobLog") -> dict[str, object]:
    """JSON of all that is logged on a job."""
    return {"job": held.job, "state": held.state, "rows": json_rows(LOG, held.rows, Setting(held.currency))}


def done_json(done: "Done") -> dict[str, object]:
    """JSON of what one command logged."""
    rows = json_rows(DONE, done.rows, Setting(done.currency))
    left_out = [str(fault) for fault in done.left_out]
    return {"job": done.job, "logged": rows, "logged_before": done.before, "left_out": left_out}
