"""The drawn part has the part's own sizes, and its texts can be read."""

from itertools import pairwise
from math import hypot, radians

import pytest

from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.drawing.boxes import overlap
from shopquote.calc.drawing.model import DrawnArc, Line
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.pencil import text_box
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Measure
from tests.calc.drawing.parts import part


def mm(text: str) -> Measure:
    return Measure.parse(text, "mm")


SHAPES = [
    "leg 90; bend 90 r 24; leg 85; bend 90 r 24; leg 80",
    "leg 120; bend 135 r 32; leg 600; bend -135 r 32; leg 120",
    "leg 260; bend 180 r 40; leg 110",
    "leg 300; bend 35 r 100; leg 2400; bend -35 r 100; leg 300",
    "leg 45; bend 45 r 30; leg 240; bend 45 r 30; leg 45",
    "leg 100; bend 90 r 24; leg 200; turn 180; bend 90 r 24; leg 100",
    "leg 120; scroll from 60 to 20 turns 1.5",
    "ring d 200",
    "leg 80; arc 90 r 130; leg 80",
    "leg 280; twist 2 over 300; leg 280",
    "eye d 30 centred; leg 200; eye d 30",
    "hook d 60 tip 30; leg 150; hook d 60 tip 30 back",
    "leg 120; corner 90; leg 90",
    "leg 80; joggle 20 over 60; leg 140",
    "ellipse 300 x 200",
]


def texts_that_touch(drawing) -> list[tuple[str, str]]:
    boxes = [(t.text, text_box(t.text, t.at, t.size, radians(t.angle), air=0.0)) for t in drawing.texts()]
    return [(a, b) for n, (a, p) in enumerate(boxes) for b, q in boxes[n + 1 :] if overlap(p, q)]


@pytest.mark.parametrize("shape", SHAPES)
def test_no_text_lies_on_another_and_none_is_small(shape: str) -> None:
    spec, answer = part(shape)
    drawn = draw_part(spec, answer, "mm", size=4.6)
    for drawing in (drawn.finished, drawn.straight):
        assert not texts_that_touch(drawing)
        assert all(text.size >= 3.5 for text in drawing.texts())


@pytest.mark.parametrize("shape", SHAPES[:9])
def test_the_centre_line_is_drawn_as_long_as_the_bar(shape: str) -> None:
    """Round bar has its neutral axis in the middle: its drawn centre line is as long as the straight bar."""
    spec, answer = part(shape)
    drawn = draw_part(spec, answer, "mm", breaks=False).finished
    centre = [item for item in drawn.items if item.layer == "centre"]
    length = 0.0
    for item in centre:
        if isinstance(item, DrawnArc):
            length += radians(abs(item.sweep)) * item.radius
        elif isinstance(item, Line):
            length += sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(item.points))
    spiral = 0.2 if "scroll" in shape else 0.01
    assert length / drawn.scale == pytest.approx(answer.developed.mm_float, abs=spiral)


def test_sizes_stand_as_typed_and_angles_are_angles_of_bend() -> None:
    spec, answer = part("leg 120; bend 45 r 32; leg 3 in; bend -90 r 24; leg 110.50")
    texts = [text.text for text in draw_part(spec, answer, "mm").finished.texts()]
    assert {"A = 120", "B = 3 in", "C = 110.50", "R 32 · 45°", "R 24 · 90°"} <= set(texts)
    assert not {"135°", "R 32 · 135°"} & set(texts)
    roomy = draw_part(*part("leg 200; bend 45 r 32; leg 200"), "mm").finished
    assert {"45°", "R 32"} <= {text.text for text in roomy.texts()}


def test_a_long_rail_is_broken_where_it_would_be_a_hair_and_says_so() -> None:
    spec, answer = part("leg 300; bend 35 r 100; leg 6000; bend -35 r 100; leg 300")
    assert draw_part(spec, answer, "mm").broken
    assert not draw_part(spec, answer, "mm", breaks=False).broken


def test_the_same_part_is_drawn_alike() -> None:
    spec, answer = part(SHAPES[1])
    assert draw_part(spec, answer, "mm") == draw_part(spec, answer, "mm")


def test_a_part_in_space_has_three_views_and_letters_for_its_schedule() -> None:
    spec, answer = part("leg 200; bend 60 r 24; leg 150; turn 35; bend -100 r 40; leg 220")
    drawn = draw_part(spec, answer, "mm")
    assert not drawn.flat
    assert drawn.schedule == (
        ("A", "200"), ("", "bend 60 r 24"), ("B", "150"), ("", "turn 35"), ("", "bend -100 r 40"),
        ("C", "220"),
    )  # fmt: skip
    assert {"A", "B", "C"} <= {text.text for text in drawn.finished.texts()}
    assert not texts_that_touch(drawn.finished)


def test_marks_of_the_straight_bar_stand_where_the_bender_wants_them() -> None:
    spec, answer = part("leg 90; bend 90 r 24; leg 85; bend 90 r 24; leg 80")
    drawn = draw_part(spec, answer, "mm").straight
    shown = [text.text for text in drawn.texts()]
    from shopquote.calc.units import show_mark

    for bend in answer.bends:
        assert bend.bender_mark is not None
        assert show_mark(bend.bender_mark, "mm").removesuffix(" mm") in shown
    assert f"cut {answer.cut.mm_float:.1f} mm" in shown


