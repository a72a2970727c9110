"""Orders as documents: made once of the rows, kept with the order, printed from again."""

from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.buying.order_document import (
    JobShare,
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
from shopquote.services.shop.on_file import address_of, shop_address, shop_unit, the_shop


def stored_order(order: Order) -> OrderDocument:
    """An order as it was when it was placed.

    Raises:
        InputError: what is kept with it cannot be read.
    """
    return order_document_from_text(order.snapshot)


def keep_document(session: Session, order: Order) -> OrderDocument:
    """Keep with an order the document that its rows and the shop's make now."""
    document = _document(session, order)
    order.snapshot = order_document_text(document)
    return document


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
            JobShare(number_of(session, share.job_id), round_money(share.share, currency))
            for share in order.jobs
        ),
        units=unit,
        locale=shop.locale,
        paper=shop.paper,
        invented=shop.invented or order.supplier.invented,
        certificate_charge=_certificate_charge(order, currency),
    )


def _certificate_charge(order: Order, currency: str) -> Decimal:
    """What of the order's charges the certificate is; at most all of them."""
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


def number_of(session: Session, job_id: int) -> str:
    """The number of a job that is on file."""
    job = session.get(Job, job_id)
    assert job is not None
    return job.number
