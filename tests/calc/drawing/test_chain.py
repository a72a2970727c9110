"""A drawn line becomes the words that it was drawn from; what is no chain is told with its place."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.drawing.chain import words_of
from shopquote.calc.drawing.outline import lay_out
from shopquote.calc.drawing.pieces import ChainPiece
from shopquote.calc.job import DIMS
from shopquote.errors import CannotMakeError
from tests.calc.drawing.parts import part

LEG = st.integers(150, 900)
BEND = st.tuples(st.integers(5, 170), st.sampled_from([1, -1]), st.sampled_from([24, 30.5, 42]))


def pieces_of(runs) -> list[ChainPiece]:
    pieces = []
    for stretch in lay_out(runs):
        p, q = stretch.start[:2], stretch.end[:2]
        pieces.append(ChainPiece(p, q, stretch.centre, stretch.angle if stretch.centre else 0.0))
    return pieces


@given(st.lists(st.tuples(LEG, BEND), min_size=1, max_size=2), LEG, st.sampled_from(DIMS))
def test_drawn_and_read_back_it_is_the_same_shape(legs, last, dims) -> None:
    words = [f"leg {leg}; bend {angle * way} r {radius:g}" for leg, (angle, way, radius) in legs]
    shape = "; ".join([*words, f"leg {last}"])
    try:
        _, answer = part(shape, dims=dims)
    except CannotMakeError:
        assume(False)  # a bar that runs into itself is refused before it is drawn
    try:
        read = words_of(pieces_of(answer.runs), answer.section, "mm", dims=dims)
    except CannotMakeError as error:
        assert "crosses itself" in error.message  # two bends the same way can bring the bar back over itself
        return
    assert parse_shape(read, "mm") == parse_shape(shape, "mm")


def test_inches_come_back_as_fractions() -> None:
    _, answer = part("leg 16; bend 60 r 1-1/4; leg 5-7/16", "square 5/8", "in")
    assert words_of(pieces_of(answer.runs), answer.section, "in") == "leg 16; bend 60 r 1-1/4; leg 5-7/16"


def test_the_order_and_the_direction_in_which_pieces_were_drawn_do_not_matter() -> None:
    spec, answer = part("leg 100; bend 90 r 24; leg 200")
    first, bend, last = pieces_of(answer.runs)
    assert words_of([first, last.turned(), bend.turned()], answer.section, "mm") == spec.shape


def test_a_face_is_the_inner_one_of_bends_to_its_side() -> None:
    section = part("leg 100", "round 12")[1].section
    arc = [ChainPiece((0, 0), (100, 0)), ChainPiece((100, 0), (124, 24), (100, 24), 90.0)]
    assert words_of(arc, section, "mm", dims="tangent", drawn="left") == "leg 100; bend 90 r 24"
    assert words_of(arc, section, "mm", dims="tangent", drawn="right") == "leg 100; bend 90 r 12"


@pytest.mark.parametrize(
    ("pieces", "told"),
    [
        (
            [ChainPiece((0, 0), (100, 0)), ChainPiece((100, 0), (100, 90))],
            "turns by 90° at (100, 0) without a radius",
        ),
        (
            [ChainPiece((0, 0), (9, 0)), ChainPiece((9, 0), (20, 5)), ChainPiece((9, 0), (20, -5))],
            "3 ends meet at (9, 0)",
        ),
        (
            [ChainPiece((0, 0), (9, 0)), ChainPiece((12, 0), (20, 0))],
            "begin and end at (0, 0), (9, 0), (12, 0)",
        ),
        (
            [ChainPiece((0, 0), (9, 0)), ChainPiece((9, 0), (5, 5)), ChainPiece((5, 5), (0, 0))],
            "closed: it comes back to (0, 0)",
        ),
        ([], "no line to read"),
    ],
)
def test_what_is_no_chain_is_told_with_its_place(pieces, told: str) -> None:
    section = part("leg 100")[1].section
    with pytest.raises(CannotMakeError) as caught:
        words_of(pieces, section, "mm")
    assert told in str(caught.value)


def test_small_gaps_are_closed_and_wide_ones_when_allowed() -> None:
    section = part("leg 100")[1].section
    line = [ChainPiece((0, 0), (9, 0)), ChainPiece((9.5, 0), (20, 0))]
    assert words_of(line, section, "mm", gap_mm=0.6) == "leg 20"
    with pytest.raises(CannotMakeError):
        words_of(line, section, "mm")
