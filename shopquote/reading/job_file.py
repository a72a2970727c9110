"""The job file: TOML in, a checked `JobSpec` out, and back again.

Begin at `read_job_file`. Every mistake of a file is gathered and told at once; a
file with a mistake gives no job at all.
"""

import json
import re
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import cast

from shopquote.calc.job import End, JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError, nearest_word
from shopquote.reading.job_reader import FORMAT, LONGEST_FILE_BYTES, read_job_tables
from shopquote.reading.toml_files import parse_toml

_PLAIN_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)
# Begins only where a word begins and never goes back, so that it takes one pass of any text.
_DEEP_KEY = re.compile(r"""(?<![\w.-])(?>(?:"[^"\n]*+"|'[^'\n]*+'|[\w-]++)[ \t]*+\.[ \t]*+){30}""")
_LONG_NUMBER = re.compile(r"(?<![0-9_])[0-9_]{4301}")


def read_job_file(path: Path, *, grades: Iterable[str] | None = None) -> JobSpec:
    """Read and check one job file.

    `grades` are the grade names of the shop; without them the starting grades count.

    Raises:
        InputError: the file cannot be read, is not TOML, or has mistakes (`.faults`).
    """
    return read_job_text(read_text(path), str(path), grades=grades)


def read_text(path: Path) -> str:
    """The text of a file in UTF-8, with or without a byte order mark.

    Raises:
        InputError: no such file, not a file, too long, or not UTF-8.
    """
    check_file(path)
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}: line {line} holds a character that is not UTF-8.",
            hint="Save the file as UTF-8 text and read it again.",
        ) from error


def check_file(path: Path) -> None:
    """Refuse a path that is no file to read, or one over the limit."""
    if not path.exists():
        raise InputError(f"{path}: there is no such file.", hint=_file_hint(path))
    if not path.is_file():
        raise InputError(f"{path}: this is not a file.", hint="Name a job file, such as hooks.toml.")
    size = path.stat().st_size
    if size > LONGEST_FILE_BYTES:
        raise InputError(
            f"{path}: the file has {size:,} bytes; a job file may have {LONGEST_FILE_BYTES:,} at most."
        )


def read_job_text(text: str, name: str, *, grades: Iterable[str] | None = None) -> JobSpec:
    """Read and check a job from the text of a job file; `name` is said in every mistake.

    Raises:
        InputError: the text is not TOML, or the job has mistakes (`.faults`).
    """
    if len(text) > LONGEST_FILE_BYTES:
        raise InputError(f"{name}: the text is longer than {LONGEST_FILE_BYTES:,} characters.")
    if _DEEP_KEY.search(text):
        # The TOML reader's time grows with the square of a key's depth, and no job has such a key.
        raise InputError(f"{name}: not a job file: it holds a key of over 30 words.")
    if _LONG_NUMBER.search(text):
        # The TOML reader keeps over a hundred bytes for each digit before it refuses the number.
        raise InputError(f"{name}: not a job file: it holds a value beyond any use.")
    try:
        document = parse_toml(text, name)
    except (ValueError, RecursionError, InvalidOperation) as error:
        # A number of thousands of digits, or brackets nested thousands deep.
        raise InputError(f"{name}: not a job file: it holds a value beyond any use.") from error
    return read_job_tables(document, name, grades=grades)


