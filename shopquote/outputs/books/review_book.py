"""The margin review as a workbook with charts: what earned, where the hours went, what to change.

Sheets: Review (the sum, cost by category), one for each named job with its
variances, Jobs, Customers, Kinds, Sizes, Quantities, Months, Operations, Won and
lost, Standards, Repeated work, Jobs that stand out. Lays out what
`services.review_answer` found; begin at `write_review_book`.
"""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.pricing.answers import CATEGORIES
from shopquote.calc.review.ranges import BackTest
from shopquote.calc.review.variance import Variance, per_cent
from shopquote.outputs.books.book import (
    Book,
    Value,
    new_book,
    put,
    put_across,
    put_row,
    safe_file_name,
    set_page,
    set_widths,
)
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.style import (
    HEAD,
    HEAD_RIGHT,
    HEADING,
    LABEL,
    NOTE,
    NUMBER,
    PLAIN,
    TITLE,
    WHOLE,
    WRAPPED,
    Style,
    money_style,
)
from shopquote.outputs.tables.review_columns import line_name
from shopquote.outputs.tables.review_tables import by_hand_text
from shopquote.services.review.learning import StandardsLesson
from shopquote.services.review.review import Group, JobReview, ManyReview
from shopquote.services.review.review_answer import ReviewAnswer

PERCENT = Style(number='0.0" %"', across="right")
HOURS = Style(number="#,##0.0", across="right")
TOTAL = PLAIN.but(bold=True, rule="t")
# Chart colours: quoted in a quiet tone, actual in the accent, margin in green.
QUIET_TONE, ACCENT_TONE, GOOD_TONE, BAD_TONE = "B8AE9E", "7A3B12", "5B7F4B", "A03B2B"
SHEETS_OF_GROUPS = {
    "customer": ("Customers", "Customer"),
    "kind": ("Kinds", "Kind of part"),
    "size": ("Sizes", "Bar that most of the metal is"),
    "quantity": ("Quantities", "Sets"),
    "month": ("Months", "Month"),
}
MOST_IN_CHART = 12
MOST_ODD = 50
FOOTER = "Margin review: for the shop only"
STANDARDS_NOTE = (
    "In bold: at least 5 jobs, and sure enough to take it. Without a figure under Seen the jobs cannot tell "
    "it from others that come with it: take them together. Standards of fewer than 3 jobs are left out."
)
TOO_FEW = "Too few jobs with logged minutes: a standard is spoken of from 3 jobs on."


def write_review_book(answer: ReviewAnswer, folder: Path, *, shop: str = "", paper: str = "A4") -> Path:
    """Write the workbook into a folder and return its path.

    Raises:
        InputError: the folder cannot be written.
    """
    many = answer.many
    names = [review.job for review in answer.details]
    title = f"Margin review {' '.join(names)}".strip()
    book = new_book(title, shop)
    _summary(book, many, paper)
    for review in answer.details:
        _job(book, review, paper)
    _jobs(book, many, paper)
    for name, (sheet, head) in SHEETS_OF_GROUPS.items():
        if many.groups.get(name) and len(many.jobs) > 1:
            _groups(book, sheet, head, many.groups[name], many.currency, paper)
    _operations(book, many, paper)
    if not answer.details:
        _win_rates(book, many, paper)
    _standards(book, answer.lesson, many.currency, paper)
    _repeats(book, answer.lesson, paper)
    _odd_jobs(book, answer.lesson, paper)
    return save_book(book, folder / safe_file_name(title))


def _head(page: Worksheet, title: str, text: str, columns: int) -> int:
    put_across(page, 1, 1, columns, title, TITLE, fit=False)
    page.row_dimensions[1].height = 26
    put_across(page, 2, 1, columns, text, NOTE)
    return 4


def _jobs_in_words(count: int, kind: str = "") -> str:
    return f"{count} {kind}job{'' if count == 1 else 's'}"


