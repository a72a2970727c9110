"""Base class of the shop's lists: entries as values by column, and how an entry is stored.

`ShopList` serves a list with one table row per entry; other lists override what differs. The lists themselves
are in `shop_lists`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
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
from shopquote.reading.kinds import Kind, Notation, Typed, found_text, grade_key, name_key
from shopquote.records.base import Base
from shopquote.records.crew import PersonRow
from shopquote.records.materials import GradeRow
from shopquote.records.people import Supplier
from shopquote.services.shop.shop_on_file import grades_on_file, respell, shop_notation

Values = dict[str, Any]
Key = tuple[Any, ...]


@dataclass(frozen=True)
class ListTable:
    """A list as read: its name, its columns, and each entry as values by column name."""

    name: str
    columns: tuple[FormColumn, ...]
    entries: tuple[Values, ...]
    notation: Notation

    def cells(self) -> Iterator[list[Cell]]:
        """Each entry as cells in the order of the columns, in a form that reads back to the same values."""
        form = Form(self.columns)
        for entry in self.entries:
            yield form.cells(entry, self.notation)


@dataclass
class ShopList:
    """One of the shop's lists: its name, columns and table. Subclasses override how entries are read and
    stored.

    `renamed` has the row's attribute for a column whose name differs from it.
    """

    name: str
    title: str
    one: str
    columns: tuple[FormColumn, ...]
    row_type: type[Base] | None = None
    renamed: Mapping[str, str] = field(default_factory=dict)
    # Columns whose values the command line takes without COLUMN=, in this order; None: the key columns.
    placed: tuple[str, ...] | None = None
    # Whether an entry that nothing on file refers to can be removed.
    removable: bool = True
    # Name of the columns, in any table, that refer to an entry by its name instead of its id.
    named_in: str = ""
    # Columns that hold names as typed, whether on this list or not; they take an entry's spelling once it is
    # added.
    spelt_in: tuple[InstrumentedAttribute[str], ...] = ()
    # Help for columns whose name alone does not say what is asked for.
    asks: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def form(self) -> Form:
        """The columns as a form: an export writes it, an import reads it."""
        return Form(self.columns, closed=True)

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """Every entry as values by column, in stored order; with `on`, only what applies on that day."""
        assert self.row_type is not None
        for row in session.scalars(select(self.row_type).order_by(self.row_type.id)):
            yield self.values_of(row)

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        return {column.name: getattr(row, self.attribute(column)) for column in self.columns}

    def begin(self, session: Session, on: date) -> "OpenList":
        """Read the rows on file by key, once for all entries of an import."""
        assert self.row_type is not None
        rows = session.scalars(select(self.row_type))
        by_key = {self.key_of(self.values_of(row)): row for row in rows}
        return OpenList(session, by_key, shop_notation(session), on)

    def key_of(self, values: Values) -> Key:
        """The key of an entry: two with equal keys are one entry."""
        return tuple(comparable(values[column.name]) for column in self.columns if column.key)

    def own_names(self, opened: "OpenList") -> dict[Any, str]:
        """Names of this list's entries by their comparison key, read once and extended by new entries."""
        names: dict[Any, str] | None = opened.extra.get("own names")
        if names is None:
            column = self.columns[0]
            values = (self.values_of(row)[column.name] for row in opened.rows.values())
            names = opened.extra["own names"] = {column.kind.key(name): name for name in values}
        return names

    def complete(self, opened: "OpenList", given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them."""
        values = self.usual_values() | given
        row = opened.rows.get(self.key_of(values))
        return row, values if row is None else self.values_of(row) | given

    def notation(self, opened: "OpenList", given: Values) -> Notation:
        """How a cell of an entry is typed, by the cells that were read before it."""
        return opened.notation

    def kind(self, opened: "OpenList", given: Values, column: FormColumn) -> Kind[Any]:
        """How a cell of a column is read, by the cells of its entry that were read before it."""
        return column.kind

    def stands_so(self, opened: "OpenList", given: Values, column: FormColumn, text: str) -> bool:
        """Whether the entry on file shows this very text, though it is refused today.

        An older program may have taken it; it then stays as it is, so that the shop's own export reads back.
        """
        if column.key or any(key.name not in given for key in self.columns if key.key):
            return False
        row = opened.rows.get(self.key_of(self.usual_values() | given))
        return row is not None and column.kind.show(self.values_of(row)[column.name], opened.notation) == text

    def usual_values(self) -> Values:
        """Values by column of a new entry where none are given."""
        return {column.name: column.usual for column in self.columns}

    def check(self, opened: "OpenList", values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        return iter(())

    def add(self, opened: "OpenList", values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        assert self.row_type is not None
        row = self.row_type(**{self.attribute(c): values[c.name] for c in self.columns})
        opened.session.add(row)
        if self.spelt_in:
            respell(opened.session, values["name"], self.spelt_in)
        return row

    def change(self, opened: "OpenList", row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        for column in self.columns:
            setattr(row, self.attribute(column), values[column.name])

    @property
    def retirable(self) -> bool:
        """Whether an entry can be retired: it stays on old papers and nothing new uses it."""
        return any(column.name == "retired" for column in self.columns)

    def records_of(self, found: Sequence[Any]) -> Sequence[Any]:
        """The records to delete for these rows; a list whose row is not one record overrides this."""
        return found

    def why_kept(self, row: Any) -> str:
        """Why a row cannot be removed whatever refers to it, such as a default; else empty."""
        return ""

    def finish(self, opened: "OpenList", values: Values, row: Any) -> None:
        """Called after an entry was added or changed, for what it changes in other entries."""

    def attribute(self, column: FormColumn) -> str:
        """The row's attribute that holds a column."""
        return self.renamed.get(column.name, column.name)


@dataclass
class OpenList:
    """A list opened for writing: its rows by key, and what else is looked up once for all entries.

    `on` is the day from which a value without a day of its own applies; `extra` holds look-ups of a list's
    own.
    """

    session: Session
    rows: dict[Key, Any]
    notation: Notation
    on: date
    extra: dict[str, Any] = field(default_factory=dict)
    # One entry is set by itself; else a file is imported, which may hold every entry with its history.
    single: bool = False
    # Names on file by comparison key, for each list in `_NAMES_OF`; read when first asked for.
    _names: dict[str, dict[str, str]] = field(default_factory=dict)

    def notation_in(self, currency: str) -> Notation:
        """The shop's notation with amounts in a currency; the shop's own for none."""
        same = currency in ("", self.notation.currency)
        return self.notation if same else replace(self.notation, currency=currency)

    def names(self, of: str) -> dict[str, str]:
        """Names of all grades, suppliers or people on file, by comparison key."""
        if of not in self._names:
            column = _NAMES_OF[of]
            key = _KEY_OF[of]
            self._names[of] = {key(name): name for name in self.session.scalars(select(column))}
        return self._names[of]

    def in_words_on_file(self, column: FormColumn, value: Any) -> Any:
        """The value in the spelling of the entry that it refers to; unchanged where the column refers to no
        list.

        Raises:
            Misread: no such entry; the message names the nearest.
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
        """The grade that the name of a standard or sub-grade, such as S275JR, stands for; else None."""
        if "called" not in self._names:
            self._names["called"] = other_names(grades_on_file(self.session))
        return self._names["called"].get(key)


_NAMES_OF = {"grades": GradeRow.name, "suppliers": Supplier.name, "people": PersonRow.name}
_KEY_OF = {"grades": grade_key, "suppliers": name_key, "people": name_key}
_ONE_OF = {"grades": "grade", "suppliers": "supplier", "people": "person"}


def comparable(value: Any) -> Any:
    """A value for comparing keys: measured value instead of typed text, nanometres instead of a `Length`."""
    if isinstance(value, Typed):
        value = value.value
    return value.nm if isinstance(value, Length) else value


def short_text(text: str) -> str:
    """Text as a fault quotes it: on one line, at most 60 characters."""
    text = " ".join(text.split())
    return repr(text if len(text) <= 60 else text[:57] + "...")
