"""Work around the bench, metal groups of welds and holes through hollow bars."""

from dataclasses import replace
from decimal import Decimal

import pytest

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import HoleSpec, JobSpec, LabourSpec, OutsideSpec, PartSpec, SiteSpec, WeldSpec
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.priced_quote import PricingPolicy
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.work import job_work
from shopquote.calc.units import Length, Measure
from shopquote.services.shop.starting import starting_shop

SHOP = starting_shop()
D = Decimal


def mm(value):
    return Measure(str(value), Length.from_mm(value))


BAR = PartSpec("A", "bar", 1, "flat 50 x 8", "S275", length=mm(1000))
JOB = JobSpec("Bar", "Somebody", 1, "mm", parts=(BAR,))
WELD = WeldSpec("fillet", mm(5), mm(1000), 1, "MIG")


@pytest.fixture
def estimated(plan):
    """A function: the estimate of a job with some standards set."""

    def worked(job=JOB, sets=1, **values):
        parts = {part.mark: analyse_part(part, "mm", SHOP) for part in job.parts}
        book = starting_book().with_values(
            {name.replace("_", "."): D(value) for name, value in values.items()}
        )
        return estimate_job(job, parts, plan(job, parts, sets), book, PricingPolicy(), sets)

    return worked


def test_what_is_not_charged_is_named_until_it_is(estimated):
    (note,) = (note for note in estimated().notes if note.startswith("Not charged"))
    for standard in ("office.drawing", "office.buying", "checking.job", "site.travel", "site.fitting"):
        assert standard in note
        charged = estimated(**{standard.replace(".", "_"): "30"})
        assert standard not in " ".join(charged.notes)
        assert charged.by_operation[standard.partition(".")[0]] == 30
    by_hand = replace(JOB, labour=(LabourSpec("site", D(90), "job"),))
    assert "site." not in " ".join(estimated(by_hand).notes)


def test_galvanising_is_weighed_after_dipping_and_carried(estimated):
    job = replace(JOB, outside=(OutsideSpec("hot-dip galvanising", "kg", D(2)),))
    black = 0.05 * 0.008 * 7850
    (line,) = (line for line in estimated(job, 10).costs if line.category == "outside")
    assert float(line.quantity) == pytest.approx(10 * black * 1.06, rel=1e-6)
    assert "outside.carriage" in " ".join(estimated(job, 10).notes)
    dipped, carried = (
        line for line in estimated(job, 10, outside_carriage="45").costs if line.category == "outside"
    )
    assert (dipped.amount, carried.amount) == (line.amount, 45)
    painted = replace(JOB, outside=(OutsideSpec("powder coating", "kg", D(2)),))
    (line,) = (line for line in estimated(painted, 10).costs if line.category == "outside")
    assert float(line.quantity) == pytest.approx(10 * black, rel=1e-6)


def test_what_the_job_says_of_its_site_stands_in_place_of_the_usual_minutes(estimated):
    # Two people for 6 h; 30 km there and 30 back, twice, at 1.2 min/km each; one vehicle at 0.45 a km.
    site = SiteSpec(D(6), 2, D(30), 2, D("85"))
    answer = estimated(replace(JOB, site=site), site_travel="99", site_fitting="99")
    assert answer.by_operation["site"] == 2 * 6 * 60 + 2 * 120 * D("1.2")
    charged = {line.text: (line.category, line.amount) for line in answer.costs}
    assert charged["vehicle to the site"] == ("consumables", 54)
    assert charged["gear hired for the site, tolls, lodging"] == ("outside", 85)
    assert "site." not in " ".join(answer.notes)
    inches = estimated(replace(JOB, units="in", site=site))
    assert float(inches.by_operation["site"] - 720) == pytest.approx(2 * 120 * 1.609344 * 1.2, abs=0.01)


def test_a_site_without_a_distance_takes_the_usual_journey_and_hours_of_nothing_are_nothing(estimated):
    answer = estimated(replace(JOB, site=SiteSpec(D(0))), site_travel="40", site_fitting="99")
    assert answer.by_operation["site"] == 40
    assert "site.travel" in " ".join(estimated(replace(JOB, site=SiteSpec(D(2)))).notes)


