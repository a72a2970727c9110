"""What a job's quote plans and nobody logged, which closing must not count as free."""

from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, object_session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.review.variance import Variance, round_to
from shopquote.calc.units import Length
from shopquote.errors import NotFoundError, nearest_word
from shopquote.reading.job_numbers import number_text
from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.logs import BoughtUse, OutsideBill, TimeEntry
from shopquote.records.quotes import Quote
from shopquote.records.rack import BarUse, RackMove
from shopquote.services.jobs.promises import promised_to

OUTSIDE = "outside work"
DELIVERIES = "deliveries"
# Logged share of an operation's planned minutes below which most was likely not logged, and the least missing
# minutes worth a question: common practice, no source.
_HARDLY, _WORTH_ASKING = Decimal("0.1"), Decimal(15)
# Greatest relative difference of two operations' minutes that may be one wrong entry, and the least minutes
# worth telling: common practice, no source.
_ALIKE, _LEAST_MOVED = Decimal("0.35"), Decimal(10)


@dataclass(frozen=True, slots=True)
class Missing:
    """Names of what is planned and not logged, by category, those of wholly unlogged categories included."""

    labour: tuple[str, ...] = ()
    material: tuple[str, ...] = ()
    bought: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """All names, in the order of the cost categories."""
        return (*self.material, *self.labour, *self.bought, *self.outside)

    @property
    def words(self) -> tuple[str, ...]:
        """All names with their category, such as `labour: welding`."""
        kinds = ("material", "labour", "bought", "outside")
        return tuple(f"{kind}: {name}" for kind in kinds for name in getattr(self, kind))

    def without(self, names: Collection[str]) -> "Missing":
        """The rest, when these names are known to have cost nothing.

        Raises:
            NotFoundError: a name is not missing.
        """
        known = {name_key(name): name for name in self.names}
        for name in names:
            if name_key(name) not in known:
                near = nearest_word(name, self.names)
                there = ", ".join(self.names) or "nothing"
                raise NotFoundError(
                    f"{name!r} is not among what is missing: {there}.",
                    hint=f"Did you mean {near!r}?" if near else None,
                )
        gone = set(map(name_key, names))

        def kept(of: Sequence[str]) -> tuple[str, ...]:
            return tuple(name for name in of if name_key(name) not in gone)

        return Missing(kept(self.labour), kept(self.material), kept(self.bought), kept(self.outside))


def hardly_logged(labour: Sequence[Variance]) -> tuple[str, ...]:
    """Operations with next to none of their planned minutes logged, in words."""
    return tuple(
        f"{line.name}: {round_to(line.minutes_actual, '1')} min logged of "
        f"{round_to(line.minutes_estimated, '1')} planned"
        for line in labour
        if line.category == "labour"
        and not line.as_quoted
        and 0 < line.minutes_actual < _HARDLY * line.minutes_estimated
        and line.minutes_estimated - line.minutes_actual >= _WORTH_ASKING
    )


def wrong_operation(session: Session, job: Job, labour: Sequence[Variance]) -> list[str]:
    """Doubts that minutes of an operation with none were logged on one with as many too many."""
    pairs = [
        (abs(line.difference_minutes - missing.minutes_estimated), missing, line)
        for missing in labour
        if missing.as_quoted and missing.minutes_estimated >= _LEAST_MOVED
        for line in labour
        if not line.as_quoted
        and abs(line.difference_minutes - missing.minutes_estimated) <= _ALIKE * missing.minutes_estimated
    ]
    told: list[str] = []
    named: set[str] = set()
    # Closest match first, and each operation in one guess: several guesses would contradict one another.
    for _, missing, line in sorted(pairs, key=lambda pair: pair[0]):
        if named & {missing.name, line.name}:
            continue
        named |= {missing.name, line.name}
        more, quoted = _whole(line.difference_minutes), _whole(missing.minutes_estimated)
        text = (
            f"{line.name.capitalize()} took {more} min more than quoted and {missing.name}, quoted at "
            f"{quoted} min, none: logged under the wrong operation?"
        )
        entries = [
            entry
            for entry in session.scalars(
                select(TimeEntry).where(TimeEntry.job_id == job.id, TimeEntry.operation == line.name)
            )
            if entry.minutes
            and abs(entry.minutes - missing.minutes_estimated) <= _ALIKE * missing.minutes_estimated
        ]
        # With several such entries it is not known which one is wrong.
        told.append(text + _how_to_move(job, entries[0], missing.name) if len(entries) == 1 else text)
    return told


