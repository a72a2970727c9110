import re
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from shopquote.errors import InputError
from shopquote.reading.job_book import read_job, read_job_book
from shopquote.reading.job_book_sheets import write_blank_job_book, write_job_book
from shopquote.reading.job_file import read_job_text
from tests.reading.test_job_file import WHOLE
from tests.services.job_specs import job_specs

files_once = settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def gate(tmp_path: Path) -> Path:
    return write_job_book(read_job_text(WHOLE, "gate.toml"), tmp_path / "gate.xlsx")


def faults_of(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_job_book(path)
    return [str(fault).removeprefix(f"{path}: ") for fault in caught.value.faults]


def changed(path: Path, tab: str, cell: str, value: object) -> Path:
    book = load_workbook(path)
    book[tab][cell] = value
    book.save(path)
    return path


def test_a_formula_in_any_cell_is_one_mistake(gate):
    """A length that was a formula was told as a piece without length and shape too."""
    cells = [
        (tab, cell.coordinate, cell.value)
        for tab in ("Job", "Parts", "Holes", "Welds", "Bought items", "Labour")
        for row in load_workbook(gate)[tab].iter_rows(min_row=1 if tab == "Job" else 2)
        for cell in (row[1:2] if tab == "Job" else row)
        if cell.value is not None
    ]
    assert len(cells) > 40
    for tab, place, value in cells:
        told = faults_of(changed(gate, tab, place, "=A1"))
        # A hole has lost its part where that part's mark is a formula.
        assert len([one for one in told if "expected a mark of the tab Parts" not in one]) == 1, (place, told)
        changed(gate, tab, place, value)


@files_once
@given(job_specs())
def test_a_job_comes_back_from_its_workbook_with_nothing_lost(tmp_path, job):
    assert read_job_book(write_job_book(job, tmp_path / "job.xlsx")) == job


@files_once
@given(job_specs())
def test_no_text_of_a_job_is_a_formula_in_its_workbook(tmp_path, job):
    book = load_workbook(write_job_book(job, tmp_path / "job.xlsx"))
    assert all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row)


def test_a_workbook_says_nothing_of_who_made_it_and_leaves_no_other_file(gate):
    assert load_workbook(gate).properties.creator == "shopquote"
    assert [path.name for path in gate.parent.iterdir()] == ["gate.xlsx"]


def test_the_blank_workbook_is_read_once_it_is_filled_in(tmp_path):
    path = write_blank_job_book(tmp_path / "blank.xlsx")
    assert len(faults_of(path)) == 5
    book = load_workbook(path)
    assert book.sheetnames == [
        "Job", "Parts", "Holes", "Welds", "Bought items", "Outside work", "Labour", "Finish", "Steps", "Jigs",
        "Joints", "On site", "How to fill in",
    ]  # fmt: skip
    for row, value in ((2, "Hooks"), (3, "Orla Fennimore"), (4, 20), (5, "10, 50"), (6, "in")):
        book["Job"].cell(row, 2, value)
    book["Job"]["B8"] = datetime(2027, 3, 1)
    for position, value in enumerate(["A", "hook", 1, "round 1/2", "A36", None, None, 33.5], 1):
        book["Parts"].cell(2, position, value)
    book["Holes"].append([])
    for position, value in enumerate(["a", "5/8", 2, True], 1):
        book["Holes"].cell(2, position, value)
    book.save(path)
    job = read_job(path)
    part = job.parts[0]
    assert (job.breaks, str(job.due), job.units) == ((10, 50), "2027-03-01", "in")
    assert part.length is not None and part.length.text == "33.5"
    assert part.holes[0].tapped and not part.holes[0].countersunk


def test_text_that_a_spreadsheet_escaped_is_read_as_it_was_typed(gate):
    changed(gate, "Job", "B2", "Gate_x000D_")
    changed(gate, "Job", "B3", "A_x005F_x0041_")
    job = read_job_book(gate)
    assert (job.title, job.customer) == ("Gate", "A_x0041_")


def test_tabs_and_columns_may_stand_in_any_order(gate):
    book = load_workbook(gate)
    book.move_sheet("Parts", 5)
    book["Parts"].move_range("A1:A60", cols=20)
    book.save(gate)
    assert read_job_book(gate) == read_job_text(WHOLE, "gate.toml")


