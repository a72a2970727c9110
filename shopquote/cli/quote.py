"""`shopquote quote` prices a job; `shopquote quotes` lists, answers and compares what was quoted."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from shopquote.cli.options import DbOption, JsonOption, OutOption, ReplaceOption, typed_day, typed_number

if TYPE_CHECKING:
    from shopquote.calc.pricing.answers import PriceOverride
    from shopquote.calc.pricing.document import QuoteDocument
    from shopquote.services.quotes.quote import QuoteWishes
    from shopquote.services.shop.database import Database


@dataclass(frozen=True, slots=True)
class Quantities:
    """Quantities typed in one word, as in 1,4,12.

    A class of its own: Typer takes an option annotated as a tuple for one of several words, parser or not.
    """

    counts: tuple[int, ...]

    @classmethod
    def read(cls, text: str) -> "Quantities":
        """The quantities as typed."""
        words = [word.strip() for word in text.split(",") if word.strip()]
        if any(not (word.isascii() and word.isdigit() and int(word)) for word in words):
            raise typer.BadParameter(f"{text!r} is not a list of quantities such as 1,4,12.")
        return cls(tuple(int(word) for word in words))


BreaksOption = Annotated[
    Quantities | None,
    typer.Option(
        "--breaks", parser=Quantities.read, metavar="N,N", help="Quantities side by side; else the job's."
    ),
]


def _choice(*words: str):  # type: ignore[no-untyped-def]  # a parser for Typer
    def chosen(text: str) -> str:
        if text not in words:
            raise typer.BadParameter(f"{text!r} is not one of {', '.join(words)}.")
        return text

    return chosen


JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Number of the job: J-0007, or only 7.")]
RevisionOption = Annotated[
    int | None,
    typer.Option("--revision", min=1, metavar="N", help="A revision of the quote; else the newest."),
]
OnOption = Annotated[
    datetime | None,
    typer.Option("--on", parser=typed_day, metavar="DATE", help="Another day than today."),
]
NumberOption = Decimal | None
MarginOption = Annotated[
    NumberOption,
    typer.Option("--margin", parser=typed_number, metavar="PCT", help="Margin on the price, for this quote."),
]
WhatIfOption = Annotated[
    list[str] | None,
    typer.Option(
        "--what-if",
        metavar="WORD=VALUE",
        help="Ask beside the stored quote, store nothing: margin=25, sets=10, process=TIG, "
        "stock-price=+5%, rate.welding=60, any standard; repeatable.",
    ),
]

quotes_app = typer.Typer(no_args_is_help=True, help="Quotes on file: list, accepted, declined, compare.")


def register(app: typer.Typer) -> None:
    """Add the command and the group to the root."""
    app.command("quote")(quote)
    app.add_typer(quotes_app, name="quotes")


def quote(
    job: JobArgument,
    sets: Annotated[int | None, typer.Option(min=1, metavar="N", help="Sets; else the job's.")] = None,
    breaks: BreaksOption = None,
    margin: MarginOption = None,
    markup: Annotated[
        NumberOption, typer.Option(parser=typed_number, metavar="PCT", help="Markup on the cost instead.")
    ] = None,
    rush: Annotated[
        NumberOption, typer.Option(parser=typed_number, metavar="PCT", help="Charge for rush work.")
    ] = None,
    discount: Annotated[
        NumberOption, typer.Option(parser=typed_number, metavar="PCT", help="Discount on the price.")
    ] = None,
    lines: Annotated[
        str | None,
        typer.Option(
            parser=_choice("set", "part"), metavar="set|part", help="One line a set, or one a part."
        ),
    ] = None,
    learning: Annotated[
        str | None,
        typer.Option(
            parser=_choice("none", "unit", "average"),
            metavar="none|unit|average",
            help="Learning over the run: none, Crawford's unit model, Wright's cumulative average.",
        ),
    ] = None,
    valid: Annotated[int | None, typer.Option(min=1, metavar="DAYS", help="Days that it is valid.")] = None,
    tax: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="A tax instead of the usual; repeatable.")
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option(metavar="LINE=PRICE", help="Unit price by hand for line set, or part MARK; --because."),
    ] = None,
    because: Annotated[str, typer.Option(metavar="TEXT", help="Why a price is set by hand; kept.")] = "",
    again: Annotated[bool, typer.Option("--again", help="Print a stored revision again.")] = False,
    revision: RevisionOption = None,
    what_if: WhatIfOption = None,
    target: Annotated[
        NumberOption,
        typer.Option(parser=typed_number, metavar="NET", help="Which margin does this price leave?"),
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="The quote as PDF too.")] = False,
    on: OnOption = None,
    out: OutOption = Path(),
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Price a job, store it as the quote's next revision, write the quote and estimate workbooks."""
    from shopquote.services.quotes.quote import QuoteWishes
    from shopquote.services.shop.database import open_database

    wishes = QuoteWishes(
        sets, breaks.counts if breaks else None, margin, markup, rush, discount, lines, learning, valid,  # type: ignore[arg-type]
        tuple(tax or ()), _overrides(price or (), because),
    )  # fmt: skip
    asked = [bool(what_if), target is not None, again]
    if sum(asked) > 1 or ((any(asked) or revision is not None) and wishes != QuoteWishes()):
        _refuse_mixed()
    with open_database(db) as database:
        if what_if:
            _ask_what_if(database, job, what_if, revision, _day(on), as_json)
        elif target is not None:
            _ask_target(database, job, target, revision, as_json)
        elif again or revision is not None:
            _print_again(database, job, revision, out, pdf, as_json)
        else:
            _make(database, job, wishes, on, out, pdf, as_json)


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
        rows = list_quotes(session, _day(on), states=state or (), job_number=job)
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
    before: Annotated[int, typer.Argument(min=1, metavar="REVISION", help="The older revision.")],
    after: Annotated[
        int | None, typer.Argument(metavar="REVISION", help="The other; else the newest.")
    ] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """What differs between two revisions of a quote, in words and figures."""
    from shopquote.outputs.tables.quote_tables import differences_json, print_differences
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quote_changes import compare_revisions
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.reading() as session:
        older, newer, found = compare_revisions(session, job, before, after)
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


