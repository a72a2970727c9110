"""A job as table rows, and back, with every value beside the text that was typed.

The fields are listed in `reading/job_fields`; each kind of value knows its columns. A table's rows are found
by the relationship that is named as the table's attribute of `JobSpec`.
"""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Unit
from shopquote.reading.job_fields import HOLE, JOB, PART, TABLES, FieldTable
from shopquote.records.jobs import JobRevision, PartBend, PartRow
from shopquote.services.shop.shop_on_file import stored_number

if TYPE_CHECKING:
    from shopquote.services.jobs.check import CheckedJob


def spec_of(row: JobRevision) -> JobSpec:
    """The job as typed, rebuilt from the rows of one revision."""
    unit = row.unit
    values = _values(JOB, row, unit)
    for table in TABLES:
        if table.inside is None:
            held = getattr(row, table.attribute)
            values[table.attribute] = (
                (None if held is None else _spec(table, held, unit))
                if table.most == 1
                else tuple(_spec(table, one, unit) for one in held)
            )
    return JobSpec(**values)


def _spec(table: FieldTable, row: Any, unit: Unit) -> Any:
    values = _values(table, row, unit)
    if table is PART:
        values[HOLE.attribute] = tuple(_spec(HOLE, hole, unit) for hole in getattr(row, HOLE.attribute))
    return table.spec(**values)


def _values(table: FieldTable, row: Any, unit: Unit) -> dict[str, Any]:
    return {field.key: field.kind.load(field.key, row, unit) for field in table.columns}


def revision_rows(checked: "CheckedJob", revision: int, at: datetime, reason: str) -> JobRevision:
    """New rows of one revision of a job with its parts and answers, not yet added to a session."""
    spec = checked.spec
    row = JobRevision(
        revision=revision, made_at=at, reason=reason, source=checked.source, **_stored(JOB, spec)
    )
    for table in TABLES:
        if table.inside is None:
            held = getattr(spec, table.attribute)
            if table.most > 1:
                rows = [_row(JobRevision, table, one, position) for position, one in enumerate(held, 1)]
                setattr(row, table.attribute, rows)
            elif held is not None:
                setattr(row, table.attribute, _row(JobRevision, table, held))
    for part, part_row in zip(spec.parts, row.parts, strict=True):
        part_row.holes = [_row(PartRow, HOLE, hole, number) for number, hole in enumerate(part.holes, 1)]
        _put_answer(part_row, part, checked.answers[part.mark])
    return row


def _row(holder: type, table: FieldTable, spec: object, position: int | None = None) -> Any:
    """A new row of the class that the relationship of this table, on `holder`, refers to."""
    # The relationship knows its class: a new table of a job needs no entry here.
    made = getattr(holder, table.attribute).property.mapper.class_
    place = {} if position is None else {"position": position}
    return made(**place, **_stored(table, spec))


def _stored(table: FieldTable, spec: object) -> dict[str, Any]:
    held: dict[str, Any] = {}
    for field in table.columns:
        held |= field.kind.store(field.key, getattr(spec, field.key))
    return held


def _put_answer(row: PartRow, part: PartSpec, answer: PartAnswer) -> None:
    """Set the columns that hold results: section, lengths, mass and bends as worked out when stored."""
    # Stored, though they follow from the part: orders and reviews query thousands of parts by section.
    row.section_key = answer.section.key
    row.developed, row.cut = answer.developed, answer.cut
    row.mass_kg = stored_number(answer.mass_kg)
    row.bends = [
        PartBend(
            position=number,
            angle=stored_number(bend.angle),
            radius=bend.inside_radius,
            mark=bend.mark.centre,
            hits=bend.hits,
        )
        for number, bend in enumerate(answer.bends, 1)
    ]
