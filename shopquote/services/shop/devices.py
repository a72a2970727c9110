"""Which browsers may use the page, as office or floor: let in, known again, listed, thrown out.

A device holds a long random word in its cookie; the database has only its hash. Times are handed in.
"""

import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.records.page import DEVICE_ROLES, Device

# A session ends when nobody used it for so long, and at the latest so long after it was let in.
IDLE = {"office": timedelta(hours=12), "floor": timedelta(days=14)}
LONGEST = {"office": timedelta(days=7), "floor": timedelta(days=90)}
SEEN_AGAIN = timedelta(minutes=5)  # how often a device that is used is noted; not at every request
LONGEST_NAME = 60


def let_in(session: Session, name: str, role: str, *, at: datetime) -> str:
    """Let a browser in; returns the word for its cookie, which is kept nowhere else.

    Raises:
        InputError: neither office nor floor.
    """
    if role not in DEVICE_ROLES:
        raise InputError(f"{role!r} is no kind of device; expected {' or '.join(DEVICE_ROLES)}.")
    # 256 bits: nobody guesses it, however many are tried, so it needs no slow hash.
    word = secrets.token_urlsafe(32)
    shown = " ".join(name.split())[:LONGEST_NAME] or "without a name"
    session.add(
        Device(
            token_hash=hash_of(word),
            name=shown,
            role=role,
            let_in_at=at,
            seen_at=at,
            ends_at=at + LONGEST[role],
        )
    )
    session.flush()
    return word


def device_of(session: Session, word: str, *, at: datetime) -> Device | None:
    """The device of a cookie's word, if it was let in and its session has not ended."""
    device = session.scalar(select(Device).where(Device.token_hash == hash_of(word)))
    return device if device is not None and _is_open(device, at) else None


def _is_open(device: Device, at: datetime) -> bool:
    return at < device.ends_at and at - device.seen_at <= IDLE[device.role]


def needs_noting(device: Device, at: datetime) -> bool:
    """Whether so long passed since the device was noted that it should be again."""
    return at - device.seen_at > SEEN_AGAIN


def note_seen(session: Session, device_id: int, *, at: datetime) -> None:
    """Note that a device is in use, so that its session does not end for idleness."""
    device = session.get(Device, device_id)
    if device is not None:
        device.seen_at = at


def list_devices(session: Session, *, at: datetime) -> Sequence[Device]:
    """Devices whose session has not ended, the newest last; those that ended are forgotten."""
    devices = session.scalars(select(Device).order_by(Device.id)).all()
    return [device for device in devices if _is_open(device, at)]


def throw_out(session: Session, device_id: int) -> str:
    """End a device's session; returns its name.

    Raises:
        NotFoundError: no such device.
    """
    device = session.get(Device, device_id)
    if device is None:
        raise NotFoundError("This device is not on the list any more.")
    session.delete(device)
    session.flush()
    return device.name


def hash_of(word: str) -> str:
    """What is kept of a cookie's word; the word is random and long, so that a plain hash hides it."""
    return hashlib.sha256(word.encode()).hexdigest()
