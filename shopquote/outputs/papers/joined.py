"""PDFs joined into one, pictures as pages of their own. Begin at `as_pdf` and `joined`."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from typing import TYPE_CHECKING

from shopquote.errors import InputError
from shopquote.outputs.papers.typeset import typeset
from shopquote.reading.files import letters_of, picture_of

if TYPE_CHECKING:
    from pypdf import PdfReader

# A picture fills a page that is both A4 and Letter, less a margin; more pixels say no more on paper.
PAGE_INCHES = (7.8, 10.5)
LONGEST_SIDE = 2600
MEND = "shopquote rack certificate PIECE --file FILE puts a sound copy to its bars; or leave out --pack."


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
    """A file as a PDF: a photograph or scan (PNG, JPEG, TIFF ...) becomes a page, plain text its pages.

    A PDF stays as it is.

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
    """The text of a file of letters, or None where it holds what no letter is."""
    text = letters_of(content).replace("\r\n", "\n").replace("\f", "\n").expandtabs()
    unprintable = any(not one.isprintable() and one != "\n" for one in text)
    return None if unprintable or "\ufffd" in text else text


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
