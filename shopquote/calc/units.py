"""Lengths: whole nanometres inside the program, shown to people in the words they typed.

1/64 in is 396 875 nm and 0.0001 in is 2 540 nm, both exact. Read text with
`parse_length`, show it with `show_length`; inside one formula float
millimetres are fine (`Length.mm_float`).
"""

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal, get_args

from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import NumberMarks, quoted, read_number, unmistakable
from shopquote.errors import Misread, TwoReadings

Unit = Literal["mm", "in"]
UNITS: tuple[Unit, ...] = get_args(Unit)

NM_PER_MM = 1_000_000
NM_PER_INCH = 25_400_000
# The international avoirdupois pound of 1959, exact.
KG_PER_LB = Decimal("0.45359237")
# Masses are told in kilograms beside millimetres, in pounds beside inches.
MASS_UNITS: dict[Unit, str] = {"mm": "kg", "in": "lb"}
KG_PER: dict[Unit, Decimal] = {"mm": Decimal(1), "in": KG_PER_LB}
# A pound-force at a foot: 0.45359237 kg x 9.80665 m/s2 x 0.3048 m, exact.
N_M_PER_LB_FT = Decimal("1.3558179483314004")
# 5280 feet of 0.3048 m each, the international foot of 1959; exact.
KM_PER_MILE = Decimal("1.609344")
# 100 km: longer than any bar and short enough that sums stay inside 64 bits.
LONGEST_NM = 100_000 * 1000 * NM_PER_MM

_NM_PER = {
    "mm": NM_PER_MM, "cm": 10 * NM_PER_MM, "m": 1000 * NM_PER_MM,
    "in": NM_PER_INCH, "inch": NM_PER_INCH, "inches": NM_PER_INCH, '"': NM_PER_INCH,
    "ft": 12 * NM_PER_INCH, "foot": 12 * NM_PER_INCH, "feet": 12 * NM_PER_INCH, "'": 12 * NM_PER_INCH,
}  # fmt: skip

# Twice the longest text that anybody types for a length: feet, inches and a fraction in full.
LONGEST_TEXT = 60

EXPECTED_LENGTH = "a length such as 450, 33.5, 5/8 in, 2-7/16 in, 7' 6-1/2\", 12 mm, 2 ft or 1.25 m"

_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_MIXED = r"(?P<whole>\d+)(?:\s+|\s*-\s*)(?P<num>\d+)\s*/\s*(?P<den>\d+)"
_FRACTION = r"(?P<fnum>\d+)\s*/\s*(?P<fden>\d+)"
_VALUE = re.compile(
    rf"\s*(?:{_MIXED}|{_FRACTION}|(?P<number>{_NUMBER}))\s*"
    r"(?P<unit>mm|cm|m|inches|inch|in|foot|feet|ft|''|\"|')?\.?(?![A-Za-z])\s*",
    re.IGNORECASE | re.ASCII,
)

_UNIT_WORD = re.compile(r"(mm|cm|m|inches|inch|in|foot|feet|ft|''|\"|'|″|′|”|’)\.?\s*$", re.IGNORECASE)

# A number with a comma, point or groups in it. "1 250" is one number; in "1 100/128" a fraction follows.
_MARKED = re.compile(r"(?<![\d/])(?:\d{1,3}(?: \d{3})+(?:[.,]\d+)?(?![\d]|\s*/)|\d*(?:[.,]\d+)+)", re.ASCII)
# Three figures behind the mark are thousands as the Swiss write them; nobody writes 250 inches behind a foot.
_SWISS = re.compile(r"[1-9]\d{0,2}(?:'\d{3})+(?!\d)", re.ASCII)

FRACTION_SIGNS = "¼½¾⅛⅜⅝⅞"
# Typographic forms in plain characters: primes, curly quotes, fraction slash, no-break spaces and fractions.
_PLAIN_MARKS = str.maketrans(
    {
        "\u2032": "'", "\u2019": "'", "\u2033": '"', "\u201d": '"', "\u2044": "/",
        "\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u00bc": " 1/4", "\u00bd": " 1/2", "\u00be": " 3/4",
        "\u215b": " 1/8", "\u215c": " 3/8", "\u215d": " 5/8", "\u215e": " 7/8",
    }
)  # fmt: skip