def write_job_text(spec: JobSpec) -> str:
    """The job as the text of a job file; it reads back to the same job."""
    lines = [f"format = {FORMAT}", "", "[job]"]
    lines += _pairs(
        title=_quoted(spec.title),
        customer=_quoted(spec.customer),
        sets=str(spec.sets),
        breaks=f"[{', '.join(map(str, spec.breaks))}]" if spec.breaks else None,
        units=_quoted(spec.units),
        use=_quoted(spec.use),
        due=spec.due.isoformat() if spec.due else None,
    )
    for part in spec.parts:
        lines += ["", "[[part]]", *_part_lines(part)]
    for weld in spec.welds:
        lines += ["", "[[weld]]"]
        lines += _pairs(
            kind=_quoted(weld.kind),
            leg=_measure(weld.leg),
            length=_measure(weld.length),
            count=str(weld.count),
            process=_quoted(weld.process),
            note=_quoted(weld.note) if weld.note else None,
        )
    for item in spec.bought:
        lines += ["", "[[bought]]"]
        lines += _pairs(
            name=_quoted(item.name), per_set=str(item.per_set), unit_cost=_quoted(amount_text(item.unit_cost))
        )
    for work in spec.outside:
        lines += ["", "[[outside]]"]
        lines += _pairs(
            name=_quoted(work.name),
            basis=_quoted(work.basis),
            rate=_quoted(amount_text(work.rate)),
            minimum=_quoted(amount_text(work.minimum)) if work.minimum else None,
        )
    for labour in spec.labour:
        lines += ["", "[[labour]]"]
        lines += _pairs(
            operation=_quoted(labour.operation), minutes=number_text(labour.minutes), per=_quoted(labour.per)
        )
    if spec.finish is not None:
        lines += ["", "[finish]"]
        lines += _pairs(kind=_quoted(spec.finish.kind), coats=str(spec.finish.coats))
    return "\n".join(lines) + "\n"


def _part_lines(part: PartSpec) -> list[str]:
    plain = part.ends == (End(), End())
    holes = ", ".join(
        f"{{ dia = {_measure(cast(Measure, hole.dia))}, count = {hole.count}"
        + (", tapped = true" if hole.tapped else "")
        + (", countersunk = true" if hole.countersunk else "")
        + " }"
        for hole in part.holes
    )
    return _pairs(
        mark=_quoted(part.mark),
        name=_quoted(part.name),
        per_set=str(part.per_set),
        bar=_quoted(part.bar),
        grade=_quoted(part.grade),
        dims=None if part.shape is None and part.dims == "outside" else _quoted(part.dims),
        shape=_quoted(part.shape) if part.shape is not None else None,
        length=_measure(part.length) if part.length is not None else None,
        bend_axis=None if part.bend_axis == "easy" else _quoted(part.bend_axis),
        ends=None if plain else f"[{', '.join(_quoted(str(end)) for end in part.ends)}]",
        holes=f"[{holes}]" if holes else None,
        one_heat="true" if part.one_heat else None,
        turned=str(part.turned) if part.turned else None,
        threaded=str(part.threaded) if part.threaded else None,
    )


def _pairs(**values: str | None) -> list[str]:
    return [f"{key} = {value}" for key, value in values.items() if value is not None]


def _quoted(text: str) -> str:
    # JSON's escapes are a part of TOML's.
    return json.dumps(text, ensure_ascii=False)


def _measure(measure: Measure) -> str:
    return measure.text if _PLAIN_NUMBER.fullmatch(measure.text) else _quoted(measure.text)


def amount_text(amount: Decimal) -> str:
    """A unit cost or rate with 2 decimals, or as many of 4 as it needs.

    >>> amount_text(Decimal("0.4")), amount_text(Decimal("0.0450"))
    ('0.40', '0.045')
    """
    whole, _, decimals = f"{amount:f}".partition(".")
    return f"{whole}.{decimals.rstrip('0').ljust(2, '0')}"


def number_text(number: Decimal) -> str:
    """A number without idle zeros and without an exponent.

    >>> number_text(Decimal("25.000")), number_text(Decimal("1E+2"))
    ('25', '100')
    """
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _file_hint(path: Path) -> str | None:
    folder = path.parent
    if not folder.is_dir():
        return f"The folder {folder} is not there either."
    names = [item.name for item in folder.iterdir() if item.suffix.lower() in (".toml", ".xlsx")]
    near = nearest_word(path.name, names)
    return f"Did you mean {folder / near}?" if near else None
