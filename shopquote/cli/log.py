"""shopquote log and close: record what a job really took, and fix its figures at the end."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shopquote.cli.options import (
    DbOption,
    GoodRowsOption,
    JsonOption,
    print_json,
    tell_left_out,
    writing,
)
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.services.floor.log_words import LogWords

JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Number of a job, such as J-0001.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("log")(log)
    app.command("close")(close)


def log(
    job: JobArgument,
    operation: Annotated[str | None, typer.Option(metavar="NAME", help="Operation that was done.")] = None,
    minutes: Annotated[str | None, typer.Option(metavar="M", help="Minutes: 90, 7.5, 1:30 or 1.5 h.")] = None,
    start: Annotated[bool, typer.Option("--start", help="Start a timer on an operation.")] = False,
    stop: Annotated[bool, typer.Option("--stop", help="Stop the running timer.")] = False,
    bar: Annotated[
        str | None, typer.Option(metavar="SECTION", help="Bars used that were not on the rack.")
    ] = None,
    grade: Annotated[str | None, typer.Option(metavar="G", help="Their grade.")] = None,
    length: Annotated[str | None, typer.Option(metavar="L", help="Their length.")] = None,
    piece: Annotated[str | None, typer.Option(metavar="CODE", help="A piece used from the rack.")] = None,
    returned: Annotated[
        list[str] | None,
        typer.Option("--returned", metavar="L", help="Length of it that went back on the rack; repeatable."),
    ] = None,
    bought: Annotated[str | None, typer.Option(metavar="NAME", help="A bought item used.")] = None,
    outside: Annotated[str | None, typer.Option(metavar="NAME", help="A bill for subcontract work.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sent the bill.")] = None,
    invoice: Annotated[str | None, typer.Option(metavar="NUMBER", help="An invoice to the customer.")] = None,
    credit: Annotated[
        str | None,
        typer.Option(
            metavar="NUMBER",
            help="A credit note to the customer; --invoice says for which of several invoices.",
        ),
    ] = None,
    paid: Annotated[
        str | None,
        typer.Option(metavar="NUMBER", help="Payment of this invoice: all that is open, or --amount."),
    ] = None,
    due: Annotated[
        str | None,
        typer.Option(
            metavar="DATE", help="Day by which an invoice is due; default after the shop's payment_days."
        ),
    ] = None,
    scrap: Annotated[
        str | None, typer.Option(metavar="MARK", help="Pieces of a mark that were spoilt.")
    ] = None,
    count: Annotated[str | None, typer.Option(metavar="N", help="How many bars, items or pieces.")] = None,
    cost: Annotated[str | None, typer.Option(metavar="C", help="Their total cost before tax.")] = None,
    delivery: Annotated[
        str | None,
        typer.Option(metavar="D", help="Charged for the delivery of the bars besides; 0 if nothing was."),
    ] = None,
    amount: Annotated[
        str | None, typer.Option(metavar="A", help="Amount of an invoice, credit or payment, before tax.")
    ] = None,
    rework: Annotated[
        bool, typer.Option("--rework", help="The work or bars were used to make something again.")
    ] = False,
    reason: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Why, for rework, scrap, a credit, or more than expected."),
    ] = None,
    person: Annotated[str, typer.Option(metavar="NAME", help="Who worked.")] = "",
    on: Annotated[
        str | None,
        typer.Option("--on", metavar="DATE", help="Day of the entry, such as 2026-03-02; default today."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option("--from", metavar="SHEET.xlsx", help="A filled-in floor sheet.")
    ] = None,
    strike: Annotated[
        str | None,
        typer.Option(
            metavar="N", help="Take back entry N of the job's list, with --reason; it stays readable."
        ),
    ] = None,
    sure: Annotated[
        bool, typer.Option("--sure", help="Confirm that it really took ten times what was planned, or more.")
    ] = False,
    good_rows: GoodRowsOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Log minutes, bars, bought items, bills, invoices and payments of a job; alone, show what is logged.

    One thing at a time: --operation with --minutes or --start; --stop; --bar with --grade, --length, --count;
    --piece; --bought or --outside with --cost; --invoice or --credit with --amount; --paid; --scrap; --from;
    --strike with --reason.
    """
    # Passed by name: with so many options, one out of order would be logged as another.
    given = locals() | {"returned": tuple(returned or ())}
    from shopquote.outputs.tables.review_json import done_json, log_json
    from shopquote.outputs.tables.review_tables import print_log, print_logged
    from shopquote.services.floor.log_list import logged_so_far
    from shopquote.services.floor.log_words import LogWords, log_words, rows_left_out
    from shopquote.services.shop.database import open_database

    words = LogWords(**{name: given[name] for name in LogWords.__dataclass_fields__})
    with open_database(db) as database:
        # `log JOB` alone lists the entries so far, with the numbers that --strike takes.
        if words.nothing:
            with database.reading() as session:
                held = logged_so_far(session, job)
            print_json(log_json(held)) if as_json else print_log(held)
            return
        _check_words(words)
        with database.session() as session:
            at = now()
            # Tried out first, because a row with a mistake may be half stored when the mistake is found.
            left_out = rows_left_out(session, job, words, at=at)
            if left_out:
                # Undo what the trial stored of the good rows, or they would count twice.
                session.rollback()
            done = log_words(session, job, words, at=at, but=left_out)
    if as_json:
        print_json(done_json(done))
    else:
        print_logged(done)
        tell_left_out(done.left_out)


