"""The job file: TOML in, a checked `JobSpec` out, and back again.

Begin at `read_job_file`. Every mistake of a file is gathered and told at once; a
file with a mistake gives no job at all. The workbook reader hands its rows to
`read_job_tables` too, so that both forms obey the same rules.
"""

import json
import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar, cast

from shopquote.calc.job import (
    BEND_AXES,
    DIMS,
    FINISH_KINDS,
    LABOUR_PERS,
    OPERATIONS,
    OTHER_PROCESS_NAMES,
    OUTSIDE_BASES,
    USES,
    WELD_KINDS,
    WELD_PROCESSES,
    BoughtSpec,
    End,
    FinishSpec,
    HoleSpec,
    JobSpec,
    LabourSpec,
    OutsideSpec,
    PartSpec,
    WeldSpec,
)
from shopquote.calc.money import RATE_DIGITS
from shopquote.calc.units import EXPECTED_LENGTH, Measure, Unit
from shopquote.errors import Fault, InputError, nearest_word

FORMAT = 1

# Limits of one job file, stated in the README. They are far above a small shop's
# jobs and keep every stored number inside its column and every run short.
LONGEST_FILE_BYTES = 10_000_000
MOST_SETS = 100_000
MOST_BREAKS = 20
MOST_PER_SET = 100_000
MOST_PIECES = 1_000_000  # of one part in the whole job, at the largest break too
MOST_ROWS = {
    "part": 2_000, "weld": 2_000, "bought": 2_000, "outside": 200, "labour": 500, "holes": 50,
}  # fmt: skip
LONGEST_TEXT = 200
LONGEST_MARK = 20
LONGEST_SHAPE = 4_000
MOST_MONEY = Decimal(1_000_000_000)
MOST_MINUTES = Decimal(1_000_000)
MINUTE_DIGITS = 3
ANGLE_DIGITS = 3
MOST_COATS = 20
EARLIEST_DUE, LATEST_DUE = date(2000, 1, 1), date(2199, 12, 31)

# The key of each table; the workbook has a tab for each table and a column for each key.
TOP_KEYS = ("format", "job", "part", "weld", "bought", "outside", "labour", "finish")
JOB_KEYS = ("title", "customer", "sets", "breaks", "units", "use", "due")
PART_KEYS = (
    "mark", "name", "per_set", "bar", "grade", "dims", "shape", "length", "bend_axis", "ends", "holes",
    "one_heat",
)  # fmt: skip
HOLE_KEYS = ("dia", "count", "tapped", "countersunk")
WELD_KEYS = ("kind", "leg", "length", "count", "process", "note")
BOUGHT_KEYS = ("name", "per_set", "unit_cost")
OUTSIDE_KEYS = ("name", "basis", "rate", "minimum")
LABOUR_KEYS = ("operation", "minutes", "per")
FINISH_KEYS = ("kind", "coats")

_PLAIN_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)
_AMOUNT = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+", re.ASCII)
_WHOLE = re.compile(r"[0-9]{1,12}", re.ASCII)

Word = TypeVar("Word", bound=str)
Spec = TypeVar("Spec")


class PlacedRow(dict[str, object]):
    """A row of a table that knows where a person finds it, and under which headings.

    Keys in `told` have had their mistake told already and are not complained of again.
    """

    def __init__(
        self,
        values: Mapping[str, object],
        table: str,
        place: str,
        headings: Mapping[str, str],
        told: Iterable[str] = (),
    ) -> None:
        super().__init__(values)
        self.table = table
        self.place = place
        self.headings = headings
        self.told = frozenset(told)


# The parser of one kind of text: gives a value or raises InputError.
WordsOf = Callable[[str, Unit], object]


def read_job_file(path: Path, *, grades: Iterable[str] | None = None) -> JobSpec:
    """Read and check one job file.

    `grades` are the grade names of the shop; without them the starting grades count.

    Raises:
        InputError: the file cannot be read, is not TOML, or has mistakes (`.faults`).
    """
    return read_job_text(read_text(path), str(path), grades=grades)


def read_text(path: Path) -> str:
    """The text of a file in UTF-8, with or without a byte order mark.

    Raises:
        InputError: no such file, not a file, too long, or not UTF-8.
    """
    check_file(path)
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}: line {line} holds a character that is not UTF-8.",
            hint="Save the file as UTF-8 text and read it again.",
        ) from error


