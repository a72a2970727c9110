"""Bars arrive: how many, how long, of which heat, with which certificate, for how much.

Each bar goes on the rack with a code of its own, promised to the job that it
was ordered for; what nobody waits for lies free. Begin at `receive_order`.
"""

import re
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.buying.prices import price_for_basis, read_basis
from shopquote.calc.money import round_money, round_rate
from shopquote.calc.takeoff.answers import SawSettings
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.reading.kinds import HEAT, MEASURE, Notation
from shopquote.reading.kinds.lengths import parted
from shopquote.records.jobs import Job
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.orders import Order, OrderLine, Receipt, ReceivedBar
from shopquote.records.rack import RackPiece
from shopquote.services.buying.needs import ON_ORDER, OVER, load_length, load_of, loaded
from shopquote.services.buying.orders import ONE_HEAT, lacking_for_order
from shopquote.services.buying.orders_on_file import find_order
from shopquote.services.buying.purchase import Load, main_job
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import LIVE, new_piece, share_out, share_piece
from shopquote.services.shop.certificates import keep_certificate
from shopquote.services.shop.on_file import saw_settings, shop_notation, shop_unit

MOST_BARS = 10_000


@dataclass(frozen=True, slots=True)
class Arrival:
    """Bars of one order line, heat and length that came.

    `length` None: as ordered. `charged` is money for one bar in the order's
    currency, None: as ordered.
    """

    line: int
    count: int
    length: Measure | None = None
    heat: str = ""
    certificate: Path | None = None
    certificate_kind: str = ""
    charged: Decimal | None = None


@dataclass(frozen=True, slots=True)
class OpenLine:
    """A line of an order as it stands: its bar and grade as printed, and how many bars are to come."""

    bar: str
    grade: str
    open: int


@dataclass(frozen=True, slots=True)
class Delivery:
    """What is true of a whole delivery. `delivery_charge` None: its part of what was ordered."""

    reference: str = ""
    place: str = ""
    delivery_charge: Decimal | None = None
    update_prices: bool = False
    last: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """One order line after a delivery. `price_difference` is per bar, charged less ordered."""

    line: int
    ordered: int
    received: int
    price_difference: Decimal | None
    other_length: bool

    @property
    def short(self) -> int:
        """Bars still to come."""
        return max(0, self.ordered - self.received)

    @property
    def over(self) -> int:
        """Bars that came beyond the order."""
        return max(0, self.received - self.ordered)


@dataclass(frozen=True, slots=True)
class ShortBar:
    """A bar too short for what it was ordered for.

    `load` is what was to be cut from it, (job, mark, length, count); `needed` the length that it takes.
    """

    line: int
    code: str
    length: Length
    needed: Length
    load: Load