def _check_words(words: "LogWords") -> None:
    """Raise `BadParameter` (exit code 2) if the options do not go together."""
    mistake = words.mistake()
    if mistake:
        raise typer.BadParameter(mistake)


def close(
    job: JobArgument,
    reopen: Annotated[
        str | None, typer.Option(metavar="REASON", help="Open a closed job again for late entries.")
    ] = None,
    nothing: Annotated[
        list[str] | None,
        typer.Option(
            "--nothing",
            metavar="NAME",
            help="An operation, bar or bought item that cost nothing; repeatable. What else is not logged "
            "counts as quoted.",
        ),
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DATE", help="Day of closing; default today.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Fix the figures of a finished job, or open a closed one again with a reason."""
    from shopquote.outputs.tables.review_json import job_json
    from shopquote.outputs.tables.review_tables import print_job_review
    from shopquote.services.review.close import close_job, reopen_job
    from shopquote.services.shop.shop_on_file import day_typed

    at = now()
    with writing(db) as session:
        day = day_typed(session, "--on", on, at.date())
        if reopen is not None:
            opened = reopen_job(session, job, reopen, on=day, at=at)
            facts = {"job": opened.number, "state": opened.state, "reason": reopen}
        else:
            # Without a terminal nobody can answer: what is missing counts as quoted, and is marked so.
            if not as_json and sys.stdin.isatty():
                _ask_what_is_missing(session, job, nothing or ())
            review = close_job(session, job, on=day, at=at, nothing=nothing or ())
    if reopen is not None:
        print_json(facts) if as_json else typer.echo(
            f"{facts['job']} is {facts['state']} again; its old figures are kept."
        )
    elif as_json:
        print_json(job_json(review))
    else:
        print_job_review(review)


def _ask_what_is_missing(session: Any, number: str, nothing: Sequence[str]) -> None:
    """Show what nobody logged or made, and ask whether it may count as quoted.

    Raises:
        InputError: the answer is no; the job stays open.
    """
    from shopquote.errors import InputError
    from shopquote.outputs.tables.review_words import missing_text
    from shopquote.services.jobs.jobs import find_job
    from shopquote.services.review.job_review import before_closing

    found = before_closing(session, find_job(session, number))
    left = found.missing.without(nothing)
    if found.few:
        typer.echo(f"Almost nothing is logged of {'; '.join(found.few)}.")
    if found.short:
        typer.echo(f"Good pieces are short: {'; '.join(found.short)}.")
    if left.words:
        typer.echo(f"Nothing is logged of {missing_text(left.words)}.")
    if not (found.few or found.short or left.words):
        return
    question = "Count it as quoted, and mark it as assumed?" if left.words else "Is that all of it?"
    if not typer.confirm(question):
        raise InputError(
            f"{number} stays open.",
            hint=f"Log what is missing (shopquote log {number}), or say what cost nothing: --nothing NAME",
        )