@dataclass(frozen=True, order=True, slots=True)
class Length:
    """A length in whole nanometres; negative only as a difference of two.

    >>> Length.from_mm("33.5").nm
    33500000
    """

    nm: int

    @classmethod
    def from_mm(cls, mm: Decimal | Fraction | int | float | str) -> "Length":
        """From millimetres, rounded to the nearest nanometre."""
        return cls(round(_exact(mm) * NM_PER_MM))

    @classmethod
    def from_inches(cls, inches: Decimal | Fraction | int | float | str) -> "Length":
        """From inches, rounded to the nearest nanometre."""
        return cls(round(_exact(inches) * NM_PER_INCH))

    @property
    def mm(self) -> Decimal:
        """Exact millimetres."""
        return Decimal(self.nm).scaleb(-6)

    @property
    def mm_float(self) -> float:
        """Millimetres as a float, for use inside one formula."""
        return self.nm / NM_PER_MM

    @property
    def inches(self) -> Fraction:
        """Exact inches."""
        return Fraction(self.nm, NM_PER_INCH)

    def __add__(self, other: "Length") -> "Length":
        return Length(self.nm + other.nm)

    def __sub__(self, other: "Length") -> "Length":
        return Length(self.nm - other.nm)

    def __mul__(self, count: int) -> "Length":
        return Length(self.nm * count)

    __rmul__ = __mul__

    def __bool__(self) -> bool:
        return self.nm != 0


ZERO = Length(0)
# Bars from 8 ft on are bought by the foot, and offcuts measured in inches; common practice, no source.
LEAST_IN_FEET = Length(96 * NM_PER_INCH)


@dataclass(frozen=True, slots=True)
class Measure:
    """A length with the words it was typed in; shown back as typed.

    >>> Measure.parse("2-7/16", "in").text
    '2-7/16'
    """

    text: str
    length: Length

    @classmethod
    def parse(
        cls, value: str | int | float | Decimal, unit: Unit, marks: NumberMarks | None = None
    ) -> "Measure":
        """From a typed text, or from a bare number in `unit`.

        The text kept can be read again without a shop: a number that only `marks` decide is rewritten with
        a decimal point.

        Raises:
            Misread: not a length, or out of range.
        """
        if isinstance(value, str):
            length = parse_length(value, unit, marks)
            return cls(_lasting_words(value.strip(), marks), length)
        return cls(_plain(value), parse_length(_plain(value), unit))


# Cached, since the same few lengths stand in every list and part.
@lru_cache(maxsize=4096)
def parse_length(text: str, unit: Unit, marks: NumberMarks | None = None) -> Length:
    """Read a length as people type it; a bare number is in `unit`.

    Takes whole numbers, decimals, fractions, mixed numbers, feet and inches, and the
    units mm, cm, m, in, ft; the shop's `marks` say what a comma means. Values are exact
    to the nanometre.

    Raises:
        Misread: the text is not a length, is negative, may mean two, or is over 100 km.

    >>> parse_length("7' 6-1/2\\"", "mm").inches
    Fraction(181, 2)
    """
    if len(text.strip()) > LONGEST_TEXT:
        raise _not_a_length(text)
    cleaned = _with_points(text.strip().translate(_PLAIN_MARKS).strip(), marks)
    nanometres = round(_sum_of_values(cleaned, unit, text))
    if nanometres > LONGEST_NM:
        raise Misread(quoted(text), "a length up to 100 km", message=f"Length {text!r} is over 100 km.")
    return Length(nanometres)


def has_fraction(text: str) -> bool:
    """Whether a text holds a fraction, as 5/8 or ⅝; nobody writes millimetres so, hence it is in inches."""
    return "/" in text.translate(_PLAIN_MARKS)


def mixed_number(text: str) -> Fraction | None:
    """A signed number with a fraction and no unit, as 1-1/2, 3/4 or -22½; None for any other text.

    >>> mixed_number("-1-1/2"), mixed_number("22½"), mixed_number("22.5")
    (Fraction(-3, 2), Fraction(45, 2), None)
    """
    cleaned = text.translate(_PLAIN_MARKS).strip()
    match = _VALUE.fullmatch(cleaned.lstrip("+-")) if cleaned[:2] not in ("--", "+-", "-+", "++") else None
    if match is None or match["number"] is not None or match["unit"] or len(text) > LONGEST_TEXT:
        return None
    try:
        return _value(match, text) * (-1 if cleaned.startswith("-") else 1)
    except Misread:
        return None