def _table(
    page: Worksheet, row: int, heads: Sequence[str], looks: Sequence[Style], rows: Sequence[Sequence[Value]]
) -> int:
    """A table; headings over figures stand to the right. Returns the row below it."""
    right = [HEAD_RIGHT if look.across == "right" else HEAD for look in looks]
    put_row(page, row, heads, right)
    for values in rows:
        row += 1
        put_row(page, row, values, looks)
    return row + 1


# ---- the sum ----------------------------------------------------------------------------------


def _summary(book: Book, many: ManyReview, paper: str) -> None:
    page = book.add("Review")
    set_widths(page, [38, 15, 15, 15, 12, 12])
    total, money = many.total, money_style(many.currency)
    days = [row.done_on for row in many.jobs]
    span = f"{_jobs_in_words(total.jobs)} done from {min(days)} to {max(days)}" if days else "No jobs"
    row = _head(page, "Margin review", f"{span}. Amounts in {many.currency}, before tax.", 6)
    facts: list[tuple[str, Value, Style]] = [
        ("Price", total.price, money),
        ("Cost, quoted", total.cost_estimated, money),
        ("Cost, actual", total.cost_actual, money),
        ("Margin", total.margin, money),
        ("Margin, % of the price", _pct(total.margin_pct), PERCENT),
        ("Margin quoted, % of the price", _pct(total.margin_estimated_pct), PERCENT),
        ("Hours worked", total.minutes_actual / 60, HOURS),
        ("Margin for each hour", total.margin_per_hour, money),
        ("Rework, % of the hours", _pct(per_cent(total.minutes_rework, total.minutes_actual)), PERCENT),
    ]
    if many.bottleneck is not None:
        name = f"An hour of {many.bottleneck.operation} earned"
        facts.append((name, many.bottleneck.per_hour, money))
    inside, stated = many.ranges_held
    if stated:
        facts.append(("Jobs inside their quote's 8-in-10 range, %", 100 * inside / stated, PERCENT))
    for name, value, look in facts:
        put(page, row, 1, name, LABEL)
        put(page, row, 2, value, look)
        row += 1
    row += 1
    put(page, row, 1, "Cost by category", HEADING)
    first = row + 1
    rows = [
        (name, many.estimated[index], many.actual[index], many.actual[index] - many.estimated[index])
        for index, name in enumerate(CATEGORIES)
    ]
    looks = [PLAIN, money, money, money]
    last = _table(page, first, ("Category", "Quoted", "Actual", "More"), looks, rows)
    put_row(
        page,
        last,
        ["All", total.cost_estimated, total.cost_actual, total.cost_actual - total.cost_estimated],
        [TOTAL, *[money.but(bold=True, rule="t")] * 3],
    )
    _bars(page, "Cost by category", first, last - 1, [2, 3], f"A{last + 3}", many.currency)
    if any(figures.assumed for figures in many.jobs):
        put_across(page, last + 1, 1, 6, _as_quoted(many), NOTE)
    set_page(page, paper=paper, footer=FOOTER, last_row=last + 22, last_column=6)


def _as_quoted(many: ManyReview) -> str:
    counts: dict[str, int] = {}
    for figures in many.jobs:
        for name in figures.assumed:
            counts[name] = counts.get(name, 0) + 1
    words = ", ".join(f"{name} of {count} jobs" for name, count in counts.items())
    return f"Taken as quoted because nothing was logged: {words}."


# ---- one job ----------------------------------------------------------------------------------


