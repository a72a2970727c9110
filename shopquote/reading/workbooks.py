"""The one opener of workbooks: oversized and damaged files are refused before they take time and memory.

A workbook is a zip of XML parts. Each part's size is known before it is unpacked; sheets and shared strings
are then scanned as bytes, at the speed of unpacking, for absurdly long rows and texts, and for formulas
without a result. Begin at `open_book` and `rows_of`.
"""

import re
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import IO, Any
from unicodedata import category

from shopquote.calc.numbers import unmistakable
from shopquote.errors import InputError
from shopquote.reading.cells import digits_of
from shopquote.reading.files import refuse_unless_file

# Bytes of the packed file; a zip bomb unpacks to a thousand times as much.
LARGEST_BOOK = 10_000_000
# Bytes that parts may unpack to. Styles take a hundred times their size in memory, texts and rows do not.
LARGEST_STYLES = 2_000_000
LARGEST_TEXTS = 40_000_000
LARGEST_SHEET = 120_000_000
LARGEST_PART = 8_000_000
LARGEST_WHOLE = 240_000_000
MOST_PARTS = 4_000
MOST_TEXTS = 300_000
# XML tags of one row or one text: openpyxl keeps them in memory until the row or text ends.
MOST_IN_ONE = 100_000
MOST_WIDE_ROWS = 100  # rows that have only formats, no values, beyond the columns read

# Bytes scanned at a time, so that a part is never in memory whole.
_CHUNK = 1 << 20
_ROW_ENDS = re.compile(rb"</(?:\w+:)?row\s*>|<(?:\w+:)?row\b[^<>]*/>")
_TEXT_ENDS = re.compile(rb"</(?:\w+:)?si\s*>|<(?:\w+:)?si\s*/>")
# A cell of a formula whose result was never stored. A formula that gives an empty text has t="str".
_UNWORKED = re.compile(
    rb'<(?:\w+:)?c(?:\s+(?!t=)[\w:]+="[^"<>]*")*\s*>\s*<(?:\w+:)?f\b(?:[^<>]*/>|[^<>]*>[^<]*</(?:\w+:)?f>)'
    rb"\s*(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v></(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_CELL = re.compile(rb'\sr="([A-Z]{1,3}\d+)"')

# A number format's first section, for numbers above 0, in pieces: texts in quotes or behind \, currencies
# such as [$€-407], other brackets, spacing, digits, and single characters.
_FORMAT_PIECE = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[\$(?P<currency>[^\]-]*)[^\]]*\]|\[[^\]]*\]|[_*].'
    r"|(?P<digits>[0#?][0#?.,]*)|(?P<end>;)|(?P<single>.)",
    re.DOTALL,
)
# The built-in formats of amounts, as a spreadsheet program writes them out: each computer shows them with the
# sign of its own country (ECMA-376, 18.8.30).
_OF_THE_COMPUTER = re.compile(r'(?:_\()?"\$"(?:\* )?#,##0(?:\.00)?_\)')
# What an amount, a length or a time bears beside its digits; other words there are only for the eye.
_UNIT_SHOWN = re.compile(r"mm|cm|m|in|inch|ft|min|h|['\"′″]", re.ASCII)
SAVE_AGAIN = "Open it in a spreadsheet program and save it again as .xlsx."


@contextmanager
def open_book(path: Path, *, formulas: bool = False) -> Iterator[Any]:
    """A workbook opened for reading row by row.

    With `formulas` a cell gives its formula, else its stored value.

    Raises:
        InputError: no file, no workbook, too large, or damaged, which may show only while it is read.
    """
    from openpyxl import load_workbook

    refuse_unless_file(path, LARGEST_BOOK)
    try:
        with path.open("rb") as file, warnings.catch_warnings():
            with zipfile.ZipFile(file) as packed:
                _refuse_unusable(path, packed, formulas)
            # openpyxl warns of every extension of a spreadsheet program that it does not read.
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
        # On damaged files the zip, XML and workbook readers raise almost any exception.
        raise InputError(f"{path}: this is not a workbook that can be read.", hint=SAVE_AGAIN) from error


def shown_value(cell: Any) -> object:
    """A cell's value; a number shown with a sign or unit is a text with it: 0.2 shown as 20% is "20%"."""
    value = cell.value
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    before, behind, hundredfold = _beside(cell.number_format or "")
    if not before and not behind:
        return value
    number = Decimal(digits_of(value)) * (100 if hundredfold else 1)
    return before + unmistakable(digits_of(number.normalize())) + behind


