"""Papers that go with a delivery: the heats of its parts and the certificates of these heats.

Certificate files lie beside the database. Only bars used for the job count: one that is promised may still go
elsewhere. Reads only.
"""

from collections.abc import Mapping
from pathlib import Path

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.files import bytes_of
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.trace import TraceLink, trace_job
from shopquote.services.shop.certificates import LARGEST_BYTES, certificate_name


@dataclass(frozen=True, slots=True)
class PackFile:
    """A certificate's file: its name as received, and its content."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class PackHeat:
    """Parts cut from one section of one heat.

    `files` are (type, index in the pack) of its certificates; `pieces` counts by mark what was planned from
    its bars, empty if no plan is known.
    """

    marks: tuple[str, ...]
    bar: str
    grade: str
    heat: str
    files: tuple[tuple[str, int], ...]
    pieces: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class DocumentPack:
    """The heats of a job, and their certificates' files, each once."""

    heats: tuple[PackHeat, ...]
    files: tuple[PackFile, ...]


def document_pack(session: Session, job_number: str, certificates: Path) -> DocumentPack:
    """Heats and certificates of the bars that a job used.

    Args:
        session: an open session.
        job_number: the job.
        certificates: the folder of certificate files.

    Raises:
        NotFoundError: no such job, or a certificate's file is gone.
        InputError: no bar is logged as used for the job.
    """
    number = find_job(session, job_number).number
    links = [link for link in trace_job(session, number) if link.state == "used"]
    if not links:
        raise InputError(
            f"No bar is logged as used for {number}: its heats are not known.",
            hint=f"shopquote rack use PIECE --job {number}, or leave out --pack.",
        )
    groups: dict[tuple[str, str, str], list[TraceLink]] = {}
    for link in links:
        groups.setdefault((link.section, link.grade, link.origin.heat), []).append(link)
    cut = [(of, found, _pieces(found, number)) for of, found in groups.items()]
    # In order of marks, as on the note; bars without a known plan come last.
    cut.sort(key=lambda one: (not one[2], sorted(one[2])))
    names: dict[str, str] = {}
    for link in (link for _, found, _ in cut for link in found):
        if link.origin.certificate_sha256:
            names.setdefault(link.origin.certificate_sha256, link.origin.certificate)
    order = list(names)
    heats = tuple(
        PackHeat(tuple(sorted(pieces)), bar, grade, heat, _files(found, order), pieces)
        for (bar, grade, heat), found, pieces in cut
    )
    return DocumentPack(heats, tuple(_file(certificates, digest, names[digest]) for digest in order))


def _pieces(links: list[TraceLink], number: str) -> dict[str, int]:
    pieces: dict[str, int] = {}
    for link in links:
        for job, mark, count in link.parts:
            if job == number:
                pieces[mark] = pieces.get(mark, 0) + count
    return pieces


def _files(links: list[TraceLink], order: list[str]) -> tuple[tuple[str, int], ...]:
    kinds = {
        link.origin.certificate_sha256: link.origin.certificate_kind
        for link in links
        if link.origin.certificate_sha256
    }
    return tuple((f"EN 10204 {kind}" if kind else "", order.index(digest)) for digest, kind in kinds.items())


def _file(folder: Path, digest: str, name: str) -> PackFile:
    path = folder / certificate_name(digest, name)
    if not path.is_file():
        raise NotFoundError(
            f"Certificate {name} is not in {folder}.", hint="shopquote db check tells what is missing."
        )
    return PackFile(name, bytes_of(path, LARGEST_BYTES))
