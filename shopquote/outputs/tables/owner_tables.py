"""What the owner looks at when a month ends: columns for terminal, JSON and workbook, and sentences."""

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from shopquote.outputs.looks import COUNT, DAY, HOURS, MONEY, PERCENT, Setting
from shopquote.outputs.table import JSON, SEEN, SHEET, Column, Table, json_rows
from shopquote.outputs.tables.show import print_table

if TYPE_CHECKING:
    from shopquote.calc.review.chances import Best, Chance
    from shopquote.services.review.best_margin import Asking
    from shopquote.services.review.hours import FreeWeek, Hours, OperationHours, Overhead, PersonHours
    from shopquote.services.review.money_left import GroupLeft, JobLeft, MoneyLeft
    from shopquote.services.review.review_answer import ReviewAnswer
    from shopquote.services.review.since_accepted import Off, SinceAccepted

MOST_JOBS, MOST_GROUPS = 8, 12

JOBS_LEFT: "tuple[Column[JobLeft], ...]" = (
    Column("Job", lambda row: row.number, width=10),
    Column("Title", lambda row: row.title, width=30),
    Column("Customer", lambda row: row.customer, width=24, on=SHEET | JSON),
    Column("Price", lambda row: row.price, MONEY, 13),
    Column("Cost", lambda row: row.cost, MONEY, 13),
    Column("Should have cost", lambda row: row.should_cost, MONEY, 13, "should_cost"),
    Column("Price for the margin", lambda row: row.asked, MONEY, 13, "price_for_margin"),
    Column("Left on the table", lambda row: row.left, MONEY, 13, "left"),
)
GROUPS_LEFT: "tuple[Column[GroupLeft], ...]" = (
    Column("By", lambda row: row.by, width=10),
    Column("Name", lambda row: row.name, width=28),
    Column("Jobs", lambda row: row.jobs, COUNT, 8),
    Column("Price", lambda row: row.price, MONEY, 13),
    Column("Left on the table", lambda row: row.left, MONEY, 13, "left"),
    Column("From", lambda row: row.low, MONEY, 13, "low"),
    Column("To", lambda row: row.high, MONEY, 13, "high"),
    Column("Higher by", lambda row: row.more_pct, PERCENT, 10, "more_pct", on=SHEET | JSON),
    Column("What to do", lambda row: row.advice, width=14, key="advice"),
)
CHANCES: "tuple[Column[Chance], ...]" = (
    Column("Margin %", lambda row: Decimal(f"{row.margin_pct:.1f}"), PERCENT, 10, "margin_pct"),
    Column("Won of 100", lambda row: round(100 * row.chance), COUNT, 11, on=SEEN),
    Column("From", lambda row: round(100 * row.low), COUNT, 8, on=SEEN),
    Column("To", lambda row: round(100 * row.high), COUNT, 8, on=SEEN),
    Column("chance", lambda row: round(row.chance, 3), on=JSON),
    Column("low", lambda row: round(row.low, 3), on=JSON),
    Column("high", lambda row: round(row.high, 3), on=JSON),
    Column("Margin expected", lambda row: Decimal(f"{row.expected:.4f}"), MONEY, 13, "margin_expected"),
)
# The same columns for a person and for an operation.
_WORKED: "tuple[Column[Any], ...]" = (
    Column("Hours logged", lambda row: row.logged / 60, HOURS, 13, on=SEEN),
    Column("minutes_logged", lambda row: row.logged, HOURS, on=JSON),
    Column("Rework hours", lambda row: row.rework / 60 or None, HOURS, 13, on=SEEN),
    Column("minutes_rework", lambda row: row.rework, HOURS, on=JSON),
)
PEOPLE_HOURS: "tuple[Column[PersonHours], ...]" = (
    Column("Person", lambda row: row.person, width=24),
    *_WORKED,
    Column("Hours paid", lambda row: None if row.paid is None else row.paid / 60, HOURS, 13, on=SEEN),
    Column("minutes_paid", lambda row: row.paid, HOURS, on=JSON),
    Column("Logged %", lambda row: row.logged_pct, PERCENT, 10, "logged_pct"),
)
OPERATION_HOURS: "tuple[Column[OperationHours], ...]" = (
    Column("Operation", lambda row: row.operation, width=24),
    *_WORKED,
    Column("Of all %", lambda row: row.share_pct, PERCENT, 10, "share_pct"),
)
FREE_WEEKS: "tuple[Column[FreeWeek], ...]" = (
    Column("Week", lambda row: row.name, width=24),
    Column("From", lambda row: row.monday, DAY, 13),
    Column("Hours available", lambda row: row.minutes / 60, HOURS, 13, on=SEEN),
    Column("minutes", lambda row: row.minutes, HOURS, on=JSON),
    Column("Free", lambda row: row.free / 60, HOURS, 10, on=SEEN),
    Column("minutes_free", lambda row: row.free, HOURS, on=JSON),
)


