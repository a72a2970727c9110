"""Read job files and work their parts out with no database; report every mistake of all of them together.

Begin at `check_jobs`.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.errors import CannotMakeError, Fault, InputError, fault_lines, told_together
from shopquote.reading.job_book import read_job
from shopquote.reading.job_file import read_text, write_job_text
from shopquote.reading.kinds import Notation
from shopquote.services.jobs.part import work_out_parts


@dataclass(frozen=True)
class CheckedJob:
    """A job that was read and can be made: its parts' answers by mark, and its text to store."""

    spec: JobSpec
    answers: Mapping[str, PartAnswer]
    source: str
    path: Path | None = None


def check_jobs(
    paths: Sequence[Path], shop: BendingShop, notation: Notation, *, after: str = ""
) -> tuple[CheckedJob, ...]:
    """Read job files and workbooks and work out their parts, storing nothing.

    `notation` is the shop's, for the currency of amounts; `after` completes the error message: what did not
    happen because of the mistakes.

    Raises:
        InputError: the mistakes of all files together, parts with impossible geometry included.
        CannotMakeError: parts with impossible geometry are all that is wrong.
    """
    checked: list[CheckedJob] = []
    errors: list[tuple[Path, InputError | CannotMakeError]] = []
    # A file named twice is one job.
    for path in dict.fromkeys(paths):
        try:
            spec = read_job(path, grades=shop.grades, notation=notation)
            answers = work_out_parts(spec, shop)
        except (InputError, CannotMakeError) as error:
            errors.append((path, error))
        else:
            # A job file is stored to the letter, with its comments; a workbook as the job file it amounts to.
            source = read_text(path) if path.suffix.lower() == ".toml" else write_job_text(spec)
            checked.append(CheckedJob(spec, answers, source, path))
    if errors:
        raise _together(errors, after)
    return tuple(checked)


def _together(
    errors: Sequence[tuple[Path, InputError | CannotMakeError]], after: str
) -> InputError | CannotMakeError:
    """One error for all mistakes of one file or several; `after` as of `check_jobs`."""
    faults = [fault for path, error in errors for fault in _faults(path, error)]
    if all(isinstance(error, CannotMakeError) for _, error in errors):
        told = "\n".join(told_together(faults))
        return CannotMakeError(f"{told}\n{after[0].upper()}{after[1:]}." if after else told, faults=faults)
    cut_short = any(isinstance(error, InputError) and error.cut_short for _, error in errors)
    if len(errors) == 1:
        ((_, error),) = errors
        if error.faults:
            return InputError.from_faults(faults, after=after, cut_short=cut_short)
        return InputError(error.message, hint=error.hint, faults=faults)
    head = f"{len(faults)} mistakes in {len(errors)} files"
    head += " and more" if cut_short else ""
    head += f"; {after}." if after else ":"
    return InputError(f"{head}\n{fault_lines(faults)}", faults=faults)


def _faults(path: Path, error: InputError | CannotMakeError) -> Sequence[Fault]:
    """The mistakes of a file; an error without a list of them counts as one."""
    if error.faults:
        return error.faults
    told = str(error).removeprefix(f"{path}: ")
    return [Fault(str(path), "", "", "", found="", expected="", message=told)]
