"""Minutes and costs of jobs small enough to work out by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from shopquote.calc.bar.part_answer import OrderStep, Problem
from shopquote.calc.job import FinishSpec, JobSpec, LabourSpec, OutsideSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.forge_minutes import hot_for
from shopquote.calc.pricing.priced_quote import PricingPolicy
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.pricing.starting_rows import COMMON_SPREAD
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError

D = Decimal
POLICY = PricingPolicy()


def minutes_of(estimate, standard):
    return sum((line.minutes for line in estimate.minutes if line.standard == standard), D(0))


def quantity_of(estimate, standard):
    return sum((line.quantity for line in estimate.minutes if line.standard == standard), D(0))


@pytest.fixture
def hooks(hook, plan):
    """A function: the estimate of so many hooks under a policy."""
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 10, "mm", parts=(part,))

    def estimated(sets=10, policy=POLICY, book=None, job=job, answer=answer):
        parts = {"A": answer}
        return estimate_job(job, parts, plan(job, parts, sets), book or starting_book(), policy, sets)

    return estimated


def test_minutes_follow_quantity_and_standard(hooks):
    estimate = hooks()
    # 20 pieces, one 90 degree bend each, at 0.4 and 0.15 min; one former, one bar size.
    assert minutes_of(estimate, "bend.base") == D("8.00")
    assert minutes_of(estimate, "bend.angle") == D("3.00")
    assert minutes_of(estimate, "bend.former-change") == D("6.00")


def test_sawing_time_is_area_over_rate(hooks):
    # 20 cuts of round 12: 20 x 1.130973 cm2 / 29 = 0.78 min.
    assert minutes_of(hooks(), "saw.area-rate.mild") == D("0.78")


def test_set_up_is_spread_over_the_quantity(hooks):
    one, hundred = hooks(1), hooks(100)
    assert one.operations[0].set_up == hundred.operations[0].set_up
    assert hundred.cost / 100 < one.cost


def test_every_line_can_be_worked_out_again(hooks):
    for line in hooks(7, replace(POLICY, learning="unit")).minutes:
        share = line.quantity * line.value if line.how == "times" else line.quantity / line.value
        assert abs(share * line.factor - line.minutes) <= D("0.005")


def test_categories_add_up_to_the_cost(hooks):
    policy = replace(POLICY, overhead_pct=D(20), contingency_pct=D(5), scrap_pct=D(2))
    estimate = hooks(10, policy)
    lines = sum((line.amount for line in estimate.costs), D(0))
    labour = sum((operation.amount for operation in estimate.operations), D(0))
    assert sum(estimate.by_category.values()) == estimate.cost == lines + labour


def test_overhead_is_a_share_of_labour(hooks):
    plain, loaded = hooks(), hooks(10, replace(POLICY, overhead_pct=D(20)))
    expected = (plain.by_category["labour"] * D("0.2")).quantize(D("0.01"))
    assert loaded.by_category["overhead"] == pytest.approx(expected, abs=D("0.005"))


def test_learning_touches_hands_and_not_machines_or_set_up(hooks):
    # A set is two hooks. 95 %: mean of the first two by Crawford (1 + 0.95) / 2, by Wright 0.95.
    unit, average = hooks(1, replace(POLICY, learning="unit")), hooks(1, replace(POLICY, learning="average"))
    factors = {line.standard: line.factor for line in unit.minutes}
    assert factors["bend.base"] == D("0.975")
    assert factors["saw.area-rate.mild"] == factors["bend.former-change"] == 1
    assert {line.factor for line in average.minutes if line.standard == "bend.base"} == {D("0.95")}


def test_mixed_bends_count_a_former_for_each_radius_and_bar_size(frame, plan):
    job, parts = frame
    hoop = parts["H"]
    wide = replace(hoop.bends[1], inside_radius=Length.from_mm(40))
    parts = parts | {"H": replace(hoop, bends=(hoop.bends[0], wide))}
    estimate = estimate_job(job, parts, plan(job, parts, 1), starting_book(), POLICY, 1)
    assert quantity_of(estimate, "bend.former-change") == 2
    assert quantity_of(estimate, "bend.bar-change") == 1
    # Each hoop is taken up once for each former.
    assert quantity_of(estimate, "bend.piece-handling") == 8


def test_welding_follows_the_weld_metal(frame, plan):
    job, parts = frame
    estimate = estimate_job(job, parts, plan(job, parts, 4), starting_book(), POLICY, 4)
    # 32 fillets of leg 5 by 40: 12.5 x 40 mm3, 7850 kg/m3, 15 % more; 2.6 kg/h, arc 30 %.
    kg = 32 * 12.5 * 40e-9 * 7850 * 1.15
    assert float(minutes_of(estimate, "weld.deposition.MAG")) == pytest.approx(kg / 2.6 * 60 / 0.30, abs=0.01)
    wire = next(line for line in estimate.costs if line.standard == "weld.filler-price.MAG")
    tacks = 16 * 4.5 * 6e-9 * 7850 * 1.15
    assert float(wire.quantity) == pytest.approx((kg + tacks) / 0.93, abs=1e-5)


def test_minutes_given_by_hand_are_taken_as_they_are(hooks, hook):
    part, _ = hook
    labour = (LabourSpec("fit-up", D(25), "set"), LabourSpec("delivery", D(40), "job"))
    job = JobSpec("Hooks", "Somebody", 2, "mm", parts=(part,), labour=labour)
    by_operation = hooks(2, job=job).by_operation
    assert (by_operation["fit-up"], by_operation["delivery"]) == (D(50), D(40))


def test_turned_and_threaded_ends_are_minutes_an_end_with_a_set_up_for_each_bar_size(frame, plan):
    job, parts = frame
    rail, hoop = job.parts
    job = replace(job, parts=(replace(rail, threaded=1), replace(hoop, turned=1, threaded=2)))
    estimate = estimate_job(job, parts, plan(job, parts, 3), starting_book(), POLICY, 3)
    # By hand, 3 sets of 2 rails (flat 40 x 6) and 4 hoops (round 12). Turned: 3 x 4 = 12 ends at 4 min, one
    # bar size at 12. Threaded: 3 x (2 x 1 + 4 x 2) = 30 ends at 2.5 min, two bar sizes at 5.
    assert (quantity_of(estimate, "turn.end"), quantity_of(estimate, "thread.end")) == (12, 30)
    assert (minutes_of(estimate, "turn.set-up"), minutes_of(estimate, "turn.end")) == (12, 48)
    assert (minutes_of(estimate, "thread.set-up"), minutes_of(estimate, "thread.end")) == (10, 75)
    (cost,) = (cost for cost in estimate.operations if cost.operation == "turning")
    # 22 + 123 min at 46 an hour: 111.17.
    assert (cost.set_up, cost.run, cost.rate, cost.amount) == (D(22), D(123), D(46), D("111.17"))


def test_twists_take_a_set_up_a_bar_size_then_minutes_a_twist_and_a_turn(hooks, hook):
    part, answer = hook
    twisted = replace(answer, twists=((0, 720.0), (3, -180.0)))
    job = JobSpec("Balusters", "Somebody", 10, "mm", parts=(part,))
    estimate = hooks(3, job=job, answer=twisted)
    # By hand, 3 sets of 2: one bar size at 4 min; 6 x 2 twists at 1 min; 6 x (2 + 0.5) turns at 0.5 min.
    assert minutes_of(estimate, "twist.set-up") == 4
    assert minutes_of(estimate, "twist.piece") == 12
    assert minutes_of(estimate, "twist.turn") == D("7.5")


def test_ends_that_are_left_as_sawn_take_no_minutes_of_turning(hooks):
    assert "turning" not in hooks().by_operation


def test_turning_by_hand_is_minutes_a_set_at_the_rate_of_turning(hooks, hook):
    part, _ = hook
    # Two ends a set at 4.5 min: 10 sets are 90 min, with 15 to set up at 46 an hour 80.50 (arithmetic).
    labour = (LabourSpec("turning", D(9), "set"), LabourSpec("turning", D(15), "job"))
    turned = hooks(10, job=JobSpec("Pins", "Somebody", 10, "mm", parts=(part,), labour=labour))
    (cost,) = (cost for cost in turned.operations if cost.operation == "turning")
    assert (cost.set_up, cost.run, cost.rate, cost.amount) == (D(15), D(90), D(46), D("80.50"))


def test_outside_work_is_charged_at_least_its_minimum(frame, plan):
    job, parts = frame
    small, large = (
        estimate_job(job, parts, plan(job, parts, n), starting_book(), POLICY, n) for n in (1, 20)
    )
    assert small.by_category["outside"] == D(60)
    mass = sum(part.per_set * parts[part.mark].mass_kg for part in job.parts) * 20
    assert float(large.by_category["outside"]) == pytest.approx(1.06 * mass * 1.90, abs=0.01)  # with its zinc


@pytest.mark.parametrize("basis, quantity", [("each", D(3)), ("lot", D(1))])
def test_outside_work_by_the_set_and_by_the_lot(hooks, hook, basis, quantity):
    job = JobSpec(
        "Hooks", "Somebody", 3, "mm", parts=(hook[0],), outside=(OutsideSpec("plating", basis, D(20)),)
    )
    assert hooks(3, job=job).by_category["outside"] == D(20) * quantity


def test_paint_needed_follows_area_coats_and_coverage(hooks, hook):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 10, "mm", parts=(part,), finish=FinishSpec("paint", 2))
    paint = next(line for line in hooks(10, job=job).costs if line.standard == "finish.price.paint")
    # 50 % solids, 50 um, 35 % on the work: 3.5 m2 a litre.
    assert float(paint.quantity) == pytest.approx(20 * answer.area_m2 * 2 / 3.5, abs=1e-5)


def test_a_small_fillet_is_pointed_out_with_its_source(hook, plan, hooks):
    weld = WeldSpec("fillet", Measure.parse(2, "mm"), Measure.parse(30, "mm"), 1, "MAG")
    job = JobSpec("Hooks", "Somebody", 1, "mm", parts=(hook[0],), welds=(weld,))
    assert any("AWS D1.1" in note for note in hooks(1, job=job).notes)


def test_net_charging_takes_length_and_share(hooks):
    estimate = hooks(10, replace(POLICY, material_basis="net", net_share_pct=D(10)))
    # 20 pieces of 0.21 m at 7.50 for 6 m, a tenth more.
    assert estimate.by_category["material"] == D("5.78")


def with_bar(materials, **changes):
    (material,) = materials
    bar = replace(material.plan.bars[0], **changes)
    return (replace(material, plan=replace(material.plan, bars=(bar,))),)


@pytest.mark.parametrize("charge, cost", [(D(100), D("3.75")), (D(0), D(0)), (D(50), D("1.88"))])
def test_rack_pieces_are_charged_by_policy(hook, plan, charge, cost):
    # A rack piece of 6 m of which 3 m go back: 3 m at 1.25.
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 1, "mm", parts=(part,))
    bars = with_bar(
        plan(job, {"A": answer}, 1), rack_piece="R1", price=None, offcut=Length.from_mm(3000), kept=True
    )
    policy = replace(POLICY, rack_charge_pct=charge)
    prices = {(answer.section.key, "S275"): D("1.25")}
    estimate = estimate_job(job, {"A": answer}, bars, starting_book(), policy, 1, prices_per_metre=prices)
    assert estimate.by_category["material"] == cost


def test_kept_offcuts_are_credited_only_where_the_policy_says_so(hook, plan):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 1, "mm", parts=(part,))
    bars = with_bar(plan(job, {"A": answer}, 1), offcut=Length.from_mm(4000), kept=True)

    def material(credit):
        policy = replace(POLICY, credit_offcuts=credit)
        return estimate_job(
            job, {"A": answer}, bars, starting_book(), policy, 1, offcut_credit_pct=D(50)
        ).by_category["material"]

    assert (material(False), material(True)) == (D("7.50"), D("5.00"))


def test_bars_without_a_price_are_priced_by_mass_and_said_so(hook, plan):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 1, "mm", parts=(part,))
    bars = with_bar(plan(job, {"A": answer}, 1), price=None)
    estimate = estimate_job(job, {"A": answer}, bars, starting_book(), POLICY, 1)
    # 6 m at 0.887814 kg/m and 1.35 a kg.
    assert estimate.by_category["material"] == D("7.19")
    assert any("no stock price" in note for note in estimate.notes)


def test_spread_of_one_standard_adds_up_in_full_and_of_several_by_squares(hooks):
    exact = {name: replace(standard, spread_pct=D(0)) for name, standard in starting_book().items()}
    book = type(starting_book())(
        (exact | {"bend.base": replace(exact["bend.base"], spread_pct=D(10)),
                  "rate.bending": replace(exact["rate.bending"], spread_pct=D(10)),
                  COMMON_SPREAD: replace(exact[COMMON_SPREAD], value=D(0))}).values()
    )  # fmt: skip
    estimate = hooks(100, book=book)
    base = float(minutes_of(estimate, "bend.base")) * 42 / 60 * 0.1
    rate = float(next(cost for cost in estimate.operations if cost.operation == "bending").amount) * 0.1
    assert float(estimate.confidence.deviation) == pytest.approx((base**2 + rate**2) ** 0.5, abs=0.01)


def test_a_bend_too_strong_for_every_bender_is_reckoned_hot(hook, plan):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 3, "mm", parts=(part,))
    strong = replace(
        answer,
        bends=(replace(answer.bends[0], bender=None, hot=True),),
        problems=(Problem("moment", "too strong"),),
    )
    estimate = estimate_job(job, {"A": strong}, plan(job, {"A": strong}, 3), starting_book(), POLICY, 3)
    # Bar 12 mm thick is cold sooner than that of 16 mm, for which a heat is told.
    assert float(quantity_of(estimate, "forge.heat")) == pytest.approx(6 * hot_for(12))
    assert any("reckoned hot" in note for note in estimate.notes)


def test_turning_the_bar_end_for_end_takes_time(hook, plan):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 3, "mm", parts=(part,))
    swapped = replace(answer, bend_order=(OrderStep(1, "start", True, 0.0),))
    estimate = estimate_job(job, {"A": swapped}, plan(job, {"A": swapped}, 3), starting_book(), POLICY, 3)
    assert quantity_of(estimate, "bend.swap") == 6


def test_a_leg_of_3_16_in_is_enough_where_the_metric_table_says_5_mm(plan, answered):
    part = PartSpec("A", "bar", 2, "flat 1 x 3/8 in", "A36", length=Measure.parse("12", "in"))
    answer = answered(part, 304.8)
    weld = WeldSpec("fillet", Measure.parse("3/16", "in"), Measure.parse(1, "in"), 1, "MAG")
    job = JobSpec("Bar", "Somebody", 1, "in", parts=(part,), welds=(weld,))
    parts = {"A": answer}
    (note,) = estimate_job(job, parts, plan(job, parts, 1), starting_book(), POLICY, 1).notes
    assert note.startswith("Not charged")


def test_bars_cut_alike_go_under_the_saw_in_bundles(hooks):
    # 28 hooks of 210 mm and their kerfs fill a bar of 6 m: 56 sets of two are 4 bars of 28.
    by_four = starting_book().with_values({"saw.bundle": D(4)})
    single, bundled = hooks(56), hooks(56, book=by_four)
    assert (quantity_of(single, "saw.bar-handling"), quantity_of(bundled, "saw.bar-handling")) == (4, 1)
    assert (quantity_of(single, "saw.cut-handling"), quantity_of(bundled, "saw.cut-handling")) == (112, 28)
    assert minutes_of(single, "saw.area-rate.mild") == minutes_of(bundled, "saw.area-rate.mild")
    assert bundled.parts[0].minutes < single.parts[0].minutes


def test_a_bundle_that_is_not_full_is_still_a_load(hooks):
    # 70 sets are 5 bars: a bundle of 4 and one of 1. One bar alone saves nothing.
    by_four = starting_book().with_values({"saw.bundle": D(4)})
    assert quantity_of(hooks(70, book=by_four), "saw.bar-handling") == 2
    assert hooks(10, book=by_four).minutes == hooks(10).minutes


@pytest.mark.parametrize("vice, loads", [(48, 1), (47, 2), (23, 4), (5, 4)])
def test_the_vice_limits_the_bundle(hooks, vice, loads):
    book = starting_book().with_values({"saw.bundle": D(6), "saw.bundle-width": D(vice)})
    assert quantity_of(hooks(56, book=book), "saw.bar-handling") == loads


def test_outside_work_by_area(hooks, hook):
    part, answer = hook
    job = JobSpec("Hooks", "Somebody", 50, "mm", parts=(part,), outside=(OutsideSpec("powder", "m2", D(30)),))
    assert float(hooks(50, job=job).by_category["outside"]) == pytest.approx(
        100 * answer.area_m2 * 30, abs=0.01
    )


def test_no_sets_are_refused(hooks):
    with pytest.raises(InputError, match="at least 1"):
        hooks(0)


def test_bar_cuts_are_loaded_once_each(hooks):
    # 28 pieces of 212 mm fit in 6 m: 20 pieces need one bar.
    assert quantity_of(hooks(), "saw.bar-handling") == 1


def test_contingency_is_a_line_of_its_own_and_no_overhead(hooks):
    plain = hooks(10, replace(POLICY, overhead_pct=D(20)))
    careful = hooks(10, replace(POLICY, overhead_pct=D(20), contingency_pct=D(5)))
    assert careful.by_category["overhead"] == plain.by_category["overhead"]
    assert careful.by_category["contingency"] == careful.contingency == careful.cost - plain.cost


def test_all_hours_of_a_job_lie_off_together(hooks):
    certain = {name: replace(standard, spread_pct=D(0)) for name, standard in starting_book().items()}
    estimate = hooks(100, book=type(starting_book())(certain.values()))
    labour = float(sum(operation.amount for operation in estimate.operations))
    share = float(certain[COMMON_SPREAD].value) / 100
    assert float(estimate.confidence.deviation) == pytest.approx(labour * share, rel=1e-3)


def test_no_chance_is_known_by_starting_figures_alone(hooks):
    assert not hooks(100).confidence.known
    own = {name: replace(standard, source="measured") for name, standard in starting_book().items()}
    assert hooks(100, book=type(starting_book())(own.values())).confidence.known
