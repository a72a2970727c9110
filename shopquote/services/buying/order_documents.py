"""Make an order's document from its rows, store it with the order, and read it again for printing."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.buying.order_document import (
    JobShare,
    LineChange,
    OrderDocument,
    OrderedLine,
    order_document_from_text,
    order_document_text,
)
from shopquote.calc.money import round_money
from shopquote.calc.units import Unit, show_length
from shopquote.records.jobs import Job
from shopquote.records.orders import Order, OrderLine
from shopquote.services.buying.offers import certificate_charge
from shopquote.services.shop.shop_on_file import shop_unit, the_shop
from shopquote.services.shop.values import address_of, shop_address


def stored_order(order: Order) -> OrderDocument:
    """The document of an order as it was when placed.

    Raises:
        InputError: the stored text cannot be read.
    """
    return order_document_from_text(order.snapshot)


def keep_document(
    session: Session, order: Order, before: Order | None = None, positions: Sequence[int] = ()
) -> OrderDocument:
    """Build an order's document from its rows and the shop's, and store it with the order.

    Args:
        session: an open session.
        order: the order.
        before: the revision that it replaces, whose changes the document lists.
        positions: position of each of its lines in that revision.
    """
    document = _document(session, order)
    if before is not None:
        changes = tuple(_changes(before, order, positions, document.units))
        document = replace(document, replaces_of=before.placed_on, changes=changes)
    order.snapshot = order_document_text(document)
    return document


def _changes(before: Order, after: Order, positions: Sequence[int], unit: Unit) -> Iterator[LineChange]:
    """Lines whose count or price changed, or that were removed; a price first named now is no change."""
    kept = dict(zip(positions, after.lines, strict=True))
    for old in before.lines:
        new = kept.get(old.position)
        text = old.length_text or show_length(old.length, unit, exact=True)
        change = LineChange(old.position, old.section_text, text, old.count, new.count if new else 0)
        if new and old.price is not None and new.price is not None:
            was, now = (_price_on(line) for line in (old, new))
            if was != now:
                change = replace(
                    change, old_price=was[0], old_basis=was[1], price=now[0], basis=now[1],
                )  # fmt: skip
        if change.count != change.old_count or change.price is not None:
            yield change


def _price_on(line: OrderLine) -> tuple[Decimal, str]:
    assert line.price is not None
    return line.price.normalize() + 0, line.basis or "bar"


def _document(session: Session, order: Order) -> OrderDocument:
    shop, unit, currency = the_shop(session), shop_unit(session), order.currency
    return OrderDocument(
        number=order.number,
        revision=order.revision,
        kind="ask" if order.kind == "ask" else "order",
        shop=shop_address(shop),
        supplier=address_of(order.supplier),
        placed_on=order.placed_on,
        due_on=order.due_on,
        place=order.place or shop.address,
        reference=order.reference,
        certificate=order.certificate_kind,
        marking=order.marking,
        note=order.note,
        currency=currency,
        lines=tuple(_line(line, unit, currency) for line in order.lines),
        goods=round_money(order.goods, currency),
        delivery=round_money(order.delivery, currency),
        total=round_money(order.total, currency),
        jobs=tuple(
            JobShare(job_number_of(session, share.job_id), round_money(share.share, currency))
            for share in order.jobs
        ),
        units=unit,
        locale=order.supplier.locale or shop.locale,
        paper=shop.paper,
        invented=shop.invented or order.supplier.invented,
        certificate_charge=_certificate_charge(order, currency),
    )


def _certificate_charge(order: Order, currency: str) -> Decimal:
    """The part of the order's charges that is for the certificate; never more than all of them."""
    charge = certificate_charge(order.supplier, order.certificate_kind)
    return min(round_money(order.delivery, currency), round_money(charge, currency))


def _line(line: OrderLine, unit: Unit, currency: str) -> OrderedLine:
    return OrderedLine(
        position=line.position,
        bar=line.section_text,
        section_key=line.section_key,
        grade=line.grade,
        standard=line.standard,
        condition=line.condition,
        length=line.length,
        length_text=line.length_text or show_length(line.length, unit, exact=True),
        tolerance=line.tolerance,
        cut=line.cut,
        count=line.count,
        mass_kg=None if line.mass_kg is None else line.mass_kg.quantize(Decimal("0.1")),
        # Adding 0 turns 1E+1 back into 10.
        price=None if line.price is None else line.price.normalize() + 0,
        basis=line.basis,
        unit_price=line.unit_price,
        amount=None if line.amount is None else round_money(line.amount, currency),
    )


def job_number_of(session: Session, job_id: int) -> str:
    """The number of a job by its id."""
    job = session.get(Job, job_id)
    assert job is not None
    return job.number
