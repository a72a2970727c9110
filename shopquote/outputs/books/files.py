"""Workbooks on disk: written whole or not at all, several that belong together, and printed as PDF."""

import shutil
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from xml.sax.saxutils import escape

from openpyxl.cell.cell import Cell

from shopquote.errors import CannotMakeError, InputError
from shopquote.outputs.books.book import Book, make_text


def save_book(book: Book, path: Path) -> Path:
    """Write a workbook beside its place and rename it: the file is whole or not there.

    Raises:
        InputError: the folder cannot be made or written.
    """
    _quieten(book)
    beside: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=path.parent, prefix=".", suffix=".part", delete=False) as part:
            beside = Path(part.name)
        book.save(beside)
        beside.chmod(0o644)
        beside.replace(path)
    except OSError as error:
        raise _not_written(path, error) from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)
    return path


@contextmanager
def set_aside(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder` for files that belong together; gone at the end.

    Write them there, commit what they tell of, then `bring_in`: a run that is killed
    while it writes leaves no paper of a thing that is not on file.

    Raises:
        InputError: the folder cannot be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = TemporaryDirectory(dir=folder, prefix=".making", ignore_cleanup_errors=True)
    except OSError as error:
        raise _not_written(folder, error) from error
    with aside as place:
        yield Path(place)


def bring_in(files: Sequence[Path], folder: Path) -> list[Path]:
    """Move finished files to their folder, in the place of older ones.

    Raises:
        InputError: one of them cannot be replaced.
    """
    brought = []
    for file in files:
        try:
            brought.append(file.replace(folder / file.name))
        except OSError as error:
            raise _not_written(folder / file.name, error) from error
    return brought


def _not_written(path: Path, error: OSError) -> InputError:
    return InputError(
        f"Cannot write {path}: {error.strerror or error}.",
        hint="Close the file if it is open elsewhere, or choose another folder with --out.",
    )


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
