"""What every page works with: the open database, the time, the version of the shop's lists."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import Any, cast

from flask import current_app, g, request

from shopquote.services.safe.daily import copy_the_day_before
from shopquote.services.shop.database import Database
from shopquote.services.shop.doing import on_the_page


@dataclass
class Desk:
    """The database that the server has open, and the clock; tests hand in their own.

    `url` is the database as it was named, for backups. `addresses` are where others find this machine.
    """

    database: Database
    now: Callable[[], datetime]
    url: str | None = None
    addresses: tuple[str, ...] = ()
    folder: Path = field(default_factory=Path)
    held: dict[str, Any] = field(default_factory=dict)
    _writer: Lock = field(default_factory=Lock)

    @contextmanager
    def writing(self) -> Iterator[Any]:
        """A writing session. Our own threads wait in line here, not by asking the database again."""
        device = g.get("device")
        who = "" if device is None else f"{device.name} ({device.role})"
        deed = on_the_page(who, f"{request.method} {request.path}", before=self._copy_once_a_day)
        with self._writer, deed, self.database.session() as session:
            yield session

    def _copy_once_a_day(self, database: Database) -> None:
        # Whether a copy is due is asked of a server; nothing of it can change before the next day.
        if self.held.get("copied on") != (today := self.now().date()):
            copy_the_day_before(database)
            self.held["copied on"] = today

    @contextmanager
    def replacing(self) -> Iterator[None]:
        """Nobody writes while the database is put in place of another; then all connections are made anew."""
        with self._writer:
            try:
                yield
            finally:
                self.database.close()
                self.held.clear()


def desk() -> Desk:
    """The desk of the running server."""
    return cast(Desk, current_app.extensions["desk"])
