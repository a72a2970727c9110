"""What every command shows through: JSON, tables in the terminal, lists of files.

`rich` is imported only when a table is drawn. Customers' text is never read as
markup, and an error goes to stderr as plain lines.
"""

import json
import sys
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shopquote.calc.units import Length, Measure
from shopquote.errors import ShopquoteError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

Side = Literal["left", "right", "centre"]


def price_text(price: Decimal) -> str:
    """A price of a bar or of a kg with two to four decimals.

    >>> price_text(Decimal("2.72260000")), price_text(Decimal(5))
    ('2.7226', '5.00')
    """
    whole, _, places = f"{price:.4f}".partition(".")
    return f"{whole}.{places.rstrip('0').ljust(2, '0')}"


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

    return Console(markup=False, emoji=False, highlight=False, stderr=stderr)


def new_table(*columns: str | tuple[str, Side], title: str | None = None) -> "Table":
    """An empty table in the style of all our tables; add rows with `add_row(*texts)`.

    A column is its heading, or heading and side ("right" for numbers).
    """
    from rich import box
    from rich.table import Table

    table = Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
        padding=(0, 1, 0, 0),
    )
    for column in columns:
        heading, side = (column, "left") if isinstance(column, str) else column
        if side == "left":
            table.add_column(heading, overflow="fold")
        else:
            table.add_column(heading, justify="right" if side == "right" else "center", no_wrap=True)
    return table


def print_table(table: "Table") -> None:
    """Print a table on stdout."""
    console().print(table)


def print_facts(facts: Sequence[tuple[str, str]], title: str | None = None) -> None:
    """Print names and values side by side, without lines between."""
    from rich.table import Table

    table = Table(
        title=title, title_justify="left", title_style="bold", box=None, show_header=False, pad_edge=False
    )
    table.add_column(style="dim", no_wrap=True)
    table.add_column(overflow="fold")
    for name, value in facts:
        table.add_row(name, value)
    console().print(table)


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
