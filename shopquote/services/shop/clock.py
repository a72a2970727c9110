"""The only module that reads the system clock; commands and routes pass the time on to services."""

from datetime import datetime


def now() -> datetime:
    """This moment, in the shop's own time zone."""
    return datetime.now().astimezone()
