"""The words printed on a drawing come back as they were; where its line was changed they are not believed."""

import io
from math import cos, radians, sin
from pathlib import Path

import ezdxf
import pytest
from ezdxf.math import Matrix44
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shopquote.calc.bar.shapes import parse_shape, told_in_full
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.printed import LONGEST_LINE, read_printed, with_printed
from shopquote.calc.job import DIMS
from shopquote.errors import CannotMakeError
from shopquote.outputs.drawings.dxf import dxf
from shopquote.services.jobs.drawn import part_of_drawing
from tests.calc.drawing.parts import part

BAR = {"mm": ["round 12", "square 12", "flat 40 x 8"], "in": ["round 1/2", "square 1/2", "flat 1-1/2 x 5/16"]}


def drawing(shape: str, bar: str = "round 12", unit="mm", **more) -> str:
    spec, answer = part(shape, bar, unit, **more)
    return dxf(with_printed(draw_part(spec, answer, unit, breaks=False), spec, unit), unit)


def read(text: str, folder: Path, bar: str = "round 12", unit="mm", **how):
    path = folder / "part.dxf"
    path.write_text(text)
    return part_of_drawing(path, bar, units=unit, **how)


def made_end(ends, name: str) -> str:
    return ends[name]() if name else ""


@st.composite
def planar(draw, unit: str) -> str:
    """A shape in one plane, of every word that lies in one; sizes in whole mm or in eighths of an inch."""

    def size(low: int, high: int) -> str:
        mm = draw(st.integers(low, high))
        return str(mm) if unit == "mm" else f"{max(1, round(mm / 25.4 * 8)) / 8:g}"

    def way(low: int, high: int) -> int:
        return draw(st.integers(low, high)) * draw(st.sampled_from([1, -1]))

    def turns() -> str:
        return f"{way(2, 12) / 8:g}"

    def maybe(words: str) -> str:
        return draw(st.sampled_from(["", words]))

    of = st.sampled_from(["", " inside", " centre", " outside"])
    back = st.sampled_from(["", " back"])
    ends = {
        "taper": lambda: f"taper {size(40, 90)} to {size(3, 6)}",
        "eye": lambda: f"eye d {size(20, 60)}{maybe(' centred')}{draw(back)}",
        "hook": lambda: f"hook d {size(30, 80)}{maybe(f' tip {size(20, 60)}')}{draw(back)}",
        "ring": lambda: f"ring d {size(80, 200)}{maybe(f' lap {size(10, 40)}')}{draw(of)}",
        "scroll": lambda: f"scroll from {size(40, 60)} to {size(80, 160)} turns {turns()}{draw(of)}",
        "volute": lambda: f"volute from {size(40, 60)} to {size(80, 160)} turns {turns()}{draw(of)}",
        "ellipse": lambda: f"ellipse {size(200, 300)} x {size(120, 190)}{draw(of)}",
    }  # fmt: skip
    between = {
        "bend": lambda: f"bend {way(10, 80)} r {size(20, 60)}",
        "arc": lambda: f"arc {way(10, 80)} r {size(200, 500)}",
        "corner": lambda: f"corner {way(10, 80)}",
        "joggle": lambda: f"joggle {size(10, 20)} over {size(70, 120)}{draw(back)}",
        "twist": lambda: f"twist {draw(st.sampled_from([1, 2, -3]))} over {size(100, 200)}",
        "turn": lambda: "turn 180",
    }
    alone = draw(st.sampled_from(["", "", "", "", "ring", "ellipse", "scroll", "arc", "collar"]))
    if alone == "collar":
        return f"collar {size(20, 60)} x {size(20, 60)}"
    if alone:
        return (ends | between)[alone]()
    end = st.sampled_from(["", *ends])
    words = [made_end(ends, draw(end))]
    for _ in range(draw(st.integers(0, 3))):
        words += [f"leg {size(150, 400)}", between[draw(st.sampled_from(list(between)))]()]
    words += [f"leg {size(150, 400)}", made_end(ends, draw(end))]
    return "; ".join(filter(None, words))


@pytest.mark.parametrize("unit", ["mm", "in"])
@settings(max_examples=40)
@given(st.data())
def test_what_was_drawn_comes_back_as_the_same_words(tmp_path_factory, unit, data) -> None:
    shape, bar = data.draw(planar(unit)), data.draw(st.sampled_from(BAR[unit]))
    dims = data.draw(st.sampled_from(DIMS))
    try:
        text = drawing(shape, bar, unit, dims=dims)
    except CannotMakeError:
        assume(False)
    found = read(text, tmp_path_factory.mktemp("drawn"), bar, unit, dims=dims)
    assert found.shape == told_in_full(shape) and not found.printed_left
    assert parse_shape(found.shape, unit) == parse_shape(shape, unit)
    assert not ezdxf.read(io.StringIO(text)).audit().errors


ARC = "leg 120; arc 90 r 300; leg 150"


def changed(text: str, change) -> str:
    document = ezdxf.read(io.StringIO(text))
    change(document.modelspace())
    told = io.StringIO()
    document.write(told)
    return told.getvalue()


