"""`shopquote job`: jobs on file."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import (
    DbOption,
    JsonOption,
    OutOption,
    ReplaceOption,
    argument,
    flag,
    option,
    print_json,
    reading,
    writing,
)
from shopquote.services.shop.clock import now

NEWEST_SHOWN = 50  # fits the scroll-back of a usual terminal, so that the headings stay in reach

job_app = typer.Typer(
    no_args_is_help=True, help="Jobs on file: add, list, show, revise, status, history, remove, export."
)

JobArgument = Annotated[str, argument("JOB", "Number of the job: J-0007, or only 7.")]
FilesArgument = Annotated[list[Path], argument("FILE...", "Job files, .toml or .xlsx.")]
RevisionOption = Annotated[str | None, option("--revision", "N", "An older revision instead of the newest.")]
ReasonOption = Annotated[str, option("--reason", "TEXT", "Why; kept with the job.")]


def register(app: typer.Typer) -> None:
    """Add the group to the root."""
    app.add_typer(job_app, name="job")


@job_app.command("add")
def add(files: FilesArgument, as_json: JsonOption = False, db: DbOption = None) -> None:
    """Put jobs on file: all of these files, or none when one has a mistake."""
    from shopquote.outputs.tables.job_tables import added_json, print_added
    from shopquote.services.buying.takeoff import unlisted_sizes
    from shopquote.services.jobs.jobs import add_jobs

    with writing(db) as session:
        at = now()
        jobs = add_jobs(session, files, at=at)
        guessed = unlisted_sizes(session, [job.number for job in jobs], at.date())
    print_json(added_json(jobs, guessed)) if as_json else print_added(jobs, guessed)


@job_app.command("list")
def list_(
    state: Annotated[
        list[str] | None, option("--state", "STATE", "Only jobs in this state; repeatable.")
    ] = None,
    customer: Annotated[str, option("--customer", "TEXT", "Only customers with this in their name.")] = "",
    find: Annotated[str, option("--find", "WORDS", "Only with these words in title or customer.")] = "",
    late: Annotated[bool, flag("--late", "Only past their due day and not finished.")] = False,
    overdue: Annotated[bool, flag("--overdue", "Only with an invoice unpaid after its due day.")] = False,
    everything: Annotated[bool, flag("--all", "Not only the newest 50; JSON has all in any case.")] = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List the jobs with their state, due day and newest price."""
    from shopquote.outputs.tables.job_list_tables import list_json, print_list
    from shopquote.services.jobs.job_list import list_jobs, newest_jobs, with_money
    from shopquote.services.shop.shop_on_file import shop_currency

    today = now().date()
    late_on = today if late else None
    older = 0
    with reading(db) as session:
        if everything or as_json or find or customer or overdue:
            lines = list_jobs(session, states=state or (), customer=customer, find=find, late_on=late_on)
        else:
            lines, older = newest_jobs(session, NEWEST_SHOWN, states=state or (), late_on=late_on)
        lines = with_money(session, lines, today)
        currency = shop_currency(session)
    if overdue:
        lines = [line for line in lines if line.overdue]
    if not (everything or as_json):
        older += max(0, len(lines) - NEWEST_SHOWN)
        lines = lines[-NEWEST_SHOWN:]
    if as_json:
        print_json(list_json(lines, currency))
    else:
        chosen = any((state, customer, find, late, overdue))
        print_list(lines, currency, older, chosen=chosen)


@job_app.command("show")
def show(
    job: JobArgument, revision: RevisionOption = None, as_json: JsonOption = False, db: DbOption = None
) -> None:
    """Show one job in full, as typed, with the states that it can go to next."""
    from shopquote.outputs.tables.job_tables import job_json, print_job
    from shopquote.services.floor.delivery_note import delivered_words
    from shopquote.services.jobs.jobs import load_job
    from shopquote.services.shop.shop_on_file import count_typed

    with reading(db) as session:
        loaded = load_job(session, job, revision=count_typed(session, "--revision", revision))
        if as_json:
            print_json(job_json(loaded))
        else:
            print_job(loaded, delivered_words(session, loaded.job))


