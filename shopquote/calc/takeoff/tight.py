"""Bars that a plan needs to the last millimetre, and that may come some millimetres too short."""

from collections.abc import Callable, Sequence

from shopquote.calc.takeoff.answers import BarCut
from shopquote.calc.units import Length

# Common practice, no source: a merchant's "6 m" is 6000 mm give or take more than this.
TIGHT = Length.from_mm(1)


def tight_words(bars: Sequence[BarCut], show: Callable[[Length], str]) -> str:
    """What a person must know of bought bars with hardly anything to spare; empty where there are none.

    A bar whose tolerance was told holds its pieces even when it comes as short as that.
    """
    tight = [
        bar
        for bar in bars
        if bar.rack_piece is None and bar.pieces and not bar.sawn and not bar.tolerance and bar.spare < TIGHT
    ]
    if not tight:
        return ""
    count = sum(bar.count for bar in tight)
    which = "1 bar" if count == 1 else f"{count} bars"
    lengths = ", ".join(sorted({show(bar.stock) for bar in tight}))
    return (
        f"{which} must be all of {lengths}: less than {show(TIGHT)} to spare. "
        "Measure before sawing, or say how much shorter bars may come"
    )
