"""The one writer of files: a file is written whole or not at all, and never over a file of someone else's.

    put_file(path, content)                    one file
    with set_aside(folder) as aside:           several that belong together:
        ... write them into `aside` ...        written out of sight,
        refuse_unless_all_free(written, folder)    refused while nothing is stored yet,
        bring_in(written, folder)              and brought to their places once what they tell is stored

A file counts as the program's own as long as nobody changed it: the digests of all files written are listed
in the person's data folder. Any other file is kept, unless the person says `--replace`
(`set_replacing`); a database, a folder, a device or a pipe is never replaced. What a killed run left in a
folder is removed when the next one writes there.
"""

import errno
import os
import shutil
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from shopquote.errors import InputError

DATABASE_BEGINS = b"SQLite format 3\x00"
ASIDE = ".making-"
# "No space" and "quota exceeded"; not every system knows quotas.
_NO_ROOM = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
# Where it cannot be asked whether a process still runs, a folder a day old belongs to none.
LEFT_SECONDS = 86_400
# A longer list of digests is cut to its newer half; files that drop out of it then need --replace.
DIGESTS_KEPT = 40_000
_DIGEST_CHARACTERS = 65

_replacing: ContextVar[bool] = ContextVar("replacing", default=False)


def set_replacing(wanted: bool) -> None:
    """Set whether files that are not the program's own may be replaced, as --replace does."""
    _replacing.set(wanted)


def put_file(path: Path, content: bytes) -> Path:
    """Write one file, making its folder, and return where it is: under another name if that one is open.

    Raises:
        InputError: what is there may not be written over, or the folder cannot be written.
    """
    with set_aside(path.parent) as aside:
        written = aside / path.name
        try:
            written.write_bytes(content)
        except OSError as error:
            raise _not_written(path, error) from error
        return bring_in([written], path.parent)[0]


