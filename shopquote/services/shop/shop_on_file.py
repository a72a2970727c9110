"""The shop's lists on file as the values that calculations take.

Everything here reads an open session and, but for `respell`, writes nothing.
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
    """Whether the database holds a shop; an upgrade makes the tables alone."""
    return session.get(Shop, 1) is not None


def shop_currency(session: Session) -> str:
    """The shop's currency; `USUAL_CURRENCY` where no shop is set up."""
    return session.scalar(select(Shop.__table__.c.currency)) or USUAL_CURRENCY


def shop_unit(session: Session) -> Unit:
    """The unit of the shop's own lists.

    Raises:
        DatabaseError: the shop was never set up.
    """
    return cast(Unit, the_shop(session).units)


def shop_notation(session: Session) -> Notation:
    """The shop's unit, locale and currency, by which values are read and shown.

    Raises:
        DatabaseError: the shop was never set up.
    """
    return notation_of(the_shop(session))


def notation_of(shop: Shop) -> Notation:
    """The unit, locale and currency of a shop's row."""
    return Notation(cast(Unit, shop.units), shop.locale, shop.currency)


def standards_book(session: Session, on: date) -> StandardsBook:
    """The time standards and rates that apply on a day."""
    rows = session.scalars(select(StandardRow).where(StandardRow.since <= on).order_by(StandardRow.since))
    return standards_on((standard_of(row) for row in rows), on)


def grades_on_file(session: Session) -> dict[str, Grade]:
    """All grades by name, in the order entered."""
    return {row.name: grade_of(row) for row in session.scalars(select(GradeRow).order_by(GradeRow.id))}


def grade_on_file(session: Session, typed: str) -> Grade:
    """The grade with a typed name; case, blanks and dashes do not matter.

    Raises:
        NotFoundError: there is none; the message names the nearest.
    """
    grades = grades_on_file(session)
    try:
        return find_grade(typed, grades)
    except InputError as error:
        raise NotFoundError(error.message, hint=error.hint) from error


def name_on_file(session: Session, names: InstrumentedAttribute[str], typed: str) -> str | None:
    """The stored name that equals a typed one but for case and blanks; None where there is none.

    `names` is the column to search, such as `Customer.name`.
    """
    # Most names are typed exactly: this query uses the index, the one below reads every name.
    exact = session.scalar(select(names).where(names == typed).limit(1))
    if exact is not None:
        return exact
    wanted = name_key(typed)
    known = session.scalars(select(names).distinct())
    return next((name for name in known if name_key(name) == wanted), None)


def words_on_file(session: Session, typed: str, *names: InstrumentedAttribute[str]) -> str:
    """A typed name in its stored spelling, searched in each column of `names`; a new one as typed."""
    typed = typed.strip()
    found = (name_on_file(session, each, typed) for each in names) if typed else iter(())
    return next((name for name in found if name is not None), typed)


def respell(session: Session, name: str, columns: Iterable[InstrumentedAttribute[str]]) -> None:
    """Give a name's present spelling to records that hold it in other letter case or blanks."""
    for column in columns:
        spelt = session.scalars(select(column).distinct())
        if others := [each for each in spelt if each != name and name_key(each) == name_key(name)]:
            session.execute(update(column.class_).where(column.in_(others)).values({column.key: name}))


def day_typed(session: Session, what: str, typed: str | None, today: date, *, ahead: bool = False) -> date:
    """A day typed for an option, in the shop's notation; today where none is given.

    Raises:
        InputError: not a day, or one in the future unless `ahead` allows it.
    """
    if typed is None:
        return today
    day = read_typed(what, DAY, typed, shop_notation(session))
    if not ahead:
        refuse_ahead(day, today)
    return day


def refuse_ahead(day: date, today: date) -> None:
    """Refuse a day in the future: one rule for all that is put on file.

    Raises:
        InputError: the day is after today.
    """
    if day > today:
        raise InputError(
            f"The day is {day}; it has not come yet, today is {today}.",
            hint="What is put on file has happened: it counts with the prices and rates of its own day.",
        )


