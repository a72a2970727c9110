"""`shopquote quote` prices a job; `shopquote quotes` lists, answers and compares what was quoted."""

from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, NoReturn

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, option
from shopquote.cli.quote_shown import show_quote

if TYPE_CHECKING:
    from shopquote.calc.pricing.document import QuoteDocument
    from shopquote.services.quotes.quote import Draft
    from shopquote.services.quotes.quote_options import QuoteOptions
    from shopquote.services.shop.database import Database


BreaksOption = Annotated[
    str | None, typer.Option("--breaks", metavar="N,N", help="Quantities side by side; else the job's.")
]
JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Number of the job: J-0007, or only 7.")]
RevisionOption = Annotated[
    str | None, typer.Option("--revision", metavar="N", help="A revision of the quote; else the newest.")
]
OnOption = Annotated[str | None, typer.Option("--on", metavar="DATE", help="Another day than today.")]
MarginOption = Annotated[
    str | None, typer.Option("--margin", metavar="PCT", help="Margin on the price, for this quote.")
]
WhatIfOption = Annotated[
    list[str] | None,
    typer.Option(
        "--what-if",
        metavar="WORD=VALUE",
        help="Ask beside the quote, store nothing: margin=25, sets=10, process=TIG, "
        "stock-price=+5%, rate.welding=60, any standard; repeatable.",
    ),
]

JOB_FILES = (".toml", ".xlsx")
# What is written beside the workbooks: "pdf", "letter".
MorePapers = tuple[str, ...]

quotes_app = typer.Typer(no_args_is_help=True, help="Quotes on file: list, accepted, declined, compare.")


def register(app: typer.Typer) -> None:
    """Add the command and the group to the root."""
    app.command("quote")(quote)
    app.add_typer(quotes_app, name="quotes")


def quote(
    job: Annotated[
        str,
        typer.Argument(
            metavar="JOB|FILE", help="Number of the job: J-0007, or only 7; or a job file, added first."
        ),
    ],
    sets: Annotated[str | None, typer.Option(metavar="N", help="Sets; else the job's.")] = None,
    breaks: BreaksOption = None,
    margin: MarginOption = None,
    markup: Annotated[str | None, typer.Option(metavar="PCT", help="Markup on the cost instead.")] = None,
    rush: Annotated[str | None, typer.Option(metavar="PCT", help="Charge for rush work.")] = None,
    discount: Annotated[str | None, typer.Option(metavar="PCT", help="Discount on the price.")] = None,
    lines: Annotated[
        Literal["set", "part"] | None, typer.Option(help="One line a set, or one a part.")
    ] = None,
    learning: Annotated[
        Literal["none", "unit", "average"] | None,
        typer.Option(
            help="Learning over the run: none, Crawford's unit model, Wright's cumulative average.",
        ),
    ] = None,
    valid: Annotated[str | None, typer.Option(metavar="DAYS", help="Days that it is valid.")] = None,
    tax: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A tax instead of the usual; repeatable.")
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=PRICE", help="Unit price by hand for line set, or part MARK; --because."),
    ] = None,
    because: Annotated[str, typer.Option(metavar="TEXT", help="Why a price is set by hand; kept.")] = "",
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
        str | None, typer.Option(metavar="NET", help="Which margin does this price leave?")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="The quote as PDF too.")] = False,
    letter: Annotated[
        bool, typer.Option("--letter", help="A draft to the customer for any mail program, with the PDF.")
    ] = False,
    on: OnOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Price a job, store it as the quote's next revision, write the quote and estimate workbooks."""
    from shopquote.services.quotes.quote_options import QuoteOptions
    from shopquote.services.shop.database import open_database

    options = QuoteOptions(
        sets, breaks, margin, markup, rush, discount, lines, learning, valid, tuple(tax or ()),
        tuple(map(pair, price or ())), because, lead_time,
    )  # fmt: skip
    more = _more_papers(pdf=pdf, letter=letter)
    asked = [bool(what_if), target is not None, again]
    # Asking stores nothing and quoting does: mixed, nobody could tell which of the words was stored.
    if sum(asked) > 1 or ((any(asked) or revision is not None) and options != QuoteOptions()):
        _refuse_mixed()
    if Path(job).suffix.lower() in JOB_FILES:
        if any(asked) or revision is not None:
            _refuse_of_file(job)
        _add_and_make(db, Path(job), options, on, out, more, as_json)
        return
    with open_database(db) as database:
        if what_if:
            _ask_what_if(database, job, what_if, revision, on, as_json)
        elif target is not None:
            _ask_target(database, job, target, revision, on, as_json)
        elif again or revision is not None:
            _print_again(database, job, revision, out, more, as_json)
        else:
            _make(database, job, options, on, out, more, as_json)


