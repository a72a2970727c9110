"""Reads the tables of a job, gathers every mistake in them, and builds the checked `JobSpec`.

Begin at `read_job_tables`. Job files and job workbooks both hand their tables in
here, so that both obey the same rules and tell a mistake in the same words.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from itertools import pairwise
from typing import TypeVar, cast

from shopquote.calc.job import (
    BEND_AXES,
    DIMS,
    FINISH_KINDS,
    LABOUR_PERS,
    MOST_ENDS,
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
from shopquote.calc.units import Unit
from shopquote.errors import Fault, InputError, nearest_word
from shopquote.reading.rows import PlacedRow, Row, decimal_of, decimals_of, short, whole_of

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
LONGEST_MARK = 20
LONGEST_SHAPE = 4_000
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
    "one_heat", "turned", "threaded",
)  # fmt: skip
HOLE_KEYS = ("dia", "count", "tapped", "countersunk")
WELD_KEYS = ("kind", "leg", "length", "count", "process", "note")
BOUGHT_KEYS = ("name", "per_set", "unit_cost")
OUTSIDE_KEYS = ("name", "basis", "rate", "minimum")
LABOUR_KEYS = ("operation", "minutes", "per")
FINISH_KEYS = ("kind", "coats")


Spec = TypeVar("Spec")


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
        raise InputError.from_faults(reader.faults, after="")
    return job


class _JobReader:
    """Reads the tables of one job in order and gathers the mistakes of all of them."""

    def __init__(self, file: str, grades: Sequence[str], told: Iterable[Fault]) -> None:
        self.file = file
        self.grades = grades
        self.faults: list[Fault] = list(told)
        self.unit: Unit = "mm"

    def job(self, document: Mapping[str, object]) -> JobSpec:
        if not any(nearest_word(key, ("format", "job")) for key in document):
            # Some other file: its hundred mistakes would hide the one.
            raise InputError(
                f"{self.file}: this is not a job file: it has neither format = {FORMAT} nor a table [job]."
            )
        top = Row(self.faults, self.file, "", "", document, TOP_KEYS)
        if not top.has("format"):
            top.missing("format", f"format = {FORMAT} at the top of the file")
        elif type(document["format"]) is not int or document["format"] != FORMAT:
            top.fault(
                "format", short(document["format"]), f"{FORMAT}, the one format that this version reads"
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
        self._checkwhole_of(job, document, top)
        return job

    def _row(self, table: str, mark: str, values: object, keys: Sequence[str]) -> Row:
        return Row(self.faults, self.file, table, mark, values, keys)

    def _list(
        self, holder: Mapping[str, object], table: str, keys: Sequence[str], read: Callable[[Row], Spec]
    ) -> list[Spec]:
        rows = holder.get(table)
        if rows is None:
            return []
        top = Row(self.faults, self.file, table, "", {}, keys)
        if not isinstance(rows, list):
            top.fault("", short(rows), f"rows that each begin with [[{table}]]")
            return []
        if len(rows) > MOST_ROWS[table]:
            top.fault("", f"{len(rows):,} rows", f"at most {MOST_ROWS[table]:,} rows")
            return []
        return [
            read(self._row(table, _row_name(row, number), row, keys)) for number, row in enumerate(rows, 1)
        ]

    def _due(self, head: Row) -> date | None:
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
            head.fault("due", short(value), "a date such as 2027-03-01")
            return None
        return found

    def _breaks(self, head: Row) -> tuple[int, ...]:
        value = head.get("breaks")
        if value is None:
            return ()
        numbers = [whole_of(item) for item in value] if isinstance(value, list) else [None]
        good = [number for number in numbers if number is not None and 1 <= number <= MOST_SETS]
        rising = all(first < second for first, second in pairwise(good))
        if len(good) != len(numbers) or not rising or len(good) > MOST_BREAKS:
            head.fault(
                "breaks",
                short(value),
                f"1 to {MOST_BREAKS} rising numbers of sets, each 1 to {MOST_SETS:,}, such as [1, 4, 12]",
            )
            return ()
        return tuple(good)

    def _part(self, row: Row) -> PartSpec:
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
            turned=row.whole("turned", 0, MOST_ENDS, 0),
            threaded=row.whole("threaded", 0, MOST_ENDS, 0),
        )
        if row.has("shape") and row.has("length"):
            row.fault("shape", "both shape and length", "one of them: length is for a straight piece")
        elif not row.has("shape") and not row.has("length"):
            row.missing("shape", "a shape for a bent piece, or a length for a straight one")
        return part

    def _grade(self, row: Row) -> str:
        shown = ", ".join(self.grades[:12]) + (", ..." if len(self.grades) > 12 else "")
        text = row.text("grade", expected=f"a grade on file: {shown}")
        if not text:
            return ""
        for grade in self.grades:
            if _folded(text) == _folded(grade):
                return grade
        row.fault("grade", short(text), f"a grade on file: {shown}", nearest_word(text, self.grades))
        return text

    def _ends(self, row: Row) -> tuple[End, End]:
        value = row.get("ends")
        if value is None:
            return (End(), End())
        ends = [_end(item) for item in value] if isinstance(value, list) else []
        if len(ends) == 2 and ends[0] is not None and ends[1] is not None:
            return (ends[0], ends[1])
        row.fault(
            "ends",
            short(value),
            'two ends, each "square" or "mitre ANGLE", off square between 0 and 90 degrees, with '
            "a minus where its long point lies on the other side",
            _nearest_end(value),
        )
        return (End(), End())

    def _holes(self, row: Row, mark: str) -> tuple[HoleSpec, ...]:
        value = row.get("holes")
        if value is None:
            return ()
        if not isinstance(value, list) or len(value) > MOST_ROWS["holes"]:
            row.fault(
                "holes",
                short(value) if not isinstance(value, list) else f"{len(value):,} kinds of hole",
                f"a list of at most {MOST_ROWS['holes']} kinds of hole, such as [{{ dia = 6.5, count = 2 }}]",
            )
            return ()
        place = f"{mark or 'part'} hole"
        rows = [
            self._row("part", place if len(value) == 1 else f"{place} {number}", hole, HOLE_KEYS)
            for number, hole in enumerate(value, 1)
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

    def _weld(self, row: Row) -> WeldSpec:
        return WeldSpec(
            kind=row.choice("kind", WELD_KINDS),
            leg=row.measure("leg", self.unit),
            length=row.measure("length", self.unit),
            count=row.whole("count", 1, MOST_PER_SET),
            process=self._process(row),
            note=row.text("note", ""),
        )

    def _process(self, row: Row) -> str:
        text = row.get("process")
        if isinstance(text, str) and (other := OTHER_PROCESS_NAMES.get(text.strip().upper())):
            row.fault("process", short(text), f"one of {', '.join(WELD_PROCESSES)}", other)
            return other
        return row.choice("process", WELD_PROCESSES)

    def _bought(self, row: Row) -> BoughtSpec:
        return BoughtSpec(
            name=row.text("name"),
            per_set=row.whole("per_set", 1, MOST_PER_SET),
            unit_cost=row.money("unit_cost"),
        )

    def _outside(self, row: Row) -> OutsideSpec:
        return OutsideSpec(
            name=row.text("name"),
            basis=row.choice("basis", OUTSIDE_BASES),
            rate=row.money("rate"),
            minimum=row.money("minimum", Decimal(0)),
        )

    def _labour(self, row: Row) -> LabourSpec:
        return LabourSpec(
            operation=row.choice("operation", OPERATIONS),
            minutes=row.number("minutes", MOST_MINUTES, MINUTE_DIGITS, "minutes"),
            per=row.choice("per", LABOUR_PERS),
        )

    def _finish(self, row: Row) -> FinishSpec:
        return FinishSpec(kind=row.choice("kind", FINISH_KINDS), coats=row.whole("coats", 1, MOST_COATS, 1))

    def _checkwhole_of(self, job: JobSpec, document: Mapping[str, object], top: Row) -> None:
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


def _end(value: object) -> End | None:
    words = value.lower().split() if isinstance(value, str) else []
    if words == ["square"]:
        return End()
    if len(words) == 2 and words[0] == "mitre":
        other_side = words[1][:1] in ("-", "−")
        angle = decimal_of(words[1].lstrip("-−").removesuffix("°"))
        if angle is not None and 0 < angle < 90 and decimals_of(angle) <= ANGLE_DIGITS:
            return End("mitre", -angle if other_side else angle)
    return None


def _nearest_end(value: object) -> str | None:
    for item in value if isinstance(value, list) else ():
        if isinstance(item, str) and _end(item) is None and item.split():
            near = nearest_word(item.split()[0], ("square", "mitre"))
            if near is not None and near != item.split()[0].lower():
                return " ".join((near, *item.split()[1:2]))
    return None
