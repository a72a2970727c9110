"""The rack: every piece has one state and one promise, and every bar is accounted for until it is used."""

from collections.abc import Iterator

from sqlalchemy import and_, case, exists, func, or_, select
from sqlalchemy.orm import Session, aliased

from shopquote.calc.units import Length
from shopquote.errors import counted
from shopquote.records.jobs import Job
from shopquote.records.orders import ReceivedBar
from shopquote.records.rack import BarUse, RackMove, RackPiece, RackPieceJob
from shopquote.services.jobs.job_states import STATES_ENDED
from shopquote.services.rack.heats import HEAT_MENDED
from shopquote.services.safe.checks.found import MOST_LINES, Found, put

# Moves by which a piece comes onto the rack, and those whose lengths add up to its length.
COMING_MOVES = ("added", "received", "returned")
LENGTH_MOVES = (*COMING_MOVES, "measured")


def pieces_are_promised_once(session: Session) -> Iterator[Found]:
    """A code is on one piece; only open jobs hold promises; state and promise agree."""
    twice = select(RackPiece.code).group_by(RackPiece.code).having(func.count() > 1).limit(MOST_LINES)
    for code in session.scalars(twice):
        yield Found(f"rack code {code} is on two pieces")
    ended = (
        select(RackPiece.id, RackPiece.code, Job.number, Job.state)
        .join(Job, Job.id == RackPiece.promised_job_id)
        .where(Job.state.in_(STATES_ENDED))
        .limit(MOST_LINES)
    )
    for row, code, number, state in session.execute(ended).all():
        yield Found(
            f"rack piece {code} is still promised to job {number}, which is {state}",
            put(RackPiece, row, state="free", promised_job_id=None),
            "it is free",
        )
    wrong = (
        select(RackPiece.id, RackPiece.code, RackPiece.state)
        .where((RackPiece.state == "promised") != RackPiece.promised_job_id.is_not(None))
        .limit(MOST_LINES)
    )
    for row, code, state in session.execute(wrong).all():
        text = f"rack piece {code} is {state}, yet its promise says otherwise"
        if state == "promised":
            yield Found(text, put(RackPiece, row, state="free"), "promised to nobody, it is free")
        elif state == "free":
            yield Found(text, put(RackPiece, row, state="promised"), "it is promised")
        else:
            yield Found(text, put(RackPiece, row, promised_job_id=None), f"it is {state}, promised to nobody")
    yield from _used_for_a_job(session)
    yield from _shares_as_planned(session)


def _used_for_a_job(session: Session) -> Iterator[Found]:
    wrong = (
        select(RackPiece.code, RackPiece.state)
        .where((RackPiece.state == "used") != RackPiece.used_job_id.is_not(None))
        .limit(MOST_LINES)
    )
    for code, state in session.execute(wrong):
        yield Found(f"rack piece {code} is {state}, and the job it was used for says otherwise")


def _shares_as_planned(session: Session) -> Iterator[Found]:
    """A job's share of a piece is as long as the cuts that are planned from it for the job."""
    rows = session.execute(
        select(RackPieceJob.id, RackPieceJob.length, RackPieceJob.pieces, RackPiece.code).join(
            RackPiece, RackPiece.id == RackPieceJob.rack_piece_id
        )
    )
    wrong: list[tuple[int, str, Length]] = []
    for row, length, pieces, code in rows:
        planned = Length(sum(nm * count for _, nm, count in pieces))
        if pieces and planned != length and len(wrong) < MOST_LINES:
            wrong.append((row, code, planned))
    for row, code, planned in wrong:
        yield Found(
            f"rack piece {code}: a share of it is not as long as what is to be cut for it",
            put(RackPieceJob, row, length=planned),
            f"it is {planned.mm.normalize():f} mm",
        )


