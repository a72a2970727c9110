"""The shop's own lists as the values that the calculations take: rows in, values out.

Everything here reads an open session and writes nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar, cast

from sqlalchemy import func, select, update
from sqlalchemy.orm import InstrumentedAttribute, Session, selectinload

from shopquote.calc.bar.benders import Bender, BendingShop, BendTest, Former, KRule, LongestBar
from shopquote.calc.bar.grades import Grade, find_grade
from shopquote.calc.bar.splice import longest_bars
from shopquote.calc.money import USUAL_CURRENCY
from shopquote.calc.pricing.standards import Standard, StandardsBook, standards_on
from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.units import ZERO, Length, Unit
from shopquote.errors import DatabaseError, InputError, NotFoundError
from shopquote.reading.kinds import DAY, Kind, Notation, count, name_key, read_typed
from shopquote.records.benders import BenderRow, BendTestRow, FormerRow, KRuleRow
from shopquote.records.jobs import Job
from shopquote.records.materials import GradeRow, StockItem
from shopquote.records.people import Supplier
from shopquote.records.shop import Saw, Shop
from shopquote.records.standards import ALWAYS, StandardRow
from shopquote.services.shop.free_rack import have_bars
from shopquote.services.shop.values import section_of, without_idle_zeros

Value = TypeVar("Value")
_COUNT = count(least=1)


def the_shop(session: Session) -> Shop:
    """The shop's own row.

    Raises:
        DatabaseError: the shop was never set up.
    """
    shop = session.get(Shop, 1)
    if shop is None:
        raise DatabaseError("The shop was never set up in this database.", hint="Set it up: shopquote setup")
    return shop


def is_set_up(session: Session) -> bool:
    """Whether there is a shop in the database; an upgrade makes its tables alone."""
    return session.get(Shop, 1) is not None


def shop_currency(session: Session) -> str:
    """The shop's currency; the usual one in a database without a shop."""
    return session.scalar(select(Shop.__table__.c.currency)) or USUAL_CURRENCY


def shop_unit(session: Session) -> Unit:
    """The unit of the shop's own lists."""
    return cast(Unit, the_shop(session).units)


def shop_notation(session: Session) -> Notation:
    """How the shop writes values: unit, locale, currency.

    Raises:
        DatabaseError: the shop was never set up, so that nothing says how.
    """
    return notation_of(the_shop(session))


def notation_of(shop: Shop) -> Notation:
    """How a shop on file writes values."""
    return Notation(cast(Unit, shop.units), shop.locale, shop.currency)


def standards_book(session: Session, on: date) -> StandardsBook:
    """The standards that count on a day."""
    rows = session.scalars(select(StandardRow).where(StandardRow.since <= on).order_by(StandardRow.since))
    return standards_on((standard_of(row) for row in rows), on)


def grades_on_file(session: Session) -> dict[str, Grade]:
    """All grades by name."""
    return {row.name: grade_of(row) for row in session.scalars(select(GradeRow).order_by(GradeRow.id))}


def grade_on_file(session: Session, typed: str) -> Grade:
    """The grade of a typed name; case, blanks and dashes do not matter.

    Raises:
        NotFoundError: unknown; the nearest is told.
    """
    grades = grades_on_file(session)
    try:
        return find_grade(typed, grades)
    except InputError as error:
        raise NotFoundError(error.message, hint=error.hint) from error


def name_on_file(session: Session, names: InstrumentedAttribute[str], typed: str) -> str | None:
    """The name on file, such as a customer's, that a typed one is but for case and blanks; else None."""
    # Nearly always so, and the database finds it by its index.
    exact = session.scalar(select(names).where(names == typed).limit(1))
    if exact is not None:
        return exact
    wanted = name_key(typed)
    known = session.scalars(select(names).distinct())
    return next((name for name in known if name_key(name) == wanted), None)


def words_on_file(session: Session, typed: str, *names: InstrumentedAttribute[str]) -> str:
    """A name in the words in which it stands on file, looked for in each of `names`; a new one as typed."""
    typed = typed.strip()
    found = (name_on_file(session, each, typed) for each in names) if typed else iter(())
    return next((name for name in found if name is not None), typed)


def respell(session: Session, name: str, columns: Iterable[InstrumentedAttribute[str]]) -> None:
    """Records that bear this name in other letter case or blanks bear it as it is from now on."""
    for column in columns:
        spelt = session.scalars(select(column).distinct())
        if others := [each for each in spelt if each != name and name_key(each) == name_key(name)]:
            session.execute(update(column.class_).where(column.in_(others)).values({column.key: name}))


