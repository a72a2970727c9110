"""Figures of the trade that belong to no one room, each with its source."""

from decimal import Decimal

import pytest

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import OutsideSpec, PartSpec, WeldSpec
from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.around import outside_lines
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.weld_pulls import shrinkage_mm
from shopquote.calc.pricing.welding import minimum_fillet_mm, weld_area_mm2, weld_mass_kg
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.services.shop.starting import starting_shop


def made(bar, shape, **fields):
    return analyse_part(PartSpec("A", "part", 1, bar, "S275", shape=shape, **fields), "mm", starting_shop())


# Quadrature of r = a + b t, by hand: radii to the centre line, to the inside, to the outside.
@pytest.mark.parametrize(("of", "length"), [("centre", 379.312), ("inside", 435.511), ("outside", 323.285)])
def test_a_scroll_is_as_long_as_its_radii_say(of, length):
    answer = made("round 12", f"scroll from 60 to 20 turns 1.5 {of}")
    assert answer.developed.mm_float == pytest.approx(length, abs=1e-3)


def test_a_bent_part_in_space_against_a_walk_of_18000_points():
    # Rotation matrices stepped along the bar, worked apart from the program.
    shape = "leg 200; bend 60 r 15; leg 150; turn 35; bend -100 r 40; leg 220; turn 90; bend 45 r 25; leg 90"
    answer = made("round 10", shape)
    assert answer.developed.mm_float == pytest.approx(625.18325, abs=1e-4)
    assert [abs(x) for x in answer.centre_of_gravity_mm] == pytest.approx(
        [256.4847, 31.4178, 38.4942], abs=2e-3
    )


def test_aluminium_wire_lays_down_what_its_maker_prints():
    # 0.035 in wire, 10,596 in/lb at 350 in/min: 0.90 kg/h; 1 m of 5 mm fillet, 15 % over, 2.6 min.
    kg_per_hour = 350 * 60 / 10_596 * 0.45359237
    assert float(starting_book().value("weld.deposition.MIG.aluminium")) == pytest.approx(
        kg_per_hour, abs=5e-3
    )
    metal = weld_mass_kg(weld_area_mm2("fillet", 5), 1000, 2700, 15)
    assert metal / kg_per_hour * 60 == pytest.approx(2.6, abs=0.05)


# ISO 4217: list one as published on 2017-01-01 (CLF 4, BIF, DJF, KMF, XPF 0) and, for
# the others, an earlier list one (which has CLF 0 still), both in a public data set of currency codes.
@pytest.mark.parametrize(
    ("digits", "currencies"),
    [(0, "PYG RWF XPF KMF DJF GNF BIF VUV JPY"), (2, "EUR USD GBP HUF"), (3, "IQD LYD KWD TND"), (4, "CLF")],
)
def test_minor_units_of_currencies(digits, currencies):
    assert {currency_digits(currency) for currency in currencies.split()} == {digits}


# AWS D1.1 as printed by TWI: T below 6 mm 3, 6 to 12: 5, 12 to 20: 6, over 20: 8 mm.
@pytest.mark.parametrize(("thickness", "leg"), [(5, 3), (10, 5), (16, 6), (25, 8)])
def test_least_fillet_leg(thickness, leg):
    assert minimum_fillet_mm(thickness) == leg


# TWI, "How much shall I allow for weld shrinkage?": a fillet with a leg of up to 3/4 of the plate 0.8 mm
# across, a 60 degree V butt 1.5 to 3 mm; along 3 m of weld a fillet 0.8 mm, a butt 3 mm.
@pytest.mark.parametrize(("kind", "across"), [("fillet", (0.8, 0.8)), ("groove", (1.5, 3.0))])
def test_weld_shrinkage(kind, across):
    weld = WeldSpec(kind, Measure.parse("5", "mm"), Measure.parse("3 m", "mm"), 1, "MAG")
    least, most, along = shrinkage_mm(weld)
    assert (least, most) == across and along == pytest.approx({"fillet": 0.8, "groove": 3.0}[kind])


# The Spanish galvanizers' association (ateg.es, "how much weight will my material gain"): 6 % on average; the
# goods are weighed when they come out of the bath.
def test_zinc_is_paid_on_what_comes_out_of_the_bath():
    works = [OutsideSpec(name, "kg", Decimal(2)) for name in ("hot-dip galvanising", "blasting")]
    zinc, plain = (outside_lines([work], 50.0, 1.0, starting_book(), "EUR", 4)[0] for work in works)
    assert (zinc.quantity, plain.quantity) == (Decimal("212"), Decimal("200"))
    assert (zinc.amount, plain.amount) == (Decimal("424"), Decimal("400"))


def test_a_ring_has_no_ends_to_turn():
    with pytest.raises(InputError, match="no ends to turn"):
        made("round 12", "ring d 300", turned=1)