def _job(book: Book, review: JobReview, paper: str) -> None:
    page = book.add(review.job)
    set_widths(page, [32, 12, 12, 12, 12, 12, 12, 12, 11, 11])
    money = money_style(review.currency)
    state = f"closed on {review.closed_on}" if review.closed_on else review.state
    text = f"{review.title} for {review.customer}, {review.sets} sets, {state}. {review.quote}."
    row = _head(page, f"{review.job} margin", text, 10)
    estimated, actual = review.estimated, review.actual
    facts = (
        ("", "Quoted", "Actual", HEAD_RIGHT),
        ("Price", review.quoted, review.price, money),
        ("Cost", estimated.cost, actual.cost, money),
        ("Margin", estimated.margin, actual.margin, money),
        ("Margin, % of the price", _pct(estimated.margin_pct), _pct(actual.margin_pct), PERCENT),
        ("Margin for each hour", estimated.margin_per_hour, actual.margin_per_hour, money),
        ("Earned for each hour", estimated.contribution_per_hour, actual.contribution_per_hour, money),
    )
    for name, left, right, look in facts:
        put_row(page, row, [name, left, right], [LABEL, look, look])
        row += 1
    row += 1
    put(page, row, 1, "Why the cost differs", HEADING)
    heads = ("Cost", "Quoted", "Actual", "More", "Quantity", "Time", "Rate", "Price", "Min quoted", "Min")
    looks = [PLAIN, *[money] * 7, WHOLE, WHOLE]
    first = row + 1
    last = _table(page, first, heads, looks, [_variance_row(line) for line in review.lines])
    total_looks = [TOTAL, *[look.but(bold=True, rule="t") for look in looks[1:]]]
    put_row(page, last, _variance_row(review.total, "All"), total_looks)
    row = last + 2
    for heading, lines in (
        ("What went right or wrong", review.sentences),
        ("Scrapped", [f"{count} x {mark}: {reason}" for mark, count, reason in review.scrapped]),
        ("Notes", _notes(review)),
    ):
        if lines:
            put(page, row, 1, heading, HEADING)
            for line in lines:
                row += 1
                put_across(page, row, 1, 10, line, WRAPPED)
            row += 2
    _bars(page, "Quoted and actual", first, last - 1, [2, 3], f"A{row}", review.currency, width=24)
    set_page(
        page,
        paper=paper,
        landscape=True,
        one_page=True,
        footer=f"{review.job}: for the shop only",
        last_row=row + 17,
        last_column=10,
    )


def _notes(review: JobReview) -> list[str]:
    notes = list(review.notes)
    if review.assumed:
        notes.append(f"Taken as quoted, nothing logged: {', '.join(review.assumed)}.")
    return notes


def _variance_row(line: Variance, name: str = "") -> list[Value]:
    shown = name or line_name(line)
    parts: list[Value] = [amount or None for amount in line.parts.values()]
    minutes: list[Value] = [value or None for value in (line.minutes_estimated, line.minutes_actual)]
    return [shown, line.estimated, line.actual, line.difference, *parts, *minutes]


# ---- many jobs --------------------------------------------------------------------------------


def _jobs(book: Book, many: ManyReview, paper: str) -> None:
    page = book.add("Jobs")
    set_widths(page, [10, 30, 24, 11, 12, 12, 12, 12, 10, 10, 10, 11])
    money = money_style(many.currency)
    row = _head(page, "Jobs", "In the order they were done; sort or filter by any column.", 12)
    heads = (
        "Job", "Title", "Customer", "Done", "Price", "Cost quoted", "Cost", "Margin", "Margin %", "Quoted %",
        "Hours", "Margin/h",
    )  # fmt: skip
    looks = [PLAIN, PLAIN, PLAIN, PLAIN, money, money, money, money, PERCENT, PERCENT, HOURS, money]
    rows: list[list[Value]] = []
    for figures in many.jobs:
        estimated, actual = figures.cost_estimated, figures.cost_actual
        margin = figures.price - actual
        hours = figures.minutes_actual / 60
        rows.append(
            [
                figures.number,
                figures.title,
                figures.customer,
                figures.done_on,
                figures.price,
                estimated,
                actual,
                margin,
                _pct(per_cent(margin, figures.price)),
                _pct(per_cent(figures.quoted - estimated, figures.quoted)),
                hours,
                round(margin / hours, 2) if hours else None,
            ]
        )
    last = _table(page, row, heads, looks, rows)
    page.auto_filter.ref = f"A{row}:L{max(row, last - 1)}"
    page.freeze_panes = f"B{row + 1}"
    total = many.total
    put_row(
        page,
        last,
        [
            "All",
            "",
            "",
            "",
            total.price,
            total.cost_estimated,
            total.cost_actual,
            total.margin,
            _pct(total.margin_pct),
            _pct(total.margin_estimated_pct),
            total.minutes_actual / 60,
            total.margin_per_hour,
        ],
        [look.but(bold=True, rule="t") for look in looks],
    )
    set_page(page, paper=paper, landscape=True, head_rows=f"{row}:{row}", footer=FOOTER)


