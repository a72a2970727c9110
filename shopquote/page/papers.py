"""Uploaded files, kept in a temporary folder, and downloads, which a browser saves and never displays."""

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

from flask import request, send_file
from werkzeug.datastructures import FileStorage
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response

from shopquote.errors import InputError, ShopquoteError

# The end of a long name is kept, with its ending; some file systems allow only 143 bytes.
LONGEST_NAME = 80


def given_file(field: str) -> FileStorage | None:
    """The uploaded file of a form's field; None if none was chosen."""
    given = request.files.get(field)
    return given if given is not None and given.filename else None


def ending_of(given: FileStorage) -> str:
    """The ending of the file's name, lower case with the point, by which it is read."""
    return Path(given.filename or "").suffix.lower()


def needed_file(field: str, what: str, endings: Sequence[str] = ()) -> FileStorage:
    """The uploaded file of a required field, with one of `endings` if any are given.

    Raises:
        InputError: no file was chosen, or one with another ending.
    """
    given = given_file(field)
    if given is None:
        raise InputError(f"No file was given; choose {what}.")
    ending = ending_of(given)
    if endings and ending not in endings:
        raise InputError(
            f"{ending or 'This'} is not read here; {', '.join(endings[:-1])} and {endings[-1]} are."
        )
    return given


@contextmanager
def put_aside(given: FileStorage) -> Iterator[Path]:
    """Save an upload in a temporary folder for the `with` block; messages show its own name, not the path."""
    with tempfile.TemporaryDirectory() as folder:
        name = secure_filename(given.filename or "")[-LONGEST_NAME:]
        # Of a name in another script only the ending may be left.
        whole = Path(name).suffix.lower() == ending_of(given)
        path = Path(folder, name if whole else f"given{ending_of(given)}")
        given.save(path)
        try:
            yield path
        except ShopquoteError as error:
            # The temporary path means nothing to the user, and reveals the machine's folders.
            error.message = error.message.replace(str(path), (given.filename or "")[:LONGEST_NAME])
            raise


def download(path: Path) -> Response:
    """Send a file as a download; it is read at once, because its folder is temporary."""
    return download_as(path.name, path.read_bytes())


def download_as(name: str, content: bytes) -> Response:
    """Send bytes as a download with this name."""
    return send_file(BytesIO(content), as_attachment=True, download_name=name)
