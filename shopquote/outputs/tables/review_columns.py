"""The columns of a review that the terminal, JSON and the review workbook share."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Union

from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.variance import ALLOWANCE, PARTS, Variance, per_cent, per_hour
from shopquote.outputs.looks import COUNT, DAY, FIGURE, HOURS, MINUTES, MONEY, NUMBER, PERCENT, Setting
from shopquote.outputs.table import JSON, SEEN, SHEET, TERMINAL, Column

if TYPE_CHECKING:
    from shopquote.services.floor.log import Logged
    from shopquote.services.floor.log_list import LogRow
    from shopquote.services.review.bottleneck import AtBottleneck
    from shopquote.services.review.job_figures import JobFigures, OperationSum
    from shopquote.services.review.job_groups import Group
    from shopquote.services.review.learning import ByHand, NewPace, Oddity, Suggestion
    from shopquote.services.review.repeats import Repeat
    from shopquote.services.review.win_rates import WinRate


def line_name(line: Variance) -> str:
    """A line's name, with its category if the name alone does not tell it; marked if nothing was logged."""
    plain = line.category in ("labour", "", line.name) and line.name != ALLOWANCE
    name = line.name if plain else f"{line.category}: {line.name}"
    if not line.as_quoted:
        return name
    # Bars that were ready count as sawn: as many as quoted, at their cost.
    return f"{name} (as quoted)" if not line.difference else f"{name} (as many as quoted)"


# --- one job --------------------------------------------------------------------------------------


def _part(name: str) -> Callable[[Variance], Decimal | None]:
    return lambda line: line.parts[name] or None


def parts_json(line: Variance, setting: Setting) -> dict[str, object]:
    """JSON of the four parts of a variance."""
    return {name: MONEY.data(amount, setting) for name, amount in line.parts.items()}


COST: Column[Variance] = Column("Cost", line_name, width=32, on=SEEN)
QUOTED: Column[Variance] = Column("Quoted", lambda line: line.estimated, MONEY, key="estimated")
ACTUAL: Column[Variance] = Column("Actual", lambda line: line.actual, MONEY)
OVER: Column[Variance] = Column("Over/under", lambda line: line.difference, MONEY, key="difference")
WHY: tuple[Column[Variance], ...] = tuple(
    Column(name.capitalize(), _part(name), MONEY, on=SEEN) for name in PARTS
)
MINUTES_COLUMNS: tuple[Column[Variance], ...] = (
    Column("Minutes quoted", lambda line: line.minutes_estimated or None, MINUTES, 11, sum=True, on=SEEN),
    Column("Minutes", lambda line: line.minutes_actual or None, MINUTES, 11, sum=True, on=SEEN),
)
VARIANCES = (COST, QUOTED, ACTUAL, OVER, *MINUTES_COLUMNS)
REASONS = (COST, *WHY, OVER)
VARIANCES_IN_BOOK = (COST, QUOTED, ACTUAL, OVER, *WHY, *MINUTES_COLUMNS)


def variance_columns(setting: Setting) -> tuple[Column[Variance], ...]:
    """The columns for JSON of a line of one job's review."""
    return (
        Column("category", lambda line: line.category),
        Column("name", lambda line: line.name),
        QUOTED,
        ACTUAL,
        OVER,
        Column("as_quoted", lambda line: line.as_quoted),
        Column("parts", lambda line: parts_json(line, setting)),
        Column("minutes_estimated", lambda line: line.minutes_estimated, MINUTES),
        Column("minutes_actual", lambda line: line.minutes_actual, MINUTES),
    )


# --- many jobs ------------------------------------------------------------------------------------


# A row of the table of jobs: one job, or the sum of all.
JobRow = Union["JobFigures", "Group"]


def _margin(row: JobRow) -> Decimal:
    return row.price - row.cost_actual


def _margin_per_hour(row: JobRow) -> Decimal | None:
    return per_hour(_margin(row), row.minutes_actual)


def _of_job(value: "Callable[[JobFigures], object]") -> Callable[[JobRow], object]:
    """A value that a single job has; empty in the sum of jobs."""
    return lambda row: value(row) if hasattr(row, "number") else None  # type: ignore[arg-type]


