"""Report a fault of the program itself: a message, and a file that the user can send.

The file names places in the program, versions and types of error. It holds nothing private: no value, no
argument, no error message, no path outside the package.
"""

import platform
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path

from shopquote import __version__
from shopquote.files import data_folder

# Python's own for a traceback: whoever calls us needs to tell it from our other codes only.
FAULT = 1
_PACKAGE = Path(__file__).resolve().parents[1]


def tell_fault(fault: Exception) -> int:
    """Write the fault to a file, tell the user to send it, and return the exit code.

    Writing may fail too (a full disk): the message on the terminal then says so.
    """
    lines = list(fault_lines(fault))
    print(f"shopquote: a fault of the program: {lines[-1]}.", file=sys.stderr)
    place = _put(lines)
    kept = f"Send {place}; it holds no data of yours." if place else "Send this: " + "; ".join(lines)
    print(f"Nothing that was confirmed before is lost. {kept}", file=sys.stderr)
    return FAULT


def fault_lines(fault: BaseException) -> Iterator[str]:
    """Versions, then each error of the chain from its first cause: type and frames, innermost last."""
    yield f"shopquote {__version__}, Python {platform.python_version()}, {platform.system()}"
    chain: list[BaseException] = []
    step: BaseException | None = fault
    while step is not None and step not in chain:
        # As Python tells it: the cause before what it led to; `raise ... from None` hides one here too.
        chain.insert(0, step)
        step = step.__cause__ or (None if step.__suppress_context__ else step.__context__)
    for error in chain:
        for frame in traceback.extract_tb(error.__traceback__):
            yield f"  {_place(frame.filename)}:{frame.lineno} in {frame.name}"
        yield type(error).__name__


def _place(file: str) -> str:
    """A file of the program below its package; of another package by its own name alone."""
    path = Path(file)
    if path.is_relative_to(_PACKAGE):
        return path.relative_to(_PACKAGE.parent).as_posix()
    return path.name


def _put(lines: list[str]) -> Path | None:
    place = data_folder() / "last_fault.txt"
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text("\n".join(lines) + "\n", encoding="utf-8")
    # The message on the terminal stands in for the file: a full disk may be the fault itself.
    except OSError:
        return None
    return place
