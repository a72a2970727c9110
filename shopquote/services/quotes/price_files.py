"""Price job files while the customer waits: nothing is stored, and no database is needed.

The price is the one that `quote` would give. With a database of the shop's, the job is stored and quoted in a
transaction that is always rolled back. Without one, the starting lists are used and no table is loaded; only
a what-if needs a database in memory. Begin at `price_files`.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.reading.kinds import Notation
from shopquote.reading.kinds.documents import numbered
from shopquote.records.places import database_on_file
from shopquote.services.jobs.check import CheckedJob, check_jobs
from shopquote.services.quotes.draft import draft_from
from shopquote.services.quotes.quote_options import QuoteOptions
from shopquote.services.quotes.starting_books import StartingBooks
from shopquote.services.shop.starting import starting_shop

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from shopquote.services.jobs.jobs import LoadedJob
    from shopquote.services.quotes.quote_changes import WhatIf


@dataclass(frozen=True)
class PricedFile:
    """The price of one job file; `asked` is the answer to a what-if, `own_shop` false if starting lists were
    used.
    """

    path: Path
    document: QuoteDocument
    asked: "WhatIf | None"
    own_shop: bool


def price_files(
    paths: Sequence[Path],
    options: QuoteOptions,
    *,
    database: str | None,
    at: datetime,
    changes: Mapping[str, str] | None = None,
) -> tuple[PricedFile, ...]:
    """Price job files and workbooks, each by itself, and store nothing.

    Args:
        paths: the files.
        options: as typed for a quote, read in the shop's notation.
        database: as typed with --db; None: the default one if it exists.
        at: the present moment.
        changes: a what-if, as for a quote.

    Raises:
        InputError: mistakes of all files together; a wish or change that cannot be used.
        NotFoundError: a tax, standard or word of a change is not on file.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
        DatabaseError: the database named cannot be used.
    """
    if not changes and not database_on_file(database):
        return _priced_without(paths, options, at)
    return _priced_in_trial(paths, options, database, at, changes)


def _priced_without(paths: Sequence[Path], options: QuoteOptions, at: datetime) -> tuple[PricedFile, ...]:
    """Prices by the starting lists, with no database."""
    books = StartingBooks(at.date())
    shop: Any = books.shop
    notation = Notation(shop.units, shop.locale, shop.currency)
    wishes = options.wishes(notation)
    bending = replace(starting_shop(), longest=books.longest)
    priced = []
    for number, checked in enumerate(check_jobs(paths, bending, notation), 1):
        assert checked.path is not None
        document = draft_from(
            books, _not_on_file(checked, number), checked.answers, at.date(), wishes
        ).document
        priced.append(PricedFile(checked.path, document, None, own_shop=False))
    return tuple(priced)


@dataclass(frozen=True, slots=True)
class _Customer:
    """Attributes of `records.people.Customer`, for a new name."""

    name: str
    address: str = ""
    email: str = ""
    phone: str = ""
    locale: str = ""
    tax_exempt: bool = False
    id: int | None = None


@dataclass(frozen=True, slots=True)
class _Job:
    """Attributes of `records.jobs.Job` and of its first revision."""

    number: str
    customer: _Customer
    state: str = "asked"
    revision: int = 1


@dataclass(frozen=True, slots=True)
class _Loaded:
    """The attributes of `LoadedJob` that a draft reads, for a job that is not stored."""

    job: _Job
    revision: _Job
    spec: JobSpec


def _not_on_file(checked: CheckedJob, number: int) -> "LoadedJob":
    job = _Job(numbered("J", number), _Customer(checked.spec.customer))
    return cast("LoadedJob", _Loaded(job, job, checked.spec))


def _priced_in_trial(
    paths: Sequence[Path],
    options: QuoteOptions,
    database: str | None,
    at: datetime,
    changes: Mapping[str, str] | None,
) -> tuple[PricedFile, ...]:
    """Prices of jobs that are stored in a transaction which is rolled back."""
    # Imported here because they load the tables, which pricing without a database does not need.
    from shopquote.services.jobs.jobs import load_job, store_job
    from shopquote.services.quotes.quote import draft_of
    from shopquote.services.quotes.quote_changes import what_if
    from shopquote.services.shop.shop_on_file import bending_shop, shop_notation

    with _trial(database, at) as (session, own):
        priced = []
        notation = shop_notation(session)
        wishes = options.wishes(notation)
        for checked in check_jobs(paths, bending_shop(session), notation):
            job = store_job(session, checked, at=at)
            draft = draft_of(session, load_job(session, job.number), checked.answers, at.date(), wishes)
            document = draft.document
            asked = what_if(session, job.number, at.date(), changes, before=document) if changes else None
            assert checked.path is not None
            priced.append(PricedFile(checked.path, document, asked, own))
    return tuple(priced)


@contextmanager
def _trial(database: str | None, at: datetime) -> "Iterator[tuple[Session, bool]]":
    """A session that is rolled back, and whether it is on the shop's own database."""
    from shopquote.services.shop.database import database_in_memory, open_database
    from shopquote.services.shop.shop_on_file import is_set_up

    if database_on_file(database):
        with open_database(database) as opened, opened.trial() as session:
            # The default database may exist without a shop, as after an upgrade; of one that was named, a
            # missing shop is an error.
            if database is not None or is_set_up(session):
                yield session, True
                return
    from shopquote.services.shop.new_shop import set_up

    # The starting lists hold an invented supplier's prices; the answer says so.
    with database_in_memory() as opened, opened.trial() as session:
        set_up(session, on=at.date())
        yield session, False