def spread_unit(words: Sequence[str]) -> list[str]:
    """Lengths as typed, where the last alone may bear the unit of all, as on drawings.

    >>> spread_unit(["2", "1/4 in"]), spread_unit(["2 ft", "3 in"])
    (['2 in', '1/4 in'], ['2 ft', '3 in'])
    """
    last = _UNIT_WORD.search(words[-1])
    if last and not any(_UNIT_WORD.search(word) for word in words[:-1]):
        return [f"{word.strip()} {last[1]}" for word in words[:-1]] + [words[-1]]
    return list(words)


def _with_points(cleaned: str, marks: NumberMarks | None) -> str:
    """A length's text with every number rewritten as digits and a point.

    Raises:
        TwoReadings: 1'250 may be thousands, or feet and inches.
    """
    if match := _SWISS.match(cleaned):
        feet, inches = match[0].split("'", 1)
        raise TwoReadings(quoted(cleaned), match[0].replace("'", ""), f"{feet} ft {inches} in")
    if "," in cleaned or " " in cleaned or "." in cleaned:
        return _MARKED.sub(lambda match: f"{read_number(match[0], marks):f}", cleaned)
    return cleaned


def _lasting_words(typed: str, marks: NumberMarks | None) -> str:
    """A length's text in a form that can be read again later without the shop's marks."""
    if "," not in typed:
        return typed
    try:
        _with_points(typed, None)
    except Misread:
        return _with_points(typed.translate(_PLAIN_MARKS), marks)
    return typed


def _sum_of_values(cleaned: str, unit: Unit, text: str) -> Fraction:
    """Nanometres of one value with its unit, or of feet followed by inches."""
    total = Fraction(0)
    position = 0
    last_nm: int | None = None
    while position < len(cleaned):
        match = _VALUE.match(cleaned, position)
        if match is None or match.end() == position:
            raise _not_a_length(text)
        word = (match["unit"] or "").lower().replace("''", '"')
        if last_nm is not None:
            # A second value is only the inches after feet: 7' 6-1/2", 2 ft 3.
            word = word or "in"
            if last_nm != _NM_PER["ft"] or _NM_PER[word] != NM_PER_INCH:
                raise _not_a_length(text)
        last_nm = _NM_PER[word or unit]
        total += _value(match, text) * last_nm
        position = match.end()
        # 7'-6" as on drawings; a dash with nothing behind it is no length.
        if position + 1 < len(cleaned) and cleaned[position] == "-" and last_nm == _NM_PER["ft"]:
            position += 1
    if last_nm is None:
        raise _not_a_length(text)
    return total


def show_length(length: Length, unit: Unit, *, exact: bool = False) -> str:
    """A length as text in the job's unit, with the unit behind it.

    With `exact`, the text reads back to the same nanometre. Otherwise it is rounded as on
    sheets: to 1 mm or 1/16 in.

    >>> show_length(Length.from_mm("450.4"), "mm"), show_length(Length.from_inches("33.5"), "in")
    ('450 mm', '33-1/2 in')
    >>> [show_length(Length.from_inches(size), "in", exact=True) for size in ("0.55", "0.546875")]
    ['0.55 in', '35/64 in']
    """
    if exact:
        return _show_exact(length, unit)
    if unit == "mm":
        return show_mm(length, Fraction(1))
    return show_inches(length, 16)


def show_bar(length: Length, unit: Unit) -> str:
    """A bar as it is bought and lies on the rack: exact, and in inch shops in feet from `LEAST_IN_FEET` on.

    >>> [show_bar(Length.from_inches(size), "in") for size in (240, "160.375", "95.5")]
    ['20 ft', '13 ft 4-3/8 in', '95-1/2 in']
    >>> show_bar(Length.from_mm(6000), "mm")
    '6000 mm'
    """
    exact = show_length(length, unit, exact=True)
    if unit == "mm" or length < LEAST_IN_FEET or not exact.endswith(" in"):
        return exact
    feet, rest = divmod(length.nm, 12 * NM_PER_INCH)
    return f"{feet} ft {show_length(Length(rest), unit, exact=True)}" if rest else f"{feet} ft"