@dataclass(frozen=True, slots=True)
class ReceivedOrder:
    """What a delivery brought: new rack pieces, the order's state, and what differs from the order.

    `too_short` are bars that do not hold what was planned from them; `lacking` are bars and grades of which
    the jobs that wait for this order now have too little, each with the jobs; `mixed_heats` are lines that
    were ordered of one heat and came of several.
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


def receive_order(
    session: Session,
    number: str,
    arrivals: Sequence[Arrival] = (),
    delivery: Delivery | None = None,
    *,
    certificates: Path,
    at: datetime,
) -> ReceivedOrder:
    """Put a delivery on file and its bars on the rack. Without arrivals, all that is open came as ordered.

    A piece's cost is what was charged for it with its share of the delivery
    charge, in the shop's currency. With `update_prices` a changed price also
    goes on the supplier's list from this day.

    Raises:
        NotFoundError: no such order.
        InputError: nothing is open, a line is not there, or a figure makes no sense.
    """
    delivery = delivery or Delivery()
    order = find_order(session, number)
    if order.state not in ON_ORDER:
        raise InputError(f"Order {order.number} is {order.state}; nothing is expected on it.")
    came = list(arrivals) or [
        Arrival(line.position, line.count - line.received)
        for line in order.lines
        if line.count > line.received
    ]
    _check(order, came, delivery)
    receipt = Receipt(
        order_id=order.id, received_on=at.date(), received_at=at, reference=delivery.reference,
        note=delivery.note,
    )  # fmt: skip
    session.add(receipt)
    session.flush()
    bars = [_received_bar(session, order, receipt, arrival, certificates, at) for arrival in came]
    charge = _delivery_charge(session, order, bars, delivery)
    receipt.charged_total = sum((bar.charged * bar.count for bar in bars), charge)
    loads = _hand_out_loads(bars, saw_settings(session))
    pieces = _shelve(session, order, bars, loads, charge, delivery.place, at.date())
    difference = sum((_difference(bar) * bar.count for bar in bars), Decimal(0))
    updated = _update_prices(session, order, bars, at.date()) if delivery.update_prices else ()
    _set_state(order, last=delivery.last)
    session.flush()
    short = _too_short(session, pieces)
    mixed = _mixed_heats(session, order)
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
    )


def read_lengths(text: str, notation: Notation) -> tuple[tuple[Measure, int], ...]:
    """Lengths as measured one by one: `6100, 6150 x 3, 6.2 m`.

    Raises:
        InputError: a length or count cannot be read.

    >>> [(length.text, count) for length, count in read_lengths("6100, 6150 x 3", Notation())]
    [('6100', 1), ('6150', 3)]
    """
    found = []
    for word in map(str, parted(text)):
        match = re.fullmatch(r"(.*?)(?:\s*[x*]\s*(\d{1,5}))?\s*", word, re.IGNORECASE)
        assert match is not None
        count = int(match[2] or 1)
        if not count:
            raise InputError(f"Lengths: {word.strip()!r} has a count of 0.")
        found.append((MEASURE.read(match[1].strip(), notation), count))
    return tuple(found)


def arrivals_of_line(
    session: Session,
    number: str,
    position: int | None,
    *,
    count: int | None = None,
    lengths: str | None = None,
    heat: str = "",
    certificate: Path | None = None,
    charged: Decimal | None = None,
) -> list[Arrival]:
    """What came of one line, or of every open line when none is named.

    Raises:
        NotFoundError: no such order.
        InputError: lengths, a count or a price were given, but no line; or they do not agree.
    """
    order = find_order(session, number)
    if position is None:
        if count is not None or lengths is not None or charged is not None:
            raise InputError("Count, lengths and what was charged are of one line.", hint="Name it: --line N")
        return [
            Arrival(line.position, line.count - line.received, None, heat, certificate)
            for line in order.lines
            if line.count > line.received
        ]
    line = next((line for line in order.lines if line.position == position), None)
    if lengths is None:
        there = 0 if line is None else line.count - line.received
        wanted = count if count is not None else max(1, there)
        return [Arrival(position, wanted, None, heat, certificate, "", charged)]
    measured = read_lengths(lengths, shop_notation(session))
    if count is not None and count != sum(n for _, n in measured):
        raise InputError(f"Count is {count}, but {sum(n for _, n in measured)} lengths are named.")
    return [Arrival(position, n, length, heat, certificate, "", charged) for length, n in measured]


# --- checks -------------------------------------------------------------------------------------


def _check(order: Order, came: Sequence[Arrival], delivery: Delivery) -> None:
    if not came and not delivery.last:
        raise InputError(f"All of order {order.number} has come already.")
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


def _received_bar(
    session: Session, order: Order, receipt: Receipt, arrival: Arrival, certificates: Path, at: datetime
) -> ReceivedBar:
    line = next(line for line in order.lines if line.position == arrival.line)
    kept = None
    if arrival.certificate is not None:
        kept = keep_certificate(
            session, arrival.certificate, certificates, heat=arrival.heat, at=at,
            kind=arrival.certificate_kind or order.certificate_kind,
        )  # fmt: skip
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


def _delivery_charge(
    session: Session, order: Order, bars: Sequence[ReceivedBar], delivery: Delivery
) -> Decimal:
    """This delivery's part of the delivery charge: what was really charged, else by the value that came.

    What comes last bears the rest, so that the parts add up to the order's charge.
    """
    if delivery.delivery_charge is not None:
        return round_rate(delivery.delivery_charge)
    borne = _borne_before(session, order)
    rest = max(Decimal(0), order.delivery - borne)
    still_open = {line.id: max(0, line.count - line.received) for line in order.lines}
    arrived: dict[int, int] = {}
    for bar in bars:
        if bar.order_line_id is not None:
            arrived[bar.order_line_id] = arrived.get(bar.order_line_id, 0) + bar.count
    price = {line.id: line.unit_price or Decimal(0) for line in order.lines}
    expected = sum((price[i] * count for i, count in still_open.items()), Decimal(0))
    came = sum((price[i] * min(count, still_open[i]) for i, count in arrived.items()), Decimal(0))
    if delivery.last or came >= expected:
        return rest
    return round_rate(rest * came / expected)


def _borne_before(session: Session, order: Order) -> Decimal:
    """Delivery charges that earlier deliveries of the order have borne."""
    receipts = session.scalars(
        select(Receipt).where(Receipt.order_id == order.id).options(selectinload(Receipt.bars))
    )
    return sum(
        (
            receipt.charged_total - sum((bar.charged * bar.count for bar in receipt.bars), Decimal(0))
            for receipt in receipts
            if receipt.charged_total is not None
        ),
        Decimal(0),
    )


def _hand_out_loads(bars: Sequence[ReceivedBar], saw: SawSettings) -> dict[int, list[Load]]:
    """What each bar that came is for, by the row's id, in the order of its bars; nothing beyond the plan.

    Bars take what was planned from them in turn. Where shorter ones came, each takes the most that it holds,
    the shortest bar first, so that as few as can be do not hold what they are for.
    """
    found: dict[int, list[Load]] = {}
    lines = {bar.order_line.id: bar.order_line for bar in bars if bar.order_line is not None}
    for line in lines.values():
        mine = [bar for bar in bars if bar.order_line_id == line.id]
        lengths = [bar.length for bar in mine for _ in range(bar.count)]
        waiting = list(range(line.received, len(line.loads)))
        if any(length < line.length for length in lengths):
            needs = {i: load_length(load, saw, sawn=line.cut) for i, load in enumerate(loaded(line.loads))}
            taken = _fitted(lengths, waiting, needs)
        else:
            taken = dict(zip(range(len(lengths)), waiting, strict=False))
        rest = [i for i in waiting if i not in taken.values()]
        came = [line.loads[taken[n]] for n in range(len(lengths)) if n in taken]
        handed = iter(loaded([line.loads[taken[n]] if n in taken else [] for n in range(len(lengths))]))
        line.loads = [*line.loads[: line.received], *came, *(line.loads[i] for i in rest)]
        for bar in mine:
            found[bar.id] = [next(handed) for _ in range(bar.count)]
    return found


def _fitted(lengths: Sequence[Length], waiting: Sequence[int], needs: Mapping[int, Length]) -> dict[int, int]:
    """Which load each bar takes, by their places; as many as can be are held by their bars."""
    left = sorted(waiting, key=lambda i: needs[i])
    taken: dict[int, int] = {}
    for n in sorted(range(len(lengths)), key=lambda n: lengths[n]):
        fit = bisect_right(left, lengths[n], key=lambda i: needs[i])
        if fit:
            taken[n] = left.pop(fit - 1)
    for n in range(len(lengths)):
        if n not in taken and left:
            taken[n] = left.pop(0)
    return taken


def _mixed_heats(session: Session, order: Order) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """Lines that were ordered of one heat, with the heats that came when these are more."""
    found = []
    for line in order.lines:
        if ONE_HEAT in line.condition:
            query = select(ReceivedBar.heat).where(ReceivedBar.order_line_id == line.id).distinct()
            heats = tuple(sorted(heat for heat in session.scalars(query) if heat))
            if len(heats) > 1:
                found.append((line.position, heats))
    return tuple(found)


def _too_short(session: Session, pieces: Sequence[RackPiece]) -> tuple[ShortBar, ...]:
    """The promised pieces, shorter than ordered, that do not hold what they are for."""
    saw = saw_settings(session)
    short = []
    for piece in pieces:
        line = None if piece.received_bar is None else piece.received_bar.order_line
        if line is None or piece.length >= line.length or piece.promised_job_id is None:
            continue
        load = load_of(piece)
        needed = load_length(load, saw, sawn=line.cut)
        if needed > piece.length:
            short.append(ShortBar(line.position, piece.code, piece.length, needed, load))
    return tuple(short)


def _shelve(
    session: Session,
    order: Order,
    bars: Sequence[ReceivedBar],
    loads: Mapping[int, Sequence[Load]],
    charge: Decimal,
    place: str,
    on: date,
) -> tuple[RackPiece, ...]:
    """One rack piece a bar, with its landed cost, promised to the job that it was ordered for."""
    shares = _landed_shares(bars, charge)
    rate = order.supplier.exchange_rate
    pieces = []
    for i, bar in enumerate(bars):
        assert bar.order_line is not None
        line = bar.order_line
        each = share_out(shares[i], dict.fromkeys(range(bar.count), 1))
        for n in range(bar.count):
            cost = round_rate((bar.charged + Decimal(each[n]).scaleb(-4)) * rate)
            pieces.append(_new_bar(session, bar, loads[bar.id][n], cost, place, on))
            line.received += 1
    session.flush()
    return tuple(pieces)


def _landed_shares(bars: Sequence[ReceivedBar], charge: Decimal) -> dict[int, int]:
    """The delivery charge in ten-thousandths over what came, by money charged."""
    weights = {i: int((bar.charged * bar.count).scaleb(4)) for i, bar in enumerate(bars)}
    return share_out(int(charge.scaleb(4)), weights) if bars else {}


def _new_bar(
    session: Session, bar: ReceivedBar, load: Load, cost: Decimal, place: str, on: date
) -> RackPiece:
    job = _waiting_job(session, load)
    piece = RackPiece(
        section_key=bar.section_key, section_text=bar.section_text, grade=bar.grade, length=bar.length,
        length_text=bar.length_text, heat=bar.heat, place=place, cost=cost, made_on=on,
        received_bar=bar, received_bar_id=bar.id, state="free" if job is None else "promised",
        promised_job=job, promised_job_id=None if job is None else job.id,
    )  # fmt: skip
    new_piece(session, piece, "received", job_id=piece.promised_job_id)
    if job is not None:
        share_piece(session, piece, load)
    return piece


def _waiting_job(session: Session, load: Load) -> Job | None:
    """The job that a bar is for; None when nobody waits for it any more."""
    if not load:
        return None
    job = find_job(session, main_job(load))
    if job.state not in OVER:
        return job
    others = [find_job(session, owner) for owner in sorted({owner for owner, _, _, _ in load})]
    return next((other for other in others if other.state not in OVER), None)


def _set_state(order: Order, *, last: bool) -> None:
    whole = all(line.received >= line.count for line in order.lines)
    order.state = "received" if whole or last else "part received"


# --- differences ----------------------------------------------------------------------------------


def _difference(bar: ReceivedBar) -> Decimal:
    ordered = bar.order_line.unit_price if bar.order_line is not None else None
    return Decimal(0) if ordered is None else bar.charged - ordered


def _outcomes(order: Order, bars: Sequence[ReceivedBar]) -> tuple[LineOutcome, ...]:
    by_line: dict[int, list[ReceivedBar]] = {}
    for bar in bars:
        assert bar.order_line is not None
        by_line.setdefault(bar.order_line.position, []).append(bar)
    return tuple(
        LineOutcome(
            line.position, line.count, line.received, _mean_difference(by_line.get(line.position, ())),
            any(bar.length != line.length for bar in by_line.get(line.position, ())),
        )
        for line in order.lines
    )  # fmt: skip


def _mean_difference(bars: Sequence[ReceivedBar]) -> Decimal | None:
    count = sum(bar.count for bar in bars)
    if not count:
        return None
    return round_rate(sum((_difference(bar) * bar.count for bar in bars), Decimal(0)) / count)


def _update_prices(session: Session, order: Order, bars: Sequence[ReceivedBar], on: date) -> tuple[int, ...]:
    """Put changed prices on the supplier's list, valid from this day; the old ones stay as history."""
    updated: dict[int, int] = {}
    for bar in bars:
        line = bar.order_line
        assert line is not None
        if line.stock_item_id is None or line.cut or not _difference(bar) or bar.length != line.length:
            continue
        item = session.get(StockItem, line.stock_item_id)
        if item is None or item.id in updated.values():
            continue
        _change_step(item, line, bar.charged, on)
        updated[line.position] = item.id
    return tuple(updated)


