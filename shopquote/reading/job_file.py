"""The job file: TOML text to a checked `JobSpec` and back.

Begin at `read_job_file`. All mistakes of a file are reported together; a file with a mistake gives no job.
"""

import re
from collections.abc import Iterable
from decimal import InvalidOperation
from pathlib import Path

from shopquote.calc.job import JobSpec
from shopquote.errors import InputError, nearest_word
from shopquote.reading.files import bytes_of
from shopquote.reading.job_fields import HOLE, JOB, PART, TABLES, FieldTable
from shopquote.reading.job_reader import FORMAT, LONGEST_FILE_BYTES, read_job_tables
from shopquote.reading.kinds import Notation
from shopquote.reading.toml_files import parse_toml

# Atomic groups and possessive quantifiers: no backtracking, so that one pass suffices for any text.
_DEEP_KEY = re.compile(r"""(?<![\w.-])(?>(?:"[^"\n]*+"|'[^'\n]*+'|[\w-]++)[ \t]*+\.[ \t]*+){30}""")
_LONG_NUMBER = re.compile(r"(?<![0-9_])[0-9_]{4301}")


def read_job_file(
    path: Path, *, grades: Iterable[str] | None = None, notation: Notation | None = None
) -> JobSpec:
    """Read and check one job file; `grades` and `notation` as for `read_job_tables`.

    Raises:
        InputError: the file cannot be read, is not TOML, or has mistakes (`.faults`).
    """
    return read_job_text(read_text(path), str(path), grades=grades, notation=notation)


def read_text(path: Path) -> str:
    """The text of a file in UTF-8, with or without a byte order mark.

    Raises:
        InputError: no such file, not a file, too long, or not UTF-8.
    """
    check_file(path)
    raw = bytes_of(path, LONGEST_FILE_BYTES)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}: line {line} holds a character that is not UTF-8.",
            hint="Save the file as UTF-8 text and read it again.",
        ) from error


def check_file(path: Path) -> None:
    """Refuse a path that is no job file or workbook to read: missing, not a file, or too large.

    Raises:
        InputError: it is one of these.
    """
    if not path.exists():
        raise InputError(f"{path}: there is no such file.", hint=_file_hint(path))
    if not path.is_file():
        raise InputError(f"{path}: this is not a file.", hint="Name a job file, such as hooks.toml.")
    size = path.stat().st_size
    if size > LONGEST_FILE_BYTES:
        raise InputError(
            f"{path}: the file has {size:,} bytes; a job file may have {LONGEST_FILE_BYTES:,} at most."
        )


def read_job_text(
    text: str, name: str, *, grades: Iterable[str] | None = None, notation: Notation | None = None
) -> JobSpec:
    """Read and check a job from the text of a job file; the others as for `read_job_tables`.

    Raises:
        InputError: the text is not TOML, or the job has mistakes (`.faults`).
    """
    if len(text) > LONGEST_FILE_BYTES:
        raise InputError(f"{name}: the text is longer than {LONGEST_FILE_BYTES:,} characters.")
    if _DEEP_KEY.search(text):
        # tomllib's time grows with the square of a dotted key's depth, and no job has such a key.
        raise InputError(f"{name}: not a job file: it holds a key of over 30 words.")
    if _LONG_NUMBER.search(text):
        # tomllib keeps over a hundred bytes for each digit before it refuses the number.
        raise InputError(f"{name}: not a job file: it holds a value too large to be used.")
    try:
        document = parse_toml(text, name)
    except (ValueError, RecursionError, InvalidOperation) as error:
        # A number of thousands of digits, or brackets nested thousands deep.
        raise InputError(f"{name}: not a job file: it holds a value too large to be used.") from error
    return read_job_tables(document, name, grades=grades, notation=notation)


def write_job_text(spec: JobSpec) -> str:
    """A job as the text of a job file, which reads back to an equal job."""
    lines = [f"format = {FORMAT}", "", "[job]", *_pairs(JOB, spec)]
    for table in TABLES:
        if table.inside is not None:
            continue
        for row in table.rows_of(spec):
            lines += ["", f"[[{table.name}]]" if table.most > 1 else f"[{table.name}]", *_pairs(table, row)]
            if table is PART and row.holes:
                holes = ", ".join(f"{{ {', '.join(_pairs(HOLE, hole))} }}" for hole in row.holes)
                lines.append(f"{HOLE.name} = [{holes}]")
    return "\n".join(lines) + "\n"


def _pairs(table: FieldTable, row: object) -> list[str]:
    return [f"{field.key} = {field.kind.toml(value)}" for field, value in table.written(row)]


def _file_hint(path: Path) -> str | None:
    folder = path.parent
    if not folder.is_dir():
        return f"The folder {folder} is not there either."
    names = [item.name for item in folder.iterdir() if item.suffix.lower() in (".toml", ".xlsx")]
    near = nearest_word(path.name, names)
    return f"Did you mean {folder / near}?" if near else None
