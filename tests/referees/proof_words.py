"""Words that both parts of the checker of proofs use."""


class Wrong(Exception):
    """The proof does not hold."""


def need(holds, text):
    if not holds:
        raise Wrong(text)


def dot(one, other):
    """Sum of products."""
    return sum(a * b for a, b in zip(one, other, strict=True))