def check_file(path: Path) -> None:
    """Refuse a path that is no file to read, or one over the limit."""
    if not path.exists():
        raise InputError(f"{path}: there is no such file.", hint=_file_hint(path))
    if not path.is_file():
        raise InputError(f"{path}: this is not a file.", hint="Name a job file, such as hooks.toml.")
    size = path.stat().st_size
    if size > LONGEST_FILE_BYTES:
        raise InputError(
            f"{path}: the file has {size:,} bytes; a job file may have {LONGEST_FILE_BYTES:,} at most."
        )


def read_job_text(text: str, name: str, *, grades: Iterable[str] | None = None) -> JobSpec:
    """Read and check a job from the text of a job file; `name` is said in every mistake.

    Raises:
        InputError: the text is not TOML, or the job has mistakes (`.faults`).
    """
    if len(text) > LONGEST_FILE_BYTES:
        raise InputError(f"{name}: the text is longer than {LONGEST_FILE_BYTES:,} characters.")
    try:
        document = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name}: not a job file in TOML: {_toml_reason(error, text)}.") from error
    except (ValueError, RecursionError, InvalidOperation) as error:
        # A number of thousands of digits, or brackets nested thousands deep.
        raise InputError(f"{name}: not a job file: it holds a value beyond any use.") from error
    return read_job_tables(document, name, grades=grades)


def read_job_tables(
    document: Mapping[str, object],
    name: str,
    *,
    grades: Iterable[str] | None = None,
    told: Iterable[Fault] = (),
) -> JobSpec:
    """Check the tables of a job, as TOML gives them, and build the job.

    `told` are mistakes that the caller found on the way; they are reported first.

    Raises:
        InputError: with one `Fault` for each mistake.
    """
    reader = _JobReader(name, tuple(grades) if grades is not None else _starting_grades(), told)
    job = reader.job(document)
    if reader.faults:
        raise InputError.from_faults(reader.faults)
    return job


