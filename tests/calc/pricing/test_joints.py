"""Joints that are no welds, what is bent by hand and holes: the units of their standards."""

import pytest

from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import FinishSpec, JobSpec, JointSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.forge_minutes import hot_for
from shopquote.calc.pricing.joint_minutes import joint_words, rivet_mm
from shopquote.calc.pricing.standards import STARTING_STANDARDS, starting_book
from shopquote.calc.pricing.work import job_work
from shopquote.calc.units import Measure
from shopquote.services.shop.starting import starting_shop

SQUARE = (End(), End())


def units_of(bar, shape, *, per_set=1, joints=(), grade="S275", ends=SQUARE):
    part = PartSpec("A", "part", per_set, bar, grade, shape=shape, ends=ends)
    job = JobSpec("Job", "Somebody", 1, "mm", parts=(part,), joints=joints)
    answer = analyse_part(part, "mm", starting_shop())
    found = {}
    for item in job_work(job, {"A": answer}, starting_book()).items:
        found[item.standard] = found.get(item.standard, 0) + item.per_set + item.per_job
    return found


def test_every_kind_of_joint_has_a_standard_and_fire_has_its_heats():
    kinds = ("rivet", "screw", "pin", "halved", "tenon", "collar", "forge weld")
    found = units_of("round 12", "leg 100", joints=tuple(JointSpec(kind, 3) for kind in kinds))
    for kind in kinds:
        assert found[f"joint.{kind.replace(' ', '-')}"] == 3
    assert found["forge.heat"] == pytest.approx((3 * 1 + 3 * 2) * hot_for(12)) and found["forge.set-up"] == 1


def test_a_rivet_is_as_long_as_its_grip_and_its_head():
    # 1.5 diameters form a snap head: jlrivet.com/blog/snap-head-rivet-length-formula. BS 275:1927 has the
    # head 1.6 d wide and 0.7 d high and 1.125 d for it (sapphireproducts.co.uk/275f3.htm); the rest fills the
    # hole.
    joint = JointSpec("rivet", 4, Measure.parse("8", "mm"), Measure.parse("12", "mm"), ("A", "B"))
    assert rivet_mm(joint) == 24
    assert joint_words(joint) == "4 x rivet 8, grip 12, rivets 24 mm under the head for a snap head, A to B"
    cap = 0.7 / 6 * (3 * 0.8**2 + 0.7**2)
    assert cap * 4 == pytest.approx(1.125, abs=0.001)
    assert (rivet_mm(joint) - 12) / 8 > cap * 4


@pytest.mark.parametrize(
    "bar, shape, expected",
    [
        ("square 16", "leg 100; corner 90; leg 100", {"forge.heat": 2, "forge.set-up": 1}),
        ("round 8", "leg 90; eye d 16", {"eye.bend": 1, "eye.set-up": 1}),
        ("round 8", "leg 90; hook d 30", {"eye.bend": 1, "eye.set-up": 1}),
        ("flat 25 x 6", "leg 80; joggle 12 over 30; leg 80", {"joggle.bend": 1, "joggle.set-up": 1}),
        ("round 3", "helix d 20 pitch 8 turns 10 wound closed", {"coil.turn": 10, "coil.set-up": 1}),
        ("angle 40 x 40 x 4", "leg 300; fold 90; leg 200", {"fold.bend": 1, "fold.weld": 5.0912}),
    ],
)  # fmt: skip
def test_what_is_bent_by_hand_takes_its_own_minutes_and_none_of_a_bender(bar, shape, expected):
    found = units_of(bar, shape)
    assert {name: found[name] for name in expected} == pytest.approx(expected, rel=1e-4)
    assert not any(name.startswith("bend.") for name in found)


def test_tube_ends_are_pressed_flat_cold():
    flat = parse_end("flatten 60 to 8", "mm")
    found = units_of("tube 26.9 x 2.6", "leg 900", per_set=3, ends=(flat, flat))
    assert (found["joggle.bend"], found["joggle.set-up"]) == (6, 1) and "forge.heat" not in found


def test_every_operation_has_a_rate():
    from shopquote.calc.job import OPERATIONS

    rates = {standard.name for standard in STARTING_STANDARDS}
    assert {f"rate.{operation}" for operation in OPERATIONS} <= rates


@pytest.mark.parametrize("how", ["welded", "riveted", "loose"])
def test_what_is_joined_is_hung_and_packed_as_one_however_it_is_joined(how):
    part = PartSpec("A", "part", 6, "round 12", "S275", shape="leg 100")
    tack = WeldSpec("tack", Measure.parse("3", "mm"), Measure.parse("10", "mm"), 3, "MIG")
    job = JobSpec(
        "Job", "Somebody", 1, "mm", parts=(part,), finish=FinishSpec("paint"),
        welds=(tack,) if how == "welded" else (), joints=(JointSpec("rivet", 3),) if how == "riveted" else (),
    )  # fmt: skip
    items = job_work(job, {"A": analyse_part(part, "mm", starting_shop())}, starting_book()).items
    units = {item.standard: item.per_set for item in items}
    assert units["finish.hang"] == (6 if how == "loose" else 1)
    assert units.get("packing.set", 0) == (how != "loose")
