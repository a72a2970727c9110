"""Order bars for jobs from suppliers, or ask them for prices.

`order_for_jobs` plans on a snapshot of the database, then checks in a short writing transaction that nothing
it was based on has changed, and places one order per supplier. A placed order never changes: a change makes a
new revision.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field, replace
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.buying.order_document import OrderDocument
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.takeoff.cut_plan import Piece
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.units import Length, show_length
from shopquote.errors import CannotMakeError, DatabaseError, InputError
from shopquote.records.orders import Order, OrderLine
from shopquote.records.people import Supplier
from shopquote.records.rack import RackPiece
from shopquote.services.buying.needs import JobBar
from shopquote.services.buying.offers import asked_certificate
from shopquote.services.buying.order_documents import keep_document, stored_order
from shopquote.services.buying.order_needs import (
    Moment,
    jobs_of_order,
    look_at_needs,
    not_covered,
    pieces_held,
    plan_for_jobs,
    still_holds,
)
from shopquote.services.buying.order_sums import line_jobs, share_order, stored_loads, total_up
from shopquote.services.buying.orders_on_file import (
    NamedPrice,
    find_order,
    find_supplier,
    place_asked,
)
from shopquote.services.buying.purchase import PurchasePlan
from shopquote.services.buying.purchase_lines import BoughtLine, RackPick, main_job
from shopquote.services.buying.purchase_ways import suffices
from shopquote.services.buying.takeoff import planning_units
from shopquote.services.jobs.job_states import STATES_ASKED
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import promise_pieces, share_piece
from shopquote.services.shop.certificates import refuse_unless_kind
from shopquote.services.shop.database import Database, next_number
from shopquote.services.shop.invented_entries import refuse_invented_suppliers
from shopquote.services.shop.shop_on_file import saw_settings, shop_unit

# Times to plan again because the plan's basis changed. People change it now and then within the seconds that
# planning takes; four times in a row, a program does.
TRIES = 4

# Usual marking asked for on an order: heats are traced by it.
MARKING = "Each bar or bundle with grade, heat number and our reference."
# Tolerance of lengths sawn by the supplier; common practice, no source.
CUT_TOLERANCE = {"mm": "0 to +2 mm", "in": "0 to +1/16 in"}
# Words on the order's paper; ONE_HEAT is also looked for at receipt, to warn of mixed heats.
MILL_TOLERANCE = "mill length"
ONE_HEAT = "all of one heat"


@dataclass(frozen=True, slots=True)
class OrderWish:
    """What a person asks for on the orders; None and empty texts mean the supplier's or the usual words."""

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
    """Orders placed, and the plan that they come from.

    `elsewhere` names picked bars that are on order or already cut; the other picks lie on the rack. `idle`
    are (code, job) of promised pieces that are not needed, as when a job became smaller. `not_won` are
    (number, state) of jobs that no customer has accepted yet.
    """

    numbers: tuple[str, ...]
    plan: PurchasePlan
    elsewhere: frozenset[str] = frozenset()
    not_won: tuple[tuple[str, str], ...] = ()
    idle: tuple[tuple[str, str], ...] = ()
    documents: tuple[OrderDocument, ...] = field(default=())

    @property
    def from_rack(self) -> tuple[RackPick, ...]:
        """Picked pieces that lie on the rack."""
        return tuple(pick for pick in self.plan.picks if pick.name not in self.elsewhere)

    @property
    def on_order(self) -> tuple[RackPick, ...]:
        """Picked bars that are on order for these jobs, or already cut for them."""
        return tuple(pick for pick in self.plan.picks if pick.name in self.elsewhere)