class _Row:
    """One table while it is read: each value asked for by key, each mistake noted."""

    def __init__(
        self, faults: list[Fault], file: str, table: str, mark: str, values: object, keys: Sequence[str]
    ) -> None:
        self._faults, self._file = faults, file
        self._table, self._mark = table, mark
        self._headings: Mapping[str, str] = {}
        self._told: frozenset[str] = frozenset()
        if isinstance(values, PlacedRow):
            self._table, self._mark, self._headings = values.table, values.place, values.headings
            self._told = values.told
        self._values: Mapping[str, object] = values if isinstance(values, Mapping) else {}
        self._is_table = isinstance(values, Mapping)
        if isinstance(values, Mapping):
            for key in values:
                if key not in keys:
                    self.fault(
                        key, _short(key), f"one of the keys {', '.join(keys)}", nearest_word(key, keys)
                    )
        else:
            self.fault("", _short(values), f"one table with the keys {', '.join(keys)}")

    def has(self, key: str) -> bool:
        return self._values.get(key) is not None

    def get(self, key: str) -> object:
        return self._values.get(key)

    def fault(
        self, key: str, found: str, expected: str, nearest: str | None = None, message: str | None = None
    ) -> None:
        """Note one mistake in this row."""
        if key in self._told:
            return
        heading = self._headings.get(key, key)
        self._faults.append(
            Fault(self._file, self._table, self._mark, heading, found, expected, nearest, message)
        )

    def missing(self, key: str, expected: str) -> None:
        if self._is_table:
            self.fault(key, "nothing", expected)

    def text(
        self,
        key: str,
        default: str | None = None,
        *,
        longest: int = LONGEST_TEXT,
        lines: bool = False,
        expected: str = "",
    ) -> str:
        """A text without control characters; without a default it must be there."""
        expected = expected or f"a text of 1 to {longest} characters"
        value = self.get(key)
        if value is None:
            if default is None:
                self.missing(key, expected)
            return default or ""
        if not isinstance(value, str):
            self.fault(key, _short(value), f'{expected}, in "quotes"')
            return ""
        text = value.strip()
        if (not text and default is None) or len(text) > longest:
            self.fault(key, _short(value) if len(text) <= longest else f"{len(text)} characters", expected)
            return ""
        if any(_unprintable(letter) for letter in text if not (lines and letter in "\n\t")):
            self.fault(key, _short(value), "a text without control characters or line breaks")
            return ""
        return text

    def choice(self, key: str, words: Sequence[Word], default: Word | None = None) -> Word:
        """One of a few fixed words."""
        value = self.get(key)
        expected = f"one of {', '.join(words)}"
        if value is None:
            if default is None:
                self.missing(key, expected)
            return default or words[0]
        if isinstance(value, str):
            for word in words:
                if value.strip().lower() == word.lower():
                    return word
            self.fault(key, _short(value), expected, nearest_word(value.strip(), words))
        else:
            self.fault(key, _short(value), f'{expected}, in "quotes"')
        return words[0]

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number from low to high."""
        value = self.get(key)
        expected = f"a whole number from {low} to {high:,}"
        if value is None:
            if default is None:
                self.missing(key, expected)
            return low if default is None else default
        number = _whole(value)
        if number is None or not low <= number <= high:
            self.fault(key, _short(value), expected)
            return low
        return number

    def flag(self, key: str) -> bool:
        """True or false; false when it is not there."""
        value = self.get(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.fault(key, _short(value), "yes or no" if self._headings else "true or false")
        return False

    def number(
        self, key: str, most: Decimal, digits: int, what: str, default: Decimal | None = None
    ) -> Decimal:
        """A decimal of zero or more, as a number or a text, with so many decimals at most."""
        value = self.get(key)
        expected = f"{what} from 0 to {most:,} with at most {digits} decimals"
        if value is None:
            if default is None:
                self.missing(key, expected)
            return default or Decimal(0)
        number = _decimal(value)
        if number is None or not 0 <= number <= most or _decimals(number) > digits:
            self.fault(key, _short(value), expected)
            return Decimal(0)
        return number

    def money(self, key: str, default: Decimal | None = None) -> Decimal:
        """An amount in the shop's currency."""
        return self.number(key, MOST_MONEY, RATE_DIGITS, 'an amount such as "0.42",', default)

    def measure(self, key: str, unit: Unit) -> Measure:
        """A length above zero; a bare number is in the job's unit."""
        value = self.get(key)
        if value is None:
            self.missing(key, EXPECTED_LENGTH)
        elif isinstance(value, date):
            # A spreadsheet turns 5/8 into a day in May unless the cell is text.
            self.fault(key, f"the date {_short(value)}", f"{EXPECTED_LENGTH}, in a cell formatted as text")
        elif isinstance(value, bool) or not isinstance(value, str | int | Decimal):
            self.fault(key, _short(value), EXPECTED_LENGTH)
        else:
            try:
                measure = Measure.parse(value, unit)
            except InputError:
                self.fault(key, _short(value), EXPECTED_LENGTH)
            else:
                if measure.length.nm > 0:
                    return measure
                self.fault(key, _short(value), "a length above zero")
        return Measure.parse("1", unit)

    def words(self, key: str, parse: WordsOf, unit: Unit, default: str | None = None, **limits: Any) -> str:
        """A text that another reader must understand: a bar, a shape."""
        text = self.text(key, default, **limits)
        if text:
            try:
                parse(text, unit)
            except InputError as error:
                self.fault(key, _short(text), "what its message says", message=error.message)
        return text


