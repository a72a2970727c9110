"""The shop's logo: a picture file, checked before it is printed on quotes."""

from io import BytesIO
from pathlib import Path

from shopquote.errors import InputError
from shopquote.reading.files import bytes_of

# Each stored quote holds a copy of the picture, so it must be small.
LARGEST_LOGO_BYTES = 400_000
# A file larger than this is refused unread; a smaller one is read, so that the message can tell its size.
MOST_READ = 50_000_000
LOGO_ENDINGS = (".png", ".jpg", ".jpeg", ".gif")
LOGO_FORMATS = ("PNG", "JPEG", "GIF")
# A small file may unpack to gigabytes; this many is a sheet of paper at 300 dots per inch.
MOST_PIXELS = 10_000_000


def logo_bytes(path_text: str) -> bytes:
    """The picture's bytes; empty where the shop has no logo.

    Raises:
        InputError: the file is not there, too large, or not a whole PNG, JPEG or GIF.
    """
    if not path_text:
        return b""
    path = Path(path_text).expanduser()
    hint = 'Name another: shopquote house set logo_path FILE; none: shopquote house set logo_path ""'
    if path.suffix.lower() not in LOGO_ENDINGS:
        raise InputError(f"Logo {path} is not a picture; expected {', '.join(LOGO_ENDINGS)}.", hint=hint)
    picture = bytes_of(path, MOST_READ, hint=hint)
    if len(picture) > LARGEST_LOGO_BYTES:
        raise InputError(
            f"Logo {path} has {len(picture)} bytes; expected at most {LARGEST_LOGO_BYTES}.", hint=hint
        )
    if fault := _picture_fault(picture):
        raise InputError(f"Logo {path} {fault}.", hint=hint)
    return picture


def _picture_fault(picture: bytes) -> str:
    """Why a picture cannot be printed, else empty. Decoded whole: a truncated file has a valid header."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(BytesIO(picture), formats=LOGO_FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                return f"has {image.width} x {image.height} pixels; expected at most {MOST_PIXELS} in all"
            image.load()
    except UnidentifiedImageError:
        return "is no picture inside; expected PNG, JPEG or GIF"
    # Pillow raises errors of many classes for damaged files.
    except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError):
        return "is damaged"
    return ""


def logo_place(path_text: str) -> str:
    """The logo's absolute path, which does not depend on the current folder; empty for none.

    Raises:
        InputError: the picture cannot be printed.
    """
    logo_bytes(path_text)
    return str(Path(path_text).expanduser().absolute()) if path_text else ""


def logo_fault(path_text: str) -> str:
    """Why a quote will have no logo though one is set; else empty."""
    try:
        logo_bytes(path_text)
    except InputError as error:
        return f"{error.message} The quote has no logo."
    return ""
