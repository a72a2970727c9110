"""`shopquote quote` prices a job, or several on one paper; `quotes` does the rest."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, option, print_json
from shopquote.cli.quote_shown import show_quote
from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.calc.pricing.document import QuoteDocument
    from shopquote.services.quotes.draft import Draft
    from shopquote.services.quotes.joint import Joint
    from shopquote.services.quotes.quote_options import QuoteOptions
    from shopquote.services.shop.database import Database


BreaksOption = Annotated[
    str | None,
    typer.Option("--breaks", metavar="N,N", help="Quantities to price side by side; default the job's."),
]
RevisionOption = Annotated[
    str | None, typer.Option("--revision", metavar="N", help="Revision of the quote; default the newest.")
]
OnOption = Annotated[
    str | None, typer.Option("--on", metavar="DATE", help="Day of the quote or answer; default today.")
]
MarginOption = Annotated[
    str | None, typer.Option("--margin", metavar="PCT", help="Margin on the price, for this quote.")
]
WhatIfOption = Annotated[
    list[str] | None,
    typer.Option(
        "--what-if",
        metavar="WORD=VALUE",
        help="Show what a change would do, store nothing: margin=25, sets=10, process=TIG, "
        "stock-price=+5%, rate.welding=60, any standard; repeatable.",
    ),
]

JOB_FILES = (".toml", ".xlsx")
# What is written beside the workbooks: "pdf", "letter".
MorePapers = tuple[str, ...]


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("quote")(quote)


def quote(
    jobs: Annotated[
        list[str],
        typer.Argument(
            metavar="JOB|FILE",
            help="Number of the job: J-0007, or only 7; or a job file, which is added first; or several jobs "
            "of one customer on one quote; or the number of such a quote.",
        ),
    ],
    sets: Annotated[str | None, typer.Option(metavar="N", help="Sets quoted, and the job is for.")] = None,
    breaks: BreaksOption = None,
    margin: MarginOption = None,
    markup: Annotated[str | None, typer.Option(metavar="PCT", help="Markup on the cost instead.")] = None,
    rush: Annotated[str | None, typer.Option(metavar="PCT", help="Charge for rush work.")] = None,
    discount: Annotated[str | None, typer.Option(metavar="PCT", help="Discount on the price.")] = None,
    lines: Annotated[
        Literal["set", "part"] | None, typer.Option(help="One line for each set, or for each part.")
    ] = None,
    learning: Annotated[
        Literal["none", "unit", "average"] | None,
        typer.Option(
            help="Learning over the run: none, Crawford's unit model, Wright's cumulative average.",
        ),
    ] = None,
    valid: Annotated[
        str | None, typer.Option(metavar="DAYS", help="Number of days that the quote is valid.")
    ] = None,
    tax: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Tax to charge instead of the usual one; repeatable."),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE=PRICE", help="Unit price set by hand, of line set or part MARK; with --because."
        ),
    ] = None,
    because: Annotated[
        str, typer.Option(metavar="TEXT", help="Why a price is set by hand; kept with the quote.")
    ] = "",
    lead_time: Annotated[
        str | None,
        option(
            "--lead-time", "TEXT", 'In words, or "worked out" from the open jobs; else the house rule\'s.'
        ),
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Print a stored revision again.")] = False,
    revision: RevisionOption = None,
    what_if: WhatIfOption = None,
    target: Annotated[
        str | None, typer.Option(metavar="NET", help="Show which margin this net price leaves.")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Write the quote as PDF too.")] = False,
    letter: Annotated[
        bool, typer.Option("--letter", help="A draft e-mail to the customer, with the quote as PDF.")
    ] = False,
    on: OnOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Price a job, store it as the quote's next revision, write the quote and estimate workbooks."""
    from shopquote.reading.kinds.documents import is_joint_number
    from shopquote.services.quotes.quote_options import QuoteOptions
    from shopquote.services.shop.database import open_database

    options = QuoteOptions(
        sets, breaks, margin, markup, rush, discount, lines, learning, valid, tuple(tax or ()),
        tuple(map(pair, price or ())), because, lead_time,
    )  # fmt: skip
    more = _more_papers(pdf=pdf, letter=letter)
    stored = again or revision is not None
    several = len(jobs) > 1 or is_joint_number(jobs[0])
    file = next((name for name in jobs if Path(name).suffix.lower() in JOB_FILES), "")
    asked = {"--what-if": bool(what_if), "--target": target is not None, "--again": again,
             "--revision": revision is not None}  # fmt: skip
    _refuse_odd(
        [name for name, is_asked in asked.items() if is_asked], options.given(),
        several=several, of_jobs=len(jobs) > 1, file=file,
    )  # fmt: skip
    if several:
        _make_together(jobs, options, revision, on, out, more, stored=stored, as_json=as_json, db=db)
        return
    (job,) = jobs
    if file:
        _add_and_make(db, Path(job), options, on, out, more, as_json)
        return
    with open_database(db) as database:
        if what_if:
            _ask_what_if(database, job, what_if, revision, on, as_json)
        elif target is not None:
            _ask_target(database, job, target, revision, on, as_json)
        elif stored:
            _print_again(database, job, revision, out, more, as_json)
        else:
            _make(database, job, options, on, out, more, as_json)


