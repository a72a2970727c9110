"""Orders on file: find, list, change, cancel, and place a request for prices.

A placed order is stored as a document: a change makes a new revision and keeps the old one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.buying.prices import Basis, bar_price
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import Notation, word_typed
from shopquote.reading.kinds.documents import document_number
from shopquote.records.jobs import Job
from shopquote.records.materials import StockItem
from shopquote.records.orders import (
    ON_ORDER,
    OPEN_STATES,
    ORDER_STATES,
    Order,
    OrderLine,
    OrderLineJob,
)
from shopquote.records.people import Supplier
from shopquote.services.buying.offers_on_file import item_price
from shopquote.services.buying.order_documents import job_number_of, keep_document
from shopquote.services.buying.order_sums import line_jobs, share_order, total_up
from shopquote.services.buying.shelving import delivery_charged, settle_delivery
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import name_on_file, shop_notation

# States that a list shows; a replaced revision is shown only when asked for by its number.
LISTED_STATES = tuple(state for state in ORDER_STATES if state != "replaced")


@dataclass(frozen=True, slots=True)
class NamedPrice:
    """A price that a supplier named for an order line, in its currency, and its basis."""

    price: Decimal
    basis: Basis = "bar"


def find_supplier(session: Session, name: str) -> Supplier:
    """The supplier with this name, whatever its case and blanks.

    Raises:
        NotFoundError: no such supplier; the message names the nearest.
    """
    known = name_on_file(session, Supplier.name, name)
    supplier = session.scalar(select(Supplier).where(Supplier.name == known))
    if supplier is None:
        near = nearest_word(name, session.scalars(select(Supplier.name)))
        new = f"A new one: shopquote suppliers set {name.strip()[:60]!r}; all: shopquote suppliers list"
        hint = f"Did you mean {near!r}?" if near else new
        raise NotFoundError(f"Supplier {name[:60]!r} is not on file.", hint=hint)
    return supplier


def find_order(session: Session, number: str, revision: int | None = None) -> Order:
    """An order, numbered as O-0007, o-7 or 7: its newest revision, or the one named.

    Raises:
        NotFoundError: no such order or revision.
    """
    name = document_number(number, "O")
    query = select(Order).where(Order.number == name).options(selectinload(Order.lines))
    if revision is not None:
        query = query.where(Order.revision == revision)
    order = session.scalar(query.order_by(Order.revision.desc()).limit(1))
    if order is None:
        what = name[:40] if revision is None else f"{name[:40]} revision {revision}"
        raise NotFoundError(f"Order {what} is not on file.", hint="See: shopquote order list")
    return order


def lines_to_come(order: Order) -> tuple[OrderLine, ...]:
    """Lines of an order with bars still to be received; none if it is over or only a request."""
    if order.state not in ON_ORDER:
        return ()
    return tuple(line for line in order.lines if line.open)


def list_orders(
    session: Session, *, states: Sequence[str] = (), supplier: str | None = None, job: str | None = None
) -> tuple[Order, ...]:
    """Orders that meet all conditions given, newest first, without replaced revisions.

    Raises:
        InputError: a state that orders do not have.
        NotFoundError: the supplier or job is not on file.
    """
    wanted = [word_typed("State", LISTED_STATES, state) for state in states]
    query = select(Order).where(Order.state != "replaced").options(selectinload(Order.supplier))
    if wanted:
        query = query.where(Order.state.in_(wanted))
    if supplier is not None:
        query = query.where(Order.supplier_id == find_supplier(session, supplier).id)
    if job is not None:
        job_id = find_job(session, job).id
        query = query.where(
            Order.id.in_(select(OrderLine.order_id).join(OrderLineJob).where(OrderLineJob.job_id == job_id))
        )
    return tuple(session.scalars(query.order_by(Order.number.desc())))


def order_notation(session: Session, number: str) -> Notation:
    """How figures of an order are typed: as the shop's, but amounts in the order's currency.

    Raises:
        NotFoundError: no such order.
    """
    return replace(shop_notation(session), currency=find_order(session, number).currency)


def open_orders_words(session: Session, job: Job) -> str:
    """For a job that is over: a warning that names its open orders and requests; else empty."""
    if job.state not in STATES_OVER:
        return ""
    left = list_orders(session, states=OPEN_STATES, job=job.number)
    if not left:
        return ""
    named = ", ".join(f"{order.number} ({order.state})" for order in left)
    many = len(left) > 1
    return (
        f"{named} still bring{'' if many else 's'} bars for {job.number}: cancel {'them' if many else 'it'}, "
        "or they will lie on the rack for others."
    )


def cancel_order(session: Session, number: str, reason: str, *, delivery: Decimal | None = None) -> Order:
    """Cancel the bars of an order that were not received; its jobs then need them again.

    What came bears its deliveries whole: what was charged for them so far, or `delivery` in all.

    Raises:
        NotFoundError: no such order.
        InputError: all was received, it is cancelled or replaced, or a delivery is told of which no bar came.
    """
    order = find_order(session, number)
    if order.state not in OPEN_STATES:
        told = "already" if order.state == "cancelled" else "and cannot be cancelled"
        raise InputError(f"Order {order.number} is {order.state} {told}.")
    if delivery is not None and order.state != "part received":
        raise InputError(f"Nothing came of order {order.number} whose cost could include a delivery.")
    # Bars that were received stay on the rack, so a part received order ends as received.
    left, charged = Decimal(0), order.delivery
    if order.state == "part received":
        left = settle_delivery(session, order, delivery)
        charged = delivery_charged(session, order)
        cancel_rest(order)
    order.state = "received" if order.state == "part received" else "cancelled"
    order.reason = _reasons(order.reason, f"Cancelled: {reason}" if reason else "Cancelled")
    if delivery is None and charged < order.delivery:
        agreed = round_money(order.delivery, order.currency)
        told = f"Of {agreed:f} agreed for delivery its bars bear {charged:f}, charged so far"
        order.reason = _reasons(order.reason, told)
    order.reason = _reasons(order.reason, f"On no bar, of its deliveries: {left:f}" if left else "")
    session.flush()
    return order


def cancel_rest(order: Order) -> None:
    """Expect no more bars on the lines of an order of which some came."""
    for line in order.lines:
        line.cancelled += line.open


def place_asked(session: Session, number: str, prices: Mapping[int, NamedPrice], *, on: date) -> Order:
    """Turn a request for prices into an order with the prices named, by line position, in the supplier's
    currency.

    A line without one is priced by the supplier's list.

    Raises:
        NotFoundError: no such order.
        InputError: not a request, no such line, or a price missing or below zero.
    """
    asked = find_order(session, number)
    if asked.state != "asked":
        raise InputError(f"Order {asked.number} is {asked.state}, not a request for prices.")
    return _revise(session, asked, {}, prices, on=on, reason="")


def change_order(
    session: Session,
    number: str,
    *,
    counts: Mapping[int, int] | None = None,
    prices: Mapping[int, NamedPrice] | None = None,
    on: date,
    reason: str = "",
) -> Order:
    """Store a new revision with other counts or prices, by line position; the old one can still be printed.

    If a count changes, the line is priced anew by the list that gave its price; a price that a person named
    stays. A count of 0 removes the line.

    Raises:
        NotFoundError: no such order.
        InputError: bars were received, it is over, a line is not there, or that many are not sold
            (bundle, limit, least mass).
    """
    order = find_order(session, number)
    if order.state not in ("placed", "asked"):
        raise InputError(
            f"Order {order.number} is {order.state}; only one of which nothing was received can be changed."
        )
    return _revise(session, order, counts or {}, prices or {}, on=on, reason=reason, keep_state=True)


def _revise(
    session: Session,
    old: Order,
    counts: Mapping[int, int],
    prices: Mapping[int, NamedPrice],
    *,
    on: date,
    reason: str,
    keep_state: bool = False,
) -> Order:
    _check_lines(old, counts, prices)
    new = Order(
        number=old.number, revision=old.revision + 1, replaces_id=old.id, supplier_id=old.supplier_id,
        supplier=old.supplier, kind=old.kind if keep_state else "order",
        state=old.state if keep_state else "placed", placed_on=on, due_on=old.due_on,
        currency=old.currency, place=old.place, reference=old.reference,
        certificate_kind=old.certificate_kind, marking=old.marking,
        # The reason is for the shop alone: the supplier's paper lists the changes.
        note=old.note, reason=_reasons(old.reason, reason),
    )  # fmt: skip
    # Lines left out by a count of 0 are not numbered: the others move up. What was cancelled stays so.
    left = {line.position: line.count - line.cancelled for line in old.lines} | dict(counts)
    kept = [line for line in old.lines if left[line.position] > 0]
    if not kept:
        raise InputError(f"Order {old.number} would have no line left.", hint="See: shopquote order cancel")
    new.lines = [
        _revised_line(session, new, i, line, left[line.position], prices.get(line.position))
        for i, line in enumerate(kept, start=1)
    ]
    total_up(new, old.supplier)
    # Both revisions stay: the old one is what the supplier still holds until the new one arrives.
    old.state = "replaced"
    session.add(new)
    session.flush()
    # In the proportions of the first plan: a revision changes counts, not what the bars are for.
    shares = {job_number_of(session, share.job_id): share.share for share in old.jobs}
    share_order(session, new, shares)
    session.flush()
    keep_document(session, new, old, [line.position for line in kept])
    return new


def _reasons(*reasons: str) -> str:
    return "\n".join(filter(None, reasons))


def _check_lines(order: Order, counts: Mapping[int, int], prices: Mapping[int, NamedPrice]) -> None:
    there = {line.position for line in order.lines}
    for position in (*counts, *prices):
        if position not in there:
            raise InputError(f"Order {order.number} has no line {position}; it has 1 to {len(there)}.")
    for position, count in counts.items():
        if count < 0:
            raise InputError(f"Line {position}: count is {count}; expected at least 0.")
    for position, named in prices.items():
        if named.price < 0:
            raise InputError(f"Line {position}: price is {named.price}; expected at least 0.")


def _revised_line(
    session: Session, order: Order, position: int, line: OrderLine, count: int, named: NamedPrice | None
) -> OrderLine:
    basis: str | None = "bar" if named is None else named.basis
    price = None if named is None else named.price
    unit_price = None if named is None else _price_of_one(line, named)
    if count != line.count:
        _check_sold(session, line, count)
    if price is None and line.unit_price is not None:
        price, basis, unit_price = _price_of_so_many(session, line, count)
    elif price is None and order.state == "placed":
        price = unit_price = _list_price(session, line)
    mass = None if line.mass_kg is None else (line.mass_kg * count / line.count).quantize(Decimal("0.001"))
    # With fewer bars the last loads are dropped, and their jobs need bars for them again.
    loads = line.loads[:count]
    return OrderLine(
        position=position, stock_item_id=line.stock_item_id, section_key=line.section_key,
        section_text=line.section_text, grade=line.grade, standard=line.standard,
        condition=line.condition, length=line.length, length_text=line.length_text, cut=line.cut,
        tolerance=line.tolerance, count=count, price=price,
        basis=None if unit_price is None else basis, unit_price=unit_price,
        amount=None if unit_price is None else round_money(unit_price * count, order.currency),
        mass_kg=mass, loads=loads, jobs=line_jobs(session, loads),
    )  # fmt: skip


def _price_of_one(line: OrderLine, named: NamedPrice) -> Decimal:
    """Price of one bar or sawn piece of a line, in the supplier's currency, from its mass and length."""
    mass_kg = (line.mass_kg or Decimal(0)) / line.count
    return bar_price(named.price, named.basis, line.length, mass_kg)


