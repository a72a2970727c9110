"""Eyes, hooks, corners, folds, joggles, ellipses and wound coils against closed forms and published rules."""

from math import cos, hypot, pi, radians, sin, tan

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from shopquote.calc.bar.by_hand import (
    corner_stock_mm,
    ellipse_length_mm,
    eye_beside,
    eye_centred,
    joggle_form,
    notch_of,
)
from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import PartSpec
from shopquote.errors import CannotMakeError, InputError
from shopquote.services.shop.starting import starting_shop

SIZES = st.floats(4, 60)


def mm(answer):
    return answer.developed.mm_float


@given(SIZES, st.floats(0.6, 6))
def test_an_eye_takes_no_more_than_the_smiths_whole_ring(depth, share):
    # A ring and an eye take pi times the middle diameter: Machinery and smiths' manuals in the public domain
    # (an eye of 2 in round its middle: 6 3/8 in). An eye ends where it meets its bar, so it takes some less.
    for form in (eye_beside(share * depth, depth), eye_centred(share * depth, depth)):
        assert 220 < form.turned < 360
        assert radians(form.turned) * (share * depth + depth) / 2 < pi * (share * depth + depth)


@given(SIZES, st.floats(0.6, 6))
def test_a_centred_eye_has_its_centre_on_the_bar(depth, share):
    form, inside = eye_centred(share * depth, depth), share * depth
    neck, eye = form.neck_inside_mm + depth / 2, (inside + depth) / 2
    # From the neck's centre, one neck radius beside the bar, over to the eye's.
    assert (neck + eye) * cos(radians(form.neck)) - neck == pytest.approx(0, abs=1e-9)


def test_lengths_of_eyes_and_hooks(work_out):
    # d 16 of round 8: the end meets the bar after 300 degrees of the ring of middle diameter 24.
    assert mm(work_out("round 8", "leg 90; eye d 16")) == pytest.approx(90 + 300 / 360 * pi * 24, abs=1e-6)
    assert mm(work_out("round 8", "hook d 30 tip 10; leg 60")) == pytest.approx(70 + pi * 19, abs=1e-6)


def test_a_hook_without_a_tip_is_rolled_on_a_pin_as_an_eye_is(work_out):
    answers = [work_out("round 8", f"leg 90; hook d 30{tip}") for tip in ("", " tip 20")]
    assert [answer.bends[0].by for answer in answers] == ["pin", "bender"]
    assert not {problem.code for problem in answers[0].problems} - {"stretches-far"}


@pytest.mark.parametrize("shape", ["leg 90; eye d 20 centred", "leg 60; hook d 40 tip 12"])
def test_an_end_is_as_long_at_the_start_as_at_the_finish(work_out, shape):
    turned = "; ".join(reversed(shape.split("; ")))
    assert mm(work_out("round 10", shape)) == pytest.approx(mm(work_out("round 10", turned)), abs=1e-6)


def test_an_eye_rolled_round_is_no_fault_and_its_marks_lie_on_the_piece(work_out):
    answer = work_out("round 8", "eye d 16; leg 90; eye d 16 centred")
    assert {problem.code for problem in answer.problems} <= {"stretches-far"}
    for bend in answer.bends:
        assert 0 <= bend.mark.start.nm <= bend.mark.end.nm <= answer.cut.nm


def test_a_corner_takes_the_volume_of_its_metal_and_a_quarter_of_its_thickness(work_out):
    # FAO AH635E, upset square bend: outside 120, 12 thick, two bends: 126 between the marks, 6 more than
    # the outside; by constant volume two outside legs of 60 take 60 - 12 + 120 + 60 - 12 and those 6.
    answer = work_out("flat 25 x 12", "leg 60; corner 90; leg 120; corner 90; leg 60")
    assert mm(answer) == pytest.approx(48 + 120 + 48 + 6, abs=1e-6)
    assert answer.envelope_mm == pytest.approx((60, 120, 25), abs=1e-6)
    assert all(bend.hot and bend.over_bend_to == bend.angle for bend in answer.bends)
    assert any("Hot work" in caution for caution in answer.cautions)


@given(st.floats(5, 90), SIZES)
def test_a_corner_without_upset_keeps_its_volume(angle, depth):
    # Two legs measured outside share a kite of T^2 tan(A/2) at the corner.
    a, b = 300.0, 200.0
    area = a * depth + b * depth - depth * depth * tan(radians(angle) / 2)
    setback = depth * tan(radians(angle) / 2)
    assert depth * (a + b - 2 * setback + corner_stock_mm(angle, depth, 0)) == pytest.approx(area)


