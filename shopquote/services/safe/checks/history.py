"""The history of changes: no entry was altered, and none between two others was deleted."""

from collections.abc import Iterator

from sqlalchemy.orm import Session

from shopquote.records.history import HistoryEntry
from shopquote.services.safe.checks.found import MOST_LINES, Found, in_blocks
from shopquote.services.shop.history import entry_seal


def history_is_unbroken(session: Session) -> Iterator[Found]:
    """Each entry's seal is the hash of the entry and of the seal before it.

    Deleting the last entries cannot be noticed: no seal comes after them.
    """
    before, listed = "", 0
    for entry in in_blocks(session, HistoryEntry):
        if entry.seal != entry_seal(before, entry) and listed < MOST_LINES:
            listed += 1
            yield Found(f"history entry {entry.id}: it, or the one before it, is not as it was put in")
        before = entry.seal
