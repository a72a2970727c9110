"""Find, list and value pieces on the rack, and offer old or short ones for scrap."""

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.kinds import HEAT, Notation, name_key, word_typed
from shopquote.reading.kinds.documents import document_number
from shopquote.records.rack import RACK_STATES, RackPiece
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import grade_on_file

# States of a piece that lies on the rack.
LIVE = ("free", "promised")


@dataclass(frozen=True, slots=True)
class RackValue:
    """Number, total length and cost of pieces on the rack with one section, grade and state."""

    section: str
    grade: str
    state: str
    pieces: int
    length: Length
    cost: Decimal


def walk_key(place: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key of a place in walking order: numbers by value, so that bay 2 precedes bay 10; no place last.

    >>> sorted(["bay 10", "", "bay 2", "A1"], key=walk_key)
    ['A1', 'bay 2', 'bay 10', '']
    """
    words = re.findall(r"\d+|\D+", place.strip().lower())
    return tuple((0, int(w), "") if w.isascii() and w.isdigit() else (1, 0, w) for w in words) or (
        (2, 0, ""),
    )


def place_on_file(session: Session, typed: str) -> str:
    """A place in its spelling on the rack, whatever its case and blanks; a new one as typed."""
    # Read once per session: a stocktake looks up thousands of places.
    known = session.info.get("places on the rack")
    if known is None:
        rows = session.scalars(select(RackPiece.place).distinct().order_by(RackPiece.place))
        known = session.info["places on the rack"] = {name_key(place): place for place in rows}
    place: str = known.setdefault(name_key(typed), typed.strip())
    return place


def find_piece(session: Session, code: str) -> RackPiece:
    """The piece with a code, as R-0007, r-7 or 7; blanks, as scanners add, do not matter.

    Raises:
        NotFoundError: no such piece.
    """
    piece = session.scalar(select(RackPiece).where(RackPiece.code == document_number(code, "R")))
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
    """Pieces that meet all conditions given, by section, grade and length, longest first.

    Raises:
        NotFoundError: no such grade or job.
        InputError: not a heat number.
    """
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


def rack_value(session: Session) -> tuple[RackValue, ...]:
    """What lies on the rack and its cost, by section, grade and state."""
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
    """Free pieces made before a day or shorter than a length, to offer for scrap; nothing is changed."""
    if made_before is None and shorter_than is None:
        return ()
    query = select(RackPiece).where(RackPiece.state == "free")
    old = RackPiece.made_on < made_before if made_before is not None else None
    short = RackPiece.length < shorter_than if shorter_than is not None else None
    wanted = [test for test in (old, short) if test is not None]
    query = query.where(wanted[0] if len(wanted) == 1 else wanted[0] | wanted[1])
    return tuple(session.scalars(query.order_by(RackPiece.section_key, RackPiece.length, RackPiece.code)))


def read_state(word: str) -> str:
    """The state of a piece that a typed word names.

    Raises:
        InputError: no such state; the message names the nearest.
    """
    return word_typed("State", RACK_STATES, word)


def pieces_by_code(session: Session, codes: Sequence[str]) -> tuple[RackPiece, ...]:
    """Pieces on the rack by their codes, in that order; without codes, all of them.

    Raises:
        InputError: no piece on the rack has one of the codes.
    """
    if not codes:
        return list_pieces(session)
    wanted = [document_number(code, "R") for code in codes]
    query = select(RackPiece).where(RackPiece.code.in_(wanted), RackPiece.state.in_(LIVE))
    there = {piece.code: piece for piece in session.scalars(query)}
    missing = [code for code in wanted if code not in there]
    if missing:
        raise InputError(f"Not on the rack: {', '.join(missing[:10])}.", hint="See: shopquote rack list")
    return tuple(there[code] for code in wanted)