def _change_step(item: StockItem, line: OrderLine, charged: Decimal, on: date) -> None:
    """The list as it stands with the price of one step changed; the same day's list is corrected."""
    held = [price for price in item.prices if price.valid_from <= on]
    newest = max((price.valid_from for price in held), default=None)
    steps = sorted((p for p in held if p.valid_from == newest), key=lambda price: price.break_kg)
    mass = line.mass_kg or Decimal(0)
    step = next((p for p in reversed(steps) if p.break_kg <= mass), steps[0] if steps else None)
    if step is None:
        item.prices.append(StockPrice(price=charged, basis="bar", valid_from=on))
        return
    changed = price_for_basis(charged, read_basis(step.basis), item.length, mass / line.count)
    if newest == on:
        step.price = changed
        return
    for old in steps:
        item.prices.append(
            StockPrice(
                price=changed if old is step else old.price, basis=old.basis, break_kg=old.break_kg,
                valid_from=on, invented=old.invented and old is not step,
            )
        )  # fmt: skip


def lines_as_they_stand(session: Session, number: str) -> dict[int, OpenLine]:
    """Every line of an order by its position, for checking a goods-in sheet.

    Raises:
        NotFoundError: no such order.
    """
    return {
        line.position: OpenLine(line.section_text, line.grade, max(0, line.count - line.received))
        for line in find_order(session, number).lines
    }


