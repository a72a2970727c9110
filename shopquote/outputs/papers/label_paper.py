"""Labels as a PDF for ready-cut sheets, for bars on the rack and for a job's pieces, each with its code.

A4 sheets have 21 labels of 63.5 x 38.1 mm, Letter sheets 30 of 2-5/8 x 1 in: common practice, no source.
Begin at `write_label_paper`.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.label_book import LINES, Label
from shopquote.outputs.papers.scan import scan_svg
from shopquote.outputs.papers.typeset import typeset
from shopquote.reading.kinds.documents import printed_code
from shopquote.services.floor.floor_sheet import FloorSheet

# Across, down; left and upper edge, width and height of a label, from one to the next: mm.
SHEETS: dict[str, tuple[float, ...]] = {
    "A4": (3, 7, 7.2, 15.15, 63.5, 38.1, 66.04, 38.1),
    "Letter": (3, 10, 4.76, 12.7, 66.675, 25.4, 69.85, 25.4),
}
# Side of the code and space between lines in mm, size of the first line in points; the rest is 12 pt.
SIZES = {"A4": (22.0, 2.0, 18.0), "Letter": (17.0, 1.25, 13.0)}


def write_label_paper(labels: Sequence[Label], path: Path, *, paper: str = "A4", author: str = "") -> Path:
    """Write the labels of pieces on the rack.

    Raises:
        InputError: the file cannot be written.
    """
    return put_file(path, typeset("labels", label_data(labels, paper, author)))


def label_data(labels: Sequence[Label], paper: str, author: str) -> dict[str, Any]:
    """The template's data for rack labels: the same lines as in the workbook."""
    rows = [
        (printed_code(label.code, label.page), [words(label) for _, _, words in LINES]) for label in labels
    ]
    return _data("Rack labels", rows, paper, author)


def write_piece_labels(sheet: FloorSheet, folder: Path) -> Path:
    """Write a label for each part of a job: job, mark, count, and a code that opens it."""
    path = folder / safe_file_name(f"{sheet.job} piece labels", ".pdf")
    return put_file(path, typeset("labels", piece_label_data(sheet)))


def piece_label_data(sheet: FloorSheet) -> dict[str, Any]:
    """The template's data for the labels of a job's pieces."""
    rows = [
        (
            printed_code(f"{sheet.job}/{part.mark}", sheet.page),
            [
                f"{sheet.job} {part.mark}",
                f"{part.count} off",
                part.name if part.name != part.mark else "",
                f"{part.bar} {part.grade}",
                sheet.customer,
            ],
        )
        for part in sheet.parts
    ]
    return _data(f"{sheet.job} piece labels", rows, sheet.paper, sheet.shop)


def _data(title: str, rows: Sequence[tuple[str, list[str]]], paper: str, author: str) -> dict[str, Any]:
    kind = paper if paper in SHEETS else "A4"
    code, gap, head = SIZES[kind]
    return {
        "title": title,
        "shop": author,
        "paper": kind,
        "sheet": list(SHEETS[kind]),
        "code": code,
        "gap": gap,
        "head": head,
        "labels": [{"code": scan_svg(text), "lines": lines} for text, lines in rows],
    }
