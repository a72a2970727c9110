"""Forms: the columns of a list or sheet, as data that serve both to write it and to read it back.

A `Form` writes its headings and the cells of a row. It reads a table by the same columns in any order, also
under other usual headings (`aliases`). Begin at `Form.open`.
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

# What people write for "same as the row above", in lower case and without a final point.
_SAME_AS_ABOVE = frozenset(
    {'"', "''", ",,", "\u201c", "\u201d", "\u201e", "\u2033", "\u3003"}
    | {"same", "same again", "same as above", "as above", "ditto", "do", "dto", "idem", "id"}
)


def is_same_as_above(cell: object) -> bool:
    """Whether a cell is a ditto mark or word, so that it stands for the cell above.

    >>> [is_same_as_above(cell) for cell in ("Ditto.", '"', "same again", "dot", None)]
    [True, True, True, False, False]
    """
    return isinstance(cell, str) and " ".join(cell.casefold().split()).removesuffix(".") in _SAME_AS_ABOVE


# Units at the end of a column's name, as people read them.
UNITS_IN_NAMES = {"_nm": ", N m", "_mpa": ", MPa", "_kg_m3": ", kg/m3", "_pct": ", %"}


@dataclass(frozen=True)
class FormColumn:
    """A column of a form or of one of the shop's lists.

    Attributes:
        name: its heading.
        kind: reads and shows its values.
        usual: value of an empty cell, and of a new entry.
        aliases: other headings under which it is read.
        needed: the column must be in the file.
        filled: none of its cells may be empty.
        key: its value, with those of the other key columns, identifies an entry of a list.
        required: must be given for a new entry of a list.
        shown: whether the list shows it on the screen.
        on_list: name of the list that its values are entries of; "" for free values.
        blank_is_above: an empty cell stands for the cell of the row above.
        title: its heading for people where that is not its name.
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
    title: str = ""

    @property
    def words(self) -> str:
        """Its heading for people."""
        if self.title:
            return self.title
        ending = next((one for one in UNITS_IN_NAMES if self.name.endswith(one)), "")
        return self.name.removesuffix(ending).replace("_", " ") + UNITS_IN_NAMES.get(ending, "")


@dataclass(frozen=True)
class Form:
    """A sheet's columns in the order in which they are written; a `closed` form refuses other headings."""

    columns: tuple[FormColumn, ...]
    closed: bool = False

    @property
    def headings(self) -> tuple[str, ...]:
        """The columns' own headings, in the order written."""
        return tuple(column.name for column in self.columns)

    @cached_property
    def _by_heading(self) -> dict[str, FormColumn]:
        return {
            heading_key(name): column for column in self.columns for name in (column.name, *column.aliases)
        }

    def column(self, name: str) -> FormColumn:
        """The column with this name, which must be one of the form's."""
        return next(column for column in self.columns if column.name == name)

    def named(self, heading: str) -> FormColumn | None:
        """The column that a heading means, or None; case, spaces and underscores do not matter."""
        return self._by_heading.get(heading_key(heading))

    def match(self, headings: Iterable[str]) -> dict[str, str]:
        """The file's heading for each column found, by column name; its own name comes before aliases."""
        # Reversed, so that of two headings with the same key the first counts.
        found = {heading_key(heading): heading for heading in reversed(list(headings))}
        matched = {}
        for column in self.columns:
            names = (heading_key(name) for name in (column.name, *column.aliases))
            heading = next((found[name] for name in names if name in found), None)
            if heading is not None:
                matched[column.name] = heading
        return matched

    def cells(self, values: Mapping[str, Any], notation: Notation) -> list[Cell]:
        """The cells of one row, in the order of the columns; columns not in `values` are None."""
        return [
            None if values.get(column.name) is None else column.kind.show(values[column.name], notation)
            for column in self.columns
        ]

    def open(self, table: FileTable, notation: Notation) -> "FilledForm":
        """A table to be read by this form.

        Raises:
            InputError: needed columns are missing, or a closed form has others; all are named together.
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
    """A table read by a form: gives values by row and column, and gathers mistakes in `faults`.

    `headings` are the file's headings by column name.
    """

    form: Form
    table: FileTable
    notation: Notation
    headings: Mapping[str, str]
    faults: list[Fault] = field(default_factory=list)
    _again: dict[str, dict[int, str]] = field(default_factory=dict)

    def text(self, row: TableRow, name: str) -> str:
        """A cell's text, with ditto marks replaced by the cell above.

        "" where the file has no such column.
        """
        heading = self.headings.get(name)
        text = "" if heading is None else row.cells.get(heading, "").strip()
        blank = not text and self.form.column(name).blank_is_above
        if heading is None or not (blank or is_same_as_above(text)):
            return text
        return self._said_again(heading, blank=self.form.column(name).blank_is_above).get(row.number, text)

    def _said_again(self, heading: str, *, blank: bool) -> dict[int, str]:
        """`said_again` of one column, kept for the next row."""
        if heading not in self._again:
            cells = [(row.number, row.cells.get(heading, "").strip()) for row in self.table.rows]
            self._again[heading] = said_again(cells, blank=blank)
        return self._again[heading]

    def value(self, row: TableRow, name: str) -> Any:
        """A cell's value; the column's usual one where it is empty or cannot be read, which notes a fault."""
        column = self.form.column(name)
        text = self.text(row, name)
        if is_nothing(text):
            if column.filled:
                self.faults.append(Fault(*self.place(row), name, "nothing", column.kind.expected))
            return column.usual
        try:
            return column.kind.read(text, self.notation)
        except Misread as error:
            # The usual value stands in, so that the rest of the row is checked too.
            self.faults.append(fault_of(error, *self.place(row), name))
            return column.usual

    def place(self, row: TableRow) -> tuple[str, str, str]:
        """File, table and row, as a `Fault` begins with them."""
        return self.table.path.name, "", f"row {row.number}"

    def fault(self, row: TableRow, name: str, found: str, expected: str, nearest: str | None = None) -> None:
        """Note a mistake of a row."""
        self.faults.append(Fault(*self.place(row), name, repr(found[:60]), expected, nearest))


def said_again(cells: Iterable[tuple[int, str]], *, blank: bool) -> dict[int, str]:
    """What the ditto cells of one column stand for, by row number; with `blank` empty cells are dittos too.

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


def heading_key(heading: str) -> str:
    """The key of a heading: headings with equal keys are one. Only letters and digits count, not case.

    >>> heading_key("Charged each") == heading_key("charged_EACH")
    True
    """
    return "".join(letter for letter in heading.casefold() if letter.isalnum())
