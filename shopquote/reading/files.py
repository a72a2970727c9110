"""Where every file of a person's is taken in hand: what it is, how large, and its bytes.

A folder, a device or a pipe is refused before it is opened: reading one may never end.
"""

import stat
from pathlib import Path

from shopquote.errors import InputError

_KINDS = {
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFSOCK: "a socket",
    stat.S_IFDIR: "a folder",
}


def refuse_unless_file(path: Path, most_bytes: int, *, hint: str | None = None) -> None:
    """Refuse what is no file, or one over the limit.

    Raises:
        InputError: not there, a folder, a device or a pipe, or too large.
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
    """What a file holds.

    Raises:
        InputError: as `refuse_unless_file`, or it cannot be read.
    """
    refuse_unless_file(path, most_bytes, hint=hint)
    try:
        with path.open("rb") as file:
            return file.read(most_bytes + 1)
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}.", hint=hint) from error
