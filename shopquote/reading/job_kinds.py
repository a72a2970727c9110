"""The kinds of value in a job: where each stands in file, workbook and database; `kinds` reads what it means.

A `FieldKind` serves every direction: `read` from a row of a file, `toml` and `cells` back out, `typed` what a
workbook's cells mean, `store` and `load` between a value and the columns of a database row, `shown` for
people, `json` for programs. The fields that use them are in `job_fields`.
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
    """What reading a value needs to know beside it: the notation of the file, the grades on file.

    `notation` is portable, with the file's unit and the currency of its amounts. `also` are what grades are
    called on paper, as `grade_key`, and their names; `marks` those of its parts.
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
    """One kind of value; this base is a value that is plain in every direction."""

    look = "text"  # of its cells in a workbook: text, number, amount or day

    @property
    def words(self) -> tuple[str, ...]:
        """Words that a workbook offers to choose from."""
        return ()

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The value under a key, or the default; every mistake is noted in the row."""
        raise NotImplementedError

    def toml(self, value: Any) -> str:
        """The value as it stands in a job file."""
        return quoted(str(value))

    def cells(self, value: Any) -> tuple[Any, ...]:
        """The value as the cells of a workbook, one a heading."""
        return (value,)

    def typed(self, cells: Sequence[Any]) -> Any:
        """What the cells mean, as a job file would give it; None where they are blank."""
        return as_text(cells[0])

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """The value by the columns that hold it; several are a JSON list."""
        return {key: list(value) if isinstance(value, tuple) else value}

    def load(self, key: str, row: Any, unit: Unit) -> Any:
        """The value from a row of the database."""
        held = getattr(row, key)
        return tuple(held) if isinstance(held, list) else held

    def shown(self, value: Any) -> str:
        """The value for a person; blank where there is none."""
        return "" if value is None else str(value)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """The value for a program, by its keys."""
        return {key: list(value) if isinstance(value, tuple) else value}


@dataclass(frozen=True)
class Text(FieldKind):
    """A text; `means` is the kind that reads it further, as a bar or a shape."""

    longest: int = LONGEST_TEXT
    lines: bool = False
    means: Kind[Any] | None = None

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Any:
        """The text, or the default where the key is not there."""
        if default is None and not row.has(key):
            return None
        kind = kinds.text(self.longest, least=1, lines=self.lines)
        text = row.text(key, kind, given_or_none(default))
        return row.meant(key, text, self.means, asked.unit) if text and self.means else text


MOST_SHOWN = 40  # grades that one message lists


@dataclass(frozen=True)
class GradeName(FieldKind):
    """A grade on file; case, blanks and dashes do not make another."""

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> str:
        """The grade as it stands on file."""
        shown = ", ".join(asked.grades[:MOST_SHOWN]) + (", ..." if len(asked.grades) > MOST_SHOWN else "")
        text = row.text(key, kinds.GRADE, expected=f"a grade on file: {shown}")
        for grade in asked.grades:
            if kinds.grade_key(text) == kinds.grade_key(grade):
                return grade
        if (called := self._on_paper(text, asked)) is not None:
            return called
        if text:
            row.fault(key, short(text), f"a grade on file: {shown}", nearest_word(text, asked.grades))
        return text

    def _on_paper(self, text: str, asked: Asked) -> str | None:
        """The grade that is called so on paper: "S275JR", "EN 10088-3 1.4301"."""
        return asked.also.get(kinds.grade_key(text)) if text else None


@dataclass(frozen=True)
class Choice(FieldKind):
    """One of a few words; `others` are what the same are called elsewhere, told and not taken."""

    among: tuple[str, ...]
    others: Mapping[str, str] | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """Words to choose from."""
        return self.among

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> str:
        """The word, or the default; a word of `others` is told with ours."""
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
        """Whether it is so; no where it is not there."""
        return row.flag(key)

    def toml(self, value: Any) -> str:
        """`true` or `false`."""
        return "true" if value else "false"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """`yes` or `no`."""
        return ("yes" if value else "no",)

    def typed(self, cells: Sequence[Any]) -> Any:
        """True for yes, False for no; any other word is told when it is read."""
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
        if isinstance(value, datetime):  # a moment in a job file; a workbook's is its day
            row.fault(key, short(value), kinds.EXPECTED_DAY)
            return None
        return None if value is None else row.value(key, kinds.DAY)

    def toml(self, value: Any) -> str:
        """A TOML date."""
        return str(value.isoformat())

    def typed(self, cells: Sequence[Any]) -> Any:
        """A day; a spreadsheet's moment is its day."""
        return cells[0].date() if isinstance(cells[0], datetime) else cells[0]


@dataclass(frozen=True)
class Names(FieldKind):
    """Several short texts, such as the marks of parts."""

    most: int
    longest: int = LONGEST_TEXT

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[str, ...]:
        """The texts, or none."""
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
        """Texts with semicolons in one cell, in quotes where they hold one themselves."""
        return (self.shown(value) or None,)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The texts of one cell."""
        text = as_text(cells[0])
        if not isinstance(text, str):
            return text
        return kinds.names_parted(text)

    def shown(self, value: Any) -> str:
        """With semicolons and a blank, as people write them."""
        return kinds.names_joined(value)


_APART = re.compile(r"\s*[,;+&\n]\s*|\s+and\s+", re.IGNORECASE)


@dataclass(frozen=True)
class Marks(Names):
    """Marks of parts, or places on them, parted by any of , ; + & "and" or, of marks, blanks."""

    of_places: bool = False

    def _items(self, listed: list[Any], asked: Asked) -> list[Any]:
        known = {kinds.name_key(mark): mark for mark in asked.marks}
        return [one for item in listed for one in self._parted(item, known)]

    def _parted(self, item: Any, known: Mapping[str, str]) -> list[Any]:
        """The marks of one text; a mark on file that holds a comma or a blank stays one."""
        # What is no text, or on more lines than a list has, is told as it stands.
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
        is_list = kinds.name_key(piece) not in known and any(kinds.name_key(word) in known for word in words)
        return words if is_list else [piece]


def given_or_none(default: Any) -> Any:
    """A default that a row's reader takes; it tells a needed key by None."""
    return None if default is NEEDED else default


def as_text(value: Any) -> Any:
    """A number in a cell for text, as the digits that a person sees."""
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def quoted(text: str) -> str:
    """A text in the quotes of TOML."""
    # JSON's escapes are a part of TOML's.
    return json.dumps(text, ensure_ascii=False)
