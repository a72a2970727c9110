"""Query parts that pick the one quote of each job that counts, for the floor and for reviews of many jobs."""

from typing import Any

from sqlalchemy import ColumnElement, Subquery, and_, func, select

from shopquote.records.jobs import Job
from shopquote.records.quotes import Quote


def quote_of_job() -> ColumnElement[int]:
    """Id of the quote that counts for a job: the accepted one, else the newest sent, else the newest."""

    def newest(*states: str) -> Any:
        query = select(Quote.id).where(Quote.job_id == Job.id, *(Quote.state == word for word in states))
        return query.order_by(Quote.revision.desc()).limit(1).correlate(Job).scalar_subquery()

    return func.coalesce(newest("accepted"), newest("sent"), newest())


def chosen_quotes() -> Subquery:
    """The quote that counts for each job, with the columns that reviews add up; see `quote_of_job`."""
    return (
        select(
            Quote.id.label("quote_id"),
            Quote.job_id,
            Quote.job_revision_id,
            Quote.net,
            Quote.cost,
            Quote.margin_pct,
            Quote.spread_pct,
            Quote.issued_on,
        )
        .join(Job, and_(Job.id == Quote.job_id, Quote.id == quote_of_job()))
        .subquery("chosen")
    )
