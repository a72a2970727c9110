"""Who did what: one entry for each thing that a command or the page changed, never edited."""

from datetime import datetime

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, one_of

DOORS = ("command", "page")


class HistoryEntry(Base):
    """One change in words. `words` are the command as typed, or the page's address.

    `job` is the number of the job that it is about, kept even where the job was taken off file; empty for
    the shop's own lists. `seal` is the digest of the entry and of the seal before it: an entry that was
    altered or taken out shows. The database refuses to change or take out entries.
    """

    __tablename__ = "history"
    __table_args__ = (one_of("door", DOORS), Index("ix_history_job", "job"))

    at: Mapped[datetime]
    door: Mapped[str]
    who: Mapped[str]
    words: Mapped[str]
    job: Mapped[str] = mapped_column(default="")
    what: Mapped[str]
    seal: Mapped[str]
