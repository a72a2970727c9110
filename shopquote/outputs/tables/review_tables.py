"""Reviews and logs for people and programs: terminal tables and JSON. Computes nothing of its own."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money
from shopquote.calc.pricing.answers import CATEGORIES
from shopquote.calc.review.variance import Variance, per_cent
from shopquote.outputs.tables.show import console, new_table, print_facts, print_table

if TYPE_CHECKING:
    from shopquote.calc.review.ranges import BackTest
    from shopquote.services.floor.log_words import Done, JobLog
    from shopquote.services.review.learning import ByHand, StandardsLesson, Suggestion
    from shopquote.services.review.review import Group, JobReview, ManyReview, WinRate
    from shopquote.services.review.review_answer import ReviewAnswer
    from shopquote.services.review.review_sums import JobFigures

MOST_ROWS = 40


def money_text(amount: Decimal | None, currency: str) -> str | None:
    """An amount in the currency's own digits, as JSON carries it."""
    return None if amount is None else f"{round_money(amount, currency):f}"


# ---- JSON -------------------------------------------------------------------------------------


def review_json(
    many: "ManyReview",
    lesson: "StandardsLesson",
    files: Iterable[Path],
    details: Sequence["JobReview"] = (),
    by: Sequence[str] = (),
) -> dict[str, object]:
    """The answer of `review`: every job, the totals, suggestions and files; named jobs in full."""
    full = {review.job: review for review in details}
    answer: dict[str, object] = {
        "jobs": [
            job_json(full[row.number]) if row.number in full else figures_json(row, many.currency)
            for row in many.jobs
        ],
        "totals": totals_json(many),
        "suggestions": [suggestion_json(item, many.currency) for item in lesson.worth_taking],
        "files": list(files),
        "currency": many.currency,
    }
    if by:
        answer["groups"] = {
            name: [group_json(group, many.currency) for group in groups]
            for name, groups in many.groups.items()
            if name in by
        }
    answer["operations"] = [
        {
            "operation": row.operation,
            "minutes_estimated": _number(row.minutes_estimated),
            "minutes_actual": _number(row.minutes_actual),
            "minutes_rework": _number(row.minutes_rework),
            "estimated": money_text(row.estimated, many.currency),
            "actual": money_text(row.actual, many.currency),
            "jobs": row.jobs,
        }
        for row in many.operations
    ]
    inside, stated = many.ranges_held
    answer["quoted_ranges"] = {"jobs": stated, "inside": inside}
    answer["win_rates"] = [
        {"margin": row.band, "won": row.won, "lost": row.lost, "open": row.open, "won_pct": row.won_pct}
        for row in many.win_rates
    ]
    answer["odd"] = [
        {
            "job": odd.job,
            "operation": odd.operation,
            "logged": _number(odd.logged),
            "expected": _number(odd.expected),
        }
        for odd in lesson.oddities
    ]
    answer["repeats"] = [
        {
            "title": item.title,
            "customer": item.customer,
            "runs": item.runs,
            "sets": item.sets,
            "minutes_a_set_first": _number(item.first),
            "minutes_a_set_last": _number(item.last),
            "learning_rate": item.rate,
        }
        for item in lesson.repeats
    ]
    answer["by_hand"] = [
        {
            "operation": hand.operation,
            "times": _number(hand.times),
            "low": _number(hand.low),
            "high": _number(hand.high),
            "jobs": hand.jobs,
        }
        for hand in lesson.by_hand
    ]
    if "operation" in by:
        answer["groups"] = {**_dict(answer.get("groups")), "operation": answer["operations"]}
    if lesson.back_test is not None:
        answer["back_test"] = back_test_json(lesson.back_test)
    return answer


def _dict(value: object) -> dict[str, object]:
    return dict(value) if isinstance(value, dict) else {}


def figures_json(row: "JobFigures", currency: str) -> dict[str, object]:
    """One job of many."""
    return {
        "job": row.number,
        "title": row.title,
        "customer": row.customer,
        "state": row.state,
        "done_on": row.done_on,
        "price": money_text(row.price, currency),
        "cost_estimated": money_text(row.cost_estimated, currency),
        "cost_actual": money_text(row.cost_actual, currency),
        "margin_estimated_pct": per_cent(row.quoted - row.cost_estimated, row.quoted),
        "margin_actual_pct": per_cent(row.price - row.cost_actual, row.price),
        "categories": _categories(row.estimated, row.actual, currency),
        "minutes_estimated": _number(row.minutes_estimated),
        "minutes_actual": _number(row.minutes_actual),
        "as_quoted": row.assumed,
    }


