"""Prices that are being typed, kept as typed: nothing is lost when a machine dies. Times are handed in."""

import secrets
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.records.page import TypedDraft
from shopquote.services.jobs.jobs import find_job

MOST_DRAFTS = 200  # the oldest go
# As many as the page's form may have: what can be typed can be kept.
MOST_FIELDS = 40_000
LONGEST_TITLE = 200

Fields = Sequence[tuple[str, str]]


def new_draft(session: Session, fields: Fields, *, title: str, at: datetime, revises: str = "") -> TypedDraft:
    """Begin a draft; `revises` is the job whose next revision it is to be.

    Raises:
        NotFoundError: no such job.
    """
    job = find_job(session, revises) if revises else None
    draft = TypedDraft(
        word=secrets.token_urlsafe(9), changed_at=at, version=1, revises_id=job.id if job else None
    )
    _fill(draft, fields, title)
    session.add(draft)
    session.flush()
    # Drafts that nobody took up again for 200 others; a bound keeps the file small without a clock.
    for old in session.scalars(select(TypedDraft).order_by(TypedDraft.changed_at.desc()).offset(MOST_DRAFTS)):
        session.delete(old)
    return draft


def find_draft(session: Session, word: str) -> TypedDraft:
    """A draft by its word.

    Raises:
        NotFoundError: no such draft; it became a job, or was thrown away.
    """
    draft = session.scalar(select(TypedDraft).where(TypedDraft.word == word))
    if draft is None:
        raise NotFoundError("This draft is not kept any more: it became a job, or was thrown away.")
    return draft


def keep_draft(
    session: Session, word: str, version: int, fields: Fields, *, title: str, at: datetime
) -> TypedDraft:
    """Keep what is typed, whatever it is.

    Raises:
        NotFoundError: no such draft.
        InputError: it was changed in another window since `version`.
    """
    draft = find_draft(session, word)
    # Two windows on one draft: the later keystroke must not silently take the other's work away.
    if draft.version != version:
        raise InputError(
            "This draft was changed in another window meanwhile; what you typed stands here still.",
            hint="Load the page again to see the other, or go on with a new draft.",
        )
    _fill(draft, fields, title)
    draft.version, draft.changed_at = version + 1, at
    session.flush()
    return draft


def drop_draft(session: Session, word: str) -> None:
    """Throw a draft away; nothing happens where it is gone already."""
    draft = session.scalar(select(TypedDraft).where(TypedDraft.word == word))
    if draft is not None:
        session.delete(draft)


def list_drafts(session: Session, most: int = 10) -> Sequence[TypedDraft]:
    """The drafts, the one changed last first."""
    return session.scalars(select(TypedDraft).order_by(TypedDraft.changed_at.desc()).limit(most)).all()


def _fill(draft: TypedDraft, fields: Fields, title: str) -> None:
    if len(fields) > MOST_FIELDS:
        raise InputError(f"{len(fields):,} fields; at most {MOST_FIELDS:,} are kept in a draft.")
    draft.fields = [[name, value] for name, value in fields]
    draft.title = " ".join(title.split())[:LONGEST_TITLE]
