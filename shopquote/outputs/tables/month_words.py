"""A month, or another period, on one page: five sentences, three pictures, what to do next.

Puts a review's results into words; workbook, paper and page lay them out. Begin at `month_of`.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.review.variance import per_cent, round_to
from shopquote.errors import counted
from shopquote.outputs.looks import HOURS, MONEY, PERCENT, Look
from shopquote.outputs.tables.review_words import as_quoted_text, gaps_text, minutes_assumed_at

if TYPE_CHECKING:
    from shopquote.services.review.review_answer import ReviewAnswer

# So that the month fits on one page.
MOST_BARS, MOST_TO_DO = 8, 6


@dataclass(frozen=True, slots=True)
class PictureBar:
    """One bar of a picture, or several side by side under one name."""

    name: str
    values: tuple[Decimal, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A bar chart; `heads` names the bars that stand side by side under each name."""

    title: str
    look: Look
    heads: tuple[str, ...]
    bars: tuple[PictureBar, ...]


@dataclass(frozen=True, slots=True)
class Month:
    """What the owner reads at the end of a month."""

    title: str
    sentences: tuple[str, ...]
    pictures: tuple[Picture, ...]
    to_do: tuple[str, ...]


def month_of(answer: "ReviewAnswer") -> Month:
    """The month's page of a review."""
    many, days = answer.many, [row.done_on for row in answer.many.jobs]
    title = answer.month or (f"{min(days)} to {max(days)}" if days else "No jobs")
    if not days:
        return Month(title, ("No job was finished in these days.",), (), ())
    words = _Words(answer)
    sentences = (words.margin(), words.left(), words.hours(), words.bottleneck(), words.quotes())
    to_do = tuple(words.to_do())[:MOST_TO_DO] or ("Nothing stands out: prices, logs and standards agree.",)
    by_customer = sorted(many.groups.get("customer", ()), key=lambda row: (-row.price, row.name))[:MOST_BARS]
    pictures = (
        Picture(
            "Margin, % of the price, the largest customers first", PERCENT, ("Margin %", "Quoted %"),
            tuple(
                PictureBar(row.name, (row.margin_pct or Decimal(0), row.margin_estimated_pct or Decimal(0)))
                for row in by_customer
            ),
        ),
        Picture(
            "Hours by operation, worked and quoted", HOURS,
            ("Worked, as quoted where not logged" if many.minutes_assumed else "Worked", "Quoted"),
            tuple(
                PictureBar(row.operation, (row.minutes_actual / 60, row.minutes_estimated / 60))
                for row in many.operations[:MOST_BARS]
            ),
        ),
        Picture(
            f"Left on the table by job, {many.currency}", MONEY, ("Left on the table",),
            tuple(
                PictureBar(f"{row.number} {row.title}", (row.left,)) for row in answer.left.jobs[:MOST_BARS]
            ),
        ),
    )  # fmt: skip
    return Month(title, sentences, pictures, to_do)