def _more_papers(**wanted: bool) -> MorePapers:
    """The papers besides the workbooks, by the names of their options."""
    return tuple(name for name, is_wanted in wanted.items() if is_wanted)


@quotes_app.command("list")
def list_(
    job: Annotated[str | None, typer.Option("--job", metavar="JOB", help="Only of this job.")] = None,
    state: Annotated[
        list[str] | None,
        typer.Option(metavar="STATE", help="Only sent, accepted, declined, expired or replaced; repeatable."),
    ] = None,
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """List the quotes, newest last."""
    from shopquote.outputs.tables.quote_tables import print_quotes, quotes_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quotes_on_file import list_quotes
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.reading() as session:
        rows = list_quotes(session, _day(session, on), states=state or (), job_number=job)
    print_json(quotes_json(rows)) if as_json else print_quotes(rows)


@quotes_app.command("accepted")
def accepted(
    job: JobArgument,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="What decided it.")] = "",
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """The customer ordered: the quote is accepted and the job won."""
    _answer(job, "accepted", reason, on, as_json, db)


@quotes_app.command("declined")
def declined(
    job: JobArgument,
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; must be given.")] = "",
    on: OnOption = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """The customer said no: the quote is declined and the job lost."""
    _answer(job, "declined", reason, on, as_json, db)


@quotes_app.command("compare")
def compare(
    job: JobArgument,
    before: Annotated[str, typer.Argument(metavar="REVISION", help="The older revision.")],
    after: Annotated[
        str | None, typer.Argument(metavar="REVISION", help="The other; else the newest.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """What differs between two revisions of a quote, in words and figures."""
    from shopquote.outputs.tables.quote_tables import differences_json, print_differences
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quote_changes import compare_revisions
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.on_file import count_typed

    with open_database(db) as database, database.reading() as session:
        first, second = (count_typed(session, "REVISION", text) for text in (before, after))
        assert first is not None
        older, newer, found = compare_revisions(session, job, first, second)
    if as_json:
        print_json({"job": older.job, "before": older.revision, "after": newer.revision,
                    "differences": differences_json(found)})  # fmt: skip
    else:
        print_differences(f"{newer.number}: revision {older.revision} and {newer.revision}", found)


def _refuse_mixed() -> NoReturn:
    from shopquote.errors import InputError

    raise InputError(
        "A new quote, --again, --what-if and --target are asked for one at a time.",
        hint="Another margin beside the stored quote: --what-if margin=35; in a new revision: --margin 35.",
    )


def _refuse_of_file(job: str) -> NoReturn:
    from shopquote.errors import InputError

    raise InputError(
        f"{job} is a job file, not quoted yet; --again, --revision, --what-if and --target ask about a job.",
        hint=f"What if, with nothing stored: shopquote price {job} --what-if margin=35",
    )


def _add_and_make(
    db: str | None,
    file: Path,
    options: "QuoteOptions",
    on: str | None,
    out: Path,
    more: MorePapers,
    as_json: bool,
) -> None:
    """Put a job file on file and quote it: job, quote and papers together, or nothing."""
    from shopquote.files import bring_in, set_aside
    from shopquote.services.jobs.jobs import add_jobs
    from shopquote.services.quotes.quote import draft_quote
    from shopquote.services.shop.clock import now
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.on_file import shop_notation

    with open_database(db) as database, set_aside(out) as aside:
        with database.session() as session:
            day = _day(session, on)
            # On a day named by hand the job is as old as its quote.
            at = now() if on is None else datetime(day.year, day.month, day.day, tzinfo=UTC)
            (job,) = add_jobs(session, [file], at=at)
            draft = draft_quote(session, job.number, day, options.wishes(shop_notation(session)))
            document, written = _store_and_write(session, draft, at, aside, out, more)
        files = bring_in(written, out)
        show_quote(document, files, as_json, database)


def _store_and_write(
    session: Any, draft: "Draft", at: datetime | None, aside: Path, out: Path, more: MorePapers
) -> tuple["QuoteDocument", list[Path]]:
    """Store a quote and write its papers aside; refused before it is stored where they have no place."""
    from shopquote.files import refuse_unless_free
    from shopquote.services.quotes.quotes_on_file import store_quote

    document = store_quote(session, draft, at=at)
    written = _write(document, aside, more)
    for paper in written:
        # A paper of this name that is not ours: told before the quote is stored, not after.
        refuse_unless_free(out / paper.name)
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
    from shopquote.services.shop.on_file import shop_notation

    with database.reading() as session:
        draft = draft_quote(session, job, _day(session, on), options.wishes(shop_notation(session)))
    # A quote is stored with its paper or not at all; a run killed meanwhile leaves neither.
    with set_aside(out) as aside:
        with database.session() as session:
            document, written = _store_and_write(session, draft, _moment(on), aside, out, more)
        files = bring_in(written, out)
    show_quote(document, files, as_json, database)


def _print_again(
    database: "Database", job: str, revision: str | None, out: Path, more: MorePapers, as_json: bool
) -> None:
    from shopquote.services.quotes.quotes_on_file import stored_quote
    from shopquote.services.shop.on_file import count_typed

    with database.reading() as session:
        document = stored_quote(session, job, count_typed(session, "--revision", revision))
    show_quote(document, _write(document, out, more), as_json)


def _write(document: "QuoteDocument", out: Path, more: MorePapers) -> list[Path]:
    from shopquote.outputs.books.estimate_book import write_estimate_book
    from shopquote.outputs.books.quote_book import write_quote_book

    files = [write_quote_book(document, out), write_estimate_book(document, out)]
    if "pdf" in more or "letter" in more:
        from shopquote.outputs.papers.quote_paper import write_quote_paper

        files.insert(1, write_quote_paper(document, out))
    if "letter" in more:
        from shopquote.outputs.papers.letter import write_quote_letter

        files.append(write_quote_letter(document, out, files[1]))
    return files


def _ask_what_if(
    database: "Database", job: str, what_if: list[str], revision: str | None, on: str | None, as_json: bool
) -> None:
    from shopquote.outputs.tables.quote_tables import print_differences, what_if_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quote_changes import what_if as ask
    from shopquote.services.shop.on_file import count_typed

    with database.reading() as session:
        stored = count_typed(session, "--revision", revision)
        answer = ask(session, job, _day(session, on), dict(map(pair, what_if)), stored)
    if as_json:
        print_json(what_if_json(answer))
    else:
        title = f"{answer.before.name}, what if {', '.join(answer.changes)} (stored nowhere)"
        print_differences(title, answer.differences)


def _ask_target(
    database: "Database", job: str, net: str, revision: str | None, on: str | None, as_json: bool
) -> None:
    from shopquote.outputs.tables.quote_tables import print_target, target_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.reading.kinds import money, read_typed
    from shopquote.services.quotes.quote_changes import price_for
    from shopquote.services.shop.on_file import count_typed, shop_notation

    with database.reading() as session:
        wanted = read_typed("--target", money(), net, shop_notation(session))
        stored = count_typed(session, "--revision", revision)
        target = price_for(session, job, wanted, _day(session, on), stored)
    print_json(target_json(job, target)) if as_json else print_target(job, target)


def _answer(job: str, answer: str, reason: str, on: str | None, as_json: bool, db: str | None) -> None:
    from shopquote.outputs.tables.quote_tables import print_quotes, quotes_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quotes_on_file import answer_quote
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.session() as session:
        row = answer_quote(session, job, answer, _day(session, on), reason=reason, at=_moment(on))
    print_json(quotes_json([row])) if as_json else print_quotes([row])


def _day(session: Any, on: str | None) -> date:
    from shopquote.services.shop.clock import now
    from shopquote.services.shop.on_file import day_typed

    return day_typed(session, "--on", on, now().date())


def _moment(on: str | None) -> datetime | None:
    """This moment, unless another day was named."""
    from shopquote.services.shop.clock import now

    return now() if on is None else None


def pair(text: str) -> tuple[str, str]:
    """Word and value of WORD=VALUE."""
    word, equals, value = text.partition("=")
    if not equals or not word.strip() or not value.strip():
        raise typer.BadParameter(f"{text!r} is not of the form WORD=VALUE.")
    return word.strip(), value.strip()
