"""A table is a tuple of columns over rows: described once, drawn by one writer for each place.

    COLUMNS = (
        Column("Bar", lambda line: line.bar, width=18),
        Column("Length", lambda line: line.length, LENGTH, key="length_mm"),
        Column("Amount {currency}", lambda line: line.amount, MONEY, key="amount", sum=True),
    )
    table = Table(COLUMNS, lines, "Order O-0007", Setting("EUR", "mm"), foot="Total")

`tables.show.print_table` draws it in the terminal, `json_rows` as JSON, `csv_of` as CSV,
`row_text` as a line of a letter, `books.sheet_table.draw` on a worksheet. A column is one
entry: it stands in all of them unless `on` says where.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import field
from decimal import Decimal
from typing import Any, Generic, Literal, TypeVar

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.outputs.looks import TEXT, Look, Setting

Row = TypeVar("Row")
Place = Literal["terminal", "sheet", "text", "csv", "json"]
Places = frozenset[Place]
# Where a column is filled in by hand: in the rows, in the spare rows below them, or in both.
Fill = Literal["", "rows", "spare", "both"]

EVERYWHERE: Places = frozenset({"terminal", "sheet", "text", "csv", "json"})
TERMINAL: Places = frozenset({"terminal"})
SHEET: Places = frozenset({"sheet"})
LETTER: Places = frozenset({"text"})
CSV: Places = frozenset({"csv"})
JSON: Places = frozenset({"json"})
DATA = CSV | JSON
SEEN = TERMINAL | SHEET | LETTER


@dataclass(frozen=True, slots=True)
class Editable:
    """A value that the user of a worksheet may change: its cell is yellow, and formulas follow it."""

    value: object


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula in a worksheet: `words` makes it from its row, where `row[COLUMN]` is a cell's address."""

    words: Callable[[Any], str]


@dataclass(frozen=True, eq=False)
class Column(Generic[Row]):
    """One column: what it is called, what it shows of a row, and how.

    A worksheet's formulas and its tests find a column by this object or by its heading,
    never by its place.

    Attributes:
        heading: for people; may name {currency}, {unit} or {mass} of the table.
        value: what it takes from a row; None leaves the cell empty.
        look: how such values are drawn.
        width: characters on a worksheet.
        key: its name in JSON and CSV; made from the heading where it is empty.
        sum: whether it is added up below, as printed.
        on: where it stands.
        said: the phrase that it makes in running text, such as "{} each".
        strong: in bold on a worksheet.
        fill: where a person fills it in on paper.
        span: columns of the worksheet's grid that it takes.
    """

    heading: str
    value: Callable[[Row], object]
    look: Look = TEXT
    width: float = 12
    key: str = ""
    sum: bool = False
    on: Places = EVERYWHERE
    said: str = "{}"
    strong: bool = False
    fill: Fill = ""
    span: int = 1

    def title(self, setting: Setting) -> str:
        """The heading with the table's currency and units filled in."""
        return setting.says(self.heading).format_map(setting.words)

    @property
    def name(self) -> str:
        """Its name for programs."""
        return self.key or self.heading.lower().replace(" ", "_")

    def text(self, row: Row, setting: Setting) -> str:
        """A row's cell for people."""
        return self.look.shown(self.value(row), setting)


@dataclass(frozen=True, slots=True)
class Table(Generic[Row]):
    """Columns over rows.

    `foot` names a last row with sums of the printed rows. `last` is a last row computed elsewhere; only its
    columns with `sum` are added up here, because rounded minutes need not add up to their rounded sum.
    """

    columns: Sequence[Column[Row]]
    rows: Sequence[Row]
    title: str = ""
    setting: Setting = field(default_factory=Setting)
    foot: str = ""
    last: Row | None = None

    def on(self, place: Place) -> list[Column[Row]]:
        """The columns shown in a place, such as the terminal or a sheet."""
        return [column for column in self.columns if place in column.on]

    def total(self, column: Column[Row]) -> Decimal:
        """The sum of a column's rounded values, so that the printed column adds up."""
        held = (column.look.held(column.value(row), self.setting) for row in self.rows)
        return sum((Decimal(str(value)) for value in held if value is not None), Decimal(0))

    def value(self, column: Column[Row], row: Row) -> object:
        """The value in a column of a row, or of the last row."""
        return self.total(column) if column.sum and row is self.last else column.value(row)

    def text(self, column: Column[Row], row: Row) -> str:
        """The text in a column of a row."""
        return column.look.shown(self.value(column, row), self.setting)

    def is_live(self, column: Column[Row]) -> bool:
        """Whether any cell of a column is a formula or may be changed in a worksheet."""
        return any(isinstance(column.value(row), Editable | Formula) for row in self.rows)


def json_rows(
    columns: Iterable[Column[Row]], rows: Iterable[Row], setting: Setting | None = None
) -> list[dict[str, object]]:
    """The rows as dictionaries for JSON, each value by its column's name."""
    setting = setting or Setting()
    shown = [column for column in columns if "json" in column.on]
    return [{column.name: column.look.plain(column.value(row), setting) for column in shown} for row in rows]


def csv_of(table: Table[Row]) -> str:
    """A table as CSV, every text kept from becoming a formula."""
    from shopquote.reading.table_files import csv_text

    columns, setting = table.on("csv"), table.setting
    cells = [
        [_csv_cell(column.look.plain(column.value(row), setting)) for column in columns] for row in table.rows
    ]
    return csv_text([column.name for column in columns], cells)


def row_text(table: Table[Row], row: Row) -> str:
    """A row as running text: the phrases of its columns, without empty ones."""
    texts = ((column, column.text(row, table.setting)) for column in table.on("text"))
    words, says = table.setting.words, table.setting.says
    return ", ".join(says(column.said).format(text, **words) for column, text in texts if text)


def _csv_cell(value: Any) -> object:
    """A value as a CSV cell; lengths in millimetres with all their digits."""
    return f"{value.mm.normalize():f}" if isinstance(value, Length) else value
