"""The one place where the time of day is read; services are handed it by the commands."""

from datetime import datetime


def now() -> datetime:
    """This moment, in the shop's own time zone."""
    return datetime.now().astimezone()
