"""Kinds of field of a job: how one is read from and written to job file, workbook, database and JSON.

A `FieldKind` has a method for each direction: `read` from a row, `toml` and `cells` to a job file and a
workbook, `typed` from a workbook's cells to the value that a job file would have, `store` and `load` to and
from the columns of a database row, `shown` for people, `json` for programs. Single values are read by
`kinds`. The fields that use these are in `job_fields`.
"""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from shopquote.calc.drawing.weld_places import weld_place
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Unit
from shopquote.errors import Misread, nearest_word
from shopquote.reading import kinds
from shopquote.reading.kinds import Kind, Notation
from shopquote.reading.rows import LONGEST_TEXT, Row, short

NEEDED: Any = object()  # the default of a field that must be given


@dataclass(frozen=True)
class Asked:
    """What the readers of fields need to know besides the value.

    Attributes:
        notation: portable, with the file's unit and the currency of its amounts.
        grades: names of the grades on file.
        also: names of grades by what they are called elsewhere, as `grade_key`.
        marks: marks of the job's parts; empty until the parts are read.
    """

    notation: Notation
    grades: Sequence[str]
    also: Mapping[str, str] = field(default_factory=dict)
    marks: Sequence[str] = ()

    @property
    def unit(self) -> Unit:
        """Unit of the file's bare lengths."""
        return self.notation.unit


@dataclass(frozen=True)
class FieldKind:
    """One kind of field; the base class passes values through unchanged in every direction but `read`."""

    look = "text"  # of its cells in a workbook: text, number, amount or day

    @property
    def words(self) -> tuple[str, ...]:
        """The words that a workbook's drop-down list offers; empty for none."""
        return ()

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The value under a key, or the default where it is missing; mistakes are noted in the row."""
        raise NotImplementedError

    def toml(self, value: Any) -> str:
        """The value as TOML text."""
        return quoted(str(value))

    def cells(self, value: Any) -> tuple[Any, ...]:
        """The value as cells of a workbook, one for each heading of the field."""
        return (value,)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The cells' value in the form in which a job file has it, for `read`; None where they are blank."""
        return as_text(cells[0])

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """The value by database column; a tuple becomes a list, stored as JSON."""
        return {key: list(value) if isinstance(value, tuple) else value}

    def load(self, key: str, row: Any, unit: Unit) -> Any:
        """The value from a database row; the inverse of `store`."""
        held = getattr(row, key)
        return tuple(held) if isinstance(held, list) else held

    def shown(self, value: Any) -> str:
        """The value as text for people; "" for None."""
        return "" if value is None else str(value)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """The value as JSON, by key."""
        return {key: list(value) if isinstance(value, tuple) else value}


@dataclass(frozen=True)
class Text(FieldKind):
    """A text, on one line unless `lines`; `means` checks what it says, as a bar or a shape."""

    longest: int = LONGEST_TEXT
    lines: bool = False
    means: Kind[Any] | None = None

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The text, or the default where the key is missing."""
        if default is None and not row.has(key):
            return None
        kind = kinds.text(self.longest, least=1, lines=self.lines)
        text = row.text(key, kind, given_or_none(default))
        return row.meant(key, text, self.means, asked.unit) if text and self.means else text


MOST_SHOWN = 40  # grades that one message lists


@dataclass(frozen=True)
class GradeName(FieldKind):
    """A grade on file; case, spaces and dashes do not matter."""

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> str:
        """The grade's name on file; the text as typed after a fault."""
        shown = ", ".join(asked.grades[:MOST_SHOWN]) + (", ..." if len(asked.grades) > MOST_SHOWN else "")
        text = row.text(key, kinds.GRADE, expected=f"a grade on file: {shown}")
        # Names on file come first: a shop may name a grade as a standard names another one.
        for grade in asked.grades:
            if kinds.grade_key(text) == kinds.grade_key(grade):
                return grade
        if (called := self._on_paper(text, asked)) is not None:
            return called
        if text:
            row.fault(key, short(text), f"a grade on file: {shown}", nearest_word(text, asked.grades))
        return text

    def _on_paper(self, text: str, asked: Asked) -> str | None:
        """The grade on file that standards and certificates call by this text.

        "S275JR", "EN 10088-3 1.4301".
        """
        return asked.also.get(kinds.grade_key(text)) if text else None


@dataclass(frozen=True)
class Choice(FieldKind):
    """One of the words `among`.

    Keys of `others` are other names; they are refused, and the right word offered.
    """

    among: tuple[str, ...]
    others: Mapping[str, str] | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """The words of the field."""
        return self.among

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> str:
        """The word, or the default; a name in `others` is a fault that offers the right word."""
        text = row.get(key)
        if isinstance(text, str) and (other := (self.others or {}).get(text.strip().upper())):
            row.fault(key, short(text), f"one of {', '.join(self.among)}", other)
            return other
        if default == "" and (text is None or text == ""):
            return ""
        return str(row.choice(key, self.among, given_or_none(default) or None))