def test_an_angle_that_is_folded_is_drawn_as_large_as_it_is() -> None:
    shape = "leg 250; fold 90; leg 400; fold 90; leg 500; fold 90; leg 400; fold 90; leg 250"
    spec, answer = part(shape, "angle 40 x 40 x 4")
    drawn = draw_part(spec, answer, "mm")
    assert dict(drawn.checks)["overall length"] == "500 mm"
    assert dict(drawn.checks)["overall height"] == "400 mm"


def test_a_word_of_several_bends_is_told_once() -> None:
    spec, answer = part("leg 80; joggle 20 over 60; leg 140")
    drawn = draw_part(spec, answer, "mm")
    assert [text for _, text in drawn.schedule] == ["80", "joggle 20 over 60", "140"]


BRACKET = "leg 120; bend 90 r 12; leg 200; bend -90 r 12; leg 80"
HOLES = (
    HoleSpec(mm("9"), 2, leg=1, at=(mm("30"), mm("80"))),
    HoleSpec(thread="M8", count=2, leg=2, at=(mm("100"), mm("150"))),
    HoleSpec(mm("4"), leg=3, at=(mm("50"),), face="left"),
)


def test_holes_stand_on_the_finished_part_with_their_places() -> None:
    spec, answer = part(BRACKET, "flat 40 x 6", holes=HOLES)
    drawn = draw_part(spec, answer, "mm", breaks=False).finished
    texts = {text.text for text in drawn.texts()}
    assert {"a: 2 x Ø 9", "b: 2 x M8 tapped", "30", "80", "100", "150", "50"} <= texts
    assert not texts_that_touch(drawn)
    # Drilled through its wide face a bent flat is seen from its edge: dashed, 9 mm apart, 30 mm from its end.
    dashed = [item for item in drawn.items if isinstance(item, Line) and item.pen == "dashed"]
    assert len(dashed) == 2 * 4
    seen = [item for item in drawn.items if isinstance(item, DrawnArc) and item.layer == "holes"]
    assert [round(2 * hole.radius / drawn.scale, 6) for hole in seen] == [4.0]
    places = sorted(item.points[0][1] / drawn.scale for item in dashed[:2])
    top = max(y for item in drawn.items if item.layer == "part" for _, y in getattr(item, "points", ()))
    assert [top / drawn.scale - y for y in reversed(places)] == pytest.approx([30 - 4.5, 30 + 4.5])


@pytest.mark.parametrize(
    ("ends", "short"), [(("mitre 45", "mitre 45"), "(520 mm)"), (("mitre 45", "mitre -45"), "(560 mm)")]
)
def test_a_mitred_piece_shows_its_long_and_its_short_face(ends, short) -> None:
    cut = tuple(parse_end(end, "mm") for end in ends)
    spec, answer = part(None, "box 40 x 40 x 3", length=600, ends=cut)
    drawn = draw_part(spec, answer, "mm").finished
    assert {"600", short, "mitre 45°"} <= {text.text for text in drawn.texts()}
    assert not texts_that_touch(drawn)


def test_a_mitre_across_the_width_of_a_bent_flat_is_seen_from_its_side() -> None:
    cut = (parse_end("mitre 45", "mm"), parse_end("square", "mm"))
    spec, answer = part("leg 120; bend 90 r 12; leg 200", "flat 40 x 6", ends=cut)
    drawn = draw_part(spec, answer, "mm").finished
    assert "mitre 45° across the width, short point 40 mm back" in {text.text for text in drawn.texts()}


def test_ends_and_holes_of_a_part_in_space_are_told_on_its_picture() -> None:
    cut = (parse_end("thread M12 x 30", "mm"), parse_end("mitre 30", "mm"))
    shape = "leg 100; bend 60 r 24; leg 150; turn 90; bend 45 r 24; leg 120"
    spec, answer = part(shape, ends=cut, holes=(HoleSpec(mm("4"), at=(mm("50"),)),))
    drawn = draw_part(spec, answer, "mm")
    told = {"thread M12 x 30", "mitre 30°, short point 7 mm back", "a: Ø 4"}
    assert not drawn.flat and told <= {text.text for text in drawn.finished.texts()}
    assert not texts_that_touch(drawn.finished)


def test_a_hole_in_the_end_is_told_there() -> None:
    holes = (HoleSpec(thread="M10", along=True, deep=mm("25")), HoleSpec(mm("7"), at=(mm("100"),)))
    spec, answer = part(None, "square 20", length=300, holes=holes)
    drawn = draw_part(spec, answer, "mm").finished
    assert {"M10 in the end, 25 deep", "b: Ø 7", "100"} <= {text.text for text in drawn.texts()}
    # 300 x 20 x 20 less a blind 8.5 with its cone and one 7 through 20: by hand.
    metal = 120_000 - 3.14159265 / 4 * (8.5**2 * (25 + 8.5 / 2 / 1.6642795 / 3) + 7**2 * 20)
    assert answer.mass_kg == pytest.approx(metal * 7.85e-6, rel=1e-5)