def _categories(estimated: Sequence[Decimal], actual: Sequence[Decimal], currency: str) -> dict[str, object]:
    return {
        name: {
            "estimated": money_text(estimated[index], currency),
            "actual": money_text(actual[index], currency),
        }
        for index, name in enumerate(CATEGORIES)
    }


def job_json(review: "JobReview") -> dict[str, object]:
    """One job in full, with the parts of every variance."""
    currency = review.currency
    total = review.total
    categories = review.categories
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
        "quoted": money_text(review.quoted, currency),
        "price": money_text(review.price, currency),
        "invoiced": review.invoiced,
        "cost_estimated": money_text(total.estimated, currency),
        "cost_actual": money_text(total.actual, currency),
        "margin_estimated": money_text(estimated.margin, currency),
        "margin_actual": money_text(actual.margin, currency),
        "margin_estimated_pct": estimated.margin_pct,
        "margin_actual_pct": actual.margin_pct,
        "margin_per_hour": actual.margin_per_hour,
        "contribution_per_hour": actual.contribution_per_hour,
        "categories": {
            name: {
                "estimated": money_text(row.estimated, currency),
                "actual": money_text(row.actual, currency),
            }
            for name, row in categories.items()
        },
        "variance": _parts(total, currency),
        "lines": [_line_json(line, currency) for line in review.lines],
        "minutes_estimated": _number(total.minutes_estimated),
        "minutes_actual": _number(total.minutes_actual),
        "minutes_rework": _number(review.minutes_rework),
        "scrapped": [
            {"mark": mark, "count": count, "reason": reason} for mark, count, reason in review.scrapped
        ],
        "as_quoted": review.assumed,
        "why": review.sentences,
        "notes": review.notes,
    }


def _parts(row: Variance, currency: str) -> dict[str, str | None]:
    return {name: money_text(amount, currency) for name, amount in row.parts.items()}


def _line_json(line: Variance, currency: str) -> dict[str, object]:
    return {
        "category": line.category,
        "name": line.name,
        "estimated": money_text(line.estimated, currency),
        "actual": money_text(line.actual, currency),
        "difference": money_text(line.difference, currency),
        "parts": _parts(line, currency),
        "minutes_estimated": _number(line.minutes_estimated),
        "minutes_actual": _number(line.minutes_actual),
    }


def totals_json(many: "ManyReview") -> dict[str, object]:
    """The sum of all jobs."""
    total, currency = many.total, many.currency
    bottleneck = many.bottleneck
    return {
        **group_json(total, currency),
        "categories": _categories(many.estimated, many.actual, currency),
        "bottleneck": None
        if bottleneck is None
        else {
            "operation": bottleneck.operation,
            "hours": bottleneck.hours,
            "earned_per_hour": money_text(bottleneck.per_hour, currency),
        },
    }


def group_json(group: "Group", currency: str) -> dict[str, object]:
    """Jobs added up."""
    return {
        "name": group.name,
        "jobs": group.jobs,
        "price": money_text(group.price, currency),
        "cost_estimated": money_text(group.cost_estimated, currency),
        "cost_actual": money_text(group.cost_actual, currency),
        "margin": money_text(group.margin, currency),
        "margin_estimated_pct": group.margin_estimated_pct,
        "margin_actual_pct": group.margin_pct,
        "margin_per_hour": money_text(group.margin_per_hour, currency),
        "minutes_estimated": _number(group.minutes_estimated),
        "minutes_actual": _number(group.minutes_actual),
        "minutes_rework": _number(group.minutes_rework),
    }


def suggestion_json(item: "Suggestion", currency: str) -> dict[str, object]:
    """A standard as it is, as seen, and as suggested; in its own unit."""
    return {
        "standard": item.standard,
        "operation": item.operation,
        "unit": item.unit,
        "now": item.now,
        "seen": item.seen,
        "jobs": item.jobs,
        "suggest": item.suggest,
        "low": item.low,
        "high": item.high,
        "change_pct": item.change_pct,
        "spread_pct": item.spread_pct,
        "kept_from_now_pct": item.kept_pct,
        "open_quotes": item.open_quotes,
        "open_quotes_change": money_text(item.change, currency),
    }


