"""Log bars and rack pieces that were sawn, and what they cost."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.money import round_money
from shopquote.calc.units import Length, Measure, show_length
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.kinds import MEASURE, SECTION, read_typed
from shopquote.records.jobs import Job
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.buying.offers_on_file import listed_bars
from shopquote.services.floor.log import (
    Logged,
    amount_of,
    check_count,
    check_rework,
    open_for_log,
    shop_currency,
)
from shopquote.services.jobs.jobs import newest_revision
from shopquote.services.rack.rack import add_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.shop.shop_on_file import grade_on_file, refuse_ahead, shop_notation


def log_bars(
    session: Session,
    number: str,
    section: str,
    grade: str,
    length: str,
    count: int,
    *,
    on: date,
    today: date,
    at: datetime,
    cost: Decimal | None = None,
    delivery: Decimal | None = None,
    returned: Sequence[str] = (),
    kind: str = "work",
    reason: str = "",
    source: str | None = None,
) -> Logged:
    """Bars used that were never on the rack. `cost` is the total; None takes today's stock price.

    `delivery` is what was charged besides to bring them, and part of what they cost the job; None: not said.
    Lengths that came back go on the rack, each with its share of the cost, which the job is credited.

    Raises:
        NotFoundError: no such job, or no price on file for such a bar and no cost given.
        InputError: a word, count or cost that cannot be used.
    """
    job, note = open_for_log(session, number, at)
    unit = newest_revision(session, job).unit
    notation = shop_notation(session).within(unit)
    bar = read_typed("Bar", SECTION, section, notation)
    measure = read_typed("Length of a bar", MEASURE, length, notation)
    check_count(count)
    refuse_ahead(on, today)
    if kind != "work" and not reason.strip():
        raise InputError(f"Bars for {kind} need a reason: --reason TEXT.")
    metal = grade_on_file(session, grade)
    if cost is None:
        # The price of the day on which they were used; today's where that day had no list yet.
        cost = stock_price(session, bar, metal, measure, count, (on, today))
    if cost is None:
        raise NotFoundError(
            f"No stock price is on file for {measure.text} of {bar.text} in {metal.name}.",
            hint="Say what the bars cost: --cost TOTAL",
        )
    carried = None if delivery is None else amount_of(session, delivery)
    total = amount_of(session, cost) + (carried or Decimal(0))
    back = [read_typed("Length that came back", MEASURE, text, notation) for text in returned]
    left = sum((item.length for item in back), Length(0))
    if left > measure.length * count:
        raise InputError(f"{show_length(left, unit)} came back, more than the bars had.")
    whole = measure.length.nm * count
    # By length: what goes back on the rack is worth as much a metre as what was used.
    shares = [round_money(total * item.length.nm / whole, shop_currency(session)) for item in back]
    row = BarUse(
        job_id=job.id,
        section_key=bar.key,
        section_text=section.strip(),
        grade=metal.name,
        length=measure.length,
        length_text=measure.text,
        count=count,
        cost=total,
        delivery=carried,
        used_on=on,
        kind=kind,
        reason=reason.strip(),
        source=source,
        # Nothing came back is stored as no length, as of a bar that was used up.
        returned=left or None,
        credit=sum(shares, Decimal(0)),
    )
    session.add(row)
    codes = [
        add_pieces(
            session, bar, section.strip(), metal.name, item, cost=share, note=f"left from {job.number}", on=on
        )[0].code
        for item, share in zip(back, shares, strict=True)
    ]
    session.flush()
    words = f"{count} x {section.strip()} {metal.name}, {measure.text}"
    if codes:
        words += f", back on the rack: {', '.join(codes)}"
    note = " ".join(text for text in (note, _lying_ready(session, job, bar, metal)) if text)
    return Logged(job.number, words, row.cost - row.credit, note=note)


def _lying_ready(session: Session, job: Job, section: Section, grade: Grade) -> str:
    """A word of warning when such bars lie on the rack for this job: typed bars do not take them off it."""
    codes = session.scalars(
        select(RackPiece.code).where(
            RackPiece.promised_job_id == job.id,
            RackPiece.section_key == section.key,
            RackPiece.grade == grade.name,
        )
    ).all()
    if not codes:
        return ""
    return f"{len(codes)} such pieces lie on the rack for {job.number}; log those with --piece {codes[0]}."


def log_piece(
    session: Session,
    number: str,
    code: str,
    *,
    on: date,
    today: date,
    at: datetime,
    returned: Sequence[str] = (),
    rework: bool = False,
    reason: str = "",
    source: str | None = None,
) -> Logged:
    """A piece from the rack, with the lengths that came back to it.

    Raises:
        NotFoundError: no such job or piece.
        InputError: the piece is not free for this job, or more came back than it had.
    """
    job, note = open_for_log(session, number, at)
    refuse_ahead(on, today)
    check_rework(rework, reason)
    notation = shop_notation(session).within(newest_revision(session, job).unit)
    back = [read_typed("Length that came back", MEASURE, text, notation) for text in returned]
    used = use_bar(
        session, code, job.number, returned=back, used_on=on, kind="rework" if rework else "work",
        reason=reason.strip(), source=source,
    )  # fmt: skip
    words = f"rack piece {used.code}"
    if used.returned:
        words += f", back on the rack: {', '.join(used.returned)}"
    return Logged(job.number, words, used.cost - used.credit, note=note)


def stock_price(
    session: Session, section: Section, grade: Grade, measure: Measure, count: int, days: Sequence[date]
) -> Decimal | None:
    """What `count` bars of this length cost in the shop's currency; None without a price on file.

    By the cheapest list of the first of `days` that has one: bars may have been used on a
    day before the shop's first price list.
    """
    for day in days:
        prices = []
        for listed in listed_bars(session, section, grade, day):
            # Price steps go by the mass of the whole purchase, not of one bar.
            price = listed.unit_price(listed.mass_kg * count)
            if listed.length == measure.length and price is not None:
                prices.append(price * listed.supplier.exchange_rate * count)
        if prices:
            return min(prices)
    return None
