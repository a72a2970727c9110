"""Jobs in the terminal and as JSON: added, listed, shown, checked."""

from collections.abc import Iterable, Sequence

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.shapes import told_in_full
from shopquote.calc.job import PartSpec, StepSpec
from shopquote.errors import counted
from shopquote.outputs.looks import COUNT, FINE_MASS, LENGTH, Setting
from shopquote.outputs.table import Column, Table, json_rows
from shopquote.outputs.tables.show import print_facts, print_table
from shopquote.reading import job_fields as fields
from shopquote.reading.job_numbers import amount_text, number_text
from shopquote.records.jobs import Job, PartRow, StateChange
from shopquote.services.jobs.job_states import MOVES
from shopquote.services.jobs.jobs import LoadedJob


def added_json(jobs: Iterable[Job], guessed: Iterable[str] = ()) -> dict[str, object]:
    """JSON of `job add`; `guessed` are sentences about sizes that no supplier lists."""
    return {
        "jobs": [{"job": job.number, "title": job.revisions[-1].title, "state": job.state} for job in jobs],
        "guessed": list(guessed),
    }


def print_added(jobs: Sequence[Job], guessed: Iterable[str] = ()) -> None:
    """Print the numbers of new jobs, sizes that no supplier lists, and the next step."""
    for job in jobs:
        print(f"{job.number}  {job.state}  {job.revisions[-1].title}")
    for words in guessed:
        print(f"Note: {words}")
    print(f"Next: shopquote quote {' '.join(job.number for job in jobs[:1])}")


PartInJob = tuple[PartSpec, PartRow]
PARTS: tuple[Column[PartInJob], ...] = (
    Column("Mark", lambda of: of[0].mark),
    Column("Name", lambda of: of[0].name),
    Column("Per set", lambda of: of[0].per_set, COUNT),
    Column("Bar", lambda of: of[0].bar),
    Column("Grade", lambda of: of[0].grade),
    Column("Cut length", lambda of: of[1].cut, LENGTH),
    Column("{mass} each", lambda of: of[1].mass_kg, FINE_MASS),
)
STATES: tuple[Column[StateChange], ...] = (
    Column("from", lambda change: change.from_state),
    Column("to", lambda change: change.to_state),
    Column("at", lambda change: change.at),
    Column("reason", lambda change: change.reason),
)


def job_json(loaded: LoadedJob) -> dict[str, object]:
    """JSON of one job: as typed, with what was worked out when it was stored."""
    job, revision, spec = loaded.job, loaded.revision, loaded.spec
    answer: dict[str, object] = {
        "job": job.number,
        "state": job.state,
        "revision": revision.revision,
        "revisions": job.revision,
        "created": job.created_on,
        **_fields_json(fields.JOB, spec),
    }
    for table in fields.TABLES:
        if table.inside is None:
            shown = [_fields_json(table, row) for row in table.rows_of(spec)]
            answer[table.attribute] = shown if table.most > 1 else next(iter(shown), None)
    answer["parts"] = [_part_json(part, row) for part, row in _parts(loaded)]
    return answer | {"states": json_rows(STATES, job.state_changes), "next": list(MOVES[job.state])}


def _fields_json(table: fields.FieldTable, row: object) -> dict[str, object]:
    """Every field of a row by its key; a length as typed, with its millimetres beside it."""
    shown: dict[str, object] = {}
    for field in table.columns:
        shown |= field.kind.json(field.key, getattr(row, field.key))
    return shown


def _part_json(part: PartSpec, row: PartRow) -> dict[str, object]:
    return {
        **_fields_json(fields.PART, part),
        "holes": [_fields_json(fields.HOLE, hole) for hole in part.holes],
        "developed_mm": row.developed,
        "cut_mm": row.cut,
        "mass_kg": None if row.mass_kg is None else float(row.mass_kg),
    }


def _parts(loaded: LoadedJob) -> list[PartInJob]:
    return list(zip(loaded.spec.parts, loaded.revision.parts, strict=True))


_TOLD_OF_JOB = ("description", "note", "drawing", "enquiry")


def print_job(loaded: LoadedJob, delivered: str = "") -> None:
    """Print one job in full; `delivered` describes its deliveries, empty if there are none."""
    job, revision, spec = loaded.job, loaded.revision, loaded.spec
    finish = spec.finish
    older = f" of {job.revision}" if job.revision > 1 else ""
    facts = [
        ("Customer", spec.customer),
        ("State", f"{job.state} (next: {', '.join(MOVES[job.state]) or 'none'})"),
        ("Revision", f"{revision.revision}{older}"),
        ("Sets", f"{spec.sets}" + (f", priced also at {_list(spec.breaks)}" if spec.breaks else "")),
        ("Delivery", delivered),
        ("Like assemblies in a set", str(spec.assemblies) if spec.assemblies > 1 else ""),
        ("Use", spec.use),
        ("Due", spec.due.isoformat() if spec.due else ""),
        *((fields.JOB.by_key[key].heading, getattr(spec, key)) for key in _TOLD_OF_JOB),
        ("Bare numbers", "millimetres" if spec.units == "mm" else "inches"),
        ("Finish", f"{finish.kind}, {counted(finish.coats, 'coat')}" if finish else ""),
    ]
    print_facts([fact for fact in facts if fact[1]], title=f"{job.number}  {spec.title}")
    _print_parts(loaded)
    _print_rest(loaded)
    changes = [
        f"{change.at.astimezone():%Y-%m-%d %H:%M}  {change.to_state}"
        + (f"  {change.reason}" if change.reason else "")
        for change in job.state_changes
    ]
    print("\n" + "\n".join(changes))


