"""Receive bars of an order: how many, how long, of which heat, with which certificate, at what price.

Each bar goes on the rack under its own code, promised to the job it was ordered for, or free. Begin at
`receive_order`.
"""

from collections.abc import Sequence
from dataclasses import field
from datetime import datetime
from decimal import Decimal
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money, round_rate
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import InputError
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.orders import ON_ORDER, Order, Receipt, ReceivedBar
from shopquote.records.rack import RackPiece
from shopquote.services.buying.arrivals import Arrival, all_open, nothing_to_come
from shopquote.services.buying.charged_prices import mean_difference, price_difference, update_prices
from shopquote.services.buying.needs import load_length, load_of
from shopquote.services.buying.order_needs import lacking_for_order
from shopquote.services.buying.orders import ONE_HEAT
from shopquote.services.buying.orders_on_file import cancel_rest, find_order
from shopquote.services.buying.purchase_lines import Load
from shopquote.services.buying.shelving import Delivery, DeliveryCost, delivery_cost, hand_out_loads, shelve
from shopquote.services.shop.certificates import keep_certificate
from shopquote.services.shop.shop_on_file import saw_settings, shop_unit

# Bars in one row of a delivery: every bar becomes a rack piece of its own, so a typing error must not make a
# million of them.
MOST_BARS = 10_000
# Times longer or shorter than ordered from which a length is doubted; common practice, no source: mills and
# merchants cut closer, a wrong unit is further off.
FAR = 2


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """One order line after a delivery; `price_difference` is per bar, charged less ordered, None if none
    came.
    """

    line: int
    ordered: int
    received: int
    price_difference: Decimal | None
    other_length: bool

    @property
    def short(self) -> int:
        """Bars still open."""
        return max(0, self.ordered - self.received)

    @property
    def over(self) -> int:
        """Bars received beyond the order."""
        return max(0, self.received - self.ordered)


@dataclass(frozen=True, slots=True)
class ShortBar:
    """A bar too short for its planned pieces: `load` as (job, mark, length, count), `needed` the length they
    take.
    """

    line: int
    code: str
    length: Length
    needed: Length
    load: Load


@dataclass(frozen=True, slots=True)
class ReceivedOrder:
    """What a delivery brought: new rack pieces, the order's state, and differences from the order.

    `price_difference` is in the order's currency, over all bars. `new_prices` are lines whose list price was
    changed. `too_short` are bars that do not hold what was planned from them. `lacking` are materials of
    which the jobs of this order now have too little, each with the jobs. `mixed_heats` are lines ordered of
    one heat that came of several. `delivery` is what it cost and what these bars bear.
    """

    number: str
    state: str
    pieces: tuple[RackPiece, ...]
    lines: tuple[LineOutcome, ...]
    price_difference: Decimal
    new_prices: tuple[int, ...] = field(default=())
    too_short: tuple[ShortBar, ...] = field(default=())
    lacking: tuple[tuple[str, tuple[str, ...]], ...] = field(default=())
    mixed_heats: tuple[tuple[int, tuple[str, ...]], ...] = field(default=())
    delivery: DeliveryCost = field(default=DeliveryCost(Decimal(0), Decimal(0)))


