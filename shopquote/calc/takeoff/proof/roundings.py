"""Cuts of mixed-integer rounding over the rows of a list of patterns, in whole numbers."""

import dataclasses

import numpy as np

from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.problem import Ints, Pattern
from shopquote.calc.takeoff.proof.pattern_list import PatternList

# Shares of rows in a cut are whole parts of WHOLE, so that SHARES of them make a row itself; coefficients of
# cuts are whole parts of PARTS.
SHARES = 1 << 20
PARTS = 1 << 14
WHOLE = SHARES * PARTS
LARGEST = 1 << 61


@dataclasses.dataclass(slots=True)
class Bound:
    """The most (`down`) or least of a pattern's count, at `place` among those alive when its cut was made.

    `share` of it makes the pattern's share in the cut whole.
    """

    kind: int
    pattern: Pattern
    place: int
    start: int
    down: bool
    share: int = 0


@dataclass(frozen=True, slots=True)
class RoundingCut:
    """A rounded sum of rows, and of bounds of counts, by `shares` in 1/WHOLE.

    A row with a share above 0 is at most its most, one with a share below 0 at least its least, and so are
    the counts: so the sum a*x is at most e. With f the fraction of e, sum(F(a) x) <= floor(e) for whole
    x >= 0, where F(a) = floor(a) + max(0, fraction(a) - f) / (1 - f). What is missing at such an end is whole
    too: it counts as an x whose a is the share without its sign.
    """

    shares: Ints
    bounds: tuple[Bound, ...] = ()


def rounded(listed: PatternList, cut: RoundingCut) -> tuple[Ints, int] | None:
    """Coefficients of the patterns in a cut, and its end, in 1/PARTS.

    None where its sum has hardly a fraction.
    """
    number = len(listed.least)
    mine, others = cut.shares[:number], cut.shares[number:]
    ends, cuts, cut_ends = np.where(mine > 0, listed.most, listed.least), listed.cuts, listed.cut_ends
    cuts, cut_ends = cuts[:, : len(others)], cut_ends[: len(others)]
    sums = listed.base @ mine + cuts @ others
    end = int(ends @ mine) + int(cut_ends @ others)
    for bound in cut.bounds:
        # As much of the bound as makes the share whole.
        bound.share = int(-sums[bound.place] % WHOLE if bound.down else -(sums[bound.place] % WHOLE))
        sums[bound.place] += bound.share
        end += bound.share * bound.start
    whole, rest = divmod(end, WHOLE)
    if not WHOLE // 100 < rest < WHOLE - WHOLE // 100:
        return None
    floors, parts = np.divmod(sums, WHOLE)
    coefficients = floors * (WHOLE - rest) + np.maximum(0, parts - rest)
    end = whole * (WHOLE - rest)
    slack = np.where(listed.least < listed.most, slack_of(mine, rest), 0)
    loose = slack_of(others, rest)
    coefficients -= listed.base @ slack + cuts @ loose
    end -= int(ends @ slack) + int(cut_ends @ loose)
    for bound in cut.bounds:
        part = int(slack_of(np.array(bound.share), rest))
        coefficients[bound.place] -= part
        end -= part * bound.start
    if int(np.abs(coefficients).max(initial=0)) >= LARGEST // PARTS:
        return None
    return coefficients * PARTS // (WHOLE - rest), -(-end * PARTS // (WHOLE - rest))


def slack_of(shares: Ints, rest: int) -> Ints:
    """What is missing at the end of a row, by its share: F of that, with the share's sign."""
    floors, parts = np.divmod(np.abs(shares), WHOLE)
    return np.asarray(np.sign(shares) * (floors * (WHOLE - rest) + np.maximum(0, parts - rest)), np.int64)
