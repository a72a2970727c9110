"""Draft a migration from the difference between the newest migration and the models.

    python migrations/draft.py "add kerf to saws"

writes migrations/versions/0002_add_kerf_to_saws.py; read it, add what happens to
the rows already there, and run the migration tests.
"""

import sys
import tempfile
from pathlib import Path

from alembic import command
from sqlalchemy import URL

from shopquote.records.engine import make_engine
from shopquote.records.schema import alembic_config, newest_version, upgrade_tables


def draft(message: str) -> None:
    try:
        number = f"{int(newest_version()) + 1:04d}"
    except ValueError:  # no migration yet
        number = "0001"
    with tempfile.TemporaryDirectory() as folder:
        engine = make_engine(URL.create("sqlite", database=str(Path(folder) / "draft.db")))
        with engine.begin() as connection:
            if number != "0001":
                upgrade_tables(connection)
            command.revision(alembic_config(connection), message, autogenerate=True, rev_id=number)
        engine.dispose()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    draft(sys.argv[1])
