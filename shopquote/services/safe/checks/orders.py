"""Orders and deliveries: sums, counts, states and certificate files."""

from collections.abc import Iterator
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from shopquote.calc.money import round_money
from shopquote.records.jobs import Job
from shopquote.records.orders import (
    Certificate,
    Order,
    OrderJob,
    OrderLine,
    OrderLineJob,
    Receipt,
    ReceivedBar,
)
from shopquote.services.safe.checks.found import CERTIFICATES, MOST_LINES, Found, put
from shopquote.services.shop.certificates import certificate_name


def received_counts_agree(session: Session) -> Iterator[Found]:
    """The received bars of an order line are those of its deliveries."""
    arrived = (
        select(ReceivedBar.order_line_id, func.sum(ReceivedBar.count).label("count"))
        .where(ReceivedBar.order_line_id.is_not(None))
        .group_by(ReceivedBar.order_line_id)
        .subquery()
    )
    rows = session.execute(
        select(OrderLine.id, OrderLine.received, func.coalesce(arrived.c.count, 0))
        .outerjoin(arrived, arrived.c.order_line_id == OrderLine.id)
        .where(func.coalesce(arrived.c.count, 0) != OrderLine.received)
        .limit(MOST_LINES)
    )
    for line, counted, came in rows.all():
        yield Found(
            f"order line {line} says {counted} bars received, {came} arrived",
            put(OrderLine, line, received=came),
            f"{came} are received",
        )


def orders_add_up(session: Session) -> Iterator[Found]:
    """Lines sum to the goods, goods and delivery charge to the total, and the jobs' shares to the total."""
    lines = _sums(OrderLine.order_id, OrderLine.amount)
    shares = _sums(OrderJob.order_id, OrderJob.share)
    rows = session.execute(
        select(Order.number, Order.revision, Order.goods, Order.delivery, Order.total, lines.c.total)
        .outerjoin(lines, lines.c.order_id == Order.id)
        .outerjoin(shares, shares.c.order_id == Order.id)
        .where(
            or_(
                lines.c.total != Order.goods, Order.goods + Order.delivery != Order.total,
                shares.c.total != Order.total,
            )
        )
        .limit(MOST_LINES)
    )  # fmt: skip
    for number, revision, goods, delivery, total, added in rows.all():
        yield Found(
            f"order {number} revision {revision}: lines {added}, goods {goods}, delivery {delivery}, "
            f"total {total}, or the jobs' shares, do not add up"
        )
    priced = session.execute(
        select(Order.number, Order.currency, OrderLine.position, OrderLine.unit_price, OrderLine.count,
               OrderLine.amount)
        .join(Order, Order.id == OrderLine.order_id)
        .where(OrderLine.unit_price.is_not(None))
    )  # fmt: skip
    # In Python, as databases round differently from `round_money`.
    for number, currency, position, price, count, amount in priced:
        if price is not None and amount != round_money(price * count, currency):
            yield Found(f"order {number}, line {position}: {count} at {price} are not {amount}")
    yield from _loads_and_shares(session)


def _sums(key: Any, amount: Any) -> Any:
    return select(key, func.sum(amount).label("total")).group_by(key).subquery()


def _loads_and_shares(session: Session) -> Iterator[Found]:
    """The length of an order line that is for a job is the length of the pieces its cutting plan names."""
    numbers = {row: number for row, number in session.execute(select(Job.id, Job.number))}
    rows = session.execute(
        select(OrderLine.id, OrderLine.loads, OrderLineJob.job_id, OrderLineJob.length)
        .join(OrderLineJob, OrderLineJob.order_line_id == OrderLine.id)
        .order_by(OrderLine.id)
    )
    for line, loads, job_id, length in rows:
        number = numbers.get(job_id, "")
        planned = sum(nm * count for load in loads for owner, _, nm, count in load if owner == number)
        # Orders of older versions have no cutting plan to compare with.
        if any(loads) and planned != length.nm:
            yield Found(f"order line {line}: what is to be cut from it for {number} is not as long as kept")