def _groups(book: Book, sheet: str, head: str, groups: Sequence[Group], currency: str, paper: str) -> None:
    page = book.add(sheet)
    set_widths(page, [28, 8, 13, 13, 13, 13, 10, 10, 10, 11])
    money = money_style(currency)
    row = _head(page, sheet, f"Amounts in {currency}. Each job counts in one row.", 10)
    heads = (
        head,
        "Jobs",
        "Price",
        "Cost quoted",
        "Cost",
        "Margin",
        "Margin %",
        "Quoted %",
        "Hours",
        "Margin/h",
    )
    looks = [PLAIN, WHOLE, money, money, money, money, PERCENT, PERCENT, HOURS, money]
    rows: list[list[Value]] = [
        [
            group.name, group.jobs, group.price, group.cost_estimated, group.cost_actual, group.margin,
            _pct(group.margin_pct), _pct(group.margin_estimated_pct), group.minutes_actual / 60,
            group.margin_per_hour,
        ]
        for group in groups
    ]  # fmt: skip
    last = _table(page, row, heads, looks, rows)
    shown = min(len(groups), 24 if sheet == "Months" else MOST_IN_CHART)
    end = row + shown
    anchor = f"A{last + 2}"
    if sheet == "Months":
        start = last - shown
        _margin_over_time(page, row, start, last - 1, anchor, currency)
    else:
        _bars(page, f"Margin, {currency}", row, end, [6], anchor, currency, width=22)
    set_page(
        page,
        paper=paper,
        landscape=True,
        one_page=len(groups) <= 40,
        head_rows=f"{row}:{row}",
        last_row=last + 20,
        last_column=10,
        footer=FOOTER,
    )


def _operations(book: Book, many: ManyReview, paper: str) -> None:
    page = book.add("Operations")
    set_widths(page, [18, 8, 13, 13, 10, 13, 13, 13])
    money = money_style(many.currency)
    row = _head(
        page, "Operations", "Where the hours went, the most worked first. Rework is within the hours.", 8
    )
    heads = ("Operation", "Jobs", "Hours quoted", "Hours", "More %", "Rework h", "Labour quoted", "Labour")
    looks = [PLAIN, WHOLE, HOURS, HOURS, PERCENT, HOURS, money, money]
    rows: list[list[Value]] = [
        [
            item.operation, item.jobs, item.minutes_estimated / 60, item.minutes_actual / 60,
            _pct(per_cent(item.minutes_actual - item.minutes_estimated, item.minutes_estimated)),
            item.minutes_rework / 60, item.estimated, item.actual,
        ]
        for item in many.operations
    ]  # fmt: skip
    last = _table(page, row, heads, looks, rows)
    if rows:
        _bars(page, "Hours quoted and worked", row, last - 1, [3, 4], f"A{last + 2}", "h", width=22)
    set_page(
        page,
        paper=paper,
        landscape=True,
        last_row=last + 20,
        last_column=8,
        footer=FOOTER,
    )


