"""The sheet of a stocktake as a PDF: what should lie where, and room for what was found, by whom and when."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from shopquote.files import put_file
from shopquote.outputs.papers.typeset import typeset

# Filled in by hand; bars that are not listed go into the empty rows.
_FILLED = ("found", "note")
_LEFT_OUT = ("count", "cost")
_EMPTY_ROWS = 6


def write_count_paper(
    names: Sequence[str],
    rows: Sequence[Sequence[object]],
    path: Path,
    *,
    day: date,
    place: str | None = None,
    shop: str = "",
    paper: str = "A4",
) -> Path:
    """Write the sheet in the order of the places; `names` are the columns of the workbook.

    Raises:
        InputError: the file cannot be written.
    """
    shown = [at for at, name in enumerate(names) if name not in _LEFT_OUT]
    cells = [["" if row[at] is None else str(row[at]) for at in shown] for row in rows]
    title = "Rack count" + (f", {place}" if place else "")
    data = {
        "title": title,
        "shop": shop,
        "paper": paper,
        "language": "en",
        "footer": f"{shop} · {title} · {day.isoformat()}",
        "day": day.isoformat(),
        "told": "Found: the length, 0 when it is not there, empty when not looked for. "
        "Bars not listed go below.",
        "filled": _FILLED,
        "rows": {
            "head": [names[at] for at in shown],
            "rows": [*cells, *(["\u00a0"] * len(shown) for _ in range(_EMPTY_ROWS))],
        },
    }
    return put_file(path, typeset("count", data))