def deliveries_lie_on_the_rack(session: Session) -> Iterator[Found]:
    """Every bar delivered became one rack piece, and no piece was used before it came."""
    pieces = (
        select(RackPiece.received_bar_id, func.count().label("pieces"))
        .where(RackPiece.parent_id.is_(None), RackPiece.received_bar_id.is_not(None))
        .group_by(RackPiece.received_bar_id)
        .subquery()
    )
    found = func.coalesce(pieces.c.pieces, 0)
    missing = (
        select(ReceivedBar.id, ReceivedBar.section_text, ReceivedBar.count, found)
        .outerjoin(pieces, pieces.c.received_bar_id == ReceivedBar.id)
        .where(found != ReceivedBar.count)
        .limit(MOST_LINES)
    )
    for row, section, count, there in session.execute(missing):
        arrived = f"{counted(count, 'bar')} arrived"
        yield Found(f"delivery row {row}, {section}: {arrived}, {there} became rack pieces")
    came, used = aliased(RackMove), aliased(RackMove)
    early = (
        select(RackPiece.code, used.at, came.at)
        .join(came, and_(came.piece_id == RackPiece.id, came.kind.in_(COMING_MOVES)))
        .join(used, and_(used.piece_id == RackPiece.id, used.kind == "used"))
        # By id, not by time: a clock that was set back is no fault of the rack.
        .where(used.id < came.id)
        .limit(MOST_LINES)
    )
    for code, used_at, came_at in session.execute(early):
        yield Found(f"rack piece {code} was used at {used_at}, before it came at {came_at}")


def bar_is_accounted_for(session: Session) -> Iterator[Found]:
    """Mass balance: all bar that came is on the rack, scrapped or used, and what was used is charged to jobs.

    Piece by piece: its moves add up to its length; the pieces cut from it are together not longer; a used
    piece is charged with its whole length and cost, less the offcuts that came back.
    """
    yield from _moves_and_lengths(session)
    yield from _offcuts_and_bars(session)
    yield from _uses_and_pieces(session)


def _moves_and_lengths(session: Session) -> Iterator[Found]:
    moved = (
        select(
            RackMove.piece_id,
            func.sum(case((RackMove.kind.in_(LENGTH_MOVES), RackMove.length), else_=None)).label("length"),
            func.sum(case((RackMove.kind.in_(COMING_MOVES), 1), else_=0)).label("came"),
            func.sum(case((RackMove.kind == "used", 1), (RackMove.kind == "taken back", -1), else_=0)).label(
                "used"
            ),
        )
        .group_by(RackMove.piece_id)
        .subquery()
    )
    # coalesce: a piece without any move has no row in the sums.
    came, used = func.coalesce(moved.c.came, 0), func.coalesce(moved.c.used, 0)
    wrong = (
        select(RackPiece.code, RackPiece.state, RackPiece.length, moved.c.length, came, used)
        .outerjoin(moved, moved.c.piece_id == RackPiece.id)
        .where(
            or_(
                came != 1,
                moved.c.length != RackPiece.length,
                used != case((RackPiece.state == "used", 1), else_=0),
            )
        )
        .limit(MOST_LINES)
    )
    for code, state, length, added_up, times_came, times_used in session.execute(wrong):
        moves = "nothing" if added_up is None else f"{added_up.mm.normalize():f} mm"
        yield Found(
            f"rack piece {code} is {state} and {length.mm.normalize():f} mm long; its moves say {moves}, "
            f"came {times_came} times, used {times_used} times"
        )


def _offcuts_and_bars(session: Session) -> Iterator[Found]:
    offcut, bar = aliased(RackPiece), aliased(RackPiece)
    total = func.sum(offcut.length)
    rows = session.execute(
        select(bar.code, bar.state, bar.length, total)
        .join(offcut, offcut.parent_id == bar.id)
        .group_by(bar.id, bar.code, bar.state, bar.length)
        .having(or_(total > bar.length, bar.state != "used"))
        .limit(MOST_LINES)
    )
    for code, state, length, cut in rows:
        yield Found(
            f"rack piece {code}, {state}, {length.mm.normalize():f} mm: "
            f"{cut.mm.normalize():f} mm of offcuts were cut from it"
        )


