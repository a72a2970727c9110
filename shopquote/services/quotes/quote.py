"""Draft a quote of a job on file.

`draft_quote` only reads: call it in a reading session, and store the draft with `quotes_on_file.store_quote`
in a short writing one. Questions to a stored quote ("at another margin?") are in `quote_changes`; how a draft
is made, in `draft`.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.pricing.priced_quote import MinutesLine
from shopquote.errors import InputError
from shopquote.records.jobs import Job
from shopquote.records.people import Supplier
from shopquote.records.quotes import Quote
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.jobs.job_states import STATES_TO_REVISE, asked_again
from shopquote.services.jobs.jobs import LoadedJob, find_job, load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.draft import Draft, QuoteWishes, draft_from
from shopquote.services.shop.books import QuoteBooks
from shopquote.services.shop.shop_on_file import bending_shop


class _QuoteBooksOnFile(BooksOnFile, QuoteBooks):
    def lead_time(
        self,
        minutes: Iterable[MinutesLine],
        suppliers: Iterable[Supplier],
        locale: str,
        on: date,
        ahead: Sequence[Iterable[MinutesLine]],
    ) -> tuple[str, tuple[str, ...]]:
        """A lead time that follows from the open jobs, with notes for the shop."""
        from shopquote.services.quotes.load import lead_time_worked_out  # in words it needs no open jobs

        return lead_time_worked_out(self.session, minutes, suppliers, locale, on, ahead)


def draft_quote(session: Session, job_number: str, today: date, wishes: QuoteWishes | None = None) -> Draft:
    """Draft the quote of a job on file; stores nothing.

    Raises:
        NotFoundError: no such job, or a standard or tax is not on file.
        InputError: a wish that cannot be used, or the job's state forbids a quote.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
    """
    loaded = load_job(session, job_number)
    refuse_to_quote(session, loaded.job)
    answers = work_out_parts(loaded.spec, bending_shop(session, loaded.job.number))
    return draft_of(session, loaded, answers, today, wishes or QuoteWishes())


def draft_of(
    session: Session, loaded: LoadedJob, answers: Mapping[str, PartAnswer], today: date, wishes: QuoteWishes
) -> Draft:
    """Draft the quote of a job whose parts are already worked out; errors as of `draft_from`."""
    return draft_from(_QuoteBooksOnFile(session), loaded, answers, today, wishes)


def refuse_to_quote(session: Session, job: Job) -> None:
    """Refuse a job whose state allows no new quote.

    Raises:
        InputError: it was lost, dropped, finished or closed.
    """
    # A job made without a quote may be quoted afterwards: closing compares its costs with the quote.
    if job.state in STATES_TO_REVISE or (job.state == "finished" and not was_quoted(session, job.number)):
        return
    raise InputError(
        f"Job {job.number} is {job.state} and is quoted no more.",
        hint=f"{asked_again(job)}; a quote on file is printed again by --again.",
    )


def was_quoted(session: Session, job_number: str) -> bool:
    """Whether any quote of the job is on file.

    Raises:
        NotFoundError: no such job.
    """
    query = select(Quote.id).where(Quote.job_id == find_job(session, job_number).id).limit(1)
    return session.scalar(query) is not None