def day_typed(session: Session, what: str, typed: str | None, today: date, *, ahead: bool = False) -> date:
    """A day as typed for an option, in the shop's notation; today when nothing is said.

    Raises:
        InputError: no day, or one that has not come yet, unless days `ahead` make sense.
    """
    if typed is None:
        return today
    day = read_typed(what, DAY, typed, shop_notation(session))
    if not ahead:
        refuse_ahead(day, today)
    return day


def refuse_ahead(day: date, today: date) -> None:
    """Refuse a day that has not come: one rule for all that is put on file.

    Raises:
        InputError: it has not come yet.
    """
    if day > today:
        raise InputError(
            f"The day is {day}; it has not come yet, today is {today}.",
            hint="What is put on file has happened: it counts with the prices and rates of its own day.",
        )


def value_typed(session: Session, what: str, kind: Kind[Value], typed: str | None) -> Value | None:
    """An option's value by its kind, in the shop's notation; None when nothing is said.

    Raises:
        InputError: it cannot be used.
    """
    return None if typed is None else read_typed(what, kind, typed, shop_notation(session))


def count_typed(session: Session, what: str, typed: str | None) -> int | None:
    """A whole number of at least 1, as typed for an option: how many, or which one.

    Raises:
        InputError: it cannot be used.
    """
    return value_typed(session, what, _COUNT, typed)


def benders_on_file(session: Session) -> tuple[Bender, ...]:
    """Benders that are in use with their formers, in the order they were entered."""
    rows = (
        select(BenderRow)
        .where(~BenderRow.retired)
        .options(selectinload(BenderRow.formers))
        .order_by(BenderRow.id)
    )
    return tuple(bender_of(row) for row in session.scalars(rows))


def bend_tests_on_file(session: Session) -> tuple[BendTest, ...]:
    """All bend tests, oldest first."""
    rows = select(BendTestRow).order_by(BendTestRow.made_on, BendTestRow.id)
    return tuple(bend_test_of(row) for row in session.scalars(rows))


def k_rules_on_file(session: Session) -> tuple[KRule, ...]:
    """The shop's neutral-axis rules."""
    return tuple(k_rule_of(row) for row in session.scalars(select(KRuleRow).order_by(KRuleRow.id)))


def bending_shop(session: Session, job: str | None = None) -> BendingShop:
    """All that the bar room needs to know of the shop; `job`: whose bars are bought may be on file."""
    shop = the_shop(session)
    found = BendingShop(
        benders=benders_on_file(session),
        grades=grades_on_file(session),
        k_rules=k_rules_on_file(session),
        bend_tests=bend_tests_on_file(session),
        planning_mm=shop.planning_mm,
        planning_in=shop.planning_in,
        arc_gap=shop.arc_gap,
        small_bends=shop.small_bends,  # type: ignore[arg-type]  # the column takes no other word
        formers_along=shop.formers_along,
        datum=shop.bend_datum,  # type: ignore[arg-type]  # the column takes no other word
        hand_pull_n=float(shop.hand_pull_n),
        twist_loss_pct=shop.twist_loss_pct,
        forge_loss_pct=shop.forge_loss_pct,
        longest=longest_on_sale(session),
    )
    return found if job is None else with_bars_of(session, found, job)


def longest_on_sale(session: Session) -> dict[tuple[str, str], LongestBar]:
    """The longest bar that suppliers list of each section key and grade, and what the saw gets of it."""
    query = (
        select(StockItem.section_key, StockItem.grade, func.max(StockItem.length), StockItem.tolerance)
        .join(Supplier)
        .where(~StockItem.retired, ~Supplier.retired, StockItem.limit.is_(None) | (StockItem.limit > 0))
        .group_by(StockItem.section_key, StockItem.grade, StockItem.tolerance)
    )
    return _longest(session, session.execute(query))


def with_bars_of(session: Session, shop: BendingShop, job: str) -> BendingShop:
    """The same where bars were bought for a job: they stay what its long parts are parted by.

    A list that changes later must not part them otherwise than they were ordered.
    """
    if not have_bars(session, [job]):
        return shop
    from shopquote.records.orders import BOUGHT_STATES, Order, OrderLine, OrderLineJob

    query = (
        select(OrderLine.section_key, OrderLine.grade, OrderLine.length)
        .join(OrderLineJob, OrderLineJob.order_line_id == OrderLine.id)
        .join(Job, Job.id == OrderLineJob.job_id)
        .join(Order, Order.id == OrderLine.order_id)
        .where(Job.number == job, ~OrderLine.cut, Order.state.in_(BOUGHT_STATES))
    )
    rows = ((key, grade, length, ZERO) for key, grade, length in session.execute(query))
    bought = _longest(session, rows)
    return replace(shop, longest={**shop.longest, **bought}) if bought else shop