def _uses_and_pieces(session: Session) -> Iterator[Found]:
    back = (
        select(RackPiece.parent_id, func.sum(RackPiece.length).label("length"))
        .where(RackPiece.parent_id.is_not(None))
        .group_by(RackPiece.parent_id)
        .subquery()
    )
    uses = (
        select(
            BarUse.rack_piece_id,
            func.sum(BarUse.length * BarUse.count).label("length"),
            func.sum(BarUse.cost).label("cost"),
            func.sum(BarUse.returned).label("back"),
        )
        .where(BarUse.rack_piece_id.is_not(None))
        .group_by(BarUse.rack_piece_id)
        .subquery()
    )
    rows = session.execute(
        select(RackPiece.code, RackPiece.state)
        .outerjoin(uses, uses.c.rack_piece_id == RackPiece.id)
        .outerjoin(back, back.c.parent_id == RackPiece.id)
        .where(
            or_(
                and_(RackPiece.state != "used", uses.c.rack_piece_id.is_not(None)),
                and_(
                    RackPiece.state == "used",
                    or_(
                        uses.c.rack_piece_id.is_(None),
                        uses.c.length != RackPiece.length,
                        uses.c.cost != RackPiece.cost,
                        func.coalesce(uses.c.back, 0) != func.coalesce(back.c.length, 0),
                    ),
                ),
            )
        )
        .limit(MOST_LINES)
    )
    for code, state in rows:
        yield Found(f"rack piece {code} is {state}; what its jobs were charged for it does not agree")


def heats_run_along_cuts(session: Session) -> Iterator[Found]:
    """An offcut has the heat, section, grade and delivery of the bar it was cut from, and a bar those of its
    delivery row.
    """
    bar = aliased(RackPiece)
    cut = (
        select(
            RackPiece.id, RackPiece.code, RackPiece.section_key, RackPiece.grade, RackPiece.heat,
            RackPiece.received_bar_id, bar.section_key, bar.grade, bar.heat, bar.received_bar_id, bar.code,
        )
        .join(bar, bar.id == RackPiece.parent_id)
        .where(
            or_(
                bar.section_key != RackPiece.section_key, bar.grade != RackPiece.grade,
                bar.heat != RackPiece.heat,
                # In SQL null is not equal to null: every bar without a delivery would be a fault.
                func.coalesce(bar.received_bar_id, 0) != func.coalesce(RackPiece.received_bar_id, 0),
            )
        )
        .limit(MOST_LINES)
    )  # fmt: skip
    # A corrected heat is on the pieces alone; the delivery row keeps the one typed at receipt.
    mended = exists().where(RackMove.piece_id == RackPiece.id, RackMove.kind == HEAT_MENDED)
    heat = case((mended, RackPiece.heat), else_=ReceivedBar.heat)
    came = (
        select(
            RackPiece.id, RackPiece.code, RackPiece.section_key, RackPiece.grade, RackPiece.heat,
            RackPiece.received_bar_id, ReceivedBar.section_key, ReceivedBar.grade, heat,
            ReceivedBar.id, ReceivedBar.id,
        )
        .join(ReceivedBar, ReceivedBar.id == RackPiece.received_bar_id)
        .where(
            RackPiece.parent_id.is_(None),
            or_(
                ReceivedBar.section_key != RackPiece.section_key, ReceivedBar.grade != RackPiece.grade,
                heat != RackPiece.heat,
            ),
        )
        .limit(MOST_LINES)
    )  # fmt: skip
    # Bars first: a cure of their offcuts takes its values from them.
    for query, whence in ((came, "delivery row"), (cut, "rack piece")):
        for row, code, *values, origin in session.execute(query).all():
            names = ("section_key", "grade", "heat", "received_bar_id")
            right = dict(zip(names, values[4:], strict=True))
            other = [name for name, value in zip(names, values, strict=False) if value != right[name]]
            yield Found(
                f"rack piece {code} and {whence} {origin} that it comes from differ in {', '.join(other)}",
                put(RackPiece, row, **right),
                f"it is as {whence} {origin}",
            )
