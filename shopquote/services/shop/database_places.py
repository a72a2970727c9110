"""Find a database from what a person typed: its URL, its name in messages, its folder of certificates."""

import os
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy import exc as sql_errors

from shopquote.errors import DatabaseError
from shopquote.files import data_folder
from shopquote.records.places import ENVIRONMENT_WORD, default_database_file


def database_url(text: str | None = None) -> URL:
    """The database's URL from `text`, else SHOPQUOTE_DB, else the file in the user's data folder.

    Raises:
        DatabaseError: not an address, or of a kind of database that is not supported.
    """
    given = text or os.environ.get(ENVIRONMENT_WORD) or None
    if given is None:
        return _file_url(default_database_file())
    if "://" not in given:
        return _file_url(Path(given))
    if given.startswith("postgres://"):
        given = given.replace("postgres://", "postgresql://", 1)
    try:
        url = make_url(given)
    except (sql_errors.ArgumentError, ValueError) as error:
        # The message does not repeat the address: it may contain a password.
        raise DatabaseError("What was given as database is no address of one.", hint=_HOW_TO_NAME) from error
    backend = url.get_backend_name()
    if backend == "postgresql":
        return url.set(drivername="postgresql+psycopg")
    if backend == "sqlite" and url.database not in (None, "", ":memory:"):
        return _file_url(Path(str(url.database)))
    raise DatabaseError(f"{name_of(url)} is not a database that can be used here.", hint=_HOW_TO_NAME)


_HOW_TO_NAME = "Name a file, such as shop.db, or a URL such as postgresql://user@host/shop."


# Parameters of a PostgreSQL URL that must not be shown.
_SECRETS = ("password", "passfile", "sslpassword", "sslkey")


def sqlite_path(url: URL) -> Path | None:
    """The file of a SQLite database; None for a server's database."""
    return Path(str(url.database)) if url.get_backend_name() == "sqlite" else None


def name_of(url: URL) -> str:
    """The database as messages name it: a path, or the URL without its password."""
    path = sqlite_path(url)
    if path is not None:
        return str(path)
    shown = url.difference_update_query(_SECRETS)
    return shown.render_as_string(hide_password=True).replace("+psycopg", "", 1)


def certificate_folder(url: URL) -> Path:
    """Folder of certificate files: beside a SQLite file; for a server, in the user's data folder."""
    path = sqlite_path(url)
    if path is not None:
        return path.with_name(f"{path.stem}.certificates")
    return data_folder() / f"{url.database}.certificates"


def _file_url(path: Path) -> URL:
    return URL.create("sqlite", database=str(path.expanduser().absolute()))
