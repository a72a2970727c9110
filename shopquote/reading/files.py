"""The bytes of files that people hand in, after a check of their type and size.

A folder, a device or a pipe is refused before it is opened: reading one may never end.
"""

import stat
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.errors import InputError

if TYPE_CHECKING:
    from zipfile import ZipFile

    from PIL.Image import Image

# A zip that exceeds both is a zip bomb: a real database shrinks about 10 times, a bomb of blanks 1,000 times.
MOST_SHRUNK = 100
MOST_UNPACKED = 200_000_000  # bytes
MOST_SAID = 20_000_000  # bytes of the manifest of a backup or an export
MOST_PIXELS = 50_000_000
MOST_OF_PICTURE = 110_000_000  # bytes; a page of A4 at 600 dots an inch has 104 in colour
PHOTOGRAPHS = ("JPEG", "PNG", "WEBP")

_KINDS = {
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFSOCK: "a socket",
    stat.S_IFDIR: "a folder",
}


def refuse_unless_file(path: Path, most_bytes: int, *, hint: str | None = None) -> None:
    """Refuse a path that is not a regular file, or a file over `most_bytes`.

    Raises:
        InputError: it does not exist, is a folder, a device or a pipe, or is too large.
    """
    try:
        held = path.stat()
    except FileNotFoundError as error:
        raise InputError(f"There is no file {path}.", hint=hint) from error
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise InputError(f"{str(path)!r} cannot be read: {said}.", hint=hint) from error
    kind = stat.S_IFMT(held.st_mode)
    if kind != stat.S_IFREG:
        raise InputError(f"{path} is {_KINDS.get(kind, 'no file')}, not a file that can be read.", hint=hint)
    if held.st_size > most_bytes:
        raise InputError(
            f"{path} is over {most_bytes / 1_000_000:g} MB, which is the most that is read of such a file.",
            hint=hint,
        )


def bytes_of(path: Path, most_bytes: int, *, hint: str | None = None) -> bytes:
    """The bytes of a file of at most `most_bytes`.

    Raises:
        InputError: as `refuse_unless_file`, or it cannot be read.
    """
    refuse_unless_file(path, most_bytes, hint=hint)
    try:
        with path.open("rb") as file:
            return file.read(most_bytes + 1)
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}.", hint=hint) from error


def letters_of(content: bytes) -> str:
    """A file's bytes as text: UTF-16 by its byte order mark, else UTF-8, else Windows-1252; never fails.

    >>> letters_of("größe".encode()), letters_of("größe".encode("cp1252"))
    ('größe', 'größe')
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # The default of spreadsheets on Windows in Western Europe.
        return content.decode("cp1252", errors="replace")


def refuse_zip_bomb(archive: "ZipFile", path: Path, said: str) -> None:
    """Refuse a zip that unpacks to more than anybody packed.

    `said` is the part that is read whole, its manifest.

    Raises:
        InputError: it does.
        KeyError: it has no part `said`.
    """
    whole = sum(part.file_size for part in archive.infolist())
    shrunk = whole > MOST_UNPACKED and whole > MOST_SHRUNK * path.stat().st_size
    if shrunk or archive.getinfo(said).file_size > MOST_SAID:
        raise InputError(
            f"{path} is damaged or was made to do harm: it would unpack to {whole / 1_000_000:,.0f} MB.",
            hint="Nothing was changed; try another.",
        )


def picture_of(content: bytes, side: int, formats: tuple[str, ...] | None = None) -> "Image":
    """A picture turned upright and shrunk to at most `side` pixels a side, in RGB.

    `formats` are the formats that are accepted, by Pillow's names; None: all that Pillow reads.

    Raises:
        InputError: no picture, damaged, or of more pixels than are read.
    """
    from PIL import Image, ImageOps

    try:
        # Checked here, for Pillow only warns at its own, higher limit.
        with Image.open(BytesIO(content), formats=formats) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise InputError(f"The picture has over {MOST_PIXELS // 1_000_000} million pixels.")
            # `draft` lets the JPEG reader decode at a smaller size: a phone's photo takes a fifth of the
            # memory.
            picture.draft("RGB", (side, side))
            unpacked = picture.width * picture.height * len(picture.getbands())
            if unpacked > MOST_OF_PICTURE:
                raise InputError(
                    f"The picture would unpack to {unpacked / 1_000_000:.0f} MB; "
                    f"expected at most {MOST_OF_PICTURE // 1_000_000}."
                )
            ImageOps.exif_transpose(picture, in_place=True)
            picture.thumbnail((side, side))
            return picture.convert("RGB")
    except InputError:
        raise
    except Exception as error:
        # On damaged pictures Pillow's readers raise almost any exception.
        raise InputError("This is no picture that can be read.") from error
