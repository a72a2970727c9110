"""Reviews and logs in the terminal. Computes nothing itself."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.errors import counted
from shopquote.outputs.looks import HOURS, Setting
from shopquote.outputs.table import Table
from shopquote.outputs.tables.owner_tables import accepted_text, print_asking, print_hours, print_money_left
from shopquote.outputs.tables.review_columns import (
    AT_BOTTLENECK,
    LOG,
    OPERATIONS,
    REASONS,
    SUGGESTIONS,
    VARIANCES,
    WIN_RATES,
    group_columns,
    jobs_columns,
)
from shopquote.outputs.tables.review_words import (
    as_quoted_text,
    assumed_text,
    back_test_text,
    by_hand_text,
    gaps_text,
    minutes_assumed_at,
    money_text,
    pace_texts,
    ranges_text,
)
from shopquote.outputs.tables.show import console, print_facts, print_table

if TYPE_CHECKING:
    from shopquote.calc.review.variance import Variance
    from shopquote.services.floor.log_list import JobLog
    from shopquote.services.floor.log_words import Done
    from shopquote.services.review.bottleneck import Bottleneck
    from shopquote.services.review.job_figures import JobFigures
    from shopquote.services.review.job_groups import Group
    from shopquote.services.review.job_review import JobReview
    from shopquote.services.review.learning import StandardsLesson, Suggestion
    from shopquote.services.review.review import ManyReview
    from shopquote.services.review.review_answer import ReviewAnswer

# More would scroll away unread; the workbook has all.
MOST_ROWS, MOST_ACCEPTED = 40, 3
NEW_WAY_NOTE = "Done another way since a day, by a jig or a machine? Say so: --learn-since OPERATION=DATE"


def print_logged(done: "Done") -> None:
    """Print what was logged, a line each."""
    for row in done.rows:
        cost = f", {money_text(row.cost, done.currency)} {done.currency}" if row.cost else ""
        print(f"{row.job}: {row.what}{cost}")
        if row.note:
            print(row.note)
    if done.before:
        print(f"{done.job}: {done.before} rows of the sheet were logged before.")
    if not done.rows and not done.before:
        print(f"{done.job}: the sheet has nothing to log.")


def print_log(held: "JobLog") -> None:
    """Print all that is logged on a job."""
    if not held.rows:
        print(f"Nothing is logged on {held.job}.")
        return
    print_table(Table(LOG, held.rows, f"{held.job}, {held.state}", Setting(held.currency)))


def print_job_review(review: "JobReview", figures: "JobFigures | None" = None) -> None:
    """Print one job in full; `figures` is its row among many jobs, with what is invoiced and paid."""
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
            *_money_in_facts(review, figures),
            (
                "cost",
                f"{_money(total.actual, currency)}{as_quoted_text(review.gap, currency)}, quoted "
                f"{_money(total.estimated, currency)}",
            ),
            (
                "margin",
                _margin_text(actual.margin, actual.margin_pct, estimated.margin_pct, currency),
            ),
            *_not_spent_fact(review),
            ("per hour", _per_hour_text(actual.margin_per_hour, currency, total, review.minutes_assumed)),
        ]
    )
    setting = Setting(currency)
    print_table(Table(VARIANCES, review.lines, setting=setting, last=total))
    differing = [line for line in review.lines if any(line.parts.values())]
    if differing:
        print_table(Table(REASONS, differing, "Why it differs", setting, last=total))
    _print_lines("What went right or wrong", review.sentences)
    _print_lines("", [f"{count} x {mark} scrapped: {reason}" for mark, count, reason in review.scrapped])
    if review.assumed:
        print(assumed_text(review.assumed))
    _print_lines("", review.notes)


def _not_spent_fact(review: "JobReview") -> list[tuple[str, str]]:
    """How much of the margin is allowances, to which nobody can log."""
    if review.not_spent <= 0:
        return []
    left = review.margin_if_spent_pct
    spent = f"; with it spent the margin is {left} %" if left is not None else ""
    return [
        ("not spent", f"{_money(review.not_spent, review.currency)} of allowances and contingency, to which "
         f"nothing can be logged: what went wrong is in the lines{spent}")
    ]  # fmt: skip


def _price_text(review: "JobReview") -> str:
    price = _money(review.price, review.currency)
    if not review.invoiced:
        return f"{price} (quoted)"
    return (
        price
        if review.price == review.quoted
        else f"{price}, quoted {_money(review.quoted, review.currency)}"
    )


def _money_in_facts(review: "JobReview", figures: "JobFigures | None") -> list[tuple[str, str]]:
    """Facts about the price: invoiced, to invoice, paid, overdue."""
    if figures is None or not review.invoiced:
        return []
    told, left, paid, late = (
        _money(amount, review.currency)
        for amount in (figures.invoiced_so_far, figures.to_invoice, figures.paid, figures.overdue)
    )
    overdue = f", {late} overdue" if figures.overdue else ""
    return [("invoiced", f"{told}, {left} still to invoice; {paid} paid{overdue}")]


def _per_hour_text(earned: Decimal | None, currency: str, total: "Variance | Group", assumed: Decimal) -> str:
    text = f"{_money(earned, currency)} of margin for each hour worked"
    if not assumed:
        return text
    hours = [HOURS.text(minutes / 60, Setting(currency)) for minutes in (assumed, total.minutes_actual)]
    return f"{text} ({hours[0]} of {hours[1]} h as quoted, not logged)"


def _print_heading(text: str) -> None:
    """Print a heading as a rule over the whole width; text is never read as markup."""
    from rich.text import Text

    console().print(Text(text, style="bold"))


def _print_lines(heading: str, lines: Iterable[str]) -> None:
    rows = list(lines)
    if rows and heading:
        print(f"\n{heading}:")
    for line in rows:
        console().print(f"- {line}", soft_wrap=False)


def print_answer(answer: "ReviewAnswer", by: Sequence[str] = ()) -> None:
    """Print named jobs in full, else a summary; then what the logged jobs say about the standards."""
    if answer.details:
        rows = {row.number: row for row in answer.many.jobs}
        for review in answer.details:
            print_job_review(review, rows.get(review.job))
    else:
        print_many(answer.many, by)
        print_money_left(answer.left, answer.many.currency)
        print_asking(answer.asking, answer.many.currency)
        print_hours(answer.hours, answer.many.currency)
    print_lesson(answer.lesson, answer.many.currency, answer.taking)
    for row in answer.accepted[:MOST_ACCEPTED]:
        print(accepted_text(row))


def print_many(many: "ManyReview", by: Sequence[str] = ()) -> None:
    """Print a summary of jobs: the worst and best, the groups asked for, operations, win rates."""
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
        (
            "cost",
            f"{_money(total.cost_actual, currency)}{as_quoted_text(many.gaps[1], currency)}, quoted "
            f"{_money(total.cost_estimated, currency)}",
        ),
        (
            "margin",
            _margin_text(total.margin, total.margin_pct, total.margin_estimated_pct, currency),
        ),
        ("per hour", _per_hour_text(total.margin_per_hour, currency, total, many.minutes_assumed)),
    ]
    if many.bottleneck is not None:
        earned = _money(many.bottleneck.per_hour, currency)
        facts.append(
            (
                "bottleneck",
                f"{many.bottleneck.operation}, {many.bottleneck.hours} h{_not_logged_at(many)}: jobs that "
                f"took it earned {earned} for each of its hours",
            )
        )
    facts += _what_is_open(many)
    if many.ranges_held[1]:
        facts.append(("ranges", ranges_text(many)))
    print_facts(facts)
    for name in by:
        if name in many.groups:
            columns = group_columns(f"By {name}")
            print_table(Table(columns, many.groups[name][:MOST_ROWS], setting=Setting(currency)))
    if many.bottleneck is not None and len(many.bottleneck.jobs) > 1:
        _print_bottleneck(many.bottleneck, currency)
    print_table(Table(OPERATIONS, many.operations, setting=Setting(currency)))
    print_table(Table(WIN_RATES, many.win_rates))


def _not_logged_at(many: "ManyReview") -> str:
    assumed = minutes_assumed_at(many)
    return (
        f" ({HOURS.text(assumed / 60, Setting(many.currency))} of them as quoted, not logged)"
        if assumed
        else ""
    )


def _print_bottleneck(held: "Bottleneck", currency: str) -> None:
    """Print kinds and jobs by earnings for each bottleneck hour; of a long list only both ends."""
    rows = [*held.kinds, *(held.jobs if len(held.jobs) <= 6 else (*held.jobs[:3], *held.jobs[-3:]))]
    title = f"Earned for each hour of {held.operation}: kinds, then the jobs that earned most and least"
    print_table(Table(AT_BOTTLENECK, rows, title, Setting(currency)))


def _what_is_open(many: "ManyReview") -> list[tuple[str, str]]:
    """What is not known yet, or not asked for."""
    facts = []
    jobs, amount = many.contingency_not_spent
    if amount > 0:
        text = (
            f"{_money(amount, many.currency)} of contingency in {counted(jobs, 'job')}, to "
            "which nothing can be logged: what went wrong is in the other costs"
        )
        facts.append(("not spent", text))
    if gaps_text(many):
        facts.append(("not logged", gaps_text(many)))
    if many.to_invoice:
        facts.append(("to invoice", _money(many.to_invoice, many.currency)))
    total = many.total
    if total.invoiced_steps:
        text = (
            f"{_money(total.paid, many.currency)} of {_money(total.invoiced_so_far, many.currency)} invoiced"
        )
        late = f", {_money(total.overdue, many.currency)} is overdue" if total.overdue_steps else ""
        facts.append(("paid", text + late))
    return facts


def _print_jobs(many: "ManyReview") -> None:
    rows = sorted(many.jobs, key=lambda row: row.margin_steps)
    # Both ends of the list teach something; its middle does not.
    shown = rows if len(rows) <= MOST_ROWS else rows[: MOST_ROWS // 2] + rows[-MOST_ROWS // 2 :]
    title = "Jobs, the least earning first"
    if len(rows) > len(shown):
        half = MOST_ROWS // 2
        title = f"Of {len(rows)} jobs, the {half} that earned least, then the {half} that earned most"
    print_table(Table(jobs_columns(shown), shown, title, Setting(many.currency)))


def print_lesson(lesson: "StandardsLesson", currency: str, taking: str) -> None:
    """Print suggested standards, outlying jobs, the back-test; `taking` is the command that accepts one."""
    worth = lesson.worth_taking
    if worth:
        title = f"What {counted(lesson.jobs, 'logged job')} say of the standards"
        print_table(Table(SUGGESTIONS, worth, title, Setting(currency)))
        # Minutes can shift between standards that always come together: one accepted alone would be wrong.
        if not all(item.told_alone for item in worth):
            print(
                "With others: jobs cannot tell it from standards that always come with it; take all of them."
            )
        print(f"Take one: {taking} {worth[0].standard}   all: {taking} all")
        if not lesson.told_paces:
            print(NEW_WAY_NOTE)
    for text in pace_texts(lesson):
        print(text)
    for hand in lesson.by_hand:
        print(by_hand_text(hand))
    # Above 95 % nothing that matters for a price was learned.
    for repeat in [item for item in lesson.repeats if item.rate <= Decimal("0.95")][:5]:
        print(
            f"Repeated: {repeat.title} for {repeat.customer}, {repeat.runs} times, {repeat.sets} sets: "
            f"first {repeat.first}, last {repeat.last} minutes per set, a {100 * repeat.rate:.0f} % "
            "learning curve."
        )
    for odd in lesson.oddities[:10]:
        print(
            f"Odd: {odd.job} {odd.operation}, {odd.logged} minutes logged, {odd.expected} expected from all "
            f"jobs: {_money(odd.worth, currency)}."
        )
    more = len(lesson.oddities[10:]) + lesson.trivial_oddities
    if more:
        print(f"{more} more stand out by less money.")
    if lesson.back_test is not None:
        print(back_test_text(lesson.back_test))


def print_accepted(items: Iterable["Suggestion"], own: Decimal | None, since: str) -> None:
    """Print which standards were accepted; `own` is the owner's own value, None for the suggested ones."""
    taken = list(items)
    for item in taken:
        value = item.suggest if own is None else own
        print(f"{item.standard} is {value:f} {item.unit} from {since}; it was {item.now:f}.")
    print(f"Stored quotes stay as they are; new quotes use {'it' if len(taken) == 1 else 'them'}.")


def _money(amount: Decimal | None, currency: str) -> str:
    return "-" if amount is None else f"{money_text(amount, currency)} {currency}"


def _margin_text(margin: Decimal, actual: Decimal | None, quoted: Decimal | None, currency: str) -> str:
    return f"{_money(margin, currency)}, {_pct(actual)}; quoted {_pct(quoted)}"


def _pct(value: Decimal | None) -> str:
    return "-" if value is None else f"{value} %"
