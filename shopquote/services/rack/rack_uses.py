"""Cut bars for jobs: what they cost, what came back as offcuts, and what each job bears."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import currency_digits, round_money, round_money_down, share_out
from shopquote.calc.units import ZERO, Length, Measure, show_bar
from shopquote.errors import InputError
from shopquote.records.jobs import Job
from shopquote.records.rack import BAR_KINDS, BarUse, RackPiece
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.rack import new_piece, note_move, why_not_free
from shopquote.services.rack.rack_on_file import LIVE, find_piece, place_on_file
from shopquote.services.shop import clock
from shopquote.services.shop.shop_on_file import saw_settings, shop_currency, shop_unit


@dataclass(frozen=True, slots=True)
class UsedBar:
    """A piece that was cut: its cost, the credit for what came back, and the codes of the offcuts.

    `borne` is what each job with cuts in it bears of the cost less the credit, by the job's number.
    """

    code: str
    cost: Decimal
    credit: Decimal
    returned: tuple[str, ...]
    borne: Mapping[str, Decimal]


def use_bar(
    session: Session,
    code: str,
    job_number: str,
    *,
    returned: Sequence[Measure] = (),
    used_on: date | None = None,
    kind: str = "work",
    reason: str = "",
    place: str | None = None,
    source: str | None = None,
    sawn: int = 0,
) -> UsedBar:
    """Record that a piece was cut for a job; offcuts come back as new pieces of the same heat.

    The cost goes to the job, or to the jobs that share the piece in proportion to their lengths. What came
    back is credited with its share of the cost by length.

    Args:
        session: an open writing session.
        code: the piece.
        job_number: the job that cut it.
        returned: lengths of the offcuts that came back.
        used_on: day of the cut; None: today.
        kind: work or another word of `BAR_KINDS`.
        reason: noted with the move and the use.
        place: where the offcuts lie; None: where the piece lay.
        source: what entered it, for the log; None: the rack.
        sawn: number of pieces sawn from it; 0: nobody counted.

    Raises:
        InputError: promised to another job, used or scrapped; or more came back than is left of it.
        NotFoundError: the piece or job is not on file.
    """
    if kind not in BAR_KINDS:
        raise InputError(f"Kind {kind[:40]!r}: expected one of {', '.join(BAR_KINDS)}.")
    job = find_job(session, job_number)
    piece = find_piece(session, code)
    if piece.state not in LIVE or (piece.promised_job_id not in (None, job.id) and not _shares(piece, job)):
        raise InputError(why_not_free(session, piece))
    _check_returned(session, piece, returned)
    _check_sawn(session, piece, returned, sawn)
    piece.state = "used"
    # Used for the job it was promised to, even if another job that shares it did the sawing.
    piece.used_job_id = piece.promised_job_id or job.id
    piece.promised_job = None
    piece.promised_job_id = None
    piece.version += 1
    note_move(session, piece, "used", job_id=job.id, length=piece.length, note=reason)
    day = used_on or clock.now().date()
    # The cost is shared out in whole cents, the rest of the bar as one more share: credits never exceed it.
    digits = _digits(session)
    piece.cost = round_money(piece.cost, shop_currency(session))
    weights = dict(enumerate(length.length.nm for length in returned))
    weights[len(returned)] = piece.length.nm - sum(weights.values())
    costs = share_out(int(piece.cost.scaleb(digits)), weights)
    children = tuple(
        _child(session, piece, length, Decimal(costs[at]).scaleb(-digits), day, place)
        for at, length in enumerate(returned)
    )
    came_back = _sum_of(child.length for child in children)
    credit = sum((child.cost for child in children), Decimal(0))
    uses = _store_uses(session, piece, job, day, came_back, credit, kind=kind, reason=reason, source=source)
    session.flush()
    borne = {use.job.number: use.cost - use.credit for use in uses}
    return UsedBar(piece.code, piece.cost, credit, tuple(child.code for child in children), borne)


def return_offcut(
    session: Session, code: str, length: Measure, *, place: str | None = None, on: date | None = None
) -> str:
    """Put an offcut of a piece that was cut earlier on the rack; returns its new code.

    Raises:
        InputError: the piece was not cut, or more would have come back than it had.
        NotFoundError: the piece is not on file.
    """
    piece = find_piece(session, code)
    if piece.state != "used":
        raise InputError(f"Piece {piece.code} is {piece.state}; only what was cut leaves an offcut.")
    before = session.scalar(select(func.sum(RackPiece.length)).where(RackPiece.parent_id == piece.id)) or ZERO
    _check_returned(session, piece, [length], before)
    # Its cost, by length, is credited to the jobs that bore the piece, but never more than they still bear.
    uses = _uses_of(session, piece.id)
    currency = shop_currency(session)
    share = round_money(piece.cost * length.length.nm / piece.length.nm, currency)
    left = sum((use.cost - use.credit for use in uses), Decimal(0)) if uses else share
    cost = min(share, round_money_down(left, currency))
    child = _child(session, piece, length, cost, on or clock.now().date(), place)
    _credit_uses(uses, child.length, child.cost, currency_digits(currency))
    session.flush()
    return child.code


def _digits(session: Session) -> int:
    return currency_digits(shop_currency(session))


def _child(
    session: Session, parent: RackPiece, length: Measure, cost: Decimal, on: date, place: str | None
) -> RackPiece:
    child = RackPiece(
        section_key=parent.section_key, section_text=parent.section_text, grade=parent.grade,
        length=length.length, length_text=length.text, heat=parent.heat, cost=cost, made_on=on,
        place=parent.place if place is None else place_on_file(session, place), parent_id=parent.id,
        received_bar_id=parent.received_bar_id,
    )  # fmt: skip
    return new_piece(session, child, "returned", job_id=parent.used_job_id)


def _store_uses(
    session: Session,
    piece: RackPiece,
    job: Job,
    day: date,
    came_back: Length,
    credit: Decimal,
    *,
    kind: str,
    reason: str,
    source: str | None,
) -> list[BarUse]:
    """Add a `BarUse` for each job that shares the piece; what they say adds up to the piece."""
    weights = {share.job_id: share.length.nm for share in piece.shares if share.length.nm > 0}
    if not weights:
        weights = {job.id: 1}
    lengths = share_out(piece.length.nm, weights)
    # In whole cents, so that the jobs' shares add up to the piece's cost and printed shares to the sum.
    digits = _digits(session)
    costs = share_out(int(piece.cost.scaleb(digits)), weights)
    backs = share_out(came_back.nm, weights)
    credits = share_out(int(credit.scaleb(digits)), weights)
    uses = [
        BarUse(
            job_id=job_id, section_key=piece.section_key, section_text=piece.section_text,
            grade=piece.grade, length=Length(lengths[job_id]),
            length_text=piece.length_text if len(weights) == 1 else "", count=1,
            cost=Decimal(costs[job_id]).scaleb(-digits), used_on=day, rack_piece_id=piece.id,
            returned=Length(backs[job_id]) if came_back else None,
            credit=Decimal(credits[job_id]).scaleb(-digits), kind=kind, reason=reason,
            source=source or f"rack {piece.code}",
        )
        for job_id in weights
        if lengths[job_id]  # a share that rounds to no length leaves nothing to record
    ]  # fmt: skip
    session.add_all(uses)
    return uses


def _uses_of(session: Session, piece_id: int) -> Sequence[BarUse]:
    return session.scalars(select(BarUse).where(BarUse.rack_piece_id == piece_id).order_by(BarUse.id)).all()


def _credit_uses(uses: Sequence[BarUse], length: Length, cost: Decimal, digits: int) -> None:
    """Add a returned length and its cost to the uses of a piece, in proportion to their lengths."""
    if not uses:
        return
    weights = {use.id: use.length.nm for use in uses}
    backs = share_out(length.nm, weights)
    credits = share_out(int(cost.scaleb(digits)), weights)
    for use in uses:
        use.returned = (use.returned or ZERO) + Length(backs[use.id])
        use.credit = use.credit + Decimal(credits[use.id]).scaleb(-digits)


def _check_returned(
    session: Session, piece: RackPiece, returned: Sequence[Measure], before: Length = ZERO
) -> None:
    """Refuse lengths of zero, and more than the piece is long; `before` came back earlier."""
    for length in returned:
        if length.length.nm <= 0:
            raise InputError(f"Length back is {length.text!r}; expected above zero.")
    total = _sum_of(length.length for length in returned) + before
    if total > piece.length:
        unit = shop_unit(session)
        raise InputError(
            f"Piece {piece.code} is {show_bar(piece.length, unit)} long; "
            f"{show_bar(total, unit)} cannot come back from it.",
            hint="Measure the offcut again, or look whether the code is right.",
        )


def _check_sawn(session: Session, piece: RackPiece, returned: Sequence[Measure], sawn: int) -> None:
    """Refuse more coming back than is left after `sawn` pieces with a kerf each.

    Which pieces were sawn is not known, so the shortest planned ones are assumed: a lower bound of what is
    gone.
    """
    if not (sawn and returned):
        # Without a count of what was sawn, or an offcut, there is nothing to compare.
        return
    # The shortest first: which of the planned pieces were sawn is not told, so only what they take at least
    # can be refused.
    planned = sorted(nm for share in piece.shares for _, nm, count in share.pieces for _ in range(count))
    taken = Length(sum(planned[:sawn]) + saw_settings(session).kerf.nm * sawn)
    total = _sum_of(length.length for length in returned)
    if total + taken > piece.length:
        most = Length(max(0, piece.length.nm - taken.nm))
        unit = shop_unit(session)
        raise InputError(
            f"Piece {piece.code} is {show_bar(piece.length, unit)} long and {sawn} sawn of it take at "
            f"least {show_bar(taken, unit)} with the saw's kerfs: at most {show_bar(most, unit)} can "
            f"come back, not {show_bar(total, unit)}.",
            hint="Measure the offcut again, or look whether the count is right.",
        )


def _shares(piece: RackPiece, job: Job) -> bool:
    return any(share.job_id == job.id for share in piece.shares)


def correct_length(session: Session, piece: RackPiece, length: Measure, note: str) -> None:
    """Set the measured length of a piece; its cost stays.

    Raises:
        InputError: no length, or longer than the bar it was cut from allows.
    """
    if length.length.nm <= 0:
        raise InputError(f"Piece {piece.code}: length is {length.text!r}; expected above zero.")
    if piece.parent is not None:
        siblings = session.scalar(
            select(func.sum(RackPiece.length)).where(
                RackPiece.parent_id == piece.parent_id, RackPiece.id != piece.id
            )
        )
        _check_returned(session, piece.parent, [length], siblings or ZERO)
    # The difference, not the new length: a piece's moves add up to its length.
    change = length.length - piece.length
    note_move(session, piece, "measured", length=change, note=note)
    if piece.parent_id is not None:
        # The bar's uses recorded the old length as returned; money stays, so the cost is 0.
        _credit_uses(_uses_of(session, piece.parent_id), change, Decimal(0), 0)
    piece.length = length.length
    piece.length_text = length.text
    piece.version += 1


def _sum_of(lengths: Iterable[Length]) -> Length:
    return Length(sum(length.nm for length in lengths))
