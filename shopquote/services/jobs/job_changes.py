"""Compare two versions of a job, field by field, by the table of fields.

Begin at `compare_jobs`. Rows are matched by mark or name where they have one, else by position.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.reading.job_fields import HOLE, JOB, TABLES, FieldTable


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference: what differs, its value before and after; `change` is the difference of two figures."""

    what: str
    before: str
    after: str
    change: str = ""


def compare_jobs(before: JobSpec, after: JobSpec) -> tuple[Difference, ...]:
    """Every field that differs; a row added or removed is one difference."""
    found = [*_fields(JOB, "", before, after)]
    for table in TABLES:
        if table.inside is None:
            found += _rows(table, "", table.rows_of(before), table.rows_of(after))
    return tuple(found)


def _rows(
    table: FieldTable, within: str, before: Sequence[Any], after: Sequence[Any]
) -> Iterator[Difference]:
    old, new = _named(table, before), _named(table, after)
    for name in dict.fromkeys([*old, *new]):
        what = f"{within}{name}"
        if name in old and name in new:
            yield from _fields(table, f"{what}: ", old[name], new[name])
            if isinstance(old[name], PartSpec):
                yield from _rows(HOLE, f"{what}: ", old[name].holes, new[name].holes)
        else:
            shown = (_in_one_line(table, rows[name]) if name in rows else "" for rows in (old, new))
            yield Difference(what, *shown)


def _named(table: FieldTable, rows: Sequence[Any]) -> dict[str, Any]:
    """Rows by the name that a person uses: "part A", "bought M8 bolt", "weld 2"."""
    if table.most == 1:
        return {table.name: rows[0]} if rows else {}
    if not table.named_by:
        word = table.name.removesuffix("s")
        return {f"{word} {number}": row for number, row in enumerate(rows, 1)}
    named: dict[str, Any] = {}
    times: Counter[str] = Counter()
    for row in rows:
        name = f"{table.name} {getattr(row, table.named_by)}"
        times[name] += 1
        named[name if times[name] == 1 else f"{name} ({times[name]})"] = row
    return named


def _fields(table: FieldTable, within: str, before: Any, after: Any) -> Iterator[Difference]:
    for field in table.columns:
        old, new = getattr(before, field.key), getattr(after, field.key)
        if old != new:
            heading = " and ".join(field.headings).lower()
            yield Difference(f"{within}{heading}", field.kind.shown(old), field.kind.shown(new))


def _in_one_line(table: FieldTable, row: Any) -> str:
    """A row in words: required fields by value alone, the others with their headings."""
    words = [
        field.kind.shown(value)
        if table.is_needed(field.key)
        else f"{field.heading.lower()} {field.kind.shown(value)}"
        for field, value in table.written(row)
    ]
    words += [_in_one_line(HOLE, hole) for hole in row.holes] if isinstance(row, PartSpec) else []
    return ", ".join(words)
