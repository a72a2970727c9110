"""Paths: of migrations and sample jobs (in the checkout or an installed wheel), and of the usual database."""

import os
from pathlib import Path

from shopquote.files import data_folder

ENVIRONMENT_WORD = "SHOPQUOTE_DB"
_PACKAGE = Path(__file__).resolve().parents[1]


def migrations_folder() -> Path:
    """Folder of the alembic environment."""
    return _data_folder("migrations")


def sample_jobs_folder() -> Path:
    """Folder of the sample jobs."""
    return _data_folder("sample_jobs")


def default_database_file() -> Path:
    """The database file used where none is named: in the person's data folder."""
    return data_folder() / "shop.db"


def database_on_file(named: str | None) -> bool:
    """Whether a command that can work without a database has one to open; `named` is the option --db.

    True for any named one, so that opening it reports a missing file. Otherwise the file of SHOPQUOTE_DB or
    the default one must exist; whether a shop was set up in it is not looked at.
    """
    if named is not None:
        return True
    usual = os.environ.get(ENVIRONMENT_WORD) or str(default_database_file())
    return "://" in usual or Path(usual).exists()


def _data_folder(name: str) -> Path:
    installed = _PACKAGE / "_data" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name
