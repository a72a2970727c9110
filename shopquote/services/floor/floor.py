"""The floor sheets of a job: which bars to saw, where to bend, what to weld and drill.

Begin at `floor_sheet`; it reads an open session and writes nothing.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.hole_words import told_holes
from shopquote.calc.bar.holes import drill_mm
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.threads import find_thread
from shopquote.calc.job import OPERATIONS, JobSpec
from shopquote.calc.pricing.cautions import BY_USE, HOLLOW
from shopquote.calc.pricing.joint_minutes import joint_words
from shopquote.calc.pricing.weld_pulls import SHRINKAGE, weld_pulls
from shopquote.reading.job_fields import HOLE, SITE, WELD, FieldTable
from shopquote.reading.job_numbers import number_text
from shopquote.records.jobs import Job
from shopquote.records.quotes import Quote, QuoteMinutes
from shopquote.services.floor.bend_list import bend_list
from shopquote.services.floor.floor_sheet import (
    FloorHole,
    FloorPart,
    FloorSheet,
    FloorWeld,
    WorkedEnds,
)
from shopquote.services.floor.saw_list import bar_groups, rack_pieces_of, saw_list
from shopquote.services.jobs.jobs import load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.shop.shop_on_file import bending_shop, the_shop

# Common practice, no source: the usual words on a shop's own sheets.
CRACK_CAUTION = (
    "Bar bent below its smallest radius may crack: look at the outer face; dress sheared edges, burr inside. "
    "Do not lengthen the handle of a bender."
)
WELD_CAUTION = (
    "Welding and cutting: extract the fume, strip zinc and other coatings first, keep a fire watch. Follow "
    "the local rules for hot work."
)


def floor_sheet(session: Session, number: str, *, at: datetime, seconds: float | None = None) -> FloorSheet:
    """Work out the floor sheets of a job's newest revision.

    Bars that the job has (on the rack, on order, cut) are sawn first; the rest is planned over the free rack
    and stock lengths. `seconds` ends that search by a clock; None: by work counted.

    Raises:
        NotFoundError: no such job.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
    """
    loaded = load_job(session, number)
    job, spec = loaded.job, loaded.spec
    shop = bending_shop(session, job.number)
    row = the_shop(session)
    answers = work_out_parts(spec, shop)
    groups = bar_groups(session, job, spec, answers, at.date(), seconds)
    heads = rack_pieces_of(session, groups)
    return FloorSheet(
        job.number, loaded.revision.revision, f"{at:%Y%m%d-%H%M%S}", at.date(), row.name, row.paper,
        spec.title, spec.customer, spec.sets, spec.due, spec.units, spec.use, shop.datum,
        sheet_cautions(spec, answers),
        tuple(
            FloorPart(
                part.mark, part.name, spec.quantity(part), part.bar, answers[part.mark].grade_in_full,
                answers[part.mark].cut,
            )
            for part in spec.parts
        ),
        saw_list(groups, heads, spec, answers), bend_list(spec, answers), _welds(spec),
        _holes(spec, answers),
        _worked_ends(spec),
        tuple((item.name, item.per_set * spec.sets) for item in spec.bought),
        tuple(work.name for work in spec.outside), _finish(spec), planned_minutes(session, job),
        spec, answers,
        making_of(spec), _remarks(spec), _part_remarks(spec, answers), row.page_address,
    )  # fmt: skip


def planned_minutes(session: Session, job: Job) -> tuple[tuple[str, Decimal], ...]:
    """Minutes by operation in the quote that counts, in the order of the work; empty without a quote."""
    chosen = chosen_quotes()
    query = (
        select(QuoteMinutes.operation, QuoteMinutes.minutes)
        .join(Quote, Quote.id == QuoteMinutes.quote_id)
        .join(chosen, chosen.c.quote_id == Quote.id)
        .where(chosen.c.job_id == job.id)
    )
    total: dict[str, Decimal] = {}
    for operation, minutes in session.execute(query):
        total[operation] = total.get(operation, Decimal(0)) + minutes
    return tuple((name, total[name]) for name in OPERATIONS if name in total)


def _welds(spec: JobSpec) -> tuple[FloorWeld, ...]:
    return tuple(
        FloorWeld(
            weld.kind, weld.leg.text, weld.length.text, weld.count * spec.sets, weld.process,
            _and_also(WELD, weld, ("kind", "leg", "length", "count", "process", "note"), weld.note),
        )
        for weld in spec.welds
    )  # fmt: skip


def _holes(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[FloorHole, ...]:
    """Rows of holes by drill size, so that each drill is put in once; within a size in the order of parts."""
    rows: list[tuple[float, FloorHole]] = []
    for part in spec.parts:
        for told in told_holes(part, answers[part.mark], spec.units):
            hole = told.hole
            row = FloorHole(
                part.mark, hole.thread if hole.dia is None else hole.dia.text, hole.count,
                hole.count * spec.quantity(part),
                _and_also(HOLE, hole, _SAID_OF_HOLES, ", ".join(hole.sized_works), hole.note),
                "" if hole.dia is not None else find_thread(hole.thread).drill_text, told.letter, told.words,
            )  # fmt: skip
            rows.append((drill_mm(hole), row))
    return tuple(row for _, row in sorted(rows, key=lambda pair: pair[0]))


_SAID_OF_HOLES = (
    "dia", "thread", "count", "tapped", "countersunk", "countersink", "counterbore", "slot", "deep", "along",
    "reamed", "drifted", "walls", "note", "leg", "at", "across", "face",
)  # fmt: skip


def _and_also(table: FieldTable, row: object, said: Sequence[str], *words: str) -> str:
    """The words, then the row's other fields by heading: "tapped, at 20; 50, across 0"."""
    also = [
        f"{field.heading.lower()} {field.kind.shown(value)}"
        for field, value in table.written(row)
        if field.key not in said
    ]
    return ", ".join([*filter(None, words), *also])


