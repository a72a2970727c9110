"""The benders that a new shop starts from, in sizes of its own unit."""

from fractions import Fraction

from shopquote.calc.bar.starting_benders import STARTING_BENDERS, starting_benders
from shopquote.calc.units import Length


def test_an_inch_shop_starts_with_inch_sizes():
    """Its benders had metric formers, whose radii in inches no drawing asks for and no catalogue has."""
    benders = starting_benders("in")
    assert len(benders) == len(STARTING_BENDERS) and starting_benders("mm") is STARTING_BENDERS
    for bender, metric in zip(benders, STARTING_BENDERS, strict=True):
        assert " mm" not in bender.name and bool(bender.formers) == bool(metric.formers)
        sizes = [bender.opening, bender.width, bender.lever, bender.smallest_leg, bender.smallest_between]
        for length in (*sizes, *bender.pins, *(former.radius for former in bender.formers)):
            assert (Fraction(length.nm, 25_400_000) * 32).denominator == 1
        # The same bender as far as an eighth of an inch tells; levers to half an inch.
        assert abs(bender.opening.mm - metric.opening.mm) <= Length.from_inches("1/8").mm / 2
        assert abs(bender.lever.mm - metric.lever.mm) <= Length.from_inches("1/2").mm
        assert [former.radius for former in bender.formers] == sorted({one.radius for one in bender.formers})
    names = [former.name for former in benders[0].formers]
    assert "former r 1-1/8 in" in names and "former r 1/2 in" in names