class _JobReader:
    """Reads the tables of one job in order and gathers the mistakes of all of them."""

    def __init__(self, file: str, grades: Sequence[str], told: Iterable[Fault]) -> None:
        self.file = file
        self.grades = grades
        self.faults: list[Fault] = list(told)
        self.unit: Unit = "mm"

    def job(self, document: Mapping[str, object]) -> JobSpec:
        top = _Row(self.faults, self.file, "", "", document, TOP_KEYS)
        if not top.has("format"):
            top.missing("format", f"format = {FORMAT} at the top of the file")
        elif type(document["format"]) is not int or document["format"] != FORMAT:
            top.fault(
                "format", _short(document["format"]), f"{FORMAT}, the one format that this version reads"
            )
        head = self._row("job", "", document.get("job", {}), JOB_KEYS)
        if not top.has("job"):
            top.missing("job", "a table [job] with title, customer, sets and units")
        units: tuple[Unit, ...] = ("mm", "in")
        if top.has("job"):
            self.unit = head.choice("units", units)
        finish = document.get("finish")
        job = JobSpec(
            title=head.text("title") if top.has("job") else "",
            customer=head.text("customer") if top.has("job") else "",
            sets=head.whole("sets", 1, MOST_SETS) if top.has("job") else 1,
            units=self.unit,
            use=head.choice("use", USES, "general"),
            due=self._due(head),
            breaks=self._breaks(head),
            parts=tuple(self._list(document, "part", PART_KEYS, self._part)),
            welds=tuple(self._list(document, "weld", WELD_KEYS, self._weld)),
            bought=tuple(self._list(document, "bought", BOUGHT_KEYS, self._bought)),
            outside=tuple(self._list(document, "outside", OUTSIDE_KEYS, self._outside)),
            labour=tuple(self._list(document, "labour", LABOUR_KEYS, self._labour)),
            finish=None if finish is None else self._finish(self._row("finish", "", finish, FINISH_KEYS)),
        )
        self._check_whole(job, document, top)
        return job

    def _row(self, table: str, mark: str, values: object, keys: Sequence[str]) -> _Row:
        return _Row(self.faults, self.file, table, mark, values, keys)

    def _list(
        self, holder: Mapping[str, object], table: str, keys: Sequence[str], read: Callable[[_Row], Spec]
    ) -> list[Spec]:
        rows = holder.get(table)
        if rows is None:
            return []
        top = _Row(self.faults, self.file, table, "", {}, keys)
        if not isinstance(rows, list):
            top.fault("", _short(rows), f"rows that each begin with [[{table}]]")
            return []
        if len(rows) > MOST_ROWS[table]:
            top.fault("", f"{len(rows):,} rows", f"at most {MOST_ROWS[table]:,} rows")
            return []
        return [
            read(self._row(table, _row_name(row, number), row, keys)) for number, row in enumerate(rows, 1)
        ]

    def _due(self, head: _Row) -> date | None:
        value = head.get("due")
        if value is None:
            return None
        found: date | None = None
        if isinstance(value, str):
            try:
                found = date.fromisoformat(value.strip())
            except ValueError:
                found = None
        elif isinstance(value, date) and not isinstance(value, datetime):
            found = value
        if found is None or not EARLIEST_DUE <= found <= LATEST_DUE:
            head.fault("due", _short(value), "a date such as 2027-03-01")
            return None
        return found

    def _breaks(self, head: _Row) -> tuple[int, ...]:
        value = head.get("breaks")
        if value is None:
            return ()
        numbers = [_whole(item) for item in value] if isinstance(value, list) else [None]
        good = [number for number in numbers if number is not None and 1 <= number <= MOST_SETS]
        rising = all(first < second for first, second in pairwise(good))
        if len(good) != len(numbers) or not rising or len(good) > MOST_BREAKS:
            head.fault(
                "breaks",
                _short(value),
                f"1 to {MOST_BREAKS} rising numbers of sets, each 1 to {MOST_SETS:,}, such as [1, 4, 12]",
            )
            return ()
        return tuple(good)

    def _part(self, row: _Row) -> PartSpec:
        from shopquote.calc.bar.sections import EXPECTED_SECTION, parse_section
        from shopquote.calc.bar.shapes import parse_shape

        mark = row.text("mark", longest=LONGEST_MARK)
        part = PartSpec(
            mark=mark,
            name=row.text("name", mark) or mark,
            per_set=row.whole("per_set", 1, MOST_PER_SET),
            bar=row.words("bar", parse_section, self.unit, expected=EXPECTED_SECTION),
            grade=self._grade(row),
            dims=row.choice("dims", DIMS, "outside"),
            shape=row.words("shape", parse_shape, self.unit, longest=LONGEST_SHAPE, lines=True)
            if row.has("shape")
            else None,
            length=row.measure("length", self.unit) if row.has("length") else None,
            bend_axis=row.choice("bend_axis", BEND_AXES, "easy"),
            ends=self._ends(row),
            holes=self._holes(row, mark),
            one_heat=row.flag("one_heat"),
        )
        if row.has("shape") and row.has("length"):
            row.fault("shape", "both shape and length", "one of them: length is for a straight piece")
        elif not row.has("shape") and not row.has("length"):
            row.missing("shape", "a shape for a bent piece, or a length for a straight one")
        return part

    def _grade(self, row: _Row) -> str:
        shown = ", ".join(self.grades[:12]) + (", ..." if len(self.grades) > 12 else "")
        text = row.text("grade", expected=f"a grade on file: {shown}")
        if not text:
            return ""
        for grade in self.grades:
            if _folded(text) == _folded(grade):
                return grade
        row.fault("grade", _short(text), f"a grade on file: {shown}", nearest_word(text, self.grades))
        return text

    def _ends(self, row: _Row) -> tuple[End, End]:
        value = row.get("ends")
        if value is None:
            return (End(), End())
        ends = [_end(item) for item in value] if isinstance(value, list) else []
        if len(ends) == 2 and ends[0] is not None and ends[1] is not None:
            return (ends[0], ends[1])
        row.fault(
            "ends",
            _short(value),
            'two ends, each "square" or "mitre ANGLE" with the angle off square above 0 and below 90 degrees',
            _nearest_end(value),
        )
        return (End(), End())

    def _holes(self, row: _Row, mark: str) -> tuple[HoleSpec, ...]:
        value = row.get("holes")
        if value is None:
            return ()
        if not isinstance(value, list) or len(value) > MOST_ROWS["holes"]:
            row.fault(
                "holes",
                _short(value) if not isinstance(value, list) else f"{len(value):,} kinds of hole",
                f"a list of at most {MOST_ROWS['holes']} kinds of hole, such as [{{ dia = 6.5, count = 2 }}]",
            )
            return ()
        place = f"{mark or 'part'} hole" if len(value) == 1 else f"{mark or 'part'} hole {{}}"
        rows = [
            self._row("part", place.format(number), hole, HOLE_KEYS) for number, hole in enumerate(value, 1)
        ]
        return tuple(
            HoleSpec(
                dia=hole.measure("dia", self.unit),
                count=hole.whole("count", 1, MOST_PER_SET, 1),
                tapped=hole.flag("tapped"),
                countersunk=hole.flag("countersunk"),
            )
            for hole in rows
        )

    def _weld(self, row: _Row) -> WeldSpec:
        return WeldSpec(
            kind=row.choice("kind", WELD_KINDS),
            leg=row.measure("leg", self.unit),
            length=row.measure("length", self.unit),
            count=row.whole("count", 1, MOST_PER_SET),
            process=self._process(row),
            note=row.text("note", ""),
        )

    def _process(self, row: _Row) -> str:
        text = row.get("process")
        if isinstance(text, str) and (other := OTHER_PROCESS_NAMES.get(text.strip().upper())):
            row.fault("process", _short(text), f"one of {', '.join(WELD_PROCESSES)}", other)
            return other
        return row.choice("process", WELD_PROCESSES)

    def _bought(self, row: _Row) -> BoughtSpec:
        return BoughtSpec(
            name=row.text("name"),
            per_set=row.whole("per_set", 1, MOST_PER_SET),
            unit_cost=row.money("unit_cost"),
        )

    def _outside(self, row: _Row) -> OutsideSpec:
        return OutsideSpec(
            name=row.text("name"),
            basis=row.choice("basis", OUTSIDE_BASES),
            rate=row.money("rate"),
            minimum=row.money("minimum", Decimal(0)),
        )

    def _labour(self, row: _Row) -> LabourSpec:
        return LabourSpec(
            operation=row.choice("operation", OPERATIONS),
            minutes=row.number("minutes", MOST_MINUTES, MINUTE_DIGITS, "minutes"),
            per=row.choice("per", LABOUR_PERS),
        )

    def _finish(self, row: _Row) -> FinishSpec:
        return FinishSpec(kind=row.choice("kind", FINISH_KINDS), coats=row.whole("coats", 1, MOST_COATS, 1))

    def _check_whole(self, job: JobSpec, document: Mapping[str, object], top: _Row) -> None:
        """What no row can see alone: marks that repeat, too many pieces, a job of nothing."""
        seen: set[str] = set()
        most_sets = max((job.sets, *job.breaks))
        rows = cast("list[object]", document["part"] if job.parts else [])
        for number, (row, part) in enumerate(zip(rows, job.parts, strict=True), 1):
            here = self._row("part", part.mark, row if isinstance(row, PlacedRow) else {}, PART_KEYS)
            again = part.mark.lower() in seen
            seen.add(part.mark.lower())
            if part.mark and again:
                here.fault(
                    "mark",
                    f"{part.mark!r} again in row {number}",
                    "a mark that no other part has, capitals aside",
                )
            if most_sets * part.per_set > MOST_PIECES:
                here.fault(
                    "per_set",
                    f"{most_sets * part.per_set:,} pieces in {most_sets:,} sets",
                    f"at most {MOST_PIECES:,} pieces of one part",
                )
        if not any(document.get(table) for table in TOP_KEYS if table not in ("format", "job")):
            top.missing("part", "a part, or something else to make or buy")