def _longest(
    session: Session, rows: Iterable[tuple[str, str, Length, Length]]
) -> dict[tuple[str, str], LongestBar]:
    sold = list(rows)
    if not sold:
        return {}
    return longest_bars(sold, saw_settings(session).lost)


def saw_settings(session: Session) -> SawSettings:
    """The saw that is used unless another is named.

    Raises:
        DatabaseError: no saw is on file.
    """
    saw = session.scalar(select(Saw).where(~Saw.retired).order_by(Saw.is_default.desc(), Saw.id).limit(1))
    if saw is None:
        raise DatabaseError("No saw is on file.", hint="Set the shop up: shopquote setup")
    return SawSettings(
        kerf=saw.kerf,
        trim=saw.trim,
        grip=saw.grip,
        keep_min=saw.keep_min,
        keep_percent=saw.keep_percent,
        nest_mitres=saw.nest_mitres,
        rack_worth_percent=the_shop(session).rack_worth_pct,
    )


def standard_of(row: StandardRow) -> Standard:
    """A standard as the pricing takes it; its number without idle zeros."""
    return Standard(
        name=row.name,
        value=without_idle_zeros(row.value),
        unit=row.unit,
        source=row.source,
        since=None if row.since == ALWAYS else row.since,
        spread_pct=without_idle_zeros(row.spread_pct),
    )


def grade_of(row: GradeRow) -> Grade:
    """A grade as the bar room takes it: its fields are the row's columns, numbers as floats."""
    return Grade(**{one.name: _plain(getattr(row, one.name)) for one in fields(Grade)})


def grade_row(grade: Grade, *, own: bool = False) -> GradeRow:
    """A new row for a grade."""
    return GradeRow(own=own, **{one.name: _stored(getattr(grade, one.name)) for one in fields(Grade)})


def _plain(value: Any) -> Any:
    """A stored value as calculations take it."""
    return float(value) if isinstance(value, Decimal) else dict(value) if isinstance(value, dict) else value


def _stored(value: Any) -> Any:
    """A value of a calculation as a row holds it."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return stored_number(value)
    return dict(value) if isinstance(value, Mapping) else value


# Fields of a bender that its row holds otherwise: in a table of their own, or in JSON.
_APART = ("formers", "pins", "mark_offset_nm")
_ALIKE = tuple(one.name for one in fields(Bender) if one.name not in _APART)


def bender_of(row: BenderRow) -> Bender:
    """A bender as the bar room takes it."""
    return Bender(
        **{name: _plain(getattr(row, name)) for name in _ALIKE},
        formers=tuple(Former(former.radius, former.name, former.largest) for former in row.formers),
        pins=tuple(Length(nm) for nm in row.pins),
        mark_offset_nm=row.mark_offset.nm,
    )


def bender_row(bender: Bender) -> BenderRow:
    """A new row for a bender, with its formers."""
    formers = [FormerRow(radius=one.radius, name=one.name, largest=one.largest) for one in bender.formers]
    return BenderRow(
        **{name: _stored(getattr(bender, name)) for name in _ALIKE},
        formers=formers,
        pins=[pin.nm for pin in bender.pins],
        mark_offset=Length(bender.mark_offset_nm),
    )


def bend_test_of(row: BendTestRow) -> BendTest:
    """A bend test as the bar room takes it."""
    return BendTest(
        made_on=row.made_on,
        section=section_of(row.section_key, row.section_text),
        grade=row.grade,
        former_radius=row.former_radius,
        angle=float(row.angle),
        flat_length=row.flat_length,
        leg_1=row.leg_1,
        leg_2=row.leg_2,
        inside_radius=row.inside_radius,
        over_bend=None if row.over_bend is None else float(row.over_bend),
        bend_axis=row.bend_axis,  # type: ignore[arg-type]  # the column takes no other word
        note=row.note,
    )


def k_rule_of(row: KRuleRow) -> KRule:
    """A neutral-axis rule as the bar room takes it."""
    return KRule(
        rule=row.rule,  # type: ignore[arg-type]  # the column takes no other word
        k=float(row.k),
        grade=row.grade,
        family=row.family,
        section_kind=row.section_kind,
        former_radius=row.former_radius,
        source=row.source,
    )


def stored_number(value: float) -> Decimal:
    """A float of any unit as it is stored: the digits it prints, at most 6 decimals."""
    return round(Decimal(repr(value)), 6)
