"""Log a filled-in floor sheet: minutes, bars used, offcuts, scrap.

All faults of the workbook are reported together, by tab, row and column, and nothing is stored. A row that
was logged before is skipped if it still says the same: a sheet can be read again with more filled in.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure, show_length
from shopquote.errors import Fault, InputError, Misread, ShopquoteError, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.kinds.documents import document_number
from shopquote.records.jobs import Job
from shopquote.records.logs import ScrapNote, TimeEntry
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.floor.bar_log import log_bars, log_piece, stock_price
from shopquote.services.floor.log import Logged, log_scrap, open_for_log
from shopquote.services.floor.sheet_rows import SheetRow, read_sheet
from shopquote.services.floor.tabs import BARS_TAB, MINUTES_TAB, REWORK, SCRAP_TAB
from shopquote.services.floor.time_log import MINUTE_STEP, log_minutes
from shopquote.services.jobs.jobs import newest_revision
from shopquote.services.shop.shop_on_file import grade_on_file, shop_notation

EXPECTED_LENGTHS = "lengths apart by a semicolon, such as 1450; 620"


@dataclass(frozen=True, slots=True)
class SheetLogged:
    """Entries logged from a sheet, and the number of rows that were logged before."""

    logged: tuple[Logged, ...]
    before: int


def log_from_sheet(
    session: Session, number: str, path: Path, *, today: date, at: datetime, but: Sequence[Fault] = ()
) -> SheetLogged:
    """Log all rows of a floor sheet, or none and report every fault.

    Args:
        session: open and writing; the caller commits.
        number: of the job.
        path: the filled-in workbook.
        today: last day that a row may have.
        at: the present moment.
        but: faults found before by `sheet_faults`, whose rows are left out.

    Raises:
        NotFoundError: no such job.
        InputError: the file is not a floor sheet of this job, or rows cannot be used.
    """
    reader = _read_all(session, number, path, today, at, but)
    if reader.faults:
        raise InputError.from_faults(reader.faults)
    return SheetLogged(tuple(reader.logged), reader.before)


def sheet_faults(
    session: Session, number: str, path: Path, *, today: date, at: datetime
) -> tuple[Fault, ...]:
    """Every fault of a sheet's rows; the good rows are logged on the way, so the caller rolls back.

    Raises:
        NotFoundError: no such job.
        InputError: the file is not a floor sheet of this job.
    """
    return tuple(_read_all(session, number, path, today, at, ()).faults)


def _read_all(
    session: Session, number: str, path: Path, today: date, at: datetime, but: Sequence[Fault]
) -> "_SheetReader":
    job, _ = open_for_log(session, number, at)
    sheet = read_sheet(path)
    if sheet.job != job.number:
        raise InputError(f"{path.name} is the floor sheet of {sheet.job}, not of {job.number}.")
    reader = _SheetReader(session, job, path.name, sheet.serial, today, at)
    reader.codes = frozenset(sheet.codes)
    left_out = {(fault.table, fault.mark) for fault in but}
    for row in sheet.rows:
        if (f"tab {row.tab.name}", f"row {row.row}") not in left_out:
            reader.take(row)
    return reader


class _SheetReader:
    """Logs rows one by one; collects what was logged, and faults."""

    def __init__(self, session: Session, job: Job, name: str, serial: str, today: date, at: datetime) -> None:
        self.session, self.job, self.name, self.serial, self.today, self.at = (
            session,
            job,
            name,
            serial,
            today,
            at,
        )
        revision = newest_revision(session, job)
        self.notation = shop_notation(session).within(revision.unit)
        # Of the newest revision, not of the printed one: pieces are counted against what is to be made now.
        self.marks = [part.mark for part in revision.parts]
        self.logged: list[Logged] = []
        self.faults: list[Fault] = []
        self.before = 0
        # Codes of rack pieces printed on the sheet, whether their rows are filled in or not.
        self.codes: frozenset[str] = frozenset()

    def take(self, row: SheetRow) -> None:
        """Log one row, or add its faults."""
        found = len(self.faults)
        take = {MINUTES_TAB.name: self._minutes, BARS_TAB.name: self._bars, SCRAP_TAB.name: self._scrap}
        try:
            take[row.tab.name](row, found)
        except ShopquoteError as error:
            self._tell(row, "", error)

    def _minutes(self, row: SheetRow, found: int) -> None:
        operation = self._value(row, "Operation")
        minutes = self._number_of(row, "Minutes")
        day = self._day_of(row)
        rework, reason = self._rework(row)
        # Every cell is read before this, so that one reading names all faults of the row.
        if len(self.faults) > found or operation is None or minutes is None or day is None:
            return
        source = self._source(row)
        held = self._held(TimeEntry, source)
        if held is not None:
            same = (held.operation, held.minutes, held.worked_on) == (
                operation,
                minutes.quantize(MINUTE_STEP),
                day,
            )
            self._seen(row, same)
            return
        self.logged.append(
            log_minutes(
                self.session, self.job.number, operation, minutes, on=day, today=self.today, at=self.at,
                person=_text(row.values["Person"]), rework=rework, reason=reason, source=source,
            )
        )  # fmt: skip

    def _bars(self, row: SheetRow, found: int) -> None:
        piece = _text(row.values["Rack piece"])
        back = self._lengths(row)
        used = self._filled_number(row, "Used")
        cost = self._filled_number(row, "Cost")
        delivery = self._filled_number(row, "Delivery")
        if used is None:
            # A length came back of a piece whose count was left empty: it was one bar.
            used = 1 if back else None
        day = self._day_of(row)
        rework, reason = self._rework(row)
        if used is None and len(self.faults) == found:
            self._fault(row, "Used", "nothing", "how many bars were sawn")
        if len(self.faults) > found or used is None or day is None or used == 0:
            return
        source = self._source(row)
        held = self._held(BarUse, source, str(piece or ""))
        if held is not None:
            # A rack piece is used once, so that its row cannot say anything else.
            self._seen(row, bool(piece) or _says(held, used, cost, delivery))
        elif not piece:
            self._typed_bars(row, used, cost, delivery, back, day, rework, reason, source)
        elif not self._refused_charges(row, {"Cost": cost, "Delivery": delivery}):
            self._one_piece(row, piece, used, back, day, rework, reason, source)

    def _refused_charges(self, row: SheetRow, charges: Mapping[str, Decimal | None]) -> bool:
        """Whether a rack piece's row names charges, each then a fault."""
        named = {heading: amount for heading, amount in charges.items() if amount is not None}
        for heading, amount in named.items():
            self._fault(row, heading, f"{amount}", "nothing, because a rack piece brings its own cost")
        return bool(named)

    def _one_piece(
        self, row: SheetRow, code: str, used: int, back: list[Measure], day: date, rework: bool,
        reason: str, source: str,
    ) -> None:  # fmt: skip
        if used != 1:
            self._fault(row, "Used", str(used), "1, because a rack piece is one bar")
            return
        self.logged.append(
            log_piece(
                self.session, self.job.number, code, on=day, today=self.today, at=self.at,
                returned=[show_length(measure.length, "mm", exact=True) for measure in back],
                rework=rework, reason=reason, source=source,
            )
        )  # fmt: skip

    def _typed_bars(
        self, row: SheetRow, used: int, cost: Decimal | None, delivery: Decimal | None, back: list[Measure],
        day: date, rework: bool, reason: str, source: str,
    ) -> None:  # fmt: skip
        section = self._word_of(row, "Section", lambda word: kinds.SECTION.read(word, self.notation))
        grade = self._word_of(row, "Grade", lambda word: grade_on_file(self.session, word))
        length = self._word_of(row, "Length", lambda word: kinds.MEASURE.read(word, self.notation))
        if section is None or grade is None or length is None:
            return
        # Such bars are logged by their code: typed here they would be charged and still lie on the rack.
        codes = self._lying_since(section.key, grade.name)
        if codes:
            shown = ", ".join(codes[:5])
            self._fault(
                row, "Rack piece", "nothing", f"which was sawn, a row each: {shown} came for this job"
            )
            return
        if cost is None:
            cost = stock_price(self.session, section, grade, length, used, (day, self.today))
        if cost is None:
            bars = f"{length.text} of {section.text} in {grade.name}"
            self._fault(row, "Cost", "nothing", f"what the bars cost in all: no price is on file for {bars}")
            return
        self.logged.append(
            log_bars(
                self.session,
                self.job.number,
                _text(row.values["Section"]),
                grade.name,
                length.text,
                used,
                on=day,
                today=self.today,
                at=self.at,
                cost=cost,
                delivery=delivery,
                returned=[show_length(measure.length, "mm", exact=True) for measure in back],
                kind="rework" if rework else "work",
                reason=reason,
                source=source,
            )
        )

    def _lying_since(self, section_key: str, grade: str) -> Sequence[str]:
        """Promised bars of this material that arrived after the sheet was printed: it does not name them."""
        printed = datetime.strptime(self.serial, "%Y%m%d-%H%M%S").date()
        query = (
            select(RackPiece.code)
            .where(
                RackPiece.promised_job_id == self.job.id,
                RackPiece.section_key == section_key,
                RackPiece.grade == grade,
                RackPiece.made_on >= printed,
                RackPiece.received_bar_id.is_not(None),
                RackPiece.parent_id.is_(None),
            )
            .order_by(RackPiece.id)
        )
        return [code for code in self.session.scalars(query) if code not in self.codes]

    def _scrap(self, row: SheetRow, found: int) -> None:
        mark = _text(row.values["Mark"])
        if mark not in self.marks:
            self._fault(row, "Mark", mark or "nothing", "a mark of this job", nearest_word(mark, self.marks))
        count = self._number_of(row, "Pieces")
        day = self._day_of(row)
        reason = _text(row.values["Reason"])
        if not reason:
            self._fault(row, "Reason", "nothing", "why the pieces were scrapped")
        if len(self.faults) > found or count is None or day is None:
            return
        source = self._source(row)
        held = self._held(ScrapNote, source)
        if held is not None:
            self._seen(row, (held.mark, held.count) == (mark, count))
            return
        self.logged.append(
            log_scrap(
                self.session,
                self.job.number,
                mark,
                count,
                on=day,
                today=self.today,
                at=self.at,
                reason=reason,
                person=_text(row.values["Person"]),
                source=source,
            )
        )

    # -- cells --------------------------------------------------------------------------------

    def _word_of(self, row: SheetRow, column: str, read: Callable[[str], Any]) -> Any:
        """A required cell of a bar, read by `read`; None with a fault noted if it cannot be."""
        word = _text(row.values[column])
        if not word:
            self._fault(row, column, "nothing", f"the {column.lower()} of the bar")
            return None
        try:
            return read(word)
        except ShopquoteError as error:
            self._tell(row, column, error)
            return None

    def _value(self, row: SheetRow, column: str) -> Any:
        """A cell's value by its column's kind; None with a fault noted if it cannot be read."""
        try:
            return row.tab.form.column(column).kind.read(row.values[column], self.notation)
        except Misread as error:
            self._fault(row, column, error.found.strip("'"), error.expected, error.nearest)
            return None

    def _filled_number(self, row: SheetRow, column: str) -> Any:
        """A number from a cell that may be empty."""
        return None if row.values[column] in (None, "") else self._number_of(row, column)

    def _number_of(self, row: SheetRow, column: str) -> Any:
        number = self._value(row, column)
        if number == 0 and column not in ("Used", "Cost", "Delivery"):
            self._fault(row, column, _text(row.values[column]), "more than 0")
            return None
        return number

    def _day_of(self, row: SheetRow) -> date | None:
        day: date | None = self._value(row, "Day")
        if day is not None and day > self.today:
            self._fault(row, "Day", day.isoformat(), f"a day not after {self.today.isoformat()}")
            return None
        return day

    def _rework(self, row: SheetRow) -> tuple[bool, str]:
        reason = _text(row.values["Reason or note"])
        try:
            again = REWORK.read(row.values["Rework"], self.notation)
        except Misread as error:
            self._fault(row, "Rework", error.found, REWORK.expected)
            return False, reason
        if again and not reason:
            self._fault(row, "Reason or note", "nothing", "why it was made again")
        return again, reason

    def _lengths(self, row: SheetRow) -> list[Measure]:
        try:
            return list(kinds.measures(row.values["Came back"], self.notation))
        except Misread as error:
            found, expected = error.found.strip("'"), EXPECTED_LENGTHS
            self._fault(
                row, "Came back", found, error.expected if isinstance(error, TwoReadings) else expected
            )
            return []

    def _source(self, row: SheetRow) -> str:
        # The row's place on this printed sheet: a workbook that is read again is recognised row by row.
        return f"sheet {self.serial} {row.tab.name} {row.row}"

    def _held(self, table: Any, source: str, piece: str = "") -> Any:
        """The entry of a row of this sheet; of a rack piece it may be another job's that shares the piece."""
        of_piece = select(RackPiece.id).where(RackPiece.code == document_number(piece, "R"))
        its = table.rack_piece_id.in_(of_piece) if piece else table.job_id == self.job.id
        return self.session.scalar(select(table).where(its, table.source == source).limit(1))

    def _seen(self, row: SheetRow, same: bool) -> None:
        if same:
            self.before += 1
        else:
            message = (
                "it was logged before and now says something else; take the old entry back first: "
                f"shopquote log {self.job.number} --strike N --reason TEXT"
            )
            self.faults.append(self._at(row, "", message=message))

    def _fault(
        self, row: SheetRow, column: str, found: str, expected: str, nearest: str | None = None
    ) -> None:
        # A cell may hold a page of text; the message is for one line of a terminal.
        shown = found if len(found) <= 60 else found[:57] + "..."
        self.faults.append(self._at(row, column, shown, expected, nearest))

    def _tell(self, row: SheetRow, column: str, error: ShopquoteError) -> None:
        """Add a fault whose message is a whole sentence already."""
        self.faults.append(self._at(row, column, message=error.message))

    def _at(
        self, row: SheetRow, column: str, found: str = "", expected: str = "", nearest: str | None = None,
        message: str | None = None,
    ) -> Fault:  # fmt: skip
        place = (f"tab {row.tab.name}", f"row {row.row}", column)
        return Fault(self.name, *place, found, expected, nearest, message)


def _says(held: BarUse, used: int, cost: Decimal | None, delivery: Decimal | None) -> bool:
    """Whether a row still says what was logged of bars; only the logged cost includes the delivery."""
    alone = held.cost - (held.delivery or Decimal(0))
    return held.count == used and cost in (None, alone) and delivery in (None, held.delivery)


def _text(value: Any) -> str:
    """A cell as text; a whole number without a decimal point."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()