@job_app.command("revise")
def revise(
    job: JobArgument,
    file: Annotated[Path, argument("FILE", "The changed job file, .toml or .xlsx.")],
    reason: ReasonOption = "",
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Store a changed job file as the job's next revision; older revisions stay."""
    from shopquote.outputs.tables.job_tables import print_revised, revised_json
    from shopquote.services.jobs.jobs import revise_job

    with writing(db) as session:
        loaded = revise_job(session, job, file, at=now(), reason=reason)
    print_json(revised_json(loaded)) if as_json else print_revised(loaded)


@job_app.command("status")
def status(
    job: JobArgument,
    state: Annotated[str, argument("STATE", "asked, quoted, won, started, finished, lost or dropped.")],
    reason: ReasonOption = "",
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Move a job to its next state: quoted, won or lost, started, finished; or drop it."""
    from shopquote.outputs.tables.job_tables import print_state, state_json
    from shopquote.services.buying.orders_on_file import open_orders_words
    from shopquote.services.floor.delivery_note import delivered_words
    from shopquote.services.jobs.jobs import set_state
    from shopquote.services.jobs.promises import still_promised
    from shopquote.services.review.good_pieces import short_of_good

    with writing(db) as session:
        moved = set_state(session, job, state, at=now(), reason=reason)
        delivered = delivered_words(session, moved)
        short = short_of_good(session, moved) if moved.state == "finished" else ()
        coming, bars = open_orders_words(session, moved), still_promised(session, moved)
    if as_json:
        print_json(state_json(moved, delivered, short, coming, bars))
    else:
        print_state(moved, delivered, short, coming, bars)


@job_app.command("history")
def history(
    job: Annotated[str | None, argument("[JOB]", "Number of the job; left out, the whole shop.")] = None,
    last: Annotated[
        str, option("--last", "N", "Number of entries to show of the whole shop, the newest.")
    ] = str(NEWEST_SHOWN),
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Show who changed what and when, in a job or the whole shop, from the command line or the page."""
    from shopquote.outputs.tables.history_tables import show_history
    from shopquote.reading.kinds import Notation, count, read_typed
    from shopquote.reading.kinds.documents import document_number
    from shopquote.services.shop.history import job_history, last_history

    with reading(db) as session:
        if job is None:
            most = read_typed("--last", count(least=1, most=100_000), last, Notation())
            show_history(last_history(session, most), "the shop", as_json=as_json)
        else:
            number = document_number(job, "J")
            show_history(job_history(session, number), number, as_json=as_json)


@job_app.command("remove")
def remove(job: JobArgument, as_json: JsonOption = False, db: DbOption = None) -> None:
    """Remove a job for which nothing was quoted, ordered or logged."""
    from shopquote.services.jobs.jobs import remove_job

    with writing(db) as session:
        number = remove_job(session, job)
    print_json({"removed": number}) if as_json else print(f"{number} removed.")


@job_app.command("export")
def export(
    job: JobArgument,
    revision: RevisionOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Write a job as a job file and as a workbook, as it was typed."""
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.jobs.jobs import export_job, load_job
    from shopquote.services.shop.shop_on_file import count_typed

    with reading(db) as session:
        loaded = load_job(session, job, revision=count_typed(session, "--revision", revision))
        files = export_job(loaded, out)
    print_json({"files": files}) if as_json else print_files(files)


@job_app.command("blank")
def blank(
    out: Annotated[Path, option("--out", "FILE", "The workbook to write.")] = Path("job.xlsx"),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write an empty job workbook to fill in."""
    from shopquote.outputs.tables.show import print_files
    from shopquote.reading.job_book_sheets import write_blank_job_book

    files = [write_blank_job_book(out)]
    print_json({"files": files}) if as_json else print_files(files)
