"""Sawing entered with a scanner: codes from labels and lengths that came back, line by line.

A line is a job's code (for the pieces after it), a rack piece's code (it was sawn), or a length (it came back
of the piece above). A promised piece needs no job's code. Begin at `scan_lines`.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure
from shopquote.errors import Fault, InputError, Misread, ShopquoteError
from shopquote.reading.kinds import MEASURE, Notation
from shopquote.reading.kinds.documents import is_document, scanned_code
from shopquote.services.floor.log import open_for_log
from shopquote.services.rack.rack import why_not_free
from shopquote.services.rack.rack_on_file import LIVE, find_piece
from shopquote.services.rack.rack_uses import UsedBar, use_bar
from shopquote.services.shop.shop_on_file import shop_notation

# Far more than a day of sawing: a file given by mistake is refused early.
MOST_LINES = 5_000


@dataclass(frozen=True, slots=True)
class Scan:
    """A piece that was sawn, and lengths that came back of it; `line` is where it was scanned, from 1.

    `job` is the code scanned before it, or empty; `sawn` the number of pieces, 0 if unknown. `source` is
    where the record comes from, by which it is found again; None: the rack piece.
    """

    line: int
    piece: str
    job: str = ""
    back: tuple[Measure, ...] = ()
    sawn: int = 0
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Sawn:
    """A piece that was entered: its job, cost, and offcuts with their codes."""

    job: str
    used: UsedBar
    note: str = ""


def is_code(line: str) -> bool:
    """Whether a line is a job's or piece's code, which ends the piece before it."""
    return is_document(line, "J") or is_document(line, "R")


def scan_lines(
    session: Session,
    lines: Iterable[str],
    *,
    job: str = "",
    on: date,
    at: datetime,
    place: str | None = None,
    name: str = "scans",
) -> tuple[Sawn, ...]:
    """Read scanned lines and enter them, all or none; see `read_scans` and `enter_scans`.

    Raises:
        InputError: all mistakes, by line.
    """
    scans = read_scans(lines, shop_notation(session), job, name)
    return enter_scans(session, scans, on=on, at=at, place=place, name=name)


def read_scans(
    lines: Iterable[str], notation: Notation, job: str = "", name: str = "scans"
) -> tuple[Scan, ...]:
    """Scanned lines as pieces; blank lines are skipped.

    Args:
        lines: as scanned and typed.
        notation: unit and locale of the lengths.
        job: job of the first pieces, until a job's code is scanned.
        name: name of the lines in messages.

    Raises:
        InputError: all mistakes, by line.

    >>> read_scans(["j-7", "R-0031", "1100", "640"], Notation())[0].job
    'J-7'
    """
    faults: list[Fault] = []
    found: list[Scan] = []
    for number, line in enumerate(lines, start=1):
        word = " ".join(line.split())
        code = scanned_code(word).upper()
        # Raised at once, not collected: a wrong file could be of any length.
        if number > MOST_LINES:
            raise InputError(f"{name}: more than {MOST_LINES} lines; enter them in parts.")
        if not word:
            continue
        if is_document(code, "J"):
            job = code
        elif is_document(code, "R"):
            found.append(Scan(number, code, job))
        else:
            length = _length(word, notation)
            if length is None:
                expected = "a piece (R-0031), a job (J-0007) or a length that came back (1100)"
                faults.append(_fault(name, number, word, expected))
            elif not found:
                faults.append(_fault(name, number, word, "the piece that it came back of, before it"))
            else:
                found[-1] = replace(found[-1], back=(*found[-1].back, length))
    if faults:
        raise InputError.from_faults(faults)
    return tuple(found)


def one_by_one(lines: Iterable[str]) -> Iterator[tuple[str, ...]]:
    """Lines in groups of one piece each, with its job's code, as soon as the piece is complete.

    The next code or a blank line completes a piece; a second blank line ends the input.

    >>> list(one_by_one(["J-7", "R-1", "1100", "R-2", "", "", "R-3"]))
    [('J-7', 'R-1', '1100'), ('J-7', 'R-2')]
    """
    job: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()
    for line in lines:
        word = line.strip()
        if waiting and (not word or is_code(word)):
            yield (*job, *waiting)
            waiting = ()
        # A blank line with no piece waiting is the second in a row: the person is done.
        elif not word:
            return
        if is_document(word, "J"):
            job = (word,)
        elif word:
            waiting = (*waiting, word)
    if waiting:
        yield (*job, *waiting)


def _fault(name: str, line: int, found: str, expected: str) -> Fault:
    return Fault(name, "", f"line {line}", "", repr(found[:60]), expected)


def _length(word: str, notation: Notation) -> Measure | None:
    try:
        return MEASURE.read(word, notation)
    except Misread:
        return None


def enter_scans(
    session: Session,
    scans: Sequence[Scan],
    *,
    on: date,
    at: datetime,
    place: str | None = None,
    name: str = "scans",
) -> tuple[Sawn, ...]:
    """Enter every piece as sawn for its job, and what came back as new pieces; all or nothing.

    Args:
        session: an open writing session.
        scans: what was scanned.
        on: day of the sawing.
        at: the present moment.
        place: where the offcuts lie; None: where their bar lay.
        name: name of the lines in messages.

    Raises:
        InputError: all mistakes, by line: a piece that does not exist, is promised to another job, was sawn
            already or scanned twice, has no job, or gave back more than it had.
    """
    faults: list[Fault] = []
    sawn: list[Sawn] = []
    for scan in scans:
        try:
            sawn.append(_enter(session, scan, on, at, place))
        except ShopquoteError as error:
            fault = _fault(name, scan.line, scan.piece, "a piece that can be entered")
            faults.append(replace(fault, message=error.message))
    if faults:
        raise InputError.from_faults(faults)
    return tuple(sawn)


def _enter(session: Session, scan: Scan, on: date, at: datetime, place: str | None) -> Sawn:
    piece = find_piece(session, scan.piece)
    # Before `use_bar`, whose message does not say where the piece went.
    if piece.state not in LIVE:
        raise InputError(why_not_free(session, piece))
    # A scanned job overrides the promise: it was named on purpose, and `use_bar` refuses another job's piece.
    number = scan.job or ("" if piece.promised_job is None else piece.promised_job.number)
    if not number:
        raise InputError(f"Piece {piece.code} is promised to no job; scan the job's code before it.")
    job, note = open_for_log(session, number, at)
    used = use_bar(
        session, piece.code, job.number, returned=scan.back, used_on=on, place=place, sawn=scan.sawn,
        source=scan.source,
    )  # fmt: skip
    return Sawn(job.number, used, note)