def _worked_ends(spec: JobSpec) -> tuple[WorkedEnds, ...]:
    """Ends to work, one row per part and kind of work: as typed, else only turned or threaded."""
    rows = []
    for part in spec.parts:
        said = Counter(str(form) for end in part.ends for form in end.forms)
        counted = (("turned", part.turned), ("threaded", part.threaded))
        works = [*said.items(), *((work, ends) for work, ends in counted if ends)]
        rows += [WorkedEnds(work, part.bar, part.mark, n, n * spec.quantity(part)) for work, n in works]
    # Turning before threading, and bars of one section together: fewest changes of the lathe.
    return tuple(sorted(rows, key=lambda row: (not row.work.startswith("turn"), row.bar)))


def making_of(spec: JobSpec) -> tuple[str, ...]:
    """Jigs to make first, then the steps of making, joints per set and work on site."""
    steps = [
        f"{number}. {f'{step.operation}: ' if step.operation else ''}{step.text}"
        + (f" ({', '.join(step.marks)})" if step.marks else "")
        for number, step in enumerate(spec.steps, 1)
    ]
    jigs = [f"Make first: {jig.name}, {number_text(jig.minutes)} min" for jig in spec.templates]
    joints = [f"Joints a set: {joint_words(joint)}" for joint in spec.joints]
    site = [f"On site: {', '.join(SITE.told(spec.site))}"] if spec.site is not None else []
    return (*jigs, *steps, *joints, *site)


def _remarks(spec: JobSpec) -> tuple[str, ...]:
    """Drawing and note of the job."""
    return tuple(filter(None, ((f"Drawing {spec.drawing}" if spec.drawing else ""), spec.note)))


def _part_remarks(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[str, ...]:
    """Drawings and notes of the parts, how ends are forged, what is sawn longer to hold it.

    A traveller prints them on the parts' own sheets instead.
    """
    told = []
    for part in spec.parts:
        words = [f"drawing {part.drawing}" if part.drawing else "", part.note]
        words += answers[part.mark].floor_notes
        words.append(part.hold_words)
        if any(words):
            told.append(f"{part.mark}: {'; '.join(filter(None, words))}")
    return tuple(told)


def _finish(spec: JobSpec) -> str:
    if spec.finish is None or spec.finish.kind == "none":
        return ""
    coats = f", {spec.finish.coats} coats" if spec.finish.coats > 1 else ""
    return f"{spec.finish.kind}{coats}"


def sheet_cautions(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[str, ...]:
    """Cautions on every sheet: for the use of the work, its heat, welds and bends; each once."""
    words = list(BY_USE[spec.use])
    # Closed hollow sections burst when heated, by welding or in the zinc bath.
    hot = bool(spec.welds) or spec.is_galvanised
    if hot and any(answer.section.is_hollow for answer in answers.values()):
        words.append(HOLLOW)
    if spec.welds:
        words += [SHRINKAGE, *weld_pulls(spec)]
    for answer in answers.values():
        words += answer.cautions
    if any(answer.bends for answer in answers.values()):
        words.append(CRACK_CAUTION)
    if spec.welds:
        words.append(WELD_CAUTION)
    return tuple(dict.fromkeys(words))
