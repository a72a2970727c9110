"""The book of standards: newest figure of the day, names, refusals."""

from datetime import date
from decimal import Decimal

import pytest

from shopquote.calc.bar.grades import FAMILIES
from shopquote.calc.job import FINISH_KINDS, OPERATIONS, WELD_PROCESSES
from shopquote.calc.pricing.standards import (
    STARTING_STANDARDS,
    Standard,
    StandardsBook,
    standards_on,
    starting_book,
)
from shopquote.errors import InputError, NotFoundError

D = Decimal


def test_every_operation_process_finish_and_family_has_its_standards():
    book = starting_book()
    assert all(f"rate.{operation}" in book for operation in OPERATIONS)
    for process in WELD_PROCESSES:
        assert all(
            f"weld.{what}.{process}" in book
            for what in ("deposition", "efficiency", "operating-factor", "clean")
        )
    for kind in set(FINISH_KINDS) - {"none"}:
        assert all(
            f"finish.{what}.{kind}" in book for what in ("set-up", "coat", "price", "film", "transfer")
        )
    assert all(f"{stem}.{family}" in book for family in FAMILIES for stem in ("saw.area-rate", "drill.speed"))


def test_every_starting_standard_names_its_source():
    assert all(standard.source and standard.unit for standard in STARTING_STANDARDS)
    assert len({standard.name for standard in STARTING_STANDARDS}) == len(STARTING_STANDARDS)


def test_the_newest_figure_of_the_day_counts():
    old = Standard("bend.base", D("0.4"), "min/bend", "old")
    new = Standard("bend.base", D("0.5"), "min/bend", "new", since=date(2026, 5, 1))
    assert standards_on([new, old], date(2026, 4, 30)).value("bend.base") == D("0.4")
    assert standards_on([old, new], date(2026, 5, 1)).value("bend.base") == D("0.5")


def test_a_misspelt_name_is_told_the_nearest():
    with pytest.raises(NotFoundError, match="rate\\.weldin"):
        starting_book().value("rate.weldin")


def test_a_family_without_its_own_figure_takes_that_of_mild_steel():
    book = StandardsBook([Standard("drill.speed.mild", D(27), "m/min", "test")])
    assert book.of_family("drill.speed", "titanium") == "drill.speed.mild"


@pytest.mark.parametrize("value, spread", [("-1", "5"), ("NaN", "5"), ("1", "-5")])
def test_impossible_figures_are_refused(value, spread):
    with pytest.raises(InputError, match="Standard x"):
        Standard("x", D(value), "min", "test", spread_pct=D(spread))


def test_dividing_by_a_standard_of_zero_is_refused():
    with pytest.raises(InputError, match="above 0"):
        StandardsBook([Standard("saw.area-rate.mild", D(0), "cm2/min", "test")]).divisor("saw.area-rate.mild")
