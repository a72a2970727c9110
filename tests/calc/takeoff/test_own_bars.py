"""Rack pieces that a job has already come before free ones."""

import pytest

from shopquote.calc.takeoff.cut_plan import BarCut, Piece, RackBar, SawSettings
from shopquote.calc.takeoff.own_bars import own_first
from shopquote.calc.units import Length

SAW = SawSettings(Length.from_mm(2), Length.from_mm(10), Length.from_mm(50), Length.from_mm(300))


def mm(length: float) -> Length:
    return Length.from_mm(length)


def cut(piece: str, stock: float, mark: str = "A", length: float = 900) -> BarCut:
    """One piece of `length` from a rack piece, squared by 10 mm."""
    left = mm(stock - 10 - length)
    return BarCut(
        mm(stock), 1, ((mark, mm(length), 1, "J"),), mm(2), mm(10), left - mm(2), False, piece,
        spare=left - SAW.grip, end_kerf=SAW.kerf,
    )  # fmt: skip


def test_idle_own_piece_takes_the_place_of_a_free_one():
    rack = [RackBar("free", mm(1000)), RackBar("mine", mm(1300), own=True)]
    (bar,) = own_first([cut("free", 1000)], rack, [Piece("A", mm(900), 1, owner="J")], SAW)
    # 1300 less the squaring cut of 10, the piece of 900 and the cut of 2 that frees it leaves 388: kept.
    assert (bar.rack_piece, bar.stock.mm, bar.offcut.mm, bar.kept) == ("mine", 1300, 388, True)


@pytest.mark.parametrize("length", [900, 959])
def test_own_piece_that_does_not_hold_the_cuts_stays_idle(length):
    # 10 + 900 and 50 for the vise need 960.
    rack = [RackBar("free", mm(1000)), RackBar("mine", mm(length), own=True)]
    cuts = [cut("free", 1000)]
    assert own_first(cuts, rack, [Piece("A", mm(900), 1, owner="J")], SAW) == tuple(cuts)


def test_shortest_own_piece_that_holds_it_is_taken_and_used_once():
    rack = [RackBar("a", mm(1000)), RackBar("b", mm(1000)), RackBar("long", mm(4000), own=True),
            RackBar("near", mm(1000), own=True)]  # fmt: skip
    cuts = own_first([cut("a", 1000), cut("b", 1000)], rack, [Piece("A", mm(900), 2, owner="J")], SAW)
    assert sorted(bar.rack_piece or "" for bar in cuts) == ["long", "near"]


@pytest.mark.parametrize("heat, taken", [("H1", "mine"), ("H2", "free"), ("", "free")])
def test_pieces_of_one_heat_stay_with_their_heat(heat, taken):
    rack = [RackBar("free", mm(1000), "H1"), RackBar("mine", mm(1300), heat, own=True)]
    pieces = [Piece("A", mm(900), 1, heat_group="J A", owner="J")]
    (bar,) = own_first([cut("free", 1000)], rack, pieces, SAW)
    assert bar.rack_piece == taken
