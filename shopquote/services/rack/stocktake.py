"""Import a rack list; enter a count sheet and explain what it found.

A sheet is read whole, with all its mistakes, before anything is stored. Begin at `import_rack` and
`enter_count`.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.grades import Grade, find_grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, Measure, show_length
from shopquote.errors import Fault, InputError, nearest_word
from shopquote.reading.forms import FilledForm, Form
from shopquote.reading.kinds import Typed, name_key
from shopquote.reading.kinds.documents import document_number, is_document
from shopquote.reading.table_files import FileTable, TableRow
from shopquote.records.jobs import Job
from shopquote.records.rack import RackPiece
from shopquote.services.rack.rack import (
    add_pieces,
    find_again,
    move_piece,
    promise_pieces,
    release_promises,
    scrap_piece,
    was_lost,
)
from shopquote.services.rack.rack_on_file import list_pieces
from shopquote.services.rack.rack_uses import correct_length
from shopquote.services.rack.stocktake_forms import COUNT_FORM, NOT_THERE, RACK_FORM
from shopquote.services.shop.database import count_from
from shopquote.services.shop.shop_on_file import grades_on_file, shop_notation, shop_unit
from shopquote.services.shop.values import section_of


@dataclass(frozen=True, slots=True)
class Mismatch:
    """A difference between count and book; `kind` is missing, measured, moved or found.

    `length` and `value` (at cost, in the shop's currency) are by how much the rack changes, negative for
    less.
    """

    kind: str
    code: str
    bar: str
    grade: str
    length: Length
    value: Decimal
    explained: str


@dataclass(frozen=True, slots=True)
class CountResult:
    """A count: rows that agreed with the book, rows left empty, and all differences."""

    agreed: int
    not_counted: int
    differences: tuple[Mismatch, ...]

    @property
    def value(self) -> Decimal:
        """Change of the rack's value at cost by all differences together, in the shop's currency."""
        return sum((difference.value for difference in self.differences), Decimal(0))


@dataclass
class _Row:
    """One row of a rack sheet as read; a bar without a code has `section`, `length` and `count`."""

    row: TableRow
    code: str = ""
    section: Section | None = None
    bar: str = ""
    grade: str = ""
    length: Measure | None = None
    count: int = 1
    cost: Decimal = Decimal(0)
    heat: str | None = None
    place: str | None = None
    note: str = ""
    found: Measure | None = None
    missing: bool = False


@dataclass
class _CountReader:
    """Reads the cells of a sheet and collects its faults."""

    sheet: FilledForm
    grades: Mapping[str, Grade]

    @property
    def faults(self) -> list[Fault]:
        """Faults found so far."""
        return self.sheet.faults

    def fault(self, row: TableRow, key: str, found: str, expected: str, nearest: str | None = None) -> None:
        """Add a fault of a cell."""
        self.sheet.fault(row, key, found, expected, nearest)

    def text(self, row: TableRow, key: str) -> str:
        """A cell as text."""
        return self.sheet.text(row, key)

    def code(self, row: TableRow) -> str:
        """The code of the row's piece as stored, such as R-0007; empty where the cell is."""
        return document_number(self.sheet.value(row, "code"), "R")

    def bar(self, row: TableRow) -> tuple[Section | None, str]:
        """The section and its text; without a section, and with a fault noted, if it cannot be read."""
        text = self.text(row, "bar")
        if not text:
            self.fault(row, "bar", "", "a bar such as round 12")
        bar: Typed | None = self.sheet.value(row, "bar")
        return (None, text) if bar is None else (section_of(bar.value, text), text)

    def grade(self, row: TableRow) -> str:
        """The grade's name on file; the text as typed, and a fault noted, if there is none."""
        text = self.text(row, "grade")
        try:
            return find_grade(text, self.grades).name
        except InputError:
            self.fault(row, "grade", text, "a grade on file", nearest_word(text, self.grades))
            return text

    def new_bar(self, row: TableRow, length: str) -> "_Row":
        """A row that has no code and so adds bars; its length stands in the column `length`."""
        read = _Row(row, grade=self.grade(row), length=self.sheet.value(row, length))
        read.count = self.sheet.value(row, "count")
        read.section, read.bar = self.bar(row)
        if not self.text(row, length):
            self.fault(row, length, "", "the length of the bar")
        read.cost, read.heat = (self.sheet.value(row, key) for key in ("cost", "heat"))
        read.place, read.note = (self.text(row, key) for key in ("place", "note"))
        return read


def import_rack(
    session: Session, table: FileTable, *, on: date, left_out: list[Fault] | None = None
) -> tuple[RackPiece, ...]:
    """Put the bars of a sheet on the rack; returns the new pieces.

    Columns: bar, grade, length; and count, heat, place, cost and note where present. A row with the code of a
    piece on the rack only moves it to the row's place. If no piece was ever on file, the sheet comes from
    another database: its codes are kept, because they stand on the labels, and a piece is promised to its
    row's job where that job is on file.

    Args:
        session: an open writing session.
        table: the sheet.
        on: the day from which the pieces count as made.
        left_out: as of `enter_count`.

    Raises:
        InputError: all mistakes of the sheet, by row; nothing is stored.
    """
    reader = _reader(session, table, RACK_FORM)
    if session.scalar(select(RackPiece.id).limit(1)) is None:
        return _import_with_codes(session, reader, on, left_out)
    on_rack = {piece.code for piece in list_pieces(session)}
    rows = _good_rows(reader, [_read_new(reader, row, on_rack) for row in table.rows], left_out)
    new: list[RackPiece] = []
    for row in rows:
        # An exported list may be imported again: pieces on the rack are moved, never added twice.
        if row.code:
            if row.place:
                move_piece(session, row.code, row.place)
            continue
        new.extend(_add(session, row, on))
    return tuple(new)


def _import_with_codes(
    session: Session, reader: _CountReader, on: date, left_out: list[Fault] | None
) -> tuple[RackPiece, ...]:
    rows = [reader.new_bar(row, "length") for row in reader.sheet.table.rows]
    for row in rows:
        if reader.code(row.row):
            _read_code(reader, row)
    _refuse_doubles(reader, rows)
    rows = _good_rows(reader, rows, left_out)
    # First, so that rows without a code get numbers above all codes of the sheet.
    known = {int(row.code[2:]) for row in rows if row.code}
    if known:
        count_from(session, "R", max(known))
    new: list[RackPiece] = []
    for row in rows:
        came = _add(session, row, on)
        new.extend(came)
        job = reader.text(row.row, "job")
        if job and session.scalar(select(Job.id).where(Job.number == document_number(job, "J"))) is not None:
            promise_pieces(session, [piece.code for piece in came], job)
    return tuple(new)


def _read_code(reader: _CountReader, row: _Row) -> None:
    row.code = reader.code(row.row)
    if not is_document(row.code, "R"):
        reader.fault(row.row, "code", row.code, "a code such as R-0031, or nothing for a new one")
    if row.count != 1:
        reader.fault(row.row, "count", str(row.count), "1: a code is one piece's")


def enter_count(
    session: Session,
    table: FileTable,
    *,
    on: date,
    scope: str | None = None,
    left_out: list[Fault] | None = None,
) -> CountResult:
    """Enter a filled-in count sheet and explain every difference.

    Column `found` holds the measured length, 0 for a piece that is not there, or nothing for one that was not
    looked for. A row without a code is a bar that is not on the book; `cost` is per bar. The code of a piece
    that an earlier count did not find brings it back.

    Args:
        session: an open writing session.
        table: the sheet.
        on: day of the count.
        scope: what was counted, noted with each change.
        left_out: receives the faults of rows to leave out; None: any fault refuses the whole sheet.

    Raises:
        InputError: all mistakes of the sheet, by row; nothing is stored.
    """
    reader = _reader(session, table, COUNT_FORM)
    pieces = {piece.code: piece for piece in list_pieces(session)}
    others = _off_the_rack(session, reader, pieces)
    lost = {code: piece for code, piece in others.items() if was_lost(session, piece)}
    rows = [_read_count(reader, row, pieces | lost, others) for row in table.rows]
    _refuse_doubles(reader, rows)
    rows = _good_rows(reader, rows, left_out)
    note = f"count {on.isoformat()}" + (f" {scope}" if scope else "")
    differences: list[Mismatch] = []
    agreed = not_counted = 0
    for row in rows:
        if not row.code:
            differences += [_found(piece) for piece in _add(session, row, on, note)]
        elif row.missing and row.code in pieces:
            differences.append(_missing(session, pieces[row.code], note))
        elif row.found is None:
            not_counted += 1
        elif row.code in lost:
            differences += _back(session, lost[row.code], row, note)
        else:
            changed = _measured(session, pieces[row.code], row, note)
            differences += changed
            agreed += not changed
    return CountResult(agreed, not_counted, tuple(differences))


# --- reading --------------------------------------------------------------------------------------


def _reader(session: Session, table: FileTable, form: Form) -> _CountReader:
    return _CountReader(form.open(table, shop_notation(session)), grades_on_file(session))


def _read_new(reader: _CountReader, row: TableRow, on_rack: set[str]) -> _Row:
    code = reader.code(row)
    if code:
        if code not in on_rack:
            expected = "a piece on the rack, or nothing for a new one"
            reader.fault(row, "code", code, expected, nearest_word(code, on_rack))
        return _Row(row, code=code, place=reader.text(row, "place"))
    return reader.new_bar(row, "length")


def _off_the_rack(
    session: Session, reader: _CountReader, on_rack: Mapping[str, RackPiece]
) -> dict[str, RackPiece]:
    """Pieces named in a count sheet that are not on the rack any more, by code."""
    codes = {reader.code(row) for row in reader.sheet.table.rows} - set(on_rack)
    return {
        piece.code: piece for piece in session.scalars(select(RackPiece).where(RackPiece.code.in_(codes)))
    }


def _why_not_counted(piece: RackPiece) -> str:
    """What a row with the code of a piece that left the rack should hold instead."""
    if piece.state == "used":
        job = "" if piece.used_job is None else f" for {piece.used_job.number}"
        return f"a piece on the rack: it was cut{job}; its offcut goes in by: rack return {piece.code} LENGTH"
    return f"a piece on the rack: it is {piece.state}; a bar found goes in without a code"


def _read_count(
    reader: _CountReader, row: TableRow, pieces: Mapping[str, RackPiece], others: Mapping[str, RackPiece]
) -> _Row:
    code = reader.code(row)
    found = reader.text(row, "found")
    if not code:
        return reader.new_bar(row, "found")
    if code not in pieces:
        if code in others:
            reader.fault(row, "code", code, _why_not_counted(others[code]))
        else:
            reader.fault(row, "code", code, "a piece on the rack", nearest_word(code, pieces))
    # A count does not change costs: what a piece cost was settled when it arrived.
    if reader.text(row, "cost"):
        reader.fault(row, "cost", reader.text(row, "cost"), "nothing: the piece keeps its cost")
    read = _Row(row, code=code, place=reader.text(row, "place"), note=reader.text(row, "note"))
    if found.lower() in NOT_THERE:
        read.missing = True
    # A tick confirms the length on the book.
    elif found.lower() in ("yes", "ok", "y") and code in pieces:
        read.found = Measure(pieces[code].length_text, pieces[code].length)
    else:
        read.found = reader.sheet.value(row, "found")
    return read


def _good_rows(reader: _CountReader, rows: Sequence[_Row], left_out: list[Fault] | None) -> list[_Row]:
    """All rows, or with `left_out` those without a fault, while the other rows' faults are added to it.

    Raises:
        InputError: every fault, if none may be left out or no row is without one.
    """
    bad = {fault.mark for fault in reader.faults}
    good = [row for row in rows if f"row {row.row.number}" not in bad]
    if reader.faults and (left_out is None or not good):
        raise InputError.from_faults(reader.faults)
    if left_out is not None:
        left_out += reader.faults
    return good


def _refuse_doubles(reader: _CountReader, rows: Sequence[_Row]) -> None:
    seen: set[str] = set()
    for row in rows:
        if row.code and row.code in seen:
            reader.fault(row.row, "code", row.code, "each piece once")
        seen.add(row.code)


# --- storing --------------------------------------------------------------------------------------


def _add(session: Session, row: _Row, on: date, note: str = "") -> tuple[RackPiece, ...]:
    assert row.section is not None and row.length is not None
    return add_pieces(
        session, row.section, row.bar, row.grade, row.length, count=row.count, heat=row.heat or "",
        place=row.place or "", cost=row.cost, note=row.note or note, on=on, code=row.code,
    )  # fmt: skip


def _mismatch(kind: str, piece: RackPiece, length: Length, value: Decimal, explained: str) -> Mismatch:
    return Mismatch(kind, piece.code, piece.section_text, piece.grade, length, value, explained)


def _found(piece: RackPiece) -> Mismatch:
    cost = f"at {piece.cost:f}" if piece.cost else "without a cost"
    told = f"was not on the book; now {piece.code}, {cost}"
    return _mismatch("found", piece, piece.length, piece.cost, told)


def _back(session: Session, piece: RackPiece, row: _Row, note: str) -> list[Mismatch]:
    find_again(session, piece, note)
    told = "was written off as lost; it is free again, with its heat and cost"
    back = _mismatch("found", piece, piece.length, piece.cost, told)
    return [back, *_measured(session, piece, row, note)]


def _missing(session: Session, piece: RackPiece, note: str) -> Mismatch:
    explained = "not there"
    if piece.state == "promised":
        job = "" if piece.promised_job is None else piece.promised_job.number
        # Released first: `scrap_piece` refuses promised pieces, and only then does the job count as short.
        release_promises(session, codes=[piece.code])
        explained = f"not there; it was promised to {job}, which needs another"
    scrap_piece(session, piece.code, note, kind="lost")
    return _mismatch("missing", piece, Length(-piece.length.nm), -piece.cost, explained)


def _measured(session: Session, piece: RackPiece, row: _Row, note: str) -> list[Mismatch]:
    assert row.found is not None
    found: list[Mismatch] = []
    if row.place and name_key(row.place) != name_key(piece.place):
        old = piece.place or "-"
        move_piece(session, piece.code, row.place)
        told = f"lay at {row.place}, not at {old}"
        found.append(_mismatch("moved", piece, Length(0), Decimal(0), told))
    if row.found.length != piece.length:
        book, unit = piece.length, shop_unit(session)
        there, was = (show_length(one, unit, exact=True) for one in (row.found.length, book))
        correct_length(session, piece, row.found, note)
        # Its value stays: cost was settled when the bar arrived, even if it is a little longer or shorter.
        told = f"{there} found, {was} on the book"
        found.append(_mismatch("measured", piece, row.found.length - book, Decimal(0), told))
    return found