def test_a_fold_is_notched_as_wide_as_closes(work_out):
    answer = work_out("angle 40 x 40 x 4", "leg 300; fold 90; leg 200")
    plain = work_out("angle 40 x 40 x 4", length="300")
    # 0.33 T of bends below 2 T (Kalpakjian and Schmid, SI 6th ed., ch. 16).
    assert mm(answer) == pytest.approx(296 + 196 + pi / 2 * 0.33 * 4, abs=1e-6)
    notch = notch_of(90, 40, 4)
    whole = plain.mass_kg / 300 * mm(answer)
    assert answer.mass_kg == pytest.approx(whole - notch.removed_mm3 * 7850e-9, rel=1e-9)
    assert answer.envelope_mm[:2] == pytest.approx((300, 200), abs=1e-6)
    assert "72 mm wide" in answer.bends[0].told and "50.9 mm" in answer.bends[0].told


@given(st.floats(1, 40), st.floats(1, 30), st.floats(0, 200))
def test_a_joggle_reaches_its_offset_in_its_length(offset, radius, more):
    least = max(0.0, 4 * radius * offset - offset * offset) ** 0.5
    form = joggle_form(offset, least + more + 0.01, radius)
    assert form is not None
    angle, straight = radians(form[0]), form[1]
    along = 2 * radius * sin(angle) + straight * cos(angle)
    aside = 2 * radius * (1 - cos(angle)) + straight * sin(angle)
    assert (along, aside) == pytest.approx((least + more + 0.01, offset), rel=1e-9, abs=1e-9)


def test_a_joggle_keeps_the_length_over_all(work_out):
    assert work_out("flat 25 x 6", "leg 80; joggle 12 over 30; leg 140").envelope_mm == pytest.approx(
        (250, 18, 25), abs=1e-6
    )
    with pytest.raises(CannotMakeError, match="does not fit in 10 mm"):
        work_out("flat 25 x 6", "leg 80; joggle 12 over 10; leg 140")


def test_the_length_of_an_ellipse(work_out):
    from scipy.special import ellipe

    # Complete elliptic integral of a reference library; what lies outside is longer by 2 pi T/2.
    expected = 4 * 300 * ellipe(1 - (200 / 300) ** 2) + pi * 12
    answer = work_out("round 12", "ellipse 600 x 400")
    assert mm(answer) == pytest.approx(expected, abs=1e-6)
    assert ellipse_length_mm(80, 80) == pytest.approx(pi * 160)
    assert answer.envelope_mm[:2] == pytest.approx((624, 424), abs=0.01)


def test_a_wound_spring_has_the_free_length_of_its_handbook(work_out):
    # Squared ends: free length p Na + 3 d, Na = Nt - 2: Shigley, table 10-1, as an open spring program quotes
    # it.
    answer = work_out("round 3", "helix d 20 pitch 8 turns 10 wound closed")
    assert answer.envelope_mm[2] == pytest.approx(8 * 8 + 3 * 3, abs=0.01)
    coils = 8 * hypot(pi * 23, 8) + 2 * hypot(pi * 23, 3)
    assert mm(answer) == pytest.approx(coils, abs=1e-6)
    assert all(bend.by == "mandrel" and bend.hits == 1 for bend in answer.bends)
    assert all(bend.held_radius < bend.inside_radius for bend in answer.bends)


@pytest.mark.parametrize(
    "shape, told",
    [
        ("leg 50; eye d 20; leg 50", "'eye' between other words"),
        ("leg 50; fold -90; leg 50", "fold above 0"),
        ("helix d 20 pitch 8 turns 10 closed", "'closed' without 'wound'"),
        ("leg 50; corner 155; leg 50", "at most 150 degrees; fold it back over a small radius"),
    ],
)
def test_words_that_cannot_stand_so_are_refused(work_out, shape, told):
    with pytest.raises(InputError, match=told):
        work_out("round 10", shape)


def test_a_corner_of_150_degrees_takes_the_metal_of_its_point(work_out):
    # By volume in the plane: two strips 10 wide that meet at 30 degrees cover, past the inner corner, two
    # triangles of 10 by 10 tan 75 = 37.32: the metal of 37.32 of bar. Then a quarter of the thickness for
    # the upset (FAO AH635E). Legs past 90 degrees are measured to the outermost tangent, 10 off the inside.
    answer = work_out("square 10", "leg 200; corner 150; leg 200")
    assert mm(answer) == pytest.approx(2 * (200 - 10) + 10 * tan(radians(75)) + 2.5, abs=1e-6)
    # From the inner corner to the point: 10 / cos 75 = 38.6.
    assert "its point stands 38.6 mm over the inner corner" in answer.bends[0].told