def _refuse_odd(asked: list[str], wishes: list[str], *, several: bool, of_jobs: bool, file: str) -> None:
    """Refuse options that do not go together: those that ask about a quote, and `wishes` for a new one.

    Asking stores nothing and quoting does: mixed, nobody could tell which of the words was stored.
    """
    from shopquote.errors import InputError

    # --revision goes with any question about a stored quote.
    questions = [name for name in asked if name != "--revision"]
    if len(questions) > 1 or (asked and wishes):
        raise InputError(
            f"{', '.join([*asked, *wishes])}: a new quote, --again, --what-if and --target are asked for "
            "one at a time.",
            hint="Another margin beside the stored quote: --what-if margin=35; in a new revision: "
            "--margin 35.",
        )
    if several and file:
        raise InputError(
            f"Several jobs on one quote are named by their numbers; {file} is a file.",
            hint=f"Put it on file first, and quote it by its number: shopquote job add {file}",
        )
    about_one = {"--what-if", "--target"} & {*asked}
    if several and (about_one or (asked and of_jobs)):
        raise InputError(
            "--what-if and --target ask about one job; --again and --revision name one quote.",
            hint="A joint quote is printed again by its number: shopquote quote Q-0007 --again",
        )
    if file and asked:
        raise InputError(
            f"{file} is a job file, not quoted yet; --again, --revision, --what-if and --target ask about a "
            "job.",
            hint=f"What if, with nothing stored: shopquote price {file} --what-if margin=35",
        )


def _more_papers(**wanted: bool) -> MorePapers:
    """Papers to write besides the workbooks, by the names of their options."""
    return tuple(name for name, is_wanted in wanted.items() if is_wanted)


def _add_and_make(
    db: str | None,
    file: Path,
    options: "QuoteOptions",
    on: str | None,
    out: Path,
    more: MorePapers,
    as_json: bool,
) -> None:
    """Add a job file and quote it: job, quote and papers are stored together, or nothing is."""
    from shopquote.files import bring_in, set_aside
    from shopquote.services.jobs.jobs import add_jobs
    from shopquote.services.quotes.quote import draft_quote
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import shop_notation

    with open_database(db) as database, set_aside(out) as aside:
        with database.session() as session:
            day = day_of(session, on)
            # With --on, the job gets the same day as its quote.
            at = now() if on is None else datetime(day.year, day.month, day.day, tzinfo=UTC)
            # In the session of the quote, so that a file that cannot be quoted leaves no job behind.
            (job,) = add_jobs(session, [file], at=at)
            draft = draft_quote(session, job.number, day, options.wishes(shop_notation(session)))
            document, written = _store_and_write(session, draft, at, aside, out, more)
        files = bring_in(written, out)
        show_quote(document, files, as_json, database)


def _store_and_write(
    session: Any, draft: "Draft", at: datetime | None, aside: Path, out: Path, more: MorePapers
) -> tuple["QuoteDocument", list[Path]]:
    """Store a quote and write its papers to `aside`; raises if a file in `out` may not be replaced."""
    from shopquote.files import refuse_unless_all_free
    from shopquote.services.quotes.quotes_on_file import store_quote

    document = store_quote(session, draft, at=at)
    written = _write(document, aside, more)
    refuse_unless_all_free(written, out)
    return document, written


def _make(
    database: "Database",
    job: str,
    options: "QuoteOptions",
    on: str | None,
    out: Path,
    more: MorePapers,
    as_json: bool,
) -> None:
    from shopquote.files import bring_in, set_aside
    from shopquote.services.quotes.quote import draft_quote
    from shopquote.services.shop.shop_on_file import shop_notation

    with database.reading() as session:
        # Drafted in a reading session: it takes seconds, and a writing session would block all other
        # writers meanwhile.
        draft = draft_quote(session, job, day_of(session, on), options.wishes(shop_notation(session)))
    # A quote and its papers are stored together or not at all, even if the run is killed midway.
    with set_aside(out) as aside:
        with database.session() as session:
            document, written = _store_and_write(session, draft, moment_of(on), aside, out, more)
        files = bring_in(written, out)
    show_quote(document, files, as_json, database)


def _print_again(
    database: "Database", job: str, revision: str | None, out: Path, more: MorePapers, as_json: bool
) -> None:
    from shopquote.services.quotes.quotes_on_file import stored_quote
    from shopquote.services.shop.shop_on_file import count_typed

    with database.reading() as session:
        document = stored_quote(session, job, count_typed(session, "--revision", revision))
    show_quote(document, _write(document, out, more), as_json)


