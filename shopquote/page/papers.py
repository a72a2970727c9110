"""Files that a browser sends and files that it saves: in a folder that goes, never shown as a page."""

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

# The end of a name is kept, which has the ending; some file systems allow 143 bytes.
LONGEST_NAME = 80


def given_file(field: str) -> FileStorage | None:
    """The file of a form's field; None where none was chosen."""
    given = request.files.get(field)
    return given if given is not None and given.filename else None


def ending_of(given: FileStorage) -> str:
    """The ending of its name, in small letters with its point; what it is read as."""
    return Path(given.filename or "").suffix.lower()


def needed_file(field: str, what: str, endings: Sequence[str] = ()) -> FileStorage:
    """The file that a form must bring, of one of these endings where any are named.

    Raises:
        InputError: none was given, or one of another kind.
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
    """The file in a folder that goes; what is said of it names it as the person does."""
    with tempfile.TemporaryDirectory() as folder:
        name = secure_filename(given.filename or "")[-LONGEST_NAME:]
        # Of a name in another script nothing may be left but its ending.
        whole = Path(name).suffix.lower() == ending_of(given)
        path = Path(folder, name if whole else f"given{ending_of(given)}")
        given.save(path)
        try:
            yield path
        except ShopquoteError as error:
            # The folder's path says nothing to a person, and tells of the machine what is nobody's business.
            error.message = error.message.replace(str(path), (given.filename or "")[:LONGEST_NAME])
            raise


def download(path: Path) -> Response:
    """A file to be saved; read now, for its folder goes."""
    return download_as(path.name, path.read_bytes())


def download_as(name: str, content: bytes) -> Response:
    """What a file of this name is to hold, to be saved."""
    return send_file(BytesIO(content), as_attachment=True, download_name=name)
