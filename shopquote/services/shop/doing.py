"""Who is acting, where and how, for the history; the command line and the page state it once per request."""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from shopquote.calc.frozen import dataclass

# Characters kept of a command: one that names many jobs and prices would fill pages of the history.
LONGEST_WORDS = 400
# A URL in a command may hold a password, which must not be written to the history.
_ADDRESS = re.compile(r"\S*://\S*")


@dataclass(frozen=True)
class Deed:
    """Who acts and where: the door (command or page), the person's or device's name, the command's words.

    `before` is called with the database before it is written: it makes the day's copy, which the room `safe`
    does and this room may not import.
    """

    door: str
    who: str
    words: str
    before: Callable[[Any], None] | None = None


_deed: ContextVar[Deed | None] = ContextVar("deed", default=None)


def deed_now() -> Deed | None:
    """The current deed; None where nobody set one, as in tests of services: no history is then kept."""
    return _deed.get()


@contextmanager
def at_the_command_line(words: Sequence[str], before: Callable[[Any], None] | None = None) -> Iterator[None]:
    """Attribute what the block does to this command. `--db` and URLs stay out: they may hold passwords."""
    import getpass
    import shlex

    # Some accounts of services and containers have no name: the history then names nobody.
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
    """Attribute what the block does to a device on the page; `words` say what was asked for."""
    token = _deed.set(Deed("page", who, words[:LONGEST_WORDS], before))
    try:
        yield
    finally:
        _deed.reset(token)
