"""The output of every command: JSON, tables in the terminal, lists of files.

Tables are laid out here; `rich` is imported only for a terminal's colours, not for a file or a pipe.
Text is never read as markup, and errors go to stderr as plain lines.
"""

import json
import os
import re
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

# A line as texts side by side, each with its style: "bold", "dim" or none.
_Line = list[tuple[str, str]]
# A word with the blanks around it.
_WORD = re.compile(r"\s*\S+\s*")
_USUAL_WIDTH = 80


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
    """Print on stderr what is wrong and what to do."""
    print(f"shopquote: {error}", file=sys.stderr)


def print_files(paths: Iterable[Path]) -> None:
    """Print a line for each file written, never wrapped, so that it can be copied."""
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
    # Written past `ShowingStream`, since these escapes are our own.
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
    # Made visible before widths are measured, since a shown escape is wider than the character.
    cells = [[shown(table.text(column, row)) for column in columns] for row in rows]
    if table.foot:
        cells.append(_foot(table, columns))
    heads = [column.title(setting) for column in columns]
    figures = [column.look.figure for column in columns]
    room = _screen_width()
    lines = _title(table.title, room)
    widths = fitting_widths(figures, heads, cells, room)
    if widths is None:
        if lines:
            _print_lines(lines)
        _print_rows(heads, cells)
        return
    ending = 1 if table.foot or table.last is not None else 0
    _print_lines([*lines, *_table_lines(heads, figures, widths, cells, len(cells) - ending)])


def _table_lines(
    heads: Sequence[str],
    figures: Sequence[bool],
    widths: Sequence[int],
    cells: Sequence[Sequence[str]],
    plain: int,
) -> Iterator[_Line]:
    """Headings over a rule, the first `plain` rows in normal type, the rest in bold."""
    for line in _row_lines([*map(shown, heads)], figures, widths, head=True):
        yield [(line, "bold")]
    rule = "─" if _encoding().startswith("utf") else "-"
    yield [(rule * (sum(widths) + BETWEEN_COLUMNS * (len(widths) - 1)), "")]
    for number, texts in enumerate(cells):
        look = "bold" if number >= plain else ""
        for line in _row_lines(texts, figures, widths):
            yield [(line, look)]


def _print_rows(heads: Sequence[str], cells: Sequence[Sequence[str]]) -> None:
    """Print each row as names and values, with a blank line after it."""
    facts = [[(head, text) for head, text in zip(heads, texts, strict=True) if text] for texts in cells]
    print_facts([fact for row in facts for fact in (*row, ("", ""))])


def _foot(table: Table[Row], columns: Sequence[Column[Row]]) -> list[str]:
    texts = [f"{table.total(column):f}" if column.sum else "" for column in columns]
    return [table.foot, *texts[1:]]


def _row_lines(
    texts: Sequence[str], figures: Sequence[bool], widths: Sequence[int], *, head: bool = False
) -> list[str]:
    """The lines of one row: figures to the right, texts to the left; headings aligned at the bottom."""
    from rich.cells import cell_len, set_cell_size

    columns = []
    for text, figure, width in zip(texts, figures, widths, strict=True):
        lines = folded(text, width)
        if figure:
            lines = [" " * (width - cell_len(line.rstrip())) + line.rstrip() for line in lines]
        columns.append([set_cell_size(line, width) for line in lines])
    tallest = max(map(len, columns))
    for lines, width in zip(columns, widths, strict=True):
        at = 0 if head else len(lines)
        lines[at:at] = [" " * width] * (tallest - len(lines))
    return [(" " * BETWEEN_COLUMNS).join(parts) for parts in zip(*columns, strict=True)]


def folded(text: str, width: int) -> list[str]:
    """A text broken into lines of `width` cells: between words, and within a word longer than a line.

    >>> folded("a bar of 12 mm, bent-on-the-bench", 10)
    ['a bar of ', '12 mm, ', 'bent-on-th', 'e-bench']
    """
    from rich.cells import cell_len, chop_cells

    lines: list[str] = []
    for whole in text.split("\n"):
        whole = whole.expandtabs()
        line = ""
        # What fits as it is needs no look at its words.
        for word in [whole] if cell_len(whole) <= width else _WORD.findall(whole):
            length = cell_len(word.rstrip())
            if length <= width - cell_len(line):
                line += word
                continue
            *full, rest = chop_cells(word, width) if length > width else [word]
            lines += [line, *full] if line else full
            line = rest
        lines.append(line)
    return lines


def _title(title: str | None, room: int) -> list[_Line]:
    return [[(line.rstrip(), "bold")] for line in folded(shown(title), room)] if title else []


def _screen_width() -> int:
    """Width in cells: COLUMNS if set, else that of the connected terminal, else 80."""
    told = os.environ.get("COLUMNS", "")
    if told.isdecimal() and int(told):
        return int(told)
    for stream in range(3):
        try:
            return os.get_terminal_size(stream).columns or _USUAL_WIDTH
        except (OSError, ValueError):
            continue
    return _USUAL_WIDTH


def _encoding() -> str:
    return (getattr(sys.stdout, "encoding", None) or "utf-8").lower()


def _print_lines(lines: Sequence[_Line]) -> None:
    """Print laid-out lines, with their styles on a terminal."""
    if not (sys.stdout.isatty() or os.environ.get("FORCE_COLOR")):
        print("\n".join("".join(text for text, _ in line) for line in lines))
        return
    from rich.text import Text

    console().print(Text("\n").join(Text.assemble(*line) for line in lines), soft_wrap=True)


# As rich draws a table without lines.
BETWEEN_COLUMNS = 2
# A name without a blank may be wider than the terminal: break the name rather than the table.
WIDEST_WORD = 26


def fitting_widths(
    figures: Sequence[bool], heads: Sequence[str], rows: Sequence[Sequence[str]], room: int
) -> list[int] | None:
    """The width of each column so that the table fits, narrowing the widest first; None if it cannot.

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
    """Print names and values side by side, without rules."""
    from rich.cells import cell_len, set_cell_size

    named = [(shown(name), shown(value)) for name, value in facts]
    width = max((cell_len(name) for name, _ in named), default=0)
    whole = _screen_width()
    lines = _title(title, whole)
    for name, value in named:
        for part in folded(value, max(whole - width - 1, 1)):
            lines.append([(set_cell_size(name, width), "dim"), (f" {part.rstrip()}", "")])
            name = ""
    _print_lines(lines)


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