def _make(
    database: "Database",
    job: str,
    wishes: "QuoteWishes",
    on: datetime | None,
    out: Path,
    pdf: bool,
    as_json: bool,
) -> None:
    from shopquote.files import bring_in, set_aside
    from shopquote.services.quotes.quote import draft_quote
    from shopquote.services.quotes.quotes_on_file import store_quote

    with database.reading() as session:
        draft = draft_quote(session, job, _day(on), wishes)
    # A quote is stored with its paper or not at all; a run killed meanwhile leaves neither.
    with set_aside(out) as aside:
        with database.session() as session:
            document = store_quote(session, draft, at=_moment(on))
            written = _write(document, aside, pdf)
        files = bring_in(written, out)
    _show(document, files, as_json)


def _print_again(
    database: "Database", job: str, revision: int | None, out: Path, pdf: bool, as_json: bool
) -> None:
    from shopquote.services.quotes.quotes_on_file import stored_quote

    with database.reading() as session:
        document = stored_quote(session, job, revision)
    _show(document, _write(document, out, pdf), as_json)


def _write(document: "QuoteDocument", out: Path, pdf: bool) -> list[Path]:
    from shopquote.outputs.books.estimate_book import write_estimate_book
    from shopquote.outputs.books.quote_book import write_quote_book

    files = [write_quote_book(document, out), write_estimate_book(document, out)]
    if pdf:
        from shopquote.outputs.papers.quote_paper import write_quote_paper

        files.insert(1, write_quote_paper(document, out))
    return files


def _show(document: "QuoteDocument", files: list[Path], as_json: bool) -> None:
    from shopquote.outputs.tables.quote_tables import print_quote, quote_json
    from shopquote.outputs.tables.show import print_json

    print_json(quote_json(document, files)) if as_json else print_quote(document, files)


def _ask_what_if(
    database: "Database", job: str, what_if: list[str], revision: int | None, day: date, as_json: bool
) -> None:
    from shopquote.outputs.tables.quote_tables import print_differences, what_if_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quote_changes import what_if as ask

    with database.reading() as session:
        answer = ask(session, job, day, dict(pair(text) for text in what_if), revision)
    if as_json:
        print_json(what_if_json(answer))
    else:
        title = f"{answer.before.name}, what if {', '.join(answer.changes)} (stored nowhere)"
        print_differences(title, answer.differences)


def _ask_target(database: "Database", job: str, net: Decimal, revision: int | None, as_json: bool) -> None:
    from shopquote.outputs.tables.quote_tables import print_target, target_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quote_changes import price_for

    with database.reading() as session:
        target = price_for(session, job, net, revision)
    print_json(target_json(job, target)) if as_json else print_target(job, target)


def _answer(job: str, answer: str, reason: str, on: datetime | None, as_json: bool, db: str | None) -> None:
    from shopquote.outputs.tables.quote_tables import print_quotes, quotes_json
    from shopquote.outputs.tables.show import print_json
    from shopquote.services.quotes.quotes_on_file import answer_quote
    from shopquote.services.shop.database import open_database

    with open_database(db) as database, database.session() as session:
        row = answer_quote(session, job, answer, _day(on), reason=reason, at=_moment(on))
    print_json(quotes_json([row])) if as_json else print_quotes([row])


def _day(on: datetime | None) -> date:
    from shopquote.services.shop.clock import now

    return (on or now()).date()


def _moment(on: datetime | None) -> datetime | None:
    """This moment, unless another day was named."""
    from shopquote.services.shop.clock import now

    return now() if on is None else None


def pair(text: str) -> tuple[str, str]:
    """Word and value of WORD=VALUE."""
    word, equals, value = text.partition("=")
    if not equals or not word.strip() or not value.strip():
        raise typer.BadParameter(f"{text!r} is not of the form WORD=VALUE.")
    return word.strip(), value.strip()


def _overrides(texts: list[str] | tuple[str, ...], because: str) -> "tuple[PriceOverride, ...]":
    from shopquote.calc.pricing.answers import PriceOverride

    pairs = [pair(text) for text in texts]
    return tuple(PriceOverride(line, typed_number(value), because) for line, value in pairs)
