"""Checked job files, in the terminal and as JSON; imports no database table, so that `check` starts fast."""

from collections.abc import Iterable

from shopquote.calc.bar.hole_patterns import pattern_problems
from shopquote.calc.bar.part_answer import Problem
from shopquote.calc.pricing.weld_checks import weld_problems
from shopquote.errors import CannotMakeError, InputError, counted
from shopquote.services.jobs.check import CheckedJob


def checked_json(checked: Iterable[CheckedJob]) -> dict[str, object]:
    """JSON of `check` for files without mistakes; `problems` are warnings for a person to decide about."""
    return {
        "files": [
            {
                "file": job.path,
                "title": job.spec.title,
                "sets": job.spec.sets,
                "parts": len(job.spec.parts),
                "problems": [
                    {"mark": mark, "code": problem.code, "message": problem.message}
                    for mark, problem in _problems(job)
                ],
            }
            for job in checked
        ],
        "mistakes": [],
    }


def mistakes_json(error: InputError | CannotMakeError) -> dict[str, object]:
    """JSON of `check` for files with mistakes."""
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
    """Print a line for each file, and its warnings."""
    for job in checked:
        print(f"{job.path}: no mistakes; {job.spec.title}, {counted(len(job.spec.parts), 'part')}")
        for mark, problem in _problems(job):
            print(f"  {mark if mark.startswith('Weld ') else f'part {mark}'}: {problem.message}")


def _problems(job: CheckedJob) -> list[tuple[str, Problem]]:
    """Warnings of a job, each with the mark of its part or the name of its weld."""
    of_parts = [(mark, problem) for mark, answer in job.answers.items() for problem in answer.problems]
    return [*of_parts, *pattern_problems(job.spec), *weld_problems(job.spec, job.answers)]
