"""The traveller as it is read from its own PDF: everything that the floor needs, and no money."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

import pytest
import segno

from shopquote.calc.drawing.sawn import SawnPieces, draw_sawn
from shopquote.calc.units import Length
from shopquote.outputs.papers.traveller import code_of, traveller_data, typeset_traveller
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.floor_tables import floor_json
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.floor.floor_sheet import FloorSheet
from shopquote.services.jobs.jobs import add_jobs
from tests.outputs.papers.test_every_paper import troubles

SAMPLES = Path(__file__).parents[3] / "sample_jobs"
NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


@pytest.fixture
def sheet(shop, request) -> FloorSheet:
    with shop.session() as session:
        (job,) = add_jobs(session, [SAMPLES / f"{request.param}.toml"], at=NOW)
        number = job.number
    with shop.reading() as session:
        return floor_sheet(session, number, at=NOW)


def told(pdf: bytes, tmp_path: Path) -> list[str]:
    """The text of each page, as poppler reads it."""
    path = tmp_path / "paper.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    return done.stdout.split("\f")[:-1]


needs_poppler = pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not here")


# A link closed by hooks of 135 degrees round one bar.
_SIDES = "leg 200; bend 90 r 16; leg 300; bend 90 r 16; leg 200; bend 90 r 16; leg 300"
BENCH = f"""
format = 1
[job]
title = "At the bench"
customer = "Alder Yard"
sets = 1
units = "mm"
[[part]]
mark = "R"
per_set = 1
bar = "round 12"
grade = "S275"
shape = "arc 180 r 600"
[[part]]
mark = "L"
per_set = 1
bar = "round 8"
grade = "S275"
shape = "leg 80; bend 135 r 16; {_SIDES}; bend 135 r 16; leg 80"
[[part]]
mark = "T"
per_set = 1
bar = "tube 42.4 x 2"
grade = "S235"
shape = "leg 300; bend 90 r 90; leg 300"
"""


def test_what_a_bend_needs_at_the_bench_stands_on_its_own_card(shop, tmp_path: Path) -> None:
    (path := tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    with shop.session() as session:
        (job,) = add_jobs(session, [path], at=NOW)
        number = job.number
    with shop.reading() as session:
        data = traveller_data(floor_sheet(session, number, at=NOW))
    notes = {part["mark"]: " ".join(part["notes"]) for part in data["parts"]}
    needed = {
        "R": "rolls leave the bar straight at the start and the finish end",
        "L": "spring it aside by one bar (8 mm)",
        "T": "use a mandrel, or fill it with sand and close its ends",
    }
    for mark, words in needed.items():
        assert [one for one in notes if words in notes[one]] == [mark]


def test_a_note_of_a_part_stands_on_its_own_card_and_the_jobs_on_the_first_page(shop, tmp_path: Path) -> None:
    text = BENCH.replace('mark = "R"', 'mark = "R"\nnote = "roll it cold"\nends = ["chamfer 2", "square"]')
    text = text.replace('units = "mm"', 'units = "mm"\nnote = "ring before noon"')
    (path := tmp_path / "bench.toml").write_text(text, encoding="utf-8")
    with shop.session() as session:
        (job,) = add_jobs(session, [path], at=NOW)
        sheet = floor_sheet(session, job.number, at=NOW)
    data = traveller_data(sheet)
    assert "ring before noon" in data["remarks"]
    for part in data["parts"]:
        assert not {*part["notes"]} & {*data["remarks"]}
        assert len(part["notes"]) == len({*part["notes"]})
    told = json.dumps(data, ensure_ascii=False)
    assert told.count("roll it cold") == told.count("ring before noon") == 1
    # The workbook, which has no cards, says both.
    assert any("roll it cold" in text for text in floor_json(sheet)["notes"])


@needs_poppler
@pytest.mark.parametrize("sheet", ["shelf_brackets", "stair_hand_rail"], indirect=True)
def test_the_floor_finds_every_part_every_bar_and_no_money(sheet: FloorSheet, tmp_path: Path) -> None:
    pages = told(typeset_traveller(sheet), tmp_path)
    words = " ".join(" ".join(pages).split())
    for part in sheet.spec.parts:
        assert part.name in words
        assert f"{sheet.spec.quantity(part)} off" in words
    for hole in (hole for part in sheet.spec.parts for hole in part.holes):
        # Also a hole without a place: it is drilled all the same.
        assert re.search(rf"\b{re.escape(hole.size)}\b.* {hole.count}\b", words), hole
    for caution in sheet.cautions:
        assert caution.split(".")[0] in words
    assert sum(bar.count for bar in sheet.saw) and "Saw list" in words
    assert not re.search(r"[€£$]|\bprice|\bEUR\b|\bcost\b", words)
    assert all(sheet.serial in page for page in pages)


@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_what_is_done_to_ends_stands_also_where_the_supplier_saws(sheet: FloorSheet) -> None:
    """Its bars come cut to length and square; their threads are still the shop's."""
    bar = sheet.saw[0]
    (cut, *others) = bar.cuts
    sawn = replace(bar, sawn=True, cuts=(replace(cut, ends="one end threaded"), *others))
    (shown,) = traveller_data(replace(sheet, saw=(sawn,)))["bars"]
    assert {"comes cut to length", f"{cut.mark}: one end threaded"} <= set(shown["cuts"])


