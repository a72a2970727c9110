"""The rack: pieces come, are promised, cut, come back shorter, or go for scrap.

Every function takes an open writing session (`Database.session()`), of which
there is one at a time in all processes: what is read here stays true until the
caller commits, so that a piece is never promised or used twice.

Laws: a piece has one origin (received, cut from another piece, or added by
hand) and one state; lengths cut from a piece never exceed it. Begin at
`add_pieces`, `promise_pieces`, `use_bar`.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from shopquote.calc.bar.sections import Section
from shopquote.calc.money import round_rate
from shopquote.calc.takeoff.answers import RackBar
from shopquote.calc.units import ZERO, Length, Measure
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import HEAT, Notation
from shopquote.records.jobs import Job
from shopquote.records.logs import BAR_KINDS, BarUse
from shopquote.records.rack import RACK_STATES, RackMove, RackPiece, RackPieceJob
from shopquote.services.jobs.jobs import find_job
from shopquote.services.jobs.promises import free_promised, promised_to
from shopquote.services.shop import clock
from shopquote.services.shop.database import next_number
from shopquote.services.shop.on_file import grade_on_file

LIVE = ("free", "promised")
_CODE = re.compile(r"(?:R-?)?([0-9]{1,12})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class UsedBar:
    """A piece that was cut: what it cost, and what of it came back under which codes."""

    code: str
    cost: Decimal
    credit: Decimal
    returned: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RackValue:
    """Pieces, length and money on the rack for one section, grade and state."""

    section: str
    grade: str
    state: str
    pieces: int
    length: Length
    cost: Decimal


def walk_key(place: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts places as one walks by them: bay 2 before bay 10; no place comes last.

    >>> sorted(["bay 10", "", "bay 2", "A1"], key=walk_key)
    ['A1', 'bay 2', 'bay 10', '']
    """
    words = re.findall(r"\d+|\D+", place.strip().lower())
    return tuple((0, int(w), "") if w.isascii() and w.isdigit() else (1, 0, w) for w in words) or (
        (2, 0, ""),
    )


# --- finding ----------------------------------------------------------------------------------


def find_piece(session: Session, code: str) -> RackPiece:
    """The piece with this code: R-0007, r-7 or 7; a scanned label may hold blanks.

    Raises:
        NotFoundError: no such piece.
    """
    match = _CODE.fullmatch(code.strip())
    name = f"R-{int(match[1]):04d}" if match else code.strip().upper()
    piece = session.scalar(select(RackPiece).where(RackPiece.code == name))
    if piece is None:
        raise NotFoundError(
            f"Rack piece {code.strip()[:40]!r} is not on file.", hint="See: shopquote rack list"
        )
    return piece


def list_pieces(
    session: Session,
    *,
    states: Sequence[str] = LIVE,
    section_key: str | None = None,
    grade: str | None = None,
    job_number: str | None = None,
    heat: str | None = None,
    limit: int | None = None,
) -> tuple[RackPiece, ...]:
    """Pieces by section, grade and length, the longest first."""
    query = select(RackPiece).where(RackPiece.state.in_(states))
    if section_key is not None:
        query = query.where(RackPiece.section_key == section_key)
    if grade is not None:
        query = query.where(RackPiece.grade == grade_on_file(session, grade).name)
    if job_number is not None:
        query = query.where(RackPiece.promised_job_id == find_job(session, job_number).id)
    if heat is not None:
        query = query.where(RackPiece.heat == HEAT.read(heat, Notation()))
    order = (RackPiece.section_key, RackPiece.grade, RackPiece.length.desc(), RackPiece.code)
    query = query.options(joinedload(RackPiece.promised_job))
    return tuple(session.scalars(query.order_by(*order).limit(limit)))


def free_rack(
    session: Session, section_key: str, grade: str, *, at_least: Length = ZERO, limit: int | None = None
) -> tuple[RackBar, ...]:
    """Free pieces of a section and grade, ready for the cut planner, the shortest first.

    A piece that cost nothing on file has no value of its own: the planner takes that of its length.
    """
    query = (
        select(RackPiece.code, RackPiece.length, RackPiece.heat, RackPiece.cost)
        .where(
            RackPiece.state == "free",
            RackPiece.section_key == section_key,
            RackPiece.grade == grade,
            RackPiece.length >= at_least,
        )
        .order_by(RackPiece.length, RackPiece.code)
        .limit(limit)
    )
    return tuple(
        RackBar(code, length, heat, value=cost or None) for code, length, heat, cost in session.execute(query)
    )


