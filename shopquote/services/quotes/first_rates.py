"""The rates that matter in a shop's first hour, asked one after another, and what a sample job costs by them.

Each answer is an entry of one of the shop's lists, and is read, checked and stored like any other. The wage
is not: rates per hour are worked out from it. Begin at `FIRST_RATES`, `store_answer` and `sample_price`.
"""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.rates import burdened_rate
from shopquote.errors import InputError, ShopquoteError
from shopquote.reading import kinds
from shopquote.records.places import sample_jobs_folder
from shopquote.records.shop import Saw, TaxRow
from shopquote.services.jobs.check import check_jobs
from shopquote.services.jobs.jobs import load_job, store_job
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.quote import draft_of
from shopquote.services.shop.lists import read_list, set_entry
from shopquote.services.shop.new_shop import put_starting_lists, store_bender
from shopquote.services.shop.shop_on_file import bending_shop, shop_notation, standards_book, the_shop

# The sample job priced after set-up: bent, welded and drilled, so that every first rate shows in its price.
SAMPLE = "shelf_brackets"


@dataclass(frozen=True, slots=True)
class FirstRate:
    """One question: the list, entry and column that its answer changes.

    `entry` "default" is the list's default. A question without a list is handled by the command itself.
    """

    question: str
    of: str = ""
    entry: str = ""
    column: str = "value"


WAGE = FirstRate("Wage for a paid hour; empty: keep the rates")
ON_COSTS = FirstRate("Employer's taxes, insurance and holidays on it, per cent")
IN_JOBS = FirstRate("Share of the paid hours that goes into jobs, per cent")
BENDER = FirstRate("Bender to start from")
# Answers offered: common practice, no source.
USUAL_PARTS = {ON_COSTS: "30", IN_JOBS: "75"}
TAX = FirstRate("Tax on quotes, per cent", "taxes", "default", "percent")
PRICE_LIST = FirstRate("File of your supplier's price list; Enter: later")
FIRST_RATES: tuple[FirstRate, ...] = (
    WAGE,
    ON_COSTS,
    IN_JOBS,
    FirstRate("Overhead added to labour, per cent", "house", "overhead_pct"),
    FirstRate("Profit: margin 30 (per cent of the price) or markup 45 (of the cost)", "house", "profit"),
    FirstRate("Contingency for what goes wrong, per cent of all cost", "house", "contingency_pct"),
    FirstRate("Smallest price of a quote, before tax", "house", "minimum_order"),
    FirstRate("Saw kerf, the width of its cut", "saws", "default", "kerf"),
    FirstRate("Minutes to handle one saw cut", "rates", "saw.cut-handling"),
    FirstRate("Minutes for one bend", "rates", "bend.base"),
    FirstRate("Minutes to fit up one joint", "rates", "weld.fit-up"),
    BENDER,
    PRICE_LIST,
    TAX,
    FirstRate("Terms of payment, as printed", "house", "terms"),
)


def answer_on_file(session: Session, rate: FirstRate, on: date) -> str:
    """The present answer to a question, as it is typed; empty if the list has no such entry."""
    name = _entry(session, rate)
    table = read_list(session, rate.of, on=on)
    entry = next((one for one in table.entries if one["name"] == name), None)
    column = next(one for one in table.columns if one.name == rate.column)
    return "" if entry is None else column.kind.text(entry[rate.column], table.notation)


def store_answer(session: Session, rate: FirstRate, typed: str, on: date) -> None:
    """Store an answer, as the list's own command does.

    Raises:
        InputError: it cannot be used.
    """
    set_entry(session, rate.of, [f"name={_entry(session, rate)}", f"{rate.column}={typed}"], on=on)


def part_of_wage(session: Session, rate: FirstRate, typed: str) -> Decimal:
    """The wage in the shop's currency, or a percentage of it, from its typed text.

    Raises:
        InputError: it cannot be used.
    """
    kind = {WAGE: kinds.money(above=True), ON_COSTS: kinds.percent(), IN_JOBS: kinds.percent(100)}[rate]
    value: Decimal = kinds.read_typed(rate.question, kind, typed, shop_notation(session))
    return value


