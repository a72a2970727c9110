"""Where migrations and sample jobs lie: beside the package in a checkout, inside it in an installed wheel."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def migrations_folder() -> Path:
    """Folder of the alembic environment."""
    return _data_folder("migrations")


def sample_jobs_folder() -> Path:
    """Folder of the sample jobs."""
    return _data_folder("sample_jobs")


def _data_folder(name: str) -> Path:
    installed = _PACKAGE / "_data" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name
