"""Files that no shop ever sends: traps, damage and things that are no files, for tests and benches."""

import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path

from openpyxl import Workbook
from PIL import Image

_SPACE = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
_HEAD = b'<?xml version="1.0"?>' + _SPACE + b"<sheetData>"
_TAIL = b"</sheetData></worksheet>"
SHEET, STYLES, TEXTS = "xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/sharedStrings.xml"
_FIRST = b'<row r="1"><c r="A1" t="inlineStr"><is><t>mark</t></is></c></row>'


def book_with(parts: dict[str, bytes], *, without: str = "") -> bytes:
    """A small workbook with some of its parts replaced."""
    plain, changed = io.BytesIO(), io.BytesIO()
    book = Workbook()
    book.active.append(["mark", "length", "count"])
    book.save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as new:
        names = [name for name in old.namelist() if name != without]
        for name in dict.fromkeys([*names, *parts]):
            new.writestr(name, parts.get(name) or old.read(name))
    return changed.getvalue()


def sheet(rows: bytes) -> dict[str, bytes]:
    """The one sheet of a workbook, its rows as XML."""
    return {SHEET: _HEAD + rows + _TAIL}


def texts(items: bytes) -> dict[str, bytes]:
    """The shared texts of a workbook."""
    space = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    return {TEXTS: space + items + b"</sst>"} | sheet(b'<row r="1"><c r="A1" t="s"><v>0</v></c></row>')


def _styles() -> bytes:
    space = b'<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    fonts = b"<font><sz val='9'/><name val='Sans'/></font>" * 1_000_000
    return space + b"<fonts>" + fonts + b"</fonts></styleSheet>"


def _laughs() -> bytes:
    entities = "".join(f'<!ENTITY a{i + 1} "{f"&a{i};" * 10}">' for i in range(9))
    return f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a0 "ha">{entities}]>'.encode() + _HEAD[21:] + _TAIL


# Name -> its bytes. None of them may cost more than a moment.
FILES: dict[str, Callable[[], bytes]] = {
    "row two thousand million.xlsx": lambda: book_with(
        sheet(_FIRST + b'<row r="2000000000"><c><v>1</v></c></row>')
    ),
    "empty rows.xlsx": lambda: book_with(sheet(_FIRST + b"<row/>" * 20_000_000)),
    "one row of many cells.xlsx": lambda: book_with(sheet(b"<row>" + b"<c/>" * 20_000_000 + b"</row>")),
    "styles.xlsx": lambda: book_with({STYLES: _styles()}),
    "shared texts.xlsx": lambda: book_with(texts(b"<si/>" * 7_000_000)),
    "one shared text of many runs.xlsx": lambda: book_with(texts(b"<si>" + b"<r/>" * 9_000_000 + b"</si>")),
    "entities.xlsx": lambda: book_with({SHEET: _laughs()}),
    "many parts.xlsx": lambda: book_with({f"xl/worksheets/x{i}.xml": b"<x/>" for i in range(5_000)}),
    "cells far right.xlsx": lambda: book_with(
        sheet(_FIRST + b"".join(b'<row r="%d"><c r="XFD%d" s="0"/></row>' % (i, i) for i in range(2, 5_000)))
    ),
    "column beyond the last.xlsx": lambda: book_with(sheet(b'<row r="1"><c r="ZZZZZZ1"><v>1</v></c></row>')),
    "cut sheet.xlsx": lambda: book_with({SHEET: _HEAD + _FIRST + b'<row r="2"><c r="A2"'}),
    "no sheet.xlsx": lambda: book_with({}, without=SHEET),
    "no parts.xlsx": lambda: b"PK\x05\x06" + bytes(18),
    "half a workbook.xlsx": lambda: book_with({})[:2_000],
    "no workbook.xlsx": lambda: b"mark,length,count\nA,100,1\n",
    "nothing.xlsx": lambda: b"",
    "only blank lines.csv": lambda: b"\n" * 9_999_000,
    "one line of commas.csv": lambda: b"mark" + b"," * 9_000_000,
    "no text.csv": lambda: bytes(range(256)) * 1_000,
    "an open quote.csv": lambda: b'mark,length,count\n"' + b"A" * 9_000_000,
}  # fmt: skip


