"""Take suggestions of a review over as the shop's standards, and take them back."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.estimate import BY_HAND_SPREAD
from shopquote.calc.pricing.standards import starting_book
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import name_key
from shopquote.records.standards import StandardRow
from shopquote.services.review.learning import Suggestion, learn_standards
from shopquote.services.review.selection import Filters
from shopquote.services.review.work_done import EVERY_JOB


def accept_suggestions(
    session: Session,
    names: Sequence[str],
    *,
    on: date,
    value: Decimal | None = None,
    filters: Filters = EVERY_JOB,
) -> tuple[Suggestion, ...]:
    """Store suggestions as standards from a day on; "all" takes those worth taking. Stored quotes do not
    change.

    Args:
        session: a writing session; the caller commits.
        names: standards, or "all".
        on: the day from which they apply.
        value: a value of the shop's own in place of the suggested one, for a single standard.
        filters: which jobs to learn from.

    Raises:
        NotFoundError: no such suggestion (the nearest is told), or none is worth taking.
        InputError: a value for more than one standard, or one that is not above zero.
    """
    # Learned again within this transaction, so that what is stored is what the entries of now say.
    lesson = learn_standards(session, on=on, filters=filters)
    known = {name_key(item.standard): item for item in lesson.suggestions}
    if list(map(name_key, names)) == ["all"]:
        wanted = list(lesson.worth_taking)
        if not wanted:
            raise NotFoundError(
                "No suggestion is worth taking: the jobs agree with the standards, or are few."
            )
    else:
        wanted = [_known(name, known) for name in names]
    if value is not None and (len(wanted) != 1 or value <= 0):
        raise InputError("A value of your own goes with one standard and must be above zero.")
    for item in wanted:
        new_pace = lesson.told_paces.get(item.operation)
        _store(session, item, value if value is not None else item.suggest, on, new_pace)
    return tuple(wanted)


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A standard that has the value again that it had before a suggestion was taken."""

    standard: str
    value: Decimal
    unit: str
    was: Decimal
    since: date


def take_back(session: Session, names: Sequence[str], *, on: date) -> tuple[TakenBack, ...]:
    """Restore the values that standards had before suggestions were taken. Stored quotes do not change.

    A suggestion taken today is deleted; an older one stays on file, and the former value applies from today.

    Raises:
        NotFoundError: no such standard, or its present value was not taken from a review.
    """
    rows = session.scalars(select(StandardRow).where(StandardRow.since <= on).order_by(StandardRow.since))
    held: dict[str, list[StandardRow]] = {}
    for row in rows:
        held.setdefault(row.name, []).append(row)
    taken = {name_key(name): name for name, rows in held.items() if rows[-1].accepted_from is not None}
    for name in names:
        if name_key(name) not in taken:
            near = nearest_word(name, taken.values())
            there = ", ".join(sorted(taken.values())) or "none"
            raise NotFoundError(
                f"{name!r} does not count as taken from a review; those that do: {there}.",
                hint=f"Did you mean {near!r}?" if near else None,
            )
    wanted = dict.fromkeys(taken[name_key(name)] for name in names)
    return tuple(_take_back(session, held[name], on) for name in wanted)


def _take_back(session: Session, rows: Sequence[StandardRow], on: date) -> TakenBack:
    """Undo the newest of one standard's rows."""
    taken = rows[-1]
    start = starting_book()
    before = rows[-2] if len(rows) > 1 else None
    if before is not None:
        value, spread = before.value, before.spread_pct
    elif taken.name in start:
        value, spread = start[taken.name].value, start[taken.name].spread_pct
    else:
        # The factor on minutes given by hand, which were taken as they are before.
        value, spread = Decimal(1), BY_HAND_SPREAD
    answer = TakenBack(taken.name, value, taken.unit, taken.value, on)
    # Of the same day: deleting leaves the one before it in force, whereas a second row of the day cannot be
    # stored.
    if taken.since == on:
        session.delete(taken)
    else:
        session.add(
            StandardRow(
                name=taken.name, since=on, unit=taken.unit, value=value, spread_pct=spread,
                source=f"as before {taken.since}: taken back",
            )
        )  # fmt: skip
    session.flush()
    return answer


def _known(name: str, known: Mapping[str, Suggestion]) -> Suggestion:
    if name_key(name) in known:
        return known[name_key(name)]
    nearest = nearest_word(name, [item.standard for item in known.values()])
    hint = f"Did you mean {nearest!r}?" if nearest else "See: shopquote review"
    raise NotFoundError(f"The logged jobs say nothing of a standard {name!r}.", hint=hint)


def _store(session: Session, item: Suggestion, value: Decimal, on: date, new_pace: str | None) -> None:
    # A standard has one value per day: taking again on the same day replaces it.
    held = session.scalar(
        select(StandardRow).where(StandardRow.name == item.standard, StandardRow.since == on)
    )
    row = held or StandardRow(name=item.standard, since=on, unit=item.unit)
    row.value = value
    row.unit = item.unit
    row.spread_pct = item.spread_pct
    row.source = f"learned from {item.jobs} logged jobs"
    row.accepted_from = {
        "jobs": item.jobs,
        "now": str(item.now),
        "seen": None if item.seen is None else str(item.seen),
        "suggest": str(item.suggest),
        "low": str(item.low),
        "high": str(item.high),
    }
    # The change of pace is stored too: else the next review would learn from jobs before it again.
    if new_pace is not None:
        row.accepted_from["new_pace"] = {item.operation: new_pace}
    session.add(row)
    session.flush()
