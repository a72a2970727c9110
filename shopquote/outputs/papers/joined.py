"""PDFs joined into one, pictures as pages of their own. Begin at `as_pdf` and `joined`."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING

from shopquote.errors import InputError
from shopquote.reading.files import picture_of

if TYPE_CHECKING:
    from pypdf import PdfReader

# A picture fills a page that is both A4 and Letter, less a margin; more pixels say no more on paper.
PAGE_INCHES = (7.8, 10.5)
LONGEST_SIDE = 2600
MEND = "Receive it again with a sound copy, or leave out --pack."


def joined(papers: Sequence[tuple[str, bytes]], *, title: str, author: str) -> bytes:
    """All pages of named files in a row; of what these say of themselves only this title and author is kept.

    Raises:
        InputError: a page that cannot be read.
    """
    from pypdf import PdfWriter

    writer = PdfWriter()
    for name, paper in papers:
        reader = _read(paper, name)
        with _named(name):
            for page in reader.pages:
                writer.add_page(page)
    writer.metadata = {"/Title": title, "/Author": author}
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def pages_in(paper: bytes, name: str) -> int:
    """How many pages a PDF has; `name` is the file's for a message.

    Raises:
        InputError: it is no PDF that can be read, or it asks for a password.
    """
    return len(_read(paper, name).pages)


def as_pdf(content: bytes, name: str) -> bytes:
    """A file as a PDF: a photograph or scan (PNG, JPEG, TIFF ...) becomes a page, a PDF stays as it is.

    Raises:
        InputError: it is neither.
    """
    if b"%PDF" in content[:1024]:
        return content
    try:
        picture = picture_of(content, LONGEST_SIDE)
    except InputError as error:
        raise InputError(
            f"Certificate {name} is neither a PDF nor a picture that can be read; nothing was written. "
            f"{error.message}",
            hint=MEND,
        ) from error
    written = BytesIO()
    wide, tall = PAGE_INCHES if picture.width <= picture.height else PAGE_INCHES[::-1]
    picture.save(written, "PDF", resolution=max(picture.width / wide, picture.height / tall))
    return written.getvalue()


def _read(paper: bytes, name: str) -> "PdfReader":
    from pypdf import PdfReader

    with _named(name):
        reader = PdfReader(BytesIO(paper))
        if reader.is_encrypted and not reader.decrypt(""):
            raise InputError(f"Certificate {name} asks for a password; nothing was written.")
        len(reader.pages)
    return reader


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Puts the name of the file to whatever pypdf stumbles over in it."""
    from pypdf.errors import DependencyError

    try:
        yield
    except DependencyError as error:
        # AES wants a library of ciphers; mills' certificates seldom are locked, so that none is asked for.
        raise InputError(f"Certificate {name} is encrypted; nothing was written.", hint=MEND) from error
    except InputError:
        raise
    except Exception as error:  # on damage the library raises nearly anything, RecursionError too
        raise InputError(
            f"Certificate {name} is no PDF that can be read; nothing was written.",
            hint=MEND,
        ) from error
