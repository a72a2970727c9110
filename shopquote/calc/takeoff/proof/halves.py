"""Cuts that halve: of any pieces together, bars cut at most half as many pairs as there are pieces.

Add up the counts of some kinds of pieces in each bar and halve the sum, rounded down: over all bars that
cannot be more than half of what is asked for, rounded down. Bars with an odd sum lose a half, and where the
pieces asked for are odd too, at least one bar must be odd; a fractional plan with fewer odd bars is cut off.
Source, from memory: A. Caprara and M. Fischetti, {0, 1/2}-Chvatal-Gomory cuts, Mathematical
Programming 74 (1996).
"""

from collections.abc import Sequence
from random import Random

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.problem import Ints

# Kinds of pieces whose counts are added up, ascending.
Halves = tuple[int, ...]

# A cut counts when odd bars sum up to less than this.
FEWEST_ODD = 0.9
TRIES = 4


def halved(rows: npt.NDArray[np.int16] | Ints, cut: Halves) -> Ints:
    """What each pattern counts in a cut."""
    out: Ints = rows[:, list(cut)].sum(axis=1, dtype=np.int64) // 2
    return out


def most_halved(demands: Sequence[int], cut: Halves) -> int:
    """The most that all bars together can count in a cut."""
    return sum(demands[i] for i in cut) // 2


def violated(
    rows: npt.NDArray[np.int16], shares: npt.NDArray[np.float64], demands: Sequence[int], most: int
) -> list[Halves]:
    """Cuts that a fractional plan breaks, most broken first.

    Args:
        rows: patterns with a positive share.
        shares: bars cut by each.
        demands: pieces asked for of each kind.
        most: cuts wanted at most.

    Sums of rows of the table modulo 2 are sought that are odd in the demands and even in the patterns with
    large shares: Gaussian elimination, patterns by falling share, a few times in an order slightly shaken.
    """
    count, width = len(demands), len(rows)
    odd_counts = (rows % 2).T
    found: dict[Halves, float] = {}
    for attempt in range(TRIES):
        draw = Random(attempt)
        shake = [1 + (0.3 * (2 * draw.random() - 1) if attempt else 0.0) for _ in range(width)]
        order = np.argsort(-shares * np.array(shake), kind="stable")
        weights = [float(shares[at]) for at in order]
        # Bits of a row: the patterns in order, then whether the sum asked for is odd, then the pieces summed.
        sums = [
            int.from_bytes(np.packbits(odd_counts[i][order], bitorder="little").tobytes(), "little")
            | (demands[i] % 2) << width
            | 1 << (width + 1 + i)
            for i in range(count)
        ]
        draw.shuffle(sums)
        for cut, odd in _eliminated(sums, weights):
            pieces = tuple(i for i in range(count) if cut >> i & 1)
            found[pieces] = min(odd, found.get(pieces, 1.0))
    ranked = sorted(found, key=lambda cut: (round(found[cut], 2), len(cut), cut))
    return ranked[:most]


def _eliminated(sums: list[int], weights: Sequence[float]) -> list[tuple[int, float]]:
    """Pieces (as bits) of sums that are odd in the demands and odd in few bars, with how many."""
    width = len(weights)
    patterns = (1 << width) - 1
    found: list[tuple[int, float]] = []
    for place in range(width):
        holders = [at for at, row in enumerate(sums) if row >> place & 1]
        if not holders:
            continue
        pivot = min(holders, key=lambda at: sums[at].bit_count())
        line = sums[pivot]
        for at in holders:
            if at == pivot:
                continue
            sums[at] ^= line
            row = sums[at]
            if row >> width & 1:
                odd = _weight(row & patterns, weights)
                if odd < FEWEST_ODD:
                    found.append((row >> (width + 1), odd))
        sums[pivot] = sums[-1]
        sums.pop()
    return found


def _weight(bits: int, weights: Sequence[float]) -> float:
    """Sum of the weights at set bits; stops early once it is too much."""
    total = 0.0
    while bits and total < FEWEST_ODD:
        low = bits & -bits
        total += weights[low.bit_length() - 1]
        bits ^= low
    return total