def show_mm(length: Length, step: Fraction) -> str:
    """Millimetres rounded half up to a step such as 1 or 1/2."""
    steps = _half_up(Fraction(length.nm, NM_PER_MM) / step)
    value = steps * step
    return f"{_decimal_text(value)} mm"


def show_inches(length: Length, denominator: int) -> str:
    """Inches as a mixed number to 1/denominator, rounded half up.

    >>> show_inches(Length.from_inches(Fraction(39, 16)), 16)
    '2-7/16 in'
    """
    parts = _half_up(length.inches * denominator)
    sign = "-" if parts < 0 else ""
    whole, rest = divmod(abs(parts), denominator)
    if rest == 0:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, denominator)
    head = f"{whole}-" if whole else ""
    return f"{sign}{head}{fraction.numerator}/{fraction.denominator} in"


def show_mark(length: Length, unit: Unit) -> str:
    """A bend mark as on the floor sheet: to 0.5 mm or 1/32 in."""
    return show_mm(length, Fraction(1, 2)) if unit == "mm" else show_inches(length, 32)


def show_mass(kg: float, unit: Unit, form: str) -> str:
    """A mass in kilograms or pounds, formatted as the format specification says.

    >>> show_mass(0.5721, "mm", ".3g"), show_mass(0.5721, "in", ".3g")
    ('0.572 kg', '1.26 lb')
    """
    return f"{kg / float(KG_PER[unit]):{form}} {MASS_UNITS[unit]}"


def show_angle(degrees: float) -> str:
    """An angle in degrees as on benders and papers: to 0.1°, with its sign.

    An angle of at most two decimals, such as one that was typed, is shown in full.

    >>> show_angle(57.6076), show_angle(-90.0), show_angle(-0.012), show_angle(22.25)
    ('57.6°', '-90°', '0°', '22.25°')
    """
    typed = round(degrees, 2)
    return f"{typed if abs(degrees - typed) < 1e-9 and typed else round(degrees, 1) + 0.0:g}°"


def _show_exact(length: Length, unit: Unit) -> str:
    if unit == "in":
        # As on a ruler where it is exact, else in decimals of an inch, else in millimetres, which always are.
        for denominator in (1, 2, 4, 8, 16, 32, 64):
            if (length.inches * denominator).denominator == 1:
                return show_inches(length, denominator)
        if (length.inches * 10_000).denominator == 1:
            return f"{_decimal_text(length.inches)} in"
    return f"{unmistakable(_decimal_text(Fraction(length.nm, NM_PER_MM)))} mm"


def _decimal_text(value: Fraction) -> str:
    """A number in full: no trailing zeros, no exponent."""
    number = f"{Decimal(value.numerator) / Decimal(value.denominator):f}"
    return number.rstrip("0").rstrip(".") if "." in number else number


def _half_up(value: Fraction) -> int:
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def _exact(value: Decimal | Fraction | int | float | str) -> Fraction:
    # repr gives the shortest digits that mean the float: 0.1, not its binary value.
    return Fraction(value) if not isinstance(value, float) else Fraction(repr(value))


def _plain(value: int | float | Decimal) -> str:
    """A bare number as digits.

    One far beyond any length keeps its exponent, so that `parse_length` refuses it.
    """
    number = Decimal(str(value)) if isinstance(value, float) else Decimal(value)
    if not number.is_finite() or abs(number.adjusted()) > LONGEST_TEXT:
        return f"{number:e}"
    return f"{number:f}"


def _value(match: re.Match[str], text: str) -> Fraction:
    denominator = match["den"] or match["fden"]
    if denominator is None:
        return Fraction(match["number"])
    if int(denominator) == 0:
        raise _not_a_length(text)
    if match["fnum"] is not None:
        return Fraction(int(match["fnum"]), int(denominator))
    if int(match["num"]) >= int(denominator):
        raise _not_a_length(text)  # 2-16/7 is a slip, not 4-2/7
    return int(match["whole"]) + Fraction(int(match["num"]), int(denominator))


def _not_a_length(text: str) -> Misread:
    shown = quoted(text)
    return Misread(shown, EXPECTED_LENGTH, message=f"{shown} is not a length; expected {EXPECTED_LENGTH}.")
