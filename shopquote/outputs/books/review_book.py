"""The margin review as a workbook with charts: what earned, where the hours went, what to change.

Sheets: Review (the sum, cost by category), one for each named job with its
variances, Jobs, Customers, Kinds, Sizes, Quantities, Months, Operations, Won and
lost, Standards, Repeated work, Jobs that stand out. Lays out what
`services.review.review_answer` found, in the columns of `tables.review_columns`.
Begin at `write_review_book`.
"""

from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.pricing.priced_quote import CATEGORIES
from shopquote.calc.review.variance import per_cent
from shopquote.errors import counted
from shopquote.outputs.books.book import Book, new_book, put_first, put_line, safe_file_name, set_page
from shopquote.outputs.books.charts import GOOD_TONE, bars, hang, lines
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.month_sheet import month_sheet
from shopquote.outputs.books.sheet_table import Drawn, Fact, draw, fact, put_facts, widen
from shopquote.outputs.books.style import HEADING, NOTE, TITLE, WRAPPED
from shopquote.outputs.looks import HOURS, MONEY, PERCENT, Setting
from shopquote.outputs.table import Column, Row, Table
from shopquote.outputs.tables import owner_tables as owner
from shopquote.outputs.tables import review_columns as columns
from shopquote.outputs.tables.month_words import month_of
from shopquote.outputs.tables.review_words import (
    assumed_of_many,
    assumed_text,
    back_test_text,
    by_hand_text,
    gaps_text,
    pace_texts,
)
from shopquote.services.review.bottleneck import Bottleneck
from shopquote.services.review.hours import Hours
from shopquote.services.review.job_groups import Group
from shopquote.services.review.job_review import JobReview
from shopquote.services.review.review import ManyReview
from shopquote.services.review.review_answer import ReviewAnswer

SHEETS_OF_GROUPS = {
    "customer": ("Customers", "Customer"),
    "kind": ("Kinds", "Kind of part"),
    "size": ("Sizes", "Bar that most of the metal is"),
    "quantity": ("Quantities", "Sets"),
    "month": ("Months", "Month"),
}
MOST_IN_CHART, MONTHS_IN_CHART = 12, 24
MOST_ODD = 50
MOST_RANKED = 100
# Rows to leave for a chart below its table.
CHART_ROWS = 20
PARTLY = ", in part as quoted"
FOOTER = "Margin review: for the shop only"
STANDARDS_NOTE = (
    "In bold: worth taking, best all together. Without a figure under Seen, the jobs cannot tell a standard "
    "from others that come with it: take them together. Standards of fewer than 3 jobs are listed only if "
    "others move them."
)
TOO_FEW = "Too few jobs with logged minutes: a standard needs at least 3 jobs."

Category = tuple[str, Decimal, Decimal]
CATEGORY: Column[Category] = Column("Category", lambda row: row[0], width=38)
CATEGORY_QUOTED: Column[Category] = Column("Quoted", lambda row: row[1], MONEY, 15)
CATEGORY_ACTUAL: Column[Category] = Column("Actual", lambda row: row[2], MONEY, 15)
CATEGORY_COLUMNS: tuple[Column[Category], ...] = (
    CATEGORY,
    CATEGORY_QUOTED,
    CATEGORY_ACTUAL,
    Column("Over/under", lambda row: row[2] - row[1], MONEY, 15),
)


def write_review_book(answer: ReviewAnswer, folder: Path, *, shop: str = "", paper: str = "A4") -> Path:
    """Write the workbook into a folder and return its path.

    Raises:
        InputError: the folder cannot be written.
    """
    names = [review.job for review in answer.details]
    title = f"Margin review {' '.join(names) or answer.month}".strip()
    book = _ReviewBook(new_book(title, shop), answer, paper)
    book.fill()
    return save_book(book.book, folder / safe_file_name(title))