def open_lines(session: Session, number: str) -> Mapping[str, object]:
    """An order's lines that are still to come, for a goods-in sheet.

    Raises:
        NotFoundError: no such order.
        InputError: nothing is open.
    """
    order = find_order(session, number)
    if order.state not in ON_ORDER:
        raise InputError(f"Order {order.number} is {order.state}; nothing is expected on it.")
    unit = shop_unit(session)
    return {
        "number": order.number,
        "supplier": order.supplier.name,
        "unit": unit,
        "currency": order.currency,
        "certificate": order.certificate_kind,
        "lines": [
            {
                "line": line.position, "bar": line.section_text, "grade": line.grade,
                "length": line.length_text or f"{line.length.mm.normalize():f} mm",
                "open": line.count - line.received,
                "each": None if line.unit_price is None else str(line.unit_price),
            }
            for line in order.lines
            if line.count > line.received
        ],
    }  # fmt: skip


def codes_of_order(session: Session, number: str) -> tuple[str, ...]:
    """Codes of the pieces that came on an order and still lie on the rack.

    Raises:
        NotFoundError: no such order.
        InputError: nothing of it lies on the rack.
    """
    order = find_order(session, number)
    query = (
        select(RackPiece.code)
        .join(ReceivedBar, ReceivedBar.id == RackPiece.received_bar_id)
        .join(Receipt, Receipt.id == ReceivedBar.receipt_id)
        .where(Receipt.order_id == order.id, RackPiece.state.in_(LIVE))
        .order_by(RackPiece.id)
    )
    codes = tuple(session.scalars(query))
    if not codes:
        raise InputError(f"Nothing that came on order {order.number} lies on the rack.")
    return codes