def back_test_json(test: "BackTest") -> dict[str, object]:
    """How the ranges and standards would have done on jobs not yet seen."""
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
    """All that is logged on a job."""
    return {
        "job": held.job,
        "state": held.state,
        "rows": [
            {
                "on": row.day,
                "kind": row.kind,
                "what": row.what,
                "person": row.person,
                "minutes": None if row.minutes is None else _number(row.minutes),
                "cost": money_text(row.cost, held.currency),
                "note": row.note,
            }
            for row in held.rows
        ],
    }


def done_json(done: "Done") -> dict[str, object]:
    """What one command logged."""
    return {
        "job": done.job,
        "logged": [
            {
                "what": row.what,
                "minutes": _number(row.minutes),
                "cost": money_text(row.cost, done.currency),
                "note": row.note,
            }
            for row in done.rows
        ],
        "logged_before": done.before,
    }


def _number(value: Decimal) -> int | float:
    """Minutes as a JSON number."""
    return int(value) if value == value.to_integral_value() else float(value)


# ---- the terminal -----------------------------------------------------------------------------


def print_logged(done: "Done") -> None:
    """What was logged, a line each."""
    for row in done.rows:
        cost = f", {money_text(row.cost, done.currency)} {done.currency}" if row.cost else ""
        print(f"{row.job}: {row.what}{cost}")
        if row.note:
            print(row.note)
    if done.before:
        print(f"{done.job}: {done.before} rows of the sheet were logged before.")
    if not done.rows and not done.before:
        print(f"{done.job}: the sheet holds nothing to log.")


def print_log(held: "JobLog") -> None:
    """All that is logged on a job."""
    if not held.rows:
        print(f"Nothing is logged on {held.job}.")
        return
    table = new_table(
        "Day", "Kind", "What", "Who", ("Minutes", "right"), (held.currency, "right"), "Note",
        title=f"{held.job}, {held.state}",
    )  # fmt: skip
    for row in held.rows:
        minutes = "" if row.minutes is None else f"{_number(row.minutes):g}"
        table.add_row(
            row.day.isoformat(), row.kind, row.what, row.person, minutes,
            money_text(row.cost, held.currency) or "", row.note,
        )  # fmt: skip
    print_table(table)


def print_job_review(review: "JobReview") -> None:
    """One job in full."""
    currency = review.currency
    estimated, actual = review.estimated, review.actual
    total = review.total
    state = f"closed on {review.closed_on}" if review.closed_on else review.state
    _print_heading(f"{review.job}  {review.title}, {state}")
    print_facts(
        [
            ("customer", review.customer),
            ("quote", review.quote),
            ("price", _price_text(review)),
            ("cost", f"{_money(total.actual, currency)}, quoted {_money(total.estimated, currency)}"),
            (
                "margin",
                _margin_text(actual.margin, actual.margin_pct, estimated.margin_pct, currency),
            ),
            ("per hour", f"{_money(actual.margin_per_hour, currency)} of margin for each hour worked"),
        ]
    )
    table = new_table(
        "Cost", ("Quoted", "right"), ("Actual", "right"), ("More", "right"), ("Min quoted", "right"),
        ("Min", "right"),
    )  # fmt: skip
    for line in (*review.lines, total):
        amounts = (line.estimated, line.actual, line.difference)
        minutes = [f"{value:.0f}" if value else "" for value in (line.minutes_estimated, line.minutes_actual)]
        table.add_row(line_name(line), *[money_text(amount, currency) or "" for amount in amounts], *minutes)
    print_table(table)
    _print_parts(review)
    _print_lines("What went right or wrong", review.sentences)
    _print_lines("", [f"{count} x {mark} scrapped: {reason}" for mark, count, reason in review.scrapped])
    if review.assumed:
        print(f"Taken as quoted, nothing logged: {', '.join(review.assumed)}.")
    _print_lines("", review.notes)


def _price_text(review: "JobReview") -> str:
    price = _money(review.price, review.currency)
    if not review.invoiced:
        return f"{price} (quoted)"
    return (
        price
        if review.price == review.quoted
        else f"{price}, quoted {_money(review.quoted, review.currency)}"
    )


def _print_heading(text: str) -> None:
    """A heading over the whole width, whatever stands in it."""
    from rich.text import Text

    console().print(Text(text, style="bold"))


def line_name(line: Variance) -> str:
    """A line's own name; with its category where the name alone does not tell it."""
    plain = line.category in ("labour", "", line.name) and line.name != "allowance"
    return line.name if plain else f"{line.category}: {line.name}"


