"""Document numbers, typed or scanned: jobs J-0007, joint quotes Q-0007, orders O-0007, rack pieces R-0007."""

import re
from typing import Literal
from urllib.parse import quote, unquote

from shopquote.calc.spelling import folded

Letter = Literal["J", "O", "Q", "R"]

# Nine digits at most fit the integer column of every database.
_TYPED = re.compile(r"(?:(?P<letter>[A-Z])-?)?0*(?P<digits>[0-9]{1,9})", re.ASCII)


def numbered(letter: str, number: int) -> str:
    """A document number as it stands on file and on paper, with at least four digits.

    >>> numbered("J", 7)
    'J-0007'
    """
    return f"{letter}-{number:04d}"


# Route of the page that opens a printed code, which follows.
_OPENS = "/f/open?code="


def printed_code(code: str, page: str) -> str:
    """The content of a printed QR code: the address where the shop's page opens it, or the bare code.

    `page` is the page's address, "" where the shop has none.

    >>> printed_code("J-0007/A", "http://shop.local:8765"), printed_code("R-0031", "")
    ('http://shop.local:8765/f/open?code=J-0007/A', 'R-0031')
    """
    return f"{page.rstrip('/')}{_OPENS}{quote(code)}" if page else code


def scanned_code(text: str) -> str:
    """The code in what a scanner read, be it the bare code or an address of the page.

    >>> scanned_code("http://shop.local:8765/f/open?code=R-0031"), scanned_code("R-0031")
    ('R-0031', 'R-0031')
    """
    _, opens, code = text.partition(_OPENS)
    return unquote(code) if opens else text


def document_number(typed: str, letter: Letter) -> str:
    """A document number as it stands on file, from J-0007, j-7 or 7; spaces of a scanned label are dropped.

    A text that is no such number is returned as typed, so that the caller's message can name it.

    >>> document_number(" j-7", "J"), document_number("7", "O"), document_number("R-7", "J")
    ('J-0007', 'O-0007', 'R-7')
    """
    match = _TYPED.fullmatch("".join(folded(scanned_code(typed)).split()).upper())
    if match and match["letter"] in (None, letter):
        return numbered(letter, int(match["digits"]))
    return typed.strip()


def is_document(typed: str, letter: Letter) -> bool:
    """Whether a text is a document number with its letter: R-0031 or r31, but not 31 alone.

    >>> is_document("r31", "R"), is_document("31", "R"), is_document("J-31", "R")
    (True, False, False)
    """
    match = _TYPED.fullmatch(folded(scanned_code(typed)).strip().upper())
    return match is not None and match["letter"] == letter


def is_joint_number(typed: str) -> bool:
    """Whether a text means a joint quote rather than a job, whether or not that quote is on file.

    >>> is_joint_number("q7"), is_joint_number("Q\u20110007"), is_joint_number("J-7")
    (True, True, False)
    """
    return is_document(typed, "Q") or folded(typed).strip().startswith("q-")
