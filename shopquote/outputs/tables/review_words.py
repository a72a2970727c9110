"""Sentences of a review, the same in the terminal, the workbook, the month and the page."""

from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.pricing.priced_quote import NEVER_MISSED
from shopquote.errors import counted
from shopquote.outputs.looks import MONEY, Setting

if TYPE_CHECKING:
    from shopquote.calc.review.ranges import BackTest
    from shopquote.services.review.learning import ByHand, NewPace, StandardsLesson
    from shopquote.services.review.review import ManyReview

MOST_NAMED = 8  # things in one sentence
NOT_MEASURED = "Consumables count as quoted: no job measures them."
ENOUGH_TO_JUDGE = 10  # fewest jobs for a statement on whether ranges held; common practice, no source


def money_text(amount: Decimal, currency: str) -> str:
    """An amount with the currency's number of decimals."""
    return MONEY.text(amount, Setting(currency))


def as_quoted_text(amount: Decimal, currency: str) -> str:
    """How much of a cost is only assumed as quoted, to stand beside it; empty if all was logged."""
    return (
        f" (at most {money_text(amount, currency)} {currency} of it as quoted, not logged)" if amount else ""
    )


def missing_text(missing: Iterable[str]) -> str:
    """Missing things such as "labour: sawing", with each category named once."""
    names: dict[str, list[str]] = {}
    for words in missing:
        category, _, name = words.partition(": ")
        names.setdefault(category, []).extend([name] if name else [])
    return ", ".join(f"{name} ({', '.join(held)})" if held else name for name, held in names.items())


def assumed_text(assumed: Sequence[str]) -> str:
    """What of a job counts as quoted, in one sentence: whole categories, then single names by category."""
    told = missing_text([words for words in assumed if words not in NEVER_MISSED])
    text = f"Taken as quoted, for nothing was logged: {told}. " if told else ""
    return text + (NOT_MEASURED if any(words in NEVER_MISSED for words in assumed) else "")


def assumed_of_many(many: "ManyReview") -> str:
    """What of many jobs counts as quoted, the most frequent first."""
    counts = Counter(name for row in many.jobs for name in row.assumed if name not in NEVER_MISSED)
    if not counts:
        return NOT_MEASURED
    most = counts.most_common(MOST_NAMED)
    words = ", ".join(f"{name} of {counted(count, 'job')}" for name, count in most)
    if len(counts) > len(most):
        words += f" and {len(counts) - len(most)} other things"
    return f"Nothing was logged of {words}. {NOT_MEASURED}"


def minutes_assumed_at(many: "ManyReview") -> Decimal:
    """How many of the bottleneck's minutes are as quoted because nobody logged any."""
    name = many.bottleneck.operation if many.bottleneck is not None else ""
    return sum((row.minutes_assumed for row in many.operations if row.operation == name), Decimal(0))


def gaps_text(many: "ManyReview") -> str:
    """How much of the cost of all jobs is only assumed as quoted; empty if all was logged."""
    jobs, amount = many.gaps
    if not jobs:
        return ""
    most = f"{money_text(amount, many.currency)} {many.currency}"
    jobs_with = counted(jobs, "job")
    return f"{jobs_with} with gaps: at most {most} of the cost is taken as quoted, for nobody logged it"


def ranges_text(many: "ManyReview") -> str:
    """How many jobs cost within their quote's range, and what that says about the ranges."""
    inside, stated = many.ranges_held
    text = f"{inside} of {counted(stated, 'job')} cost what the quote's 8-in-10 range said"
    # 1.96 standard deviations of a binomial: chance alone stays within them in 95 of 100 shops.
    off, reach = inside - 0.8 * stated, 1.96 * (0.16 * stated) ** 0.5
    if abs(off) <= reach:
        return text + (", as many as should" if stated >= ENOUGH_TO_JUDGE else ", too few to judge by")
    judged = (
        "too narrow, or about the wrong cost; standards taken from here set both right"
        if off < 0
        else "wider than need be; standards taken from here bring them in"
    )
    return f"{text}, where about {0.8 * stated:.0f} should: ranges were {judged}"


def pace_texts(lesson: "StandardsLesson") -> list[str]:
    """A sentence for each operation whose pace changed for good, by the log or by the owner's word."""
    shown = {pace.operation for pace in lesson.new_paces}
    told = [
        f"New pace: {operation} is done another way since {day}, as you said; no job from before is logged."
        for operation, day in lesson.told_paces.items()
        if operation not in shown
    ]
    return [_new_pace_text(pace, lesson.told_paces.get(pace.operation)) for pace in lesson.new_paces] + told


def _new_pace_text(pace: "NewPace", told: str | None) -> str:
    if not pace.job:
        return (
            f"New pace: {pace.operation} is done another way since {told}, as you said; until a job shows "
            f"how long it takes now, about {pace.times} times as long as before is assumed."
        )
    return (
        f"New pace: since {pace.job} {pace.operation} takes {pace.times} times as long as before "
        f"({pace.jobs_since} jobs since, {pace.jobs_before} before, which no longer tell its pace)."
    )


def by_hand_text(hand: "ByHand") -> str:
    """How long minutes estimated by hand really take, in one sentence."""
    return (
        f"Minutes given by hand in {hand.operation} take {hand.times} times as long ({hand.low} to "
        f"{hand.high} in 8 of 10 cases; {hand.jobs} jobs)."
    )


def back_test_text(test: "BackTest") -> str:
    """How often the actual cost was within the stated range, and how far minutes were off."""
    if not test.jobs:
        return "Back-test: too few finished jobs; it needs more than 60."
    return (
        f"Back-test on {test.jobs} jobs not yet seen: the actual minutes fell inside the "
        f"{100 * test.level:.0f} % range {test.covered_pct:.1f} % of the time. A job's minutes were off by "
        f"{test.error_learned_pct:.1f} % with learned standards, {test.error_now_pct:.1f} % with those in "
        f"force; in total by {test.off_learned_pct:+.1f} % and {test.off_now_pct:+.1f} %. In 8 of 10 "
        f"cases the usual next job takes {test.low_pct:.0f} to {test.high_pct:.0f} % of the minutes expected."
    )
