"""`shopquote db check --cure`: mend every fault that has one right answer, after a copy of the database."""

from datetime import date
from pathlib import Path

from sqlalchemy.orm import Session

from shopquote.errors import counted
from shopquote.services.safe.backup import back_up, copy_plainly, kept_name
from shopquote.services.safe.checks import CheckResult, cure, run_checks
from shopquote.services.safe.checks.days import bad_days
from shopquote.services.shop.clock import now
from shopquote.services.shop.database import Database
from shopquote.services.shop.database_places import certificate_folder, sqlite_path
from shopquote.services.shop.history import say


def cure_database(database: Database, day: date | None = None) -> tuple[tuple[CheckResult, ...], Path | None]:
    """Mend what has one right answer; returns the results of the checks afterwards and where the copy is.

    The copy is of the database before the cure; it is None, and nothing changes, where there is nothing to
    mend. `day` replaces days out of range for which no other column of the row gives the right one.

    Raises:
        DatabaseError: locked, unreachable, or it cannot be copied.
    """
    with database.reading() as session:
        results = run_checks(session, database.certificates)
        if not any(fault.cure for result in results for fault in result.found) and not (
            day is not None and bad_days(session, day)
        ):
            return results, None
    kept = _keep(database)
    with database.session() as session:
        if day is not None:
            _put_days(session, day)
        # After the days: checks that compare days would otherwise report the ones just replaced.
        results = cure(session, database.certificates)
        for text in (text for result in results for text in result.mended):
            say(session, f"cured: {text}")
        return results, kept


def _put_days(session: Session, day: date) -> None:
    # The check lists a limited number of rows at a time, so ask again until none is left.
    while found := bad_days(session, day):
        say(session, f"cured: {counted(len(found), 'impossible day')} set to {day}")
        for put in found:
            put(session)


def _keep(database: Database) -> Path:
    path = sqlite_path(database.url)
    if path is not None:
        kept = kept_name(path, "cure")
        copy_plainly(path, kept)
        return kept
    kept = kept_name(certificate_folder(database.url).with_suffix(".zip"), "cure")
    back_up(database.url.render_as_string(hide_password=False), kept, at=now())
    return kept
