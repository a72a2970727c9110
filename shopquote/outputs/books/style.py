"""How a cell of our workbooks looks: fonts, colours, lines, number formats."""

from dataclasses import replace
from typing import Literal

from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

from shopquote.calc.frozen import dataclass

INK = "1F2A30"
QUIET = "5E6B70"
ACCENT = "7A3B12"
SHADE = "F1ECE4"
EDITABLE = "FFF8DC"


@dataclass(frozen=True, slots=True)
class Style:
    """How a cell looks. `rule` has the sides with a thin border (t, b, l, r); `indent` is in characters."""

    bold: bool = False
    italic: bool = False
    size: float = 10
    colour: str = INK
    fill: str | None = None
    across: Literal["left", "right", "center"] | None = None
    down: Literal["top", "center", "bottom"] = "top"
    wrap: bool = False
    rule: str = ""
    indent: int = 0
    number: str = "General"

    def but(self, **changes: object) -> "Style":
        """A copy of the style with some fields changed."""
        return replace(self, **changes)  # type: ignore[arg-type]


PLAIN = Style()
WRAPPED = Style(wrap=True)
TITLE = Style(bold=True, size=18, colour=ACCENT)
HEADING = Style(bold=True, size=12, colour=ACCENT)
LABEL = Style(colour=QUIET, size=9)
NOTE = Style(colour=QUIET, size=9, wrap=True)
HEAD = Style(bold=True, size=9, fill=SHADE, rule="b", wrap=True, down="center")
MONEY = Style(number="#,##0.00", across="right")
DAY = Style(number="yyyy-mm-dd", across="left")
CAUTION = Style(bold=True, size=9, wrap=True, colour="8A1C1C")


def dress(cell: Cell, style: Style) -> None:
    """Give a cell its style."""
    cell.font = Font(name="Arial", size=style.size, bold=style.bold, italic=style.italic, color=style.colour)
    cell.alignment = Alignment(
        horizontal=style.across, vertical=style.down, wrap_text=style.wrap, indent=style.indent
    )
    if style.fill is not None:
        cell.fill = PatternFill("solid", fgColor=style.fill)
    if style.rule:
        line, none = Side(style="thin", color="B8AE9E"), Side()
        left, right, top, bottom = (line if letter in style.rule else none for letter in "lrtb")
        cell.border = Border(left=left, right=right, top=top, bottom=bottom)
    cell.number_format = style.number