def receive_order(
    session: Session,
    number: str,
    arrivals: Sequence[Arrival] = (),
    delivery: Delivery | None = None,
    *,
    certificates: Path,
    at: datetime,
    sure: bool = False,
) -> ReceivedOrder:
    """Record a delivery and put its bars on the rack; without arrivals, everything open as ordered.

    A piece's cost is its charged price and share of the delivery charge, in the shop's currency.

    Args:
        session: an open writing session.
        number: the order.
        arrivals: what was received.
        delivery: facts of the whole delivery; its `update_prices` puts changed prices on the supplier's list.
        certificates: folder of certificate files.
        at: the present moment.
        sure: accept more bars than are open of a line received before, and lengths far from those ordered.

    Raises:
        NotFoundError: no such order.
        InputError: nothing is open, a line is not there, a figure makes no sense, or it needs `sure`.
    """
    delivery = delivery or Delivery()
    order = find_order(session, number)
    if order.state not in ON_ORDER:
        raise nothing_to_come(order)
    came = list(arrivals) or all_open(order)
    _check(order, came, delivery)
    # Checked before anything is stored: a delivery typed twice would put bars on the rack that do not exist.
    if not sure:
        _ask_if_again(order, came)
        _ask_if_far(order, came, shop_unit(session))
    receipt = Receipt(
        order_id=order.id, received_on=at.date(), received_at=at, reference=delivery.reference,
        note=delivery.note,
    )  # fmt: skip
    session.add(receipt)
    session.flush()
    bars = [_received_bar(session, order, receipt, arrival, certificates, at) for arrival in came]
    carried = delivery_cost(session, order, bars, delivery)
    # Charged in all: the delivery note's bars and what the supplier asked to bring them.
    receipt.charged_total = sum((bar.charged * bar.count for bar in bars), carried.charged)
    loads = hand_out_loads(bars, saw_settings(session))
    pieces = shelve(session, order, bars, loads, carried.borne, delivery.place, at.date())
    difference = sum((price_difference(bar) * bar.count for bar in bars), Decimal(0))
    updated = update_prices(session, order, bars, at.date()) if delivery.update_prices else ()
    receipt.last = delivery.last
    _set_state(order, last=delivery.last)
    session.flush()
    # After the flush, as both look at rack pieces that were just stored.
    short = _too_short(session, pieces)
    mixed = _mixed_heats(session, order)
    # Whether jobs lack material is a slow question, and a full delivery leaves nobody short: ask only if not
    # full.
    ended_short = order.state == "received" and any(line.received < line.count for line in order.lines)
    return ReceivedOrder(
        order.number,
        order.state,
        pieces,
        _outcomes(order, bars),
        round_money(difference, order.currency),
        updated,
        short,
        lacking_for_order(session, order) if short or ended_short or mixed else (),
        mixed,
        carried,
    )


# --- checks -------------------------------------------------------------------------------------


def _check(order: Order, came: Sequence[Arrival], delivery: Delivery) -> None:
    if not came and not delivery.last:
        raise InputError(f"All of order {order.number} was received already.")
    positions = {line.position for line in order.lines}
    for arrival in came:
        where = f"Line {arrival.line}"
        if arrival.line not in positions:
            raise InputError(
                f"Order {order.number} has no line {arrival.line}; it has 1 to {len(positions)}."
            )
        if not 1 <= arrival.count <= MOST_BARS:
            raise InputError(f"{where}: count is {arrival.count}; expected 1 to {MOST_BARS}.")
        if arrival.length is not None and arrival.length.length.nm <= 0:
            raise InputError(f"{where}: length is {arrival.length.text!r}; expected above zero.")
        if arrival.charged is not None and arrival.charged < 0:
            raise InputError(f"{where}: charged is {arrival.charged}; expected at least 0.")
    if delivery.delivery_charge is not None and delivery.delivery_charge < 0:
        raise InputError(f"Delivery charge is {delivery.delivery_charge}; expected at least 0.")


# --- what came ------------------------------------------------------------------------------------


def _ask_if_again(order: Order, came: Sequence[Arrival]) -> None:
    """Refuse more bars than are open of a line received before: the delivery was likely typed twice."""
    lines = {line.position: line for line in order.lines}
    for position in dict.fromkeys(arrival.line for arrival in came):
        line = lines[position]
        count = sum(arrival.count for arrival in came if arrival.line == position)
        if line.received and count > line.open:
            raise InputError(
                f"Line {position} of {order.number}: {line.received} of {line.count} came before, and now "
                f"{count} more; was this delivery typed already?",
                hint="If they really came, say so: --sure. To take a delivery back: "
                f"shopquote receive {order.number} --strike N --reason TEXT",
            )


