"""The history: every entry is as it was put in, and none between two others is gone."""

from collections.abc import Iterator

from sqlalchemy.orm import Session

from shopquote.records.history import HistoryEntry
from shopquote.services.safe.checks.found import MOST_LINES, Found, in_blocks
from shopquote.services.shop.history import entry_seal


def history_is_unbroken(session: Session) -> Iterator[Found]:
    """Each entry's seal is that of the entry and of the seal before it; the last may be taken out unseen."""
    before, told = "", 0
    for entry in in_blocks(session, HistoryEntry):
        if entry.seal != entry_seal(before, entry) and told < MOST_LINES:
            told += 1
            yield Found(f"history entry {entry.id}: it, or the one before it, is not as it was put in")
        before = entry.seal