class _ReviewBook:
    """Draws the sheets in the order in which an owner reads them."""

    def __init__(self, book: Book, answer: ReviewAnswer, paper: str) -> None:
        self.book, self.answer, self.paper = book, answer, paper
        self.many, self.lesson = answer.many, answer.lesson
        self.setting = Setting(answer.many.currency)

    def fill(self) -> None:
        """Draw every sheet that is not empty."""
        if not self.answer.details:
            month_sheet(self.book, month_of(self.answer), self.setting, paper=self.paper, footer=FOOTER)
        self._summary(self.many)
        for review in self.answer.details:
            self._job(review)
        self._jobs()
        for name, (sheet, head) in SHEETS_OF_GROUPS.items():
            if self.many.groups.get(name) and len(self.many.jobs) > 1:
                self._groups(sheet, head, self.many.groups[name])
        self._operations()
        self._owner()
        if self.many.bottleneck is not None and len(self.many.bottleneck.jobs) > 1:
            self._bottleneck(self.many.bottleneck)
        if not self.answer.details and self.many.win_rates:
            self._win_rates()
            if self.answer.asking.best is not None:
                self._asking()
        self._standards()
        if self.lesson.repeats:
            self._repeats()
        if self.lesson.oddities:
            self._odd_jobs()

    def _sheet(
        self, title: str, text: str, table: Table[Row], strong: Callable[[Row], bool] | None = None
    ) -> Drawn[Row]:
        """Draw a sheet with a title and one table."""
        page = self.book.add(title)
        row = _head(page, title, text, table.columns)
        return draw(page, table, row, strong=strong)

    def _page(
        self, drawn: Drawn[Any], *, wide: bool = True, last_row: int | None = None, one_page: bool = False
    ) -> None:
        set_page(
            drawn.sheet, paper=self.paper, landscape=wide, one_page=one_page, footer=FOOTER,
            head_rows=f"{drawn.head}:{drawn.head}", last_row=last_row,
        )  # fmt: skip

    # --- the sum ---------------------------------------------------------------------------

    def _summary(self, many: ManyReview) -> None:
        page = self.book.add("Review")
        total, setting = many.total, self.setting
        days = [row.done_on for row in many.jobs]
        span = f"{counted(total.jobs, 'job')} done from {min(days)} to {max(days)}" if days else "No jobs"
        text = f"{span}. Amounts in {many.currency}, before tax."
        row = _head(page, "Margin review", text, CATEGORY_COLUMNS)
        row = put_facts(page, row, _sums(many), setting) + 1
        put_first(page, row, "Cost by category", HEADING)
        rows = [(name, many.estimated[at], many.actual[at]) for at, name in enumerate(CATEGORIES)]
        last = ("total", total.cost_estimated, total.cost_actual)
        drawn = draw(page, Table(CATEGORY_COLUMNS, rows, setting=setting, last=last), row + 1)
        if any(figures.assumed for figures in many.jobs):
            texts = [text for text in (gaps_text(many), assumed_of_many(many)) if text]
            put_line(page, drawn.below, len(CATEGORY_COLUMNS), ". ".join(texts), NOTE)
        hang(
            page,
            bars(drawn, CATEGORY, (CATEGORY_QUOTED, CATEGORY_ACTUAL), "Cost by category"),
            drawn.below + 2,
        )
        set_page(page, paper=self.paper, footer=FOOTER, last_row=drawn.below + CHART_ROWS)

    # --- one job ---------------------------------------------------------------------------

    def _job(self, review: JobReview) -> None:
        page, setting = self.book.add(review.job), Setting(review.currency)
        state = f"closed on {review.closed_on}" if review.closed_on else review.state
        text = f"{review.title} for {review.customer}, {review.sets} sets, {state}. {review.quote}."
        shown = columns.VARIANCES_IN_BOOK
        row = _head(page, f"{review.job} margin", text, shown)
        row = put_facts(page, row, _quoted_and_actual(review), setting, ("Quoted", "Actual")) + 1
        put_first(page, row, "Why the cost differs", HEADING)
        drawn = draw(page, Table(shown, review.lines, setting=setting, last=review.total), row + 1)
        row = drawn.below + 1
        scrapped = [f"{count} x {mark}: {reason}" for mark, count, reason in review.scrapped]
        for heading, texts in (
            ("What went right or wrong", review.sentences), ("Scrapped", scrapped), ("Notes", _notes(review)),
        ):  # fmt: skip
            row = _paragraph(page, row, heading, texts, len(shown))
        quoted_and_actual = (columns.QUOTED, columns.ACTUAL)
        hang(page, bars(drawn, columns.COST, quoted_and_actual, "Quoted and actual", width=24), row)
        set_page(
            page, paper=self.paper, landscape=True, one_page=True, last_row=row + 17, last_column=len(shown),
            footer=f"{review.job}: for the shop only",
        )  # fmt: skip

    # --- many jobs -------------------------------------------------------------------------

    def _jobs(self) -> None:
        many = self.many
        text = "In the order they were done; sort or filter by any column."
        table = Table(columns.JOBS, many.jobs, setting=self.setting, last=many.total)
        drawn = self._sheet("Jobs", text, table)
        page = drawn.sheet
        page.auto_filter.ref = (
            f"A{drawn.head}:{drawn.letter(table.on('sheet')[-1])}{max(drawn.head, drawn.end)}"
        )
        page.freeze_panes = f"B{drawn.first}"
        self._page(drawn)

    def _groups(self, sheet: str, head: str, groups: Sequence[Group]) -> None:
        shown = columns.group_columns(head)
        text = f"Amounts in {self.many.currency}. Each job counts in one row."
        drawn = self._sheet(sheet, text, Table(shown, groups, setting=self.setting))
        chart: Any
        if sheet == "Months":
            percents = (columns.GROUP_MARGIN_PCT, columns.GROUP_QUOTED_PCT)
            chart = lines(drawn, shown[0], percents, "Margin, % of the price", newest=MONTHS_IN_CHART)
        else:
            title = f"Margin, {self.many.currency}"
            chart = bars(
                drawn,
                shown[0],
                (columns.GROUP_MARGIN,),
                title,
                tones=(GOOD_TONE,),
                most=MOST_IN_CHART,
                width=22,
            )
        hang(drawn.sheet, chart, drawn.below + 1)
        self._page(drawn, last_row=drawn.below + CHART_ROWS, one_page=len(groups) <= 40)

    def _operations(self) -> None:
        text = "Where the hours went, the most worked first. Rework is within the hours."
        table = Table(columns.OPERATIONS, self.many.operations, setting=self.setting)
        drawn = self._sheet("Operations", text, table)
        hours = (columns.HOURS_QUOTED, columns.HOURS_WORKED)
        hang(
            drawn.sheet,
            bars(drawn, columns.OPERATIONS[0], hours, "Hours quoted and worked", width=22),
            drawn.below + 1,
        )
        self._page(drawn, last_row=drawn.below + CHART_ROWS)

    def _owner(self) -> None:
        left, hours = self.answer.left, self.answer.hours
        text = "Money that prices left against the margins quoted; the range holds it in 8 of 10 cases."
        if left.groups and not self.answer.details:
            table = Table(owner.GROUPS_LEFT, left.groups, setting=self.setting)
            self._page(self._sheet("What to ask", text, table, lambda row: row.advice in ("raise", "drop")))
        text = "What the jobs that left most should have cost, without rework and at the minutes of all jobs."
        if left.jobs:
            self._page(
                self._sheet(
                    "Left on the table", text, Table(owner.JOBS_LEFT, left.jobs, setting=self.setting)
                )
            )
        if hours.paid is not None and not self.answer.details:
            self._hours(hours)

    def _hours(self, hours: Hours) -> None:
        (text, people), *others = owner.hours_tables(hours)
        drawn: Drawn[Any] = self._sheet("Hours", f"{text}.", people)
        for title, table in others:
            put_first(drawn.sheet, drawn.below + 1, title, HEADING)
            drawn = draw(drawn.sheet, table, drawn.below + 2)
        if hours.overhead is not None:
            carried = owner.overhead_text(hours.overhead, self.many.currency)
            put_line(drawn.sheet, drawn.below + 1, len(owner.PEOPLE_HOURS), carried, WRAPPED)
        self._page(drawn, wide=False, one_page=True)

    def _bottleneck(self, held: Bottleneck) -> None:
        text = (
            f"What was left for each hour of {held.operation} after everything paid for a job alone: "
            "kinds, then jobs, the best first. When its hours are short, take work from the top."
        )
        jobs = held.jobs
        if len(jobs) > 2 * MOST_RANKED:
            text += f" Of {len(jobs)} jobs the {MOST_RANKED} highest and lowest."
            jobs = (*jobs[:MOST_RANKED], *jobs[-MOST_RANKED:])
        rows = (*held.kinds, *jobs)
        table = Table(columns.AT_BOTTLENECK, rows, setting=self.setting)
        self._page(self._sheet("Bottleneck", text, table, lambda row: not row.title))

    def _asking(self) -> None:
        text = f"The usual quote by its margin. {owner.asking_text(self.answer.asking)}"
        table = Table(owner.CHANCES, self.answer.asking.rows, setting=self.setting)
        self._page(self._sheet("Which margin", text, table), wide=False)

    def _win_rates(self) -> None:
        text = "Quotes by the margin that they were quoted at."
        drawn = self._sheet("Won and lost", text, Table(columns.WIN_RATES, self.many.win_rates))
        won = columns.WON_PCT
        title = "Won, % of those decided"
        chart = bars(drawn, columns.WIN_RATES[0], (won,), title, tones=(GOOD_TONE,), width=14)
        hang(drawn.sheet, chart, drawn.below + 1)
        self._page(drawn, wide=False, last_row=drawn.below + CHART_ROWS)

    # --- what the jobs say of the standards ------------------------------------------------

    def _standards(self) -> None:
        lesson = self.lesson
        text = (
            f"The standards by what was logged on {counted(lesson.jobs, 'finished job')}. Seen is from "
            "the jobs alone; suggested puts the pace of the shop, of the operation and of the standard "
            "together, each drawn toward what was believed before by how unsure the jobs are, with the range "
            f"that holds the true value in 8 cases of 10. Take them with: {self.answer.taking} all, or "
            "with NAME in place of all"
        )
        table = Table(columns.SUGGESTIONS, lesson.suggestions, setting=self.setting)
        drawn = self._sheet("Standards", text, table, lambda item: item.worth_it)
        row, last = drawn.below + 1, len(table.on("sheet"))
        put_line(drawn.sheet, row, last, STANDARDS_NOTE if lesson.suggestions else TOO_FEW, NOTE)
        texts = pace_texts(lesson)
        texts += [by_hand_text(hand) for hand in lesson.by_hand]
        if lesson.back_test is not None and lesson.back_test.jobs:
            texts.append(back_test_text(lesson.back_test))
        for text in texts:
            row += 1
            put_line(drawn.sheet, row, last, text, WRAPPED)
        self._page(drawn)

    def _repeats(self) -> None:
        text = "The same thing for the same customer: what is left of the minutes for a set at each doubling."
        drawn = self._sheet("Repeated work", text, Table(columns.REPEATS, self.lesson.repeats))
        self._page(drawn, wide=False)

    def _odd_jobs(self) -> None:
        text = "Minutes far off what all jobs together say: a wrong entry, or something to learn from."
        rows = self.lesson.oddities[:MOST_ODD]
        self._page(
            self._sheet("Jobs that stand out", text, Table(columns.ODD, rows, setting=self.setting)),
            wide=False,
        )


