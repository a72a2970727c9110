"""Tables on worksheets, and their live formulas.

    prices = draw(sheet, Table(COLUMNS, lines), row=4)
    put_formula(sheet, prices.below, prices.place(AMOUNT), f"=SUM({prices.range(AMOUNT)})")

A formula names other columns by their objects (`Formula`, `Drawn`): no letter or number of a
column is typed anywhere. Several tables on a sheet share its grid of columns, each as wide as
the widest that stands in it.
"""

from collections.abc import Callable, Sequence, Set
from dataclasses import field
from itertools import pairwise
from typing import Any, Generic, Literal

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.frozen import dataclass
from shopquote.outputs.books.book import fit_row, put, put_across, put_first, put_formula, width_of
from shopquote.outputs.books.style import EDITABLE, HEAD, LABEL, PLAIN, WRAPPED, Style
from shopquote.outputs.looks import Look, Setting
from shopquote.outputs.table import Column, Editable, Formula, Row, Table


@dataclass(frozen=True, slots=True)
class Theme:
    """The styling of a table: cells, headings, alignment of figures, row heights in points."""

    cell: Style = WRAPPED
    head: Style = HEAD
    figures: Literal["right", "center"] = "right"
    row_height: float = 0
    head_height: float = 0


DESK = Theme()


@dataclass(frozen=True)
class Drawn(Generic[Row]):
    """A table as drawn on a sheet; gives the addresses of its cells by column and row."""

    sheet: Worksheet
    table: Table[Row]
    head: int
    places: dict[Column[Row], int]
    last_row: int

    @property
    def first(self) -> int:
        """The sheet row of the table's first row."""
        return self.head + 1

    @property
    def end(self) -> int:
        """The sheet row of the table's last row, without sums and spare rows."""
        return self.head + len(self.table.rows)

    @property
    def below(self) -> int:
        """The first free sheet row below the table."""
        return self.last_row + 1

    def place(self, column: Column[Row]) -> int:
        """The number of a column on the sheet, for charts."""
        return self.places[column]

    def left_of(self, column: Column[Row], count: int = 2) -> tuple[int, int]:
        """First and last of the `count` grid columns before a column, where the name of its sum goes."""
        return self.places[column] - count, self.places[column] - 1

    def letter(self, column: Column[Row]) -> str:
        """The letter of a column on the sheet."""
        return get_column_letter(self.places[column])

    def cell(self, column: Column[Row], index: int, *, far: bool = False) -> str:
        """The absolute address of a row's cell; `far` includes the sheet."""
        sheet = f"'{self.sheet.title}'!" if far else ""
        return f"{sheet}${self.letter(column)}${self.first + index}"

    def range(self, column: Column[Row], *, far: bool = False) -> str:
        """The absolute range of a column's rows; one row if the table is empty, to stay a valid range."""
        sheet = f"'{self.sheet.title}'!" if far else ""
        letter = self.letter(column)
        return f"{sheet}${letter}${self.first}:${letter}${max(self.first, self.end)}"

    def total(self, column: Column[Row], *, far: bool = False) -> str:
        """The absolute address of the sum below a column."""
        sheet = f"'{self.sheet.title}'!" if far else ""
        return f"{sheet}${self.letter(column)}${self.last_row}"

    def sum_where(self, column: Column[Row], wanted: Callable[[Row], bool], before: int | None = None) -> str:
        """A formula that sums a column over the wanted rows, above row `before` if given; 0 for none."""
        rows = self.table.rows[:before]
        cells = [self.cell(column, index) for index, row in enumerate(rows) if wanted(row)]
        return f"SUM({','.join(_runs(cells, self.letter(column)))})" if cells else "0"


@dataclass(frozen=True, slots=True)
class At:
    """One row of a drawn table; `at[QUANTITY]` is the address of that column's cell."""

    drawn: "Drawn[Any]"
    index: int

    def __getitem__(self, column: Column[Any]) -> str:
        return f"{self.drawn.letter(column)}{self.drawn.first + self.index}"

    def above(self, column: Column[Any]) -> str:
        """The range of a column in the rows above this one."""
        letter, first = self.drawn.letter(column), self.drawn.first
        return f"{letter}{first}:{letter}{first + self.index - 1}"