@contextmanager
def set_aside(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder` for files that belong together; gone at the end.

    Write them there, commit what they tell of, then `bring_in`: a run that is killed
    while it writes leaves no paper of a thing that is not on file.

    Raises:
        InputError: the folder cannot be made or written, or its disk has no room for what is written there.
    """
    from tempfile import TemporaryDirectory

    try:
        folder.mkdir(parents=True, exist_ok=True)
        _clear(folder)
        aside = TemporaryDirectory(dir=folder, prefix=f"{ASIDE}{os.getpid()}-", ignore_cleanup_errors=True)
    except OSError as error:
        raise _not_written(folder, error) from error
    with aside as place:
        try:
            yield Path(place)
        except OSError as error:
            # The caller's write found no room. The system's error does not name the disk, so we do.
            if error.errno in _NO_ROOM:
                raise _not_written(folder, error) from error
            raise


def bring_in(files: Sequence[Path], folder: Path) -> list[Path]:
    """Move finished files to their folder; none is moved unless all may be.

    Raises:
        InputError: what is there may not be written over, or one cannot be moved.
    """
    refuse_unless_all_free(files, folder)
    brought = []
    for file in files:
        # Noted before the move: a run killed between the two must not leave a file that needs --replace.
        _note(file)
        brought.append(_move(file, folder / file.name))
    return brought


def refuse_unless_all_free(files: Sequence[Path], folder: Path) -> None:
    """Refuse what `bring_in` would refuse; to be called before the records behind the files are stored.

    Raises:
        InputError: as `refuse_unless_free`, of the place of any.
    """
    for file in files:
        refuse_unless_free(folder / file.name)


def refuse_unless_free(path: Path) -> None:
    """Refuse a path where something exists that must not be replaced.

    Raises:
        InputError: a database, a folder, a device or a pipe; or a file that is not as the program wrote it.
    """
    if not os.path.lexists(path):
        return
    if not path.is_file():
        what = "a folder" if path.is_dir() else "no file, but a link to nothing, a device or a pipe"
        raise InputError(f"{path} is {what}; nothing is written there.", hint="Give another name.")
    try:
        with path.open("rb") as file:
            is_database = file.read(len(DATABASE_BEGINS)) == DATABASE_BEGINS
        digest = digest_of(path)
    except OSError as error:
        raise _not_written(path, error) from error
    if is_database:
        raise InputError(
            f"{path} is a database; no other file is ever written over one.", hint="Give another name."
        )
    if not _replacing.get() and digest not in _noted():
        raise InputError(
            f"{path} is there already, and it is not as shopquote wrote it.",
            hint="Give another name or folder, or write over it with --replace.",
        )


def digest_of(path: Path) -> str:
    """SHA-256 of what a file holds, in hexadecimal digits."""
    from hashlib import file_digest

    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def _move(file: Path, path: Path) -> Path:
    """Move a finished file to `path`; where an open file blocks that, to the next free "name (2)"."""
    try:
        return file.replace(path)
    except PermissionError as error:
        # Windows refuses to replace a file that another program has open.
        for number in range(2, 100):
            other = path.with_name(f"{path.stem} ({number}){path.suffix}")
            if os.path.lexists(other):
                continue
            try:
                moved = file.replace(other)
            except OSError:
                break
            print(
                f"shopquote: {path} cannot be replaced while another program has it open; "
                f"written as {moved.name} instead.",
                file=sys.stderr,
            )
            return moved
        raise _not_written(path, error) from error
    except OSError as error:
        raise _not_written(path, error) from error


def disk_told(path: Path) -> str:
    """Which disk a path lies on and how much room it has, as words for an error message."""
    place = path.absolute()
    while not place.exists() or not (os.path.ismount(place) or place == place.parent):
        place = place.parent
    return f"the disk is {place}, with {shutil.disk_usage(place).free / 1_000_000:.1f} MB free"


def _not_written(path: Path, error: OSError) -> InputError:
    if error.errno in _NO_ROOM:
        return InputError(f"Cannot write {path}: it has no room; {disk_told(path)}.", hint="Make room there.")
    return InputError(
        f"Cannot write {path}: {error.strerror or error}.",
        hint="Close the file if it is open elsewhere, or choose another folder with --out.",
    )


def _clear(folder: Path) -> None:
    """Remove what killed runs have left in a folder."""
    for left in folder.glob(f"{ASIDE}*"):
        if left.is_dir() and not _is_at_work(left):
            shutil.rmtree(left, ignore_errors=True)


def _is_at_work(left: Path) -> bool:
    number = left.name.removeprefix(ASIDE).partition("-")[0]
    if os.name == "nt" or not number.isdecimal():  # on Windows os.kill ends the process, whatever the signal
        return time.time() - left.stat().st_mtime < LEFT_SECONDS
    try:
        # Signal 0 only asks whether the process exists.
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    # It exists but is another person's, or the number is none of this system: left alone either way.
    except (OSError, OverflowError):
        return True
    return True


def data_folder() -> Path:
    """The person's data folder: the usual database and the files beside it."""
    from platformdirs import user_data_path

    return user_data_path("shopquote", appauthor=False)


def _list_of_digests() -> Path:
    return data_folder() / "written.txt"


def _noted() -> set[str]:
    try:
        return set(_list_of_digests().read_text(encoding="ascii").split())
    except (OSError, UnicodeDecodeError):
        return set()


def _note(file: Path) -> None:
    """Add a file's digest to the list. Where the list cannot be written, the next run asks for --replace."""
    try:
        digest = digest_of(file)
        place = _list_of_digests()
        place.parent.mkdir(parents=True, exist_ok=True)
        if place.exists() and place.stat().st_size > DIGESTS_KEPT * _DIGEST_CHARACTERS:
            newer = place.read_text(encoding="ascii").split()[-DIGESTS_KEPT // 2 :]
            beside = place.with_name(f"{place.name}.{os.getpid()}")
            beside.write_text("".join(f"{one}\n" for one in newer), encoding="ascii")
            beside.replace(place)
        with place.open("a", encoding="ascii") as digests:
            digests.write(f"{digest}\n")
    except OSError:
        return
