"""A table as a paper's template takes it: headings and rows of texts."""

from collections.abc import Sequence

from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Column, Editable, Row

PaperTable = dict[str, list[str] | list[list[str]]]


def paper_table(columns: Sequence[Column[Row]], rows: Sequence[Row], setting: Setting) -> PaperTable:
    """Headings and cells of a worksheet's columns; cells to be filled in by hand stay empty."""
    shown = [column for column in columns if "sheet" in column.on]
    return {
        "head": [column.title(setting) for column in shown],
        "align": ["right" if column.look.figure else "left" for column in shown],
        "rows": [[_cell(column, row, setting) for column in shown] for row in rows],
    }


def _cell(column: Column[Row], row: Row, setting: Setting) -> str:
    return "" if isinstance(column.value(row), Editable) else column.text(row, setting)