def _ask_if_far(order: Order, came: Sequence[Arrival], unit: Unit) -> None:
    """Refuse a length likely typed in another unit, such as 5.99, meant in metres, for a bar of 6000."""
    lines = {line.position: line for line in order.lines}
    for arrival in came:
        if arrival.length is None:
            continue
        read, ordered = arrival.length.length, lines[arrival.line].length
        if ordered > read * FAR or read > ordered * FAR:
            shown, wanted = (show_length(length, unit, exact=True) for length in (read, ordered))
            raise InputError(
                f"Line {arrival.line} of {order.number}: the length {arrival.length.text!r} is read as "
                f"{shown}, and {wanted} was ordered; did such bars come?",
                hint="A length in another unit names it, such as 5.99 m. If they really came so, say so: "
                "--sure.",
            )


def _received_bar(
    session: Session, order: Order, receipt: Receipt, arrival: Arrival, certificates: Path, at: datetime
) -> ReceivedBar:
    line = next(line for line in order.lines if line.position == arrival.line)
    kept = None
    if arrival.certificate is not None:
        kept = keep_certificate(
            session, arrival.certificate, certificates, heat=arrival.heat, at=at,
            kind=arrival.certificate_kind, asked=order.certificate_kind,
        )  # fmt: skip
    # A delivery that names no price was charged as agreed.
    charged = line.unit_price if arrival.charged is None else arrival.charged
    bar = ReceivedBar(
        receipt_id=receipt.id, order_line_id=line.id, order_line=line, section_key=line.section_key,
        section_text=line.section_text, grade=line.grade,
        length=line.length if arrival.length is None else arrival.length.length,
        length_text=line.length_text if arrival.length is None else arrival.length.text,
        count=arrival.count, heat=HEAT.read(arrival.heat, Notation()),
        certificate_id=None if kept is None else kept.id, charged=round_rate(charged or Decimal(0)),
    )  # fmt: skip
    session.add(bar)
    session.flush()
    return bar


def _mixed_heats(session: Session, order: Order) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """Lines ordered of one heat that came of several, with the heats."""
    found = []
    for line in order.lines:
        if ONE_HEAT in line.condition:
            # From the rack pieces: the delivery keeps the heat as typed, even where it was corrected since.
            its = RackPiece.received_bar.has(ReceivedBar.order_line_id == line.id)
            query = select(RackPiece.heat).where(its, RackPiece.parent_id.is_(None)).distinct()
            heats = tuple(sorted(heat for heat in session.scalars(query) if heat))
            if len(heats) > 1:
                found.append((line.position, heats))
    return tuple(found)


def _too_short(session: Session, pieces: Sequence[RackPiece]) -> tuple[ShortBar, ...]:
    """Promised pieces shorter than ordered that do not hold their planned pieces."""
    saw = saw_settings(session)
    short = []
    for piece in pieces:
        line = None if piece.received_bar is None else piece.received_bar.order_line
        # Longer bars hold what was planned on them; bars without a job have no plan.
        if line is None or piece.length >= line.length or piece.promised_job_id is None:
            continue
        load = load_of(piece)
        needed = load_length(load, saw, sawn=line.cut)
        if needed > piece.length:
            short.append(ShortBar(line.position, piece.code, piece.length, needed, load))
    return tuple(short)


def _set_state(order: Order, *, last: bool) -> None:
    if last:
        cancel_rest(order)
    order.state = "part received" if any(line.open for line in order.lines) else "received"


# --- differences ----------------------------------------------------------------------------------


def _outcomes(order: Order, bars: Sequence[ReceivedBar]) -> tuple[LineOutcome, ...]:
    by_line: dict[int, list[ReceivedBar]] = {}
    for bar in bars:
        assert bar.order_line is not None
        by_line.setdefault(bar.order_line.position, []).append(bar)
    return tuple(
        LineOutcome(
            line.position, line.count, line.received, mean_difference(by_line.get(line.position, ())),
            any(bar.length != line.length for bar in by_line.get(line.position, ())),
        )
        for line in order.lines
    )  # fmt: skip