def categories_json(estimated: Sequence[Decimal], actual: Sequence[Decimal], setting: Setting) -> object:
    """JSON of estimated and actual cost by category."""
    return {
        name: {"estimated": MONEY.data(estimated[at], setting), "actual": MONEY.data(actual[at], setting)}
        for at, name in enumerate(CATEGORIES)
    }


JOBS: tuple[Column[JobRow], ...] = (
    Column("Job", lambda row: getattr(row, "number", "total"), width=10),
    Column("Title", _of_job(lambda row: row.title), width=30),
    Column("Customer", _of_job(lambda row: row.customer), width=24),
    Column("State", _of_job(lambda row: row.state), on=JSON),
    Column("Done", _of_job(lambda row: row.done_on), width=11, key="done_on", on=SHEET | JSON),
    Column("Price", lambda row: row.price, MONEY),
    Column("Cost quoted", lambda row: row.cost_estimated, MONEY, key="cost_estimated", on=SHEET | JSON),
    Column("Cost", lambda row: row.cost_actual, MONEY, key="cost_actual"),
    Column("Margin", _margin, MONEY, on=SEEN),
    Column("Margin %", lambda row: per_cent(_margin(row), row.price), PERCENT, 10, "margin_actual_pct"),
    Column(
        "Quoted %", lambda row: per_cent(row.quoted - row.cost_estimated, row.quoted), PERCENT, 10,
        "margin_estimated_pct",
    ),
    Column("Hours", lambda row: row.minutes_actual / 60, HOURS, 10, on=SHEET),
    Column("Margin per hour", _margin_per_hour, MONEY, 11, on=SHEET),
    Column("Minutes estimated", lambda row: row.minutes_estimated, MINUTES, on=JSON),
    Column("Minutes actual", lambda row: row.minutes_actual, MINUTES, on=JSON),
    Column("Not logged", lambda row: row.gap, MONEY, 13, "as_quoted_at_most", on=SHEET | JSON),
    Column("Invoiced", lambda row: row.invoiced_so_far, MONEY, 13, "invoiced", on=SHEET | JSON),
    Column("To invoice", lambda row: row.to_invoice, MONEY, 13, "to_invoice", on=SHEET | JSON),
    Column("Paid", lambda row: row.paid, MONEY, 13, on=SHEET | JSON),
    Column("Overdue", lambda row: row.overdue, MONEY, 13, on=SHEET | JSON),
    Column("As quoted", _of_job(lambda row: row.assumed), on=JSON),
)  # fmt: skip


def jobs_columns(rows: "Sequence[JobRow]") -> "tuple[Column[JobRow], ...]":
    """The columns for people of a row for each job; assumed cost has a column only if there is any."""
    shown = next(column for column in JOBS if column.key == "as_quoted_at_most")
    if not any(row.gap for row in rows):
        return JOBS
    return tuple(replace(column, on=column.on | SEEN) if column is shown else column for column in JOBS)


def group_columns(heading: str) -> "tuple[Column[Group], ...]":
    """The columns of sums of jobs; `heading` names what they are grouped by."""
    return (
        Column(heading, lambda group: group.name, width=28, key="name"),
        Column("Jobs", lambda group: group.jobs, COUNT, 8),
        Column("Price", lambda group: group.price, MONEY, 13),
        Column(
            "Cost quoted", lambda group: group.cost_estimated, MONEY, 13, "cost_estimated", on=SHEET | JSON
        ),
        Column("Cost", lambda group: group.cost_actual, MONEY, 13, "cost_actual"),
        GROUP_MARGIN,
        GROUP_MARGIN_PCT,
        GROUP_QUOTED_PCT,
        Column("Hours", lambda group: group.minutes_actual / 60, HOURS, 10, on=SHEET),
        Column("Margin per hour", lambda group: group.margin_per_hour, MONEY, 11, "margin_per_hour"),
        Column("Minutes estimated", lambda group: group.minutes_estimated, MINUTES, on=JSON),
        Column("Minutes actual", lambda group: group.minutes_actual, MINUTES, on=JSON),
        Column("Minutes rework", lambda group: group.minutes_rework, MINUTES, on=JSON),
    )


