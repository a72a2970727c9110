"""Numbers as people type them: which mark begins the decimals, and which parts the thousands.

`1,250` is 1250 in London and 1.25 in Berlin. What can mean one number only is read
anywhere; what can mean two is decided by the shop's `NumberMarks`, and refused with both
readings named where these leave it unsure. The program itself writes a point and no
thousands, so that what it shows reads back the same everywhere. Begin at `read_number`.
"""

import re
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.errors import Misread, TwoReadings

# No figure of a shop is so long, and arithmetic keeps 28 digits.
LONGEST_NUMBER = 40

EXPECTED_NUMBER = "a number such as 12, 7.5 or 1250"

_SIGNED = re.compile(r"([+-]?) ?(.*)", re.DOTALL)
_PLAIN = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_BODY = re.compile(r"\d+(?:[ ',.]\d+)*|[.,]\d+", re.ASCII)
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:\D\d{3})+", re.ASCII)
_LAKHS = re.compile(r"[1-9]\d?(?:\D\d{2})*\D\d{3}", re.ASCII)

# Blanks and apostrophes that part thousands, and the true minus sign, as one sign each.
_SAME_SIGNS = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2019": "'", "\u02bc": "'", "\u2212": "-"}
)


@dataclass(frozen=True, slots=True)
class NumberMarks:
    """A locale's marks: `decimal` before the decimals, `group` between thousands, `lakhs`: Indian groups."""

    decimal: str
    group: str
    lakhs: bool = False


def read_number(text: str, marks: NumberMarks | None = None) -> Decimal:
    """A typed number; `marks` are the shop's, None where no shop is known.

    Raises:
        Misread: no number, or one that may mean two.

    >>> english, german = NumberMarks(".", ","), NumberMarks(",", ".")
    >>> read_number("1 320,5"), read_number("1,250", english), read_number("1,250", german)
    (Decimal('1320.5'), Decimal('1250'), Decimal('1.250'))
    """
    cleaned = text.translate(_SAME_SIGNS).strip()
    match = _SIGNED.fullmatch(cleaned)
    assert match is not None
    sign, body = match[1].replace("+", ""), match[2]
    if len(body) > LONGEST_NUMBER or not _BODY.fullmatch(body):
        raise Misread(quoted(text), EXPECTED_NUMBER)
    whole, decimals = grouped(body, marks), _with_decimals(body, marks)
    if whole is not None and decimals is not None:
        decimals = _decided(body, marks, whole, decimals)
        return Decimal(sign + decimals)
    reading = decimals if decimals is not None else whole
    if reading is None:
        raise Misread(quoted(text), EXPECTED_NUMBER)
    return Decimal(sign + reading)


def unmistakable(digits: str) -> str:
    """Digits with a point as they are, or with one more nought where they look like thousands.

    >>> unmistakable("1.125"), unmistakable("0.125"), unmistakable("1.25")
    ('1.1250', '0.125', '1.25')
    """
    return digits + "0" if "." in digits and _THOUSANDS.fullmatch(digits.lstrip("-")) else digits


def is_plain(text: str) -> bool:
    """Whether a text is digits with at most one point that no locale takes for thousands."""
    return _PLAIN.fullmatch(text) is not None and unmistakable(text) == text


def grouped(body: str, marks: NumberMarks | None) -> str | None:
    """Digits of a whole number in groups, or None: not in groups, or by several marks."""
    separators = set(re.findall(r"\D", body))
    if not separators:
        return body
    if len(separators) > 1:
        return None
    by_lakhs = marks is not None and marks.lakhs and separators == {marks.group} and _LAKHS.fullmatch(body)
    return re.sub(r"\D", "", body) if _THOUSANDS.fullmatch(body) or by_lakhs else None


# What a terminal obeys: controls, escapes, line breaks of other kinds, turns of the writing direction; as
# the inside of a set of characters, without the two that searches of a database stumble over: nought, which
# none takes, and a return, which is a line's end where a feed follows.
OBEYED = "\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
_OBEYED = re.compile(f"[\x00\r{OBEYED}]")


def is_obeyed(text: str) -> bool:
    """Whether a text holds what a terminal or a spreadsheet would obey instead of showing it."""
    return _OBEYED.search(text) is not None


def shown(text: str) -> str:
    """A text as a terminal, a paper or a file for others may have it: what would be obeyed is written out.

    >>> print(shown("rack \x1b[31m 7"))
    rack \\x1b[31m 7
    """
    return _OBEYED.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), plain_ends(text))


def plain_ends(text: str) -> str:
    """The same lines, whichever system ended them."""
    return text.replace("\r\n", "\n")


def quoted(text: str) -> str:
    """A typed text as a fault shows it: one line, in quotes, not too long."""
    line = " ".join(text.split())
    return repr(line if len(line) <= 60 else line[:57] + "...")


def _with_decimals(body: str, marks: NumberMarks | None) -> str | None:
    """Digits with a point of a number whose last mark begins the decimals, or None."""
    head, mark, tail = re.fullmatch(r"(.*?)([.,]?)(\d+)", body, re.ASCII | re.DOTALL).groups()  # type: ignore[union-attr]
    if not mark or (head and mark in head):
        return None
    whole = "0" if not head else grouped(head, marks)
    return None if whole is None else f"{whole}.{tail}"


def _decided(body: str, marks: NumberMarks | None, whole: str, decimals: str) -> str:
    """The one of two readings that the shop's marks take; a point is the program's own mark as well."""
    mark = re.sub(r"\d", "", body)
    if mark == (marks.decimal if marks is not None else "."):
        return decimals
    if mark == "." and (marks is None or marks.group != "."):
        return decimals
    if mark == "," and marks is not None and marks.group == ",":
        return whole
    if not mark:
        return whole
    raise TwoReadings(quoted(body), whole, f"{Decimal(decimals).normalize():f}")
