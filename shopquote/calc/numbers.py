"""Numbers as people type them: which mark is the decimal mark, and which separates thousands.

`1,250` is 1250 in London and 1.25 in Berlin. A text that can mean only one number is read
under every locale; one that can mean two is decided by the shop's `NumberMarks`, and refused with both
readings named where these leave it unsure. The program itself writes a decimal point and no
thousands separator, so that what it shows reads back the same everywhere. Begin at `read_number`.
"""

import re
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.errors import Misread, TwoReadings

# No figure of a shop is so long, and arithmetic keeps 28 digits.
LONGEST_NUMBER = 40

EXPECTED_NUMBER = "a number such as 12, 7.5 or 1250"

_SIGNED = re.compile(r"([+-]?) ?(.*)", re.DOTALL)
# ASCII alone: \d would take the digits of every script, which no locale here writes.
_PLAIN = re.compile(r"\d+(?:\.\d+)?", re.ASCII)
_BODY = re.compile(r"\d+(?:[ ',.]\d+)*|[.,]\d+", re.ASCII)
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:\D\d{3})+", re.ASCII)
_LAKHS = re.compile(r"[1-9]\d?(?:\D\d{2})*\D\d{3}", re.ASCII)

# Kinds of space and apostrophe that separate thousands, and the true minus sign, as their ASCII character.
_SAME_SIGNS = str.maketrans(
    {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2019": "'", "\u02bc": "'", "\u2212": "-"}
)


@dataclass(frozen=True, slots=True)
class NumberMarks:
    """A locale's decimal mark and thousands separator; `lakhs`: grouped as in India, 12,34,567."""

    decimal: str
    group: str
    lakhs: bool = False


def read_number(text: str, marks: NumberMarks | None = None) -> Decimal:
    """Read a typed number exactly; `marks` are the shop's, None where no shop is known.

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
        # Both readings are possible, as of 1,250.
        decimals = _decided(body, marks, whole, decimals)
        return Decimal(sign + decimals)
    reading = decimals if decimals is not None else whole
    if reading is None:
        raise Misread(quoted(text), EXPECTED_NUMBER)
    return Decimal(sign + reading)


def unmistakable(digits: str) -> str:
    """Digits with a decimal point, with one more 0 where three decimals would look like thousands.

    >>> unmistakable("1.125"), unmistakable("0.125"), unmistakable("1.25")
    ('1.1250', '0.125', '1.25')
    """
    return digits + "0" if "." in digits and _THOUSANDS.fullmatch(digits.lstrip("-")) else digits


def is_plain(text: str) -> bool:
    """Whether a text is digits with at most one point, which no locale can take for thousands."""
    return _PLAIN.fullmatch(text) is not None and unmistakable(text) == text


def grouped(body: str, marks: NumberMarks | None) -> str | None:
    """The bare digits of a whole number in groups of thousands; None where it is not one.

    Groups must all be separated by the same mark.
    """
    separators = set(re.findall(r"\D", body))
    if not separators:
        return body
    if len(separators) > 1:
        return None
    by_lakhs = marks is not None and marks.lakhs and separators == {marks.group} and _LAKHS.fullmatch(body)
    return re.sub(r"\D", "", body) if _THOUSANDS.fullmatch(body) or by_lakhs else None


# Characters that a terminal obeys: controls, escapes, unusual line breaks, changes of writing direction; as
# the inside of a regular expression's set. NUL and carriage return are added below: databases search by this
# set, but none stores NUL, and a return before a line feed is an ordinary line end.
OBEYED = "\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069"
_OBEYED = re.compile(f"[\x00\r{OBEYED}]")


def is_obeyed(text: str) -> bool:
    """Whether a text has characters that a terminal or spreadsheet would obey instead of showing."""
    return _OBEYED.search(text) is not None


def shown(text: str) -> str:
    """A text that is safe for a terminal, a paper or a file: control characters are written as escapes.

    >>> print(shown("rack \x1b[31m 7"))
    rack \\x1b[31m 7
    """
    return _OBEYED.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), plain_ends(text))


def plain_ends(text: str) -> str:
    """The text with the line ends of Windows made plain line feeds."""
    return text.replace("\r\n", "\n")


def quoted(text: str) -> str:
    """A typed text as a fault shows it: on one line, in quotes, at most 60 characters."""
    line = " ".join(text.split())
    return repr(line if len(line) <= 60 else line[:57] + "...")


def _with_decimals(body: str, marks: NumberMarks | None) -> str | None:
    """The number read with its last mark as decimal mark, as digits with a point; None where it cannot be."""
    head, mark, tail = re.fullmatch(r"(.*?)([.,]?)(\d+)", body, re.ASCII | re.DOTALL).groups()  # type: ignore[union-attr]
    if not mark or (head and mark in head):
        return None
    whole = "0" if not head else grouped(head, marks)
    return None if whole is None else f"{whole}.{tail}"


def _decided(body: str, marks: NumberMarks | None, whole: str, decimals: str) -> str:
    """The reading that the shop's marks choose; a point is decimal unless it separates thousands there.

    Raises:
        TwoReadings: the marks leave it unsure.
    """
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
