"""All that `shopquote review` shows, from one reading of the database."""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import field, replace
from datetime import date

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError
from shopquote.reading.kinds import DAY, read_typed
from shopquote.services.floor.time_log import known_operation
from shopquote.services.review.best_margin import Asking, asking_of
from shopquote.services.review.hours import Hours, hours_of
from shopquote.services.review.job_review import JobReview, review_job
from shopquote.services.review.learning import StandardsLesson, learn_standards
from shopquote.services.review.money_left import MoneyLeft, money_left
from shopquote.services.review.review import GROUPINGS, ManyReview, checked_filters, review_many
from shopquote.services.review.selection import REVIEWED_STATES, Filters
from shopquote.services.review.since_accepted import SinceAccepted, since_accepted
from shopquote.services.shop.shop_on_file import day_typed, shop_notation

# Jobs reviewed in full: each is read with all its entries. Of more jobs only sums are shown.
MOST_IN_FULL = 20


@dataclass(frozen=True, slots=True)
class ReviewWish:
    """The options as typed; empty if not given."""

    jobs: Sequence[str] = ()
    since: str | None = None
    until: str | None = None
    states: Sequence[str] = ()
    customer: str | None = None
    by: Sequence[str] = ()
    bottleneck: str | None = None
    back_test: bool = False
    every_group: bool = False
    learn_since: Sequence[str] = ()
    month: str | None = None


@dataclass(frozen=True, slots=True)
class ReviewAnswer:
    """Many jobs, the named ones in full, and what the logged jobs say about the standards."""

    many: ManyReview
    details: tuple[JobReview, ...]
    lesson: StandardsLesson
    left: MoneyLeft
    hours: Hours
    accepted: tuple[SinceAccepted, ...]
    month: str = ""
    asking: Asking = field(default_factory=Asking)
    taking: str = ""  # the command that takes a suggestion, without the standard's name


def answer_review(session: Session, wish: ReviewWish, *, today: date) -> ReviewAnswer:
    """Review the named jobs, or all that pass the filters.

    Raises:
        NotFoundError: a job or customer is not on file.
        InputError: an unknown state, grouping, operation or day, or a named job without a quote.
    """
    filters, learned = filters_typed(session, wish, today)
    bottleneck = known_operation(wish.bottleneck) if wish.bottleneck is not None else None
    by = GROUPINGS if wish.every_group else tuple(dict.fromkeys(wish.by))
    many = review_many(session, filters, by=by, bottleneck=bottleneck, today=today)
    details: tuple[JobReview, ...] = ()
    if wish.jobs and len(many.jobs) <= MOST_IN_FULL:
        details = tuple(review_job(session, row.number) for row in many.jobs)
    lesson = learn_standards(session, on=today, with_back_test=wish.back_test, filters=learned)
    return ReviewAnswer(
        many, details, lesson,
        money_left(many.jobs, many.currency, lesson.more_minutes, many.kinds),
        hours_of(session, many.jobs, filters, today, many.bottleneck.operation if many.bottleneck else ""),
        since_accepted(session, many.jobs),
        f"{filters.since:%B %Y}" if wish.month is not None else "",
        asking_of(session, many.kinds),
        _taking(wish),
    )  # fmt: skip


def _taking(wish: ReviewWish) -> str:
    """The command that takes a suggestion of this review; with its filters, as other jobs suggest other
    values.
    """
    options = (
        ("--since", (wish.since,)), ("--until", (wish.until,)), ("--month", (wish.month,)),
        ("--state", wish.states), ("--customer", (wish.customer,)), ("--learn-since", wish.learn_since),
    )  # fmt: skip
    typed = [f" {name} {_in_quotes(value)}" for name, values in options for value in values if value]
    return f"shopquote review{''.join(f' {job}' for job in wish.jobs)}{''.join(typed)} --accept"


def _in_quotes(text: str) -> str:
    return text if text == "".join(text.split()) else f'"{text}"'


_ONE_DAY = "Give one; for several operations, one each: --learn-since fit-up=DATE --learn-since welding=DATE"


def filters_typed(session: Session, wish: ReviewWish, today: date) -> tuple[Filters, Filters]:
    """Which jobs to review, and which to learn from; learning may begin on a day of its own.

    If an operation was changed on a day, jobs before and after it are both learned from, at different paces.

    Raises:
        InputError: an unknown state, day or operation.
        NotFoundError: a job or customer is not on file.
    """

    def day(option: str, typed: str | None) -> date | None:
        return None if typed is None else day_typed(session, option, typed, today, ahead=True)

    since, until = day("--since", wish.since), day("--until", wish.until)
    if wish.month is not None:
        if since is not None or until is not None:
            raise InputError("--month says from when to when; --since and --until go without it.")
        since, until = _month_typed(session, wish.month)
    filters = Filters(
        tuple(wish.jobs),
        since,
        until,
        tuple(wish.states) or REVIEWED_STATES,
        wish.customer,
    )
    filters = checked_filters(session, filters)
    # One month has too few jobs to learn from: standards are learned from all jobs up to its end.
    learned = filters if wish.month is None else replace(filters, since=None)
    paces: dict[str, date] = {}
    begins: date | None = None
    for typed in wish.learn_since:
        operation, equals, text = typed.partition("=")
        if equals:
            name = known_operation(operation)
            if name in paces:
                raise InputError(
                    f"--learn-since names {name} twice: {paces[name]} and {text.strip()}.", hint=_ONE_DAY
                )
            # Not in the future: standards that are taken apply from today.
            paces[name] = day_typed(session, "--learn-since", text, today)
        elif begins is not None:
            raise InputError(f"--learn-since names two days: {begins} and {typed.strip()}.", hint=_ONE_DAY)
        else:
            begins = day_typed(session, "--learn-since", typed, today, ahead=True)
    if begins is not None:
        learned = replace(learned, since=begins)
    return filters, replace(learned, new_paces=tuple(paces.items()))


def _month_typed(session: Session, text: str) -> tuple[date, date]:
    """First and last day of a month such as 2026-10.

    Raises:
        InputError: not a month.
    """
    try:
        first = read_typed("--month", DAY, f"{text.strip()}-01", shop_notation(session))
    except InputError:
        raise InputError(f"--month is {text[:40]!r}; expected year and month such as 2026-10.") from None
    return first, first.replace(day=monthrange(first.year, first.month)[1])