def _print_parts(review: "JobReview") -> None:
    """Why the cost differs, for the lines that do."""
    rows = [line for line in review.lines if any(line.parts.values())]
    if not rows:
        return
    table = new_table(
        "Why it differs", ("Quantity", "right"), ("Time", "right"), ("Rate", "right"), ("Price", "right"),
        ("More", "right"),
    )  # fmt: skip
    for line in (*rows, review.total):
        parts = [
            money_text(amount, review.currency) or "" if amount else "" for amount in line.parts.values()
        ]
        table.add_row(line_name(line), *parts, money_text(line.difference, review.currency) or "")
    print_table(table)


def _print_lines(heading: str, lines: Iterable[str]) -> None:
    rows = list(lines)
    if rows and heading:
        print(f"\n{heading}:")
    for line in rows:
        console().print(f"- {line}", soft_wrap=False)


def print_answer(answer: "ReviewAnswer", by: Sequence[str] = ()) -> None:
    """Named jobs in full, else many; then what the logged jobs say of the standards."""
    if answer.details:
        for review in answer.details:
            print_job_review(review)
    else:
        print_many(answer.many, by)
    print_lesson(answer.lesson, answer.many.currency)


def print_many(many: "ManyReview", by: Sequence[str] = ()) -> None:
    """Many jobs: the worst and best, the groups asked for, operations and win rates."""
    currency = many.currency
    if not many.jobs:
        print("No finished jobs to review, or none that passes what was asked for.")
        print("Finish one: shopquote job status JOB finished")
        return
    _print_jobs(many)
    total = many.total
    facts = [
        ("jobs", f"{total.jobs}"),
        ("price", _money(total.price, currency)),
        ("cost", f"{_money(total.cost_actual, currency)}, quoted {_money(total.cost_estimated, currency)}"),
        (
            "margin",
            _margin_text(total.margin, total.margin_pct, total.margin_estimated_pct, currency),
        ),
        ("per hour", f"{_money(total.margin_per_hour, currency)} of margin for each hour worked"),
    ]
    if many.bottleneck is not None:
        earned = _money(many.bottleneck.per_hour, currency)
        facts.append(
            (
                "bottleneck",
                f"{many.bottleneck.operation}, {many.bottleneck.hours} h: each hour of it earned {earned}",
            )
        )
    inside, stated = many.ranges_held
    if stated:
        facts.append(("ranges", f"{inside} of {stated} jobs cost what their quote's 8-in-10 range said"))
    print_facts(facts)
    for name in by:
        if name in many.groups:
            _print_groups(f"By {name}", many.groups[name], currency)
    _print_operations(many)
    _print_win_rates(many.win_rates)