def test_a_moved_vertex_is_believed_before_the_printed_words(tmp_path: Path) -> None:
    def longer(space) -> None:
        line = max(space.query('LWPOLYLINE[layer=="centre"]'), key=lambda line: line[-1][1])
        ends = sorted((point[:2] for point in line), key=lambda at: at[1])
        ends[-1] = ends[-1][0], ends[-1][1] + 25
        line.set_points(ends, format="xy")

    # The longest straight lies level: the leg of 120 is turned by the bend of a quarter and stands.
    found = read(changed(drawing(ARC), longer), tmp_path)
    assert found.printed_left
    assert found.shape != ARC and "arc" not in found.shape
    legs = sorted(word for word in found.shape.split("; ") if word.startswith("leg"))
    unchanged = read(changed(drawing(ARC), strike_words), tmp_path)
    assert not unchanged.printed_left and "arc" not in unchanged.shape
    before = sorted(word for word in unchanged.shape.split("; ") if word.startswith("leg"))
    grown = [float(a[4:]) - float(b[4:]) for a, b in zip(legs, before, strict=True)]
    assert sorted(grown) == pytest.approx([0, 25], abs=2e-3)


def strike_words(space) -> None:
    for text in space.query("TEXT"):
        if text.dxf.text.startswith("Shape ("):
            space.delete_entity(text)


@pytest.mark.parametrize(
    "change",
    [
        lambda space: [arc.dxf.set("radius", arc.dxf.radius + 0.05) for arc in space.query("CIRCLE")],
        lambda space: space.add_circle((50, 0), 3, {"layer": "centre"}),
        lambda space: [
            text.dxf.set("text", text.dxf.text.replace("leg 200", "leg 201")) for text in space.query("TEXT")
        ],
        lambda space: [
            text.dxf.set("text", text.dxf.text.replace("leg 200", "leg two")) for text in space.query("TEXT")
        ],
        lambda space: space.add_text("Shape (outside, mm): leg 9", dxfattribs={"layer": "notes"}),
        lambda space: [
            item.transform(Matrix44.scale(-1, 1, 1)) for item in space.query('*[layer=="centre"]')
        ],
    ],
)
def test_any_other_change_leaves_the_printed_words(tmp_path: Path, change) -> None:
    text = drawing("ring d 90; leg 200; bend 60 r 30; leg 80; twist 1 over 100")
    assert read(text, tmp_path).shape.endswith("twist 1 over 100")
    found = read(changed(text, lambda space: change(space) and None), tmp_path)
    assert found.printed_left and "twist" not in found.shape


@pytest.mark.parametrize("degrees", [0.0, 37.0, 180.0])
def test_a_drawing_that_was_moved_and_turned_is_still_the_same_line(tmp_path: Path, degrees: float) -> None:
    c, s = cos(radians(degrees)), sin(radians(degrees))
    moved = Matrix44([c, s, 0, 0, -s, c, 0, 0, 0, 0, 1, 0, 1500, -320, 0, 1])
    for shape in (
        ARC,
        "ellipse 200 x 120 inside",
        "ring d 90 inside",
        "eye d 20; leg 100; joggle 20 over 60",
    ):
        text = changed(drawing(shape), lambda space: [item.transform(moved) for item in space])
        found = read(text, tmp_path)
        assert (found.shape, found.printed_left) == (shape, False)


def test_the_order_and_direction_of_entities_do_not_matter(tmp_path: Path) -> None:
    def other_way(space) -> None:
        for line in list(space.query('LWPOLYLINE[layer=="centre"]'))[::-1]:
            points = list(line.get_points("xy"))[::-1]
            space.delete_entity(line)
            space.add_lwpolyline(points, format="xy", dxfattribs={"layer": "centre"})

    assert read(changed(drawing(ARC), other_way), tmp_path).shape == ARC


@pytest.mark.parametrize(
    "how", [{"dims": "inside"}, {"unit": "in", "bar": "round 12 mm"}, {"layer": "notes"}, {"drawn": "left"}]
)
def test_what_is_asked_otherwise_is_read_of_the_line(tmp_path: Path, how) -> None:
    text = drawing(ARC)
    if "layer" in how:
        how = {"layer": "bar"}
        text = changed(
            text, lambda space: [item.dxf.set("layer", "bar") for item in space.query('*[layer=="centre"]')]
        )
    found = read(text, tmp_path, **how)
    assert "arc" not in found.shape and not found.printed_left


def test_another_bar_does_not_have_this_line(tmp_path: Path) -> None:
    found = read(drawing(ARC), tmp_path, "round 16")
    assert found.printed_left and "r 298" in found.shape


def test_a_long_shape_is_printed_in_numbered_lines_and_needs_all_of_them(tmp_path: Path) -> None:
    shape = "; ".join(["leg 150; arc 20 r 300; leg 150; arc -20 r 300"] * 6)
    text = drawing(shape)
    printed = [
        item.dxf.text
        for item in ezdxf.read(io.StringIO(text)).modelspace().query("TEXT")
        if item.dxf.text.startswith("Shape (")
    ]
    assert len(printed) > 2 and max(map(len, printed)) < LONGEST_LINE + 40
    assert read(text, tmp_path).shape == shape
    assert read_printed(printed[::-1]).shape == shape
    assert not read_printed(printed[1:]).shape and not read_printed([*printed, printed[0]]).shape


def test_the_same_part_has_the_same_bytes_and_a_part_in_space_no_words() -> None:
    assert drawing(ARC) == drawing(ARC)
    assert "Shape (outside, mm): " + ARC in drawing(ARC)
    assert "Shape (" not in drawing("leg 200; bend 60 r 24; leg 150; turn 35; bend -100 r 40; leg 220")
