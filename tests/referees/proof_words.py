"""Words that all parts of the checker of proofs use."""


class Wrong(Exception):
    """The proof does not hold."""


def need(holds, text):
    if not holds:
        raise Wrong(text)


def dot(one, other):
    """Sum of products."""
    return sum(a * b for a, b in zip(one, other, strict=True))


def parts(bars, split):
    """Ranges of numbers of bars divided in two."""
    level, at, below = split
    low, high = bars[level][at]
    change = lambda new: bars | {level: [*bars[level][:at], new, *bars[level][at + 1 :]]}  # noqa: E731
    return change((low, min(high, below))), change((max(low, below + 1), high))
