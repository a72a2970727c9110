"""Tapers and twists made on the straight bar, and their instructions for the floor.

Positions are along the straight bar as sawn, before any forging. Float mm. Begin at `forgings_of`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.sizes import Say
from shopquote.calc.frozen import dataclass


@dataclass(frozen=True, slots=True)
class Forging:
    """One stretch of bar that is drawn out or twisted: where it begins, its stock, its finished length.

    tip_mm: size of a taper's tip, 0 for a point; turns: of a twist, negative for left-handed.
    """

    kind: str
    begin_mm: float
    stock_mm: float
    done_mm: float
    tip_mm: float = 0.0
    turns: float = 0.0


def forgings_of(runs: Sequence[Run]) -> tuple[Forging, ...]:
    """Every taper and twist of a part, in order along the bar."""
    found, at = [], 0.0
    for run in runs:
        if run.kind == "taper":
            found.append(Forging("taper", at, run.flat_mm, run.true_mm, tip_mm=run.size_mm))
        elif run.kind == "twist":
            found.append(Forging("twist", at, run.flat_mm, run.true_mm, turns=run.angle / 360))
        at += run.flat_mm
    return tuple(found)


def forging_words(runs: Sequence[Run], say: Say) -> tuple[str, ...]:
    """A line for each forging, and the shift of marks where the bar is forged before it is bent.

    >>> forging_words([Run("taper", 1, 40, 100, size_mm=3), Run("straight", 2, 50, 50)], Say())[0]
    'taper: draw the first 40 mm of the bar out to 100 mm, tip 3 mm'
    """
    words, at_start = [], 0.0
    whole = sum(run.flat_mm for run in runs)
    for one in forgings_of(runs):
        end = one.begin_mm + one.stock_mm
        if one.kind == "taper":
            first = one.begin_mm <= 1e-6 and end < whole - 1e-6
            which = "first" if first else "last"
            tip = f"tip {say(one.tip_mm)}" if one.tip_mm else "to a point"
            words.append(
                f"taper: draw the {which} {say(one.stock_mm)} of the bar out to {say(one.done_mm)}, {tip}"
            )
            at_start = one.done_mm - one.stock_mm if first else at_start
        else:
            hand = "right" if one.turns > 0 else "left"
            words.append(
                f"twist: {abs(one.turns):g} turns {hand}-handed from {say(one.begin_mm)} to {say(end)} along "
                "the straight bar"
            )
    if abs(at_start) >= 0.05 and any(run.is_curve for run in runs):
        words.append(
            "marks hold before forging: forged first, those from the start end lie "
            f"{say(abs(at_start))} {'further on' if at_start > 0 else 'nearer'}"
        )
    return tuple(words)
