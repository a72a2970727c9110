from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopquote.calc.bar.end_words import End
from shopquote.calc.job import FinishSpec, HoleSpec, LabourSpec, OutsideSpec
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.reading.job_file import (
    read_job_file,
    read_job_text,
    write_job_text,
)
from shopquote.reading.job_reader import LONGEST_FILE_BYTES
from tests.services.job_specs import job_specs

WHOLE = """
format = 1
[job]
title = "Gate"
customer = "Nether Tarn Parish"
sets = 4
breaks = [1, 4, 12]
units = "mm"
use = "guarding"
due = 2027-03-01
[[part]]
mark = "A"
name = "hoop"
per_set = 2
bar = "round 12"
grade = "S275"
dims = "inside"
shape = "leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150"
[[part]]
mark = "B"
name = "rail"
per_set = 1
bar = "flat 40 x 6"
grade = "s 275"
length = "7' 6-1/2\\""
bend_axis = "hard"
ends = ["square", "mitre 45"]
holes = [{ dia = 6.5, count = 2, countersunk = true }]
turned = 1
threaded = 2
[[weld]]
kind = "fillet"
leg = 5
length = 40
count = 4
process = "mig"
[[bought]]
name = "M10 x 40 hex bolt, class 8.8"
per_set = 8
unit_cost = "0.42"
[[outside]]
name = "hot-dip galvanising"
basis = "kg"
rate = "1.90"
minimum = 60
[[labour]]
operation = "fit-up"
minutes = 25
per = "set"
[finish]
kind = "paint"
coats = 2
"""