def _win_rates(book: Book, many: ManyReview, paper: str) -> None:
    if not many.win_rates:
        return
    page = book.add("Won and lost")
    set_widths(page, [20, 10, 10, 10, 12])
    row = _head(page, "Won and lost", "Quotes by the margin that they were quoted at.", 5)
    heads = ("Quoted margin", "Won", "Lost", "Open", "Won %")
    rows: list[list[Value]] = [
        [item.band, item.won, item.lost, item.open, _pct(item.won_pct)] for item in many.win_rates
    ]
    last = _table(page, row, heads, [PLAIN, WHOLE, WHOLE, WHOLE, PERCENT], rows)
    _bars(page, "Won, % of those decided", row, last - 1, [5], f"A{last + 2}", "%", width=14)
    set_page(page, paper=paper, last_row=last + 20, last_column=8, footer=FOOTER)


def _standards(book: Book, lesson: StandardsLesson, currency: str, paper: str) -> None:
    page = book.add("Standards")
    set_widths(page, [28, 13, 16, 11, 11, 11, 11, 11, 9, 8, 14])
    money = money_style(currency)
    text = (
        f"The standards by what was logged on {_jobs_in_words(lesson.jobs, 'finished ')}. Seen is from the "
        "jobs alone; suggested is drawn toward the standard in force by how unsure the jobs are, with the "
        "range that holds the true value in 8 cases of 10. Take one with: shopquote review --accept NAME"
    )
    row = _head(page, "Standards", text, 11)
    heads = (
        "Standard",
        "Operation",
        "Unit",
        "Now",
        "Seen",
        "Suggested",
        "From",
        "To",
        "Change %",
        "Jobs",
        f"Open quotes {currency}",
    )
    looks = [PLAIN, PLAIN, PLAIN, NUMBER, NUMBER, NUMBER, NUMBER, NUMBER, PERCENT, WHOLE, money]
    strong = [look.but(bold=True) for look in looks]
    put_row(page, row, heads, [HEAD_RIGHT if look.across == "right" else HEAD for look in looks])
    first = row
    for item in lesson.suggestions:
        row += 1
        values: list[Value] = [
            item.standard,
            item.operation,
            item.unit,
            item.now,
            item.seen,
            item.suggest,
            item.low if item.told_alone else None,
            item.high if item.told_alone else None,
            float(item.change_pct),
            item.jobs,
            item.change if item.open_quotes else None,
        ]
        put_row(page, row, values, strong if item.worth_it else looks)
    row += 2
    put_across(page, row, 1, 11, STANDARDS_NOTE if lesson.suggestions else TOO_FEW, NOTE)
    lines = [by_hand_text(hand) for hand in lesson.by_hand]
    if lesson.back_test is not None and lesson.back_test.jobs:
        lines.append(_back_test_text(lesson.back_test))
    for line in lines:
        row += 1
        put_across(page, row, 1, 11, line, WRAPPED)
    set_page(page, paper=paper, landscape=True, head_rows=f"{first}:{first}", footer=FOOTER)


def _back_test_text(test: BackTest) -> str:
    return (
        f"Back-test on {test.jobs} jobs not yet seen: the actual minutes fell inside the stated 80 % "
        f"range {test.covered_pct:.1f} % of the time. A job's minutes were off by "
        f"{test.error_learned_pct:.1f} % with learned standards and by {test.error_now_pct:.1f} % with "
        f"those in force. In 8 of 10 cases the usual next job takes {test.low_pct:.0f} to "
        f"{test.high_pct:.0f} % of the minutes expected of it."
    )


def _repeats(book: Book, lesson: StandardsLesson, paper: str) -> None:
    if not lesson.repeats:
        return
    page = book.add("Repeated work")
    set_widths(page, [30, 26, 9, 9, 12, 12, 10])
    text = "The same thing for the same customer: what is left of the minutes for a set at each doubling."
    row = _head(page, "Repeated work", text, 7)
    rows: list[Sequence[Value]] = [
        (item.title, item.customer, item.runs, item.sets, item.first, item.last, float(100 * item.rate))
        for item in lesson.repeats
    ]
    heads = ("What", "Customer", "Times", "Sets", "Min first", "Min last", "Curve %")
    _table(page, row, heads, [PLAIN, PLAIN, WHOLE, WHOLE, HOURS, HOURS, PERCENT], rows)
    set_page(page, paper=paper, head_rows=f"{row}:{row}", footer=FOOTER)