@lru_cache(maxsize=256)
def _beside(number_format: str) -> tuple[str, str, bool]:
    """What a format shows before and behind a number, and whether it shows a hundredfold, in per cent.

    >>> _beside('[$€-407] #,##0.00'), _beside('0.0%'), _beside('0.0" mm"'), _beside('0" PCS"')
    (('€', '', False), ('', '%', True), ('', 'mm', False), ('', '', False))
    """
    if _OF_THE_COMPUTER.match(number_format):
        return "", "", False
    before = behind = ""
    reached = hundredfold = False
    for piece in _FORMAT_PIECE.finditer(number_format):
        if piece["end"]:
            break
        if piece["digits"]:
            reached, behind = True, ""
        hundredfold |= piece["single"] == "%"
        words = (piece["quoted"] or piece["escaped"] or piece["currency"] or piece["single"] or "").strip()
        words = words.partition("/")[0].strip()  # an amount by the kilogram is one as well
        if not (words == "%" or piece["currency"] or _is_unit(words)):
            continue
        before, behind = (before, behind + words) if reached else (before + words, behind)
    return before, behind, hundredfold


def _is_unit(words: str) -> bool:
    """Whether words beside a number say in what it is: a unit, or a currency's sign or code."""
    if _UNIT_SHOWN.fullmatch(words) or any(category(letter) == "Sc" for letter in words):  # currency symbols
        return True
    from babel.numbers import is_currency

    return len(words) == 3 and is_currency(words)


def rows_of(
    sheet: Any,
    path: Path,
    *,
    most_rows: int,
    most_columns: int,
    value_of: Callable[[Any], object] = shown_value,
) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """The rows of a sheet that are not empty, each with its row number, cut to `most_columns`.

    `value_of` gives a cell's value.

    Raises:
        InputError: a value further right, or more than `most_rows` rows.
    """
    wide = 0
    blank: object = None
    sheet.reset_dimensions()  # the size that a file declares may leave out rows that it holds
    for number, cells in enumerate(sheet.iter_rows(min_row=1), start=1):
        if number > most_rows:
            raise InputError(f"{path}: {sheet.title} has more than {most_rows:,} rows. Split it.")
        if cells is blank:
            continue
        if len(cells) > most_columns:
            wide += 1
            if wide > MOST_WIDE_ROWS or any(cell.value is not None for cell in cells[most_columns:]):
                raise InputError(
                    f"{path}: {sheet.title}, row {number}: a value stands beyond column {most_columns}."
                )
            cells = cells[:most_columns]
        if all(cell.value is None for cell in cells):
            blank = cells  # openpyxl yields one shared tuple for all rows that are not in the file
            continue
        yield number, tuple(map(value_of, cells))


def _refuse_unusable(path: Path, packed: zipfile.ZipFile, formulas: bool) -> None:
    """Refuse zip bombs and, unless `formulas` are read as such, formulas without a result."""
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
                chunks = _chunks(content)
                _look_through(
                    path, part.filename, chunks if formulas else _worked_out(path, chunks), _ROW_ENDS, None
                )
        elif name.endswith("sharedstrings.xml"):
            _refuse_part(path, part, LARGEST_TEXTS)
            with packed.open(part) as content:
                _look_through(path, part.filename, _chunks(content), _TEXT_ENDS, MOST_TEXTS)
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


def _chunks(content: IO[bytes]) -> Iterator[bytes]:
    while chunk := content.read(_CHUNK):
        yield chunk


def _worked_out(path: Path, chunks: Iterable[bytes]) -> Iterator[bytes]:
    """The same chunks; a formula without a result is refused, as its cell would be read as empty."""
    kept = b""
    for chunk in chunks:
        held = kept + chunk
        if (b"<f" in held or b":f" in held) and (found := _UNWORKED.search(held)):
            place = _CELL.search(found[0])
            where = f"cell {place[1].decode()}" if place else "a cell"
            raise InputError(f"{path}: the formula in {where} was never worked out.", hint=SAVE_AGAIN)
        kept = held[max(held.rfind(b"<c "), 0) :][-_CHUNK:]
        yield chunk


def _look_through(
    path: Path, name: str, chunks: Iterable[bytes], ends: re.Pattern[bytes], most: int | None
) -> None:
    """Refuse a part in which one row or text has more than `MOST_IN_ONE` tags, or with over `most` ends.

    `ends` matches the end of a row or text.
    """
    count = open_marks = 0
    kept = b""
    for chunk in chunks:
        # A tag that the end of a chunk cuts in two is kept for the next chunk.
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