def faults_of(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_job_text(text, "gate.toml")
    return [str(fault) for fault in caught.value.faults]


def changed(old: str, new: str) -> str:
    assert WHOLE.count(old) == 1
    return WHOLE.replace(old, new)


def test_every_table_of_the_form_is_read():
    job = read_job_text(WHOLE, "gate.toml")
    assert (job.title, job.sets, job.breaks, job.use, job.due) == (
        "Gate", 4, (1, 4, 12), "guarding", date(2027, 3, 1),
    )  # fmt: skip
    hoop, rail = job.parts
    assert (hoop.dims, hoop.per_set, hoop.length, job.quantity(hoop)) == ("inside", 2, None, 8)
    assert rail.length == Measure("7' 6-1/2\"", Length.from_inches("90.5"))
    assert rail.ends == (End(), End("mitre", Decimal(45)))
    assert rail.holes == (HoleSpec(Measure("6.5", Length.from_mm("6.5")), 2, False, True),)
    assert (rail.grade, rail.bend_axis) == ("S275", "hard")
    assert (rail.worked_ends, hoop.worked_ends) == ((("turned", 1), ("threaded", 2)), ())
    assert job.welds[0].process == "MIG"
    assert job.bought[0].unit_cost == Decimal("0.42")
    assert job.outside == (OutsideSpec("hot-dip galvanising", "kg", Decimal("1.90"), Decimal(60)),)
    assert job.labour == (LabourSpec("fit-up", Decimal(25), "set"),)
    assert job.finish == FinishSpec("paint", 2)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("format = 1", "format = 2", "format: found 2, expected 1"),
        ("format = 1", "", "format: found nothing"),
        ("[finish]", "[finsh]", "did you mean 'finish'?"),
        ("breaks =", "braeks =", "job, braeks: found 'braeks', expected one of the keys"),
        ('use = "guarding"', 'use = "gaurding"', "did you mean 'guarding'?"),
        ("sets = 4", "sets = 0", "job, sets: found 0, expected a whole number from 1"),
        ("sets = 4", "sets = 4.0", "job, sets: found 4.0"),
        ("sets = 4", "sets = true", "job, sets: found true"),
        ("sets = 4", "", "job, sets: found nothing"),
        ("sets = 4", f"sets = {'9' * 4000}", "found a number of over 30 digits"),
        ("sets = 4", f"sets = 0x{'f' * 9000}", "found a number of over 30 digits"),
        ("[1, 4, 12]", "[1, 12, 4]", "job, breaks: found [1, 12, 4]"),
        ("[1, 4, 12]", "[1, 1]", "job, breaks: found [1, 1]"),
        ("[1, 4, 12]", '"1, 4"', "job, breaks: found '1, 4'"),
        ('units = "mm"', 'units = "cm"', "job, units: found 'cm', expected one of mm, in"),
        ('units = "mm"', "", "job, units: found nothing"),
        ("due = 2027-03-01", 'due = "1 March"', "job, due: found '1 March', expected a day such as"),
        ("due = 2027-03-01", "due = 2027-03-01T10:00:00", "job, due: found 2027-03-01 10:00:00"),
        ('title = "Gate"', 'title = "  "', "job, title: found '  ', expected a text"),
        ('title = "Gate"', 'title = "a\\u0000b"', "without control characters"),
        ('title = "Gate"', f'title = "{"x" * 201}"', "job, title: found 201 characters"),
        ('title = "Gate"', "title = 5", 'job, title: found 5, expected a text of 1 to 200'),
        ("per_set = 2", "per_set = 0", "part A, per_set: found 0"),
        ("per_set = 2", "per_set = 99_999_999", "part A, per_set: found 99999999"),
        ('"round 12"', '"rond 12"', "part A, bar: Bar 'rond 12' is not a section"),
        ('grade = "S275"', 'grade = "S257"', "did you mean 'S275'?"),
        ('dims = "inside"', 'dims = "insde"', "part A, dims: found 'insde'"),
        ("leg 300; bend 90", "leg 300; bnd 90", "did you mean 'bend'?"),
        ("leg 150\"", "leg 150\"\nlength = 5", "part A, shape: found both shape and length"),
        ("length = \"7' 6-1/2\\\"\"", "", "part B, shape: found nothing, expected a shape for a bent piece"),
        ("length = \"7' 6-1/2\\\"\"", "length = 0", "part B, length: found 0, expected a length above zero"),
        ("length = \"7' 6-1/2\\\"\"", "length = -5", "part B, length: found -5, expected a length"),
        ("length = \"7' 6-1/2\\\"\"", "length = nan", "part B, length: found NaN, expected a length"),
        ("length = \"7' 6-1/2\\\"\"", "length = -inf", "part B, length: found -Infinity"),
        ("length = \"7' 6-1/2\\\"\"", "length = 1e99999999", "part B, length: found 1E+99999999"),
        ("length = \"7' 6-1/2\\\"\"", "length = [5]", "part B, length: found [5]"),
        ('mark = "B"', 'mark = "a"', "part a, mark: found 'a' again in row 2"),
        ('"square", "mitre 45"', '"square", "mitre 90"', "part B, ends: found ['square', 'mitre 90']"),
        ('"square", "mitre 45"', '"square", "miter 45"', "did you mean 'mitre 45'?"),
        ('"square", "mitre 45"', '"square"', "part B, ends: found ['square'], expected two ends"),
        ('"square", "mitre 45"', '"square", 45', 'part B, ends: found [\'square\', 45], expected two ends'),
        ("dia = 6.5", "dia = 0", "part B hole, dia: found 0"),
        ("dia = 6.5, count = 2", "dia = 6.5, cuont = 2", "part B hole, cuont: found 'cuont'"),
        ("countersunk = true", 'countersunk = "yes"', "countersunk: found 'yes', expected true or false"),
        ("turned = 1", "turned = 3", "part B, turned: found 3, expected a whole number from 0 to 2"),
        ("threaded = 2", "threaded = true", "part B, threaded: found true"),
        ("threaded = 2", "theraded = 2", "did you mean 'threaded'?"),
        ('kind = "fillet"', 'kind = "filet"', "weld row 1, kind: found 'filet'"),
        ('process = "mig"', 'process = "GTAW"', "did you mean 'TIG'?"),
        ('"0.42"', '"0.42345"', "bought row 1, unit_cost: found '0.42345'"),
        ('"0.42"', '"-1"', "bought row 1, unit_cost: found '-1'"),
        ('"0.42"', "nan", "bought row 1, unit_cost: found NaN"),
        ('"0.42"', "1.00000000000000000000000000000000000001", "at most 4 decimals"),
        ('basis = "kg"', 'basis = "kilo"', "basis: found 'kilo', expected one of kg, m2, each, lot"),
        ('"fit-up"', '"fitpu"', "did you mean 'fit-up'?"),
        ("minutes = 25", "minutes = -25", "labour row 1, minutes: found -25"),
        ('per = "set"', 'per = "piece"', "labour row 1, per: found 'piece', expected one of set, job"),
        ("coats = 2", "coats = 0", "finish, coats: found 0"),
        ("[[weld]]", "[weld]", "weld: found a table, expected rows that each begin with [[weld]]"),
        ("[finish]", "[[finish]]", "finish: found [a table], expected one table"),
    ],
)  # fmt: skip
def test_one_mistake_is_told_once_with_its_place(old, new, told):
    faults = faults_of(changed(old, new))
    assert any(told in fault for fault in faults), faults
    assert all(fault.startswith("gate.toml: ") for fault in faults)
    assert len(faults) <= 2, faults  # a misspelt key is also a missing one