@needs_poppler
@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_the_shelf_bracket_takes_three_pages_at_most(sheet: FloorSheet, tmp_path: Path) -> None:
    assert len(told(typeset_traveller(sheet), tmp_path)) <= 3


@needs_poppler
@pytest.mark.parametrize("sheet", ["stair_hand_rail"], indirect=True)
def test_nothing_stands_off_the_page_or_smaller_than_eight_points(sheet: FloorSheet, tmp_path: Path) -> None:
    """Boxes of words by poppler: none over the paper's edge; small type is that of title blocks alone."""
    path = tmp_path / "paper.pdf"
    path.write_bytes(typeset_traveller(sheet))
    done = subprocess.run(["pdftotext", "-bbox", path, "-"], capture_output=True, text=True, check=True)
    sizes = re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', done.stdout)
    wide, tall = map(float, sizes[0])
    boxes = re.findall(
        r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', done.stdout
    )
    assert len(boxes) > 100
    for left, top, right, bottom in (map(float, box) for box in boxes):
        assert left >= 0 and right <= wide and top >= 0 and bottom <= tall
        assert max(bottom - top, right - left) > 6


@pytest.mark.parametrize("sheet", ["coat_hooks"], indirect=True)
def test_the_same_job_gives_the_same_bytes(sheet: FloorSheet) -> None:
    assert typeset_traveller(sheet) == typeset_traveller(sheet)


@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_codes_open_the_page_where_the_shop_said_where_it_is(sheet: FloorSheet) -> None:
    def path_of(code: str) -> str:
        return re.search(r' d="([^"]+)"', segno.make(code, error="m", micro=False).svg_inline(border=2))[1]

    mark = sheet.parts[0].mark
    assert path_of(f"{sheet.job}/{mark}") in code_of(replace(sheet, page=""), mark)
    at = "http://192.168.1.20:8765"
    assert path_of(f"{at}/f/open?code={sheet.job}/{quote(mark)}") in code_of(replace(sheet, page=at), mark)


def test_a_paper_that_asks_for_a_font_that_is_not_there_fails(tmp_path: Path, monkeypatch) -> None:
    (tmp_path / "odd.typ").write_text('#set text(font: "No Such Face")\nText')
    monkeypatch.setattr("shopquote.outputs.papers.typeset.TEMPLATES", tmp_path)
    with pytest.raises(RuntimeError, match="no such face"):
        typeset("odd", {})


def test_a_sawn_bar_shows_each_piece_to_scale_and_what_is_left() -> None:
    """3 pieces of 1500 from 6000 take three quarters of the drawn bar."""
    pieces = [SawnPieces("A", 3, Length.from_mm(1500))]
    drawn = draw_sawn(Length.from_mm(6000), pieces, Length.from_mm(1500), kept=True, width=120)
    fields = [item for item in drawn.items if getattr(item, "closed", False)]
    assert [round(max(x for x, _ in f.points)) for f in fields] == [30, 60, 90, 120]
    assert fields[-1].pen == "dashed"
    assert [text.text for text in drawn.texts()] == ["A", "A", "A"]
    many = draw_sawn(
        Length.from_mm(6000),
        [SawnPieces("B", 90, Length.from_mm(60))],
        Length.from_mm(500),
        kept=False,
        width=120,
    )
    assert [text.text for text in many.texts()] == ["90 x B"]


@needs_poppler
@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_parts_that_are_made_alike_share_a_sheet(sheet: FloorSheet, tmp_path: Path) -> None:
    """Mark, name, number and code of each stand on it; a part that a weld names keeps its own."""
    first, second = sheet.spec.parts
    twin = replace(first, mark="A2", name="bracket, left", per_set=3)
    loose = tuple(replace(weld, joins=()) for weld in sheet.spec.welds)
    spec = replace(sheet.spec, parts=(first, second, twin), welds=loose)
    both = replace(sheet, spec=spec, answers={**sheet.answers, "A2": sheet.answers["A"]})
    shared, brace = traveller_data(both)["parts"]
    assert [shared["mark"], *(one["mark"] for one in shared["twins"])] == ["A", "A2"]
    assert (shared["twins"][0]["count"], brace["twins"]) == ("36 off", [])
    words = " ".join(" ".join(told(typeset_traveller(both), tmp_path)).split())
    assert "bracket, left" in words and "36 off" in words and words.count("Check the first piece") == 2
    welds = [replace(weld, joins=("A2", "B")) for weld in spec.welds]
    alone = replace(both, spec=replace(spec, welds=tuple(welds)))
    assert [part["mark"] for part in traveller_data(alone)["parts"]] == ["A", "B", "A2"]


