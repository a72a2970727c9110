"""Joins files into one PDF, pictures as pages of their own. Begin at `as_pdf` and `joined`."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING

from shopquote.errors import InputError
from shopquote.outputs.papers.typeset import typeset
from shopquote.reading.files import letters_of, picture_of

if TYPE_CHECKING:
    from pypdf import PdfReader

# A picture fills a page that fits on A4 and Letter, less a margin; more pixels add nothing in print.
PAGE_INCHES = (7.8, 10.5)
LONGEST_SIDE = 2600
MEND = "shopquote rack certificate PIECE --file FILE puts a sound copy to its bars; or leave out --pack."


def joined(papers: Sequence[tuple[str, bytes]], *, title: str, author: str) -> bytes:
    """All pages of the files, in order; their own metadata is replaced by this title and author.

    Raises:
        InputError: a page cannot be read.
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
    """The number of pages of a PDF; `name` is the file's name for messages.

    Raises:
        InputError: it is not a readable PDF, or needs a password.
    """
    return len(_read(paper, name).pages)


def as_pdf(content: bytes, name: str) -> bytes:
    """A file as a PDF: a photo or scan (PNG, JPEG, TIFF ...) becomes a page, plain text one or more pages.

    A PDF is returned unchanged.

    Raises:
        InputError: it is none of these.
    """
    if b"%PDF" in content[:1024]:
        return content
    if (text := _plain_text(content)) is not None:
        return typeset("text", {"title": name, "text": text})
    try:
        picture = picture_of(content, LONGEST_SIDE)
    except InputError as error:
        raise InputError(
            f"Certificate {name} is no PDF, picture or plain text that can be read; nothing was "
            f"written. {error.message}",
            hint=MEND,
        ) from error
    written = BytesIO()
    wide, tall = PAGE_INCHES if picture.width <= picture.height else PAGE_INCHES[::-1]
    picture.save(written, "PDF", resolution=max(picture.width / wide, picture.height / tall))
    return written.getvalue()


def _plain_text(content: bytes) -> str | None:
    """The content decoded as plain text, or None if it is not text."""
    text = letters_of(content).replace("\r\n", "\n").replace("\f", "\n").expandtabs()
    unprintable = any(not one.isprintable() and one != "\n" for one in text)
    return None if unprintable or "\ufffd" in text else text


def _read(paper: bytes, name: str) -> "PdfReader":
    from pypdf import PdfReader

    with _named(name):
        reader = PdfReader(BytesIO(paper))
        if reader.is_encrypted and not reader.decrypt(""):
            raise InputError(f"Certificate {name} needs a password; nothing was written.")
        len(reader.pages)
    return reader


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Turns whatever pypdf raises for a damaged file into an `InputError` with the file's name."""
    from pypdf.errors import DependencyError

    try:
        yield
    except DependencyError as error:
        # AES needs a cryptography library; mill certificates are seldom locked, so we do not depend on one.
        raise InputError(f"Certificate {name} is encrypted; nothing was written.", hint=MEND) from error
    except InputError:
        raise
    except Exception as error:  # pypdf raises nearly anything on damaged files, RecursionError too
        raise InputError(
            f"Certificate {name} is no PDF that can be read; nothing was written.",
            hint=MEND,
        ) from error