def test_a_corner_is_for_solid_bar_and_a_fold_for_angle(work_out):
    with pytest.raises(CannotMakeError, match="not made to a fold"):
        work_out("flat 40 x 5", "leg 100; fold 90; leg 100")
    with pytest.raises(CannotMakeError, match="not made to a corner"):
        work_out("angle 40 x 40 x 4", "leg 100; corner 90; leg 100")
    with pytest.raises(CannotMakeError, match="hollow"):
        work_out("tube 33.7 x 2.6", "leg 100; corner 90; leg 100")


# Words of every curve of changing radius or made by hand, and the same words run through from the other end.
ENDS = {
    word: word
    for word in (
        "eye d 24", "eye d 20 centred back", "eye d 22 centred", "hook d 60 tip 20", "hook d 40",
        "ellipse 200 x 120", "ring d 150", "taper 60 to 4",
    )
}  # fmt: skip
MIDDLES = {
    "corner 75": "corner 75", "joggle 14 over 60": "joggle 14 over 60",
    "joggle 20 over 70 back": "joggle 20 over 70 back",
    "volute from 24 to 80 turns 0.5": "volute from 80 to 24 turns 0.5",
    "scroll from 70 to 30 turns -0.5": "scroll from 30 to 70 turns -0.5",
    "helix d 60 pitch 20 turns 3 wound": "helix d 60 pitch 20 turns 3 wound",
    "twist 1 over 120": "twist 1 over 120", "arc 60 r 150": "arc 60 r 150", "bend 90 r 24": "bend 90 r 24",
}  # fmt: skip


@given(
    st.sampled_from(["round 8", "square 10"]), st.sampled_from([*ENDS, ""]),
    st.lists(st.sampled_from([*MIDDLES]), min_size=1, max_size=2), st.integers(200, 500),
)  # fmt: skip
@settings(max_examples=15, deadline=None, phases=[Phase.generate])
def test_a_part_of_the_new_words_keeps_its_length_reversed_or_split_and_its_volume(bar, end, middles, leg):
    words, back = [f"leg {leg}"], [f"leg {leg}"]
    for middle in middles:
        words += ["turn 90", middle, f"leg {leg}"]
        back = [f"leg {leg}", MIDDLES[middle], "turn 90", *back]
    if end:
        words, back = [*words, "turn 90", end], [ENDS[end], "turn 90", *back]
    split = [f"leg {leg // 3}", f"leg {leg - leg // 3}", *words[1:]]
    answers = []
    for shape in ("; ".join(words), "; ".join(back), "; ".join(split)):
        try:
            answers.append(
                analyse_part(PartSpec("A", "A", 1, bar, "S275", shape=shape), "mm", starting_shop())
            )
        except CannotMakeError:  # it crosses itself in space
            return
    one, other, parted = answers
    assert parted.developed == one.developed
    assert [bend.mark for bend in parted.bends] == [bend.mark for bend in one.bends]
    assert one.developed.mm_float == pytest.approx(other.developed.mm_float, abs=1e-4)
    metal = one.section.area_mm2 * one.developed.mm_float * one.grade.density_kg_m3 * 1e-9
    assert one.mass_kg == pytest.approx(metal) == pytest.approx(other.mass_kg)


@given(st.lists(st.integers(120, 400), min_size=2, max_size=5), st.sampled_from([90, 60, 45]))
@settings(max_examples=15, deadline=None, phases=[Phase.generate])
def test_a_folded_angle_keeps_its_length_and_metal_reversed_or_split(legs, angle):
    def folded(lengths):
        shape = f"; fold {angle}; ".join(lengths)
        part = PartSpec("A", "A", 1, "angle 30 x 30 x 3", "S275", shape=shape)
        return analyse_part(part, "mm", starting_shop())

    texts = [f"leg {leg}" for leg in legs]
    try:
        one = folded(texts)
    except CannotMakeError:  # it crosses itself
        return
    other = folded(texts[::-1])
    parted = folded([f"leg 50; leg {legs[0] - 50}", *texts[1:]])
    assert one.developed == parted.developed
    assert one.developed.mm_float == pytest.approx(other.developed.mm_float, abs=1e-4)
    # Each V: (B - t)^2 tan(A/2) t of metal.
    notches = (len(legs) - 1) * 27**2 * tan(radians(angle) / 2) * 3
    metal = one.section.area_mm2 * one.developed.mm_float - notches
    assert one.mass_kg == pytest.approx(metal * 7.85e-6) == pytest.approx(other.mass_kg)


@pytest.mark.parametrize(("end", "codes"), [("mitre 45", []), ("square", ["end-meets-bar"])])
def test_a_frame_of_one_bar_may_close_on_its_mitres(work_out, end, codes):
    shape = "leg 400; fold 90; leg 300; fold 90; leg 400; fold 90; leg 300"
    answer = work_out("angle 30 x 30 x 3", shape, ends=(parse_end(end, "mm"),) * 2)
    assert [problem.code for problem in answer.problems] == codes