def packed(*members: tuple[str, bytes, int]) -> bytes:
    """A zip; each member is a name, a block and how often the block comes."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, block, times in members:
            with archive.open(name, "w") as part:
                for _ in range(times):
                    part.write(block)
    return held.getvalue()


def pdf(*objects: bytes) -> bytes:
    """A PDF of these objects, the first its catalogue, with a sound table of where they are."""
    made, places = b"%PDF-1.4\n", []
    for number, content in enumerate(objects, 1):
        places.append(len(made))
        made += b"%d 0 obj\n%s\nendobj\n" % (number, content)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    tail = b"trailer\n<</Root 1 0 R/Size %d>>\nstartxref\n%d\n%%%%EOF" % (len(objects) + 1, len(made))
    return made + b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1) + table + tail


def wide_picture(side: int) -> bytes:
    """A picture that is square, of one colour, and of few bytes."""
    held = io.BytesIO()
    Image.new("1", (side, side)).save(held, "PNG")
    return held.getvalue()


_NOTE = b'{"schema": "0001"}'
_DRAWN = b"0\nSECTION\n2\nENTITIES\n"
_PAGES = b"<</Type/Catalog/Pages 2 0 R>>"

# Name -> which door, its bytes, what is said of it.
OTHER_FILES: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "nested objects.pdf": (
        "paper", lambda: pdf(_PAGES, b"[" * 100_000 + b"]" * 100_000), "no PDF that can be read"
    ),
    "pages in a ring.pdf": (
        "paper", lambda: pdf(_PAGES, b"<</Type/Pages/Kids[2 0 R]/Count 1>>"), "no PDF that can be read"
    ),
    "a wide scan.png": ("paper", lambda: wide_picture(8_000), "over 50 million pixels"),
    "a wide photo.png": ("photo", lambda: wide_picture(8_000), "over 50 million pixels"),
    "half a photo.png": ("photo", lambda: wide_picture(900)[:80], "no photo that can be read"),
    "many lines.dxf": ("drawing", lambda: _DRAWN + b"0\nLINE\n8\n0\n" * 300_000, "too large to be"),
    "one long polyline.dxf": (
        "drawing", lambda: _DRAWN + b"0\nLWPOLYLINE\n" + b"10\n0\n20\n1\n" * 100_000, "too large to be"
    ),
    "no text.dxf": ("drawing", lambda: bytes(1_000_000), "too large to be"),
    "nested.json": ("proof", lambda: b"[" * 1_000_000, "no proof"),
    "many figures.json": ("proof", lambda: b"[" + b"[]," * 2_000_000 + b"0]", "2,000,000 figures"),
    "zeros for a database.zip": (
        "backup", lambda: packed(("backup.json", _NOTE, 1), ("shop.db", bytes(1 << 20), 300)), "to do harm"
    ),
    "a long note.zip": (
        "backup", lambda: packed(("backup.json", b" " * (1 << 20), 30), ("shop.db", b"", 1)), "to do harm"
    ),
    "many certificates.zip": (
        "backup",
        lambda: packed(
            ("backup.json", _NOTE, 1),
            ("shop.db", b"-", 1),
            *((f"certificates/{i}", b"", 0) for i in range(5_000)),
        ),
        "holds no database",
    ),
    "a long description.zip": (
        "export", lambda: packed(("description.json", b" " * (1 << 20), 30)), "to do harm"
    ),
    "a nested description.zip": (
        "export", lambda: packed(("description.json", b"[" * 1_000_000, 1)), "not an export"
    ),
}  # fmt: skip


def write_file(name: str, folder: Path) -> Path:
    """One of `FILES` or `OTHER_FILES` in a folder."""
    path = folder / name
    path.write_bytes(FILES[name]() if name in FILES else OTHER_FILES[name][1]())
    return path


def make_pipe(folder: Path) -> Path:
    """A pipe that nobody writes to: reading it never ends."""
    path = folder / "pipe.xlsx"
    os.mkfifo(path)
    return path
