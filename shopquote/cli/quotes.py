"""`shopquote quotes`: list, answer and compare what was quoted."""

from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, print_json, reading, writing
from shopquote.cli.quote import OnOption, day_of, moment_of

JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Number of the job: J-0007, or only 7.")]
AnsweredArgument = Annotated[
    str, typer.Argument(metavar="JOB|QUOTE", help="Number of a job, or of a joint quote for all its jobs.")
]

quotes_app = typer.Typer(no_args_is_help=True, help="Quotes on file: list, accepted, declined, compare.")


def register(app: typer.Typer) -> None:
    """Add the group to the root."""
    app.add_typer(quotes_app, name="quotes")


@quotes_app.command("list")
def list_(
    job: Annotated[str | None, typer.Option("--job", metavar="JOB", help="Only quotes of this job.")] = None,
    state: Annotated[
        list[str] | None,
        typer.Option(
            metavar="STATE",
            help="Only in this state: sent, accepted, declined, expired or replaced; repeatable.",
        ),
    ] = None,
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List the quotes, newest last."""
    from shopquote.outputs.tables.quote_tables import print_quotes, quotes_json
    from shopquote.services.quotes.quotes_on_file import list_quotes

    with reading(db) as session:
        rows = list_quotes(session, day_of(session, on), states=state or (), job_number=job)
    print_json(quotes_json(rows)) if as_json else print_quotes(rows)


@quotes_app.command("accepted")
def accepted(
    job: AnsweredArgument,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="What decided it.")] = "",
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Record that the customer accepted: the job is won."""
    _answer(job, "accepted", reason, on, as_json, db)


@quotes_app.command("declined")
def declined(
    job: AnsweredArgument,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; must be given.")] = "",
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Record that the customer declined: the job is lost."""
    _answer(job, "declined", reason, on, as_json, db)


@quotes_app.command("compare")
def compare(
    job: JobArgument,
    before: Annotated[str, typer.Argument(metavar="REVISION", help="The older revision.")],
    after: Annotated[
        str | None, typer.Argument(metavar="REVISION", help="The newer revision; default the newest.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Show the differences between two revisions of a quote, in words and figures."""
    from shopquote.outputs.tables.quote_tables import differences_json, print_differences
    from shopquote.services.quotes.quote_changes import compare_revisions
    from shopquote.services.shop.shop_on_file import count_typed

    with reading(db) as session:
        first, second = (count_typed(session, "REVISION", text) for text in (before, after))
        assert first is not None
        older, newer, found = compare_revisions(session, job, first, second)
    if as_json:
        print_json({"job": older.job, "before": older.revision, "after": newer.revision,
                    "differences": differences_json(found)})  # fmt: skip
    else:
        print_differences(f"{newer.number}: revision {older.revision} and {newer.revision}", found)


def _answer(job: str, answer: str, reason: str, on: str | None, as_json: bool, db: str | None) -> None:
    from shopquote.outputs.tables.quote_tables import print_quotes, quotes_json
    from shopquote.reading.kinds.documents import is_joint_number
    from shopquote.services.quotes.joint import answer_joint, job_of_quote, told_beside
    from shopquote.services.quotes.quotes_on_file import answer_quote

    with writing(db) as session:
        day, at = day_of(session, on), moment_of(on)
        if is_joint_number(job):  # the number on one job's paper means that job
            job = job_of_quote(session, job) or job
        if is_joint_number(job):
            rows = answer_joint(session, job, answer, day, reason=reason, at=at)
        else:
            rows = [answer_quote(session, job, answer, day, reason=reason, at=at)]
        notes = told_beside(session, rows)
    if as_json:
        print_json({**quotes_json(rows), "notes": notes})
        return
    print_quotes(rows)
    for note in notes:
        print(f"! {note}")
