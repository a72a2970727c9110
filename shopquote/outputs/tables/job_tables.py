"""Jobs in the terminal and as JSON: added, listed, shown, checked."""

from collections.abc import Iterable, Sequence

from shopquote.calc.job import End, PartSpec
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import CannotMakeError, InputError
from shopquote.outputs.tables.show import new_table, print_facts, print_table
from shopquote.reading.job_file import amount_text, number_text
from shopquote.records.jobs import Job, PartRow
from shopquote.services.jobs.job_rows import CheckedJob
from shopquote.services.jobs.jobs import MOVES, JobLine, LoadedJob


def added_json(jobs: Iterable[Job]) -> dict[str, object]:
    """What `job add` answers."""
    return {
        "jobs": [{"job": job.number, "title": job.revisions[-1].title, "state": job.state} for job in jobs]
    }


def print_added(jobs: Sequence[Job]) -> None:
    """The numbers that new jobs were given, and what comes next."""
    for job in jobs:
        print(f"{job.number}  {job.state}  {job.revisions[-1].title}")
    print(f"Next: shopquote quote {' '.join(job.number for job in jobs[:1])}")


def list_json(lines: Iterable[JobLine]) -> dict[str, object]:
    """What `job list` answers; price is null where nothing was quoted."""
    return {
        "jobs": [
            {
                "job": line.job,
                "title": line.title,
                "state": line.state,
                "customer": line.customer,
                "sets": line.sets,
                "due": line.due,
                "price": line.price,
                "currency": line.currency,
                "revision": line.revision,
            }
            for line in lines
        ]
    }


def print_list(lines: Sequence[JobLine]) -> None:
    """Jobs as a table for a terminal of 80 columns."""
    if not lines:
        print("No jobs on file. Add one: shopquote job add FILE")
        return
    table = new_table("Job", "Title", "Customer", ("Sets", "right"), "State", "Due", ("Price", "right"))
    for line in lines:
        table.add_row(
            line.job,
            line.title,
            line.customer,
            str(line.sets),
            line.state,
            line.due.isoformat() if line.due else "",
            "" if line.price is None else f"{line.price:,f}",
        )
    currencies = sorted({line.currency for line in lines if line.currency})
    if currencies:
        table.caption = f"Price: newest quote without tax, {', '.join(currencies)}"
        table.caption_justify = "left"
    print_table(table)


def job_json(loaded: LoadedJob) -> dict[str, object]:
    """One job in full: as typed, with what was worked out when it was stored."""
    job, revision, spec = loaded.job, loaded.revision, loaded.spec
    return {
        "job": job.number,
        "state": job.state,
        "revision": revision.revision,
        "revisions": job.revision,
        "title": spec.title,
        "customer": spec.customer,
        "sets": spec.sets,
        "breaks": list(spec.breaks),
        "units": spec.units,
        "use": spec.use,
        "due": spec.due,
        "created": job.created_on,
        "parts": [_part_json(part, row) for part, row in zip(spec.parts, revision.parts, strict=True)],
        "welds": [
            {
                "kind": weld.kind,
                "leg": weld.leg.text,
                "leg_mm": weld.leg,
                "length": weld.length.text,
                "length_mm": weld.length,
                "count": weld.count,
                "process": weld.process,
                "note": weld.note,
            }
            for weld in spec.welds
        ],
        "bought": [
            {"name": item.name, "per_set": item.per_set, "unit_cost": amount_text(item.unit_cost)}
            for item in spec.bought
        ],
        "outside": [
            {
                "name": work.name,
                "basis": work.basis,
                "rate": amount_text(work.rate),
                "minimum": amount_text(work.minimum),
            }
            for work in spec.outside
        ],
        "labour": [
            {"operation": line.operation, "minutes": float(line.minutes), "per": line.per}
            for line in spec.labour
        ],
        "finish": None if spec.finish is None else {"kind": spec.finish.kind, "coats": spec.finish.coats},
        "states": [
            {"from": change.from_state, "to": change.to_state, "at": change.at, "reason": change.reason}
            for change in job.state_changes
        ],
        "next": list(MOVES[job.state]),
    }


def _part_json(part: PartSpec, row: PartRow) -> dict[str, object]:
    return {
        "mark": part.mark,
        "name": part.name,
        "per_set": part.per_set,
        "bar": part.bar,
        "grade": part.grade,
        "dims": part.dims,
        "shape": part.shape,
        "length": None if part.length is None else part.length.text,
        "bend_axis": part.bend_axis,
        "ends": [str(end) for end in part.ends],
        "one_heat": part.one_heat,
        "turned": part.turned,
        "threaded": part.threaded,
        "holes": [
            {
                "dia": None if hole.dia is None else hole.dia.text,
                "dia_mm": hole.dia,
                "count": hole.count,
                "tapped": hole.tapped,
                "countersunk": hole.countersunk,
            }
            for hole in part.holes
        ],
        "developed_mm": row.developed,
        "cut_mm": row.cut,
        "mass_kg": None if row.mass_kg is None else float(row.mass_kg),
    }