@dataclass(frozen=True)
class Flag(FieldKind):
    """Yes or no."""

    @property
    def words(self) -> tuple[str, ...]:
        """Yes and no."""
        return ("yes", "no")

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> bool:
        """True or false; false where the key is missing."""
        return row.flag(key)

    def toml(self, value: Any) -> str:
        """`true` or `false`."""
        return "true" if value else "false"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """`yes` or `no`."""
        return ("yes" if value else "no",)

    def typed(self, cells: Sequence[Any]) -> Any:
        """True for yes, False for no; another word stays text, to be reported when read."""
        try:
            return cells[0] if cells[0] is None else kinds.YES_NO.read(cells[0], kinds.Notation())
        except Misread:
            return cells[0]

    def shown(self, value: Any) -> str:
        """`yes` or `no`."""
        return "yes" if value else "no"


@dataclass(frozen=True)
class Day(FieldKind):
    """A day such as 2027-03-01."""

    look = "day"

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> date | None:
        """The day, or None."""
        value = row.get(key)
        if isinstance(value, datetime):  # only from a TOML file: `typed` makes days of a workbook's cells
            row.fault(key, short(value), kinds.EXPECTED_DAY)
            return None
        return None if value is None else row.value(key, kinds.DAY)

    def toml(self, value: Any) -> str:
        """A TOML date."""
        return str(value.isoformat())

    def typed(self, cells: Sequence[Any]) -> Any:
        """The day; of a date cell with a time of day, the day alone."""
        return cells[0].date() if isinstance(cells[0], datetime) else cells[0]


@dataclass(frozen=True)
class Names(FieldKind):
    """Up to `most` short texts, such as the marks of parts."""

    most: int
    longest: int = LONGEST_TEXT

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[str, ...]:
        """The texts; empty where the key is missing or after a fault."""
        value = row.get(key)
        if value is None:
            return ()
        items = self._items(value if isinstance(value, list) else [value], asked)
        try:
            return kinds.names(self.most, self.longest).read(items, kinds.Notation())
        except Misread as error:
            row.fault(key, short(value), error.expected)
            return ()

    def _items(self, listed: list[Any], asked: Asked) -> list[Any]:
        return listed

    def toml(self, value: Any) -> str:
        """A list."""
        return f"[{', '.join(map(quoted, value))}]"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """One cell with the texts separated by semicolons; a text that holds one is in quotes."""
        return (self.shown(value) or None,)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The texts of one cell as a list."""
        text = as_text(cells[0])
        if not isinstance(text, str):
            return text
        return kinds.names_parted(text)

    def shown(self, value: Any) -> str:
        """Separated by semicolons."""
        return kinds.names_joined(value)


_APART = re.compile(r"\s*[,;+&\n]\s*|\s+and\s+", re.IGNORECASE)


@dataclass(frozen=True)
class Marks(Names):
    """Marks of parts, or places on parts, separated by any of , ; + & "and"; marks also by spaces."""

    of_places: bool = False

    def _items(self, listed: list[Any], asked: Asked) -> list[Any]:
        known = {kinds.name_key(mark): mark for mark in asked.marks}
        return [one for item in listed for one in self._parted(item, known)]

    def _parted(self, item: Any, known: Mapping[str, str]) -> list[Any]:
        """The marks in one text; a part's mark that itself holds a comma or space is not split."""
        # Anything but text is left as it is, to be reported when read.
        if not isinstance(item, str) or self._is_one(item, known) or not item.strip():
            return [item]
        pieces = [piece for piece in _APART.split(item.strip()) if piece]
        if not self.of_places:
            pieces = [word for piece in pieces for word in self._by_blanks(piece, known)]
        return [known.get(kinds.name_key(piece), piece) for piece in pieces] or [item]

    def _is_one(self, text: str, known: Mapping[str, str]) -> bool:
        place = weld_place(text) if self.of_places else None
        return (place.mark if place else text.strip()) in known.values()

    def _by_blanks(self, piece: str, known: Mapping[str, str]) -> list[str]:
        words = piece.split()
        # Spaces separate only if a word is a mark: else it is one misspelt mark, and reported whole.
        is_list = kinds.name_key(piece) not in known and any(kinds.name_key(word) in known for word in words)
        return words if is_list else [piece]


def given_or_none(default: Any) -> Any:
    """A field's default as `Row` takes it, where None means that the key is needed."""
    return None if default is NEEDED else default


def as_text(value: Any) -> Any:
    """A cell's number as its digits, for a field of text; other values unchanged."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def quoted(text: str) -> str:
    """A text as a TOML basic string."""
    # Every JSON string is a valid TOML basic string: JSON's escapes are among TOML's.
    return json.dumps(text, ensure_ascii=False)