def write_job_text(spec: JobSpec) -> str:
    """The job as the text of a job file; it reads back to the same job."""
    lines = [f"format = {FORMAT}", "", "[job]"]
    lines += _pairs(
        title=_quoted(spec.title),
        customer=_quoted(spec.customer),
        sets=str(spec.sets),
        breaks=f"[{', '.join(map(str, spec.breaks))}]" if spec.breaks else None,
        units=_quoted(spec.units),
        use=_quoted(spec.use),
        due=spec.due.isoformat() if spec.due else None,
    )
    for part in spec.parts:
        lines += ["", "[[part]]", *_part_lines(part)]
    for weld in spec.welds:
        lines += ["", "[[weld]]"]
        lines += _pairs(
            kind=_quoted(weld.kind),
            leg=_measure(weld.leg),
            length=_measure(weld.length),
            count=str(weld.count),
            process=_quoted(weld.process),
            note=_quoted(weld.note) if weld.note else None,
        )
    for item in spec.bought:
        lines += ["", "[[bought]]"]
        lines += _pairs(
            name=_quoted(item.name), per_set=str(item.per_set), unit_cost=_quoted(amount_text(item.unit_cost))
        )
    for work in spec.outside:
        lines += ["", "[[outside]]"]
        lines += _pairs(
            name=_quoted(work.name),
            basis=_quoted(work.basis),
            rate=_quoted(amount_text(work.rate)),
            minimum=_quoted(amount_text(work.minimum)) if work.minimum else None,
        )
    for labour in spec.labour:
        lines += ["", "[[labour]]"]
        lines += _pairs(
            operation=_quoted(labour.operation), minutes=number_text(labour.minutes), per=_quoted(labour.per)
        )
    if spec.finish is not None:
        lines += ["", "[finish]"]
        lines += _pairs(kind=_quoted(spec.finish.kind), coats=str(spec.finish.coats))
    return "\n".join(lines) + "\n"


