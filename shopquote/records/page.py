"""Tables of the page: devices that were let in, drafts of prices, entries from the floor."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, LargeBinary
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.records.base import Base, at_least, one_of
from shopquote.records.jobs import Job
from shopquote.records.logs import ScrapNote, TimeEntry

DEVICE_ROLES = ("office", "floor")
ENTRY_KINDS = ("start", "stop", "sawn", "photo")


class Device(Base):
    """A browser that was let in until `ends_at`. `token_hash` is the SHA-256 of the token in its cookie."""

    __tablename__ = "devices"
    __table_args__ = (one_of("role", DEVICE_ROLES),)

    token_hash: Mapped[str] = mapped_column(unique=True)
    name: Mapped[str]
    role: Mapped[str]
    let_in_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    ends_at: Mapped[datetime]


class TypedDraft(Base):
    """A price being typed. `word` is its place in the address.

    `fields` is a list of names and texts as the page sends them, unchecked. `version` counts its changes.
    `revises` is the job whose next revision it will be.
    """

    __tablename__ = "drafts"
    __table_args__ = (at_least("version", 1), Index("ix_drafts_changed_at", "changed_at"))

    word: Mapped[str] = mapped_column(unique=True)
    title: Mapped[str] = mapped_column(default="")
    fields: Mapped[list[Any]] = mapped_column(JSON, default=list)
    version: Mapped[int] = mapped_column(default=1)
    changed_at: Mapped[datetime]
    revises_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id", ondelete="SET NULL"), index=True)

    revises: Mapped[Job | None] = relationship()


class FloorEntry(Base):
    """One entry from the floor. The device makes its `key`, so that an entry sent twice counts once.

    `content` is what was sent, `answer` the text that was answered; `mended` is the reason of a correction.
    """

    __tablename__ = "floor_entries"
    __table_args__ = (
        one_of("kind", ENTRY_KINDS),
        Index("ix_floor_entries_person_entered_at", "person", "entered_at"),
    )

    key: Mapped[str] = mapped_column(unique=True)
    kind: Mapped[str]
    person: Mapped[str]
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    mark: Mapped[str] = mapped_column(default="")
    entered_at: Mapped[datetime]
    content: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    answer: Mapped[str] = mapped_column(default="")
    mended: Mapped[str] = mapped_column(default="")
    photo: Mapped[bytes | None] = mapped_column(LargeBinary)

    job: Mapped[Job] = relationship()


# Columns that hold the name of who worked, whether or not that person is on the list of people.
WHO_WORKED = (TimeEntry.person, ScrapNote.person, FloorEntry.person)