@pytest.mark.parametrize("typed", ["90", '"90"', '"1:30"', '"1.5 h"', '"1,5 h"', '"90 min"', "01:30:00"])
def test_minutes_of_a_job_are_read_as_on_floor_sheets(typed):
    assert read_job_text(changed("minutes = 25", f"minutes = {typed}"), "job.toml").labour[0].minutes == 90


def test_an_end_that_is_no_text_is_not_told_as_an_empty_one():
    (told,) = faults_of(changed('"square", "mitre 45"', '"square", 45'))
    assert told.endswith('"turn 16 x 30 + chamfer 2"'), told


@pytest.mark.parametrize(
    ("old", "key"),
    [('use = "guarding"', "note"), ('use = "guarding"', "drawing"), ("dia = 6.5", "pattern")],
)
def test_blanks_alone_are_no_text_where_one_may_be_left_out(old, key):
    apart = ", " if old in "{ dia = 6.5, " else "\n"
    with_blanks = read_job_text(changed(old, f'{old}{apart}{key} = "  "'), "gate.toml")
    assert with_blanks == read_job_text(WHOLE, "gate.toml")


def test_all_mistakes_of_a_file_are_told_at_once():
    text = changed("sets = 4", "sets = 0").replace('"S275"', '"S257"').replace("coats = 2", "coats = -1")
    assert len(faults_of(text)) == 3


def test_a_job_of_nothing_is_refused():
    head = WHOLE[: WHOLE.index("[[part]]")]
    assert faults_of(head) == [
        "gate.toml: part: found nothing, expected a part, or something else to make or buy"
    ]
    assert len(faults_of("format = 1")) == 2


@pytest.mark.parametrize(
    "text", ["", '[[part]]\nmark = "A"\ncut_mm = 12\n', "[tool.ruff]\nline-length = 110\n"]
)
def test_some_other_file_is_told_in_one_line(text):
    with pytest.raises(InputError, match="this is not a job file") as caught:
        read_job_text(text, "other.toml")
    assert "\n" not in str(caught.value)


def test_more_pieces_than_a_plan_can_hold_are_refused():
    text = changed("sets = 4", "sets = 100_000").replace("per_set = 2", "per_set = 50")
    assert "5,000,000 pieces in 100,000 sets" in faults_of(text)[0]
    assert "at most 2,000 rows" in faults_of(WHOLE + '[[weld]]\nkind = "tack"\n' * 2000)[0]


def test_a_slip_in_the_toml_names_its_line():
    with pytest.raises(
        InputError, match=r"gate.toml: line 3: found 'title = \"Gate', expected the closing quote"
    ):
        read_job_text('format = 1\n[job]\ntitle = "Gate\n', "gate.toml")


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 5000, "a = " + "9" * 5000, "a." * 1_000_000 + "b = 1", "['a'" + " .b" * 99_999 + "]"],
)
def test_toml_beyond_any_use_is_an_input_error_at_once(text):
    with pytest.raises(InputError, match=r"too large to be|a key of over 30 words"):
        read_job_text(text, "deep.toml")


def test_a_file_of_nothing_but_mistakes_is_not_read_to_its_end():
    with pytest.raises(InputError, match="1000 mistakes and more"):
        read_job_text("format = 1\n" + "".join(f"k{number} = 1\n" for number in range(2000)), "log.toml")