def costs_of(session: Session, codes: Sequence[str]) -> dict[str, Decimal]:
    """What pieces cost the shop, by code, in its own currency."""
    if not codes:
        return {}
    query = select(RackPiece.code, RackPiece.cost).where(RackPiece.code.in_(codes))
    return {code: cost for code, cost in session.execute(query)}


def rack_value(session: Session) -> tuple[RackValue, ...]:
    """What lies on the rack and what it cost, by section, grade and state."""
    query = (
        select(
            func.min(RackPiece.section_text),
            RackPiece.grade,
            RackPiece.state,
            func.count(),
            func.sum(RackPiece.length),
            func.sum(RackPiece.cost),
        )
        .where(RackPiece.state.in_(LIVE))
        .group_by(RackPiece.section_key, RackPiece.grade, RackPiece.state)
        .order_by(RackPiece.section_key, RackPiece.grade, RackPiece.state)
    )
    return tuple(RackValue(*row) for row in session.execute(query))


def scrap_offers(
    session: Session, *, made_before: date | None = None, shorter_than: Length | None = None
) -> tuple[RackPiece, ...]:
    """Free pieces that are too old or too short to keep, offered for scrap; nothing is changed."""
    if made_before is None and shorter_than is None:
        return ()
    query = select(RackPiece).where(RackPiece.state == "free")
    old = RackPiece.made_on < made_before if made_before is not None else None
    short = RackPiece.length < shorter_than if shorter_than is not None else None
    wanted = [test for test in (old, short) if test is not None]
    query = query.where(wanted[0] if len(wanted) == 1 else wanted[0] | wanted[1])
    return tuple(session.scalars(query.order_by(RackPiece.section_key, RackPiece.length, RackPiece.code)))


def read_state(word: str) -> str:
    """One of the states of a piece.

    Raises:
        InputError: an unknown word; names the nearest.
    """
    if word not in RACK_STATES:
        near = nearest_word(word, RACK_STATES)
        hint = f"Did you mean {near!r}?" if near else None
        raise InputError(f"State {word[:40]!r}: expected one of {', '.join(RACK_STATES)}.", hint=hint)
    return word


# --- coming -----------------------------------------------------------------------------------


def add_pieces(
    session: Session,
    section: Section,
    section_text: str,
    grade: str,
    length: Measure,
    *,
    count: int = 1,
    heat: str = "",
    place: str = "",
    cost: Decimal = Decimal(0),
    note: str = "",
    on: date | None = None,
) -> tuple[RackPiece, ...]:
    """Bars that were in the shop before, each with a code of its own. `cost` is for one.

    Raises:
        InputError: no length, count below 1 or over 10 000, cost below zero.
    """
    if length.length.nm <= 0:
        raise InputError(f"Length is {length.text!r}; a piece needs a length above zero.")
    if not 1 <= count <= 10_000:
        raise InputError(f"Count is {count}; expected 1 to 10000.")
    if cost < 0:
        raise InputError(f"Cost is {cost}; expected at least 0.")
    pieces = tuple(
        new_piece(
            session,
            RackPiece(
                promised_job=None, section_key=section.key, section_text=section_text, grade=grade,
                length=length.length,
                length_text=length.text, heat=HEAT.read(heat, Notation()), place=place,
                cost=round_rate(cost), note=note, made_on=on or _today(),
            ),
            "added",
        )
        for _ in range(count)
    )  # fmt: skip
    session.flush()
    return pieces


def new_piece(session: Session, piece: RackPiece, kind: str, *, job_id: int | None = None) -> RackPiece:
    """Put a piece on file under the next code, with the move that brought it."""
    piece.code = next_number(session, "R")
    piece.state = piece.state or "free"
    session.add(piece)
    session.flush()
    _move(session, piece, kind, job_id=job_id, length=piece.length)
    return piece


# --- promises ---------------------------------------------------------------------------------


