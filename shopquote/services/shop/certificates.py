"""Certificate files: kept beside the database under the hash of their content.

Two certificates of the same content are one file; a file on disk is never
changed, and one whose record was not stored does no harm.
"""

import os
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.errors import InputError
from shopquote.reading.files import bytes_of
from shopquote.records.orders import Certificate

# A mill's scanned bundle has a few megabytes a page.
LARGEST_BYTES = 50_000_000
# EN 10204:2004: 2.1 declaration, 2.2 test report, 3.1 inspection certificate by the
# maker, 3.2 countersigned by the buyer's or an official inspector.
CERTIFICATE_KINDS = ("", "2.1", "2.2", "3.1", "3.2")


def keep_certificate(
    session: Session, path: Path, folder: Path, *, kind: str = "", heat: str = "", at: datetime
) -> Certificate:
    """Copy a certificate's file into the folder and note it; the same content is kept once.

    Args:
        session: an open writing session.
        path: the file as it came.
        folder: where certificates lie, `Database.certificates`.
        kind: type as in EN 10204.
        heat: heat number that it is for.
        at: now.

    Raises:
        InputError: the file cannot be read, is empty, or is over 50 MB.
    """
    content = _read(path)
    digest = sha256(content).hexdigest()
    kept = folder / certificate_name(digest, path.name)
    _write_once(kept, content)
    certificate = session.scalar(select(Certificate).where(Certificate.sha256 == digest))
    if certificate is None:
        certificate = Certificate(sha256=digest, file_name=path.name, kind=kind, heat=heat, added_at=at)
        session.add(certificate)
        session.flush()
    return certificate


def refuse_unless_kind(kind: str) -> None:
    """Refuse what is no type of EN 10204; empty is none in particular.

    Raises:
        InputError: it is none.
    """
    if kind not in CERTIFICATE_KINDS:
        raise InputError(
            f"Certificate is {kind!r}; expected one of {', '.join(CERTIFICATE_KINDS[1:])} (EN 10204)."
        )


def certificate_name(digest: str, file_name: str) -> str:
    """Name of a kept file: its hash, with the ending that it came with.

    >>> certificate_name("ab12", "Cert 7.PDF")
    'ab12.pdf'
    """
    # Only so much of a name that somebody else gave: no folder and no oddity gets into ours.
    ending = Path(file_name).suffix.lower()
    return digest + (ending if ending[1:].isalnum() and len(ending) <= 6 else "")


def _read(path: Path) -> bytes:
    content = bytes_of(path, LARGEST_BYTES, hint="A certificate is a file of its own, such as a PDF.")
    if not content:
        raise InputError(f"Certificate {path} is empty.")
    return content


def _write_once(path: Path, content: bytes) -> None:
    if path.exists() and path.read_bytes() == content:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with beside.open("wb") as file:
            file.write(content)
            file.flush()
            # On the disk before it is named: a power cut leaves no empty certificate behind.
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
