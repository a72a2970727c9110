"""Supplier orders: placed for jobs, asked for prices, changed, cancelled.

`order_for_jobs` plans on one moment of the database, then checks in a writing
transaction that nothing it counted on has changed meanwhile, and places one
order a supplier. A placed order is a snapshot: a change makes a new revision.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.money import round_money
from shopquote.calc.takeoff.answers import Piece, RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item, group_pieces
from shopquote.calc.units import Length, show_length
from shopquote.errors import DatabaseError, InputError, NotFoundError, nearest_word
from shopquote.records.jobs import Job
from shopquote.records.orders import Order, OrderJob, OrderLine, OrderLineJob
from shopquote.records.people import Supplier
from shopquote.services.database import Database, next_number
from shopquote.services.jobs import find_job
from shopquote.services.needs import JobBar, bars_for_jobs, linked_jobs, loaded
from shopquote.services.on_file import bending_shop, saw_settings, shop_unit, the_shop
from shopquote.services.purchase import (
    BoughtLine,
    Load,
    PurchasePlan,
    RackPick,
    Wanted,
    lengths_of,
    main_job,
    plan_purchase,
)
from shopquote.services.rack import free_rack, promise_pieces, share_piece
from shopquote.services.takeoff import items_of_job, unit_of_job

SECONDS = 8.0
TRIES = 4
NO_ORDERS_FOR = ("lost", "dropped", "finished", "closed")

MARKING = "Each bar or bundle with grade, heat number and our reference."
# Common practice, no source: what a saw at the stockholder's keeps.
CUT_TOLERANCE = {"mm": "0 to +2 mm", "in": "0 to +1/16 in"}
MILL_TOLERANCE = "as rolled"
ONE_HEAT = "all of one heat"

# EN 10204:2004: 2.1 declaration, 2.2 test report, 3.1 inspection certificate by the
# maker, 3.2 countersigned by the buyer's or an official inspector.
CERTIFICATE_KINDS = ("", "2.1", "2.2", "3.1", "3.2")


@dataclass(frozen=True, slots=True)
class OrderWish:
    """What a person says about the orders to be placed."""

    supplier: str | None = None
    ask: bool = False
    place: str = ""
    due: date | None = None
    certificate: str | None = None
    marking: str | None = None
    tolerance: str = ""
    note: str = ""


@dataclass(frozen=True)
class PlacedOrders:
    """Orders placed and the plan they come from.

    `elsewhere` names the plan's bars that are on order or cut already, the other
    picks lie on the rack. `not_won` are jobs, with their state, that no customer has accepted yet.
    """

    numbers: tuple[str, ...]
    plan: PurchasePlan
    elsewhere: frozenset[str] = frozenset()
    not_won: tuple[tuple[str, str], ...] = ()
    snapshots: tuple[dict[str, object], ...] = field(default=())

    @property
    def from_rack(self) -> tuple[RackPick, ...]:
        """Pieces that lie on the rack and are cut for these jobs."""
        return tuple(pick for pick in self.plan.picks if pick.name not in self.elsewhere)

    @property
    def on_order(self) -> tuple[RackPick, ...]:
        """Bars that are on order for these jobs, or cut for them already."""
        return tuple(pick for pick in self.plan.picks if pick.name in self.elsewhere)


@dataclass(frozen=True)
class _Moment:
    """All that a plan counts on, so that it can be seen whether it still holds."""

    jobs: tuple[Job, ...]
    wanted: tuple[Wanted, ...]
    bars: tuple[JobBar, ...]

    def own(self) -> tuple[tuple[str, str, int, str, int], ...]:
        """What the jobs have, in a form that can be compared."""
        return tuple(sorted((b.name, b.state, b.length.nm, b.section_key, b.count) for b in self.bars))

    def revisions(self) -> tuple[tuple[int, int, str], ...]:
        """The jobs as they stand."""
        return tuple((job.id, job.revision, job.state) for job in self.jobs)


def order_for_jobs(
    database: Database,
    job_numbers: Sequence[str],
    wish: OrderWish,
    *,
    on: date,
    seconds: float = SECONDS,
) -> PlacedOrders:
    """Order what the jobs still need beyond what they have and the rack; one order a supplier.

    The rack pieces that the plan cuts are promised to the jobs. With `wish.ask`
    it is a request for prices: nothing is promised, and it counts as not ordered.

    Raises:
        NotFoundError: a job or supplier is not on file.
        InputError: a job is over; a word of the wish is unknown.
        CannotMakeError: nobody sells what is needed.
        DatabaseError: others kept changing the same jobs or pieces.
    """
    _check_wish(database, wish)
    for _ in range(TRIES):
        with database.reading() as session:
            moment = _look(session, job_numbers)
            plan = plan_for_jobs(
                session, job_numbers, on=on, supplier=wish.supplier, seconds=seconds, moment=moment
            )
        with database.session() as session:
            if not _still_holds(session, job_numbers, moment, plan):
                continue
            orders = _place(session, plan, wish, on)
            return PlacedOrders(
                tuple(order.number for order in orders),
                plan,
                frozenset(name for bar in moment.bars if bar.state != "on the rack" for name in bar.names()),
                _not_won(session, job_numbers),
                tuple(snapshot_of(order) for order in orders),
            )
    raise DatabaseError(
        "The rack and the orders of these jobs kept changing while they were planned; nothing was ordered.",
        hint="Run the command again when the others are done.",
    )


def plan_for_jobs(
    session: Session,
    job_numbers: Sequence[str],
    *,
    on: date,
    supplier: str | None = None,
    seconds: float = SECONDS,
    moment: _Moment | None = None,
) -> PurchasePlan:
    """What would be ordered for jobs; writes nothing."""
    moment = moment or _look(session, job_numbers)
    asked = tuple(find_job(session, number) for number in job_numbers)
    return plan_purchase(
        session,
        moment.wanted,
        saw_settings(session),
        on=on,
        unit=unit_of_job(session, asked[0].number),
        groups=_groups(session, asked),
        supplier=supplier,
        seconds=seconds,
    )


# --- looking ------------------------------------------------------------------------------------


def _look(session: Session, job_numbers: Sequence[str]) -> _Moment:
    if not job_numbers:
        raise InputError("No job is named.", hint="See: shopquote job list")
    asked = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    for job in asked:
        if job.state in NO_ORDERS_FOR:
            raise InputError(f"Job {job.number} is {job.state}; nothing is ordered for it any more.")
    jobs = linked_jobs(session, asked)
    bars = bars_for_jobs(session, jobs)
    shop = bending_shop(session)
    items = [item for job in jobs for item in items_of_job(session, job.number, shop)]
    return _Moment(jobs, _wanted(session, items, bars, saw_settings(session)), bars)


def _wanted(
    session: Session, items: Sequence[Item], bars: Sequence[JobBar], saw: SawSettings
) -> tuple[Wanted, ...]:
    """Materials with the bars that there are; what was cut away from a used bar still covers its pieces."""
    own: dict[tuple[str, str], list[RackBar]] = {}
    sawn: dict[tuple[str, str], list[Length]] = {}
    for bar in bars:
        material = (bar.section_key, bar.grade)
        if bar.cut:
            sawn.setdefault(material, []).extend([bar.length] * bar.count)
            continue
        # A used bar held its pieces: the offcut took the end in the vise with it, and was
        # measured before or after the cut that freed it.
        length = bar.length + saw.kerf + saw.grip if bar.state == "used" else bar.length
        own.setdefault(material, []).extend(
            RackBar(name, length, bar.heat or bar.batch) for name in bar.names()
        )
    wanted = []
    for section, grade, pieces in group_pieces(items):
        material = (section.key, grade.name)
        left = _not_sawn(pieces, sawn.get(material, ()))
        if not left:
            continue
        shortest = min(piece.length for piece in left)
        free = free_rack(session, section.key, grade.name, at_least=shortest + saw.trim)
        wanted.append(Wanted(section, grade, left, tuple(own.get(material, ())), free))
    return tuple(wanted)


def _not_sawn(pieces: Sequence[Piece], sawn: Sequence[Length]) -> tuple[Piece, ...]:
    """Pieces less those that the supplier sawed to length; the longest that fits goes to each."""
    left = {i: piece.count for i, piece in enumerate(pieces)}
    by_length = sorted(left, key=lambda i: pieces[i].length, reverse=True)
    for length in sorted(sawn):
        for i in by_length:
            if left[i] and pieces[i].length <= length:
                left[i] -= 1
                break
    return tuple(replace(piece, count=left[i]) for i, piece in enumerate(pieces) if left[i])


def _not_won(session: Session, job_numbers: Sequence[str]) -> tuple[tuple[str, str], ...]:
    jobs = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    return tuple((job.number, job.state) for job in jobs if job.state in ("asked", "quoted"))


def _groups(session: Session, asked: Sequence[Job]) -> tuple[tuple[str, ...], ...]:
    """The asked jobs with those they share bars with; groups share nothing with each other."""
    groups: list[tuple[str, ...]] = []
    seen: set[str] = set()
    for job in asked:
        if job.number in seen:
            continue
        group = tuple(linked.number for linked in linked_jobs(session, [job]))
        seen.update(group)
        groups.append(group)
    return tuple(groups)


def _still_holds(session: Session, job_numbers: Sequence[str], moment: _Moment, plan: PurchasePlan) -> bool:
    """Whether the jobs, their bars and the free pieces that the plan takes are as they were."""
    asked = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    jobs = linked_jobs(session, asked)
    now = _Moment(jobs, (), bars_for_jobs(session, jobs))
    if now.own() != moment.own() or now.revisions() != moment.revisions():
        return False
    free = {(w.section.key, w.grade.name): dict.fromkeys(bar.piece for bar in w.free) for w in moment.wanted}
    for (key, grade), codes in free.items():
        taken = {pick.name: pick.length for pick in plan.picks if pick.name in codes}
        if not taken:
            continue
        there = {bar.piece: bar.length for bar in free_rack(session, key, grade)}
        if any(there.get(code) != length for code, length in taken.items()):
            return False
    return True


# --- placing ------------------------------------------------------------------------------------


def _check_wish(database: Database, wish: OrderWish) -> None:
    if wish.certificate is not None and wish.certificate not in CERTIFICATE_KINDS:
        raise InputError(
            f"Certificate is {wish.certificate!r}; "
            f"expected one of {', '.join(CERTIFICATE_KINDS[1:])} (EN 10204)."
        )
    if wish.supplier is not None:
        with database.reading() as session:
            find_supplier(session, wish.supplier)


def find_supplier(session: Session, name: str) -> Supplier:
    """The supplier with this name.

    Raises:
        NotFoundError: no such supplier; names the nearest.
    """
    supplier = session.scalar(select(Supplier).where(Supplier.name == name))
    if supplier is None:
        near = nearest_word(name, session.scalars(select(Supplier.name)))
        hint = f"Did you mean {near!r}?" if near else "See: shopquote suppliers list"
        raise NotFoundError(f"Supplier {name[:60]!r} is not on file.", hint=hint)
    return supplier


def _place(session: Session, plan: PurchasePlan, wish: OrderWish, on: date) -> list[Order]:
    by_supplier: dict[str, list[BoughtLine]] = {}
    for line in plan.lines:
        by_supplier.setdefault(line.listed.supplier.name, []).append(line)
    orders = [
        _new_order(session, find_supplier(session, name), lines, plan, wish, on)
        for name, lines in sorted(by_supplier.items())
    ]
    if not wish.ask:
        for pick in plan.picks:
            _promise(session, pick)
    session.flush()
    for order in orders:
        order.snapshot = json.dumps(_snapshot(session, order))
    return orders


def _promise(session: Session, pick: RackPick) -> None:
    """Promise a free piece; one that a job has already only learns who shares it."""
    from shopquote.records.rack import RackPiece

    piece = session.scalar(select(RackPiece).where(RackPiece.code == pick.name))
    if piece is None or piece.state == "used":
        return  # on order, or cut
    if piece.state == "free":
        promise_pieces(session, [pick.name], pick.job, load=pick.load)
    else:
        share_piece(session, piece, pick.load)


def _new_order(
    session: Session,
    supplier: Supplier,
    lines: Sequence[BoughtLine],
    plan: PurchasePlan,
    wish: OrderWish,
    on: date,
) -> Order:
    currency = supplier.currency
    ask = wish.ask
    order = Order(
        number=next_number(session, "O"), supplier_id=supplier.id, supplier=supplier,
        kind="ask" if ask else "order", state="asked" if ask else "placed", placed_on=on,
        due_on=wish.due or (on + timedelta(days=supplier.lead_days) if supplier.lead_days else None),
        currency=currency, place=wish.place, note=wish.note,
        certificate_kind=supplier.certificate_kind if wish.certificate is None else wish.certificate,
        marking=MARKING if wish.marking is None else wish.marking,
        reference=", ".join(sorted({job for line in lines for job in line.jobs})),
    )  # fmt: skip
    order.lines = [_order_line(session, i, line, currency, wish) for i, line in enumerate(lines, start=1)]
    total_up(order, supplier)
    session.add(order)
    session.flush()
    _share_order(session, order, plan.shares)
    return order


def _order_line(
    session: Session, position: int, line: BoughtLine, currency: str, wish: OrderWish
) -> OrderLine:
    ask = wish.ask
    usual = CUT_TOLERANCE[shop_unit(session)] if line.cut else MILL_TOLERANCE
    unit_price = None if ask else line.unit_price
    condition = ", ".join(t for t in (line.listed.item.condition, ONE_HEAT if line.one_heat else "") if t)
    return OrderLine(
        position=position, stock_item_id=line.listed.item.id, section_key=line.section.key,
        section_text=line.section.text or line.section.key, grade=line.grade.name,
        standard=line.listed.item.standard, condition=condition,
        length=line.length,
        length_text=line.length_text, tolerance=wish.tolerance or usual, cut=line.cut, count=line.count,
        price=None if ask else line.price, basis=None if ask else line.basis, unit_price=unit_price,
        amount=None if unit_price is None else round_money(unit_price * line.count, currency),
        mass_kg=line.mass_kg, loads=stored_loads(line.loads),
        jobs=_line_jobs(session, stored_loads(line.loads)),
    )  # fmt: skip


def stored_loads(loads: Sequence[Load]) -> list[Any]:
    """Loads as they are stored: [[job number, mark, nm, count], ...] for each bar."""
    return [[[owner, mark, length.nm, count] for owner, mark, length, count in load] for load in loads]


def total_up(order: Order, supplier: Supplier) -> None:
    """Goods, delivery and total of an order from its lines; the delivery by the supplier's terms."""
    order.goods = sum((line.amount for line in order.lines if line.amount is not None), Decimal(0))
    priced = any(line.amount is not None for line in order.lines)
    exact = sum(
        (line.unit_price * line.count for line in order.lines if line.unit_price is not None), Decimal(0)
    )
    free = supplier.free_from is not None and max(exact, order.goods) >= supplier.free_from
    order.delivery = (
        round_money(supplier.delivery_charge, order.currency) if priced and not free else Decimal(0)
    )
    order.total = order.goods + order.delivery


