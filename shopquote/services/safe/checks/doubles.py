"""Names and settings that are in the database twice in two spellings."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopquote.reading.kinds import HEAT, Notation, grade_key, name_key
from shopquote.records.benders import BenderRow, BendTestRow, FormerRow, KRuleRow
from shopquote.records.crew import DaysOffRow, PersonRow
from shopquote.records.logs import OutsideBill
from shopquote.records.materials import GradeRow, StockItem
from shopquote.records.orders import Certificate, ReceivedBar
from shopquote.records.page import WHO_WORKED
from shopquote.records.people import Customer, Supplier
from shopquote.records.rack import RackPiece
from shopquote.records.shop import Saw, TaxRow
from shopquote.records.standards import StandardRow
from shopquote.services.safe.checks.found import Found

_NAMES: tuple[tuple[str, InstrumentedAttribute[str], Callable[[str], str]], ...] = (
    ("grades", GradeRow.name, grade_key),
    ("customers", Customer.name, name_key),
    ("suppliers", Supplier.name, name_key),
    ("benders", BenderRow.name, name_key),
    ("saws", Saw.name, name_key),
    ("taxes", TaxRow.name, name_key),
    ("rates", StandardRow.name, name_key),
    ("places on the rack", RackPiece.place, name_key),
)
# Names that several tables hold as text: one person or sender must be spelt in one way in all of them.
_SPELT: tuple[tuple[str, tuple[InstrumentedAttribute[str], ...]], ...] = (
    ("people", (PersonRow.name, DaysOffRow.person, *WHO_WORKED)),
    ("senders of bills", (Supplier.name, OutsideBill.supplier)),
)
_GRADES: tuple[tuple[str, InstrumentedAttribute[str]], ...] = (
    ("k-rules", KRuleRow.grade),
    ("bend-tests", BendTestRow.grade),
    ("stock", StockItem.grade),
    ("the rack", RackPiece.grade),
)
# Stored in one spelling already where the program wrote them: only older rows and other programs differ.
_HEATS = (RackPiece.heat, ReceivedBar.heat, Certificate.heat)


def names_stand_once(session: Session) -> Iterator[Found]:
    """No name, former, k-rule or bend test exists twice; a grade, heat, place or person has one spelling."""
    for what, column, key in _NAMES:
        yield from _twice(what, session.scalars(select(column).distinct().order_by(column)), key)
    for what, columns in _SPELT:
        rows = (session.scalars(select(column).distinct().order_by(column)) for column in columns)
        yield from _twice(what, dict.fromkeys(chain.from_iterable(rows)), name_key)
    known = {grade_key(name): name for name in session.scalars(select(GradeRow.name))}
    for what, column in _GRADES:
        for typed in session.scalars(select(column).distinct().order_by(column)):
            # A grade that no list has may stand anywhere; only another spelling of a listed one is a fault.
            if known.get(grade_key(typed), typed) != typed:
                yield Found(f"{what} says grade {typed!r} for {known[grade_key(typed)]!r}")
    for column in _HEATS:
        for typed in session.scalars(select(column).distinct().order_by(column).limit(100_000)):
            if typed and HEAT.read(typed, Notation()) != typed:
                yield Found(f"heat {typed!r} is also written {HEAT.read(typed, Notation())!r}")
    formers = session.scalars(select(FormerRow).order_by(FormerRow.id)).all()
    yield from _rows_twice("formers", formers, _former_key)
    yield from _rows_twice(
        "k-rules", session.scalars(select(KRuleRow).order_by(KRuleRow.id)).all(), _rule_key
    )
    tests = session.scalars(select(BendTestRow).order_by(BendTestRow.id)).all()
    yield from _rows_twice("bend-tests", tests, _test_key)


def _former_key(row: FormerRow) -> tuple[Any, ...]:
    return row.bender_id, row.radius, name_key(row.name)


def _rule_key(row: KRuleRow) -> tuple[Any, ...]:
    return grade_key(row.grade), row.family, row.section_kind, row.former_radius


def _test_key(row: BendTestRow) -> tuple[Any, ...]:
    return (
        row.made_on, row.section_key, grade_key(row.grade), row.bend_axis, row.former_radius, row.angle,
        row.flat_length, row.leg_1, row.leg_2, row.inside_radius, row.over_bend,
    )  # fmt: skip


def _twice(what: str, names: Any, key: Callable[[str], str]) -> Iterator[Found]:
    groups = defaultdict(list)
    for name in names:
        groups[key(name)].append(name)
    for same in groups.values():
        if len(same) > 1:
            yield Found(f"{what}: {' and '.join(map(repr, same))} are one")


def _rows_twice(what: str, rows: Sequence[Any], key: Callable[[Any], Any]) -> Iterator[Found]:
    held: dict[Any, int] = {}
    for row in rows:
        first = held.setdefault(key(row), row.id)
        if first != row.id:
            yield Found(f"{what}: row {row.id} is the same as row {first}")
