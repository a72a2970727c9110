"""Cost lines of one job, quoted against logged: one per operation, material, bought item, and for bills."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.review.variance import (
    ALLOWANCE,
    Variance,
    labour_variance,
    lump_variance,
    material_variance,
)
from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.logs import BoughtUse, OutsideBill, TimeEntry
from shopquote.records.quotes import Quote
from shopquote.records.rack import BarUse
from shopquote.services.review.missing import DELIVERIES

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class LoggedWork:
    """Logged minutes of one operation, their cost, minutes of rework among them, and their rate if all have
    one.
    """

    minutes: Decimal = ZERO
    cost: Decimal = ZERO
    rework: Decimal = ZERO
    rate: Decimal | None = None


def logged_minutes(session: Session, job: Job) -> dict[str, LoggedWork]:
    """Logged work by operation; running timers are left out."""
    again = case((TimeEntry.kind == "rework", TimeEntry.minutes), else_=None)
    ends = func.min(TimeEntry.rate), func.max(TimeEntry.rate)
    query = (
        select(
            TimeEntry.operation, func.sum(TimeEntry.minutes), func.sum(TimeEntry.cost), func.sum(again), *ends
        )
        .where(TimeEntry.job_id == job.id, TimeEntry.minutes > ZERO)
        .group_by(TimeEntry.operation)
    )  # fmt: skip
    return {
        name: LoggedWork(spent, cost, rework or ZERO, low if low == high else None)
        for name, spent, cost, rework, low, high in session.execute(query)
    }


def labour_lines(
    quote: Quote,
    quoted: Decimal,
    entries: Mapping[str, LoggedWork],
    made: Decimal,
    currency: str,
    as_quoted: Collection[str],
) -> tuple[list[Variance], Decimal]:
    """One line per operation, and the minutes of rework.

    Args:
        quote: the job's quote.
        quoted: its labour cost.
        entries: logged work by operation.
        made: sets made over sets quoted.
        currency: to round to.
        as_quoted: operations that nobody logged and that count as quoted.
    """
    planned: dict[str, list[Decimal]] = {}
    for row in quote.minutes:
        held = planned.setdefault(row.operation, [ZERO, ZERO, ZERO, row.rate])
        held[0] += row.minutes
        held[1] += row.cost
        held[2] += row.minutes if row.kind == "run" else ZERO
    for held in planned.values():
        held[1] = round_money(held[1], currency)
    # From rounded costs, so that the lines add up to the quote's printed labour.
    left = quoted - sum((held[1] for held in planned.values()), ZERO)
    lines = []
    # Planned operations in the quote's order, then unplanned ones: the same order in every review.
    for operation in [*planned, *(name for name in entries if name not in planned)]:
        minutes, cost, run, rate = planned.get(operation, [ZERO, ZERO, ZERO, ZERO])
        logged = entries.get(operation, LoggedWork())
        spent, actual, again = logged.minutes, logged.cost, logged.rework
        assumed = operation in as_quoted
        if assumed:
            spent, actual = minutes, cost
        line = (
            labour_variance(
                operation, estimated=cost, minutes_estimated=minutes, actual=actual, minutes_actual=spent,
                rate_estimated=rate if rate else None,
                minutes_rework=again, made_over_planned=made,
                run_share=run / minutes if minutes else Decimal(1),
                # Entries at several rates have no common rate, which never equals the quoted one.
                same_rate=logged.rate == rate, currency=currency,
            )
        )  # fmt: skip
        lines.append(replace(line, as_quoted=assumed))
    if left:
        # Quoted labour that belongs to no operation is the allowance for spoilt pieces: what really went
        # wrong is in the logged minutes.
        lines.append(
            labour_variance(
                ALLOWANCE, estimated=left, minutes_estimated=ZERO,
                actual=ZERO if entries else left, minutes_actual=ZERO, currency=currency,
            )
        )  # fmt: skip
    return lines, sum((held.rework for held in entries.values()), ZERO)


def material_lines(
    quote: Quote, quoted: Decimal, uses: Sequence[BarUse], currency: str, as_quoted: Collection[str]
) -> list[Variance]:
    """A line a section and grade, by length and price, one for deliveries, and one for what else is allowed.

    A bar from an order carries its share of the delivery; that share is told in the line of deliveries.
    """
    planned = {(row.section_key, row.grade): row for row in quote.materials}
    names = {key: f"{row.section_text} {row.grade}" for key, row in planned.items()}
    used: dict[tuple[str, str], list[Decimal]] = {}
    delivered = ZERO
    for use in uses:
        key = (use.section_key, use.grade)
        names.setdefault(key, f"{use.section_text} {use.grade}")
        held = used.setdefault(key, [ZERO, ZERO])
        back = use.returned.mm if use.returned is not None else ZERO
        # Only what did not come back was used; what came back is in the credit.
        held[0] += use.length.mm * use.count - back
        carried = _delivery_in(use, currency)
        held[1] += use.cost - use.credit - carried
        delivered += carried
    _round_together(used.values(), currency)
    lines = []
    for key, name in names.items():
        row = planned.get(key)
        estimated = row.cost if row is not None else ZERO
        # If the rack had it all, nothing was to be bought: compare with the length of the parts.
        length = (row.bought.mm or row.net.mm) if row is not None else ZERO
        spent, cost = used.get(key, [ZERO, ZERO])
        assumed = name in as_quoted
        if assumed:
            spent, cost = length, _at_what_was_charged(length, spent, cost, estimated, currency)
        line = material_variance(
            "material", name, estimated=estimated, quantity_estimated=length, actual=cost,
            quantity_actual=spent, currency=currency,
        )  # fmt: skip
        lines.append(replace(line, as_quoted=assumed))
    deliveries = round_money(quote.deliveries, currency)
    if deliveries or delivered:
        assumed = DELIVERIES in as_quoted
        # Without any logged bar its delivery charge is unknown too.
        paid = delivered if uses and not assumed else deliveries
        line = lump_variance("material", DELIVERIES, estimated=deliveries, actual=paid, currency=currency)
        lines.append(replace(line, as_quoted=assumed))
    rest = quoted - deliveries - sum((row.cost for row in quote.materials), ZERO)
    return lines + not_in_lines("material", ALLOWANCE, rest, not uses)


def _at_what_was_charged(
    length: Decimal, ready: Decimal, charged: Decimal, estimated: Decimal, currency: str
) -> Decimal:
    """Cost of as much bar as was quoted: of bars that lay ready it is known what they cost, and not how much
    of them went in; without such as estimated."""
    return round_money(charged * length / ready, currency) if ready and charged else estimated


def _round_together(used: Iterable[list[Decimal]], currency: str) -> None:
    """Round costs so that they add up to their rounded sum: each takes over what earlier roundings lost."""
    exact = printed = ZERO
    for held in used:
        exact += held[1]
        held[1] = round_money(exact, currency) - printed
        printed += held[1]


def _delivery_in(use: BarUse, currency: str) -> Decimal:
    """The share of a delivery in the cost of a bar that was used, also of an offcut of it."""
    if use.delivery and use.cost:
        return round_money((use.cost - use.credit) * use.delivery / use.cost, currency)
    piece = use.rack_piece
    # Only the bar that came with the delivery knows what it was charged.
    while piece is not None and piece.parent is not None:
        piece = piece.parent
    if piece is None or piece.received_bar is None or not piece.cost:
        return ZERO
    received = piece.received_bar
    bar_alone = received.charged * received.receipt.order.supplier.exchange_rate
    share = max(ZERO, piece.cost - bar_alone) / piece.cost
    return round_money((use.cost - use.credit) * share, currency)


def bought_lines(
    quote: Quote, quoted: Decimal, uses: Sequence[BoughtUse], currency: str, as_quoted: Collection[str]
) -> list[Variance]:
    """One line per bought item by count and price, and one for what the quote allows besides."""
    revision = quote.job_revision
    lines: list[Variance] = []
    planned: dict[str, tuple[Decimal, Decimal]] = {}
    for item in revision.bought:
        count = Decimal(item.per_set * revision.sets)
        held = planned.get(item.name, (ZERO, ZERO))
        planned[item.name] = (held[0] + count, held[1] + round_money(count * item.unit_cost, currency))
    used: dict[str, tuple[Decimal, Decimal]] = {}
    # Names are typed on the floor: case and blanks do not make another item.
    known = {name_key(name): name for name in planned}
    for use in uses:
        name = known.get(name_key(use.name), use.name)
        held = used.get(name, (ZERO, ZERO))
        used[name] = (held[0] + use.count, held[1] + use.cost)
    for name in [*planned, *(name for name in used if name not in planned)]:
        count, cost = planned.get(name, (ZERO, ZERO))
        number, paid = used.get(name, (ZERO, ZERO))
        assumed = name in as_quoted
        if assumed:
            number, paid = count, cost
        if number == 1 and count > 1:
            # Logged as one lot without a count: taken as all that was planned, at another price.
            number = count
        line = material_variance(
            "bought", name, estimated=cost, quantity_estimated=count, actual=paid, quantity_actual=number,
            currency=currency,
        )  # fmt: skip
        lines.append(replace(line, as_quoted=assumed))
    rest = quoted - sum((cost for _, cost in planned.values()), ZERO)
    return lines + not_in_lines("bought", ALLOWANCE, rest, not uses)


def outside_lines(
    quoted: Decimal, bills: Sequence[OutsideBill], made: Decimal, currency: str, *, none: bool = False
) -> list[Variance]:
    """Subcontract work as one line; as quoted until a bill is logged, or `none` says that none will come."""
    if not quoted and not bills:
        return []
    # Any bill replaces the whole quoted sum, because bills are not matched to works by name.
    assumed = not bills and not none
    paid = quoted if assumed else sum((bill.amount for bill in bills), ZERO)
    line = lump_variance(
        "outside", "outside work", estimated=quoted, actual=paid,
        made_over_planned=made if bills else Decimal(1), currency=currency,
    )  # fmt: skip
    return [replace(line, as_quoted=assumed)]


def as_quoted(category: str, amount: Decimal) -> list[Variance]:
    """The line of a category that is never logged: it cost what was quoted."""
    return [Variance(category, category, amount, amount)] if amount else []


def not_in_lines(category: str, name: str, estimated: Decimal, as_quoted: bool) -> list[Variance]:
    """A line for what the quote holds beyond its lines (an allowance, a credit).

    It is as planned until anything is logged; from then on what went wrong is in the other lines.
    """
    if not estimated:
        return []
    actual = estimated if as_quoted else ZERO
    return [Variance(category, name, estimated, actual, quantity=actual - estimated)]