@dataclass(frozen=True, slots=True)
class Fact:
    """A name with one or more figures side by side, and their look."""

    name: str
    look: Look
    figures: tuple[object, ...]


def fact(name: str, look: Look, *figures: object) -> Fact:
    """Make a `Fact` from a name, a look and figures."""
    return Fact(name, look, figures)


def put_facts(
    sheet: Worksheet, row: int, facts: Sequence[Fact], setting: Setting, heads: Sequence[str] = ()
) -> int:
    """Write facts below each other; returns the next free row.

    `heads` are headings over the figures, one for each.
    """
    if heads:
        for place, text in enumerate(("", *heads), start=1):
            put(sheet, row, place, text, HEAD.but(across="right" if text else None))
        row += 1
    for held in facts:
        put_first(sheet, row, held.name, LABEL)
        look = held.look
        style = PLAIN.but(number=look.number(setting), across="right" if look.figure else "left")
        for place, figure in enumerate(held.figures, start=2):
            shown: Any = look.held(figure, setting)
            put(sheet, row, place, shown, style)
        row += 1
    return row


def widen(sheet: Worksheet, columns: Sequence[Column[Any]], start: int = 1) -> None:
    """Make each grid column at least as wide as the table's column asks for.

    Call it before writing text across the grid, since the widths decide the heights of wrapped rows.
    """
    for column in columns:
        if "sheet" not in column.on:
            continue
        if column.span == 1:
            letter = get_column_letter(start)
            held = sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else 0
            sheet.column_dimensions[letter].width = max(column.width, held)
        start += column.span


def draw(
    sheet: Worksheet,
    table: Table[Row],
    row: int = 1,
    *,
    start: int = 1,
    theme: Theme = DESK,
    spare: int = 0,
    strong: Callable[[Row], bool] | None = None,
    boxed: bool = True,
) -> Drawn[Row]:
    """Draw a table, headings first, starting at a row and a grid column.

    Args:
        sheet: the worksheet.
        table: the table; columns that are not on sheets are left out.
        row: where the headings go.
        start: the first column of the grid.
        theme: its dress.
        spare: empty rows below, to fill in by hand.
        strong: which rows stand in bold.
        boxed: whether cells that a person fills in or may change have lines round them.
    """
    columns = table.on("sheet")
    places, place = {}, start
    for column in columns:
        places[column] = place
        place += column.span
    last = row + len(table.rows) + spare + (1 if table.foot or table.last is not None else 0)
    drawn = Drawn(sheet, table, row, places, last)
    # A text column right after a figure column is indented, or the two would touch.
    close = {text for figure, text in pairwise(columns) if figure.look.figure and not text.look.figure}
    pen = _Pen(drawn, columns, theme, "lrtb" if boxed else "", close if theme.figures == "right" else set())
    widen(sheet, columns, start)
    pen.headings()
    for index, held in enumerate(table.rows):
        pen.row(index, held, strong is not None and strong(held))
    for index in range(spare):
        pen.spare(len(table.rows) + index)
    if table.last is not None:
        pen.row(last - drawn.first, table.last, True, "t")
    elif table.foot:
        pen.foot(last)
    return drawn


