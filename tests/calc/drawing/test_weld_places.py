"""Welds that have a place: what the words mean, where the arrow stands, how many are there."""

from math import dist

import pytest

from shopquote.calc.drawing.model import DrawnArc, Line
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.weld_places import PlacedWeld, WeldPlace, placed_welds, weld_place
from shopquote.calc.job import WeldSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.reading.job_file import read_job_text
from tests.calc.drawing.parts import part
from tests.calc.drawing.test_finished import texts_that_touch

JOB = """format = 1
[job]
title = "Bracket"
customer = "Nobody"
sets = 1
units = "mm"
[[part]]
mark = "A"
name = "bracket"
per_set = 2
bar = "flat 30 x 5"
grade = "S275"
shape = "leg 100; bend 90 r 15; leg 200"
[[weld]]
kind = "fillet"
leg = 4
length = 30
count = 8
process = "MIG"
at = PLACES
"""


@pytest.mark.parametrize(
    ("words", "place"),
    [
        ("A start", WeldPlace("A", "start")),
        ("A1 finish", WeldPlace("A1", "finish")),
        ("long arm leg 2", WeldPlace("long arm", "leg", 2)),
        ("C bend 1", WeldPlace("C", "bend", 1)),
        ("C bend", None),
        ("start", None),
        ("A leg 0", None),
    ],
)
def test_a_place_is_a_part_and_where_on_it(words, place):
    assert weld_place(words) == place


@pytest.mark.parametrize(
    ("places", "told"),
    [
        ('["B start"]', "a part and where on it"),
        ('["A somewhere"]', "a part and where on it"),
        ('["A leg 3"]', "a leg of part A, 1 to 2"),
        ('["A bend 9"]', "a bend of part A, 1 to 2"),
    ],
)
def test_a_place_that_is_not_there_is_told(places, told):
    with pytest.raises(InputError) as raised:
        read_job_text(JOB.replace("PLACES", places), "bracket.toml")
    assert told in str(raised.value)


def test_each_piece_has_its_share_of_the_welds():
    job = read_job_text(JOB.replace("PLACES", '["A start", "A finish"]'), "bracket.toml")
    assert [one.each for one in placed_welds(job, job.parts[0])] == [2, 2]
    job = read_job_text(JOB.replace("PLACES", '["A start", "A finish", "A leg 1"]'), "bracket.toml")
    assert [one.each for one in placed_welds(job, job.parts[0])] == [None] * 3


def drawn_with_welds(shape, projection, bar="round 12"):
    spec, answer = part(shape, bar)
    weld = WeldSpec("fillet", Measure.parse("4", "mm"), Measure.parse("30", "mm"), 2, "MIG")
    places = (
        WeldPlace("A", "start"),
        WeldPlace("A", "finish"),
        WeldPlace("A", "leg", 1),
        WeldPlace("A", "bend", 1),
    )
    return draw_part(
        spec, answer, "mm", projection=projection, size=4.25,
        welds=[PlacedWeld(weld, place, 2) for place in places],
    )  # fmt: skip


@pytest.mark.parametrize("projection", ["first angle", "third angle"])
@pytest.mark.parametrize(
    "shape",
    [
        "leg 120; bend 90 r 32; leg 200",
        "leg 90; bend 90 r 24; leg 85; bend 90 r 24; leg 80",
        "leg 120; bend 135 r 32; leg 600; bend -135 r 32; leg 120",
        "leg 120; scroll from 60 to 20 turns 1.5",
        "leg 100; bend 90 r 24; leg 200; turn 90; bend 90 r 24; leg 100",
    ],
)
def test_every_place_has_its_symbol_and_no_text_lies_on_another(shape, projection):
    drawn = drawn_with_welds(shape, projection)
    assert not drawn.welds_left and not texts_that_touch(drawn.finished)
    assert [text.text for text in drawn.finished.texts()].count("MIG") == 4


def arrow_tips(drawn):
    return [
        item.points[0]
        for item in drawn.items
        if isinstance(item, Line) and item.layer == "notes" and item.fill == "black"
    ]


@pytest.mark.parametrize("angle", [90, -90])
def test_an_arrow_stands_on_the_outer_face_of_a_bar_whose_middle_is_not_its_centroid(angle):
    shape = f"leg 500; bend {angle} r 300; leg 600"
    drawn = drawn_with_welds(shape, "first angle", "angle 30 x 30 x 3").finished
    bend = next(item for item in drawn.items if isinstance(item, DrawnArc) and item.layer == "centre")
    assert dist(arrow_tips(drawn)[3], bend.centre) == pytest.approx(330 * drawn.scale)


def test_arrows_stand_where_the_welds_sit():
    """On both ends of the centre line, on the face in the middle of the leg and on the bend's outer face."""
    drawn = drawn_with_welds("leg 120; bend 90 r 32; leg 200", "first angle").finished
    tips = arrow_tips(drawn)
    centre = [item for item in drawn.items if item.layer == "centre"]
    first, last = centre[0].points, centre[-1].points
    assert tips[:2] == [pytest.approx(first[0]), pytest.approx(last[-1])]
    (x1, y1), (x2, y2) = first
    middle, scale = ((x1 + x2) / 2, (y1 + y2) / 2), drawn.scale
    assert dist(tips[2], middle) == pytest.approx(6 * scale)
    bend = centre[1]
    assert dist(tips[3], bend.centre) == pytest.approx(bend.radius + 6 * scale, abs=0.02)


def test_a_bend_that_is_not_there_is_counted():
    spec, answer = part("leg 120; bend 90 r 32; leg 200")
    weld = WeldSpec("fillet", Measure.parse("4", "mm"), Measure.parse("30", "mm"), 2, "MIG")
    welds = [PlacedWeld(weld, WeldPlace("A", "bend", 2), 2)]
    assert draw_part(spec, answer, "mm", welds=welds).welds_left == 1
