"""At which door somebody stands, for the history: the command line or the page says it once."""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from shopquote.calc.frozen import dataclass

# A command with many jobs and prices in it fills pages of the history.
LONGEST_WORDS = 400
_ADDRESS = re.compile(r"\S*://\S*")


@dataclass(frozen=True)
class Deed:
    """Who does something where: the door, the person's or device's name, and the words of it.

    `before` is done before the database is written: a door hands in what only it may know of.
    """

    door: str
    who: str
    words: str
    before: Callable[[Any], None] | None = None


_deed: ContextVar[Deed | None] = ContextVar("deed", default=None)


def deed_now() -> Deed | None:
    """What is being done; None where nobody said, as in a test of services: no history is kept then."""
    return _deed.get()


@contextmanager
def at_the_command_line(words: Sequence[str], before: Callable[[Any], None] | None = None) -> Iterator[None]:
    """What is done in the block is done by this command; addresses of databases stay out, for passwords."""
    import getpass
    import shlex

    try:
        who = getpass.getuser()
    except (OSError, KeyError, ImportError):
        who = ""
    told: list[str] = []
    skip = False
    for word in words:
        if not skip and word != "--db" and not word.startswith("--db="):
            told.append(_ADDRESS.sub("...", word))
        skip = word == "--db"
    token = _deed.set(Deed("command", who, f"shopquote {shlex.join(told)}"[:LONGEST_WORDS], before))
    try:
        yield
    finally:
        _deed.reset(token)


@contextmanager
def on_the_page(who: str, words: str, before: Callable[[Any], None] | None = None) -> Iterator[None]:
    """What is done in the block is done on the page, by a device."""
    token = _deed.set(Deed("page", who, words[:LONGEST_WORDS], before))
    try:
        yield
    finally:
        _deed.reset(token)