@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_rack_pieces_that_are_cut_alike_stand_as_one(sheet: FloorSheet) -> None:
    piece = replace(sheet.saw[0], first=1, last=1, piece="R-0001", source="rack R-0001")
    next_one = replace(piece, first=2, last=2, piece="R-0002", source="rack R-0002")
    other = replace(next_one, first=3, last=3, piece="R-0003", source="rack R-0003", heat="H9")
    two, one = traveller_data(replace(sheet, saw=(piece, next_one, other)))["bars"]
    assert (two["times"], two["numbers"], one["numbers"]) == ("2 x", "bars 1 to 2", "bar 3")
    assert two["cuts"][0].startswith("rack R-0001, R-0002,") and "H9" in one["cuts"][0]
    bought = replace(piece, first=1, piece="", source="stock")
    kept_apart = traveller_data(replace(sheet, saw=(bought, next_one)))["bars"]
    assert [bar["numbers"] for bar in kept_apart] == ["bar 1", "bar 2"]


BARS = ("round 12", "round 16", "flat 40 x 6", "flat 30 x 5", "square 12")


def sixty(least_bends: int, most_bends: int) -> str:
    """A job file of sixty parts, no two alike: from so many to so many bends each, a hole in every fourth."""
    rows = ['format = 1\n[job]\ntitle = "Sixty brackets"\ncustomer = "Orla"\nsets = 3\nunits = "mm"']
    for n in range(60):
        bends = (
            f"; bend {'-' if b == 1 and n % 2 else ''}{(90, 45, 60)[(n + b) % 3]} r 36; "
            f"leg {90 + 5 * ((n * 3 + b) % 17)}"
            for b in range(least_bends + n % (most_bends - least_bends + 1))
        )
        rows.append(
            f'[[part]]\nmark = "P{n + 1}"\nname = "bracket {n + 1}"\nper_set = 2\nbar = "{BARS[n % 5]}"\n'
            f'grade = "S275"\ndims = "outside"\nshape = "leg {120 + 7 * n}{"".join(bends)}"'
        )
        rows += ["holes = [{ dia = 9, leg = 1, at = [30] }]"] if n % 4 == 0 else []
    return "\n".join(rows)


@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_a_bar_that_another_job_shares_says_so(sheet: FloorSheet) -> None:
    bar = sheet.saw[0]
    assert all("shared" not in one["rest"] for one in traveller_data(sheet)["bars"])
    other = replace(bar.cuts[0], mark="J-0009 D")
    (one,) = traveller_data(replace(sheet, saw=(replace(bar, cuts=(*bar.cuts, other)),)))["bars"]
    assert one["rest"].startswith("shared with J-0009: sawn once")


@needs_poppler
@pytest.mark.parametrize(("bends", "pages_at_most"), [((0, 3), 23), ((1, 3), 24)])
def test_sixty_parts_take_twenty_four_pages_at_most(shop, tmp_path: Path, bends, pages_at_most) -> None:
    file = tmp_path / "sixty.toml"
    file.write_text(sixty(*bends))
    with shop.session() as session:
        number = add_jobs(session, [file], at=NOW)[0].number
    with shop.reading() as session:
        sheet = floor_sheet(session, number, at=NOW)
    pages = told(typeset_traveller(sheet), tmp_path)
    assert len(pages) <= pages_at_most
    # Upright boxes about a slanted size's words share air: the drawings' own test looks at what overlaps.
    assert [told for told in troubles(typeset_traveller(sheet), 12.0) if "lies on" not in told] == []
    words = " ".join(pages)
    assert all(re.search(rf"\bP{n}\b.*bracket {n}\b", words) for n in range(1, 61))


@pytest.mark.parametrize("sheet", ["shelf_brackets"], indirect=True)
def test_a_spliced_part_meets_the_welder_though_no_weld_joins_it(sheet: FloorSheet) -> None:
    answer = sheet.answers["A"]
    half = Length(answer.cut.nm // 2)
    spliced = replace(answer, pieces=(half, answer.cut - half))
    alone = replace(sheet, welds=())
    for found, welded in ((answer, False), (spliced, True)):
        data = traveller_data(replace(alone, answers={**sheet.answers, "A": found}))
        assert data["pieces"][0]["meets"][-1] is welded
