"""Welds against the metal that they join."""

from dataclasses import replace
from decimal import Decimal

import pytest

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import JobSpec, PartSpec, TemplateSpec, WeldSpec
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.weld_checks import refuse_welds, weld_problems
from shopquote.calc.pricing.weld_minutes import joints_of
from shopquote.calc.pricing.weld_pulls import weld_pulls
from shopquote.calc.pricing.work import job_work
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError
from shopquote.reading.job_file import read_job_text
from shopquote.services.shop.starting import starting_shop


def mm(value):
    return Measure.parse(value, "mm")


def job(*welds, **more):
    parts = (
        PartSpec("A", "tube", 2, "tube 42.4 x 3", "S275", length=mm(600)),
        PartSpec("B", "lug", 4, "flat 50 x 12", "S275", length=mm(80)),
    )
    return JobSpec("Frame", "Shop", 1, "mm", parts=parts, welds=welds, **more)


def answers(spec):
    return {part.mark: analyse_part(part, "mm", starting_shop()) for part in spec.parts}


def weld(leg=4, length=40, **more):
    return WeldSpec("fillet", mm(leg), mm(length), 4, "MAG", **more)


@pytest.mark.parametrize(
    ("one", "codes"),
    [
        # AWS D1.1 table 7.7: 3 mm wall 3, 12 mm plate 5; never more than the thinner part.
        (weld(3, joins=("A", "B")), []),
        (weld(2, joins=("A", "B")), ["weld-small"]),
        (weld(4, joins=("A", "B")), ["weld-large"]),
        (weld(4, joins=("B",)), ["weld-small"]),
        (weld(5, joins=("B",)), []),
    ],
)
def test_a_leg_is_held_to_the_thinner_metal_that_it_joins(one, codes):
    spec = job(one)
    assert [problem.code for _, problem in weld_problems(spec, answers(spec))] == codes


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (weld(40, joins=("A", "B")), "a fillet of leg 40 cannot be laid on metal 3 mm thick"),
        (weld(40), "a fillet of leg 40 cannot be laid on metal 12 mm thick"),
        (
            replace(weld(14, joins=("A", "B")), kind="groove"),
            "a groove 14 deep cannot be cut in metal 12 mm thick",
        ),
        (
            replace(weld(10, joins=("A", "B")), kind="tack"),
            "a tack of leg 10 cannot be laid on metal 3 mm thick",
        ),
        (weld(4, 40_000), "a bead of 40000 is longer than the part that it is on, 600 mm"),
        (weld(4, 200, joins=("A", "B")), "longer than the part that it is on, 124 mm"),
    ],
)
def test_a_weld_that_no_one_could_lay_is_refused(one, told):
    spec = job(one)
    with pytest.raises(CannotMakeError, match=told):
        refuse_welds(spec, answers(spec))


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (weld(4, joins=("A", "B")), "A to B): about 0.8 mm across each bead; one bead a joint closes it"),
        (weld(4, joints=2), "2 beads a joint balance when they lie on opposite sides"),
        (weld(4, 300, joins=("A",)), "0.1 mm along it; one bead a joint closes it"),
        (weld(4, 300, joins=("A",)), "bows hollow on the side of the bead"),
        (replace(weld(4), kind="groove"), "1.5 to 3 mm across each bead; the joint closes toward"),
    ],
)  # fmt: skip
def test_which_way_a_weld_pulls_and_the_cure(one, told):
    (line,) = weld_pulls(job(one))
    assert told in line
    assert list(weld_pulls(job(replace(one, kind="tack")))) == []


def test_a_bead_with_nothing_to_join_is_told():
    bar = PartSpec("A", "bar", 1, "flat 50 x 12", "S275", length=mm(80))
    spec = JobSpec("Bar", "Shop", 1, "mm", parts=(bar,), welds=(weld(5),))
    assert [problem.code for _, problem in weld_problems(spec, answers(spec))] == ["weld-joint"]


def quantity(spec, standard):
    work = job_work(spec, answers(spec), starting_book())
    return sum(item.per_set for item in work.items if item.standard == standard)


def test_joints_are_fitted_up_and_each_pass_is_cleaned():
    short = ("A", "B")
    assert quantity(job(weld(joins=short)), "weld.fit-up") == 4
    assert quantity(job(weld(joins=short, joints=2)), "weld.fit-up") == 2
    assert quantity(job(weld(passes=3)), "weld.clean.MAG") == pytest.approx(3 * 4 * 0.04)


