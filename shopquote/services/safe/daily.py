"""A copy of every day of use, without a thought: made before the first change of the next day.

`NAME.backups/2026-03-09.zip` beside the database is it as it stood at the end of that day; a server's lie
in the person's data folder. As many days are kept as the house rule `backups_kept` says, besides the
first of each month for a year. A copy is read again and its hashes compared before it counts.
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

# Days: a mistake that the year's accounts bring up can still be looked at.
MONTHS_KEPT = 366
# A week without a copy while the shop works: something stands in the way of making them.
OLD_DAYS = 7


@dataclass(frozen=True)
class Copy:
    """A copy of a day of use."""

    path: Path
    day: date

    def told(self, today: date) -> str:
        """The day and how long ago it is."""
        return f"{self.day}, {counted((today - self.day).days, 'day')} ago"


def copy_the_day_before(database: Database) -> None:
    """Before the first change of a day: keep the database as its last day of use left it.

    What stands in the way is said on stderr, with the age of the newest copy; it stops nobody's work.
    """
    today = now().date()
    last = _last_day_of_use(database)
    if last is None or last >= today:
        return
    target = copies_folder(database) / f"{last.isoformat()}.zip"
    if target.exists():
        return
    with database.reading() as session:
        most = session.scalar(select(Shop.backups_kept))
    if not most:
        return
    from shopquote.services.safe.backup import back_up  # of every check: slow, and wanted once a day

    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        path = sqlite_path(database.url)
        where = str(path) if path else database.url.render_as_string(hide_password=False)
        back_up(where, target, at=now())
        _let_go(copies(database), most)
    except (ShopquoteError, OSError) as error:
        held = copies(database)
        newest = f"the newest is of {held[-1].told(today)}" if held else "there is none yet"
        print(f"shopquote: no copy of {last} could be kept: {error}; {newest}.", file=sys.stderr)


def copies_folder(database: Database) -> Path:
    """Where the copies lie."""
    beside = certificate_folder(database.url)
    return beside.with_name(f"{beside.name.removesuffix('.certificates')}.backups")


def copies(database: Database) -> list[Copy]:
    """The copies that are there, oldest first."""
    found = []
    for path in copies_folder(database).glob("????-??-??.zip"):
        try:
            found.append(Copy(path, DAY.read(path.stem, Notation())))
        except InputError:
            continue  # somebody's own file
    return sorted(found, key=lambda copy: copy.day)


def age_told(database: Database) -> str:
    """What a person should know of the newest copy; empty where it is young or nothing was used since."""
    held, today = copies(database), now().date()
    last = _last_day_of_use(database)
    newest = held[-1] if held else None
    if newest is None and last == today:
        return ""  # it may be the first day of all
    if last is None or (newest is not None and (last - newest.day).days <= OLD_DAYS):
        return ""
    if newest is None:
        return "There is no copy of a day of use yet; make one: shopquote db backup"
    return f"The newest copy of a day of use is of {newest.told(today)}; make one: shopquote db backup"


def _let_go(held: list[Copy], most: int) -> None:
    """Take away what is older than the newest `most`, but for the first of each month for a year."""
    if not held:
        return
    oldest = held[-1].day - timedelta(days=MONTHS_KEPT)
    # Backwards: of several days of a month the first is put in last, and stays.
    firsts = {(copy.day.year, copy.day.month): copy for copy in reversed(held) if copy.day >= oldest}
    for copy in held[:-most]:
        if copy not in firsts.values():
            copy.path.unlink(missing_ok=True)


def _last_day_of_use(database: Database) -> date | None:
    """On which day the database was last written; None where it never was."""
    path = sqlite_path(database.url)
    if path is None:
        with database.reading() as session:
            at = session.scalar(select(HistoryEntry.at).order_by(HistoryEntry.id.desc()).limit(1))
        return None if at is None else at.astimezone().date()
    files = [path, path.with_name(path.name + "-wal")]
    times = [file.stat().st_mtime for file in files if file.exists() and file.stat().st_size]
    return datetime.fromtimestamp(max(times)).astimezone().date() if times else None