def print_job(loaded: LoadedJob) -> None:
    """One job in full for a terminal."""
    job, revision, spec = loaded.job, loaded.revision, loaded.spec
    older = f" of {job.revision}" if job.revision > 1 else ""
    facts = [
        ("Customer", spec.customer),
        ("State", f"{job.state} (next: {', '.join(MOVES[job.state]) or 'none'})"),
        ("Revision", f"{revision.revision}{older}"),
        ("Sets", f"{spec.sets}" + (f", priced also at {_list(spec.breaks)}" if spec.breaks else "")),
        ("Use", spec.use),
        ("Due", spec.due.isoformat() if spec.due else ""),
        ("Bare numbers", "millimetres" if spec.units == "mm" else "inches"),
        ("Finish", "" if spec.finish is None else f"{spec.finish.kind}, {_count(spec.finish.coats, 'coat')}"),
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
    unit = loaded.spec.units
    table = new_table(
        "Mark", "Name", ("Per set", "right"), "Bar", "Grade", ("Cut length", "right"), ("kg each", "right")
    )
    for part, row in zip(loaded.spec.parts, loaded.revision.parts, strict=True):
        table.add_row(
            part.mark,
            part.name,
            str(part.per_set),
            part.bar,
            part.grade,
            _length(row.cut, unit),
            "" if row.mass_kg is None else f"{row.mass_kg:.3f}",
        )
    print()
    print_table(table)
    print()
    print_facts([(part.mark, _made_how(part)) for part in loaded.spec.parts])


def _made_how(part: PartSpec) -> str:
    """What a part is, in one line: its shape or length as typed, its ends and holes."""
    if part.shape is not None:
        words = [f"{' '.join(part.shape.split())} ({part.dims} legs)"]
        words += ["bent on edge"] if part.bend_axis == "hard" else []
    else:
        words = [f"straight {part.length.text}" if part.length else "straight"]
    if part.ends != (End(), End()):
        words.append(f"ends {part.ends[0]} and {part.ends[1]}")
    for hole in part.holes:
        words.append(" ".join([_count(hole.count, "hole"), hole.size, *hole.works]))
    words += [f"{_count(ends, 'end')} {work}" for work, ends in part.worked_ends]
    words += ["all from one heat"] if part.one_heat else []
    return "; ".join(words)


def _print_rest(loaded: LoadedJob) -> None:
    spec = loaded.spec
    facts = [
        (
            "Weld",
            f"{weld.count} x {weld.kind}, leg {weld.leg.text}, length {weld.length.text}, {weld.process}"
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
            + (f", at least {amount_text(work.minimum)}" if work.minimum else ""),
        )
        for work in spec.outside
    ]
    facts += [
        ("Labour", f"{line.operation}, {number_text(line.minutes)} min per {line.per}")
        for line in spec.labour
    ]
    if facts:
        print()
        print_facts(facts)


def checked_json(checked: Iterable[CheckedJob]) -> dict[str, object]:
    """What `check` answers of files without mistakes; problems are for a person to decide."""
    return {
        "files": [
            {
                "file": job.path,
                "title": job.spec.title,
                "sets": job.spec.sets,
                "parts": len(job.spec.parts),
                "problems": [
                    {"mark": mark, "code": problem.code, "message": problem.message}
                    for mark, answer in job.answers.items()
                    for problem in answer.problems
                ],
            }
            for job in checked
        ],
        "mistakes": [],
    }


def mistakes_json(error: InputError | CannotMakeError) -> dict[str, object]:
    """What `check` answers of files with mistakes."""
    return {
        "files": [],
        "mistakes": [
            {
                "file": fault.file,
                "table": fault.table,
                "mark": fault.mark,
                "key": fault.key,
                "found": fault.found,
                "expected": fault.expected if fault.message is None else fault.message,
                "nearest": fault.nearest,
            }
            for fault in error.faults
        ],
        "message": str(error),
    }


def print_checked(checked: Iterable[CheckedJob]) -> None:
    """A line a file, and what a person should look at."""
    for job in checked:
        print(f"{job.path}: no mistakes; {job.spec.title}, {_count(len(job.spec.parts), 'part')}")
        for mark, answer in job.answers.items():
            for problem in answer.problems:
                print(f"  part {mark}: {problem.message}")


def revised_json(loaded: LoadedJob) -> dict[str, object]:
    """What `job revise` answers."""
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


def state_json(job: Job) -> dict[str, object]:
    """What `job status` answers."""
    return {"job": job.number, "state": job.state, "next": list(MOVES[job.state])}


def print_revised(loaded: LoadedJob) -> None:
    """That a new revision was stored."""
    print(f"{loaded.job.number}  revision {loaded.revision.revision}  {loaded.spec.title}")
    if loaded.job.state != "asked":
        print(f"Its quote is of an older revision; quote it again: shopquote quote {loaded.job.number}")


def print_state(job: Job) -> None:
    """Where a job stands and where it may go."""
    following = ", ".join(MOVES[job.state])
    print(f"{job.number}  {job.state}" + (f"  (next: {following})" if following else ""))


def _length(length: Length | None, unit: Unit) -> str:
    return "" if length is None else show_length(length, unit)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _list(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in numbers)
