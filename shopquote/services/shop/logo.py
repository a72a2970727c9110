"""The shop's logo: a picture file that quotes keep a copy of."""

from io import BytesIO
from pathlib import Path

from shopquote.errors import InputError
from shopquote.reading.files import bytes_of

# Every quote keeps a copy.
LARGEST_LOGO_BYTES = 400_000
# A larger file is refused unread; below, its own size is told.
MOST_READ = 50_000_000
LOGO_ENDINGS = (".png", ".jpg", ".jpeg", ".gif")
LOGO_FORMATS = ("PNG", "JPEG", "GIF")
# A small file may unpack to gigabytes; this many is a sheet of paper at 300 dots per inch.
MOST_PIXELS = 10_000_000


def logo_bytes(path_text: str) -> bytes:
    """The picture's bytes; empty without a logo.

    Raises:
        InputError: the file is not there, too large or not a whole picture.
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
    """Why these bytes cannot be printed; nothing where they can. Unpacked, for a cut file has a good head."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(BytesIO(picture), formats=LOGO_FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                return f"has {image.width} x {image.height} pixels; expected at most {MOST_PIXELS} in all"
            image.load()
    except UnidentifiedImageError:
        return "is no picture inside; expected PNG, JPEG or GIF"
    # Pillow tells a damaged file by errors of many kinds.
    except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError):
        return "is damaged"
    return ""


def logo_place(path_text: str) -> str:
    """A logo's place as it is kept, the same from every folder; checked.

    Raises:
        InputError: it cannot be printed.
    """
    logo_bytes(path_text)
    return str(Path(path_text).expanduser().absolute()) if path_text else ""


def logo_fault(path_text: str) -> str:
    """Why a quote goes out without the logo; empty where it has one, or none is wanted."""
    try:
        logo_bytes(path_text)
    except InputError as error:
        return f"{error.message} The quote has no logo."
    return ""