# --- words and figures ----------------------------------------------------------------------------


def _head(page: Worksheet, title: str, text: str, shown: Sequence[Column[Any]]) -> int:
    """Draw the title and text of a sheet over its columns; returns the row for the table."""
    widen(page, shown)
    last = len([column for column in shown if "sheet" in column.on])
    put_line(page, 1, last, title, TITLE, fit=False)
    page.row_dimensions[1].height = 26
    put_line(page, 2, last, text, NOTE)
    return 4


def _paragraph(page: Worksheet, row: int, heading: str, texts: Sequence[str], last: int) -> int:
    if not texts:
        return row
    put_first(page, row, heading, HEADING)
    for text in texts:
        row += 1
        put_line(page, row, last, text, WRAPPED)
    return row + 2


def _sums(many: ManyReview) -> list[Fact]:
    total = many.total
    rework = per_cent(total.minutes_rework, total.minutes_actual)
    facts: list[Fact] = [
        fact("Price", MONEY, total.price),
        fact("Cost, quoted", MONEY, total.cost_estimated),
        fact("Cost, actual" + (PARTLY if total.gap else ""), MONEY, total.cost_actual),
        fact("Margin", MONEY, total.margin),
        fact("Margin, % of the price", PERCENT, total.margin_pct),
        fact("Margin quoted, % of the price", PERCENT, total.margin_estimated_pct),
        fact("Hours worked" + (PARTLY if many.minutes_assumed else ""), HOURS, total.minutes_actual / 60),
        fact("Margin per hour", MONEY, total.margin_per_hour),
        fact("Rework, % of the hours", PERCENT, rework),
    ]
    if many.bottleneck is not None:
        facts.append(
            fact(f"Earned for each hour of {many.bottleneck.operation}", MONEY, many.bottleneck.per_hour)
        )
    inside, stated = many.ranges_held
    if stated:
        facts.append(fact("Jobs inside their quote's 8-in-10 range, %", PERCENT, 100 * inside / stated))
    return facts


def _quoted_and_actual(review: JobReview) -> list[Fact]:
    quoted, actual = review.estimated, review.actual
    return [
        fact("Price", MONEY, review.quoted, review.price),
        fact("Cost" + (PARTLY if review.gap else ""), MONEY, quoted.cost, actual.cost),
        fact("Margin", MONEY, quoted.margin, actual.margin),
        fact("Margin, % of the price", PERCENT, quoted.margin_pct, actual.margin_pct),
        fact("Margin per hour", MONEY, quoted.margin_per_hour, actual.margin_per_hour),
        fact("Earned per hour", MONEY, quoted.contribution_per_hour, actual.contribution_per_hour),
    ]


def _notes(review: JobReview) -> list[str]:
    return [*review.notes, *([assumed_text(review.assumed)] if review.assumed else [])]