def promise_pieces(
    session: Session,
    codes: Sequence[str],
    job_number: str,
    *,
    load: Sequence[tuple[str, str, Length, int]] = (),
) -> tuple[RackPiece, ...]:
    """Promise free pieces to a job; all of them or, with an error, none.

    `load` says what is to be cut from each piece, (job, mark, length, count), where that is known.
    A piece already promised to this very job stays promised.

    Raises:
        InputError: a piece is promised to another job, used or scrapped.
        NotFoundError: a piece or job is not on file.
    """
    job = find_job(session, job_number)
    if job.state in ("lost", "dropped", "finished", "closed"):
        raise InputError(f"Job {job.number} is {job.state}; nothing can be promised to it.")
    pieces = tuple(find_piece(session, code) for code in dict.fromkeys(codes))
    for piece in pieces:
        if piece.state != "free" and piece.promised_job_id != job.id:
            raise InputError(why_not_free(session, piece))
    for piece in pieces:
        if piece.state == "free":
            piece.state = "promised"
            piece.promised_job = job
            piece.promised_job_id = job.id
            piece.version += 1
            _move(session, piece, "promised", job_id=job.id)
        share_piece(session, piece, load)
    session.flush()
    return pieces


def share_piece(session: Session, piece: RackPiece, load: Iterable[tuple[str, str, Length, int]]) -> None:
    """Say what is to be cut from a piece for which job, in place of what was said before."""
    wanted: dict[int, list[list[Any]]] = {}
    for number, mark, length, count in load:
        wanted.setdefault(find_job(session, number).id, []).append([mark, length.nm, count])
    if piece.promised_job_id is not None:
        wanted.setdefault(piece.promised_job_id, [])
    old = {share.job_id: share for share in piece.shares}
    for job_id, pieces in wanted.items():
        share = old.pop(job_id, None)
        if share is None:
            share = RackPieceJob(job_id=job_id)
            piece.shares.append(share)
        share.length = Length(sum(nm * count for _, nm, count in pieces))
        share.pieces = pieces
    for share in old.values():
        piece.shares.remove(share)


def release_promises(
    session: Session, job_number: str | None = None, codes: Sequence[str] = ()
) -> tuple[str, ...]:
    """Free the pieces named, or all that is promised to a job; returns their codes.

    Raises:
        InputError: a named piece is not promised, or to another job than the one named.
        NotFoundError: the job or a piece is not on file.
    """
    job = None if job_number is None else find_job(session, job_number)
    pieces = [find_piece(session, code) for code in dict.fromkeys(codes)]
    for piece in pieces:
        if piece.state != "promised":
            raise InputError(f"Piece {piece.code} is {piece.state}, not promised.")
        if job is not None and piece.promised_job_id != job.id:
            raise InputError(f"Piece {piece.code} is not promised to {job.number}.")
    if job is not None and not pieces:
        pieces = promised_to(session, job)
    free_promised(session, pieces)
    return tuple(piece.code for piece in pieces)


# --- cutting ----------------------------------------------------------------------------------


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
) -> UsedBar:
    """A piece was cut for a job; what is left of it comes back as new pieces of the same heat.

    The piece's cost goes to the job (or, by length, to the jobs that share it);
    what came back is credited at its share of the cost.

    Raises:
        InputError: promised to another job, used or scrapped; more came back than the piece had.
        NotFoundError: the piece or job is not on file.
    """
    if kind not in BAR_KINDS:
        raise InputError(f"Kind {kind[:40]!r}: expected one of {', '.join(BAR_KINDS)}.")
    job = find_job(session, job_number)
    piece = find_piece(session, code)
    if piece.state not in LIVE or (piece.promised_job_id not in (None, job.id) and not _shares(piece, job)):
        raise InputError(why_not_free(session, piece))
    _check_returned(piece, returned)
    piece.state = "used"
    piece.used_job_id = piece.promised_job_id or job.id
    piece.promised_job = None
    piece.promised_job_id = None
    piece.version += 1
    _move(session, piece, "used", job_id=job.id, length=piece.length, note=reason)
    day = used_on or _today()
    children = tuple(_child(session, piece, length, day, place) for length in returned)
    came_back = _sum(child.length for child in children)
    credit = sum((child.cost for child in children), Decimal(0))
    _store_uses(session, piece, job, day, came_back, credit, kind=kind, reason=reason, source=source)
    session.flush()
    return UsedBar(piece.code, piece.cost, credit, tuple(child.code for child in children))


