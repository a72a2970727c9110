"""Tables from CSV or xlsx files, and CSV text that no spreadsheet takes for formulas.

Cells come back as text: numbers as `NumberText`, dates in ISO form; formulas by their stored value. Begin at
`read_table`.
"""

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import shown
from shopquote.errors import InputError
from shopquote.reading.cells import cell_of, cell_text
from shopquote.reading.files import bytes_of, letters_of, refuse_unless_file
from shopquote.reading.workbooks import open_book, rows_of

# Bytes; a CSV file is read into memory whole.
LARGEST_FILE = 10_000_000
# tests/bench/bench_hostile.py measures time and memory of a file of so many good rows.
MOST_ROWS = 200_000
MOST_LINES = 2 * MOST_ROWS  # of a CSV file, where a quoted cell may hold line breaks
MOST_COLUMNS = 200
MOST_CELLS = 10_000  # of one row, counting empty cells behind the last filled one

# A spreadsheet takes a CSV cell that begins so for a formula. An apostrophe in front keeps it text. A text
# that begins with apostrophes before such a character gets one more, so that `unguard_text` is exact.
_WAKES_A_SHEET = re.compile(r"'*[=+\-@\t\r]")
_PLAIN_NUMBER = re.compile(r"-?\d+(\.\d+)?")
# A quoted cell begins right after a separator; an inch mark behind a figure does not.
_CELL_IN_QUOTES = re.compile(r'(?:^|(?<=[,;\t]))"(?:[^"]|"")*+"(?=[,;\t\r]|$)', re.MULTILINE)


@dataclass(frozen=True)
class TableRow:
    """One row of a file: its row number in the file, from 1, and its cells by heading."""

    number: int
    cells: Mapping[str, str]


_BOOKS = (".xlsx", ".xlsm")
LONGEST_LETTERHEAD = 40  # rows


@dataclass(frozen=True)
class FileTable:
    """A file's headings as typed, and its rows, without empty ones.

    `heading_row` is the row from which headings were searched, the first filled one.
    """

    path: Path
    headings: tuple[str, ...]
    rows: tuple[TableRow, ...]
    heading_row: int = 1


def read_table(path: Path, *, sheet: str | None = None, heading_row: int = 1) -> FileTable:
    """Read a CSV file (comma, semicolon or tab) or a sheet of a workbook.

    Its first filled row has the headings.

    Args:
        path: ends in .csv, .txt, .tsv or .xlsx.
        sheet: title of the sheet; None for the first.
        heading_row: row of the headings, where a letterhead or the like stands above them.

    Raises:
        InputError: the file does not exist, is too large or not what its ending says, or has no or doubled
            headings.
    """
    lines = _lines(path, sheet)
    below = ((number, cells) for number, cells in lines if number >= heading_row)
    return replace(_table(path, below), heading_row=heading_row)


def find_headings(
    path: Path, is_headings: Callable[[Sequence[str]], bool], *, sheet: str | None = None
) -> tuple[str | None, int | None]:
    """The first sheet and row number for which `is_headings` is true, past a cover sheet or a letterhead.

    Only the first `LONGEST_LETTERHEAD` rows of each sheet are tried. If none fits: `sheet` and None.

    Raises:
        InputError: as `read_table`.
    """
    for title in [sheet] if sheet is not None or path.suffix.lower() not in _BOOKS else _titles(path):
        for number, cells in islice(_lines(path, title), LONGEST_LETTERHEAD):
            if is_headings(cells):
                return title, number
    return sheet, None


def _titles(path: Path) -> list[str | None]:
    refuse_unless_file(path, LARGEST_FILE)
    with open_book(path) as book:
        return [page.title for page in book.worksheets]


def _lines(path: Path, sheet: str | None) -> Iterable[tuple[int, list[str]]]:
    refuse_unless_file(path, LARGEST_FILE)
    suffix = path.suffix.lower()
    if suffix in (".csv", ".txt", ".tsv"):
        return _csv_lines(path)
    if suffix in _BOOKS:
        return _sheet_lines(path, sheet)
    raise InputError(f"{path} ends in {suffix or 'nothing'!r}; expected .csv or .xlsx.")


def read_text(path: Path) -> str:
    """The text of a plain text file in any encoding that `letters_of` knows.

    Raises:
        InputError: it does not exist or is too large.
    """
    return letters_of(bytes_of(path, LARGEST_FILE))


def guard_text(text: str) -> str:
    """Text for a CSV cell, with an apostrophe before what a spreadsheet would take for a formula.

    Plain numbers are left as they are, negative ones too.

    >>> guard_text("=1+1"), guard_text("-5"), guard_text("round 12")
    ("'=1+1", '-5', 'round 12')
    """
    if _PLAIN_NUMBER.fullmatch(text):
        return text
    return "'" + text if _WAKES_A_SHEET.match(text) else text