def _part_lines(part: PartSpec) -> list[str]:
    plain = part.ends == (End(), End())
    holes = ", ".join(
        f"{{ dia = {_measure(hole.dia)}, count = {hole.count}"
        + (", tapped = true" if hole.tapped else "")
        + (", countersunk = true" if hole.countersunk else "")
        + " }"
        for hole in part.holes
    )
    return _pairs(
        mark=_quoted(part.mark),
        name=_quoted(part.name),
        per_set=str(part.per_set),
        bar=_quoted(part.bar),
        grade=_quoted(part.grade),
        dims=_quoted(part.dims),
        shape=_quoted(part.shape) if part.shape is not None else None,
        length=_measure(part.length) if part.length is not None else None,
        bend_axis=_quoted(part.bend_axis),
        ends=None if plain else f"[{', '.join(_quoted(str(end)) for end in part.ends)}]",
        holes=f"[{holes}]" if holes else None,
        one_heat="true" if part.one_heat else None,
    )


def _pairs(**values: str | None) -> list[str]:
    return [f"{key} = {value}" for key, value in values.items() if value is not None]


def _quoted(text: str) -> str:
    # JSON's escapes are a part of TOML's.
    return json.dumps(text, ensure_ascii=False)


def _measure(measure: Measure) -> str:
    return measure.text if _PLAIN_NUMBER.fullmatch(measure.text) else _quoted(measure.text)