def value_typed(
    session: Session, what: str, kind: Kind[Value], typed: str | None, notation: Notation | None = None
) -> Value | None:
    """An option's value by its kind, in the shop's notation unless another is given; None without a value.

    Raises:
        InputError: it cannot be used.
    """
    return None if typed is None else read_typed(what, kind, typed, notation or shop_notation(session))


def count_typed(session: Session, what: str, typed: str | None) -> int | None:
    """A whole number of at least 1 typed for an option; None where none is given.

    Raises:
        InputError: it cannot be used.
    """
    return value_typed(session, what, _COUNT, typed)


def benders_on_file(session: Session) -> tuple[Bender, ...]:
    """Benders that are not retired, with their formers, in the order entered."""
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
    """All that part calculations need to know of the shop.

    Args:
        session: an open session.
        job: number of the job that is worked out; its long parts then keep to the bars bought for it.

    Raises:
        DatabaseError: the shop was never set up, or no saw is on file.
    """
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
    """The longest bar that suppliers list, by (section key, grade), less what the saw cannot use."""
    query = (
        select(StockItem.section_key, StockItem.grade, func.max(StockItem.length), StockItem.tolerance)
        .join(Supplier)
        .where(~StockItem.retired, ~Supplier.retired, StockItem.limit.is_(None) | (StockItem.limit > 0))
        .group_by(StockItem.section_key, StockItem.grade, StockItem.tolerance)
    )
    return _longest(session, session.execute(query))


def with_bars_of(session: Session, shop: BendingShop, job: str) -> BendingShop:
    """The shop with the bars bought for a job in place of the longest on sale, so that its splices stay.

    A price list that changes later must not move splices for which bars were already ordered.
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
    """Settings of the default saw.

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
    """A standard as pricing takes it; its numbers without trailing zeros."""
    return Standard(
        name=row.name,
        value=without_idle_zeros(row.value),
        unit=row.unit,
        source=row.source,
        since=None if row.since == ALWAYS else row.since,
        spread_pct=without_idle_zeros(row.spread_pct),
    )


def grade_of(row: GradeRow) -> Grade:
    """A grade as part calculations take it: fields of the same names, numbers as floats."""
    return Grade(**{one.name: _plain(getattr(row, one.name)) for one in fields(Grade)})


def grade_row(grade: Grade, *, own: bool = False) -> GradeRow:
    """A new row for a grade; `own` marks it as the shop's own."""
    return GradeRow(own=own, **{one.name: _stored(getattr(grade, one.name)) for one in fields(Grade)})


def _plain(value: Any) -> Any:
    """A stored value as calculations take it: decimals as floats."""
    return float(value) if isinstance(value, Decimal) else dict(value) if isinstance(value, dict) else value


def _stored(value: Any) -> Any:
    """A calculation's value as a row holds it: numbers as decimals."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return stored_number(value)
    return dict(value) if isinstance(value, Mapping) else value


# Fields of a bender that its row stores differently: in a table of their own, as JSON, or as a `Length`.
_APART = ("formers", "pins", "mark_offset_nm")
_SAME_FIELDS = tuple(one.name for one in fields(Bender) if one.name not in _APART)


def bender_of(row: BenderRow) -> Bender:
    """A bender as part calculations take it."""
    return Bender(
        **{name: _plain(getattr(row, name)) for name in _SAME_FIELDS},
        formers=tuple(Former(former.radius, former.name, former.largest) for former in row.formers),
        pins=tuple(Length(nm) for nm in row.pins),
        mark_offset_nm=row.mark_offset.nm,
    )


def bender_row(bender: Bender) -> BenderRow:
    """A new row for a bender, with its formers."""
    formers = [FormerRow(radius=one.radius, name=one.name, largest=one.largest) for one in bender.formers]
    return BenderRow(
        **{name: _stored(getattr(bender, name)) for name in _SAME_FIELDS},
        formers=formers,
        pins=[pin.nm for pin in bender.pins],
        mark_offset=Length(bender.mark_offset_nm),
    )


def bend_test_of(row: BendTestRow) -> BendTest:
    """A bend test as part calculations take it."""
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
    """A neutral-axis rule as part calculations take it."""
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
    """A float of any unit as a decimal: the digits that it prints, at most 6 decimals."""
    return round(Decimal(repr(value)), 6)
