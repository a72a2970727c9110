"""The automatic daily backup, written before the first change of a new day.

`NAME.backups/2026-03-09.zip` beside the database holds it as it was at the end of that day; for a PostgreSQL
database the folder lies in the user's data folder. The shop rule `backups_kept` says how many days are kept;
the first of each month is kept for a year besides. A backup is read back and its hashes compared before it
counts.
"""

import sys
from datetime import date, datetime, timedelta
from pathlib import Path

from sqlalchemy import select

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError, ShopquoteError, counted
from shopquote.reading.kinds import DAY, Notation
from shopquote.records.history import HistoryEntry
from shopquote.records.shop import Shop
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import Database
from shopquote.services.shop.database_places import certificate_folder, sqlite_path

# Days for which the first backup of each month stays: a mistake that shows in the year's accounts can still
# be looked up.
MONTHS_KEPT = 366
# Days of use without a daily backup after which a person is warned: something prevents them.
OLD_DAYS = 7


@dataclass(frozen=True)
class Copy:
    """A daily backup: its file and the day whose end it holds."""

    path: Path
    day: date

    def age(self, today: date) -> str:
        """The day and its age in words: `2026-03-09, 4 days ago`."""
        return f"{self.day}, {counted((today - self.day).days, 'day')} ago"


def copy_the_day_before(database: Database) -> None:
    """Before the first change of a day, back up the database as its last day of use left it.

    A failure is reported on stderr with the age of the newest backup; it never stops the change itself.
    """
    today = now().date()
    last = _last_day_of_use(database)
    if last is None or last >= today:
        return
    # Named by the day whose end it holds, so that only one process of the next day writes it.
    target = copies_folder(database) / f"{last.isoformat()}.zip"
    if target.exists():
        return
    with database.reading() as session:
        most = session.scalar(select(Shop.backups_kept))
    if not most:
        return
    # Imported here: it loads every check, which would slow each command for what happens once a day.
    from shopquote.services.safe.backup import back_up

    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        path = sqlite_path(database.url)
        # back_up opens the database anew: this session may be about to write.
        where = str(path) if path else database.url.render_as_string(hide_password=False)
        back_up(where, target, at=now())
        # Only after the new one is written: a failure must never leave fewer backups.
        _delete_old(copies(database), most)
    except (ShopquoteError, OSError) as error:
        held = copies(database)
        newest = f"the newest is of {held[-1].age(today)}" if held else "there is none yet"
        print(f"shopquote: no copy of {last} could be kept: {error}; {newest}.", file=sys.stderr)


def copies_folder(database: Database) -> Path:
    """The folder of the daily backups."""
    beside = certificate_folder(database.url)
    return beside.with_name(f"{beside.name.removesuffix('.certificates')}.backups")


def copies(database: Database) -> list[Copy]:
    """The daily backups in the folder, oldest first."""
    found = []
    for path in copies_folder(database).glob("????-??-??.zip"):
        try:
            found.append(Copy(path, DAY.read(path.stem, Notation())))
        except InputError:
            continue  # 2026-99-99.zip: not written by this program, so never deleted by it either
    return sorted(found, key=lambda copy: copy.day)


def warning_of_old_copy(database: Database) -> str:
    """A warning if the newest daily backup is over OLD_DAYS older than the last day of use; else empty."""
    held, today = copies(database), now().date()
    last = _last_day_of_use(database)
    newest = held[-1] if held else None
    if newest is None and last == today:
        return ""  # the first day of use: its backup is due before tomorrow's first change
    if last is None or (newest is not None and (last - newest.day).days <= OLD_DAYS):
        return ""
    if newest is None:
        return "There is no copy of a day of use yet; make one: shopquote db backup"
    return f"The newest copy of a day of use is of {newest.age(today)}; make one: shopquote db backup"


def _delete_old(held: list[Copy], most: int) -> None:
    """Delete all but the newest `most` daily backups and the first of each month of the last year."""
    if not held:
        return
    oldest = held[-1].day - timedelta(days=MONTHS_KEPT)
    # Newest to oldest: for each month the earliest day is written last, and so is the one that stays.
    firsts = {(copy.day.year, copy.day.month): copy for copy in reversed(held) if copy.day >= oldest}
    for copy in held[:-most]:
        if copy not in firsts.values():
            copy.path.unlink(missing_ok=True)


def _last_day_of_use(database: Database) -> date | None:
    """The day on which the database was last written; None if never."""
    path = sqlite_path(database.url)
    if path is None:
        with database.reading() as session:
            at = session.scalar(select(HistoryEntry.at).order_by(HistoryEntry.id.desc()).limit(1))
        return None if at is None else at.astimezone().date()
    files = [path, path.with_name(path.name + "-wal")]
    # An empty write-ahead log is made by reading too: only one with content means a change.
    times = [file.stat().st_mtime for file in files if file.exists() and file.stat().st_size]
    return datetime.fromtimestamp(max(times)).astimezone().date() if times else None