def amount_text(amount: Decimal) -> str:
    """A unit cost or rate with 2 decimals, or as many of 4 as it needs.

    >>> amount_text(Decimal("0.4")), amount_text(Decimal("0.0450"))
    ('0.40', '0.045')
    """
    whole, _, decimals = f"{amount:f}".partition(".")
    return f"{whole}.{decimals.rstrip('0').ljust(2, '0')}"


def number_text(number: Decimal) -> str:
    """A number without idle zeros and without an exponent.

    >>> number_text(Decimal("25.000")), number_text(Decimal("1E+2"))
    ('25', '100')
    """
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _starting_grades() -> tuple[str, ...]:
    from shopquote.calc.bar.grades import STARTING_GRADES

    return tuple(STARTING_GRADES)


def _row_name(row: object, number: int) -> str:
    """A row by its own mark, where it has one, else by its place in the file."""
    mark = row.get("mark") if isinstance(row, Mapping) else None
    good = isinstance(mark, str) and 0 < len(mark.strip()) <= LONGEST_MARK and mark.isprintable()
    return str(mark).strip() if good else f"row {number}"


def _folded(grade: str) -> str:
    """Case, blanks and dashes do not make another grade."""
    return "".join(letter for letter in grade.casefold() if letter.isalnum())


def _whole(value: object) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    if isinstance(value, str) and _WHOLE.fullmatch(value.strip()):
        return int(value)
    return None


def _decimal(value: object) -> Decimal | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, str):
        text = value.strip()
        return Decimal(text) if len(text) <= 30 and _AMOUNT.fullmatch(text) else None
    if isinstance(value, int):
        return Decimal(value) if abs(value) < 10**18 else None
    if isinstance(value, Decimal):
        return value if value.is_finite() and abs(value.adjusted()) < 30 else None
    return None


def _decimals(number: Decimal) -> int:
    """Decimals that are not trailing zeros; `normalize` would round a long number first."""
    _, _, decimals = f"{number:f}".partition(".")
    return len(decimals.rstrip("0"))


def _end(value: object) -> End | None:
    words = value.lower().split() if isinstance(value, str) else []
    if words == ["square"]:
        return End()
    if len(words) == 2 and words[0] == "mitre":
        angle = _decimal(words[1].removesuffix("°"))
        if angle is not None and 0 < angle < 90 and _decimals(angle) <= ANGLE_DIGITS:
            return End("mitre", angle)
    return None


def _nearest_end(value: object) -> str | None:
    for item in value if isinstance(value, list) else ():
        if isinstance(item, str) and _end(item) is None and item.split():
            near = nearest_word(item.split()[0], ("square", "mitre"))
            if near is not None and near != item.split()[0].lower():
                return " ".join((near, *item.split()[1:2]))
    return None


def _unprintable(letter: str) -> bool:
    """Controls, line and paragraph breaks, and code points that no spreadsheet can hold."""
    return unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") or letter in "\ufffe\uffff"


def _short(value: object) -> str:
    """What was found, on one line and short enough to read."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**30 else "a number of over 30 digits"
    if isinstance(value, list | tuple):
        text = f"[{', '.join(_short(item) for item in value[:8])}{', ...' if len(value) > 8 else ''}]"
    elif isinstance(value, str):
        text = repr(value)
    else:
        text = str(value)
    return text if len(text) <= 70 else text[:67] + "..."


def _toml_reason(error: tomllib.TOMLDecodeError, text: str) -> str:
    """The reader's reason with the offending line: most are a missing quote or bracket."""
    reason = str(error)
    found = re.search(r"line (\d+)", reason)
    lines = text.replace("\r\n", "\n").split("\n")
    if found is None or not 0 < int(found[1]) <= len(lines):
        return reason
    line = lines[int(found[1]) - 1].strip()
    return f"{reason}: {_short(line)}" if line else reason


def _file_hint(path: Path) -> str | None:
    folder = path.parent
    if not folder.is_dir():
        return f"The folder {folder} is not there either."
    names = [item.name for item in folder.iterdir() if item.suffix.lower() in (".toml", ".xlsx")]
    near = nearest_word(path.name, names)
    return f"Did you mean {folder / near}?" if near else None
