"""Days and moments in the records are valid and within the years that any input may name.

The stored text is read, not the converted value: a day that cannot be converted must not stop the search for
it.
"""

from collections.abc import Iterator
from datetime import date

from sqlalchemy import Date, String, Text, cast, or_, select, type_coerce, update
from sqlalchemy import Table as SqlTable
from sqlalchemy.engine.default import DefaultDialect
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.reading.kinds.days import FIRST_DAY, LAST_DAY
from shopquote.records.columns import TimeColumn
from shopquote.records.standards import ALWAYS
from shopquote.records.tables import metadata
from shopquote.services.safe.checks.found import MOST_LINES, Cure, Found, bare_table

# Columns of days whose row also holds the moment of the same event: the moment gives the right day.
_MOMENT_OF_DAY = {
    ("quotes", "issued_on"): "issued_at",
    ("receipts", "received_on"): "received_at",
    ("closings", "closed_on"): "closed_at",
    ("time_entries", "worked_on"): "started_at",
}
# LIKE patterns, in which _ is any character: what differs in length or separators cannot be a day or moment.
_MOMENT = "____-__-__T__:__:__.______Z"
_DAY = "____-__-__"
_ANY_DIALECT = DefaultDialect()


@dataclass(frozen=True)
class _BadDay:
    """A day out of range: table, row id, column, the text stored, and the right day if a moment gives it."""

    table: SqlTable
    row: int
    name: str
    day: str
    right: date | None

    @property
    def text(self) -> str:
        return f"{self.table.name} row {self.row}, {self.name}: the day is {self.day}"


def days_make_sense(session: Session) -> Iterator[Found]:
    """Every day lies within the years that input may name."""
    for bad in _bad_days(session):
        if bad.right is None:
            helps = "put another in its place: shopquote db check --cure --day YYYY-MM-DD"
            yield Found(bad.text, helps=helps)
        else:
            cured = f"{bad.right}, as its {_MOMENT_OF_DAY[bad.table.name, bad.name]} says"
            yield Found(bad.text, put_day(bad.table, bad.row, bad.name, bad.right), cured)


def bad_days(session: Session, day: date) -> list[Cure]:
    """Cures that set `day` where a day is out of range and no moment of its row gives the right one."""
    return [put_day(bad.table, bad.row, bad.name, day) for bad in _bad_days(session) if bad.right is None]


def _bad_days(session: Session) -> Iterator[_BadDay]:
    for held in metadata.sorted_tables:
        for one in held.c:
            if isinstance(one.type, Date):
                yield from _bad_days_of(session, held, one.name)


def _bad_days_of(session: Session, held: SqlTable, name: str) -> Iterator[_BadDay]:
    bare = bare_table(held)
    stored = cast(bare.c[name], Text)
    # A standard without a first day is stored as of a day before all others.
    first = ALWAYS if (held.name, name) == ("standards", "since") else FIRST_DAY
    moment_column = _MOMENT_OF_DAY.get((held.name, name))
    other = bare.c[moment_column] if moment_column else type_coerce(None, String)
    rows = session.execute(
        select(bare.c.id, stored, other)
        .where(
            or_(stored.not_like(_DAY), stored < first.isoformat(), stored > LAST_DAY.isoformat()),
            stored.is_not(None),
        )
        .limit(MOST_LINES)
    )
    for row, day, moment in rows.all():
        yield _BadDay(held, row, name, day, _day_of(moment))


def put_day(held: SqlTable, row: int, name: str, day: date) -> Cure:
    """A cure that sets a day in one row."""

    def cure(session: Session) -> None:
        session.execute(update(held).where(held.c.id == row).values({name: day}))

    return cure


def moments_make_sense(session: Session) -> Iterator[Found]:
    """Every moment can be read and is written in the form whose text order is the order in time."""
    for held in metadata.sorted_tables:
        for one in held.c:
            if not isinstance(one.type, TimeColumn):
                continue
            bare = bare_table(held)
            stored = cast(bare.c[one.name], Text)
            wrong = or_(
                stored.not_like(_MOMENT), stored < FIRST_DAY.isoformat(), stored > f"{LAST_DAY.isoformat()}Z"
            )
            rows = session.execute(select(bare.c.id, stored).where(wrong).limit(MOST_LINES))
            for row, moment in rows.all():
                yield Found(f"{held.name} row {row}, {one.name}: the moment is {moment}")


def _day_of(moment: object) -> date | None:
    if not isinstance(moment, str):
        return None
    try:
        # By the column's own reader; a text that cannot be read is left to moments_make_sense.
        at = TimeColumn().process_result_value(moment, _ANY_DIALECT)
    except ValueError:
        return None
    day = None if at is None else at.astimezone().date()
    return day if day is not None and FIRST_DAY <= day <= LAST_DAY else None
