"""Forms: the columns of a list or sheet that the shop writes and reads back, as data for both directions.

A `Form` writes its headings and the cells of a row, and reads a table by the same columns,
whatever their order and under other usual headings too. Begin at `Form.open`.
"""

from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cached_property
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.errors import Fault, InputError, Misread, nearest_word
from shopquote.reading.cells import Cell
from shopquote.reading.kinds.kind import Kind, Notation, fault_of, is_nothing
from shopquote.reading.table_files import FileTable, TableRow

# What people write for "as in the row above", without case and final point.
_SAME_AS_ABOVE = frozenset(
    {'"', "''", ",,", "\u201c", "\u201d", "\u201e", "\u2033", "\u3003"}
    | {"same", "same again", "same as above", "as above", "ditto", "do", "dto", "idem", "id"}
)


def is_same_as_above(cell: object) -> bool:
    """Whether a cell says that the cell above it counts again.

    >>> [is_same_as_above(cell) for cell in ("Ditto.", '"', "same again", "dot", None)]
    [True, True, True, False, False]
    """
    return isinstance(cell, str) and " ".join(cell.casefold().split()).removesuffix(".") in _SAME_AS_ABOVE


@dataclass(frozen=True)
class FormColumn:
    """A column: its heading, its kind, `usual` for an empty cell or a new entry, other headings.

    A `needed` column must be there, and no cell of a `filled` one may be empty. Of a shop's list `key`
    columns name an entry, a `required` one has to be told of a new entry, one that is not `shown` is
    left out on the screen, and a value of one with `on_list` names an entry of that list. An empty cell of a
    `blank_is_above` one is that of the row above.
    """

    name: str
    kind: Kind[Any]
    usual: Any = None
    aliases: tuple[str, ...] = ()
    needed: bool = False
    filled: bool = False
    key: bool = False
    required: bool = False
    shown: bool = True
    on_list: str = ""
    blank_is_above: bool = False


@dataclass(frozen=True)
class Form:
    """A sheet's columns in the order in which they are written; a `closed` one takes no other headings."""

    columns: tuple[FormColumn, ...]
    closed: bool = False

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings as they are written."""
        return tuple(column.name for column in self.columns)

    @cached_property
    def _by_heading(self) -> dict[str, FormColumn]:
        return {folded(name): column for column in self.columns for name in (column.name, *column.aliases)}

    def column(self, name: str) -> FormColumn:
        """The column of a name."""
        return next(column for column in self.columns if column.name == name)

    def named(self, heading: str) -> FormColumn | None:
        """The column that a heading means; case, blanks and lines do not matter."""
        return self._by_heading.get(folded(heading))

    def match(self, headings: Iterable[str]) -> dict[str, str]:
        """The heading of each column that is there; of several the column's own, then its usual others."""
        found = {folded(heading): heading for heading in reversed(list(headings))}
        matched = {}
        for column in self.columns:
            names = (folded(name) for name in (column.name, *column.aliases))
            heading = next((found[name] for name in names if name in found), None)
            if heading is not None:
                matched[column.name] = heading
        return matched

    def cells(self, values: Mapping[str, Any], notation: Notation) -> list[Cell]:
        """A row of the sheet: values by column, those not given left empty."""
        return [
            None if values.get(column.name) is None else column.kind.show(values[column.name], notation)
            for column in self.columns
        ]

    def open(self, table: FileTable, notation: Notation) -> "FilledForm":
        """A table as this form filled in.

        Raises:
            InputError: a needed column is not there, or one too many; all of them are told.
        """
        headings = self.match(table.headings)
        found = ", ".join(table.headings)[:80]
        faults = [
            Fault(table.path.name, "headings", "", "", repr(heading), f"one of {', '.join(self.headings)}",
                  nearest_word(heading, self.headings))
            for heading in table.headings if self.closed and self.named(heading) is None
        ] + [
            Fault(table.path.name, "headings", "", column.name, found, f"a column {column.name}",
                  nearest_word(column.name, table.headings))
            for column in self.columns if column.needed and column.name not in headings
        ]  # fmt: skip
        if faults:
            raise InputError.from_faults(faults)
        return FilledForm(self, table, notation, headings)


@dataclass
class FilledForm:
    """A form that somebody filled in: cells by column, and the mistakes found so far."""

    form: Form
    table: FileTable
    notation: Notation
    headings: Mapping[str, str]
    faults: list[Fault] = field(default_factory=list)
    _again: dict[str, dict[int, str]] = field(default_factory=dict)

    def text(self, row: TableRow, name: str) -> str:
        """A cell as it stands, or the one above that it says again; empty where there is no such column."""
        heading = self.headings.get(name)
        text = "" if heading is None else row.cells.get(heading, "").strip()
        blank = not text and self.form.column(name).blank_is_above
        if heading is None or not (blank or is_same_as_above(text)):
            return text
        return self._said_again(heading, blank=self.form.column(name).blank_is_above).get(row.number, text)

    def _said_again(self, heading: str, *, blank: bool) -> dict[int, str]:
        """What the cells of a column that say the one above again stand for, by row; found once a column."""
        if heading not in self._again:
            cells = [(row.number, row.cells.get(heading, "").strip()) for row in self.table.rows]
            self._again[heading] = said_again(cells, blank=blank)
        return self._again[heading]

    def value(self, row: TableRow, name: str) -> Any:
        """A cell's value by its column's kind; the usual one, with a fault noted, when it cannot be read."""
        column = self.form.column(name)
        text = self.text(row, name)
        if is_nothing(text):
            if column.filled:
                self.faults.append(Fault(*self.place(row), name, "nothing", column.kind.expected))
            return column.usual
        try:
            return column.kind.read(text, self.notation)
        except Misread as error:
            self.faults.append(fault_of(error, *self.place(row), name))
            return column.usual

    def place(self, row: TableRow) -> tuple[str, str, str]:
        """File, table and row of a fault."""
        return self.table.path.name, "", f"row {row.number}"

    def fault(self, row: TableRow, name: str, found: str, expected: str, nearest: str | None = None) -> None:
        """Note a mistake of a row."""
        self.faults.append(Fault(*self.place(row), name, repr(found[:60]), expected, nearest))


def said_again(cells: Iterable[tuple[int, str]], *, blank: bool) -> dict[int, str]:
    """What cells of one column stand for, by row, that say the one above again; empty ones too if `blank`.

    >>> said_again([(2, "S275"), (3, ""), (4, "ditto"), (5, "304")], blank=True)
    {3: 'S275', 4: 'S275'}
    """
    again: dict[int, str] = {}
    above: str | None = None
    for number, text in cells:
        if not (is_same_as_above(text) or (blank and not text)):
            above = text
        elif above is not None:
            again[number] = above
    return again


def folded(heading: str) -> str:
    """What makes two headings one: case, blanks and lines do not matter.

    >>> folded("Charged each") == folded("charged_EACH")
    True
    """
    return "".join(letter for letter in heading.casefold() if letter.isalnum())
