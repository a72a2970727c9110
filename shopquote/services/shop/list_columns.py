"""What the shop's lists share: entries by column, and how an entry is stored.

`ShopList` does for a list whose entries are rows of one table; the lists that need
more override what they do otherwise. The lists themselves are in `shop_lists`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from datetime import date
from functools import cached_property
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopquote.calc.bar.grades import other_names
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.errors import Misread, nearest_word
from shopquote.reading.cells import Cell
from shopquote.reading.forms import Form, FormColumn
from shopquote.reading.kinds import Notation, Typed, found_text, grade_key, name_key
from shopquote.records.base import Base
from shopquote.records.crew import PersonRow
from shopquote.records.materials import GradeRow
from shopquote.records.people import Supplier
from shopquote.services.shop.shop_on_file import grades_on_file, respell, shop_notation

Values = dict[str, Any]
Key = tuple[Any, ...]


@dataclass(frozen=True)
class ListTable:
    """A list as read: its name, its columns, and its entries as values by column."""

    name: str
    columns: tuple[FormColumn, ...]
    entries: tuple[Values, ...]
    notation: Notation

    def cells(self) -> Iterator[list[Cell]]:
        """Every entry as cells in the order of the columns, as they can be read back."""
        form = Form(self.columns)
        for entry in self.entries:
            yield form.cells(entry, self.notation)


@dataclass
class ShopList:
    """One list. Subclasses say how entries are found and stored."""

    name: str
    title: str
    one: str
    columns: tuple[FormColumn, ...]
    row_type: type[Base] | None = None
    renamed: Mapping[str, str] = field(default_factory=dict)
    # Words of the command line that need no COLUMN=; None: the key columns.
    placed: tuple[str, ...] | None = None
    # Whether an entry can be taken off again, where nothing on file refers to it.
    removable: bool = True
    # Records refer to an entry by its name in a column that is called so.
    named_in: str = ""
    # Records that bear the name of an entry, or of nobody on the list: they are spelt as it once it is there.
    spelt_in: tuple[InstrumentedAttribute[str], ...] = ()
    # What a column asks for, in a person's words, where its name alone does not say.
    asks: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def form(self) -> Form:
        """Its columns as a form: what an export writes, an import reads."""
        return Form(self.columns, closed=True)

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """All entries, in a lasting order; with `on`, only what counts on that day."""
        assert self.row_type is not None
        for row in session.scalars(select(self.row_type).order_by(self.row_type.id)):
            yield self.values_of(row)

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        return {column.name: getattr(row, self.attribute(column)) for column in self.columns}

    def begin(self, session: Session, on: date) -> "Shelf":
        """What is on file, looked up once for a whole import."""
        assert self.row_type is not None
        rows = session.scalars(select(self.row_type))
        by_key = {self.key_of(self.values_of(row)): row for row in rows}
        return Shelf(session, by_key, shop_notation(session), on)

    def key_of(self, values: Values) -> Key:
        """What names an entry, comparable."""
        return tuple(comparable(values[column.name]) for column in self.columns if column.key)

    def own_names(self, shelf: "Shelf") -> dict[Any, str]:
        """Names that entries of this list bear, by what makes two of them one."""
        names: dict[Any, str] | None = shelf.extra.get("own names")
        if names is None:
            column = self.columns[0]
            values = (self.values_of(row)[column.name] for row in shelf.rows.values())
            names = shelf.extra["own names"] = {column.kind.key(name): name for name in values}
        return names

    def complete(self, shelf: "Shelf", given: Values) -> tuple[Any | None, Values]:
        """The row that the given values name, and all its values with the given ones in place."""
        values = self.usual_values() | given
        row = shelf.rows.get(self.key_of(values))
        return row, values if row is None else self.values_of(row) | given

    def stands_so(self, shelf: "Shelf", given: Values, column: FormColumn, text: str) -> bool:
        """Whether the entry on file shows this very text: an older program took what is refused today.

        It then stays as it is, so that the shop's own export can be read back.
        """
        if column.key or any(key.name not in given for key in self.columns if key.key):
            return False
        row = shelf.rows.get(self.key_of(self.usual_values() | given))
        return row is not None and column.kind.show(self.values_of(row)[column.name], shelf.notation) == text

    def usual_values(self) -> Values:
        """A new entry's values where none are given."""
        return {column.name: column.usual for column in self.columns}

    def check(self, shelf: "Shelf", values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or with other lists: column, found, expected, nearest word."""
        return iter(())

    def add(self, shelf: "Shelf", values: Values) -> Any:
        """Store a new entry."""
        assert self.row_type is not None
        row = self.row_type(**{self.attribute(c): values[c.name] for c in self.columns})
        shelf.session.add(row)
        if self.spelt_in:
            respell(shelf.session, values["name"], self.spelt_in)
        return row

    def change(self, shelf: "Shelf", row: Any, values: Values) -> None:
        """Store other values on an entry."""
        for column in self.columns:
            setattr(row, self.attribute(column), values[column.name])

    @property
    def retirable(self) -> bool:
        """Whether an entry can stay for old papers while nothing new uses it."""
        return any(column.name == "retired" for column in self.columns)

    def records_of(self, found: Sequence[Any]) -> Sequence[Any]:
        """The records that stand for these rows: what goes when an entry is removed."""
        return found

    def why_kept(self, row: Any) -> str:
        """Why a row must stay, whatever refers to it; nothing where it may go."""
        return ""

    def finish(self, shelf: "Shelf", values: Values, row: Any) -> None:
        """After an entry was added or changed."""

    def attribute(self, column: FormColumn) -> str:
        """The row's attribute of a column."""
        return self.renamed.get(column.name, column.name)


@dataclass
class Shelf:
    """Rows on file by key while entries are stored, and what else a list wants to look up once."""

    session: Session
    rows: dict[Key, Any]
    notation: Notation
    on: date
    extra: dict[str, Any] = field(default_factory=dict)
    # Names on file by what makes two of them one, of each list that was asked for.
    _names: dict[str, dict[str, str]] = field(default_factory=dict)

    def names(self, of: str) -> dict[str, str]:
        """Names on file of grades, suppliers or people, by key."""
        if of not in self._names:
            column = _NAMES_OF[of]
            key = _KEY_OF[of]
            self._names[of] = {key(name): name for name in self.session.scalars(select(column))}
        return self._names[of]

    def in_words_on_file(self, column: FormColumn, value: Any) -> Any:
        """The value in the words of the entry that it names.

        Raises:
            Misread: no such entry; the nearest is told.
        """
        if not column.on_list or value is None:
            return value
        names, key = self.names(column.on_list), _KEY_OF[column.on_list](value)
        found = names.get(key)
        if found is None and column.on_list == "grades":
            found = self._grade_called(key)
        if found is None:
            near = nearest_word(value, names.values())
            raise Misread(found_text(value), f"a {_ONE_OF[column.on_list]} on file", near)
        return found

    def _grade_called(self, key: str) -> str | None:
        """The grade of a standard or sub-grade, such as S275JR, as it is found everywhere else."""
        if "called" not in self._names:
            self._names["called"] = other_names(grades_on_file(self.session))
        return self._names["called"].get(key)


_NAMES_OF = {"grades": GradeRow.name, "suppliers": Supplier.name, "people": PersonRow.name}
_KEY_OF = {"grades": grade_key, "suppliers": name_key, "people": name_key}
_ONE_OF = {"grades": "grade", "suppliers": "supplier", "people": "person"}


def comparable(value: Any) -> Any:
    """What names an entry, whatever words it was typed in."""
    if isinstance(value, Typed):
        value = value.value
    return value.nm if isinstance(value, Length) else value


def short_text(text: str) -> str:
    """Text as a fault shows it: one line, quoted, not too long."""
    text = " ".join(text.split())
    return repr(text if len(text) <= 60 else text[:57] + "...")