def order_for_jobs(
    database: Database,
    job_numbers: Sequence[str],
    wish: OrderWish,
    *,
    on: date,
    seconds: float | None = None,
    write_papers: Callable[[Sequence[OrderDocument]], object] | None = None,
) -> PlacedOrders:
    """Order what the jobs need beyond their own bars and the free rack; one order per supplier.

    Rack pieces that the plan cuts are promised to the jobs. With `wish.ask` it is a request for prices:
    nothing is promised, and it does not count as ordered. `write_papers` is called before the transaction
    commits: if it raises, nothing is stored.

    Raises:
        NotFoundError: a job or supplier is not on file.
        InputError: a job is over; a word of the wish is unknown; a supplier is invented and the shop is not.
        CannotMakeError: nobody sells what is needed.
        DatabaseError: others kept changing the same jobs or pieces.
    """
    _check_wish(database, wish, on)
    for _ in range(TRIES):
        with database.reading() as session:
            moment = look_at_needs(session, job_numbers)
            plan = plan_for_jobs(
                session, job_numbers, on=on, supplier=wish.supplier, certificate=wish.certificate,
                seconds=seconds, moment=moment,
            )  # fmt: skip
            if not wish.ask:
                refuse_invented_suppliers(session, (line.listed.supplier for line in plan.lines))
        # Planning takes seconds, so it must not hold the one writing transaction; inside that, nobody else
        # can change what the check below has seen.
        with database.session() as session:
            if not still_holds(session, job_numbers, moment, plan):
                continue
            orders = _place(session, plan, wish, on)
            # Within the transaction: if the papers cannot be written, nothing is ordered.
            documents = tuple(stored_order(order) for order in orders)
            if write_papers is not None:
                write_papers(documents)
            return PlacedOrders(
                tuple(order.number for order in orders),
                plan,
                frozenset(name for bar in moment.bars if bar.state != "on the rack" for name in bar.names()),
                _not_won(session, job_numbers),
                _idle(moment, plan),
                documents,
            )
    raise DatabaseError(
        "The rack and the orders of these jobs kept changing while they were planned; nothing was ordered.",
        hint="Run the command again when the others are done.",
    )


def place_request(session: Session, number: str, prices: Mapping[int, NamedPrice], *, on: date) -> Order:
    """Turn a request for prices into an order, if its jobs still need its bars; `prices` by line position.

    Free rack pieces that the request's plan counted on are promised to the jobs now.

    Raises:
        NotFoundError: no such order.
        InputError: not a request, a job is over, a price is missing, or the jobs already have the bars.
    """
    asked = find_order(session, number)
    if asked.state == "asked":
        refuse_invented_suppliers(session, [asked.supplier])
        _refuse_to_buy_twice(session, asked)
    placed = place_asked(session, number, prices, on=on)
    session.flush()
    # After placing: what the order covers must not be promised from the rack as well.
    _promise_what_is_left(session, placed)
    return placed


def _refuse_to_buy_twice(session: Session, asked: Order) -> None:
    """Refuse a request whose bars the jobs have got since, as by another order.

    Raises:
        InputError: names the lines; or a job is over.
    """
    numbers = jobs_of_order(asked)
    look_at_needs(session, numbers)  # refuses jobs that are over
    lacking = {(section.key, grade.name) for section, grade, _ in not_covered(session, numbers)}
    # Since the request was sent the jobs may have got the bars elsewhere.
    there = [line for line in asked.lines if (line.section_key, line.grade) not in lacking]
    if there and numbers:
        lines = ", ".join(f"{line.position} ({line.section_text} {line.grade})" for line in there)
        raise InputError(
            f"Request {asked.number} cannot be placed: {', '.join(numbers)} have the bar of line {lines} "
            "already, on the rack or on order.",
            hint=f"Cancel it: shopquote order cancel {asked.number}; or leave those lines out first: "
            f"shopquote order change {asked.number} --count {there[0].position}=0",
        )


def _promise_what_is_left(session: Session, placed: Order) -> None:
    """Promise free pieces for what the jobs' bars do not cover: the request was planned to cut them."""
    numbers = jobs_of_order(placed)
    if not numbers:
        return
    saw, unit = saw_settings(session), planning_units(session, numbers).planning
    moment = look_at_needs(session, numbers)
    for w in moment.wanted:
        bars = [bar for bar in moment.bars if (bar.section_key, bar.grade) == (w.section.key, w.grade.name)]
        left = _not_loaded(w.pieces, bars)
        # Only where free pieces may help: what the order and the job's own bars hold needs nothing.
        if not left or not w.free or suffices(w, saw, unit):
            continue
        try:
            plan = plan_cuts(left, (), w.free, saw, unit=unit)
        except CannotMakeError:
            continue  # the rack was cut meanwhile: an order for the jobs buys what is lacking
        for bar in plan.bars:
            load = tuple((owner, mark, length, count) for mark, length, count, owner in bar.pieces)
            promise_pieces(session, [bar.rack_piece or ""], main_job(load), load=load)


def _not_loaded(pieces: Sequence[Piece], bars: Sequence[JobBar]) -> tuple[Piece, ...]:
    """The pieces that no bar on the rack or on order is already planned to be cut into."""
    held = pieces_held(bars)
    rest = ((piece, piece.count - held.get((piece.owner, piece.mark, piece.length), 0)) for piece in pieces)
    return tuple(replace(piece, count=count) for piece, count in rest if count > 0)


# --- looking ------------------------------------------------------------------------------------


