"""Traps, damaged files and what is no file: told in a line by every reader, before anything is paid for."""

import os
from pathlib import Path

import pytest

from shopquote.errors import InputError, ShopquoteError
from shopquote.outputs.papers.joined import as_pdf, joined
from shopquote.reading.dxf_lines import read_dxf
from shopquote.reading.files import bytes_of
from shopquote.reading.job_book import read_job, read_job_book
from shopquote.reading.table_files import csv_text, read_table, read_text
from shopquote.services.buying.proofs import check_proof
from shopquote.services.floor.entries import as_picture
from shopquote.services.floor.sheet_rows import read_sheet
from shopquote.services.safe.backup import restore
from shopquote.services.safe.export import import_all
from shopquote.services.shop.certificates import keep_certificate
from tests.hostile_files import FILES, OTHER_FILES, SHEET, book_with, make_pipe, sheet, write_file

_LENGTH = b'<row r="1"><c r="A1" t="inlineStr"><is><t>length</t></is></c></row>'


def _kept(path: Path) -> bytes:
    """What is on file of a certificate, or came as a photo: the page and the records have taken it in."""
    return bytes_of(path, 50_000_000)


READERS = {
    "table": read_table,
    "job": read_job,
    "job book": lambda path: read_job_book(path.with_suffix(".xlsx")),
    "floor sheet": read_sheet,
    "text": read_text,
    "drawing": lambda path: read_dxf(path, "mm"),
    "proof": check_proof,
    "certificate": lambda path: keep_certificate(None, path, path.parent, at=None),
    "backup": lambda path: restore(path, str(path.parent / "none.db")),
    "export": lambda path: import_all(path, str(path.parent / "none.db")),
    "paper": lambda path: joined([(path.name, as_pdf(_kept(path), path.name))], title="t", author="a"),
    "photo": lambda path: as_picture(_kept(path)),
}


@pytest.mark.parametrize("text", ['{"units": "x"}', '{"list": "x"}', '{"list": null, "units": [1]}', "{}"])
def test_a_proof_with_anything_in_the_place_of_its_tables_is_refused(tmp_path, text):
    path = tmp_path / "proof.json"
    path.write_text(f'{{"proofs": [{text}]}}')
    assert not check_proof(path).good


@pytest.mark.parametrize("name", FILES)
def test_a_trap_or_a_damaged_file_is_told_in_a_line(tmp_path, name):
    path = write_file(name, tmp_path)
    for read in (read_table, read_job_book, read_sheet) if name.endswith("xlsx") else (read_table,):
        with pytest.raises(InputError) as caught:
            read(path)
        assert str(path.name) in caught.value.message
        assert len(caught.value.message.splitlines()) <= 4


@pytest.mark.parametrize("name", OTHER_FILES)
def test_a_trap_at_another_door_is_told_in_a_line(tmp_path, name):
    door, _, said = OTHER_FILES[name]
    path = write_file(name, tmp_path)
    with pytest.raises(InputError, match=said) as caught:
        READERS[door](path)
    assert len(caught.value.message.splitlines()) == 1
    assert [file.name for file in tmp_path.iterdir()] == [name]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("reader", READERS)
def test_a_pipe_a_device_or_a_folder_is_refused_before_it_is_opened(tmp_path, reader):
    folder = tmp_path / "folder.xlsx"
    folder.mkdir()
    for path in (make_pipe(tmp_path), Path("/dev/zero"), folder, tmp_path / "none.xlsx"):
        with pytest.raises(ShopquoteError) as caught:
            READERS[reader](path)
        assert caught.value.exit_code == 3


@pytest.mark.parametrize("digits", ["1e28", "1e300", "-1e28", "1e-300", "123456789012345678901234567890"])
def test_numbers_beyond_use_are_read_as_they_stand(tmp_path, digits):
    path = tmp_path / "numbers.xlsx"
    rows = _LENGTH + b'<row r="2"><c r="A2"><v>%s</v></c></row>'
    path.write_bytes(book_with(sheet(rows % digits.encode())))
    (row,) = read_table(path).rows
    assert float(row.cells["length"]) == float(digits)
    with pytest.raises(InputError):
        read_job_book(path)


def test_a_sheet_may_say_that_it_is_smaller_and_begin_late(tmp_path):
    path = tmp_path / "late.xlsx"
    rows = (
        b'<row r="7"><c r="B7" t="inlineStr"><is><t>mark</t></is></c></row>'
        b'<row r="9"><c r="B9"><v>4</v></c></row>'
    )
    path.write_bytes(book_with(sheet(rows)))
    table = read_table(path)
    assert table.headings == ("mark",)
    assert [(row.number, row.cells) for row in table.rows] == [(9, {"mark": "4"})]


def test_marks_cut_in_two_by_a_chunk_are_seen(tmp_path, monkeypatch):
    monkeypatch.setattr("shopquote.reading.workbooks._CHUNK", 7)
    path = tmp_path / "chunks.xlsx"
    path.write_bytes(book_with({}))
    assert read_table(path).headings == ("mark", "length", "count")
    path.write_bytes(book_with({SHEET: b"<worksheet><!-- a remark --></worksheet>"}))
    with pytest.raises(InputError, match="too large to be"):
        read_table(path)


def test_csv_of_as_many_rows_as_are_read(tmp_path):
    path = tmp_path / "long.csv"
    path.write_text(csv_text(["mark"], ([f"A{i}"] for i in range(3_000))), encoding="utf-8")
    assert len(read_table(path).rows) == 3_000


@pytest.mark.parametrize(
    ("text", "cells"),
    [
        (
            'name,address\nA,"Forge\nLane 1; yard 2\nUlm; 5"\nB,"Mill; 7\nUlm; 6"\n',
            ("A", "Forge\nLane 1; yard 2\nUlm; 5"),
        ),
        ('bar;price\n1/2";1,50\n3/4";2,50\n', ('1/2"', "1,50")),
        ('"bar, size";price\n"flat, 40 x 6";1,50\n', ("flat, 40 x 6", "1,50")),
    ],
)
def test_what_stands_in_quotes_parts_no_cells(tmp_path, text, cells):
    path = tmp_path / "list.csv"
    path.write_text(text, encoding="utf-8")
    assert tuple(read_table(path).rows[0].cells.values()) == cells
