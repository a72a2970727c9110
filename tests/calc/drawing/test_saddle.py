"""A saddle's wrap-round template, laid round the tube again, lies on the other tube."""

from math import cos, hypot, pi, sin

import pytest

from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.drawing.model import DrawnText, Line
from shopquote.calc.drawing.saddle import draw_saddles
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Measure
from shopquote.services.shop.starting import starting_shop


def templates(*ends, bar="tube 42.4 x 2.6", shape=None):
    worked = tuple(parse_end(end, "mm") if end else End() for end in ends)
    length = None if shape else Measure.parse("900", "mm")
    part = PartSpec("A", "rail", 1, bar, "S235", length=length, shape=shape, ends=worked)
    return list(draw_saddles(part, analyse_part(part, "mm", starting_shop()), "mm"))


@pytest.mark.parametrize("other", [42.4, 60.3, 114.3])
def test_the_edge_wrapped_round_the_tube_touches_the_other_all_round(other):
    ((which, drawing),) = templates(f"saddle {other}", f"saddle {other}")
    assert which == "both ends"
    edge = next(item for item in drawing.items if isinstance(item, Line) and item.pen == "thick").points[1:-1]
    r = 42.4 / 2
    assert edge[-1][0] - edge[0][0] == pytest.approx(pi * 42.4)
    # The tube's axis is x, its crown up in z, the other's axis y: along x the edge is so far from that axis.
    longest = max(y for _, y in edge)
    nearest = (max(0.0, (other / 2) ** 2 - r * r)) ** 0.5
    for around, y in edge:
        angle = around / r
        x, side = nearest + longest - y, r * sin(angle)
        assert hypot(x, side) == pytest.approx(other / 2), cos(angle)


def test_like_ends_share_a_template_and_it_tells_longest_and_shortest():
    assert [which for which, _ in templates("saddle 60.3", "")] == ["start end"]
    assert len(templates("saddle 60.3", "saddle 48.3")) == 2 and not templates("", "")
    words = [
        item.text
        for item in templates("saddle 60.3", "saddle 60.3")[0][1].items
        if isinstance(item, DrawnText)
    ]
    # 8.712 shorter at each end: R - sqrt(R^2 - r^2) of 30.15 and 21.2.
    assert any("900 mm apart at the sides, 882.6 mm at crown" in text for text in words)
    bent = templates("saddle 60.3", "", shape="leg 300; arc 90 r 200; leg 300")[0][1].items
    words = [item.text for item in bent if isinstance(item, DrawnText)]
    # 600 + pi / 2 (200 + 21.2); the ruler does not reach round the bend.
    assert any("947.5 mm along the bent tube at the sides, 938.7 mm at crown" in text for text in words)
    assert any("crown and bottom lie in line with the other tube" in text for text in words)
