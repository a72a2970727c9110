"""The short notation of shapes of legs and bends, such as 250 90r36 300. Begin at `spelled_out`."""

import re

# A comma may stand before decimals; what it leaves unsure is told where the size is read.
_SIZE = r"(?:\d[\d./'\"-]*(?:,\d[\d./'\"-]*)*|[.,]\d+)"
_ANGLE = r"(?P<angle>[+-]?(?:(?:\d+-)?\d+/\d+|\d+(?:[.,]\d*|[¼½¾])?|[.,]\d+))"
_LEG = re.compile(_SIZE)
_BEND = re.compile(rf"{_ANGLE}r(?P<radius>{_SIZE})", re.IGNORECASE)
_TURN = re.compile(rf"t{_ANGLE}", re.IGNORECASE)


def spelled_out(text: str) -> str:
    """A shape in full words, from its short notation: legs as sizes, bends as 90r36, turns as t90.

    Sizes stay as typed. A text that is not entirely of these, with at least one bend, is returned unchanged.

    >>> spelled_out("250 90r36 300"), spelled_out("6-1/2 -45r1 t90 30r1 8")
    ('leg 250; bend 90 r 36; leg 300', 'leg 6-1/2; bend -45 r 1; turn 90; bend 30 r 1; leg 8')
    >>> spelled_out("120,5 67,5r12,5 80")
    'leg 120,5; bend 67,5 r 12,5; leg 80'
    >>> spelled_out("6-1/2 22-1/2r1 8")
    'leg 6-1/2; bend 22-1/2 r 1; leg 8'
    >>> spelled_out("leg 250; bend 90 r 36; leg 300"), spelled_out("250 300")
    ('leg 250; bend 90 r 36; leg 300', '250 300')
    """
    words, bends = [], 0
    for part in text.split():
        if bend := _BEND.fullmatch(part):
            words.append(f"bend {bend['angle']} r {bend['radius']}")
            bends += 1
        elif turn := _TURN.fullmatch(part):
            words.append(f"turn {turn['angle']}")
        elif _LEG.fullmatch(part):
            words.append(f"leg {part}")
        else:
            return text
    return "; ".join(words) if bends else text
