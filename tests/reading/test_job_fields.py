"""Every field of a job, taken through every direction; a field that lacks a place is named."""

import re
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy.orm import Session

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.reading.job_book import _document, _read_sheets
from shopquote.reading.job_book_sheets import write_job_book
from shopquote.reading.job_fields import HOLE, JOB, PART, TABLES
from shopquote.reading.job_file import read_job_text, write_job_text
from shopquote.reading.job_reader import read_job_tables
from shopquote.records.jobs import JobRevision, PartRow
from shopquote.services.jobs.check import CheckedJob
from shopquote.services.jobs.job_changes import compare_jobs
from shopquote.services.jobs.job_rows import revision_rows, spec_of
from tests.services.job_specs import KINDS, job_specs, values_of

EVERY = (JOB, *TABLES)
AT = datetime(2026, 3, 2, 12, tzinfo=UTC)


def held_elsewhere(table) -> set[str]:
    """Fields of a dataclass that are tables of their own."""
    if table is JOB:
        return {one.attribute for one in TABLES if one.inside is None}
    return {HOLE.attribute} if table is PART else set()


@pytest.mark.parametrize("table", EVERY, ids=lambda table: table.name)
def test_every_field_of_a_dataclass_stands_in_the_table_of_fields(table):
    known = {field.name for field in fields(table.spec)}
    assert known == set(table.by_key) | held_elsewhere(table)


@pytest.mark.parametrize("table", EVERY, ids=lambda table: table.name)
def test_every_field_has_its_columns_and_its_headings_once(table):
    holder = PartRow if table is HOLE else JobRevision
    row = JobRevision if table is JOB else getattr(holder, table.attribute).property.mapper.class_
    held = {column.key for column in row.__mapper__.column_attrs}
    for field in table.columns:
        assert type(field.kind) in KINDS, f"no values to try for {field.key}"
        example = KINDS[type(field.kind)](field.kind, "mm")
        for column in field.kind.store(field.key, first_of(example)):
            assert column in held, f"{row.__tablename__}.{column} for {table.name}.{field.key}"
    headings = [heading.casefold() for field in table.columns for heading in field.headings]
    assert len(headings) == len(set(headings))


@pytest.mark.parametrize("table", EVERY, ids=lambda table: table.name)
def test_readme_tells_every_key(table):
    page = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    told = page[page.index("## The job file") : page.index("## Limits")]
    untold = [key for key in table.by_key if not re.search(rf"`{key}`|^{key} = |[{{ ]{key} = ", told, re.M)]
    assert untold == []


def first_of(strategy):
    found = []

    @settings(max_examples=1, database=None)
    @given(strategy)
    def draw(value):
        found.append(value)

    draw()
    return found[0]


def through_text(job: JobSpec) -> JobSpec:
    return read_job_text(write_job_text(job), "job.toml")


def through_a_workbook(job: JobSpec, path) -> JobSpec:
    faults = []
    document = _document(_read_sheets(write_job_book(job, path)), "job.xlsx", faults)
    return read_job_tables(document, "job.xlsx", told=faults)


def through_the_database(job: JobSpec, session: Session, monkeypatch) -> JobSpec:
    monkeypatch.setattr("shopquote.services.jobs.job_rows._put_answer", put_nothing)
    row = revision_rows(CheckedJob(job, dict.fromkeys(part.mark for part in job.parts), ""), 1, AT, "")
    from shopquote.records.jobs import Job
    from shopquote.records.people import Customer

    customer = Customer(name="c")
    session.add(Job(number="J-1", customer=customer, created_on=AT.date(), revisions=[row]))
    session.flush()
    session.expire_all()
    found = spec_of(row)
    session.rollback()
    return found


def put_nothing(row: PartRow, part: PartSpec, answer: None) -> None:
    """The answer of the bar room is no field of a job; what must not be empty is filled."""
    row.section_key = part.bar


@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(job_specs())
def test_a_job_comes_back_equal_from_file_workbook_and_database(session, tmp_path, monkeypatch, job):
    assert through_text(job) == job
    assert through_a_workbook(job, tmp_path / "job.xlsx") == job
    assert through_the_database(job, session, monkeypatch) == job
    assert compare_jobs(job, job) == ()


PLAIN = read_job_text(
    """
format = 1
[job]
title = "Gate"
customer = "Parish"
sets = 1
units = "mm"
[[part]]
mark = "A"
per_set = 1
bar = "round 12"
grade = "S275"
length = 400
holes = [{ dia = 6, at = [20, 40] }]
[[weld]]
kind = "fillet"
leg = 4
length = 30
count = 2
process = "MAG"
[[bought]]
name = "bolt"
per_set = 1
unit_cost = "1"
[[outside]]
name = "zinc"
basis = "kg"
rate = "1"
[[labour]]
operation = "welding"
minutes = 3
per = "set"
[finish]
kind = "oil"
[[step]]
text = "tack"
[[template]]
name = "jig"
minutes = 5
[[joint]]
kind = "rivet"
count = 4
[site]
hours = 3
""",
    "plain.toml",
)
FIELDS = [(table, field) for table in EVERY for field in table.columns]
# A change of these alone makes no job that could be read: they go together with another.
TIED = {
    ("part", "shape"): {"length": None}, ("holes", "thread"): {"dia": None}, ("holes", "count"): {"at": ()},
}  # fmt: skip


def changed(job: JobSpec, table, **values) -> JobSpec:
    """The job with other values in the only row of a table."""
    if table is JOB:
        return replace(job, **values)
    if table is HOLE:
        (part,) = job.parts
        return replace(job, parts=(replace(part, holes=(replace(part.holes[0], **values),)),))
    (row,) = table.rows_of(job)
    row = replace(row, **values)
    return replace(job, **{table.attribute: (row,) if table.most > 1 else row})


@pytest.mark.parametrize(
    ("table", "field"), FIELDS, ids=[f"{table.name}.{field.key}" for table, field in FIELDS]
)
def test_a_change_of_any_field_is_kept_everywhere_and_told(table, field, session, tmp_path, monkeypatch):
    now = getattr(table.rows_of(PLAIN)[0] if table is not JOB else PLAIN, field.key)
    other = first_of(values_of(table, field, "mm").filter(lambda value: value not in (now, (), "", None)))
    tied = TIED.get((table.name, field.key), {})
    job = changed(PLAIN, table, **{field.key: fitting(table, field, other)}, **tied)
    if field.key == "units":
        job = read_job_text(write_job_text(PLAIN).replace('units = "mm"', 'units = "in"'), "inches.toml")
    assert through_text(job) == job
    assert through_a_workbook(job, tmp_path / "job.xlsx") == job
    assert through_the_database(job, session, monkeypatch) == job
    told = [difference.what for difference in compare_jobs(PLAIN, job)]
    named = table.named_by == field.key  # another name is another row
    assert told and (named or field.told_as.lower() in {what.split(": ")[-1] for what in told}), told


def fitting(table, field, other):
    """The value, where it must agree with another that stands beside it."""
    at = PLAIN.parts[0].holes[0].at
    beside = {("holes", "at"): at[::-1], ("holes", "across"): at[:1], ("weld", "joins"): ("A",),
              ("weld", "at"): ("A start",), ("step", "marks"): ("A",),
              ("joint", "joins"): ("A",)}  # fmt: skip
    return beside.get((table.name, field.key), other)
