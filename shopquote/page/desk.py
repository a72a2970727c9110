"""What every page works with: the open database, the time, the version of the shop's lists."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, cast

from flask import current_app

from shopquote.services.shop.database import Database


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


def desk() -> Desk:
    """The desk of the running server."""
    return cast(Desk, current_app.extensions["desk"])