def _print_jobs(many: "ManyReview") -> None:
    rows = sorted(many.jobs, key=lambda row: row.margin_steps)
    shown = rows if len(rows) <= MOST_ROWS else rows[: MOST_ROWS // 2] + rows[-MOST_ROWS // 2 :]
    title = "Jobs, the least earning first"
    if len(rows) > len(shown):
        title = f"Of {len(rows)} jobs, the {MOST_ROWS // 2} that earned least and most"
    table = new_table(
        "Job", "Title", "Customer", ("Price", "right"), ("Cost", "right"), ("Margin", "right"),
        ("Margin %", "right"), ("Quoted %", "right"), title=title,
    )  # fmt: skip
    for row in shown:
        margin = row.price - row.cost_actual
        table.add_row(
            row.number, row.title, row.customer, money_text(row.price, many.currency) or "",
            money_text(row.cost_actual, many.currency) or "", money_text(margin, many.currency) or "",
            _pct(per_cent(margin, row.price)), _pct(per_cent(row.quoted - row.cost_estimated, row.quoted)),
        )  # fmt: skip
    print_table(table)


def _print_groups(title: str, groups: Sequence["Group"], currency: str) -> None:
    table = new_table(
        title,
        ("Jobs", "right"),
        ("Price", "right"),
        ("Cost", "right"),
        ("Margin", "right"),
        ("Margin %", "right"),
        ("Quoted %", "right"),
        ("Margin/h", "right"),
    )
    for group in groups[:MOST_ROWS]:
        table.add_row(
            group.name, f"{group.jobs}", money_text(group.price, currency) or "",
            money_text(group.cost_actual, currency) or "", money_text(group.margin, currency) or "",
            _pct(group.margin_pct), _pct(group.margin_estimated_pct),
            money_text(group.margin_per_hour, currency) or "",
        )  # fmt: skip
    print_table(table)


def _print_operations(many: "ManyReview") -> None:
    table = new_table(
        "Operation", ("Min quoted", "right"), ("Min", "right"), ("More %", "right"), ("Rework", "right"),
        (f"Labour {many.currency}", "right"),
    )  # fmt: skip
    for row in many.operations:
        more = per_cent(row.minutes_actual - row.minutes_estimated, row.minutes_estimated)
        table.add_row(
            row.operation,
            f"{row.minutes_estimated:.0f}",
            f"{row.minutes_actual:.0f}",
            _pct(more),
            f"{row.minutes_rework:.0f}" if row.minutes_rework else "",
            money_text(row.actual, many.currency) or "",
        )
    print_table(table)


def _print_win_rates(rates: Sequence["WinRate"]) -> None:
    if not rates:
        return
    table = new_table(
        "Quoted margin", ("Won", "right"), ("Lost", "right"), ("Open", "right"), ("Won %", "right")
    )
    for row in rates:
        table.add_row(row.band, f"{row.won}", f"{row.lost}", f"{row.open}", _pct(row.won_pct))
    print_table(table)


def print_lesson(lesson: "StandardsLesson", currency: str) -> None:
    """Suggested standards, odd jobs and the back-test."""
    worth = lesson.worth_taking
    if worth:
        table = new_table(
            "Standard", ("Now", "right"), ("Suggest", "right"), ("8 in 10", "right"), ("Jobs", "right"),
            (f"Open quotes {currency}", "right"), title="What the logged jobs say of the standards",
        )  # fmt: skip
        for item in worth:
            change = f"{money_text(item.change, currency)}" if item.open_quotes else ""
            table.add_row(
                item.standard, f"{item.now:f}", f"{item.suggest:f}",
                f"{item.low:f} to {item.high:f}" if item.told_alone else "with others",
                f"{item.jobs}", change,
            )  # fmt: skip
        print_table(table)
        if not all(item.told_alone for item in worth):
            print("With others: the jobs cannot tell it from what always comes with it; take those together.")
        print(f"Take one: shopquote review --accept {worth[0].standard}   all: shopquote review --accept all")
    for hand in lesson.by_hand:
        print(by_hand_text(hand))
    for repeat in [item for item in lesson.repeats if item.rate <= Decimal("0.95")][:5]:
        print(
            f"Repeated: {repeat.title} for {repeat.customer}, {repeat.runs} times, {repeat.sets} sets: "
            f"first {repeat.first}, last {repeat.last} min a set, a {100 * repeat.rate:.0f} % learning curve."
        )
    for odd in lesson.oddities[:10]:
        print(
            f"Odd: {odd.job} {odd.operation}, {odd.logged} min logged, {odd.expected} expected from all jobs."
        )
    if lesson.back_test is not None:
        print_back_test(lesson.back_test)


def by_hand_text(hand: "ByHand") -> str:
    """What minutes by hand truly take, in one sentence."""
    return (
        f"Minutes given by hand in {hand.operation} take {hand.times} times as long ({hand.low} to "
        f"{hand.high} in 8 of 10 cases; {hand.jobs} jobs)."
    )


def print_back_test(test: "BackTest") -> None:
    """How often the actual fell inside the stated range."""
    if not test.jobs:
        print("Back-test: too few finished jobs; it needs more than 60.")
        return
    print(
        f"Back-test on {test.jobs} jobs not yet seen: the actual minutes fell inside the "
        f"{100 * test.level:.0f} % range {test.covered_pct:.1f} % of the time. A job's minutes were off by "
        f"{test.error_learned_pct:.1f} % with learned standards, {test.error_now_pct:.1f} % with those in "
        f"force; all together by {test.off_learned_pct:+.1f} % and {test.off_now_pct:+.1f} %. In 8 of 10 "
        f"cases the usual next job takes {test.low_pct:.0f} to {test.high_pct:.0f} % of the minutes expected."
    )


def print_accepted(items: Iterable["Suggestion"], own: Decimal | None, since: str) -> None:
    """Which standards were made; `own` is the owner's own value."""
    for item in items:
        value = item.suggest if own is None else own
        print(f"{item.standard} is {value:f} {item.unit} from {since}; it was {item.now:f}.")
    print("Stored quotes stay as they are; new quotes use it.")


def _money(amount: Decimal | None, currency: str) -> str:
    return "-" if amount is None else f"{money_text(amount, currency)} {currency}"


def _margin_text(margin: Decimal, actual: Decimal | None, quoted: Decimal | None, currency: str) -> str:
    return f"{_money(margin, currency)}, {_pct(actual)}; quoted {_pct(quoted)}"


def _pct(value: Decimal | None) -> str:
    return "-" if value is None else f"{value} %"