def _share_order(session: Session, order: Order, shares: Mapping[str, Decimal]) -> None:
    """Share an order's total over the jobs, to the last unit of money."""
    from shopquote.services.rack import share_out

    jobs = {number: find_job(session, number) for line in order.lines for number in _numbers(session, line)}
    weights = {job.id: int((shares.get(number, Decimal(0))).scaleb(4)) for number, job in jobs.items()}
    parts = share_out(int(order.total.scaleb(4)), weights)
    order.jobs = [
        OrderJob(job_id=job_id, share=Decimal(part).scaleb(-4)) for job_id, part in sorted(parts.items())
    ]


def _numbers(session: Session, line: OrderLine) -> list[str]:
    numbers = []
    for share in line.jobs:
        job = session.get(Job, share.job_id)
        assert job is not None
        numbers.append(job.number)
    return numbers


# --- on file ------------------------------------------------------------------------------------


def find_order(session: Session, number: str, revision: int | None = None) -> Order:
    """An order's newest revision, or the one named. Takes O-0007, o-7 or 7.

    Raises:
        NotFoundError: no such order.
    """
    digits = number.strip().upper().removeprefix("O-")
    name = f"O-{int(digits):04d}" if digits.isascii() and digits.isdigit() else number.strip()
    query = select(Order).where(Order.number == name).options(selectinload(Order.lines))
    if revision is not None:
        query = query.where(Order.revision == revision)
    order = session.scalar(query.order_by(Order.revision.desc()).limit(1))
    if order is None:
        what = name[:40] if revision is None else f"{name[:40]} revision {revision}"
        raise NotFoundError(f"Order {what} is not on file.", hint="See: shopquote order list")
    return order