def _odd_jobs(book: Book, lesson: StandardsLesson, paper: str) -> None:
    if not lesson.oddities:
        return
    page = book.add("Jobs that stand out")
    set_widths(page, [14, 20, 14, 14])
    text = "Minutes far off what all jobs together say: a wrong entry, or something to learn from."
    row = _head(page, "Jobs that stand out", text, 4)
    rows = [(odd.job, odd.operation, odd.logged, odd.expected) for odd in lesson.oddities[:MOST_ODD]]
    _table(page, row, ("Job", "Operation", "Min logged", "Min expected"), [PLAIN, PLAIN, WHOLE, WHOLE], rows)
    set_page(page, paper=paper, head_rows=f"{row}:{row}", footer=FOOTER)


# ---- charts -----------------------------------------------------------------------------------


def _bars(
    page: Worksheet,
    title: str,
    head: int,
    last: int,
    columns: Sequence[int],
    anchor: str,
    unit: str,
    *,
    width: int = 17,
) -> None:
    """Bars for each row, one colour a column; the headings name them."""
    if last - head < 2:  # one bar says nothing
        return
    chart = BarChart()
    chart.type = "bar" if last - head > 6 else "col"
    chart.style = 10
    chart.title = title
    chart.height = 8.5
    chart.width = width
    for column in columns:
        chart.add_data(Reference(page, min_col=column, min_row=head, max_row=last), titles_from_data=True)
    chart.set_categories(Reference(page, min_col=1, min_row=head + 1, max_row=last))
    tones = [QUIET_TONE, ACCENT_TONE] if len(columns) == 2 else [GOOD_TONE]
    for series, tone in zip(chart.series, tones, strict=True):
        series.graphicalProperties.solidFill = tone
        series.invertIfNegative = False
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"  # beside the chart, also where a margin is negative
    chart.y_axis.number_format = "#,##0"
    chart.y_axis.title = None
    chart.legend = chart.legend if len(columns) > 1 else None
    chart.gapWidth = 60
    if chart.type == "bar":
        chart.x_axis.scaling.orientation = "maxMin"
    if len(columns) == 1:
        chart.dataLabels = DataLabelList()
        chart.dataLabels.showVal = True
        chart.dataLabels.numFmt = "#,##0"
        for name in ("showSerName", "showCatName", "showLegendKey", "showPercent"):
            setattr(chart.dataLabels, name, False)
    page.add_chart(chart, anchor)


def _margin_over_time(page: Worksheet, head: int, first: int, last: int, anchor: str, currency: str) -> None:
    """Margin quoted and earned, in per cent, month by month."""
    if last - first < 1:
        return
    chart = LineChart()
    chart.title = "Margin, % of the price"
    chart.height, chart.width = 8.5, 22
    for column, tone in ((7, ACCENT_TONE), (8, QUIET_TONE)):
        chart.add_data(Reference(page, min_col=column, min_row=first, max_row=last))
        series = chart.series[-1]
        series.graphicalProperties.line.solidFill = tone
        series.graphicalProperties.line.width = 28_000
        series.smooth = False
        series.tx = _named(page, head, column)
    chart.set_categories(Reference(page, min_col=1, min_row=first, max_row=last))
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"  # below the chart, also where a margin is negative
    chart.y_axis.number_format = "0"
    page.add_chart(chart, anchor)


def _named(page: Worksheet, row: int, column: int) -> object:
    return SeriesLabel(strRef=StrRef(f"'{page.title}'!${get_column_letter(column)}${row}"))


def _pct(value: Decimal | None) -> Value:
    return None if value is None else float(value)