def test_files_that_are_no_job_files_are_refused(tmp_path: Path):
    with pytest.raises(InputError, match="no such file"):
        read_job_file(tmp_path / "gone.toml")
    with pytest.raises(InputError, match="not a file"):
        read_job_file(tmp_path)
    (tmp_path / "hooks.toml").write_text(WHOLE, encoding="utf-8")
    with pytest.raises(InputError, match=r"Did you mean .*hooks.toml"):
        read_job_file(tmp_path / "hook.toml")
    (tmp_path / "latin.toml").write_bytes(b"format = 1\n# gr\xfcn\n")
    with pytest.raises(InputError, match="line 2 holds a character that is not UTF-8"):
        read_job_file(tmp_path / "latin.toml")
    with (tmp_path / "long.toml").open("wb") as file:
        file.truncate(LONGEST_FILE_BYTES + 1)
    with pytest.raises(InputError, match="10,000,001 bytes"):
        read_job_file(tmp_path / "long.toml")


SHAPE_LINE = 'shape = "leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150"'


def test_a_shape_typed_short_is_kept_in_its_words():
    text = WHOLE.replace(SHAPE_LINE, 'shape = "250 90r36 -45r24 t90 300"')
    assert text != WHOLE
    assert "leg 250; bend 90 r 36; bend -45 r 24; turn 90; leg 300" in [
        part.shape for part in read_job_text(text, "gate.toml").parts
    ]
    wrong = WHOLE.replace(SHAPE_LINE, 'shape = "250 90r36x 300"')
    with pytest.raises(InputError, match="one of leg"):
        read_job_text(wrong, "gate.toml")


def test_a_byte_order_mark_and_windows_lines_are_no_mistake(tmp_path: Path):
    (tmp_path / "gate.toml").write_bytes(b"\xef\xbb\xbf" + WHOLE.replace("\n", "\r\n").encode())
    assert read_job_file(tmp_path / "gate.toml") == read_job_text(WHOLE, "gate.toml")


def test_the_grades_of_the_shop_are_those_that_count():
    assert read_job_text(WHOLE, "gate.toml", grades=["S275", "own steel"]).parts[0].grade == "S275"
    with pytest.raises(InputError, match=r"expected a grade on file: own steel"):
        read_job_text(WHOLE, "gate.toml", grades=["own steel"])


@given(job_specs())
def test_a_written_job_reads_back_the_same(job):
    assert read_job_text(write_job_text(job), "job.toml") == job


@settings(max_examples=80)
@given(st.data())
def test_a_job_file_with_any_change_gives_a_job_or_an_input_error(data):
    text = WHOLE
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 12)))
        tricky = st.sampled_from(
            ["nan", "1e999", "{}", "[]", '""', "\n[[part]]\n", "=", "true", "0x1", "1979-05-27"]
        )
        text = text[:start] + data.draw(tricky | st.text(max_size=6)) + text[end:]
    try:
        job = read_job_text(text, "gate.toml")
    except InputError:
        return
    assert read_job_text(write_job_text(job), "again.toml") == job


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.text(max_size=8)
    | st.decimals()
    | st.dates()
    | st.datetimes(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=80)
@given(st.data())
def test_any_value_under_any_key_gives_a_job_or_an_input_error(data):
    import tomllib

    from shopquote.reading.job_reader import read_job_tables

    tables = tomllib.loads(WHOLE, parse_float=Decimal)
    for _ in range(data.draw(st.integers(1, 3))):
        table = data.draw(st.sampled_from(sorted(tables)))
        rows = tables[table]
        row = rows[0] if isinstance(rows, list) and rows else rows
        if isinstance(row, dict) and row and data.draw(st.booleans()):
            row[data.draw(st.sampled_from(sorted(row)))] = data.draw(values)
        else:
            tables[table] = data.draw(values)
    try:
        read_job_tables(tables, "gate.toml")
    except InputError as error:
        assert str(error).startswith(("gate.toml: ", f"{len(error.faults)} mistake"))