def _check_sold(session: Session, line: OrderLine, count: int) -> None:
    """Refuse a count that the supplier's bundle or limit rules out; sawn pieces are sold singly."""
    item = session.get(StockItem, line.stock_item_id) if line.stock_item_id is not None else None
    # Sawn pieces are sold by the piece, whatever the bundle of the bar.
    if item is None or line.cut:
        return
    bundle = item.bundle or 1
    if count % bundle:
        below = count // bundle * bundle
        expected = f"{below} or {below + bundle}" if below else str(bundle)
        raise InputError(
            f"Line {line.position}: {count} of {line.section_text} cannot be bought; "
            f"{item.supplier.name} sells them in bundles of {bundle}, so {expected}."
        )
    if item.limit is not None and count > item.limit:
        raise InputError(
            f"Line {line.position}: {count} of {line.section_text} cannot be bought; "
            f"{item.supplier.name} has at most {item.limit}."
        )


def _price_of_so_many(
    session: Session, line: OrderLine, count: int
) -> tuple[Decimal | None, str | None, Decimal | None]:
    """Price, its basis and the price of one bar of a line when `count` are ordered.

    Which list priced the line is not stored. It is taken to be the newest one, of the days on which revisions
    of the order were written, that gives the line's own price. If none does, a person named it, and it stays.
    """
    own = (line.price, line.basis, line.unit_price)
    if count == line.count:
        return own
    # The price may be of the day of an earlier revision; the newest that still gives this price is taken.
    days = session.scalars(select(Order.placed_on).where(Order.number == line.order.number))
    for day in sorted(set(days), reverse=True):
        held = item_price(session, line, on=day)
        if held is None or held.each != line.unit_price:
            continue
        asked = item_price(session, line, count=count, on=day)
        if asked is None:
            raise InputError(
                f"Line {line.position}: {line.order.supplier.name} lists no price for only {count} of "
                f"{line.section_text}.",
                hint=f"Name it: --price {line.position}=PRICE (for one bar)",
            )
        return asked.price, asked.basis, asked.each
    return own


def _list_price(session: Session, line: OrderLine) -> Decimal:
    held = item_price(session, line)
    price = None if held is None else held.each
    if price is None:
        raise InputError(
            f"Line {line.position} has no price.",
            hint=f"Name it: --price {line.position}=PRICE (for one bar)",
        )
    return price