def list_orders(
    session: Session, *, states: Sequence[str] = (), supplier: str | None = None, job: str | None = None
) -> tuple[Order, ...]:
    """Orders by number, newest first, without those that a revision has replaced."""
    query = select(Order).where(Order.state != "replaced").options(selectinload(Order.supplier))
    if states:
        query = query.where(Order.state.in_(states))
    if supplier is not None:
        query = query.where(Order.supplier_id == find_supplier(session, supplier).id)
    if job is not None:
        job_id = find_job(session, job).id
        query = query.where(
            Order.id.in_(select(OrderLine.order_id).join(OrderLineJob).where(OrderLineJob.job_id == job_id))
        )
    return tuple(session.scalars(query.order_by(Order.number.desc())))


def cancel_order(session: Session, number: str, reason: str) -> Order:
    """Cancel what has not come yet; the jobs need it again.

    Raises:
        InputError: it has all come, or is cancelled already.
    """
    order = find_order(session, number)
    if order.state not in ("asked", "placed", "part received"):
        raise InputError(f"Order {order.number} is {order.state}; it cannot be cancelled.")
    order.state = "received" if order.state == "part received" else "cancelled"
    order.note = "\n".join(
        part for part in (order.note, f"Cancelled: {reason}" if reason else "Cancelled") if part
    )
    session.flush()
    return order


