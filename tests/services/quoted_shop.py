"""A set-up shop with one quoted job, made once and copied for each test that wants it."""

import shutil
from functools import cache
from pathlib import Path

from shopquote.records.engine import copy_sqlite
from shopquote.services.shop.database import open_database
from tests.services.review_jobs import quoted_job

NUMBER = "J-0001"


@cache
def _made(shop_file: Path) -> Path:
    """The shop's file with the quoted job in it, beside the shop's own."""
    made, kept = shop_file.with_name("quoting.db"), shop_file.with_name("quoted.db")
    shutil.copy(shop_file, made)
    with open_database(str(made)) as database, database.session() as session:
        assert quoted_job(session) == NUMBER
    copy_sqlite(made, kept)
    return kept


def quoted_copy(shop_file: Path, folder: Path) -> Path:
    """A database of the test's own, with J-0001 quoted."""
    path = folder / "quoted.db"
    shutil.copy(_made(shop_file), path)
    return path
