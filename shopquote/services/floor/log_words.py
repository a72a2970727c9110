"""The options of `shopquote log` as one value: which kind of entry is meant, and how to log it."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import Fault, InputError
from shopquote.reading.kinds import MINUTES, money
from shopquote.services.floor.bar_log import log_bars, log_piece
from shopquote.services.floor.bill_log import log_bought, log_invoice, log_outside, log_payment
from shopquote.services.floor.log import Logged, log_scrap
from shopquote.services.floor.time_log import log_minutes, start_timer, stop_timer
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import count_typed, day_typed, shop_currency, value_typed

# Kinds of entry by the option that names them: options that it needs, and further ones that it may have.
_FORMS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "stop": ((), ("minutes", "person", "rework", "reason")),
    "start": (("operation",), ("person",)),
    "operation": (("minutes",), ("person", "rework", "reason", "on", "sure")),
    "bar": (("grade", "length"), ("count", "cost", "delivery", "returned", "rework", "reason", "on")),
    "piece": ((), ("returned", "rework", "reason", "on")),
    "bought": (("cost",), ("count", "on")),
    "outside": (("cost",), ("supplier", "on")),
    # Before "invoice", which names the invoice lowered when it is given with "credit".
    "credit": (("amount",), ("invoice", "reason", "on")),
    "invoice": (("amount",), ("reason", "on", "due")),
    "paid": ((), ("amount", "reason", "on")),
    "scrap": (("reason",), ("count", "person", "on")),
    "sheet": ((), ("good_rows",)),
    "strike": (("reason",), ()),
}
_SHOWN = {"sheet": "--from"}


@dataclass(frozen=True, slots=True)
class LogWords:
    """The options as typed; None, empty or False if not given."""

    operation: str | None = None
    minutes: str | None = None
    start: bool = False
    stop: bool = False
    bar: str | None = None
    grade: str | None = None
    length: str | None = None
    piece: str | None = None
    returned: tuple[str, ...] = ()
    bought: str | None = None
    outside: str | None = None
    supplier: str | None = None
    invoice: str | None = None
    credit: str | None = None
    scrap: str | None = None
    count: str | None = None
    cost: str | None = None
    amount: str | None = None
    rework: bool = False
    reason: str | None = None
    person: str = ""
    on: str | None = None
    sheet: Path | None = None
    strike: str | None = None
    sure: bool = False
    good_rows: bool = False
    paid: str | None = None
    due: str | None = None
    delivery: str | None = None

    def given(self) -> set[str]:
        """Names of the options that were given."""
        return {
            name for name in self.__dataclass_fields__ if getattr(self, name) not in (None, "", (), False)
        }

    @property
    def nothing(self) -> bool:
        """Whether no option was given: the command then shows the log."""
        return not self.given()

    @property
    def form(self) -> str | None:
        """The option that names the kind of entry meant; None if there is none."""
        return next((name for name in _FORMS if name in self.given()), None)

    def mistake(self) -> str:
        """What is wrong with the combination of options, in words; empty if nothing is."""
        form, given = self.form, self.given()
        if form is None:
            return f"{_option(sorted(given)[0])} needs one of {', '.join(_option(name) for name in _FORMS)}."
        needed, allowed = _FORMS[form]
        for name in needed:
            if name not in given:
                return f"{_option(form)} needs {_option(name)}."
        extra = sorted(given - {form} - set(needed) - set(allowed))
        return f"{_option(extra[0])} does not go with {_option(form)}." if extra else ""


def needed_by(form: str) -> frozenset[str]:
    """Options without which an entry of this kind cannot be: its own and those that it needs."""
    return frozenset({form, *_FORMS[form][0]})


def _option(name: str) -> str:
    return _SHOWN.get(name, f"--{name.replace('_', '-')}")


@dataclass(frozen=True, slots=True)
class Done:
    """Result of one command: what it logged, rows logged before, and faults of rows left out."""

    job: str
    currency: str
    rows: tuple[Logged, ...]
    before: int = 0
    left_out: tuple[Fault, ...] = ()


def rows_left_out(session: Session, number: str, words: LogWords, *, at: datetime) -> tuple[Fault, ...]:
    """Faults of a sheet of which only the good rows are wanted. It logs those: the caller rolls back."""
    if words.sheet is None or not words.good_rows:
        return ()
    from shopquote.services.floor.sheet import sheet_faults

    return sheet_faults(session, number, words.sheet, today=at.date(), at=at)


def log_words(
    session: Session, number: str, words: LogWords, *, at: datetime, but: tuple[Fault, ...] = ()
) -> Done:
    """Log what the options say; of a sheet, all rows but those of the faults in `but`.

    Raises:
        NotFoundError: no such job, piece, mark, grade or timer.
        InputError: a value that cannot be used, or a job that cannot be logged on.
    """
    today = at.date()
    if words.sheet is not None:
        from shopquote.services.floor.sheet import log_from_sheet  # loads the library of workbooks

        read = log_from_sheet(session, number, words.sheet, today=today, at=at, but=but)
        if but and not read.logged and not read.before:
            raise InputError.from_faults(but)  # no row is good
        return Done(find_job(session, number).number, shop_currency(session), read.logged, read.before, but)
    if words.strike is not None:
        from shopquote.services.floor.take_back import strike_entry

        which = count_typed(session, "--strike", words.strike) or 0
        struck = strike_entry(session, number, which, words.reason or "", at=at)
        return Done(struck.job, shop_currency(session), (struck,))
    row = _log_one(session, number, words, day_typed(session, "--on", words.on, today), today, at)
    return Done(row.job, shop_currency(session), (row,))


def _log_one(session: Session, number: str, words: LogWords, on: date, today: date, at: datetime) -> Logged:
    reason = words.reason or ""
    minutes = value_typed(session, "--minutes", MINUTES, words.minutes)
    if words.stop:
        return stop_timer(
            session, number, person=words.person, at=at, minutes=minutes, rework=words.rework, reason=reason
        )
    if words.start and words.operation is not None:
        return start_timer(session, number, words.operation, person=words.person, at=at, on=today)
    if words.operation is not None and minutes is not None:
        return log_minutes(
            session, number, words.operation, minutes, on=on, today=today, at=at, person=words.person,
            rework=words.rework, reason=reason, sure=words.sure,
        )  # fmt: skip
    if words.bar is not None and words.grade is not None and words.length is not None:
        return log_bars(
            session,
            number,
            words.bar,
            words.grade,
            words.length,
            count_typed(session, "--count", words.count) or 1,
            on=on,
            today=today,
            at=at,
            cost=value_typed(session, "--cost", money(), words.cost),
            delivery=value_typed(session, "--delivery", money(), words.delivery),
            returned=words.returned,
            kind="rework" if words.rework else "work",
            reason=reason,
        )
    if words.piece is not None:
        return log_piece(
            session, number, words.piece, on=on, today=today, at=at, returned=words.returned,
            rework=words.rework, reason=reason,
        )  # fmt: skip
    if words.scrap is not None:
        count = count_typed(session, "--count", words.count) or 1
        return log_scrap(
            session, number, words.scrap, count, on=on, today=today, at=at, reason=reason,
            person=words.person,
        )  # fmt: skip
    return _log_money(session, number, words, on, today, at)


def _log_money(session: Session, number: str, words: LogWords, on: date, today: date, at: datetime) -> Logged:
    cost = value_typed(session, "--cost", money(), words.cost)
    if words.bought is not None and cost is not None:
        count = Decimal(count_typed(session, "--count", words.count) or 1)
        return log_bought(session, number, words.bought, cost, on=on, today=today, at=at, count=count)
    if words.outside is not None and cost is not None:
        return log_outside(
            session, number, words.outside, cost, on=on, today=today, at=at, supplier=words.supplier or ""
        )
    amount = value_typed(session, "--amount", money(), words.amount)
    if words.paid is not None:
        return log_payment(session, number, words.paid, amount, on=on, today=today, reason=words.reason or "")
    name = words.credit or words.invoice
    if name is None or amount is None:
        raise InputError("Nothing to log was given.", hint="See: shopquote log --help")
    return log_invoice(
        session, number, name, amount, on=on, today=today, at=at, credit=words.credit is not None,
        lowers=words.invoice if words.credit is not None else None, reason=words.reason or "",
        due=None if words.due is None else day_typed(session, "--due", words.due, today, ahead=True),
    )  # fmt: skip
