"""Standard scales of drawings: those of ISO 5455, and some between them that workshops use."""

from collections.abc import Sequence

from shopquote.calc.frozen import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """The ratio of paper to part, and how it is written."""

    factor: float
    words: str


# ISO 5455: 2:1, 1:1, 1:2, 1:5, 1:10 and their tens; 1:2.5, 1:3 and 1:4 are common practice, no source.
SCALES: tuple[Scale, ...] = (
    Scale(2.0, "2:1"), Scale(1.0, "1:1"), Scale(0.5, "1:2"), Scale(0.4, "1:2.5"), Scale(1 / 3, "1:3"),
    Scale(0.25, "1:4"), Scale(0.2, "1:5"), Scale(0.1, "1:10"), Scale(0.05, "1:20"), Scale(0.02, "1:50"),
    Scale(0.01, "1:100"), Scale(0.005, "1:200"), Scale(0.002, "1:500"), Scale(0.001, "1:1000"),
)  # fmt: skip


def best_scale(size: Sequence[float], room: Sequence[float]) -> Scale:
    """The largest scale at which a size fits the room, both in mm; the smallest scale where none does.

    >>> best_scale((400, 100), (150, 70)).words
    '1:3'
    """
    for scale in SCALES:
        if all(mm * scale.factor <= most for mm, most in zip(size, room, strict=True)):
            return scale
    return SCALES[-1]