def _write(document: "QuoteDocument", out: Path, more: MorePapers) -> list[Path]:
    from shopquote.outputs.books.estimate_book import write_estimate_book

    front, *others = _for_customer(document, out, more)
    return [front, *others[:1], write_estimate_book(document, out), *others[1:]]


def _for_customer(document: "QuoteDocument", out: Path, more: MorePapers) -> list[Path]:
    """Write the customer's workbook and, if wanted, its PDF and the draft letter."""
    from shopquote.outputs.books.quote_book import write_quote_book

    files = [write_quote_book(document, out)]
    if "pdf" in more or "letter" in more:
        from shopquote.outputs.papers.quote_paper import write_quote_paper

        files.append(write_quote_paper(document, out))
    if "letter" in more:
        from shopquote.outputs.papers.letter import write_quote_letter

        files.append(write_quote_letter(document, out, files[1]))
    return files


def _make_together(
    jobs: list[str],
    options: "QuoteOptions",
    revision: str | None,
    on: str | None,
    out: Path,
    more: MorePapers,
    *,
    stored: bool,
    as_json: bool,
    db: str | None,
) -> None:
    """Quote several jobs on one paper; with `stored`, print a joint quote again."""
    from shopquote.files import bring_in, refuse_unless_all_free, set_aside
    from shopquote.reading.kinds.documents import is_joint_number
    from shopquote.services.quotes.joint import (
        draft_joint,
        jobs_of_joint,
        store_joint,
        stored_joint,
    )
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import count_typed, shop_notation

    with open_database(db) as database:
        with database.reading() as session:
            if stored:
                joint = stored_joint(session, jobs[0], count_typed(session, "--revision", revision))
                _show_joint(joint, _write_joint(joint, out, more), as_json)
                return
            if len(jobs) == 1 and is_joint_number(jobs[0]):
                jobs = list(jobs_of_joint(session, jobs[0]))
            drafts = draft_joint(session, jobs, day_of(session, on), options.wishes(shop_notation(session)))
        with set_aside(out) as aside:
            with database.session() as session:
                joint = store_joint(session, drafts, at=moment_of(on))
                written = _write_joint(joint, aside, more)
                refuse_unless_all_free(written, out)
            files = bring_in(written, out)
    _show_joint(joint, files, as_json)


def _write_joint(joint: "Joint", out: Path, more: MorePapers) -> list[Path]:
    """Write one paper for the customer and an estimate of each job for the owner."""
    from shopquote.outputs.books.estimate_book import write_estimate_book

    papers = _for_customer(joint.document, out, more)
    return [*papers, *(write_estimate_book(quote, out) for quote in joint.quotes)]


def _show_joint(joint: "Joint", files: list[Path], as_json: bool) -> None:
    from shopquote.outputs.tables.quote_tables import joint_json, print_quote

    print_json(joint_json(joint, files)) if as_json else print_quote(joint.document, files)


def _ask_what_if(
    database: "Database", job: str, what_if: list[str], revision: str | None, on: str | None, as_json: bool
) -> None:
    from shopquote.outputs.tables.quote_tables import print_differences, what_if_json
    from shopquote.services.quotes.quote_changes import what_if as ask
    from shopquote.services.shop.shop_on_file import count_typed

    with database.reading() as session:
        stored = count_typed(session, "--revision", revision)
        answer = ask(session, job, day_of(session, on), dict(map(pair, what_if)), stored)
    if as_json:
        print_json(what_if_json(answer))
    else:
        title = f"{answer.before.name}, what if {', '.join(answer.changes)} (nothing is stored)"
        print_differences(title, answer.differences)


def _ask_target(
    database: "Database", job: str, net: str, revision: str | None, on: str | None, as_json: bool
) -> None:
    from shopquote.outputs.tables.quote_tables import print_target, target_json
    from shopquote.reading.kinds import money, read_typed
    from shopquote.services.quotes.quote_changes import price_for
    from shopquote.services.shop.shop_on_file import count_typed, shop_notation

    with database.reading() as session:
        wanted = read_typed("--target", money(), net, shop_notation(session))
        stored = count_typed(session, "--revision", revision)
        target = price_for(session, job, wanted, day_of(session, on), stored)
    print_json(target_json(job, target)) if as_json else print_target(job, target)


def day_of(session: Any, on: str | None) -> date:
    """The day of --on, else today."""
    from shopquote.services.shop.shop_on_file import day_typed

    return day_typed(session, "--on", on, now().date())


def moment_of(on: str | None) -> datetime | None:
    """This moment; None if --on names a day, for which services take the start of that day."""
    return now() if on is None else None


def pair(text: str) -> tuple[str, str]:
    """Word and value of WORD=VALUE; `BadParameter` if either is missing."""
    word, equals, value = text.partition("=")
    if not equals or not word.strip() or not value.strip():
        raise typer.BadParameter(f"{text!r} is not of the form WORD=VALUE.")
    return word.strip(), value.strip()
