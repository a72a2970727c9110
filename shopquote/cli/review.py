"""shopquote review: what jobs earned, and what to change."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shopquote.cli.options import (
    DbOption,
    JsonOption,
    OutOption,
    ReplaceOption,
    print_json,
    reading,
    writing,
)
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.services.review.review_answer import ReviewAnswer, ReviewWish


class GroupWord(StrEnum):
    """What jobs can be grouped by."""

    CUSTOMER = "customer"
    KIND = "kind"
    SIZE = "size"
    OPERATION = "operation"
    QUANTITY = "quantity"
    MONTH = "month"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("review")(review)


def review(
    jobs: Annotated[
        list[str] | None, typer.Argument(metavar="JOB...", help="Numbers of jobs; default all finished ones.")
    ] = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Only jobs done on this day or later.")
    ] = None,
    until: Annotated[
        str | None, typer.Option(metavar="DATE", help="Only jobs done on this day or before.")
    ] = None,
    state: Annotated[
        list[str] | None, typer.Option(metavar="STATE", help="Only jobs in this state; repeatable.")
    ] = None,
    customer: Annotated[str | None, typer.Option(metavar="NAME", help="Only jobs of this customer.")] = None,
    by: Annotated[
        list[GroupWord] | None,
        typer.Option(metavar="GROUP", help="customer, kind, size, operation, quantity or month; repeatable."),
    ] = None,
    bottleneck: Annotated[
        str | None,
        typer.Option(
            metavar="OPERATION", help="Operation that limits the shop; default the one most worked at."
        ),
    ] = None,
    closing: Annotated[
        str | None, typer.Option(metavar="N", help="Show the figures of a job's Nth closing.")
    ] = None,
    accept: Annotated[
        list[str] | None,
        typer.Option(
            metavar="STANDARD", help="Use a suggested standard from today on, or all of them; repeatable."
        ),
    ] = None,
    month: Annotated[
        str | None,
        typer.Option(metavar="YYYY-MM", help="Only jobs done in this month; writes its page as PDF too."),
    ] = None,
    take_back: Annotated[
        list[str] | None,
        typer.Option(
            metavar="STANDARD", help="Go back to the value before an accepted suggestion; repeatable."
        ),
    ] = None,
    value: Annotated[
        str | None,
        typer.Option(metavar="V", help="With --accept: use this value instead of the suggested one."),
    ] = None,
    learn_since: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[OPERATION=]DATE",
            help="Learn only from jobs done on this day or later; with OPERATION: it is done another way "
            "since then (a jig, a machine); repeatable.",
        ),
    ] = None,
    back_test: Annotated[
        bool,
        typer.Option(
            "--back-test", help="Test ranges and standards on jobs that they were not learned from."
        ),
    ] = False,
    no_book: Annotated[bool, typer.Option("--no-book", help="Write no workbook.")] = False,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Show what finished jobs earned, quoted against actual, and what the standards should be."""
    from shopquote.outputs.tables.owner_tables import owner_json
    from shopquote.outputs.tables.review_json import review_json
    from shopquote.outputs.tables.review_tables import print_answer
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.review.review_answer import ReviewWish, answer_review

    if closing is not None:
        _show_closing(db, jobs or [], closing, as_json)
        return
    groups = [word.value for word in by or ()]
    wish = ReviewWish(
        jobs or (), since, until, state or (), customer, groups, bottleneck, back_test,
        not no_book or month is not None, learn_since or (), month,
    )  # fmt: skip
    if take_back:
        _take_back(db, take_back, as_json)
        return
    if accept:
        _accept(db, accept, value, wish, as_json)
        return
    with reading(db) as session:
        answer = answer_review(session, wish, today=now().date())
        files = [] if no_book else [_write_book(session, answer, out)]
        if month is not None:
            files.append(_write_month(session, answer, out))
    if as_json:
        found = review_json(answer.many, answer.lesson, files, answer.details, groups)
        print_json(found | owner_json(answer))
    else:
        print_answer(answer, groups)
        print_files(files)


def _write_book(session: Any, answer: "ReviewAnswer", out: Path) -> Path:
    from shopquote.outputs.books.review_book import write_review_book
    from shopquote.services.shop.shop_on_file import the_shop

    shop = the_shop(session)
    return write_review_book(answer, out, shop=shop.name, paper=shop.paper)


def _write_month(session: Any, answer: "ReviewAnswer", out: Path) -> Path:
    from shopquote.outputs.papers.month_paper import write_month_paper
    from shopquote.outputs.tables.month_words import month_of
    from shopquote.services.shop.shop_on_file import the_shop

    shop = the_shop(session)
    month, currency = month_of(answer), answer.many.currency
    return write_month_paper(month, out, shop=shop.name, paper=shop.paper, currency=currency)


def _accept(db: str | None, names: list[str], value: str | None, wish: "ReviewWish", as_json: bool) -> None:
    from shopquote.outputs.tables.review_json import suggestion_json
    from shopquote.outputs.tables.review_tables import print_accepted
    from shopquote.reading.kinds import number
    from shopquote.services.review.accepted import accept_suggestions
    from shopquote.services.review.review_answer import filters_typed
    from shopquote.services.shop.shop_on_file import shop_currency, value_typed

    today = now().date()
    with writing(db) as session:
        own = value_typed(session, "--value", number(), value)
        _, learned = filters_typed(session, wish, today)
        taken = accept_suggestions(session, names, on=today, value=own, filters=learned)
        currency = shop_currency(session)
    if as_json:
        print_json({"since": today, "accepted": [suggestion_json(item, currency) for item in taken]})
    else:
        print_accepted(taken, own, today.isoformat())


def _take_back(db: str | None, names: list[str], as_json: bool) -> None:
    from shopquote.services.review.accepted import take_back

    with writing(db) as session:
        rows = take_back(session, names, on=now().date())
    if as_json:
        print_json({"taken_back": [{"standard": row.standard, "value": row.value} for row in rows]})
        return
    for row in rows:
        again, was = (f"{value.normalize():f}" for value in (row.value, row.was))
        print(f"{row.standard} is {again} {row.unit} again from {row.since}; it was {was}.")


def _show_closing(db: str | None, jobs: list[str], closing: str, as_json: bool) -> None:
    from shopquote.outputs.tables.review_json import job_json
    from shopquote.outputs.tables.review_tables import print_job_review
    from shopquote.services.review.job_review import review_job
    from shopquote.services.shop.shop_on_file import count_typed

    if len(jobs) != 1:
        # Closings are numbered within each job.
        raise typer.BadParameter("--closing goes with one JOB.")
    with reading(db) as session:
        found = review_job(session, jobs[0], closing=count_typed(session, "--closing", closing))
    if as_json:
        print_json({"jobs": [job_json(found)]})
    else:
        print_job_review(found)
