"""Worked ends as they are seen: turned about the bar's axis, a profile holds the metal that the end has."""

from itertools import pairwise
from math import cos, pi

import pytest

from shopquote.calc.bar.end_words import parse_end
from shopquote.calc.bar.end_work import work_end
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.drawing.end_profile import end_profile, thread_lines
from shopquote.calc.drawing.model import Line
from shopquote.calc.drawing.part import draw_part
from tests.calc.drawing.parts import part


def turned_mm3(profile):
    """Cones and cylinders between the profile's points: pi L / 3 (a^2 + a b + b^2)."""
    return sum(pi * (x2 - x1) / 3 * (a * a + a * b + b * b) for (x1, a), (x2, b) in pairwise(profile))


@pytest.mark.parametrize(
    ("bar", "text", "close"),
    [
        ("round 16", "turn 12 x 30", 1e-9),
        ("round 16", "turn 12 x 30 + chamfer 1", 1e-9),
        ("round 16", "chamfer 2", 1e-9),
        ("round 16", "turn 14 x 60 + turn 12 x 30 + chamfer 1", 1e-9),
        ("round 16", "turn 12 x 30 + turn 14 x 60", 1e-9),
        ("round 16", "chamfer 1 + turn 12 x 30", 1e-9),
        ("round 16", "tenon 10 x 30 + head 14 x 5", 1e-9),
        ("round 16", "turn 10 x 30 + tenon 8 x 10", 1e-9),
        ("round 16", "point 50 to 0", 1e-9),
        ("round 16", "point 50 to 4", 1e-9),
        ("round 16", "head 28 x 8", 1e-9),
        ("round 16", "tenon 10 x 22", 1e-9),
        ("round 16", "round", 2e-2),  # drawn by 8 strokes
    ],
)
def test_a_profile_turned_about_the_bar_holds_the_metal_of_its_end(bar, text, close):
    section, end = parse_section(bar, "mm"), parse_end(text, "mm")
    profile = end_profile(section, 16, end)
    assert profile[0][0] == 0 and profile[-1][1] == 8
    # Volume is kept: what the bar brings, less what is cut away.
    reach, metal = profile[-1][0], work_end(section, end, "Part A", Say())
    brought = section.area_mm2 * (reach + metal.stock_mm) - metal.removed_mm3
    assert turned_mm3(profile) == pytest.approx(brought, rel=close)


def test_a_flat_forged_thin_is_seen_so_from_either_side():
    section, end = parse_section("flat 20 x 6", "mm"), parse_end("spread 40 to 30", "mm")
    wide, thin = end_profile(section, 20, end), end_profile(section, 6, end)
    assert (wide[0][1], thin[0][1]) == (15, pytest.approx(20 * 6 / 30 / 2))
    # Of a round bar no side is the one that is struck: words alone say it.
    assert end_profile(parse_section("round 12", "mm"), 12, parse_end("flatten 40 to 5", "mm")) == []


def test_a_flats_end_is_rounded_over_its_width():
    # Half of a disc of 40 is left of a rectangle of 40 x 20, 6 thick.
    section, end = parse_section("flat 40 x 6", "mm"), parse_end("round", "mm")
    removed = work_end(section, end, "Part A", Say()).removed_mm3
    assert removed == pytest.approx((40 * 20 - pi * 20**2 / 2) * 6)
    profile = end_profile(section, 40, end)
    area = sum((x2 - x1) * (a + b) for (x1, a), (x2, b) in pairwise(profile))
    assert area == pytest.approx(pi * 20**2 / 2, rel=1e-2)
    assert end_profile(section, 6, end) == []


def test_a_threads_roots_stand_inside_by_the_depth_of_the_thread():
    # ISO 68-1: h3 = 0.6134 P, of M12 1.75.
    half, long = thread_lines(parse_end("thread M12 x 40", "mm"), 12)
    assert (half, long) == (pytest.approx(6 - 0.6134 * 1.75), 40)
    half, _ = thread_lines(parse_end("turn 20 x 50 + thread M20 x 30", "mm"), 30)
    assert half == pytest.approx(10 - 0.6134 * 2.5)


def test_a_piece_that_is_mostly_neck_is_drawn_so():
    ends = (parse_end("turn 12 x 60 + thread M12 x 55", "mm"), parse_end("chamfer 1.5", "mm"))
    spec, answer = part(None, bar="hex 19", length="80", ends=ends)
    drawn = draw_part(spec, answer, "mm").finished
    across = {
        round(abs(item.points[0][1] - item.points[1][1]) / drawn.scale, 3)
        for item in drawn.items
        if isinstance(item, Line) and item.pen == "thick" and len(item.points) == 2
    }
    # Strokes across the bar: the tip of the neck, its shoulder over the corners of the hex, the chamfer.
    corners = round(19 / cos(pi / 6), 3)
    assert {12.0, corners, round(corners - 3, 3)} <= across
