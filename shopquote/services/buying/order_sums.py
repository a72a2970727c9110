"""What an order's lines add up to: their jobs, the goods, delivery and total, and each job's share."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.money import currency_digits, round_money, share_out
from shopquote.calc.units import Length
from shopquote.records.jobs import Job
from shopquote.records.orders import Order, OrderJob, OrderLine, OrderLineJob
from shopquote.records.people import Supplier
from shopquote.services.buying.needs import loaded
from shopquote.services.buying.offers import certificate_charge
from shopquote.services.buying.purchase_lines import Load, lengths_of, main_job
from shopquote.services.jobs.jobs import find_job


def line_jobs(session: Session, loads: Sequence[Any]) -> list[OrderLineJob]:
    """The jobs of an order line, each with its number of bars and length of pieces, from the bars' loads."""
    jobs: dict[str, tuple[int, Length]] = {}
    for load in loaded(loads):
        for owner, length in lengths_of(load).items():
            count, total = jobs.get(owner, (0, Length(0)))
            # A shared bar counts as one bar of the main job only, or the counts would exceed the bars.
            jobs[owner] = (count + (owner == main_job(load)), total + length)
    return [
        OrderLineJob(job_id=find_job(session, number).id, count=count, length=length)
        for number, (count, length) in sorted(jobs.items())
    ]


def stored_loads(loads: Sequence[Load]) -> list[Any]:
    """Loads as JSON stores them: for each bar, [[job number, mark, nm, count], ...]."""
    return [[[owner, mark, length.nm, count] for owner, mark, length, count in load] for load in loads]


def total_up(order: Order, supplier: Supplier) -> None:
    """Set goods, delivery (with certificate) and total of an order by its lines and the supplier's terms."""
    order.goods = sum((line.amount for line in order.lines if line.amount is not None), Decimal(0))
    priced = any(line.amount is not None for line in order.lines)
    # Delivery is free if the goods reach the amount before or after rounding: a cent must not cost a
    # delivery.
    exact = sum(
        (line.unit_price * line.count for line in order.lines if line.unit_price is not None), Decimal(0)
    )
    free = supplier.free_from is not None and max(exact, order.goods) >= supplier.free_from
    delivery = Decimal(0) if free else supplier.delivery_charge
    certificate = certificate_charge(supplier, order.certificate_kind)
    order.delivery = round_money(delivery + certificate, order.currency) if priced else Decimal(0)
    order.total = order.goods + order.delivery


def share_order(session: Session, order: Order, shares: Mapping[str, Decimal]) -> None:
    """Share an order's total over its jobs in proportion to `shares`, to the last digit of the currency."""
    jobs = {number: find_job(session, number) for line in order.lines for number in _numbers(session, line)}
    # Shared out in whole cents, so that the shares add up to the total.
    weights = {job.id: int((shares.get(number, Decimal(0))).scaleb(4)) for number, job in jobs.items()}
    digits = currency_digits(order.currency)
    parts = share_out(int(order.total.scaleb(digits)), weights)
    order.jobs = [
        OrderJob(job_id=job_id, share=Decimal(part).scaleb(-digits)) for job_id, part in sorted(parts.items())
    ]


def _numbers(session: Session, line: OrderLine) -> list[str]:
    numbers = []
    for share in line.jobs:
        job = session.get(Job, share.job_id)
        assert job is not None
        numbers.append(job.number)
    return numbers