GROUP_MARGIN: "Column[Group]" = Column("Margin", lambda group: group.margin, MONEY, 13)
GROUP_MARGIN_PCT: "Column[Group]" = Column(
    "Margin %", lambda group: group.margin_pct, PERCENT, 10, "margin_actual_pct"
)
GROUP_QUOTED_PCT: "Column[Group]" = Column(
    "Quoted %", lambda group: group.margin_estimated_pct, PERCENT, 10, "margin_estimated_pct"
)


def _over_pct(row: "OperationSum") -> Decimal | None:
    return per_cent(row.minutes_actual - row.minutes_estimated, row.minutes_estimated)


HOURS_QUOTED: "Column[OperationSum]" = Column(
    "Hours quoted", lambda row: row.minutes_estimated / 60, HOURS, 13, on=SHEET
)
HOURS_WORKED: "Column[OperationSum]" = Column(
    "Hours", lambda row: row.minutes_actual / 60, HOURS, 13, on=SHEET
)
OPERATIONS: "tuple[Column[OperationSum], ...]" = (
    Column("Operation", lambda row: row.operation, width=18),
    Column("Jobs", lambda row: row.jobs, COUNT, 8, on=SHEET | JSON),
    HOURS_QUOTED,
    HOURS_WORKED,
    Column(
        "Minutes quoted",
        lambda row: row.minutes_estimated,
        MINUTES,
        key="minutes_estimated",
        on=TERMINAL | JSON,
    ),
    Column("Minutes", lambda row: row.minutes_actual, MINUTES, key="minutes_actual", on=TERMINAL | JSON),
    Column("Over/under", _over_pct, PERCENT, 11, on=SEEN),
    Column("Hours not logged", lambda row: row.minutes_assumed / 60, HOURS, 13, on=SHEET),
    Column("Not logged", lambda row: row.minutes_assumed or None, MINUTES, on=TERMINAL),
    Column("as_quoted_minutes", lambda row: row.minutes_assumed, MINUTES, on=JSON),
    Column("Rework hours", lambda row: row.minutes_rework / 60, HOURS, 13, on=SHEET),
    Column("Rework minutes", lambda row: row.minutes_rework or None, MINUTES, on=TERMINAL),
    Column("Minutes rework", lambda row: row.minutes_rework, MINUTES, on=JSON),
    Column("Labour quoted", lambda row: row.estimated, MONEY, 13, "estimated", on=SHEET | JSON),
    Column("Labour", lambda row: row.actual, MONEY, 13, "actual"),
)
WON_PCT: "Column[WinRate]" = Column("Won %", lambda row: row.won_pct, PERCENT, key="won_pct")
WIN_RATES: "tuple[Column[WinRate], ...]" = (
    Column("Quoted margin", lambda row: row.band, width=20, key="margin"),
    Column("Won", lambda row: row.won, COUNT, 10),
    Column("Lost", lambda row: row.lost, COUNT, 10),
    Column("Open", lambda row: row.open, COUNT, 10),
    WON_PCT,
)

AT_BOTTLENECK: "tuple[Column[AtBottleneck], ...]" = (
    Column("Job or kind", lambda row: row.name, width=20, key="name"),
    Column("Title", lambda row: row.title, width=30),
    Column("Jobs", lambda row: row.jobs, COUNT, 8, on=SHEET | JSON),
    Column("Bottleneck hours", lambda row: row.hours, HOURS, 11, "hours"),
    Column("Contribution", lambda row: row.contribution, MONEY, 13, "contribution"),
    Column("Per hour", lambda row: row.per_hour, MONEY, 13, "per_hour"),
)

# --- what the jobs say of the standards -----------------------------------------------------------


def _range(item: "Suggestion") -> str:
    if item.low == item.high:
        return ""  # how far jobs lie off is itself no value with a range
    return f"{item.low:f} to {item.high:f}" if item.told_alone else "with others"


def _end(item: "Suggestion", end: "Decimal") -> "Decimal | None":
    return end if item.told_alone and item.low < item.high else None