def place_asked(session: Session, number: str, prices: Mapping[int, Decimal], *, on: date) -> Order:
    """Turn a request for prices into an order, with the prices that the supplier named by line.

    Prices are for one bar in the supplier's currency; a line without a new price
    keeps the one of the list.

    Raises:
        InputError: not a request, a line that is not there, or a price missing or below zero.
    """
    asked = find_order(session, number)
    if asked.state != "asked":
        raise InputError(f"Order {asked.number} is {asked.state}, not a request for prices.")
    return _revise(session, asked, {}, prices, on=on, reason="placed")


def change_order(
    session: Session,
    number: str,
    *,
    counts: Mapping[int, int] | None = None,
    prices: Mapping[int, Decimal] | None = None,
    on: date,
    reason: str = "",
) -> Order:
    """A new revision with other counts or prices by line; the old one stays as it was printed.

    Raises:
        InputError: something of it has come already, it is over, or a line is not there.
    """
    order = find_order(session, number)
    if order.state not in ("placed", "asked"):
        raise InputError(
            f"Order {order.number} is {order.state}; only one of which nothing has come can be changed."
        )
    return _revise(session, order, counts or {}, prices or {}, on=on, reason=reason, keep_state=True)


def _revise(
    session: Session,
    old: Order,
    counts: Mapping[int, int],
    prices: Mapping[int, Decimal],
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
        note="\n".join(part for part in (old.note, reason) if part and part != "placed"),
    )  # fmt: skip
    kept = [line for line in old.lines if counts.get(line.position, line.count) > 0]
    if not kept:
        raise InputError(f"Order {old.number} would have no line left.", hint="See: shopquote order cancel")
    new.lines = [
        _revised_line(session, new, i, line, counts.get(line.position, line.count), prices.get(line.position))
        for i, line in enumerate(kept, start=1)
    ]
    total_up(new, old.supplier)
    old.state = "replaced"
    session.add(new)
    session.flush()
    shares = {_number_of(session, share.job_id): share.share for share in old.jobs}
    _share_order(session, new, shares)
    session.flush()
    new.snapshot = json.dumps(_snapshot(session, new))
    return new