def _not_won(session: Session, job_numbers: Sequence[str]) -> tuple[tuple[str, str], ...]:
    jobs = [find_job(session, number) for number in dict.fromkeys(job_numbers)]
    return tuple((job.number, job.state) for job in jobs if job.state in STATES_ASKED)


def _idle(moment: Moment, plan: PurchasePlan) -> tuple[tuple[str, str], ...]:
    """Promised pieces that the plan does not cut, and whose planned pieces the jobs no longer want in full.

    Pieces that the supplier sawed are left out: they are not cut.
    """
    picked = {pick.name for pick in plan.picks}
    pieces = [piece for w in moment.wanted for piece in w.pieces]
    wanted = {(piece.owner, piece.mark, piece.length): piece.count for piece in pieces}
    held = pieces_held(moment.bars)
    return tuple(
        (bar.name, bar.job)
        for bar in moment.bars
        if bar.state == "on the rack" and bar.job and not bar.cut and bar.name not in picked
        and not (bar.load and all(held[key] <= wanted.get(key, 0) for key in _keys(bar)))
    )  # fmt: skip


def _keys(bar: JobBar) -> list[tuple[str, str, Length]]:
    return [(owner, mark, length) for owner, mark, length, _ in bar.load]


# --- placing ------------------------------------------------------------------------------------


def _check_wish(database: Database, wish: OrderWish, on: date) -> None:
    if wish.due is not None and wish.due < on:
        raise InputError(
            f"Delivery is wanted by {wish.due}; the order is of {on}, so expected that day or a later one."
        )
    if wish.certificate is not None:
        refuse_unless_kind(wish.certificate)
    if wish.supplier is not None:
        with database.reading() as session:
            supplier = find_supplier(session, wish.supplier)
            if supplier.retired:
                raise InputError(f"{supplier.name} is retired: nothing new is ordered there.")


def _place(session: Session, plan: PurchasePlan, wish: OrderWish, on: date) -> list[Order]:
    by_supplier: dict[str, list[BoughtLine]] = {}
    for line in plan.lines:
        by_supplier.setdefault(line.listed.supplier.name, []).append(line)
    orders = [
        _new_order(session, find_supplier(session, name), lines, plan, wish, on)
        # In order of name: the same needs always give the same order numbers.
        for name, lines in sorted(by_supplier.items())
    ]
    if not wish.ask:
        for pick in plan.picks:
            _promise(session, pick)
    session.flush()
    for order in orders:
        keep_document(session, order)
    return orders


def _promise(session: Session, pick: RackPick) -> None:
    """Promise a free piece to its job; of a piece that is already promised, update who shares it."""
    # No row: the pick is a bar on order, which has no code yet.
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
        certificate_kind=asked_certificate(supplier, wish.certificate),
        marking=MARKING if wish.marking is None else wish.marking,
        reference=", ".join(sorted({job for line in lines for job in line.jobs})),
    )  # fmt: skip
    order.lines = [_order_line(session, i, line, currency, wish) for i, line in enumerate(lines, start=1)]
    total_up(order, supplier)
    session.add(order)
    session.flush()
    share_order(session, order, plan.shares)
    return order


def _condition(line: BoughtLine, ordered_as: str) -> str:
    """The list's condition, without a quality such as JR that "EN 10025-2 S275JR" says already."""
    listed = [text for text in line.listed.item.condition.split(", ") if not ordered_as.endswith(text)]
    return ", ".join([*listed, ONE_HEAT] if line.one_heat else listed)


def _order_line(
    session: Session, position: int, line: BoughtLine, currency: str, wish: OrderWish
) -> OrderLine:
    ask = wish.ask
    unit = shop_unit(session)
    usual = CUT_TOLERANCE[unit] if line.cut else MILL_TOLERANCE
    unit_price = None if ask else line.unit_price
    ordered_as = line.grade.paper_of(line.section)
    standards = (ordered_as if ordered_as != line.grade.name else "", line.listed.item.standard)
    return OrderLine(
        position=position, stock_item_id=line.listed.item.id, section_key=line.section.key,
        section_text=line.section.words, grade=line.grade.name,
        standard=", ".join(text for text in standards if text), condition=_condition(line, ordered_as),
        length=line.length,
        length_text=line.length_text or show_length(line.length, unit, exact=True),
        tolerance=wish.tolerance or usual, cut=line.cut, count=line.count,
        # A request shows no price: the supplier shall name its own.
        price=None if ask else line.price, basis=None if ask else line.basis, unit_price=unit_price,
        amount=None if unit_price is None else round_money(unit_price * line.count, currency),
        mass_kg=line.mass_kg, loads=stored_loads(line.loads),
        jobs=line_jobs(session, stored_loads(line.loads)),
    )  # fmt: skip