SUGGESTIONS: "tuple[Column[Suggestion], ...]" = (
    Column("Standard", lambda item: item.standard, width=28),
    Column("Operation", lambda item: item.operation, width=13, on=SHEET | JSON),
    Column("Unit", lambda item: item.unit, width=16, on=SHEET | JSON),
    Column("Now", lambda item: item.now, NUMBER, 11),
    Column("Seen", lambda item: item.seen, NUMBER, 11, on=SHEET | JSON),
    Column("Suggested", lambda item: item.suggest, NUMBER, 11, "suggest"),
    Column("8 in 10", _range, FIGURE, on=TERMINAL),
    Column("From", lambda item: _end(item, item.low), NUMBER, 11, on=SHEET),
    Column("To", lambda item: _end(item, item.high), NUMBER, 11, on=SHEET),
    Column("Low", lambda item: item.low, on=JSON),
    Column("High", lambda item: item.high, on=JSON),
    Column("Change %", lambda item: item.change_pct, PERCENT, 9, "change_pct", on=SHEET | JSON),
    Column("Jobs", lambda item: item.jobs, COUNT, 8),
    Column("spread_pct", lambda item: item.spread_pct, on=JSON),
    Column("kept_from_now_pct", lambda item: item.kept_pct, on=JSON),
    Column("open_quotes", lambda item: item.open_quotes, on=JSON),
    Column(
        "Open quotes {currency}", lambda item: item.change if item.open_quotes else None, MONEY, 14, on=SEEN
    ),
    Column("open_quotes_change", lambda item: item.change, MONEY, on=JSON),
)
ODD: "tuple[Column[Oddity], ...]" = (
    Column("Job", lambda odd: odd.job, width=14),
    Column("Operation", lambda odd: odd.operation, width=20),
    Column("Minutes logged", lambda odd: odd.logged, MINUTES, 14, "logged"),
    Column("Minutes expected", lambda odd: odd.expected, MINUTES, 14, "expected"),
    Column("Worth", lambda odd: odd.worth, MONEY, 13, "worth"),
)
REPEATS: "tuple[Column[Repeat], ...]" = (
    Column("What", lambda item: item.title, width=30, key="title"),
    Column("Customer", lambda item: item.customer, width=26),
    Column("Times", lambda item: item.runs, COUNT, 9, "runs"),
    Column("Sets", lambda item: item.sets, COUNT, 9),
    Column("Minutes per set, first", lambda item: item.first, HOURS, key="minutes_a_set_first"),
    Column("Minutes per set, last", lambda item: item.last, HOURS, key="minutes_a_set_last"),
    Column("Learning curve", lambda item: 100 * item.rate, PERCENT, 10, on=SEEN),
    Column("learning_rate", lambda item: item.rate, on=JSON),
)
BY_HAND: "tuple[Column[ByHand], ...]" = (
    Column("operation", lambda hand: hand.operation),
    Column("times", lambda hand: hand.times, HOURS),
    Column("low", lambda hand: hand.low, HOURS),
    Column("high", lambda hand: hand.high, HOURS),
    Column("jobs", lambda hand: hand.jobs),
)
NEW_PACES: "tuple[Column[NewPace], ...]" = (
    Column("operation", lambda item: item.operation),
    Column("from_job", lambda item: item.job),
    Column("times", lambda item: item.times, HOURS),
    Column("jobs_before", lambda item: item.jobs_before, COUNT),
    Column("jobs_since", lambda item: item.jobs_since, COUNT),
)

# --- the log --------------------------------------------------------------------------------------

LOG: "tuple[Column[LogRow], ...]" = (
    Column("No.", lambda row: row.number, COUNT, key="number"),
    Column("Day", lambda row: row.day, DAY, key="on"),
    Column("Kind", lambda row: row.kind),
    Column("What", lambda row: row.what),
    Column("Who", lambda row: row.person, key="person"),
    Column(
        "Minutes",
        lambda row: None if row.minutes is None else f"{row.minutes.normalize():f}",
        FIGURE,
        on=SEEN,
    ),
    Column("minutes", lambda row: row.minutes, MINUTES, on=JSON),
    Column("{currency}", lambda row: row.cost, MONEY, key="cost"),
    Column("Note", lambda row: row.note),
)
DONE: "tuple[Column[Logged], ...]" = (
    Column("what", lambda row: row.what),
    Column("minutes", lambda row: row.minutes, MINUTES),
    Column("cost", lambda row: row.cost, MONEY),
    Column("note", lambda row: row.note),
)