def _check_lines(order: Order, counts: Mapping[int, int], prices: Mapping[int, Decimal]) -> None:
    there = {line.position for line in order.lines}
    for position in (*counts, *prices):
        if position not in there:
            raise InputError(f"Order {order.number} has no line {position}; it has 1 to {len(there)}.")
    for position, count in counts.items():
        if count < 0:
            raise InputError(f"Line {position}: count is {count}; expected at least 0.")
    for position, price in prices.items():
        if price < 0:
            raise InputError(f"Line {position}: price is {price}; expected at least 0.")


def _revised_line(
    session: Session, order: Order, position: int, line: OrderLine, count: int, price: Decimal | None
) -> OrderLine:
    unit_price = price if price is not None else line.unit_price
    if unit_price is None and order.state == "placed":
        unit_price = _list_price(session, line)
    same = price is None and line.unit_price is not None
    mass = None if line.mass_kg is None else (line.mass_kg * count / line.count).quantize(Decimal("0.001"))
    loads = line.loads[:count]
    return OrderLine(
        position=position, stock_item_id=line.stock_item_id, section_key=line.section_key,
        section_text=line.section_text, grade=line.grade, standard=line.standard,
        condition=line.condition, length=line.length, length_text=line.length_text, cut=line.cut,
        tolerance=line.tolerance, count=count, price=line.price if same else unit_price,
        basis=line.basis if same else (None if unit_price is None else "bar"), unit_price=unit_price,
        amount=None if unit_price is None else round_money(unit_price * count, order.currency),
        mass_kg=mass, loads=loads, jobs=_line_jobs(session, loads),
    )  # fmt: skip


