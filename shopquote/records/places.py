"""Where files lie: migrations and sample jobs (beside the package or inside a wheel), the usual database."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def migrations_folder() -> Path:
    """Folder of the alembic environment."""
    return _data_folder("migrations")


def sample_jobs_folder() -> Path:
    """Folder of the sample jobs."""
    return _data_folder("sample_jobs")


def default_database_file() -> Path:
    """The database file of a person who names none: in their own data folder."""
    from platformdirs import user_data_path

    return user_data_path("shopquote", appauthor=False) / "shop.db"


def _data_folder(name: str) -> Path:
    installed = _PACKAGE / "_data" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name