class _Words:
    """Writes the sentences, each about one part of the review."""

    def __init__(self, answer: "ReviewAnswer") -> None:
        self.answer, self.many = answer, answer.many

    def money(self, amount: Decimal) -> str:
        return f"{round_money(amount, self.many.currency):,f} {self.many.currency}"

    def margin(self) -> str:
        total = self.many.total
        jobs = counted(total.jobs, "job")
        return (
            f"{jobs} brought {self.money(total.price)} and cost {self.money(total.cost_actual)}"
            f"{as_quoted_text(self.many.gaps[1], self.many.currency)}: a margin of "
            f"{self.money(total.margin)}, {_pct(total.margin_pct)} of the price, where "
            f"{_pct(total.margin_estimated_pct)} was quoted."
        )

    def left(self) -> str:
        groups = [row for row in self.answer.left.groups if row.by == "customer"]
        left = sum((row.left for row in groups), Decimal(0))
        if left <= 0:
            # Two figures: what was earned beyond the quotes, and by how much prices could have been lower.
            total = self.many.total
            earned = total.margin - (total.quoted - total.cost_estimated)
            than = f"{self.money(abs(earned))} {'more' if earned >= 0 else 'less'} than was quoted"
            lower = f"; prices {self.money(-left)} lower would still have left the margins quoted in per cent"
            return f"The jobs earned {than}{lower if left else ''}."
        worst = self.answer.left.jobs[0]
        return (
            f"Prices left {self.money(left)} on the table against the margins that were quoted, most of it "
            f"on {worst.number}, {worst.title}, {self.money(worst.left)}."
        )

    def hours(self) -> str:
        total, hours = self.many.total, self.answer.hours
        over = max(self.many.operations, key=lambda row: row.minutes_actual - row.minutes_estimated)
        more = over.minutes_actual - over.minutes_estimated
        text = (
            f"The jobs took {_hours(total.minutes_actual)}{_not_logged(self.many.minutes_assumed)}, quoted "
            f"{_hours(total.minutes_estimated)}, rework {_hours(total.minutes_rework)}"
        )
        if round_to(more / 60, "0.1") > 0:
            text += f"; {over.operation} went over most, by {_hours(more)}"
        if hours.paid:
            logged = _pct(per_cent(hours.logged_of_paid, hours.paid))
            text += f"; of {_hours(hours.paid)} paid, {logged} was logged"
        if hours.overhead is not None and hours.overhead.recovered_pct is not None:
            text += f"; the jobs carry {_pct(hours.overhead.recovered_pct)} of the overhead spent"
        return text + f"; the minutes of {hours.complete} of {hours.jobs} jobs are logged in full."

    def bottleneck(self) -> str:
        held = self.many.bottleneck
        if held is None or held.per_hour is None or not held.jobs:
            return "No operation was worked on enough to limit the shop."
        best, least = held.jobs[0], held.jobs[-1]
        weeks = self.answer.hours.ahead
        free = f"{_hours(self.answer.hours.free_ahead)} of {held.operation} are free in the next "
        head = (
            f"{free}{len(weeks)} weeks; for each hour of it"
            if weeks
            else f"For each hour of {held.operation}"
        )
        # Per bottleneck hour, not per hour: the operation with the least capacity limits all jobs.
        text = (
            f"{head}, the most worked{_not_logged(minutes_assumed_at(self.many))}, jobs brought "
            f"{self.money(held.per_hour)} beyond bars, bought items and work outside"
        )
        if best is least or best.per_hour is None or least.per_hour is None:
            return f"{text}."
        return (
            f"{text}: most on {best.name}, {self.money(best.per_hour)}, least on {least.name}, "
            f"{self.money(least.per_hour)}."
        )

    def quotes(self) -> str:
        won = sum(row.won for row in self.many.win_rates)
        decided = won + sum(row.lost for row in self.many.win_rates)
        open_ = sum(row.open for row in self.many.win_rates)
        text = (
            f"Of {counted(decided, 'quote')} decided {won} {'was' if won == 1 else 'were'} won"
            if decided
            else "No quote was decided"
        )
        more = f"{open_} more" if decided else f"{open_}"
        text += f", {more if open_ else 'none'} {'are' if open_ > 1 else 'is'} open"
        total = self.many.total
        late = f", {self.money(total.overdue)} is overdue" if total.overdue_steps else ""
        invoiced = f"{self.money(total.invoiced_so_far)} is invoiced of what was done"
        if not total.to_invoice:
            invoiced = f"all that was done is invoiced, {self.money(total.invoiced_so_far)}"
        elif not total.invoiced_so_far:
            invoiced = f"nothing is invoiced of {self.money(total.to_invoice)} done"
        else:
            invoiced += f", {self.money(total.to_invoice)} is not yet"
        paid = self.money(total.paid) if total.paid else "nothing"
        return f"{text}; {invoiced}; {paid} is paid{late}."

    def to_do(self) -> Iterator[str]:
        """What to do next, the most certain first."""
        many, lesson = self.many, self.answer.lesson
        yield from self.to_collect()
        if gaps_text(many):
            yield f"Complete the logs of {gaps_text(many)}."
        yield from self.to_price()
        if worth := lesson.worth_taking:
            yield (f"Take {counted(len(worth), 'standard')} that the logs suggest: {self.answer.taking} all")
        done = {row.number for row in many.jobs}
        for odd in [item for item in lesson.oddities if item.job in done][:2]:
            yield (
                f"Look at {odd.job}: {odd.logged} min of {odd.operation} logged where all jobs suggest "
                f"{odd.expected}, worth {self.money(odd.worth)}."
            )

    def to_collect(self) -> Iterator[str]:
        """Money that is earned and not yet paid."""
        many = self.many
        if many.to_invoice > 0:
            owing = sum(row.to_invoice_steps > 0 for row in many.jobs)
            yield f"Invoice {self.money(many.to_invoice)}: {counted(owing, 'job')}."
        late = sorted((row for row in many.jobs if row.overdue_steps), key=lambda row: -row.overdue_steps)
        if late:
            jobs = counted(len(late), "job")
            yield (
                f"Ask for {self.money(many.total.overdue)} that is overdue on {jobs}, most of it on "
                f"{late[0].number}, {late[0].customer}, {self.money(late[0].overdue)}."
            )

    def to_price(self) -> Iterator[str]:
        """Customers and kinds of work that cost more than their prices allowed for."""
        for row in self.answer.left.groups:
            if row.advice not in ("raise", "drop"):
                continue
            name = row.name if row.by == "customer" else f"{row.name} work"
            left = f"{self.money(row.left)} ({row.low:.0f} to {row.high:.0f} in 8 of 10 cases)"
            if row.advice == "raise":
                yield f"Raise prices for {name} by {row.more_pct} %: they left {left}."
            else:
                yield f"Drop {name}, or price it anew: it costs more than it brings and left {left}."


def _pct(value: Decimal | None) -> str:
    return "no share" if value is None else f"{value} %"


def _not_logged(minutes: Decimal) -> str:
    return f" ({_hours(minutes)} of it as quoted, not logged)" if minutes else ""


def _hours(minutes: Decimal) -> str:
    return f"{round_to(minutes / 60, '0.1')} h"