def print_money_left(left: "MoneyLeft", currency: str) -> None:
    """Print the jobs that left most, then customers and kinds of work with what to do."""
    setting = Setting(currency)
    jobs = [row for row in left.jobs if row.left > 0][:MOST_JOBS]
    if jobs:
        print_table(Table(JOBS_LEFT, jobs, "Prices that did not leave the margin that was quoted", setting))
    for by in ("customer", "kind"):
        groups = [row for row in left.groups if row.by == by]
        if groups:
            title = f"Money left on the table by {by}, in 8 of 10 cases from - to"
            print_table(Table(GROUPS_LEFT[1:], groups[:MOST_GROUPS], title, setting))


def print_asking(asking: "Asking", currency: str) -> None:
    """Print the chance of winning at several margins and the best one; nothing without enough quotes."""
    if asking.best is None:
        return
    title = f"Which margin earns most: the usual quote, by {asking.decided} won and lost ones"
    print_table(Table(CHANCES, asking.rows, title, Setting(currency)))
    print(asking_text(asking))


def asking_text(asking: "Asking") -> str:
    """The margin with the highest expected profit, and why quotes were lost; empty without enough quotes."""
    if asking.best is None:
        return ""
    best = asking.best
    text = (
        f"Most is expected at {best.margin_pct:.0f} % of margin ({best.low_pct:.0f} to {best.high_pct:.0f} % "
        "in 8 of 10 cases)."
    )
    if asking.reasons:
        told = ", ".join(f"{reason} ({count})" for reason, count in asking.reasons)
        text += f" Lost because: {told}."
    return text


def chance_text(chance: "Chance", best: "Best") -> str:
    """The chance of winning a new quote, by won and lost ones, in one sentence."""
    return (
        f"At {chance.margin_pct:.0f} % of margin about {100 * chance.chance:.0f} of 100 such quotes are won "
        f"({100 * chance.low:.0f} to {100 * chance.high:.0f} in 8 of 10 cases); most is expected at "
        f"{best.margin_pct:.0f} % ({best.low_pct:.0f} to {best.high_pct:.0f} %)."
    )


def chance_json(told: "tuple[Chance, Best] | None", currency: str) -> dict[str, object]:
    """The chance of winning a new quote for `--json`; no key if it is unknown."""
    if told is None:
        return {}
    (row,) = json_rows(CHANCES, told[:1], Setting(currency))
    return {"chance": {**row, "best_margin": _best_json(told[1])}}


def _best_json(best: "Best") -> dict[str, object]:
    return {"margin_pct": best.margin_pct, "low_pct": best.low_pct, "high_pct": best.high_pct}


def print_hours(hours: "Hours", currency: str) -> None:
    """Print hours logged against paid (if people are on file), overhead, and free hours."""
    for title, table in hours_tables(hours):
        print_table(Table(table.columns, table.rows, title))
    if hours.overhead is not None:
        print(overhead_text(hours.overhead, currency))
    if hours.jobs:
        print(f"Every operation that was quoted has minutes on {hours.complete} of {hours.jobs} jobs.")
        if hours.paid is None:
            print("Nobody's paid hours are on file: shopquote people set NAME HOURS; then they appear here.")


