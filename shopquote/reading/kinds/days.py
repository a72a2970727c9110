"""Days as typed or in cells: four-digit years from 2000 to 2100."""

import re
from datetime import date, datetime
from functools import lru_cache

from shopquote.errors import Misread, TwoReadings
from shopquote.reading.kinds.kind import Kind, Notation, found_text, misread

# Years typed with two digits or mistyped fall outside, and no record in this program is older.
FIRST_DAY = date(2000, 1, 1)
LAST_DAY = date(2100, 12, 31)
EXPECTED_DAY = "a day such as 2026-03-01, its year in four digits from 2000 to 2100"

# Spreadsheets and other programs write a time of day, mostly midnight, behind a day.
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?", re.ASCII)
_DOTTED = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})", re.ASCII)
_SLASHED = re.compile(r"(\d{1,2})([/-])(\d{1,2})\2(\d{4})", re.ASCII)


def day_of(value: object, notation: Notation) -> date:
    """A day from a text or a cell: 2026-03-01, 1.3.2026, or 01/03/2026 in the locale's order.

    Raises:
        Misread: no day, one outside 2000 to 2100, or one that may mean two.

    >>> day_of("03/04/2026", Notation(locale="en_US")), day_of("1.4.2026", Notation())
    (datetime.date(2026, 3, 4), datetime.date(2026, 4, 1))
    """
    if isinstance(value, datetime):
        return within_span(value.date())
    if isinstance(value, date):
        return within_span(value)
    text = value.strip() if isinstance(value, str) else ""
    if match := _ISO.fullmatch(text):
        return _day(value, match[1], match[2], match[3])
    if match := _DOTTED.fullmatch(text):
        return _day(value, match[3], match[2], match[1])
    if match := _SLASHED.fullmatch(text):
        return _in_order(value, match[1], match[3], match[4], notation)
    raise misread(value, EXPECTED_DAY)


def within_span(day: date) -> date:
    """The day unchanged, if it lies from 2000 to 2100.

    Raises:
        Misread: it lies outside, as after a typing slip.
    """
    if not FIRST_DAY <= day <= LAST_DAY:
        raise Misread(day.isoformat(), EXPECTED_DAY)
    return day


def _in_order(value: object, first: str, second: str, year: str, notation: Notation) -> date:
    readings = {}
    for name, month, day in (("month", first, second), ("day", second, first)):
        try:
            # There is no month 31, so 31/03 has one reading and needs no locale.
            readings[name] = date(int(year), int(month), int(day))
        except ValueError:
            continue
    if not readings:
        raise misread(value, EXPECTED_DAY)
    if len(set(readings.values())) == 1:
        return within_span(next(iter(readings.values())))
    # A job file goes from shop to shop: its day must not be another one there.
    begins = "" if notation.portable else day_begins_with(notation.locale)
    if begins not in readings:
        raise TwoReadings(found_text(value), readings["month"].isoformat(), readings["day"].isoformat())
    return within_span(readings[begins])


@lru_cache(maxsize=64)
def day_begins_with(locale: str) -> str:
    """ "day" or "month", whichever the locale's short date begins with; "" where no locale is known."""
    from babel import Locale, UnknownLocaleError

    try:
        pattern = str(Locale.parse(locale.replace("-", "_")).date_formats["short"].pattern).lower()
    except (UnknownLocaleError, ValueError, TypeError):
        return ""
    letters = [letter for letter in pattern if letter in "dmy"]
    return {"d": "day", "m": "month"}.get(letters[0] if letters else "", "")


def _day(value: object, year: str, month: str, day: str) -> date:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError as error:
        raise misread(value, EXPECTED_DAY) from error
    if not FIRST_DAY <= found <= LAST_DAY:
        raise misread(value, EXPECTED_DAY)
    return found


DAY: Kind[date] = Kind(EXPECTED_DAY, day_of, lambda value, _: value)