def return_offcut(
    session: Session, code: str, length: Measure, *, place: str | None = None, on: date | None = None
) -> str:
    """A leftover of a piece that was cut comes back later; returns its new code.

    Raises:
        InputError: the piece was not cut, or more came back than it had.
        NotFoundError: the piece is not on file.
    """
    piece = find_piece(session, code)
    if piece.state != "used":
        raise InputError(f"Piece {piece.code} is {piece.state}; only what was cut leaves an offcut.")
    before = session.scalar(select(func.sum(RackPiece.length)).where(RackPiece.parent_id == piece.id)) or ZERO
    _check_returned(piece, [length], before)
    child = _child(session, piece, length, on or _today(), place)
    _credit_uses(_uses_of(session, piece.id), child.length, child.cost)
    session.flush()
    return child.code


def scrap_piece(session: Session, code: str, reason: str, *, kind: str = "scrapped") -> RackPiece:
    """A piece leaves the rack as scrap, sold or lost; `kind` is the move's word.

    Raises:
        InputError: promised, used or scrapped already.
    """
    piece = find_piece(session, code)
    if piece.state != "free":
        raise InputError(
            why_not_free(session, piece),
            hint=f"Release it first: shopquote rack release {piece.code}"
            if piece.state == "promised"
            else None,
        )
    piece.state = "scrapped"
    piece.version += 1
    _move(session, piece, kind, length=piece.length, note=reason)
    session.flush()
    return piece


def find_again(session: Session, piece: RackPiece, note: str) -> None:
    """A piece that a count had written off as lost is there after all: it is free, with heat and cost.

    Raises:
        InputError: it was not written off as lost.
    """
    if not was_lost(session, piece):
        raise InputError(why_not_free(session, piece))
    piece.state = "free"
    piece.version += 1
    _move(session, piece, "found", length=piece.length, note=note)
    session.flush()


def was_lost(session: Session, piece: RackPiece) -> bool:
    """Whether a piece is off the rack because a count did not find it."""
    last = select(RackMove.kind).where(RackMove.piece_id == piece.id).order_by(RackMove.id.desc()).limit(1)
    return piece.state == "scrapped" and session.scalar(last) == "lost"


def move_piece(session: Session, code: str, place: str) -> RackPiece:
    """Lay a piece somewhere else.

    Raises:
        InputError: it is not on the rack any more.
    """
    piece = find_piece(session, code)
    if piece.state not in LIVE:
        raise InputError(f"Piece {piece.code} is {piece.state}; it is not on the rack.")
    _move(session, piece, "moved", note=f"{piece.place or '-'} to {place or '-'}")
    piece.place = place
    piece.version += 1
    session.flush()
    return piece


