"""What every route works with: the open database, the clock, what is kept between requests."""

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
    """The server's open database and its clock; tests pass their own.

    `url` is the database as named with --db, for backups. `addresses` are the URLs for other devices.
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
        """A writing session. Our threads queue on a lock, instead of retrying on a locked database."""
        device = g.get("device")
        who = "" if device is None else f"{device.name} ({device.role})"
        deed = on_the_page(who, f"{request.method} {request.path}", before=self._copy_once_a_day)
        with self._writer, deed, self.database.session() as session:
            yield session

    def _copy_once_a_day(self, database: Database) -> None:
        # Asking whether a copy is due takes time on a server, and the answer holds for the whole day.
        if self.held.get("copied on") != (today := self.now().date()):
            copy_the_day_before(database)
            self.held["copied on"] = today

    @contextmanager
    def replacing(self) -> Iterator[None]:
        """Keep writers out while a backup replaces the database, then open all connections anew."""
        with self._writer:
            try:
                yield
            finally:
                self.database.close()
                self.held.clear()


def desk() -> Desk:
    """The desk of the running server."""
    return cast(Desk, current_app.extensions["desk"])