def _print_parts(loaded: LoadedJob) -> None:
    if not loaded.spec.parts:
        return
    print()
    print_table(Table(PARTS, _parts(loaded), setting=Setting(unit=loaded.spec.units)))
    print()
    print_facts([(part.mark, _made_how(part)) for part in loaded.spec.parts])


def _made_how(part: PartSpec) -> str:
    """A part in one line: its shape or length as typed, its ends and holes."""
    if part.shape is not None:
        words = [f"{told_in_full(part.shape)} ({part.dims} legs)"]
        words += ["bent on edge"] if part.bend_axis == "hard" else []
    else:
        words = [f"straight {part.length.text}" if part.length else "straight"]
    if part.ends != (End(), End()):
        words.append(f"ends {part.ends[0]} and {part.ends[1]}")
    for hole in part.holes:
        holes = " ".join([counted(hole.count, "hole"), hole.size, *hole.works])
        words.append(", ".join([holes, *fields.HOLE.told(hole, _SAID_OF_HOLES)]))
    words += [f"{counted(ends, 'end')} {work}" for work, ends in part.worked_ends]
    words += ["all from one heat"] if part.one_heat else []
    return "; ".join([*words, *fields.PART.told(part, _SAID_OF_PARTS)])


# Fields that the lines above show in their own words; every other field follows under its heading.
_SAID_OF_PARTS = (
    "mark", "name", "per_set", "bar", "grade", "dims", "shape", "length", "bend_axis", "ends", "one_heat",
    "turned", "threaded",
)  # fmt: skip
_SAID_OF_HOLES = (
    "dia", "count", "tapped", "countersunk", "thread", "along", "reamed", "drifted", "walls",
    "face",
)  # fmt: skip
_SAID_OF_WELDS = ("kind", "leg", "length", "count", "process", "note")


def _print_rest(loaded: LoadedJob) -> None:
    spec = loaded.spec
    facts = [
        (
            "Weld",
            f"{weld.count} x {weld.kind}, {weld.size_words}, length {weld.length.text}, {weld.process}"
            + "".join(f", {also}" for also in fields.WELD.told(weld, _SAID_OF_WELDS))
            + (f", {weld.note}" if weld.note else ""),
        )
        for weld in spec.welds
    ]
    facts += [
        ("Bought", f"{item.per_set} x {item.name}, {amount_text(item.unit_cost)} each")
        for item in spec.bought
    ]
    facts += [
        (
            "Outside",
            f"{work.name}, {amount_text(work.rate)} per {work.basis}"
            + (f", at least {amount_text(work.minimum)}" if work.minimum else "")
            + (f", carriage {amount_text(work.carriage)}" if work.carriage is not None else ""),
        )
        for work in spec.outside
    ]
    facts += [
        ("Labour", f"{line.operation}, {number_text(line.minutes)} min per {line.per}")
        for line in spec.labour
    ]
    facts += [(f"Step {number}", _step_words(step)) for number, step in enumerate(spec.steps, 1)]
    facts += [("Jig", ", ".join(fields.TEMPLATE.told(jig))) for jig in spec.templates]
    facts += [("Joint", ", ".join(fields.JOINT.told(joint))) for joint in spec.joints]
    if spec.site is not None:
        facts.append(("On site", ", ".join(fields.SITE.told(spec.site))))
    if facts:
        print()
        print_facts(facts)


def _step_words(step: StepSpec) -> str:
    marks = f" ({', '.join(step.marks)})" if step.marks else ""
    return f"{f'{step.operation}: ' if step.operation else ''}{step.text}{marks}"


def revised_json(loaded: LoadedJob) -> dict[str, object]:
    """JSON of `job revise`."""
    return {
        "jobs": [
            {
                "job": loaded.job.number,
                "title": loaded.spec.title,
                "state": loaded.job.state,
                "revision": loaded.revision.revision,
            }
        ]
    }


def state_json(
    job: Job, delivered: str = "", short: Sequence[str] = (), coming: str = "", bars: str = ""
) -> dict[str, object]:
    """JSON of `job status`.

    Args:
        job: the job after the change.
        delivered: what is left to deliver; empty if nothing was delivered.
        short: of a finished job, the marks with fewer good pieces logged than it asks for.
        coming: of a job that is over, the orders that still bring bars for it.
        bars: rack pieces promised to it that nobody logged.
    """
    told: dict[str, object] = {"job": job.number, "state": job.state, "next": list(MOVES[job.state])}
    also = {"delivered": delivered, "coming": coming, "bars": bars, "short": list(short)}
    return told | {key: words for key, words in also.items() if words}


def print_revised(loaded: LoadedJob) -> None:
    """Print that a new revision was stored."""
    print(f"{loaded.job.number}  revision {loaded.revision.revision}  {loaded.spec.title}")
    if loaded.job.state != "asked":
        print(f"Its quote is of an older revision; quote it again: shopquote quote {loaded.job.number}")


def print_state(
    job: Job, delivered: str = "", short: Sequence[str] = (), coming: str = "", bars: str = ""
) -> None:
    """Print a job's state and the states it can go to; arguments as of `state_json`."""
    following = ", ".join(MOVES[job.state])
    print(f"{job.number}  {job.state}" + (f"  (next: {following})" if following else ""))
    if short:
        print(f"Good pieces are short: {'; '.join(short)}.")
    if bars:
        print(bars)
    if delivered:
        print(delivered)
    if coming:
        print(f"Note: {coming}")


def _list(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in numbers)
