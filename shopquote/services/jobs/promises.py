"""Rack pieces promised to a job, set free again: when a person asks, and when nothing more is cut for it."""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.records.jobs import Job
from shopquote.records.rack import RackMove, RackPiece
from shopquote.services.shop import clock


def promised_to(session: Session, job: Job) -> list[RackPiece]:
    """The pieces that are promised to a job."""
    return list(session.scalars(select(RackPiece).where(RackPiece.promised_job_id == job.id)))


def free_promised(session: Session, pieces: Iterable[RackPiece]) -> None:
    """Free promised pieces for other jobs and note it with each."""
    for piece in pieces:
        session.add(
            RackMove(
                piece_id=piece.id, kind="released", job_id=piece.promised_job_id, at=clock.now(), note=""
            )
        )
        piece.state = "free"
        piece.promised_job = None
        piece.promised_job_id = None
        piece.version += 1
        piece.shares.clear()
    session.flush()
