from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.review.variance import (
    Earned,
    add_up,
    explain,
    follow_labour,
    labour_cost,
    labour_variance,
    lump_variance,
    material_variance,
)

money = st.decimals(0, 100_000, places=2)
minutes = st.decimals(0, 100_000, places=2)
factor = st.decimals("0.01", 5, places=4)
share = st.decimals(0, 1, places=4)
currencies = st.sampled_from(["EUR", "JPY", "KWD"])


@given(money, minutes, money, minutes, minutes, factor, share, currencies)
def test_labour_parts_add_up_exactly(estimated, planned, actual, worked, rework, made, run, currency):
    row = labour_variance(
        "welding", estimated=estimated, minutes_estimated=planned, actual=actual, minutes_actual=worked,
        minutes_rework=rework, made_over_planned=made, run_share=run, currency=currency,
    )  # fmt: skip
    assert sum(row.parts.values()) == row.difference == actual - estimated


@given(money, minutes, money, minutes, currencies)
def test_material_parts_add_up_exactly(estimated, planned, actual, used, currency):
    row = material_variance(
        "material", "round 12", estimated=estimated, quantity_estimated=planned, actual=actual,
        quantity_actual=used, currency=currency,
    )  # fmt: skip
    assert sum(row.parts.values()) == actual - estimated


@given(st.lists(st.tuples(money, money, factor), max_size=20), money, minutes, minutes)
def test_totals_add_up_part_by_part(bills, overhead, planned, worked):
    rows = [lump_variance("outside", "bill", estimated=a, actual=b, made_over_planned=f) for a, b, f in bills]
    rows.append(
        follow_labour(
            "overhead", "overhead", estimated=overhead, minutes_estimated=planned, minutes_actual=worked
        )
    )
    total = add_up(rows)
    assert (
        sum(total.parts.values())
        == total.actual - total.estimated
        == sum(r.actual - r.estimated for r in rows)
    )


# A flexible budget as cost-accounting texts do it, by hand: 10 sets quoted at 6 min each and 48 an
# hour; 12 sets made in 90 min at 50 an hour. Quantity (12 - 10) x 6 min x 0.80 = 9.60; time (90 - 72) x 0.80
# = 14.40; rate 90 x (50 - 48) / 60 = 3.00; together 75.00 - 48.00.
def test_labour_worked_by_hand():
    row = labour_variance(
        "bending", estimated=Decimal("48.00"), minutes_estimated=Decimal(60), actual=Decimal("75.00"),
        minutes_actual=Decimal(90), made_over_planned=Decimal("1.2"),
    )  # fmt: skip
    assert row.parts == {
        "quantity": Decimal("9.60"), "time": Decimal("14.40"), "rate": Decimal("3.00"), "price": Decimal(0),
    }  # fmt: skip


def test_set_up_does_not_grow_with_the_sets():
    row = labour_variance(
        "bending", estimated=Decimal("48.00"), minutes_estimated=Decimal(60), actual=Decimal("48.00"),
        minutes_actual=Decimal(60), made_over_planned=Decimal(2), run_share=Decimal("0.5"),
    )  # fmt: skip
    assert row.quantity == Decimal("24.00")
    assert row.time == Decimal("-24.00")


# By hand: 40 m planned at 2.50, 44 m used at 2.75: used 4 x 2.50 = 10.00, price 44 x 0.25 = 11.00.
def test_material_worked_by_hand():
    row = material_variance(
        "material", "round 12", estimated=Decimal("100.00"), quantity_estimated=Decimal(40),
        actual=Decimal("121.00"), quantity_actual=Decimal(44),
    )  # fmt: skip
    assert (row.quantity, row.price) == (Decimal("10.00"), Decimal("11.00"))


def test_work_that_was_not_quoted_is_time():
    row = labour_variance(
        "grinding", estimated=Decimal(0), minutes_estimated=Decimal(0), actual=Decimal("20.00"),
        minutes_actual=Decimal(30), minutes_rework=Decimal(15),
    )  # fmt: skip
    assert row.time == Decimal("20.00")
    assert row.rework == Decimal("10.00")


def test_earned_per_hour():
    earned = Earned(Decimal(500), Decimal(400), Decimal(300), Decimal(240))
    assert earned.margin_pct == Decimal("20.0")
    assert earned.margin_per_hour == Decimal("25.00")
    assert earned.contribution_per_hour == Decimal("75.00")
    assert Earned(Decimal(0), Decimal(1), Decimal(0), Decimal(0)).margin_pct is None


def test_large_variances_are_told_in_one_sentence_each_the_largest_first():
    rows = [
        labour_variance(
            "welding", estimated=Decimal("100.00"), minutes_estimated=Decimal(120), actual=Decimal("150.00"),
            minutes_actual=Decimal(180), minutes_rework=Decimal(30),
        ),
        material_variance(
            "material", "round 12 S275", estimated=Decimal("100.00"), quantity_estimated=Decimal(40),
            actual=Decimal("80.00"), quantity_actual=Decimal(40),
        ),
        lump_variance("outside", "galvanising", estimated=Decimal("60.00"), actual=Decimal("60.10")),
    ]  # fmt: skip
    assert explain(rows, Decimal(500)) == (
        "Welding cost 50.00 EUR more than quoted: 180 min against 120 min in the quote, "
        "of which rework 25.00 EUR.",
        "Round 12 S275 (material) cost 20.00 EUR less than quoted: the price paid was lower "
        "than the quote assumed.",
    )


def test_labour_cost_rounds_half_up():
    assert labour_cost(Decimal("0.5"), Decimal("40.20"), "EUR") == Decimal("0.34")
    with pytest.raises(ArithmeticError):
        labour_cost(Decimal("NaN"), Decimal("sNaN"), "EUR")