def unguard_text(text: str) -> str:
    """The text that `guard_text` was given; its inverse.

    >>> unguard_text("'=1+1")
    '=1+1'
    """
    return text[1:] if text.startswith("'") and _WAKES_A_SHEET.match(text) else text


def csv_text(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A whole CSV file with commas and CRLF; every text is guarded (`guard_text`)."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([guard_text(heading) for heading in headings])
    for row in rows:
        writer.writerow([guard_text(shown(cell_text(value))) for value in row])
    return out.getvalue()


def _table(path: Path, lines: Iterable[tuple[int, list[str]]]) -> FileTable:
    filled = [(number, cells) for number, cells in lines if any(cell.strip() for cell in cells)]
    if not filled:
        raise InputError(f"{path} is empty; its first row must name the columns.")
    headings = _headings(path, filled[0][1])
    if len(filled) - 1 > MOST_ROWS:
        raise InputError(f"{path} has {len(filled) - 1} rows; expected at most {MOST_ROWS}. Split it.")
    for number, cells in filled[1:]:
        _refuse_strays(path, number, cells, headings)
    rows = tuple(
        TableRow(number, {name: cell for name, cell in zip(headings, cells, strict=False) if name})
        for number, cells in filled[1:]
    )
    return FileTable(path, tuple(heading for heading in headings if heading), rows)


def _headings(path: Path, cells: Sequence[str]) -> list[str]:
    headings = [str(cell).strip() for cell in cells]
    # Spreadsheets export empty columns behind the last filled one.
    while headings and not headings[-1]:
        headings.pop()
    if len(headings) > MOST_COLUMNS:
        raise InputError(f"{path} has {len(headings)} columns; expected at most {MOST_COLUMNS}.")
    folded = [heading.casefold() for heading in headings]
    for heading in headings:
        if heading and folded.count(heading.casefold()) > 1:
            raise InputError(f"{path} has more than one column {heading!r}.")
    return headings


def _refuse_strays(path: Path, number: int, cells: Sequence[str], headings: Sequence[str]) -> None:
    """Refuse a cell without a heading: an unquoted 1,450 falls into two cells, and none may be dropped."""
    for at, cell in enumerate(cells):
        if cell.strip() and (at >= len(headings) or not headings[at]):
            raise InputError(
                f"{path}, row {number}: {cell.strip()[:40]!r} stands under no heading.",
                hint="Name its column in the first row, or put a cell with commas in quotes.",
            )


def _csv_lines(path: Path) -> Iterable[tuple[int, list[str]]]:
    content = letters_of(bytes_of(path, LARGEST_FILE))
    # Such as a workbook that was renamed to .csv.
    if "\x00" in content:
        raise InputError(f"{path} is not text; expected a CSV file.")
    if content.count("\n") > MOST_LINES:
        raise InputError(f"{path} has more than {MOST_LINES:,} lines; expected at most {MOST_ROWS:,} rows.")
    delimiter = _delimiter(content)
    reader = csv.reader(io.StringIO(content, newline=""), delimiter=delimiter)
    number = 1
    try:
        for cells in reader:
            if len(cells) > MOST_CELLS:
                raise InputError(
                    f"{path}, row {number}: {len(cells):,} cells; expected at most {MOST_COLUMNS}."
                )
            yield number, [unguard_text(cell) for cell in cells]
            # The next row's first line: a quoted cell of this one may have spanned several.
            number = reader.line_num + 1
    except csv.Error as error:
        raise InputError(f"{path}, line {reader.line_num}: not a CSV row: {error}.") from error


def _delimiter(content: str) -> str:
    """The separator of the cells: of , ; and tab the one in most of the first lines.

    Ties are decided by the count in the first line. A decimal comma is in fewer lines than the semicolon that
    separates the cells, a letterhead's comma in one or two. Quoted cells are left out, as they may hold any.
    """
    first = "\n".join(content.split("\n", LONGEST_LETTERHEAD)[:LONGEST_LETTERHEAD])
    lines = _CELL_IN_QUOTES.sub("", first).split("\n")
    return max(",;\t", key=lambda mark: (sum(mark in line for line in lines), lines[0].count(mark)))


def _sheet_lines(path: Path, sheet: str | None) -> Iterable[tuple[int, list[str]]]:
    with open_book(path) as book:
        titles = [page.title for page in book.worksheets]
        if sheet is not None and sheet not in titles:
            raise InputError(f"{path} has no sheet {sheet!r}; it has {', '.join(titles)}.")
        page = book[sheet] if sheet is not None else book.worksheets[0]
        for number, cells in rows_of(page, path, most_rows=MOST_ROWS + 1, most_columns=MOST_COLUMNS):
            yield number, [cell_of(value) for value in cells]
