"""A job as rows of the tables, and back: everything as typed beside its value."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import cast

from shopquote.calc.bar.answers import PartAnswer
from shopquote.calc.job import (
    BendAxis,
    BoughtSpec,
    Dims,
    End,
    EndKind,
    FinishSpec,
    HoleSpec,
    JobSpec,
    LabourPer,
    LabourSpec,
    OutsideBasis,
    OutsideSpec,
    PartSpec,
    Use,
    WeldKind,
    WeldSpec,
)
from shopquote.calc.units import Measure, Unit
from shopquote.records.jobs import (
    BoughtItem,
    FinishRow,
    JobRevision,
    LabourLine,
    OutsideWork,
    PartBend,
    PartHole,
    PartRow,
    WeldRow,
)
from shopquote.services.shop.on_file import stored_number


@dataclass(frozen=True)
class CheckedJob:
    """A job that was read and can be made: its parts' answers by mark, and its text to keep."""

    spec: JobSpec
    answers: Mapping[str, PartAnswer]
    source: str
    path: Path | None = None


def spec_of(row: JobRevision) -> JobSpec:
    """The job as typed, from the rows of one revision."""
    return JobSpec(
        title=row.title,
        customer=row.customer,
        sets=row.sets,
        units=cast(Unit, row.units),
        use=cast(Use, row.use),
        due=row.due,
        breaks=tuple(int(sets) for sets in row.breaks),
        parts=tuple(_part_of(part) for part in row.parts),
        welds=tuple(
            WeldSpec(
                kind=cast(WeldKind, weld.kind),
                leg=Measure(weld.leg_text, weld.leg),
                length=Measure(weld.length_text, weld.length),
                count=weld.count,
                process=weld.process,
                note=weld.note,
            )
            for weld in row.welds
        ),
        bought=tuple(BoughtSpec(item.name, item.per_set, item.unit_cost) for item in row.bought),
        outside=tuple(
            OutsideSpec(work.name, cast(OutsideBasis, work.basis), work.rate, work.minimum)
            for work in row.outside
        ),
        labour=tuple(
            LabourSpec(line.operation, line.minutes, cast(LabourPer, line.per)) for line in row.labour
        ),
        finish=None if row.finish is None else FinishSpec(row.finish.kind, row.finish.coats),
    )


def _part_of(part: PartRow) -> PartSpec:
    length = None
    if part.length is not None and part.length_text is not None:
        length = Measure(part.length_text, part.length)
    return PartSpec(
        mark=part.mark,
        name=part.name,
        per_set=part.per_set,
        bar=part.bar,
        grade=part.grade,
        dims=cast(Dims, part.dims),
        shape=part.shape,
        length=length,
        bend_axis=cast(BendAxis, part.bend_axis),
        ends=(
            End(cast(EndKind, part.end_a), part.end_a_mitre),
            End(cast(EndKind, part.end_b), part.end_b_mitre),
        ),
        holes=tuple(
            HoleSpec(Measure(hole.dia_text, hole.dia), hole.count, hole.tapped, hole.countersunk)
            for hole in part.holes
        ),
        one_heat=part.one_heat,
        turned=part.turned,
        threaded=part.threaded,
    )


def revision_rows(checked: CheckedJob, revision: int, at: datetime, reason: str) -> JobRevision:
    """One revision of a job with all its rows, not yet in a session."""
    spec = checked.spec
    return JobRevision(
        revision=revision,
        made_at=at,
        title=spec.title,
        customer=spec.customer,
        units=spec.units,
        use=spec.use,
        sets=spec.sets,
        breaks=list(spec.breaks),
        due=spec.due,
        reason=reason,
        source=checked.source,
        parts=[
            _part_row(position, part, checked.answers[part.mark])
            for position, part in enumerate(spec.parts, 1)
        ],
        welds=[
            WeldRow(
                position=position,
                kind=weld.kind,
                leg=weld.leg.length,
                leg_text=weld.leg.text,
                length=weld.length.length,
                length_text=weld.length.text,
                count=weld.count,
                process=weld.process,
                note=weld.note,
            )
            for position, weld in enumerate(spec.welds, 1)
        ],
        bought=[
            BoughtItem(position=position, name=item.name, per_set=item.per_set, unit_cost=item.unit_cost)
            for position, item in enumerate(spec.bought, 1)
        ],
        outside=[
            OutsideWork(
                position=position, name=work.name, basis=work.basis, rate=work.rate, minimum=work.minimum
            )
            for position, work in enumerate(spec.outside, 1)
        ],
        labour=[
            LabourLine(position=position, operation=line.operation, minutes=line.minutes, per=line.per)
            for position, line in enumerate(spec.labour, 1)
        ],
        finish=None if spec.finish is None else FinishRow(kind=spec.finish.kind, coats=spec.finish.coats),
    )


def _part_row(position: int, part: PartSpec, answer: PartAnswer) -> PartRow:
    first, last = part.ends
    return PartRow(
        position=position,
        mark=part.mark,
        name=part.name,
        per_set=part.per_set,
        bar=part.bar,
        section_key=answer.section.key,
        grade=part.grade,
        dims=part.dims,
        shape=part.shape,
        length=None if part.length is None else part.length.length,
        length_text=None if part.length is None else part.length.text,
        bend_axis=part.bend_axis,
        end_a=first.kind,
        end_a_mitre=first.mitre,
        end_b=last.kind,
        end_b_mitre=last.mitre,
        one_heat=part.one_heat,
        turned=part.turned,
        threaded=part.threaded,
        developed=answer.developed,
        cut=answer.cut,
        mass_kg=stored_number(answer.mass_kg),
        bends=[
            PartBend(
                position=number,
                angle=stored_number(bend.angle),
                radius=bend.inside_radius,
                mark=bend.mark.centre,
                hits=bend.hits,
            )
            for number, bend in enumerate(answer.bends, 1)
        ],
        holes=[
            PartHole(
                position=number,
                dia=cast(Measure, hole.dia).length,
                dia_text=cast(Measure, hole.dia).text,
                count=hole.count,
                tapped=hole.tapped,
                countersunk=hole.countersunk,
            )
            for number, hole in enumerate(part.holes, 1)
        ],
    )