def correct_length(session: Session, piece: RackPiece, length: Measure, note: str) -> None:
    """A piece was measured again: its length changes, its cost stays.

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
        _check_returned(piece.parent, [length], siblings or ZERO)
    change = length.length - piece.length
    _move(session, piece, "measured", length=change, note=note)
    if piece.parent_id is not None:
        # What came back of the bar is known better now.
        _credit_uses(_uses_of(session, piece.parent_id), change, Decimal(0))
    piece.length = length.length
    piece.length_text = length.text
    piece.version += 1


# --- helpers ----------------------------------------------------------------------------------


def _child(session: Session, parent: RackPiece, length: Measure, on: date, place: str | None) -> RackPiece:
    share = Decimal(length.length.nm) / Decimal(parent.length.nm)
    cost = (parent.cost * share).quantize(Decimal("0.0001"), ROUND_HALF_UP)
    child = RackPiece(
        section_key=parent.section_key, section_text=parent.section_text, grade=parent.grade,
        length=length.length, length_text=length.text, heat=parent.heat, cost=cost, made_on=on,
        place=parent.place if place is None else place, parent_id=parent.id,
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
) -> None:
    """One row for each job that shares the piece; the rows add up to the piece."""
    weights = {share.job_id: share.length.nm for share in piece.shares if share.length.nm > 0}
    if not weights:
        weights = {job.id: 1}
    lengths = share_out(piece.length.nm, weights)
    costs = share_out(int(piece.cost.scaleb(4)), weights)
    backs = share_out(came_back.nm, weights)
    credits = share_out(int(credit.scaleb(4)), weights)
    for job_id in weights:
        if not lengths[job_id]:
            continue
        session.add(
            BarUse(
                job_id=job_id, section_key=piece.section_key, section_text=piece.section_text,
                grade=piece.grade, length=Length(lengths[job_id]),
                length_text=piece.length_text if len(weights) == 1 else "", count=1,
                cost=Decimal(costs[job_id]).scaleb(-4), used_on=day, rack_piece_id=piece.id,
                returned=Length(backs[job_id]) if came_back else None,
                credit=Decimal(credits[job_id]).scaleb(-4), kind=kind, reason=reason,
                source=source or f"rack {piece.code}",
            )
        )  # fmt: skip


def _uses_of(session: Session, piece_id: int) -> Sequence[BarUse]:
    return session.scalars(select(BarUse).where(BarUse.rack_piece_id == piece_id).order_by(BarUse.id)).all()


def _credit_uses(uses: Sequence[BarUse], length: Length, cost: Decimal) -> None:
    if not uses:
        return
    weights = {use.id: use.length.nm for use in uses}
    backs = share_out(length.nm, weights)
    credits = share_out(int(cost.scaleb(4)), weights)
    for use in uses:
        use.returned = (use.returned or ZERO) + Length(backs[use.id])
        use.credit = use.credit + Decimal(credits[use.id]).scaleb(-4)


def share_out(total: int, weights: dict[int, int]) -> dict[int, int]:
    """Whole parts of a total in proportion to weights; they add up to it exactly.

    What is left over by rounding down goes to the largest remainders, first come first.

    >>> share_out(100, {1: 1, 2: 1, 3: 1})
    {1: 34, 2: 33, 3: 33}
    """
    whole = sum(weights.values())
    if not whole:
        weights = dict.fromkeys(weights, 1)
        whole = len(weights)
    parts = {key: total * weight // whole for key, weight in weights.items()}
    rest = total - sum(parts.values())
    by_remainder = sorted(weights, key=lambda key: -(total * weights[key] % whole))
    for key in by_remainder[:rest]:
        parts[key] += 1
    return parts


def _check_returned(piece: RackPiece, returned: Sequence[Measure], before: Length = ZERO) -> None:
    for length in returned:
        if length.length.nm <= 0:
            raise InputError(f"Length back is {length.text!r}; expected above zero.")
    total = _sum(length.length for length in returned) + before
    if total > piece.length:
        raise InputError(
            f"Piece {piece.code} is {piece.length.mm.normalize():f} mm long; "
            f"{total.mm.normalize():f} mm cannot come back from it.",
            hint="Measure the offcut again, or look whether the code is right.",
        )


def _shares(piece: RackPiece, job: Job) -> bool:
    return any(share.job_id == job.id for share in piece.shares)


def why_not_free(session: Session, piece: RackPiece) -> str:
    """What a piece is, when it cannot be taken: promised, used or scrapped."""
    owner_id = piece.promised_job_id or piece.used_job_id
    owner = session.get(Job, owner_id) if owner_id is not None else None
    if piece.state == "promised" and owner is not None:
        return f"Piece {piece.code} is promised to job {owner.number}."
    if piece.state == "used" and owner is not None:
        return f"Piece {piece.code} was used for job {owner.number}."
    return f"Piece {piece.code} is {piece.state}."


def _move(
    session: Session,
    piece: RackPiece,
    kind: str,
    *,
    job_id: int | None = None,
    length: Length | None = None,
    note: str = "",
) -> None:
    session.add(
        RackMove(piece_id=piece.id, kind=kind, job_id=job_id, at=clock.now(), length=length, note=note)
    )


def _sum(lengths: Iterable[Length]) -> Length:
    return Length(sum(length.nm for length in lengths))


def _today() -> date:
    return clock.now().date()
