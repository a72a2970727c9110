"""Put received bars on the rack: which bar is for which planned pieces, and what each cost."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import currency_digits, round_money, round_rate, share_out
from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.units import Length
from shopquote.records.jobs import Job
from shopquote.records.orders import Order, OrderLine, Receipt, ReceivedBar
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.buying.needs import load_length, loaded
from shopquote.services.buying.purchase_lines import Load, main_job
from shopquote.services.jobs.job_states import STATES_OVER
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import new_piece, share_piece
from shopquote.services.rack.rack_on_file import place_on_file
from shopquote.services.shop.shop_on_file import shop_currency


@dataclass(frozen=True, slots=True)
class Delivery:
    """Facts of a whole delivery; `delivery_charge` None means the part of the agreed charge that is due.

    `last`: nothing more is expected on the order.
    """

    reference: str = ""
    place: str = ""
    delivery_charge: Decimal | None = None
    update_prices: bool = False
    last: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class DeliveryCost:
    """Money of one delivery, in the order's currency: `charged` for it, and `borne` by its bars.

    They differ because a charge for the whole order rests on all its bars, not on those that came first.
    """

    charged: Decimal
    borne: Decimal


def delivery_cost(
    session: Session, order: Order, bars: Sequence[ReceivedBar], delivery: Delivery
) -> DeliveryCost:
    """What is charged for this delivery, and what its bars bear of the order's delivery charges.

    If no charge is stated, this delivery's share of the agreed charge, by value of the bars received, is
    taken. The last delivery bears the rest, so that the parts add up to all that was charged.
    """
    receipts = _receipts(session, order)
    before = _charged(receipts)
    share = _share_of_rest(order, bars)
    complete = delivery.last or share == 1
    # Not below zero: the supplier may have charged more than agreed already.
    rest = max(Decimal(0), order.delivery - before)
    if delivery.delivery_charge is not None:
        charged = round_rate(delivery.delivery_charge)
    else:
        charged = rest if complete else round_money(rest * share, order.currency)
    # A charge stated with the last delivery is final; before that, the agreed charge may still be billed.
    told_last = complete and delivery.delivery_charge is not None
    in_all = before + charged if told_last else max(order.delivery, before + charged)
    borne = _borne(session, order, receipts)
    part = in_all - borne if complete else round_money((in_all - borne) * share, order.currency)
    # Bars never bear more than was charged so far.
    return DeliveryCost(charged, max(Decimal(0), min(part, before + charged - borne)))


def _share_of_rest(order: Order, bars: Sequence[ReceivedBar]) -> Decimal:
    """Share, 0 to 1, of what was open that came now, by agreed price; 1 if all of it came."""
    still_open = {line.id: line.open for line in order.lines}
    arrived: dict[int, int] = {}
    for bar in bars:
        if bar.order_line_id is not None:
            arrived[bar.order_line_id] = arrived.get(bar.order_line_id, 0) + bar.count
    price = {line.id: line.unit_price or Decimal(0) for line in order.lines}
    expected = sum((price[i] * count for i, count in still_open.items()), Decimal(0))
    came = sum((price[i] * min(count, still_open[i]) for i, count in arrived.items()), Decimal(0))
    # By price, not by count: a dear bar bears more of the delivery than a cheap one.
    return Decimal(1) if came >= expected else came / expected


def _borne(session: Session, order: Order, receipts: Sequence[Receipt]) -> Decimal:
    """Delivery charges in the cost of bars received before, in the order's currency."""
    bars = {bar.id: bar for receipt in receipts for bar in receipt.bars}
    costs = session.scalars(
        select(RackPiece.cost).where(RackPiece.received_bar_id.in_(bars), RackPiece.parent_id.is_(None))
    )
    # From the bars themselves, since taking back and settling change what they bear; nowhere else is that
    # kept.
    landed = sum((cost or Decimal(0) for cost in costs), Decimal(0)) / order.supplier.exchange_rate
    bills: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    for bar in bars.values():
        bills[bar.receipt_id, bar.order_line_id] += bar.charged * bar.count
    alone = sum((round_money(amount, order.currency) for amount in bills.values()), Decimal(0))
    return round_money(landed, order.currency) - alone