def test_each_work_outside_is_carried_at_its_own_charge_or_all_at_the_usual_one(estimated):
    works = (OutsideSpec("zinc", "lot", D(80), carriage=D(25)), OutsideSpec("paint", "lot", D(60)))
    carried = [line.amount for line in estimated(replace(JOB, outside=works), outside_carriage="45").costs
               if line.text.startswith("carriage")]  # fmt: skip
    assert carried == [25, 45]
    own = replace(JOB, outside=(replace(works[0], carriage=D(0)),))
    assert "outside.carriage" not in " ".join(estimated(own).notes)


def arc(grade, **more):
    """Minutes of the arc over all the welds of one bar of a grade, and what is used up, by standard."""
    part = replace(BAR, grade=grade)
    job = JobSpec("Bar", "Somebody", 1, "mm", parts=(part,), welds=(replace(WELD, **more),))
    book = starting_book()
    work = job_work(job, {"A": analyse_part(part, "mm", SHOP)}, book)
    (item,) = (item for item in work.items if item.operation == "welding" and item.how == "over")
    used = {use.standard: use.per_set for use in work.used_up if use.standard.startswith("weld.")}
    return item.per_set / float(book.value(item.standard)), item.standard, used


def test_aluminium_takes_about_what_steel_takes_and_its_own_wire():
    # 12.5 mm2 x 1 m x 1.15. Steel: 7850 kg/m3, 2.6 kg/h. 6082: 0.0388 kg at 0.90 kg/h, 2.6 min of arc.
    steel, _, _ = arc("S275")
    aluminium, standard, used = arc("6082-T6")
    assert standard == "weld.deposition.MIG.aluminium"
    assert aluminium * 0.30 == pytest.approx(2.6, rel=0.02)
    assert aluminium == pytest.approx(steel, rel=0.1)
    assert "weld.filler-price.MIG.aluminium" in used and "weld.filler-price.MIG" not in used


def test_stainless_is_slower_and_cleaned_longer():
    assert arc("304")[0] > arc("S275")[0]


@pytest.mark.parametrize("process", ["MIG", "MAG", "TIG", "MMA", "FCAW"])
@pytest.mark.parametrize("grade", ["S275", "304", "6082-T6"])
def test_no_arc_is_faster_than_a_hand_travels(process, grade):
    minutes, _, _ = arc(grade, leg=mm(2), process=process)
    book = starting_book()
    factor = float(book.value(f"weld.operating-factor.{process}")) / 100
    assert minutes >= 0.999 * 1000 / float(book.value(f"weld.travel.{process}")) / factor


@pytest.mark.parametrize("leg, passes", [(3, 1), (8, 1), (10, 2), (12, 3), (16, 4)])
def test_a_large_fillet_takes_passes_by_its_area(leg, passes):
    # One pass lays down a leg of 8 mm at most: area by area, (leg / 8) squared, rounded up.
    job = replace(JOB, welds=(replace(WELD, leg=mm(leg)),))
    work = job_work(job, {"A": analyse_part(BAR, "mm", SHOP)}, starting_book())
    assert sum(item.per_set for item in work.items if item.standard == "weld.clean.MIG") == passes


def drilled(bar, walls=0):
    part = replace(BAR, bar=bar, holes=(HoleSpec(mm(8), 1, walls=walls),))
    book = starting_book()
    work = job_work(replace(JOB, parts=(part,)), {"A": analyse_part(part, "mm", SHOP)}, book)
    return sum(
        item.per_set / float(book.value(item.standard)) if item.how == "over"
        else item.per_set * float(book.value(item.standard))
        for item in work.items if item.operation == "drilling"
    )  # fmt: skip


def test_a_hole_through_a_hollow_bar_costs_at_least_its_walls_as_flats():
    # Two walls of 3 mm, each begun anew, clamped in a vee and the far burrs out of reach.
    wall = drilled("flat 40 x 3")
    handling = 0.5  # a piece is clamped once
    assert drilled("box 40 x 40 x 3") >= 2 * wall - handling
    assert drilled("box 40 x 40 x 3") > drilled("box 40 x 40 x 3", walls=1) > wall