def hours_tables(hours: "Hours") -> "list[tuple[str, Table[Any]]]":
    """Tables of hours with their titles; none if nobody's hours are on file."""
    if hours.paid is None:
        return []
    days = f"{hours.first} to {hours.last}"
    told: list[tuple[str, Table[Any]]] = [
        (f"Hours logged on all jobs and paid, {days}", Table(PEOPLE_HOURS, hours.people)),
        (f"Hours logged by operation, {days}", Table(OPERATION_HOURS, hours.operations)),
        (
            f"Hours free for {hours.bottleneck}, the bottleneck, beside open jobs",
            Table(FREE_WEEKS, hours.ahead),
        ),
    ]
    return [(title, table) for title, table in told if table.rows]


def overhead_text(overhead: "Overhead", currency: str) -> str:
    """Overhead recovered against overhead spent, in one sentence."""
    setting = Setting(currency)
    spent = f"{MONEY.text(overhead.spent, setting)} {currency} was spent"
    if overhead.recovered is None:
        return f"Overhead: {spent}; these jobs carry none apart from their hourly rates."
    carried = f"{MONEY.text(overhead.recovered, setting)} {currency}"
    return (
        f"Overhead: these jobs carry {carried} by the hours worked on them, {spent}: "
        f"{overhead.recovered_pct} % is recovered."
    )


def accepted_text(row: "SinceAccepted") -> str:
    """Whether quotes came closer since standards were accepted, in one sentence."""
    count = len(row.standards)
    taken = row.standards[0] if count == 1 else f"{count} standards"
    return (
        f"Since {taken} {'was' if count == 1 else 'were'} taken on {row.day}: {_off_text(row.since)}; "
        f"before: {_off_text(row.before)}{_left_out_text(row.left_out)}."
    )


def _left_out_text(jobs: int) -> str:
    if not jobs:
        return ""
    return f" ({jobs} {'job is' if jobs == 1 else 'jobs are'} left out, of which not all was logged)"


def _off_text(off: "Off | None") -> str:
    if off is None:
        return "too few finished jobs to say"
    word = "more" if off.off_pct >= 0 else "less"
    # Small jobs may cost more than quoted while large ones make up for it, which a mean would hide.
    sure = f"{off.low_pct:+} to {off.high_pct:+} % in 8 of 10 cases"
    return (
        f"{off.jobs} jobs cost {abs(off.off_pct)} % {word} than quoted, each counted alike ({sure}), all "
        f"their money together {off.together_pct:+} %"
    )


def owner_json(answer: "ReviewAnswer") -> dict[str, object]:
    """What the owner is told at the end of a month, for `--json`."""
    left, hours, accepted, asking = answer.left, answer.hours, answer.accepted, answer.asking
    setting = Setting(answer.many.currency)
    return {
        "money_left": {
            "jobs": json_rows(JOBS_LEFT, left.jobs, setting),
            "groups": json_rows(GROUPS_LEFT, left.groups, setting),
        },
        "hours": {
            "from": hours.first,
            "to": hours.last,
            "people": json_rows(PEOPLE_HOURS, hours.people, setting),
            "operations": json_rows(OPERATION_HOURS, hours.operations, setting),
            "overhead": _overhead_json(hours.overhead),
            "bottleneck": {
                "operation": hours.bottleneck,
                "weeks": json_rows(FREE_WEEKS, hours.ahead, setting),
            },
            "complete_jobs": hours.complete,
            "jobs": hours.jobs,
        },
        "since_accepted": [
            {
                "day": row.day,
                "standards": row.standards,
                "before": _off_json(row.before),
                "since": _off_json(row.since),
                "left_out": row.left_out,
            }
            for row in accepted
        ],
        "asking": {
            "decided": asking.decided,
            "margins": json_rows(CHANCES, asking.rows, setting),
            "best": None if asking.best is None else _best_json(asking.best),
            "lost_because": [{"reason": reason, "jobs": count} for reason, count in asking.reasons],
        },
    }


def _overhead_json(overhead: "Overhead | None") -> dict[str, object] | None:
    if overhead is None:
        return None
    return {
        "recovered": overhead.recovered,
        "spent": overhead.spent,
        "recovered_pct": overhead.recovered_pct,
    }


def _off_json(off: "Off | None") -> dict[str, object] | None:
    if off is None:
        return None
    return {
        "jobs": off.jobs,
        "off_pct": off.off_pct,
        "low_pct": off.low_pct,
        "high_pct": off.high_pct,
        "together_pct": off.together_pct,
    }