def _line_jobs(session: Session, loads: Sequence[Any]) -> list[OrderLineJob]:
    """The jobs of a line from its bars' loads."""
    jobs: dict[str, tuple[int, Length]] = {}
    for load in loaded(loads):
        for owner, length in lengths_of(load).items():
            count, total = jobs.get(owner, (0, Length(0)))
            jobs[owner] = (count + (owner == main_job(load)), total + length)
    return [
        OrderLineJob(job_id=find_job(session, number).id, count=count, length=length)
        for number, (count, length) in sorted(jobs.items())
    ]


def _list_price(session: Session, line: OrderLine) -> Decimal:
    from shopquote.services.offers import item_price

    price = item_price(session, line)
    if price is None:
        raise InputError(
            f"Line {line.position} has no price.",
            hint=f"Name it: --price {line.position}=PRICE (for one bar)",
        )
    return price


def _number_of(session: Session, job_id: int) -> str:
    job = session.get(Job, job_id)
    assert job is not None
    return job.number


# --- snapshot -----------------------------------------------------------------------------------


def snapshot_of(order: Order) -> dict[str, object]:
    """All that printing an order needs, as it was when it was placed."""
    content: dict[str, object] = json.loads(order.snapshot)
    return content


def _snapshot(session: Session, order: Order) -> dict[str, object]:
    shop = the_shop(session)
    supplier = order.supplier
    return {
        "number": order.number,
        "revision": order.revision,
        "kind": order.kind,
        "shop": {
            "name": shop.name, "address": shop.address, "email": shop.email, "phone": shop.phone,
            "tax_number": shop.tax_number, "invented": shop.invented, "paper": shop.paper,
            "units": shop.units, "locale": shop.locale,
        },
        "supplier": {
            "name": supplier.name, "address": supplier.address, "email": supplier.email,
            "phone": supplier.phone, "invented": supplier.invented,
        },
        "placed_on": order.placed_on.isoformat(),
        "due_on": None if order.due_on is None else order.due_on.isoformat(),
        "place": order.place or shop.address,
        "reference": order.reference,
        "certificate": order.certificate_kind,
        "marking": order.marking,
        "note": order.note,
        "currency": order.currency,
        "lines": [_line_snapshot(session, line) for line in order.lines],
        "goods": _money(order.goods, order.currency),
        "delivery": _money(order.delivery, order.currency),
        "total": _money(order.total, order.currency),
        "jobs": [
            {"job": _number_of(session, share.job_id), "share": _money(share.share, order.currency)}
            for share in order.jobs
        ],
    }  # fmt: skip


def _line_snapshot(session: Session, line: OrderLine) -> dict[str, object]:
    order_currency = line.order.currency
    return {
        "position": line.position,
        "bar": line.section_text,
        "section_key": line.section_key,
        "grade": line.grade,
        "standard": line.standard,
        "condition": line.condition,
        "length_nm": line.length.nm,
        "length_text": line.length_text or show_length(line.length, shop_unit(session), exact=True),
        "tolerance": line.tolerance,
        "cut": line.cut,
        "count": line.count,
        "mass_kg": None if line.mass_kg is None else str(line.mass_kg.quantize(Decimal("0.1"))),
        "price": None if line.price is None else str(line.price.normalize() + 0),
        "basis": line.basis,
        "unit_price": None if line.unit_price is None else f"{line.unit_price:f}",
        "amount": None if line.amount is None else _money(line.amount, order_currency),
    }


def _money(amount: Decimal, currency: str) -> str:
    return f"{round_money(amount, currency):f}"
