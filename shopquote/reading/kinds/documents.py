"""Running numbers of what the shop keeps: jobs J-0007, quotes Q-0007, orders O-0007, rack pieces R-0007."""

import re
from typing import Literal

Letter = Literal["J", "O", "Q", "R"]

# Nine digits at most: no shop comes so far, and every database holds them.
_TYPED = re.compile(r"(?:(?P<letter>[A-Z])-?)?0*(?P<digits>[0-9]{1,9})", re.ASCII)


def numbered(letter: str, number: int) -> str:
    """A running number as it stands on file and on paper.

    >>> numbered("J", 7)
    'J-0007'
    """
    return f"{letter}-{number:04d}"


def document_number(typed: str, letter: Letter) -> str:
    """A number as it stands on file, from J-0007, j-7 or 7; a scanned label may hold blanks.

    What is no such number comes back as it is, for a message to name.

    >>> document_number(" j-7", "J"), document_number("7", "O"), document_number("R-7", "J")
    ('J-0007', 'O-0007', 'R-7')
    """
    match = _TYPED.fullmatch("".join(typed.split()).upper())
    if match and match["letter"] in (None, letter):
        return numbered(letter, int(match["digits"]))
    return typed.strip()


def is_document(typed: str, letter: Letter) -> bool:
    """Whether a word names a document with its letter: R-0031 or r31, not 31 alone.

    >>> is_document("r31", "R"), is_document("31", "R"), is_document("J-31", "R")
    (True, False, False)
    """
    match = _TYPED.fullmatch(typed.strip().upper())
    return match is not None and match["letter"] == letter
