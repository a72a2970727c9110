"""Where files lie: migrations and sample jobs (in the checkout or a wheel), the usual database."""

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
    """The database file of a person who names none: in their own data folder."""
    return data_folder() / "shop.db"


def database_on_file(named: str | None) -> bool:
    """Whether there is a database to open, so that a command that can do without needs no table.

    One named with --db must be there; the one of SHOPQUOTE_DB may still have to be set up.
    """
    if named is not None:
        return True
    usual = os.environ.get(ENVIRONMENT_WORD) or str(default_database_file())
    return "://" in usual or Path(usual).exists()


def _data_folder(name: str) -> Path:
    installed = _PACKAGE / "_data" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name
