"""Errors of database drivers as a `DatabaseError` that says what to do. Begin at `driver_errors_in_words`."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import URL
from sqlalchemy import exc as sql_errors

from shopquote.errors import DatabaseError
from shopquote.files import disk_told
from shopquote.records.engine import finds_no_room
from shopquote.services.shop.database_places import name_of, sqlite_path


class NoRoomError(DatabaseError):
    """A SQLite database whose disk is full or whose folder cannot be written; it may still be read."""


@contextmanager
def driver_errors_in_words(url: URL) -> Iterator[None]:
    """Turn database drivers' errors into a `DatabaseError` that says what to do."""
    try:
        yield
    except sql_errors.NoSuchModuleError as error:
        raise DatabaseError(f"{name_of(url)}: {error}.") from error
    except (sql_errors.OperationalError, sql_errors.InterfaceError) as error:
        raise _plain_error(url, error) from error
    except sql_errors.DatabaseError as error:
        if type(error) is not sql_errors.DatabaseError:
            raise  # subclasses, such as a broken constraint, are faults of the program: keep the traceback
        raise _plain_error(url, error) from error
    except ModuleNotFoundError as error:
        if error.name != "psycopg":
            raise
        raise DatabaseError(
            "PostgreSQL needs the psycopg driver, which is not installed.",
            hint='Install it: pip install "shopquote[postgresql]"',
        ) from error


def _plain_error(url: URL, error: sql_errors.DBAPIError) -> DatabaseError:
    name = name_of(url)
    said = " ".join(str(error.orig).split()).rstrip(".?")
    lowered = said.lower()
    if "locked" in lowered or "lock timeout" in lowered:
        return DatabaseError(
            f"The database {name} is locked: another program is writing to it.",
            hint="Wait until it is done and run the command again; nothing was stored.",
        )
    if "not a database" in lowered or "malformed" in lowered:
        return DatabaseError(
            f"{name} is damaged or not a database: {said}.",
            hint=f"Restore a backup; this file is kept: shopquote db restore BACKUP --replace --db {name}",
        )
    if finds_no_room(error.orig):
        path = sqlite_path(url)
        disk = "its disk is the server's" if path is None else disk_told(path)
        return (DatabaseError if path is None else NoRoomError)(
            f"The database {name} cannot be written: {said}; {disk}.",
            hint="Make room there and run the command again; nothing was stored. Reading still works.",
        )
    if "unable to open" in lowered or "readonly" in lowered:
        return (DatabaseError if sqlite_path(url) is None else NoRoomError)(
            f"The database {name} cannot be opened for writing: {said}."
        )
    if "no such table" in lowered or "no such column" in lowered:
        return DatabaseError(
            f"The database {name} lacks a table or column: {said}.", hint="See: shopquote db check"
        )
    return DatabaseError(f"The database {name} cannot be used: {said}.")
