"""Log bars that were used, from the rack or not, and what they cost."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.money import currency_digits, share_out
from shopquote.calc.units import Length, Measure, show_bar
from shopquote.errors import InputError, NotFoundError, counted
from shopquote.reading.kinds import MEASURE, SECTION, read_typed
from shopquote.records.jobs import Job
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.buying.offers_on_file import listed_bars
from shopquote.services.floor.log import Logged, amount_of, check_count, check_rework, open_for_log
from shopquote.services.jobs.jobs import newest_revision
from shopquote.services.rack.rack import add_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.shop.shop_on_file import grade_on_file, refuse_ahead, shop_currency, shop_notation


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
    """Log bars that were never on the rack.

    Lengths that came back go on the rack, each with its share of the cost, which the job is credited.

    Args:
        session: an open writing session.
        number: the job.
        section: as typed.
        grade: as typed.
        length: of one bar, as typed in the job's unit.
        count: number of bars.
        on: day of use.
        today: last day that `on` may be.
        at: the present moment.
        cost: of all bars, in the shop's currency; None: the listed price of the day of use, else today's.
        returned: lengths that came back, as typed.
        kind: work, rework or another word of `BAR_KINDS`; all but work need a reason.
        reason: why they were used so.
        source: where the entry comes from, by which it is found again; None: typed.
        delivery: charge to bring them, part of their cost to the job; None: not stated.

    Raises:
        NotFoundError: no such job or grade, or no price on file for such a bar and no cost given.
        InputError: a word, count or cost that cannot be used, or more came back than the bars had.
    """
    job, note = open_for_log(session, number, at)
    unit = newest_revision(session, job).unit
    notation = shop_notation(session).within(unit)
    # Everything is read and checked before the first row is added: a fault leaves nothing half logged.
    bar = read_typed("Bar", SECTION, section, notation)
    measure = read_typed("Length of a bar", MEASURE, length, notation)
    check_count(count)
    refuse_ahead(on, today)
    if kind != "work" and not reason.strip():
        raise InputError(f"Bars for {kind} need a reason: --reason TEXT.")
    metal = grade_on_file(session, grade)
    if cost is None:
        cost = _listed_cost(session, bar, metal, measure, count, (on, today))
    carried = None if delivery is None else amount_of(session, delivery)
    total = amount_of(session, cost) + (carried or Decimal(0))
    back = [read_typed("Length that came back", MEASURE, text, notation) for text in returned]
    # Length only, without kerfs: how the bars were cut is not known here.
    left = sum((item.length for item in back), Length(0))
    if left > measure.length * count:
        raise InputError(f"{show_bar(left, unit)} came back, more than the bars had.")
    credits = _credits(total, back, measure.length * count - left, shop_currency(session))
    row = BarUse(
        job_id=job.id,
        section_key=bar.key,
        # As typed, not the section's own name: the log shows what the person wrote.
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
        returned=left or None,  # NULL where nothing came back
        credit=sum(credits, Decimal(0)),
    )
    session.add(row)
    codes = _to_the_rack(session, row, bar, list(zip(back, credits, strict=True)), f"left from {job.number}")
    session.flush()
    words = f"{count} x {section.strip()} {metal.name}, {measure.text}"
    if codes:
        words += f", back on the rack: {', '.join(codes)}"
    note = " ".join(text for text in (note, _lying_ready(session, job, bar, metal)) if text)
    return Logged(job.number, words, row.cost - row.credit, note=note)


def _to_the_rack(
    session: Session, use: BarUse, section: Section, back: Sequence[tuple[Measure, Decimal]], note: str
) -> list[str]:
    """Put returned lengths of a use on the rack, each with its cost; returns their codes."""
    # Without a heat: these bars never were on the rack, so nothing tells which delivery they came with.
    return [
        add_pieces(
            session, section, use.section_text, use.grade, length, cost=cost, note=note, on=use.used_on
        )[0].code
        for length, cost in back
    ]


def _listed_cost(
    session: Session, section: Section, grade: Grade, measure: Measure, count: int, days: Sequence[date]
) -> Decimal:
    cost = stock_price(session, section, grade, measure, count, days)
    if cost is None:
        raise NotFoundError(
            f"No stock price is on file for {measure.text} of {section.text} in {grade.name}.",
            hint="Say what the bars cost: --cost TOTAL",
        )
    return cost


def _credits(total: Decimal, back: Sequence[Measure], used: Length, currency: str) -> list[Decimal]:
    """What each returned length is worth, by length; the length used is the last share of the total.

    In whole cents that add up to the total, so that credits never exceed the cost; as `use_bar` does.
    """
    digits = currency_digits(currency)
    weights = {place: item.length.nm for place, item in enumerate(back)} | {len(back): used.nm}
    shares = share_out(int(total.scaleb(digits)), weights)
    return [Decimal(shares[place]).scaleb(-digits) for place in range(len(back))]


def _lying_ready(session: Session, job: Job, section: Section, grade: Grade) -> str:
    """A warning if rack pieces of this material are promised to the job: logging typed bars leaves them
    there.
    """
    codes = session.scalars(
        select(RackPiece.code).where(
            RackPiece.promised_job_id == job.id,
            RackPiece.section_key == section.key,
            RackPiece.grade == grade.name,
        )
    ).all()
    if not codes:
        return ""
    them, lie = ("it", "lies") if len(codes) == 1 else ("those", "lie")
    there = counted(len(codes), "such piece")
    return f"{there} {lie} on the rack for {job.number}; log {them} with --piece {codes[0]}."


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
    """Log a rack piece that was cut for a job, with the lengths that came back of it.

    Args:
        session: an open writing session.
        number: the job.
        code: the rack piece.
        on: day of use.
        today: last day that `on` may be.
        at: the present moment.
        returned: lengths that came back, as typed in the job's unit.
        rework: cut to make something again; needs a reason.
        reason: why.
        source: where the entry comes from, by which it is found again; None: the rack.

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
    others = [f"{other} bears {cost:f} of it" for other, cost in used.borne.items() if other != job.number]
    words += "".join(f", {text}" for text in others)
    if used.returned:
        words += f", back on the rack: {', '.join(used.returned)}"
    return Logged(job.number, words, used.borne.get(job.number, Decimal(0)), note=note)


def stock_price(
    session: Session, section: Section, grade: Grade, measure: Measure, count: int, days: Sequence[date]
) -> Decimal | None:
    """Listed cost of `count` bars of this length, in the shop's currency; None if no list has them.

    The first of `days` with a price decides, its cheapest supplier: bars may have been used before the shop
    had its first price list.
    """
    for day in days:
        prices = []
        for listed in listed_bars(session, section, grade, day):
            # The price step depends on the mass of all the bars.
            price = listed.unit_price(listed.mass_kg * count)
            # Another length has another price per metre, so it says nothing of this one.
            if listed.length == measure.length and price is not None:
                prices.append(price * listed.supplier.exchange_rate * count)
        if prices:
            return min(prices)
    return None
