"""What every command shows through: JSON, tables in the terminal, lists of files.

`rich` is imported only when a table is drawn. Customers' text is never read as
markup, and an error goes to stderr as plain lines.
"""

import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopquote.calc.numbers import shown
from shopquote.calc.units import Length, Measure
from shopquote.errors import ShopquoteError
from shopquote.outputs.table import Column, Row, Table

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as RichTable


def json_text(value: object) -> str:
    """JSON of plain values; money as text, lengths as millimetres, dates in ISO form.

    Characters outside ASCII are escaped, so that any terminal or pipe can carry it.

    Raises:
        TypeError: a value has no form in JSON.
        ValueError: a number is infinite or not a number.

    >>> print(json_text({"price": Decimal("0.40"), "length": Length.from_mm("33.5")}))
    {
      "price": "0.40",
      "length": 33.5
    }
    """
    return json.dumps(value, indent=2, default=_plain, allow_nan=False)


def print_json(value: object) -> None:
    """Print a value as JSON on stdout; see `json_text`."""
    print(json_text(value))


def print_error(error: ShopquoteError) -> None:
    """Say on stderr what is wrong and what to do."""
    print(f"shopquote: {error}", file=sys.stderr)


def print_files(paths: Iterable[Path]) -> None:
    """One line for each file written, never wrapped, so that it can be copied."""
    for path in paths:
        print(f"Wrote {path}")


def console(*, stderr: bool = False) -> "Console":
    """A terminal that shows text exactly as it is: no markup, no emoji codes."""
    from rich.console import Console
    from rich.segment import Segment

    class Showing(Console):
        """Draws its own lines and colours; what a text would have the terminal do is written out."""

        def render(self, *given: Any, **named: Any) -> Iterator[Segment]:
            for segment in super().render(*given, **named):
                yield segment if segment.control else Segment(shown(segment.text), segment.style)

    stream = sys.stderr if stderr else sys.stdout
    # Past the stream that shows escapes, for these are our own.
    return Showing(file=getattr(stream, "obeying", stream), markup=False, emoji=False, highlight=False)


def print_table(table: Table[Row]) -> None:
    """Print a table on stdout; nothing where it has no rows.

    A figure is never cut short: where the terminal is too narrow for that, each row becomes a list of
    names and values.
    """
    rows = [*table.rows, *([] if table.last is None else [table.last])]
    if not rows:
        return
    columns, setting = table.on("terminal"), table.setting
    # Written out before widths are taken: an escape takes more room than it seems to.
    cells = [[shown(table.text(column, row)) for column in columns] for row in rows]
    if table.foot:
        cells.append(_foot(table, columns))
    heads = [column.title(setting) for column in columns]
    figures = [column.look.figure for column in columns]
    screen = console()
    if table.title:
        # Not in the table itself, which may be narrower.
        screen.print(table.title, style="bold")
    widths = fitting_widths(figures, heads, cells, screen.width)
    if widths is None:
        _print_rows(heads, cells)
        return
    ending = 1 if table.foot or table.last is not None else 0
    screen.print(_rich_table(heads, figures, widths, cells, len(cells) - ending))


def _print_rows(heads: Sequence[str], cells: Sequence[Sequence[str]]) -> None:
    """Each row as names and values, a blank line behind it."""
    facts = [[(head, text) for head, text in zip(heads, texts, strict=True) if text] for texts in cells]
    # All in one: laying out each row by itself takes nine times as long.
    print_facts([fact for row in facts for fact in (*row, ("", ""))])


def _foot(table: Table[Row], columns: Sequence[Column[Row]]) -> list[str]:
    texts = [f"{table.total(column):f}" if column.sum else "" for column in columns]
    return [table.foot, *texts[1:]]


def _rich_table(
    heads: Sequence[str],
    figures: Sequence[bool],
    widths: Sequence[int],
    cells: Sequence[Sequence[str]],
    plain: int,
) -> "RichTable":
    """The first `plain` rows as they are, the others in bold."""
    from rich import box
    from rich.table import Table as RichTable

    drawn = RichTable(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for head, figure, width in zip(heads, figures, widths, strict=True):
        drawn.add_column(head, justify="right" if figure else "left", overflow="fold", width=width)
    for number, texts in enumerate(cells):
        drawn.add_row(*texts, style="bold" if number >= plain else None)
    return drawn


BETWEEN_COLUMNS = 2
WIDEST_WORD = 26


def fitting_widths(
    figures: Sequence[bool], heads: Sequence[str], rows: Sequence[Sequence[str]], room: int
) -> list[int] | None:
    """Width of each column so that all of them fit, the widest made narrower first; None: they cannot.

    Text is broken between words only; a figure never, though its heading may be.
    """
    widths, least = [], []
    for position, (figure, head) in enumerate(zip(figures, heads, strict=True)):
        texts = [row[position] for row in rows]
        words = head.split() + [word for text in texts for word in ([text] if figure else text.split())]
        widths.append(max((len(line) for text in (head, *texts) for line in text.split("\n")), default=0))
        least.append(min(WIDEST_WORD, max((len(word) for word in words), default=0)))
    room -= BETWEEN_COLUMNS * (len(heads) - 1)
    while sum(widths) > room:
        shrinking = [place for place in range(len(widths)) if widths[place] > least[place]]
        if not shrinking:
            return None
        widths[max(shrinking, key=lambda place: widths[place])] -= 1
    return widths


def print_facts(facts: Sequence[tuple[str, str]], title: str | None = None) -> None:
    """Print names and values side by side, without lines between."""
    from rich.cells import cell_len, set_cell_size
    from rich.text import Text

    screen = console()
    if title:
        screen.print(title, style="bold")
    named = [(shown(name), shown(value)) for name, value in facts]
    width = max((cell_len(name) for name, _ in named), default=0)
    room = max(screen.width - width - 1, 1)
    lines = []
    for name, value in named:
        for line in value.split("\n"):
            short = cell_len(line) <= room
            parts = (
                [line] if short else [part.plain for part in Text(line).wrap(screen, room, overflow="fold")]
            )
            for part in parts:
                lines.append(Text.assemble((set_cell_size(name, width), "dim"), " ", part.rstrip()))
                name = ""
    # A line is never wrapped again, and ends where its words end.
    screen.print(Text("\n").join(lines), soft_wrap=True)


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise ValueError(f"{value} has no form in JSON")
        return f"{value:f}"
    if isinstance(value, Measure):
        value = value.length
    if isinstance(value, Length):
        mm = value.mm
        return int(mm) if mm == mm.to_integral_value() else float(mm)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no form in JSON")
