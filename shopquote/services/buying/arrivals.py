"""Bars received on an order, as a person states them; and what of an order is still open."""

import re
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.reading import kinds
from shopquote.reading.kinds import MEASURE, Notation
from shopquote.reading.kinds.lengths import bar_as_typed, parted
from shopquote.records.orders import ON_ORDER, Order, Receipt, ReceivedBar
from shopquote.records.rack import RackPiece
from shopquote.services.buying.orders_on_file import find_order
from shopquote.services.rack.rack_on_file import LIVE
from shopquote.services.shop.shop_on_file import shop_notation, shop_unit


@dataclass(frozen=True, slots=True)
class Arrival:
    """Bars received of one order line, with the same length, heat and charge.

    `length` None: as ordered. `charged` is the price of one bar in the order's currency; None: as ordered.
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
    """An order line to check a goods-in sheet against: bar and grade as printed, and number of bars still
    open.
    """

    bar: str
    grade: str
    open: int


def read_lengths(text: str, notation: Notation) -> tuple[tuple[Measure, int], ...]:
    """Lengths as measured one by one, with counts: `6100, 6150 x 3, 6.2 m`.

    Raises:
        InputError: a length or count cannot be read.

    >>> [(length.text, count) for length, count in read_lengths("6100, 6150 × 3", Notation())]
    [('6100', 1), ('6150', 3)]
    """
    found = []
    for word in map(str, parted(text, notation)):
        match = re.fullmatch(r"(.*?)(?:\s*[x×*]\s*(\d{1,5}))?\s*", word, re.IGNORECASE)
        assert match is not None
        times = kinds.count(least=0).read(match[2] or "1", notation)
        if not times:
            raise InputError(f"Lengths: {word.strip()!r} has a count of 0.")
        found.append((MEASURE.read(match[1].strip(), notation), times))
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
    """What was received of one line, or all that is open where `position` is None.

    Args:
        session: an open session.
        number: the order.
        position: its line.
        count: number of bars; None: all that are open.
        lengths: lengths as measured (`read_lengths`); None: as ordered.
        heat: heat number of all of them.
        certificate: its file.
        charged: price of one bar in the order's currency; None: as ordered.

    Raises:
        NotFoundError: no such order.
        InputError: lengths, count or charge without a line, or a count that differs from the lengths.
    """
    order = find_order(session, number)
    if position is None:
        if (count, lengths, charged) != (None, None, None):
            raise InputError("Count, lengths and what was charged are of one line.", hint="Name it: --line N")
        return all_open(order, heat, certificate)
    line = next((line for line in order.lines if line.position == position), None)
    if lengths is None:
        # A line that is missing or complete still gives an arrival of 1, which `receive` then refuses by
        # name.
        there = 0 if line is None else line.open
        wanted = count if count is not None else max(1, there)
        return [Arrival(position, wanted, None, heat, certificate, "", charged)]
    measured = read_lengths(lengths, shop_notation(session))
    if count is not None and count != sum(n for _, n in measured):
        raise InputError(f"Count is {count}, but {sum(n for _, n in measured)} lengths are named.")
    return [Arrival(position, n, length, heat, certificate, "", charged) for length, n in measured]


def nothing_to_come(order: Order) -> InputError:
    """The error for receiving on an order that is over, or on a request that is not an order yet."""
    return InputError(
        f"Order {order.number} is {order.state}; nothing is expected on it.",
        hint=f"A request becomes an order by: shopquote order place {order.number} --price LINE=PRICE"
        if order.state == "asked"
        else f"What came of it: shopquote order show {order.number}",
    )


def all_open(order: Order, heat: str = "", certificate: Path | None = None) -> list[Arrival]:
    """Arrivals of everything still open on an order, as ordered."""
    return [Arrival(line.position, line.open, None, heat, certificate) for line in order.lines if line.open]


def lines_as_they_stand(session: Session, number: str) -> dict[int, OpenLine]:
    """Every line of an order by its position, to check a goods-in sheet against.

    Raises:
        NotFoundError: no such order.
    """
    return {
        line.position: OpenLine(line.section_text, line.grade, line.open)
        for line in find_order(session, number).lines
    }


def open_lines(session: Session, number: str) -> Mapping[str, object]:
    """What a blank goods-in sheet shows: the order's facts and its open lines, by name.

    Raises:
        NotFoundError: no such order.
        InputError: the order is over, or is only a request.
    """
    order = find_order(session, number)
    if order.state not in ON_ORDER:
        raise nothing_to_come(order)
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
                "length": bar_as_typed(line.length_text, line.length, unit),
                "open": line.open,
                "each": None if line.unit_price is None else str(line.unit_price),
            }
            for line in order.lines
            if line.open
        ],
    }  # fmt: skip


def codes_of_order(session: Session, number: str) -> tuple[str, ...]:
    """Codes of the pieces that an order brought and that still lie on the rack.

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
        raise InputError(f"Nothing received on order {order.number} lies on the rack.")
    return codes
