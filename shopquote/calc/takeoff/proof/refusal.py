"""What both halves of the check of a proof share: refusing it, and whole numbers."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Table = npt.NDArray[np.int64]


class Refused(Exception):
    """The proof does not hold; the text says where."""


def need(holds: bool, text: str) -> None:
    """Refuse the proof unless it holds."""
    if not holds:
        raise Refused(text)


def whole(values: Sequence[Any], least: int) -> list[int]:
    """Whole numbers from `least` up, or refused."""
    for value in values:
        need(
            isinstance(value, int) and not isinstance(value, bool) and value >= least,
            "a number is not whole or in range",
        )
    return list(values)