def order_states_follow_deliveries(session: Session) -> Iterator[Found]:
    """An order is placed, part received or received as the bars on its lines say; a request has no bars."""
    got = (
        select(
            OrderLine.order_id,
            func.sum(OrderLine.received).label("bars"),
            func.max(OrderLine.count - OrderLine.received - OrderLine.cancelled).label("open"),
        )
        .group_by(OrderLine.order_id)
        .subquery()
    )
    rows = session.execute(
        select(Order.id, Order.number, Order.kind, Order.state, got.c.bars, got.c.open)
        .join(got, got.c.order_id == Order.id)
        .where(
            or_(
                and_(Order.state.in_(("placed", "asked", "cancelled")), got.c.bars > 0),
                and_(Order.state == "part received", or_(got.c.bars == 0, got.c.open <= 0)),
                and_(Order.state == "received", got.c.bars == 0),
                and_(Order.state == "asked", Order.kind == "order"),
                and_(Order.kind == "ask", Order.state.not_in(("asked", "cancelled", "replaced"))),
            )
        )
        .limit(MOST_LINES)
    )
    for row, number, kind, state, bars, still in rows.all():
        text = f"{'order' if kind == 'order' else 'request'} {number} is {state}, and {bars} bars came on it"
        if kind != "order":
            yield Found(text, put(Order, row, state="asked"), "it is asked") if not bars else Found(text)
            continue
        # The bars decide, not the state: they are on the rack and can be counted there.
        right = "placed" if not bars else "part received" if still > 0 else "received"
        yield Found(text, put(Order, row, state=right), f"it is {right}")
    behind = session.execute(
        select(Order.id, Order.number, Order.revision)
        .where(Order.state != "replaced", Order.id.in_(select(Order.replaces_id)))
        .limit(MOST_LINES)
    )
    for row, number, revision in behind.all():
        yield Found(
            f"order {number} revision {revision} stands, and a newer revision replaces it",
            put(Order, row, state="replaced"),
            "it is replaced",
        )


def deliveries_are_as_ordered(session: Session) -> Iterator[Found]:
    """Bars came on a line of their own order, of its section and grade; a delivery cost no less than its
    bars.
    """
    rows = session.execute(
        select(ReceivedBar.id, Order.number, OrderLine.position)
        .join(Receipt, Receipt.id == ReceivedBar.receipt_id)
        .join(OrderLine, OrderLine.id == ReceivedBar.order_line_id)
        .join(Order, Order.id == OrderLine.order_id)
        .where(
            or_(
                OrderLine.order_id != Receipt.order_id,
                OrderLine.section_key != ReceivedBar.section_key,
                OrderLine.grade != ReceivedBar.grade,
            )
        )
        .limit(MOST_LINES)
    )
    for row, number, position in rows.all():
        yield Found(f"delivery row {row} is not of the order, bar or grade of line {position} of {number}")
    bars = _sums_of_bars()
    charged = session.execute(
        select(Receipt.id, Order.number, Receipt.charged_total, bars.c.total)
        .join(Order, Order.id == Receipt.order_id)
        .outerjoin(bars, bars.c.receipt_id == Receipt.id)
        .where(func.coalesce(bars.c.total, Decimal(0)) > Receipt.charged_total)
        .limit(MOST_LINES)
    )
    for row, number, total, found in charged.all():
        yield Found(f"delivery {row} of {number} was charged {total} in all, its bars {found}")


def _sums_of_bars() -> Any:
    amount = func.sum(ReceivedBar.charged * ReceivedBar.count).label("total")
    return select(ReceivedBar.receipt_id, amount).group_by(ReceivedBar.receipt_id).subquery()


def certificate_files_are_whole(session: Session) -> Iterator[Found]:
    """Every certificate's file is in the certificate folder, and its SHA-256 is the recorded one."""
    folder: Path | None = session.info.get(CERTIFICATES)
    if folder is None:
        return
    for digest, name in session.execute(select(Certificate.sha256, Certificate.file_name)):
        path = folder / certificate_name(digest, name)
        helps = "put the file that came back in its place, or take it out of a backup"
        try:
            content = path.read_bytes()
        except OSError as error:
            yield Found(f"certificate {name}: {path} cannot be read: {error.strerror or error}", helps=helps)
            continue
        if sha256(content).hexdigest() != digest:
            yield Found(f"certificate {name}: {path} is not as it came: it was changed since", helps=helps)
