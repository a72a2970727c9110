"""Kinds of values: one reader and one shower for each, whatever door a value comes in by.

A kind reads what was typed, scanned or stood in a cell, by the shop's `Notation`, and
shows a value so that reading it again gives the same value in every locale. What
cannot be used is a `Misread` with the words for a fault. May import calc and cells.
"""

from shopquote.reading.kinds.bars import BAR, GRADE, SECTION, THREAD, grade_key
from shopquote.reading.kinds.days import DAY, EXPECTED_DAY, day_of, within_span
from shopquote.reading.kinds.kind import Kind, Notation, Typed, fault_of, found_text, read_typed
from shopquote.reading.kinds.lengths import (
    LENGTHS,
    MEASURE,
    OFFSET,
    SIGNED_MEASURE,
    TYPED_LENGTH,
    length,
    measure,
    measures,
)
from shopquote.reading.kinds.numbers import (
    MINUTES,
    SECONDS,
    count,
    counts,
    minutes_of,
    money,
    number,
    number_of,
    percent,
    plain,
)
from shopquote.reading.kinds.words import (
    ADDRESS,
    CODE,
    CURRENCY,
    FACTS,
    HEAT,
    LOCALE,
    NAME,
    PAIRS,
    TEXT,
    YES_NO,
    name_key,
    word,
    word_typed,
    words,
)

__all__ = [
    "ADDRESS",
    "BAR",
    "CODE",
    "CURRENCY",
    "DAY",
    "EXPECTED_DAY",
    "FACTS",
    "GRADE",
    "HEAT",
    "LENGTHS",
    "LOCALE",
    "MEASURE",
    "MINUTES",
    "NAME",
    "OFFSET",
    "PAIRS",
    "SECONDS",
    "SECTION",
    "SIGNED_MEASURE",
    "TEXT",
    "THREAD",
    "TYPED_LENGTH",
    "YES_NO",
    "Kind",
    "Notation",
    "Typed",
    "count",
    "counts",
    "day_of",
    "fault_of",
    "found_text",
    "grade_key",
    "length",
    "measure",
    "measures",
    "minutes_of",
    "money",
    "name_key",
    "number",
    "number_of",
    "percent",
    "plain",
    "read_typed",
    "within_span",
    "word",
    "word_typed",
    "words",
]