def settle_delivery(session: Session, order: Order, charged: Decimal | None = None) -> Decimal:
    """Nothing more comes: the bars that came bear what was charged for deliveries and rests on none of them.

    Args:
        session: open and writing.
        order: in part received.
        charged: for its deliveries in all, where somebody says it; else what was taken as charged so far.

    Returns:
        What is left that no bar can bear, since all were scrapped or cut for jobs whose figures are closed.
    """
    receipts = _receipts(session, order)
    before = _charged(receipts)
    if charged is not None and receipts:
        told = round_rate(charged) - before
        receipts[-1].charged_total = (receipts[-1].charged_total or Decimal(0)) + told
        before += told
    rest = before - _borne(session, order, receipts)
    bars = [bar.id for receipt in receipts for bar in receipt.bars]
    query = select(RackPiece).where(
        RackPiece.received_bar_id.in_(bars), RackPiece.parent_id.is_(None), RackPiece.state != "scrapped"
    )
    found = [(piece, _uses(session, piece)) for piece in session.scalars(query.order_by(RackPiece.id)).all()]
    pieces = {
        piece.id: (piece, uses) for piece, uses in found if not any(use.job.state == "closed" for use in uses)
    }
    digits = currency_digits(shop_currency(session))
    cents = int(round_money(rest * order.supplier.exchange_rate, shop_currency(session)).scaleb(digits))
    if not pieces:
        return round_money(rest, order.currency)
    weights = {key: int(piece.cost.scaleb(4)) for key, (piece, _) in pieces.items()}
    for key, part in share_out(cents, weights).items():
        piece, uses = pieces[key]
        piece.cost += Decimal(part).scaleb(-digits)
        # What was cut already takes it along; its offcuts keep what they cost.
        shares = share_out(part, {use.id: use.length.nm for use in uses})
        for use in uses:
            use.cost += Decimal(shares[use.id]).scaleb(-digits)
    session.flush()
    return Decimal(0)


def _uses(session: Session, piece: RackPiece) -> Sequence[BarUse]:
    return session.scalars(select(BarUse).where(BarUse.rack_piece_id == piece.id).order_by(BarUse.id)).all()


def _receipts(session: Session, order: Order) -> Sequence[Receipt]:
    """What came of an order, as far as it is known what it cost."""
    query = select(Receipt).where(Receipt.order_id == order.id, Receipt.charged_total.is_not(None))
    return session.scalars(query.order_by(Receipt.id).options(selectinload(Receipt.bars))).all()


def delivery_charged(session: Session, order: Order) -> Decimal:
    """What was charged for the deliveries of an order so far, in its currency."""
    return round_money(_charged(_receipts(session, order)), order.currency)


def _charged(receipts: Sequence[Receipt]) -> Decimal:
    """For the deliveries themselves, without their bars."""
    total = sum((receipt.charged_total or Decimal(0) for receipt in receipts), Decimal(0))
    return total - sum((bar.charged * bar.count for receipt in receipts for bar in receipt.bars), Decimal(0))


def hand_out_loads(bars: Sequence[ReceivedBar], saw: SawSettings) -> dict[int, list[Load]]:
    """Planned pieces for each received bar, by `ReceivedBar` id, bar by bar; bars beyond the plan get none.

    Bars take the planned loads in turn. If shorter bars came, each takes the longest load that it holds, the
    shortest bar first, so that as few loads as possible are without a bar that holds them. The order line's
    loads are put in the order in which bars took them.
    """
    found: dict[int, list[Load]] = {}
    lines = {bar.order_line.id: bar.order_line for bar in bars if bar.order_line is not None}
    for line in lines.values():
        mine = [bar for bar in bars if bar.order_line_id == line.id]
        lengths = [bar.length for bar in mine for _ in range(bar.count)]
        taken = _taken_loads(line, lengths, saw)
        came = [line.loads[taken[n]] for n in sorted(taken)]
        handed = [line.loads[taken[n]] if n in taken else [] for n in range(len(lengths))]
        rest = [line.loads[i] for i in range(line.received, len(line.loads)) if i not in taken.values()]
        line.loads = [*line.loads[: line.received], *came, *rest]
        loads = iter(loaded(handed))
        for bar in mine:
            found[bar.id] = [next(loads) for _ in range(bar.count)]
    return found


