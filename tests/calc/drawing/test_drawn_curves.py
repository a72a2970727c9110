"""Scrolls, volutes, ellipses and rings that were drawn come back as the words that they were drawn from."""

import io
from itertools import pairwise
from math import cos, pi, radians, sin

import ezdxf
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shopquote.calc.bar.plane_curves import curve_of
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.drawing.chain import words_of
from shopquote.calc.drawing.outline import lay_out
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.pieces import ChainPiece
from shopquote.calc.job import DIMS
from shopquote.errors import CannotMakeError
from shopquote.outputs.drawings.dxf import dxf
from shopquote.services.jobs.drawn import shape_of_drawing
from tests.calc.drawing.parts import part


def read_back(shape: str, tmp_path_factory, bar: str = "round 12", unit="mm", dims="outside") -> str:
    """The words after drawing it as DXF; a bar that cannot be made is no example."""
    try:
        spec, answer = part(shape, bar, unit, dims=dims)
    except CannotMakeError:
        assume(False)
    path = tmp_path_factory.mktemp("drawn") / "part.dxf"
    path.write_text(dxf(draw_part(spec, answer, unit, breaks=False).finished, unit))
    return shape_of_drawing(path, bar, units=unit, dims=dims)


RADIUS = st.integers(30, 160)
TURNS = st.integers(3, 20).map(lambda tenths: tenths / 8)


@settings(max_examples=25)
@given(
    st.sampled_from(["scroll", "volute"]),
    RADIUS,
    RADIUS,
    TURNS,
    st.sampled_from([1, -1]),
    st.sampled_from(DIMS),
)
def test_a_spiral_comes_back_as_its_words(tmp_path_factory, kind, start, finish, turns, way, dims) -> None:
    assume(abs(start - finish) > 5)
    shape = f"leg 400; bend {70 * way} r 30; leg 120; {kind} from {start} to {finish} turns {turns * way}"
    try:
        read = read_back(shape, tmp_path_factory, dims=dims)
    except CannotMakeError as error:
        assert "crosses itself" in error.message  # the spiral swings over the leg before it
        return
    assert parse_shape(read, "mm") == parse_shape(shape, "mm")


@pytest.mark.parametrize(
    ("shape", "bar", "unit"),
    [
        ("scroll from 1-1/4 to 3 turns 1.25; leg 16", "square 5/8", "in"),
        ("volute from 20 to 90 turns 1.5; leg 200", "round 12", "mm"),
        ("scroll from 45 to 90 turns 1.5; leg 500; scroll from 80 to 40 turns 1.2", "round 10", "mm"),
        ("scroll from 45 to 90 turns 1.5; leg 500; scroll from 80 to 40 turns -1.2", "flat 20 x 8", "mm"),
        ("ellipse 200 x 120 inside", "round 12", "mm"),
        ("ellipse 120 x 300 inside", "flat 30 x 8", "mm"),
        ("leg 200; ring d 90 centre", "round 12", "mm"),
        ("ring d 90 centre; leg 200; bend 60 r 30; leg 80", "round 12", "mm"),
    ],
)
def test_a_curve_comes_back_as_its_words(tmp_path_factory, shape: str, bar: str, unit) -> None:
    assert parse_shape(read_back(shape, tmp_path_factory, bar, unit), unit) == parse_shape(shape, unit)


@pytest.mark.parametrize(
    "shape",
    ["leg 90; arc 60 r 300; leg 90", "eye d 20; leg 100; joggle 20 over 60; leg 90; hook d 40 tip 30"],
)
def test_what_a_line_cannot_tell_comes_back_as_the_same_line(tmp_path_factory, shape: str) -> None:
    """An arc, an eye, a joggle and a hook are bends and legs on paper: another word, the same centre line."""
    read = read_back(shape, tmp_path_factory)
    first, second = (lay_out(part(words)[1].runs) for words in (shape, read))
    for one, other in zip(first, second, strict=True):
        assert one.end[:2] == pytest.approx(other.end[:2], abs=0.01)


def strokes(points) -> list[ChainPiece]:
    return [ChainPiece(p, q) for p, q in pairwise(points)]


def spiral(start: float, finish: float, turns: float, steps: int) -> list[tuple[float, float]]:
    """Points by the definition: the radius grows evenly with the angle."""
    return [
        ((start + (finish - start) * n / steps) * cos(2 * pi * turns * n / steps),
         (start + (finish - start) * n / steps) * sin(2 * pi * turns * n / steps))
        for n in range(steps + 1)
    ]  # fmt: skip


@pytest.mark.parametrize("steps", [60, 240, 900])
def test_strokes_of_another_program_are_known_as_what_they_are(steps: int) -> None:
    section = part("leg 100")[1].section
    told = words_of(strokes(spiral(40, 100, 1.25, steps)), section, "mm")
    assert told == "scroll from 40 to 100 turns 1.25"
    quarter = [
        (0, -300.0),
        *((80 * sin(pi / 2 * n / steps), -80 * cos(pi / 2 * n / steps)) for n in range(steps + 1)),
    ]
    straight = [(x - (200 if not n else 0), -80.0 if not n else y) for n, (x, y) in enumerate(quarter)]
    assert words_of(strokes(straight), section, "mm", dims="centre") == "leg 280; bend 90 r 74"
    ring = [(50 * sin(2 * pi * n / steps), 50 * cos(2 * pi * n / steps)) for n in range(steps + 1)]
    assert words_of(strokes(ring), section, "mm") == "ring d 88 inside"


def test_strokes_that_lie_on_no_curve_are_still_told_with_their_place() -> None:
    section = part("leg 100")[1].section
    bumpy = [(x, y + (0.5 if n % 2 else 0.0)) for n, (x, y) in enumerate(spiral(40, 100, 1.0, 60))]
    with pytest.raises(CannotMakeError, match="without a radius"):
        words_of(strokes(bumpy), section, "mm")


@pytest.mark.parametrize(
    "shape", ["scroll from 45 to 150 turns 2; leg 300", "volute from 30 to 220 turns 1.5; leg 300"]
)
def test_a_spiral_in_dxf_lies_on_the_parts_curve_to_a_hundredth(shape: str) -> None:
    """Arcs of the file, sampled between their ends, against the curve's own formula."""
    spec, answer = part(shape, "round 12")
    text = dxf(draw_part(spec, answer, "mm", breaks=False).finished, "mm")
    curve, start = curve_of(answer.runs[0]), lay_out(answer.runs)[0].start
    (line, *_) = [
        item
        for item in ezdxf.read(io.StringIO(text)).modelspace().query('LWPOLYLINE[layer=="centre"]')
        if len(item) > 2
    ]
    true = np.empty((40_001, 2))
    for n in range(len(true)):
        x, y = curve.point(curve.total * n / 40_000)
        c, s = cos(start[2]), sin(start[2])
        true[n] = start[0] + x * c - y * s, start[1] + x * s + y * c
    farthest = 0.0
    for arc in line.virtual_entities():
        for share in (0.0, 0.2, 0.5, 0.8):
            angle = radians(arc.dxf.start_angle + (arc.dxf.end_angle - arc.dxf.start_angle) % 360 * share)
            at = np.array(arc.dxf.center)[:2] + arc.dxf.radius * np.array([cos(angle), sin(angle)])
            near = int(np.hypot(*(true - at).T).argmin())
            along = true[min(near + 1, 40_000)] - true[max(near - 1, 0)]
            off = at - true[near]
            farthest = max(farthest, abs(along[0] * off[1] - along[1] * off[0]) / np.hypot(*along))
    assert 0 < farthest < 0.01