def test_every_mark_that_a_weld_names_counts_for_its_joints():
    """Two tubes, four lugs and a plate meet in as many joints as there are beads; the tubes alone, in one."""
    plate = PartSpec("C", "plate", 1, "flat 50 x 12", "S275", length=mm(80))
    three = job(weld(joins=("A", "B", "C")))
    assert quantity(replace(three, parts=(*three.parts, plate)), "weld.fit-up") == 4
    for order in (("A", "B", "C"), ("C", "B", "A")):
        spec = job(weld(joins=order))
        assert joints_of(spec.welds[0], replace(spec, parts=(*spec.parts, plate))) == 4


def test_long_pieces_take_longer_to_fit_up_and_a_frame_is_squared():
    # Tubes of 600 mm and lugs of 80: a tube to a tube is long, a lug to a tube short, and of two tubes and
    # four lugs a third is long where nothing is said. Public workshop rates: 12 min beyond 400 mm, 6.5 else.
    longer = float(starting_book().value("weld.long-piece"))
    assert longer == pytest.approx(12 / 6.5, abs=0.01)
    assert quantity(job(weld(joins=("A",))), "weld.fit-up") == pytest.approx(longer)
    assert quantity(job(weld()), "weld.fit-up") == pytest.approx(4 * (1 + (longer - 1) / 3))
    assert quantity(job(weld()), "weld.square") == pytest.approx(2 * 0.6)
    assert quantity(job(weld(), assemblies=4), "weld.square") == 0
    assert quantity(job(), "weld.square") == 0


def test_pieces_that_are_only_tacked_on_are_fitted_up_too():
    tacks = replace(weld(), kind="tack", count=3, joins=("A", "B"))
    beads = weld(joins=("A", "B"))
    assert quantity(job(beads, tacks), "weld.fit-up") == 4 + 3
    assert quantity(job(beads, tacks), "weld.tack") == 3 + 4 * 2


def test_a_jig_costs_its_minutes_once_and_takes_the_layout_away():
    text = """
format = 1
[job]
title = "Lugs"
customer = "Shop"
sets = 10
units = "mm"
[[part]]
mark = "A"
per_set = 1
bar = "flat 50 x 8"
grade = "S275"
length = 80
holes = [{ dia = 9, at = [20, 60] }]
"""
    plain = read_job_text(text, "lugs.toml")
    jig = TemplateSpec("drill jig", Decimal(25), Decimal(4), ("drill.layout",))
    with_jig = replace(plain, templates=(jig,))
    assert (quantity(plain, "drill.layout"), quantity(with_jig, "drill.layout")) == (2, 0)
    items = job_work(with_jig, answers(with_jig), starting_book()).items
    made = [item for item in items if item.what == "make the jig drill jig"]
    assert quantity(with_jig, "drill.in-jig") == 2
    assert [(item.kind, item.per_job) for item in made] == [("set-up", 25)]


def test_ends_cost_more_in_a_larger_bar():
    def minutes(bar, end):
        text = f"""
format = 1
[job]
title = "Pins"
customer = "Shop"
sets = 10
units = "mm"
[[part]]
mark = "A"
per_set = 1
bar = "{bar}"
grade = "S275"
length = 200
ends = ["square", "{end}"]
"""
        spec = read_job_text(text, "pins.toml")
        book = starting_book()
        work = job_work(spec, answers(spec), book)
        return sum(
            item.per_set / book.divisor(item.standard) if item.how == "over" else
            item.per_set * float(book.value(item.standard))
            for item in work.items if item.operation == "turning" and item.standard
        )  # fmt: skip

    thin = minutes("round 8", "turn 6 x 40 + thread M6 x 30")
    assert minutes("round 30", "turn 20 x 40 + thread M20 x 30") > thin


def test_welds_that_pull_alike_are_told_in_one_line():
    one = weld(4)
    fillets, groove = weld_pulls(job(one, replace(one, kind="groove"), weld(3)))
    assert fillets.startswith("Welds 1 (fillet ") and ", 3 (fillet " in fillets
    assert groove.startswith("Weld 2 (groove ")
