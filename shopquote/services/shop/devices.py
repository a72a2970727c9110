"""Browsers that may use the page, as office or floor: admit, recognise, list and remove them.

A device's cookie holds a long random token; the database stores only its hash. The caller passes the time.
"""

import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError, NotFoundError
from shopquote.records.page import DEVICE_ROLES, Device

# A device's session ends after this long without use, and in any case this long after it was admitted. Floor
# devices are shared and hang in the shop over holidays; the office sees prices, so its sessions are short.
IDLE = {"office": timedelta(hours=12), "floor": timedelta(days=14)}
LONGEST = {"office": timedelta(days=7), "floor": timedelta(days=90)}
# Least time between two notes that a device is in use: a write at every request would queue behind the floor.
SEEN_AGAIN = timedelta(minutes=5)
# Characters of a device's name, such as "saw" or "office": it stands on one line of the page's list.
LONGEST_NAME = 60


def let_in(session: Session, name: str, role: str, *, at: datetime) -> str:
    """Admit a browser; returns the token for its cookie, which is stored nowhere.

    Raises:
        InputError: `role` is neither office nor floor.
    """
    if role not in DEVICE_ROLES:
        raise InputError(f"{role!r} is no kind of device; expected {' or '.join(DEVICE_ROLES)}.")
    # 256 random bits cannot be guessed, so the stored hash need not be a slow one.
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
    """The device with this cookie's token; None if it is unknown or its session has ended."""
    device = session.scalar(select(Device).where(Device.token_hash == hash_of(word)))
    return device if device is not None and _is_open(device, at) else None


def _is_open(device: Device, at: datetime) -> bool:
    return at < device.ends_at and at - device.seen_at <= IDLE[device.role]


def needs_noting(device: Device, at: datetime) -> bool:
    """Whether the device's last use was noted longer ago than `SEEN_AGAIN`."""
    return at - device.seen_at > SEEN_AGAIN


def note_seen(session: Session, device_id: int, *, at: datetime) -> None:
    """Note that a device is in use now, which keeps its session from ending for idleness."""
    device = session.get(Device, device_id)
    if device is not None:
        device.seen_at = at


def list_devices(session: Session, *, at: datetime) -> Sequence[Device]:
    """Devices whose session has not ended, newest last."""
    devices = session.scalars(select(Device).order_by(Device.id)).all()
    return [device for device in devices if _is_open(device, at)]


def throw_out(session: Session, device_id: int) -> str:
    """End a device's session; returns the device's name.

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
    """SHA-256 of a cookie's token, as the database stores it."""
    return hashlib.sha256(word.encode()).hexdigest()