def _taken_loads(line: OrderLine, lengths: Sequence[Length], saw: SawSettings) -> dict[int, int]:
    """Index of the load that each received bar takes, by the bar's index."""
    waiting = list(range(line.received, len(line.loads) - line.cancelled))
    if all(length >= line.length for length in lengths):
        return dict(zip(range(len(lengths)), waiting, strict=False))
    needs = {i: load_length(load, saw, sawn=line.cut) for i, load in enumerate(loaded(line.loads))}
    return _fitted(lengths, waiting, needs)


def _fitted(lengths: Sequence[Length], waiting: Sequence[int], needs: Mapping[int, Length]) -> dict[int, int]:
    """Index of the load that each bar takes, by the bar's index; as many as possible hold their loads."""
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


def shelve(
    session: Session,
    order: Order,
    bars: Sequence[ReceivedBar],
    loads: Mapping[int, Sequence[Load]],
    charge: Decimal,
    place: str,
    on: date,
) -> tuple[RackPiece, ...]:
    """Add one rack piece per bar, at its landed cost, promised to the job it was ordered for.

    Costs are in whole cents and add up to the bill: its lines, each rounded once, and the delivery charge.
    """
    # In the order of the loop below: one cost for each bar.
    costs = iter(_landed_costs(order, bars, charge, shop_currency(session)))
    pieces = []
    for bar in bars:
        assert bar.order_line is not None
        for load in loads[bar.id][: bar.count]:
            pieces.append(_new_bar(session, bar, load, next(costs), place, on))
            bar.order_line.received += 1
    session.flush()
    return tuple(pieces)


def _landed_costs(
    order: Order, bars: Sequence[ReceivedBar], charge: Decimal, currency: str
) -> Iterator[Decimal]:
    """Cost of each bar, with its share of the delivery by price charged, in the shop's currency."""
    by_line: dict[int | None, Decimal] = defaultdict(Decimal)
    for bar in bars:
        by_line[bar.order_line_id] += bar.charged * bar.count
    bill = sum((round_money(amount, order.currency) for amount in by_line.values()), charge)
    digits = currency_digits(currency)
    total = round_money(bill * order.supplier.exchange_rate, currency)
    each = [bar.charged for bar in bars for _ in range(bar.count)]
    # In ten-thousandths, the smallest step of a stored amount: `share_out` weighs by whole numbers.
    weights = {place: int(charged.scaleb(4)) for place, charged in enumerate(each)}
    for cents in share_out(int(total.scaleb(digits)), weights).values():
        yield Decimal(cents).scaleb(-digits)


def _new_bar(
    session: Session, bar: ReceivedBar, load: Load, cost: Decimal, place: str, on: date
) -> RackPiece:
    job = _waiting_job(session, load)
    piece = RackPiece(
        section_key=bar.section_key, section_text=bar.section_text, grade=bar.grade, length=bar.length,
        length_text=bar.length_text, heat=bar.heat, place=place_on_file(session, place),
        cost=cost, made_on=on,
        received_bar=bar, received_bar_id=bar.id, state="free" if job is None else "promised",
        promised_job=job, promised_job_id=None if job is None else job.id,
    )  # fmt: skip
    new_piece(session, piece, "received", job_id=piece.promised_job_id)
    if job is not None:
        share_piece(session, piece, load)
    return piece


def _waiting_job(session: Session, load: Load) -> Job | None:
    """The job that a bar is for, or another running job that shares it; None if none is left."""
    if not load:
        return None
    job = find_job(session, main_job(load))
    if job.state not in STATES_OVER:
        return job
    # The bar was meant for several jobs: if the main one is over, it lies ready for another of them.
    others = [find_job(session, owner) for owner in sorted({owner for owner, _, _, _ in load})]
    return next((other for other in others if other.state not in STATES_OVER), None)
