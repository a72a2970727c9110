"""What was sawn, entered by scanning: all of it or nothing, each piece for its job, nothing twice."""

from datetime import UTC, date, datetime

import pytest
from sqlalchemy import select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.records.rack import BarUse
from shopquote.services.floor.scans import one_by_one, scan_lines
from shopquote.services.jobs.jobs import add_job, find_job
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.rack.rack_on_file import find_piece
from shopquote.services.safe.checks import run_checks

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)


def mm(text: str) -> Measure:
    return Measure.parse(text, "mm")


@pytest.fixture
def scanning(shop):
    """Two jobs; R-0001 and R-0002 promised to the first, R-0003 to the second, R-0004 free; all 3000 mm."""
    with shop.session() as session:
        part = PartSpec("A", "rod", 4, "round 12", "S275", length=mm("450"))
        for title in ("hooks", "gate"):
            add_job(session, JobSpec(title, "Orla Fennimore", 1, "mm", parts=(part,)), at=AT)
        section = parse_section("round 12", "mm")
        add_pieces(session, section, "round 12", "S275", mm("3000"), count=4, heat="H7", place="A1", on=DAY)
        promise_pieces(session, ["R-0001", "R-0002"], "J-0001")
        promise_pieces(session, ["R-0003"], "J-0002")
    with shop.session() as session:
        yield session


def scan(session, *lines: str, **words):
    return scan_lines(session, lines, on=DAY, at=AT, **words)


def test_promised_pieces_go_to_their_jobs_and_what_came_back_is_on_the_rack(scanning):
    sawn = scan(scanning, "R-0001", "1100", "640 mm", "", "r3")
    assert [(piece.job, piece.used.code, piece.used.returned) for piece in sawn] == [
        ("J-0001", "R-0001", ("R-0005", "R-0006")), ("J-0002", "R-0003", ()),
    ]  # fmt: skip
    back = find_piece(scanning, "R-0005")
    assert (back.length.mm, back.heat, back.place, back.parent.code) == (1100, "H7", "A1", "R-0001")
    uses = scanning.scalars(select(BarUse).order_by(BarUse.id)).all()
    assert [(use.job.number, use.length.mm, use.returned and use.returned.mm) for use in uses] == [
        ("J-0001", 3000, 1740), ("J-0002", 3000, None),
    ]  # fmt: skip
    assert find_job(scanning, "J-0001").state == "started"
    assert [fault for check in run_checks(scanning) for fault in check.faults] == []


def test_a_code_that_opens_the_page_is_read_as_the_code_in_it(scanning):
    at = "http://192.168.1.20:8765/f/open?code="
    (sawn,) = scan(scanning, at + "J-0002", at + "R-0004", "2.5 m")
    assert (sawn.job, sawn.used.code, len(sawn.used.returned)) == ("J-0002", "R-0004", 1)


def test_free_piece_goes_to_the_job_that_was_scanned_before_it(scanning):
    (sawn,) = scan(scanning, "j-0002", "R-0004", "2.5 m", place="bay 3")
    assert (sawn.job, find_piece(scanning, sawn.used.returned[0]).place) == ("J-0002", "bay 3")


@pytest.mark.parametrize(
    "lines, line, words",
    [
        (("1100", "R-0001"), 1, "piece that it came back of"),
        (("R-0001", "x12"), 2, "a piece (R-0031), a job (J-0007) or a length"),
        (("R-0001", "R-0004"), 2, "promised to no job"),
        (("R-0001", "R-0001"), 2, "was used for job J-0001"),
        (("J-0001", "R-0003"), 2, "promised to job J-0002"),
        (("R-0001", "3001"), 1, "cannot come back"),
        (("R-0099",), 1, "not on file"),
        (("J-0099", "R-0004"), 2, "J-0099 is not on file"),
    ],
)
def test_mistakes_are_told_by_line(scanning, lines, line, words):
    with pytest.raises(InputError) as caught:
        scan(scanning, *lines)
    assert f"line {line}" in caught.value.message and words in caught.value.message


def test_lines_of_a_scanner_come_piece_by_piece_with_their_job():
    lines = iter(["J-0001", "R-0001", "1100", "R-0002", "", "J-0002", "R-0003", "", "", "R-0004"])
    assert list(one_by_one(lines)) == [
        ("J-0001", "R-0001", "1100"), ("J-0001", "R-0002"), ("J-0002", "R-0003"),
    ]  # fmt: skip
    assert next(lines) == "R-0004"  # the second blank line ended it
