"""The history: an entry for each change made by a command or on the page, which is never edited."""

from datetime import datetime

from sqlalchemy import DDL, Index, event
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.records.base import Base, one_of

DOORS = ("command", "page")


class HistoryEntry(Base):
    """One change: `what` tells it in words, `words` are the command as typed or the page's address.

    `job` is the number of the job concerned, kept even after the job is removed; "" for the shop's own
    lists. `seal` is the digest of this entry and the previous seal, so that an altered or deleted entry is
    noticed. Triggers refuse updates and deletions.
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


_REFUSAL = "entries of the history are never changed"
# Triggers, so that other programs on the database are refused too. SQLite and PostgreSQL write them
# differently.
_REFUSALS = {
    "sqlite": [
        f"CREATE TRIGGER history_no_{deed.lower()} BEFORE {deed} ON history "
        f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
        for deed in ("UPDATE", "DELETE")
    ],
    "postgresql": [
        "CREATE OR REPLACE FUNCTION refuse_history() RETURNS trigger AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$ LANGUAGE plpgsql",
        "CREATE TRIGGER history_is_kept BEFORE UPDATE OR DELETE ON history "
        "FOR EACH ROW EXECUTE FUNCTION refuse_history()",
    ],
}
for _dialect, _statements in _REFUSALS.items():
    for _statement in _statements:
        _ddl = DDL(_statement)  # type: ignore[no-untyped-call]
        event.listen(HistoryEntry.__table__, "after_create", _ddl.execute_if(dialect=_dialect))
