"""The one opener of workbooks: what a trap or a damaged file would cost is looked at before it is paid.

A workbook is a packed folder of XML parts. Each part's size is known before it is unpacked; sheets and
shared texts are then looked through as bytes, at the speed of unpacking, for rows and texts beyond any
use. Begin at `open_book` and `rows_of`.
"""

import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from shopquote.errors import InputError
from shopquote.reading.files import refuse_unless_file

# Bytes, packed: a file made to do harm unpacks to a thousand times as much.
LARGEST_BOOK = 10_000_000
# What parts may unpack to; styles become a hundred times their size in memory, texts and rows do not.
LARGEST_STYLES = 2_000_000
LARGEST_TEXTS = 40_000_000
LARGEST_SHEET = 120_000_000
LARGEST_PART = 8_000_000
LARGEST_WHOLE = 240_000_000
MOST_PARTS = 4_000
MOST_TEXTS = 300_000
# Marks of one row or one text: the reader keeps them all until it ends.
MOST_IN_ONE = 100_000
MOST_WIDE_ROWS = 100  # with nothing but formats further right

# A part is looked through before it is read, so it must not be in memory whole.
_CHUNK = 1 << 20
_ROW_ENDS = re.compile(rb"</(?:\w+:)?row\s*>|<(?:\w+:)?row\b[^<>]*/>")
_TEXT_ENDS = re.compile(rb"</(?:\w+:)?si\s*>|<(?:\w+:)?si\s*/>")
SAVE_AGAIN = "Open it in a spreadsheet program and save it again as .xlsx."


@contextmanager
def open_book(path: Path, *, formulas: bool = False) -> Iterator[Any]:
    """A workbook, read as it is asked for; with `formulas` a cell gives its formula, else its value.

    Raises:
        InputError: no file, no workbook, damaged (also when that shows only while it is read), or a trap.
    """
    from openpyxl import load_workbook

    refuse_unless_file(path, LARGEST_BOOK)
    try:
        with path.open("rb") as file, warnings.catch_warnings():
            with zipfile.ZipFile(file) as packed:
                _refuse_traps(path, packed)
            # Of what a spreadsheet program added and the reader leaves out: no concern of ours.
            warnings.simplefilter("ignore")
            book = load_workbook(file, read_only=True, data_only=not formulas, keep_links=False)
            try:
                if not book.worksheets:
                    raise InputError(f"{path} has no sheet with cells.", hint=SAVE_AGAIN)
                yield book
            finally:
                book.close()
    except (InputError, MemoryError, GeneratorExit):
        raise
    except Exception as error:
        # A damaged file makes the zip, XML and workbook readers raise nearly anything.
        raise InputError(f"{path}: this is not a workbook that can be read.", hint=SAVE_AGAIN) from error


def rows_of(
    sheet: Any, path: Path, *, most_rows: int, most_columns: int, values_only: bool = True
) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """The rows of a sheet that hold something, each with its number, cut to the columns that are read.

    Raises:
        InputError: a value further right, or more rows than are read.
    """
    wide = 0
    blank: object = None
    sheet.reset_dimensions()  # what a file says of its own size may leave out rows that it holds
    for number, cells in enumerate(sheet.iter_rows(min_row=1, values_only=values_only), start=1):
        if number > most_rows:
            raise InputError(f"{path}: {sheet.title} has more than {most_rows:,} rows. Split it.")
        if cells is blank:
            continue
        if len(cells) > most_columns:
            wide += 1
            if wide > MOST_WIDE_ROWS or any(not _is_empty(cell) for cell in cells[most_columns:]):
                raise InputError(
                    f"{path}: {sheet.title}, row {number}: a value stands beyond column {most_columns}."
                )
            cells = cells[:most_columns]
        if all(_is_empty(cell) for cell in cells):
            blank = cells  # the reader gives the very same row again for those that are not in the file
            continue
        yield number, cells


def _is_empty(cell: Any) -> bool:
    return getattr(cell, "value", cell) is None


def _refuse_traps(path: Path, packed: zipfile.ZipFile) -> None:
    parts = packed.infolist()
    whole = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or whole > LARGEST_WHOLE:
        raise _too_large(path, f"{len(parts):,} parts of {whole // 1_000_000} MB unpacked")
    for part in parts:
        name = part.filename.lower()
        if not name.endswith((".xml", ".rels")):
            continue
        if "/worksheets/" in name and name.endswith(".xml"):
            _refuse_part(path, part, LARGEST_SHEET)
            with packed.open(part) as content:
                _look_through(path, part.filename, content, _ROW_ENDS, None)
        elif name.endswith("sharedstrings.xml"):
            _refuse_part(path, part, LARGEST_TEXTS)
            with packed.open(part) as content:
                _look_through(path, part.filename, content, _TEXT_ENDS, MOST_TEXTS)
        else:
            _refuse_part(path, part, LARGEST_STYLES if name.endswith("styles.xml") else LARGEST_PART)
            with packed.open(part) as content:
                if b"<!" in content.read(LARGEST_PART):
                    raise _too_large(path, f"{part.filename} with entities of its own")


def _refuse_part(path: Path, part: zipfile.ZipInfo, most: int) -> None:
    if part.file_size > most:
        raise _too_large(
            path, f"{part.filename} of {part.file_size / 1_000_000:.1f} MB, at most {most // 1_000_000}"
        )


def _look_through(
    path: Path, name: str, content: IO[bytes], ends: re.Pattern[bytes], most: int | None
) -> None:
    """Refuse a part in which one row or text has more marks than any real one, or which has too many."""
    count = open_marks = 0
    kept = b""
    while chunk := content.read(_CHUNK):
        # A mark that is cut in two by the end of a chunk is looked at with the next one.
        cut = chunk.rfind(b"<")
        data, kept = (kept + chunk[:cut], chunk[cut:]) if cut > 0 else (kept + chunk, b"")
        if b"<!" in data:
            raise _too_large(path, f"{name} with entities of its own")
        last = 0
        for end in ends.finditer(data):
            count += 1
            last = end.end()
        open_marks = data.count(b"<", last) + (0 if last else open_marks)
        if open_marks > MOST_IN_ONE or len(kept) > 4 * _CHUNK:
            raise _too_large(path, f"{name} with a row of over {MOST_IN_ONE:,} cells")
        if most is not None and count > most:
            raise _too_large(path, f"{name} with over {most:,} texts")


def _too_large(path: Path, what: str) -> InputError:
    return InputError(
        f"{path} is a workbook too large to be read: {what}.", hint="Save only the sheet that is meant."
    )