def _how_to_move(job: Job, entry: TimeEntry, operation: str) -> str:
    """The commands that take an entry back and log it under another operation."""
    person = f" --person {entry.person!r}" if entry.person else ""
    minutes = number_text(entry.minutes)
    return (
        f" To move it take the entry of {minutes} min back (shopquote log {job.number} tells its "
        f"number N: shopquote log {job.number} --strike N --reason moved), then: shopquote log {job.number} "
        f"--operation {operation} --minutes {minutes}{person} --on {entry.worked_on}"
    )


def _whole(minutes: Decimal) -> Decimal:
    return round_to(minutes, "1")


def deliveries_untold(
    job: Job, quote: Quote, uses: Sequence[BarUse], bought: Sequence[BoughtUse], currency: str
) -> list[str]:
    """What to do if bars were logged and nobody stated the charge to bring them; empty if there is nothing to
    do.
    """
    if not _delivery_untold(quote, uses):
        return []
    quoted, others = f"{round_money(quote.deliveries, currency):f} {currency}", _not_planned(quote, bought)
    if others:
        counted, what = "count as nothing", f", since {', '.join(others)} may be the delivery. If it is not"
    else:
        counted, what = "count as quoted", ". To say what was charged"
    return [
        f"Nobody said what was charged to bring the bars: the {quoted} quoted for deliveries {counted}"
        f"{what}, take a bar's entry back (shopquote log {job.number} --strike N --reason TEXT) and log it "
        "again with --delivery AMOUNT, 0 where nothing was."
    ]


def _delivery_untold(quote: Quote, uses: Sequence[BarUse]) -> bool:
    """Whether the quote has delivery charges and bars are logged, but no delivery charge is stated."""
    told = any(use.rack_piece_id is not None or use.delivery is not None for use in uses)
    return bool(quote.deliveries and uses) and not told


def what_is_missing(
    quote: Quote,
    entries: Mapping[str, object],
    uses: Sequence[BarUse],
    bought: Sequence[BoughtUse],
    bills: Sequence[OutsideBill],
) -> Missing:
    """What the quote plans and the log lacks."""
    # The quote has one row per standard; an operation is missing once.
    labour = tuple(dict.fromkeys(row.operation for row in quote.minutes if row.operation not in entries))
    asked = quote.job_revision
    billed = bool(asked.outside) or (asked.site is not None and asked.site.cost > 0)
    outside = (OUTSIDE,) if billed and not bills else ()
    material = _bars_missing(quote, uses)
    # An unplanned item may be the delivery charge, named as on its bill, in any language.
    if _delivery_untold(quote, uses) and not _not_planned(quote, bought):
        material += (DELIVERIES,)
    return Missing(labour, material, _items_missing(quote, bought), outside)


def _lying_unsawn(job: Job, uses: Sequence[BarUse]) -> set[tuple[str, str]]:
    """Section and grade of bars that lie promised to the job alone, where it logged no bar of its own.

    What other jobs logged of bars in which this one has cuts does not say that its own were left.
    """
    session = object_session(job)
    assert session is not None  # the job of a quote on file
    lying = {
        (piece.section_key, piece.grade)
        for piece in promised_to(session, job)
        if all(share.job_id == job.id for share in piece.shares)
    }
    pieces = [use.rack_piece_id for use in uses] if lying else []
    by_it = select(RackMove.piece_id).where(
        RackMove.kind == "used", RackMove.job_id == job.id, RackMove.piece_id.in_(pieces)
    )
    own = {None, *session.scalars(by_it)}
    return lying - {(use.section_key, use.grade) for use in uses if use.rack_piece_id in own}


def _bars_missing(quote: Quote, uses: Sequence[BarUse]) -> tuple[str, ...]:
    used = {(use.section_key, use.grade) for use in uses} - _lying_unsawn(quote.job, uses)
    return tuple(
        f"{row.section_text} {row.grade}"
        for row in quote.materials
        if (row.section_key, row.grade) not in used and row.net > Length(0)
    )


def _items_missing(quote: Quote, bought: Sequence[BoughtUse]) -> tuple[str, ...]:
    """Planned items that were not logged; empty if an unplanned name was, which may be one of them."""
    if _not_planned(quote, bought):
        return ()
    items = list(dict.fromkeys(item.name for item in quote.job_revision.bought))
    logged = {name_key(use.name) for use in bought}
    return tuple(name for name in items if name_key(name) not in logged)


def _not_planned(quote: Quote, bought: Sequence[BoughtUse]) -> list[str]:
    """Logged items that the quote does not plan, each once, as first written."""
    planned = {name_key(item.name) for item in quote.job_revision.bought}
    logged = {name_key(use.name): use.name for use in reversed(bought)}
    return [name for key, name in reversed(logged.items()) if key not in planned]