@pytest.mark.parametrize(
    ("tab", "cell", "value", "told"),
    [
        ("Job", "B4", 0, "Job, Sets: found 0, expected a whole number from 1"),
        ("Job", "B4", "=2*2", "Job, Sets: found the formula '=2*2', expected a typed text or number"),
        ("Job", "A4", "Set", "Job row 4: found 'Set', expected one of"),
        ("Job", "B5", "4, 1", "Job, Quantities to price: found [4, 1]"),
        ("Job", "B8", "soon", "Job, Due: found 'soon', expected a day"),
        ("Parts", "C2", 1.5, "Parts row 2, Per set: found 1.5"),
        ("Parts", "D3", "flt 40 x 6", "Parts row 3, Bar: Bar 'flt 40 x 6' is not a section"),
        ("Parts", "E3", "S257", "did you mean 'S275'?"),
        ("Parts", "F1", "Legs measurd", "Parts row 1: found 'Legs measurd', expected one of the headings"),
        ("Parts", "F2", "=A1", "Parts row 2, Legs measured: found the formula '=A1'"),
        ("Parts", "H3", datetime(2026, 5, 8), "in a cell formatted as text"),
        ("Parts", "K3", "mitre 95", "Parts row 3, First end and Last end: found ['square', 'mitre 95']"),
        ("Parts", "L3", "maybe", "Parts row 3, One heat: found 'maybe', expected yes or no"),
        ("Parts", "A3", "a", "Parts row 3, Mark: found 'a' again in row 2"),
        ("Parts", "AZ3", "urgent", "Parts row 3: found 'urgent', expected nothing under no heading"),
        ("Holes", "A2", "C", "Holes row 2, Mark: found 'C', expected a mark of the tab Parts"),
        ("Holes", "B2", -1, "Holes row 2, Diameter: found '-1', expected a length"),
        ("Welds", "E2", "SMAW", "Welds row 2, Process: found 'SMAW'"),
        ("Bought items", "C2", 0.12345, "Bought items row 2, Cost each: found 0.12345"),
        ("Outside work", "B2", True, "Outside work row 2, Charged by: found true"),
        ("Labour", "B2", "#REF!", "Labour row 2, Minutes: found '#REF!'"),
        ("Finish", "A3", "oil", "Finish row 3: found another finish, expected one row, or none"),
    ],
)
def test_one_mistake_in_a_workbook_is_told_with_its_tab_row_and_heading(gate, tab, cell, value, told):
    faults = faults_of(changed(gate, tab, cell, value))
    assert any(told in fault for fault in faults), faults
    assert len(faults) <= 2, faults


def test_a_number_beside_the_value_of_the_job_tab_is_a_mistake(gate):
    path = changed(gate, "Job", "C4", 12)  # the second of several numbers, in a cell of its own
    (told,) = faults_of(path)
    assert "Job" in told and "found 12, expected one cell beside its word" in told


def test_a_value_far_to_the_right_is_not_dropped_in_silence(gate):
    with pytest.raises(InputError, match="Parts, row 2: a value stands beyond column 100"):
        read_job_book(changed(gate, "Parts", "DZ2", "lost"))


def test_rows_outside_the_size_that_a_workbook_claims_are_read(gate, tmp_path):
    path = tmp_path / "claims.xlsx"
    with zipfile.ZipFile(gate) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:A1"', old.read(name))
            new.writestr(name, content)
    assert read_job_book(path) == read_job_book(gate)


def test_a_tab_that_nobody_knows_is_a_mistake_unless_it_is_empty(gate):
    book = load_workbook(gate)
    book["Welds"].title = "Wleds"
    book.create_sheet("Sheet1")
    book.save(gate)
    assert faults_of(gate) == [
        "Wleds: found the tab 'Wleds', expected one of Job, Parts, Holes, Welds, Bought items, Outside work, "
        "Labour, Finish, Steps, Jigs, Joints, On site; did you mean 'Welds'?"
    ]


def test_a_workbook_without_its_job_says_so(tmp_path):
    Workbook().save(tmp_path / "other.xlsx")
    assert faults_of(tmp_path / "other.xlsx")[0].endswith("found the tabs Sheet, expected a tab Job")


def test_what_is_no_workbook_is_refused(tmp_path, gate):
    for name, content in (("a.xlsx", b"PK nothing"), ("b.xlsx", b""), ("c.xlsx", gate.read_bytes()[:3000])):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(InputError, match="not a workbook that can be read"):
            read_job(tmp_path / name)
    (tmp_path / "old.xls").write_bytes(b"\xd0\xcf\x11\xe0")
    with pytest.raises(InputError, match=r"only .xlsx workbooks are read"):
        read_job(tmp_path / "old.xls")
    with zipfile.ZipFile(tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b"0" * 200_000_001)
    with pytest.raises(InputError, match="too large to be"):
        read_job(tmp_path / "bomb.xlsx")


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_workbook_with_any_bytes_changed_gives_a_job_or_an_input_error(tmp_path, gate, data):
    content = bytearray(gate.read_bytes())
    for _ in range(data.draw(st.integers(1, 20))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    (tmp_path / "changed.xlsx").write_bytes(content)
    try:
        read_job(tmp_path / "changed.xlsx")
    except InputError:
        return
