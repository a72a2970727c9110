"""Certificate files, kept beside the database under the SHA-256 of their content.

Files with equal content are stored once, and a stored file never changes. The file is written before its
record: if the transaction then fails, a file that no record names is left, which does no harm.
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

# A mill's scanned certificate takes a few megabytes a page; 50 MB is room for a bundle.
LARGEST_BYTES = 50_000_000
# EN 10204:2004: 2.1 declaration, 2.2 test report, 3.1 inspection certificate by the
# maker, 3.2 countersigned by the buyer's or an official inspector.
CERTIFICATE_KINDS = ("", "2.1", "2.2", "3.1", "3.2")


def keep_certificate(
    session: Session,
    path: Path,
    folder: Path,
    *,
    kind: str = "",
    asked: str = "",
    heat: str = "",
    at: datetime,
) -> Certificate:
    """Copy a certificate's file into the folder and record it; equal content is stored once.

    Args:
        session: an open writing session.
        path: the file as received.
        folder: where certificates are kept, `Database.certificates`.
        kind: type of document by EN 10204 where somebody says it: it corrects that of a file on record.
        asked: the type that was ordered, which the file has until somebody says another.
        heat: heat number that it certifies.
        at: the present moment.

    Returns:
        The new record, or the one on file with the same content.

    Raises:
        InputError: the file cannot be read, is empty, or is over 50 MB.
    """
    content = _read(path)
    digest = sha256(content).hexdigest()
    kept = folder / certificate_name(digest, path.name)
    _write_once(kept, content)
    certificate = session.scalar(select(Certificate).where(Certificate.sha256 == digest))
    if certificate is None:
        certificate = Certificate(sha256=digest, file_name=path.name, heat=heat, added_at=at)
        session.add(certificate)
    certificate.kind = kind or certificate.kind or asked
    session.flush()
    return certificate


def refuse_unless_kind(kind: str) -> None:
    """Refuse a type of document that EN 10204 does not have; empty text means not stated.

    Raises:
        InputError: any other text.
    """
    if kind not in CERTIFICATE_KINDS:
        raise InputError(
            f"Certificate is {kind!r}; expected one of {', '.join(CERTIFICATE_KINDS[1:])} (EN 10204)."
        )


def certificate_name(digest: str, file_name: str) -> str:
    """File name of a stored certificate: the hash of its content, with the ending of the file received.

    >>> certificate_name("ab12", "Cert 7.PDF")
    'ab12.pdf'
    """
    # The rest of the name came from outside and is dropped: no folder or control character gets into ours.
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
            # Synced before it is renamed: after a power cut the name is either absent or the file is whole.
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
