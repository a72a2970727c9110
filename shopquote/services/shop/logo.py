"""The shop's logo: a picture file that quotes keep a copy of."""

from pathlib import Path

from shopquote.errors import InputError
from shopquote.reading.files import bytes_of

LARGEST_LOGO_BYTES = 400_000
MOST_READ = 50_000_000
LOGO_ENDINGS = (".png", ".jpg", ".jpeg", ".gif")


def logo_bytes(path_text: str) -> bytes:
    """The picture's bytes; empty without a logo.

    Raises:
        InputError: the file is not there, too large or not a picture.
    """
    if not path_text:
        return b""
    path = Path(path_text).expanduser()
    hint = "Name another, or none, in: shopquote setup"
    if path.suffix.lower() not in LOGO_ENDINGS:
        raise InputError(f"Logo {path} is not a picture; expected {', '.join(LOGO_ENDINGS)}.", hint=hint)
    picture = bytes_of(path, MOST_READ, hint=hint)
    if len(picture) > LARGEST_LOGO_BYTES:
        raise InputError(
            f"Logo {path} has {len(picture)} bytes; expected at most {LARGEST_LOGO_BYTES}.", hint=hint
        )
    return picture


def logo_fault(path_text: str) -> str:
    """Why a quote goes out without the logo; empty where it has one, or none is wanted."""
    try:
        logo_bytes(path_text)
    except InputError as error:
        return f"{error.message} The quote has no logo."
    return ""