@dataclass(frozen=True)
class _Pen(Generic[Row]):
    """Writes the parts of one table."""

    drawn: Drawn[Row]
    columns: Sequence[Column[Row]]
    theme: Theme
    rule: str
    close: Set[Column[Row]]
    # Cached: a book of 10,000 rows asks for the same few styles hundreds of thousands of times.
    styles: dict[tuple[Column[Row], bool, bool], Style] = field(default_factory=dict)

    def headings(self) -> None:
        """The row of headings."""
        table, theme, row = self.drawn.table, self.theme, self.drawn.head
        for column in self.columns:
            title = column.title(table.setting)
            style = theme.head.but(across=theme.figures) if column.look.figure else theme.head
            if column in self.close:
                style = style.but(indent=1, across="left")
            self._put(row, column, title, style)
            # Or a heading of two lines would run into the row above.
            wide = self._wide(column)
            if style.wrap and len(title) * style.size > 9 * wide:
                fit_row(self.drawn.sheet, row, title, wide, style.size)
        self._height(row, theme.head_height)

    def row(self, index: int, held: Row, strong: bool, rule: str = "") -> None:
        """Write one row; `rule` replaces the theme's choice of border lines."""
        row = self.drawn.first + index
        for column in self.columns:
            value = self.drawn.table.value(column, held)
            style = self._style(column, value, strong, column.fill in ("rows", "both"))
            if rule:
                style = style.but(rule=rule)
            self._value(row, column, value, style, At(self.drawn, index))
        self._height(row, self.theme.row_height)

    def spare(self, index: int) -> None:
        """Write one empty row, to fill in by hand."""
        row = self.drawn.first + index
        for column in self.columns:
            self._put(row, column, None, self._style(column, None, False, column.fill in ("spare", "both")))
        self._height(row, self.theme.row_height)

    def foot(self, row: int) -> None:
        """Write the row of sums, as formulas where the summed cells may change."""
        table = self.drawn.table
        for number, column in enumerate(self.columns):
            value: object = table.foot if number == 0 else None
            style = self._style(column, value, True, False).but(rule="t")
            if column.sum and table.is_live(column):
                total = f"=ROUND(SUM({self.drawn.range(column)}),{_digits(style.number)})"
                self._put(row, column, None, style)
                put_formula(self.drawn.sheet, row, self.drawn.places[column], total, style)
            else:
                self._put(row, column, table.total(column) if column.sum else value, style)

    def _value(self, row: int, column: Column[Row], value: object, style: Style, at: At) -> None:
        if isinstance(value, Formula):
            self._put(row, column, None, style)
            put_formula(self.drawn.sheet, row, self.drawn.places[column], f"={value.words(at)}", style)
            return
        if isinstance(value, Editable):
            value = value.value
        held = column.look.held(value, self.drawn.table.setting)
        self._put(row, column, held, style)
        width = column.width if column.span == 1 else self._wide(column)
        # Only text that does not fit on one line makes a row taller.
        if isinstance(held, str) and column.look.figure is False and len(held) * style.size > 9 * width:
            fit_row(self.drawn.sheet, row, held, width, style.size)

    def _wide(self, column: Column[Row]) -> float:
        first = self.drawn.places[column]
        return sum(width_of(self.drawn.sheet, place) for place in range(first, first + column.span))

    def _put(self, row: int, column: Column[Row], value: Any, style: Style) -> None:
        first = self.drawn.places[column]
        if column.span == 1:
            put(self.drawn.sheet, row, first, value, style)
        else:
            put_across(self.drawn.sheet, row, first, first + column.span - 1, value, style, fit=False)

    def _height(self, row: int, least: float) -> None:
        if least:
            held = self.drawn.sheet.row_dimensions[row]
            held.height = max(least, held.height or 0)

    def _style(self, column: Column[Row], value: object, strong: bool, filled: bool) -> Style:
        bold, filled = strong or column.strong, filled or isinstance(value, Editable)
        style = self.styles.get((column, bold, filled))
        if style is None:
            theme, look = self.theme, column.look
            style = theme.cell.but(
                bold=bold,
                across=theme.figures
                if look.figure
                else "left"
                if column in self.close
                else theme.cell.across,
                fill=EDITABLE if filled else theme.cell.fill,
                rule=self.rule if filled and self.rule else theme.cell.rule,
                number=look.number(self.drawn.table.setting),
                indent=1 if column in self.close else 0,
                wrap=theme.cell.wrap and not look.figure,
            )
            self.styles[column, bold, filled] = style
        return style


def _digits(number: str) -> int:
    """The number of decimals in a number format."""
    return len(number.partition(".")[2].rstrip("#"))


def _runs(cells: Sequence[str], letter: str) -> list[str]:
    """Cell addresses of one column, with consecutive cells joined into ranges."""
    rows = [int(cell.rsplit("$", 1)[1]) for cell in cells]
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return [f"${letter}${first}:${letter}${last}" for first, last in runs]
