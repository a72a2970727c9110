"""Prices being typed on the page, stored at each pause, so that nothing is lost when a machine dies."""

import secrets
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.records.page import TypedDraft
from shopquote.services.jobs.jobs import find_job

# Drafts stored; beyond this those changed longest ago are deleted.
MOST_DRAFTS = 200
# Equal to the most fields that the page's form accepts: whatever can be typed can be stored.
MOST_FIELDS = 40_000
LONGEST_TITLE = 200

Fields = Sequence[tuple[str, str]]


def new_draft(session: Session, fields: Fields, *, title: str, at: datetime, revises: str = "") -> TypedDraft:
    """Begin a draft; `revises` is the number of a job whose next revision it will be.

    Raises:
        NotFoundError: no such job.
        InputError: more fields than a draft holds.
    """
    job = find_job(session, revises) if revises else None
    draft = TypedDraft(
        word=secrets.token_urlsafe(9), changed_at=at, version=1, revises_id=job.id if job else None
    )
    _fill(draft, fields, title)
    session.add(draft)
    session.flush()
    # Bounded by number, not by age: what is deleted does not depend on a clock.
    for old in session.scalars(select(TypedDraft).order_by(TypedDraft.changed_at.desc()).offset(MOST_DRAFTS)):
        session.delete(old)
    return draft


def find_draft(session: Session, word: str) -> TypedDraft:
    """The draft with this random word, which its address on the page contains.

    Raises:
        NotFoundError: no such draft; it became a job, or was discarded.
    """
    draft = session.scalar(select(TypedDraft).where(TypedDraft.word == word))
    if draft is None:
        raise NotFoundError("This draft is not kept any more: it became a job, or was discarded.")
    return draft


def keep_draft(
    session: Session, word: str, version: int, fields: Fields, *, title: str, at: datetime
) -> TypedDraft:
    """Store the fields as typed, without checking them.

    Raises:
        NotFoundError: no such draft.
        InputError: it was changed in another window since `version`, or has too many fields.
    """
    draft = find_draft(session, word)
    # Optimistic lock: of two windows on one draft, the later one must not overwrite the other's work unseen.
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
    """Delete a draft; nothing happens if it is gone already."""
    draft = session.scalar(select(TypedDraft).where(TypedDraft.word == word))
    if draft is not None:
        session.delete(draft)


def list_drafts(session: Session, most: int = 10) -> Sequence[TypedDraft]:
    """The drafts changed most recently, newest first."""
    return session.scalars(select(TypedDraft).order_by(TypedDraft.changed_at.desc()).limit(most)).all()


def _fill(draft: TypedDraft, fields: Fields, title: str) -> None:
    if len(fields) > MOST_FIELDS:
        raise InputError(f"{len(fields):,} fields; at most {MOST_FIELDS:,} are kept in a draft.")
    draft.fields = [[name, value] for name, value in fields]
    draft.title = " ".join(title.split())[:LONGEST_TITLE]