def test_a_number_of_millions_of_digits_is_refused_before_it_takes_memory():
    import tracemalloc

    text = "format = 1\n[job]\nsets = " + "9" * 2_000_000
    tracemalloc.start()
    with pytest.raises(InputError, match="too large to be"):
        read_job_text(text, "long.toml")
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 20_000_000


@pytest.mark.parametrize(
    ("typed", "name"),
    [("S275JR", "S275"), ("EN 10219-1 S235JRH", "S235"), ("1.4301", "304"), ("astm a36", "A36")],
)
def test_a_grade_is_read_as_papers_name_it(typed, name):
    assert read_job_text(WHOLE.replace('"S275"', f'"{typed}"'), "job.toml").parts[0].grade == name


@pytest.mark.parametrize("typed", ["S275J2", "Grade B", "10025-2", "EN 10025-2"])
def test_another_sub_grade_or_a_bare_standard_is_no_grade(typed):
    # J2 is tougher than JR: to buy the other for it would be wrong.
    with pytest.raises(InputError, match="a grade on file"):
        read_job_text(WHOLE.replace('"S275"', f'"{typed}"'), "job.toml")


@pytest.mark.parametrize("typed", ["A, B", "A; B", "A B", "a+b", "A and B", "A & B", "A,B"])
@pytest.mark.parametrize("table", ["weld", "joint", "step"])
def test_marks_are_listed_with_whatever_people_part_them_by(typed: str, table: str) -> None:
    # One text of a job file, as a cell of a workbook and a box of the page hand it on.
    key = "marks" if table == "step" else "joins"
    head = {
        "weld": 'kind = "fillet"\nleg = 5\nlength = 40\ncount = 1\nprocess = "mig"',
        "joint": 'kind = "rivet"\ncount = 1\ndia = 5\ngrip = 10',
        "step": 'text = "fit up"\noperation = "welding"',
    }[table]
    text = WHOLE.replace("[[bought]]", f'[[{table}]]\n{head}\n{key} = "{typed}"\n[[bought]]', 1)
    rows = getattr(
        read_job_text(text, "job.toml"), {"weld": "welds", "joint": "joints", "step": "steps"}[table]
    )
    assert getattr(rows[-1], key) == ("A", "B")
    with pytest.raises(InputError, match=r"'C', expected marks of parts of this job: A, B"):
        read_job_text(text.replace(f'"{typed}"', '"A, C"'), "job.toml")


def test_a_mark_that_holds_a_comma_or_a_blank_stays_one_and_places_are_parted_too() -> None:
    text = WHOLE.replace('mark = "B"', 'mark = "B and, so"').replace("count = 4\n", "count = 4\nAT\n")
    weld = 'joins = ["A", "B and, so"]\nat = "A start, A finish; A leg 2"'
    (found,) = read_job_text(text.replace("AT", weld), "job.toml").welds
    assert (found.joins, found.at) == (("A", "B and, so"), ("A start", "A finish", "A leg 2"))


@pytest.mark.parametrize(
    ("typed", "shown", "leg_mm"),
    [("a4", "a4", 5.656854), ("A 4 mm", "a4 mm", 5.656854), ("z6", "z6", 6), ("6", "6", 6)],
)  # fmt: skip
def test_a_weld_is_sized_by_its_leg_or_its_throat(typed: str, shown: str, leg_mm: float) -> None:
    # ISO 2553: a is the throat, z the leg; of an isosceles triangle z = a x sqrt 2.
    text = WHOLE.replace("leg = 5", f'leg = "{typed}"')
    job = read_job_text(text, "job.toml")
    assert (job.welds[0].leg.text, job.welds[0].leg.length) == (shown, Length.from_mm(leg_mm))
    assert read_job_text(write_job_text(job), "job.toml").welds == job.welds
    for wrong in ('leg = "a0"', 'leg = "a"'):
        with pytest.raises(InputError, match=r"throat such as a4|expected a length"):
            read_job_text(WHOLE.replace("leg = 5", wrong), "job.toml")
    with pytest.raises(InputError, match="of a groove a plain length"):
        read_job_text(text.replace("fillet", "groove").replace(f'"{typed}"', '"a4"'), "job.toml")
