"""Workbooks on disk, and printed as PDF."""

import shutil
import subprocess
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from xml.sax.saxutils import escape

from openpyxl.cell.cell import Cell

from shopquote.errors import CannotMakeError
from shopquote.files import put_file
from shopquote.outputs.books.book import Book, make_text


def save_book(book: Book, path: Path) -> Path:
    """Write a workbook: the file is whole or not there.

    Raises:
        InputError: what is there may not be written over, or the folder cannot be written.
    """
    _quieten(book)
    packed = BytesIO()
    book.save(packed)
    return put_file(path, packed.getvalue())


def pdf_of(path: Path, locale: str = "", seconds: float = 120) -> Path:
    """Print a workbook as PDF beside itself, by LibreOffice.

    Args:
        path: the workbook.
        locale: whose separators its numbers have, such as "de_DE"; empty for LibreOffice's own.
        seconds: how long it may take.

    Raises:
        CannotMakeError: LibreOffice is not installed or did not print it.
    """
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        raise CannotMakeError(
            "A PDF needs LibreOffice, which is not installed.",
            hint="Install it, or print the workbook as PDF from your own spreadsheet program.",
        )
    pdf = path.with_suffix(".pdf")
    # A profile and a folder of its own: it may run beside an open one, and the file comes whole.
    with TemporaryDirectory(dir=path.parent, prefix=".pdf") as folder:
        if locale:
            _set_locale(Path(folder) / "profile", locale)
        command = [office, f"-env:UserInstallation={Path(folder).absolute().as_uri()}/profile", "--headless",
                   "--convert-to", "pdf", "--outdir", folder, str(path)]  # fmt: skip
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=seconds)
            (Path(folder) / pdf.name).replace(pdf)
        except (OSError, subprocess.SubprocessError) as error:
            raise CannotMakeError(f"LibreOffice did not print {path.name}: {error}.") from error
    return pdf


def _set_locale(profile: Path, locale: str) -> None:
    """Make a profile of LibreOffice's whose locale is the shop's, whatever the computer's is."""
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    word = escape(locale.replace("_", "-"))
    settings.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<oor:items xmlns:oor="http://openoffice.org/2001/registry">'
        '<item oor:path="/org.openoffice.Setup/L10N">'
        f'<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{word}</value>'
        "</prop></item></oor:items>",
        encoding="utf-8",
    )


def _quieten(book: Book) -> None:
    """Turn every formula that is not ours back into text, and money into its exact digits."""
    for sheet in book.worksheets:
        for cell in list(sheet._cells.values()):
            if not isinstance(cell, Cell):
                continue
            if cell.data_type == "f" and not book.is_own(cell):
                make_text(cell, str(cell.value))
            elif isinstance(cell.value, Decimal):
                # The library would write 16 digits of a float: 700.4400000000001 for 700.44.
                cell._value = f"{cell.value:f}"  # type: ignore[attr-defined]