def store_wage(session: Session, wage: str, on_costs: str, in_jobs: str, on: date) -> Decimal:
    """Work out the rate of an hour from a wage, store it for every operation, and return it.

    `on_costs` and `in_jobs` are percentages as typed, see the questions.

    Raises:
        InputError: one of the three cannot be used.
    """
    notation = shop_notation(session)
    found = burdened_rate(
        part_of_wage(session, WAGE, wage),
        part_of_wage(session, ON_COSTS, on_costs),
        Decimal(2080),  # paid hours a year; they cancel out here, as overhead has its own question
        part_of_wage(session, IN_JOBS, in_jobs),
    )
    # To a cent, as a person would write it on the list.
    rate = found.rate.quantize(Decimal("0.01"))
    for name in standards_book(session, on):
        if name.startswith("rate."):
            set_entry(session, "rates", [name, kinds.money().text(rate, notation)], on=on)
    return rate


def store_answers(session: Session, typed: Mapping[FirstRate, str], on: date) -> dict[FirstRate, str]:
    """Store the answers that change something; returns error messages of the others, by question.

    The wage and its two parts are used together, and only if a wage is given. The price list is imported
    elsewhere.
    """
    faults: dict[FirstRate, str] = {}
    worked = (WAGE, ON_COSTS, IN_JOBS)
    for rate, text in typed.items():
        try:
            if rate in worked:
                # Without a wage the other two answers mean nothing and are not checked.
                if typed[WAGE]:
                    part_of_wage(session, rate, text)
                # The last of the three questions: only now are all three answers known.
                if rate is IN_JOBS and typed[WAGE] and not faults.keys() & set(worked):
                    store_wage(session, typed[WAGE], typed[ON_COSTS], typed[IN_JOBS], on)
            elif rate is BENDER:
                if text:
                    store_bender(session, text)
            elif rate.of and text != answer_on_file(session, rate, on):
                store_answer(session, rate, text, on)
        except ShopquoteError as error:
            # Collected by question, so that a form can show all of them at once.
            faults[rate] = error.message
    return faults


@dataclass(frozen=True, slots=True)
class SamplePrice:
    """Price of the sample job without and with tax; `invented`: bars or benders had to be invented for it."""

    net: Decimal
    total: Decimal
    invented: bool


def sample_price(
    session: Session, at: datetime, keep: Callable[[], object] = lambda: None
) -> tuple[Decimal, bool]:
    """Net price of the sample job, and whether bars or benders had to be invented for it; see
    `priced_sample`.
    """
    sample = priced_sample(session, at, keep)
    return sample.net, sample.invented


def priced_sample(session: Session, at: datetime, keep: Callable[[], object] = lambda: None) -> SamplePrice:
    """Price the sample job by what is on file, or with invented bars and benders where these do not suffice.

    The session must be one that the caller rolls back. If the first attempt fails it is rolled back here, and
    `keep` is called to repeat what the caller had done in it.
    """
    today = at.date()
    try:
        return _priced(session, at, invented=False)
    except ShopquoteError:
        # The shop's own price list or benders do not cover the sample yet.
        session.rollback()
        keep()
    put_starting_lists(session, the_shop(session).currency, today)
    session.flush()
    return _priced(session, at, invented=True)


def _priced(session: Session, at: datetime, *, invented: bool) -> SamplePrice:
    path = sample_jobs_folder() / f"{SAMPLE}.toml"
    (checked,) = check_jobs([path], bending_shop(session), shop_notation(session))
    job = store_job(session, checked, at=at)
    draft = draft_of(
        session, load_job(session, job.number), checked.answers, at.date(), QuoteWishes(breaks=())
    )
    priced = draft.document.priced
    return SamplePrice(priced.net, priced.total, invented)


def _entry(session: Session, rate: FirstRate) -> str:
    """Name of the entry that a question is about."""
    if rate.entry != "default":
        return rate.entry
    table: Any = {"saws": Saw, "taxes": TaxRow}[rate.of]
    name: str | None = session.scalar(select(table.name).order_by(table.is_default.desc(), table.id).limit(1))
    if name is None:
        raise InputError(f"There is nothing on the list {rate.of}.")
    return name
