"""Checks the tables of a job, gathers every mistake, and builds the `JobSpec`.

Begin at `read_job_tables`. Job files, job workbooks and the page's form are all checked here, so that they
obey the same rules and report mistakes in the same words. Single fields are described in `job_fields`; this
module has the rules that involve several fields.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, cast

from shopquote.calc.drawing.weld_places import WHERE_ON_A_PART, most_places, weld_place
from shopquote.calc.job import HoleSpec, JobSpec, PartSpec, WeldSpec
from shopquote.calc.money import USUAL_CURRENCY
from shopquote.calc.units import Unit
from shopquote.errors import Fault, InputError, Misread, nearest_word
from shopquote.reading import kinds
from shopquote.reading.job_fields import (
    HOLE,
    JOB,
    JOINT,
    LONGEST_MARK,
    PART,
    STEP,
    TABLES,
    TOP_KEYS,
    WELD,
    FieldTable,
)
from shopquote.reading.job_kinds import Asked
from shopquote.reading.kinds import Notation
from shopquote.reading.rows import PlacedRow, Row, short

FORMAT = 1
# Bytes. A job of thousands of parts has a tenth of it; a larger file was given by mistake.
LONGEST_FILE_BYTES = 10_000_000
MOST_PIECES = 1_000_000  # of one part in the whole job, at the largest break too


def read_job_tables(
    document: Mapping[str, object],
    name: str,
    *,
    grades: Iterable[str] | None = None,
    notation: Notation | None = None,
    told: Iterable[Fault] = (),
) -> JobSpec:
    """Check the tables of a job, as TOML gives them, and build the job.

    Args:
        document: tables by name, as TOML gives them.
        name: of the file, said in every mistake.
        grades: grade names of the shop, or its grades by name; None: the starting grades.
        notation: of the shop, for the currency whose sign an amount may bear; None: the usual currency. The
            file's own unit counts, and no locale decides what a number means.
        told: mistakes that the caller found on the way; they are reported first.

    Raises:
        InputError: with one `Fault` for each mistake.
    """
    shop = notation or Notation(currency=USUAL_CURRENCY)
    reader = _JobReader(name, Asked(replace(shop, unit="mm", portable=True), *_grades(grades)), told)
    job = reader.job(document)
    if reader.faults:
        raise InputError.from_faults(reader.faults, after="")
    return job


class _JobReader:
    """Reads the tables of one job in order and gathers all mistakes in `faults`."""

    def __init__(self, file: str, asked: Asked, told: Iterable[Fault]) -> None:
        self.file = file
        self.faults: list[Fault] = list(told)
        self.asked = asked

    def job(self, document: Mapping[str, object]) -> JobSpec:
        if not any(nearest_word(key, ("format", "job")) for key in document):
            # It is some other file: one message says so better than a fault for each of its keys.
            raise InputError(
                f"{self.file}: this is not a job file: it has neither format = {FORMAT} nor a table [job]."
            )
        top = Row(self.faults, self.file, "", "", document, TOP_KEYS)
        if not top.has("format"):
            top.missing("format", f"format = {FORMAT} at the top of the file")
        # By exact type: True is an int to Python, and equal to 1.
        elif type(document["format"]) is not int or document["format"] != FORMAT:
            top.fault(
                "format", short(document["format"]), f"{FORMAT}, the one format that this version reads"
            )
        values = self._head(document, top)
        for table in TABLES:
            if table.inside is None:
                values[table.attribute] = self._rows(table, document)
            if table is PART:
                # Lists of marks in later tables are split by the marks that the parts have.
                self.asked = replace(self.asked, marks=[part.mark for part in values[PART.attribute]])
        job = JobSpec(**values)
        self._check_whole(job, document, top)
        return job

    def _head(self, document: Mapping[str, object], top: Row) -> dict[str, Any]:
        head = self._row(JOB, "", document.get("job", {}))
        if not top.has("job"):
            top.missing("job", "a table [job] with title, customer, sets and units")
            # Enough to go on with: the mistakes of the other tables are then reported in the same run.
            return {"title": "", "customer": "", "sets": 1, "units": "mm"}
        # Units first, since every length in the file is read by them.
        units = JOB.by_key["units"].kind.read(head, "units", self.asked, JOB.defaults["units"])
        self.asked = replace(self.asked, notation=self.asked.notation.within(cast(Unit, units)))
        rest = [column for column in JOB.columns if column.key != "units"]
        return {"units": units} | {
            column.key: column.kind.read(head, column.key, self.asked, JOB.defaults[column.key])
            for column in rest
        }

    def _row(self, table: FieldTable, mark: str, values: object) -> Row:
        # Faults of holes name the table of parts: in a job file holes are written inside their part.
        name = PART.name if table is HOLE else table.name
        return Row(self.faults, self.file, name, mark, values, table.keys)

    def _rows(self, table: FieldTable, document: Mapping[str, object]) -> Any:
        """A tuple of all rows of a table; of a table with at most one row, that row or None."""
        rows = document.get(table.name)
        if table.most == 1:
            return None if rows is None else self._read(table, self._row(table, "", rows))
        if rows is None:
            return ()
        top = Row(self.faults, self.file, table.name, "", {}, table.keys)
        if not isinstance(rows, list):
            top.fault("", short(rows), f"rows that each begin with [[{table.name}]]")
            return ()
        if len(rows) > table.most:
            top.fault("", f"{len(rows):,} rows", f"at most {table.most:,} rows")
            return ()
        return tuple(
            self._read(table, self._row(table, _row_name(row, number), row))
            for number, row in enumerate(rows, 1)
        )

    def _read(self, table: FieldTable, row: Row) -> Any:
        values: dict[str, Any] = {}
        for column in table.columns:
            default = table.defaults[column.key]
            default = values[column.same_as] if column.same_as else default
            values[column.key] = column.kind.read(row, column.key, self.asked, default)
        if table is PART:
            values["name"] = values["name"] or values["mark"]
            values["holes"] = self._holes(row, str(values["mark"]))
            _check_part(row)
        elif table is HOLE:
            values["count"] = _count_of_places(row, values)
        return table.spec(**values)

    def _holes(self, row: Row, mark: str) -> tuple[HoleSpec, ...]:
        value = row.get(HOLE.name)
        if value is None:
            return ()
        if not isinstance(value, list) or len(value) > HOLE.most:
            row.fault(
                HOLE.name,
                short(value) if not isinstance(value, list) else f"{len(value):,} kinds of hole",
                f"a list of at most {HOLE.most} kinds of hole, such as [{{ dia = 6.5, count = 2 }}]",
            )
            return ()
        place = f"{mark or 'part'} hole"
        return tuple(
            self._read(HOLE, self._row(HOLE, place if len(value) == 1 else f"{place} {number}", hole))
            for number, hole in enumerate(value, 1)
        )

    def _check_whole(self, job: JobSpec, document: Mapping[str, object], top: Row) -> None:
        """Checks across rows: marks used twice or of no part, too many pieces, an empty job."""
        seen: set[str] = set()
        # Quantities priced side by side are planned too, so the largest counts, not only the one asked for.
        most_sets = max((job.sets, *job.breaks))
        for number, (part, row) in enumerate(self._with_rows(PART, job.parts, document), 1):
            key = kinds.name_key(part.mark)
            if key and key in seen:
                row.fault(
                    "mark",
                    f"{part.mark!r} again in row {number}",
                    "a mark that no other part has, capitals aside",
                )
            seen.add(key)
            if most_sets * part.per_set > MOST_PIECES:
                row.fault(
                    "per_set",
                    f"{most_sets * part.per_set:,} pieces in {most_sets:,} sets",
                    f"at most {MOST_PIECES:,} pieces of one part",
                )
        marks = [part.mark for part in job.parts]
        for table, key in ((WELD, "joins"), (STEP, "marks"), (JOINT, "joins")):
            for spec, row in self._with_rows(table, getattr(job, table.attribute), document):
                _check_marks(row, key, getattr(spec, key), marks)
        for spec, row in self._with_rows(WELD, job.welds, document):
            _check_places(row, spec, job)
        if not any(document.get(table) for table in TOP_KEYS if table not in ("format", "job")):
            top.missing("part", "a part, or something else to make or buy")

    def _with_rows(
        self, table: FieldTable, specs: Sequence[Any], document: Mapping[str, object]
    ) -> Iterable[tuple[Any, Row]]:
        rows = cast("list[object]", document[table.name] if specs else [])
        for number, (spec, row) in enumerate(zip(specs, rows, strict=True), 1):
            mark = spec.mark if isinstance(spec, PartSpec) else f"row {number}"
            # Without a TOML row's values: its unknown keys were reported when it was read.
            placed = row if isinstance(row, PlacedRow) else {}
            yield spec, self._row(table, mark, placed)


def _check_part(row: Row) -> None:
    if row.has("shape") and row.has("length"):
        row.fault("shape", "both shape and length", "one of them: length is for a straight piece")
    elif not row.has("shape") and not row.has("length"):
        row.missing("shape", "a shape for a bent piece, or a length for a straight one")


def _count_of_places(row: Row, values: Mapping[str, Any]) -> int:
    """The number of holes in one piece: of places where given, else `count`. Contradictions are faults."""
    if row.has("dia") and row.has("thread"):
        row.fault("thread", "both dia and thread", "one of them: a thread's drill follows from its standard")
    elif not row.has("dia") and not row.has("thread"):
        row.missing("dia", 'a diameter such as dia = 6.5, or a thread such as thread = "M8"')
    if values["across"] and not values["at"]:
        row.fault("across", "across without at", "at beside it: how far along the leg the hole is")
    places = len(values["at"]) * max(1, len(values["across"]))
    if places and row.has("count") and values["count"] != places:
        row.fault("count", str(values["count"]), f"{places}, as many as at and across give, or no count")
    return places or int(values["count"])


def _check_marks(row: Row, key: str, named: Iterable[str], marks: Sequence[str]) -> None:
    for name in named:
        if name not in marks:
            shown = ", ".join(marks[:12]) or "none"
            row.fault(key, short(name), f"marks of parts of this job: {shown}", nearest_word(name, marks))


def _check_places(row: Row, weld: WeldSpec, job: JobSpec) -> None:
    """Note a fault for each place of a weld that is on no part of the job, or on a leg or bend it lacks."""
    for text in weld.at:
        place = weld_place(text)
        part = next((part for part in job.parts if place is not None and part.mark == place.mark), None)
        if place is None or part is None:
            row.fault("at", short(text), WHERE_ON_A_PART)
        elif (most := most_places(part, place.spot, job.units)) is not None and place.number > most:
            row.fault(
                "at",
                short(text),
                f"a {place.spot} of part {part.mark}, 1 to {most}" if most else f"part {part.mark} has none",
            )


def _grades(given: Iterable[str] | None) -> tuple[tuple[str, ...], Mapping[str, str]]:
    """Names of grades on file, retired ones left out, and names by other designations (`Asked.also`).

    Designations are known only where the grades themselves are given, as a mapping by name.
    """
    from shopquote.calc.bar.grades import other_names
    from shopquote.calc.bar.starting_grades import STARTING_GRADES

    grades = STARTING_GRADES if given is None else given
    if not isinstance(grades, Mapping):
        return tuple(grades), {}
    used = {name: grade for name, grade in grades.items() if not grade.retired}
    return tuple(used), other_names(used)


def _row_name(row: object, number: int) -> str:
    """How faults name a row: by its mark, where it has a valid one, else by its number."""
    mark = row.get("mark") if isinstance(row, Mapping) else None
    try:
        return kinds.text(LONGEST_MARK, least=1).read(mark if isinstance(mark, str) else "", kinds.Notation())
    except Misread:
        # The mark's own fault is reported where it is read.
        return f"row {number}"
