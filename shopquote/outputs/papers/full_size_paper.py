"""A full-size drawing over several sheets, with marks to join them and a bar to check the printer's scale."""

from collections.abc import Sequence

from shopquote.calc.drawing.full_size import OVERLAP_MM, Tile, tiles
from shopquote.calc.drawing.model import Drawing
from shopquote.outputs.drawings.svg import svg_window
from shopquote.outputs.papers.typeset import typeset

# The area of the drawing on one sheet, mm: the paper less margins that every printer keeps, and a heading.
WINDOW_MM = {"A4": (190.0, 255.0), "Letter": (195.0, 238.0)}
CHECK_MM = {"A4": 100.0, "Letter": 101.6}


def typeset_full_size(
    drawing: Drawing, title: str, part_name: str, paper: str, told: Sequence[str] = ()
) -> bytes:
    """The PDF: a sheet a tile, each with its name, what is told of its shape, crosses on its joints and the
    check bar."""
    sheets = list(tiles(drawing, *WINDOW_MM[paper]))
    rows, columns = max(sheet.row for sheet in sheets), max(sheet.column for sheet in sheets)
    wide, tall = WINDOW_MM[paper]
    data = {
        "title": title,
        "shop": "",
        "paper": paper,
        "language": "en",
        "footer": title,
        "name": part_name,
        "told": list(told),
        "window": [wide, tall],
        "overlap": OVERLAP_MM,
        "rows": rows,
        "columns": columns,
        "check": CHECK_MM[paper],
        "check_words": "100 mm" if paper == "A4" else "4 in",
        "sheets": [_sheet(drawing, sheet) for sheet in sheets],
    }
    return typeset("full_size", data)


def _sheet(drawing: Drawing, tile: Tile) -> dict[str, str | int]:
    shown = svg_window(drawing, tile.left, tile.bottom, tile.width, tile.height, title=tile.name)
    return {"name": tile.name, "row": tile.row, "column": tile.column, "svg": shown}
