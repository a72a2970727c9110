"""The history: every entry is as it was put in, and none between two others is gone."""

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.records.history import HistoryEntry
from shopquote.services.safe.checks.found import MOST_LINES, Found
from shopquote.services.shop.history import entry_seal

AT_ONCE = 1000


def history_is_unbroken(session: Session) -> Iterator[Found]:
    """Each entry's seal is that of the entry and of the seal before it; the last may be taken out unseen."""
    before, last, told = "", 0, 0
    while block := session.scalars(
        select(HistoryEntry).where(HistoryEntry.id > last).order_by(HistoryEntry.id).limit(AT_ONCE)
    ).all():
        for entry in block:
            if entry.seal != entry_seal(before, entry) and told < MOST_LINES:
                told += 1
                yield Found(f"history entry {entry.id}: it, or the one before it, is not as it was put in")
            before, last = entry.seal, entry.id
        session.expunge_all()
