"""What stands on a part's sheet: pulls of small bends, settings, holes, the grade in full."""

import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from itertools import combinations

import pytest

from shopquote.calc.bar.order import BendOrder
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.problems import order_problems
from shopquote.calc.job import JobSpec
from shopquote.outputs.looks import Setting
from shopquote.outputs.papers.part_paper import part_data, typeset_parts
from shopquote.outputs.papers.traveller import traveller_data
from shopquote.outputs.papers.typeset import TEMPLATES, typeset
from shopquote.outputs.tables.floor_tables import BENDS, HOLES, PARTS, SAW, saw_rows
from shopquote.reading.job_file import read_job_text
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.jobs.jobs import add_jobs
from shopquote.services.shop.starting import starting_shop

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
JOB = """
format = 1
[job]
title = "Scroll"
customer = "Me"
sets = 1
units = "mm"
[[part]]
mark = "A"
per_set = 1
bar = "flat 40 x 6"
grade = "S275"
shape = "leg 250; bend 90 r 36; leg 300"
holes = [{ dia = 9, at = [30, 220], across = [-10] }, { thread = "M6", leg = 2, at = [250] }]
[[part]]
mark = "G"
per_set = 1
bar = "round 12"
grade = "S275"
shape = "leg 120; scroll from 60 to 30 turns 1.5"
holes = [{ thread = "M6", along = true, leg = 2 }]
"""


def sheets_of(job: JobSpec) -> dict[str, dict]:
    shop = starting_shop()
    return {
        part.mark: part_data(job, part, analyse_part(part, job.units, shop), "first angle")
        for part in job.parts
    }


def test_rolls_are_told_radii_and_a_ram_which_end_goes_in_first():
    kinds = """
format = 1
[job]
title = "Kinds"
customer = "Me"
sets = 1
units = "mm"
[[part]]
mark = "R"
per_set = 1
bar = "flat 50 x 8"
grade = "S275"
shape = "leg 200; arc 180 r 500 rolled; leg 200"
[[part]]
mark = "P"
per_set = 1
bar = "round 30"
grade = "S275"
shape = "leg 600; bend 60 r 60; leg 600"
"""
    job, shop = read_job_text(kinds, "kinds.toml"), starting_shop()
    rams = replace(shop, benders=tuple(one for one in shop.benders if one.works_by in ("ram", "rolls")))
    rolled, pushed = (
        part_data(job, part, analyse_part(part, "mm", rams), "first angle") for part in job.parts
    )
    bend = analyse_part(job.parts[0], "mm", rams).bends[0]
    # What goes into the curve is as long in the rolls as off them: (r + T / 2) x angle.
    pressed = 504 * 180 / bend.over_bend_to - 4
    words = re.fullmatch(
        r"r (\d+) mm in the rolls \((\d+) mm to (\d+) mm\), r 500 mm off them", pull_of(rolled)
    )
    assert words, pull_of(rolled)
    usual, tight, wide = (int(figure) for figure in words.groups())
    assert tight < usual < wide < 500 and usual == pytest.approx(pressed, abs=1)
    assert pushed["pulls"][0]["before"] == "start end first"
    assert pushed["order"].startswith("start end first under the ram, no end clamped")


def pull_of(sheet: dict) -> str:
    return sheet["pulls"][0]["pull"]


def test_holes_stand_in_the_order_of_their_drills():
    holes = """holes = [{ dia = 14, at = [30] }, { thread = "M8", at = [60] }, { dia = 6.5, at = [90] }]"""
    text = re.sub(r"holes = \[\{ dia = 9.*", holes, JOB)
    rows = sheets_of(read_job_text(text, "job.toml"))["A"]["holes"]
    # M8 is drilled 6.8 (ISO 2306).
    assert [size for _, size, *_ in rows] == ["dia 6.5", "M8 tapped", "dia 14"]


def test_each_small_bend_of_a_scroll_has_its_own_angle_on_the_sheet():
    (bend,) = (scroll := sheets_of(read_job_text(JOB, "job.toml"))["G"])["steps"]
    pulls = [float(row[2].rstrip("°")) for row in scroll["small_bends"]]
    assert "below" in bend[3] and len(pulls) == len(scroll["small_bends"]) > 20
    assert pulls == sorted(pulls) and pulls[-1] > 1.5 * pulls[0]
    # What is rounded does not add up: 540 degrees and the curve's own lean, sprung back.
    answer = analyse_part(read_job_text(JOB, "job.toml").parts[1], "mm", starting_shop())
    assert sum(pulls) == pytest.approx(sum(answer.bends[0].hit_over_bends), abs=0.051)


def test_a_bend_tells_its_range_its_setting_and_its_stop():
    sheet = sheets_of(read_job_text(JOB, "job.toml"))["A"]
    assert "between 93 and 96" in sheet["steps"][0][3]
    assert any(
        "stop: mark to start end" in note and "clamp the start side" in note for note in sheet["notes"]
    )


def test_a_part_sheet_tells_its_drawing_its_notes_and_every_size_of_a_hole():
    job = read_job_text(
        JOB.replace(
            "holes = [{ dia = 9, at = [30, 220], across = [-10] }",
            'drawing = "D-7 rev B"\nnote = "pick straight bars"\nholes = ['
            '{ dia = 9, at = [60], slot = 20, counterbore = 15, pattern = "P1", note = "deburr both sides" }',
        ),
        "job.toml",
    )
    sheet = sheets_of(job)["A"]
    assert sheet["notes"][:2] == ["drawing D-7 rev B", "pick straight bars"]
    where = "at 60 mm from start; pattern P1; deburr both sides"
    assert sheet["holes"][1] == ["a", "dia 9 counterbored 15 x 9 deep slotted 20 long", "1", where]
    assert "a: Ø 9 counterbored 15 x 9 deep slotted 20 long" in sheet["finished"]


@pytest.mark.parametrize("as_card", [False, True])
def test_ends_that_are_only_counted_what_is_held_and_one_heat_stand_on_sheet_and_card(as_card):
    said = 'mark = "P1"\nthreaded = 1\nturned = 2\nhold = 80\none_heat = true'
    job = read_job_text(job_of_many(2).replace('mark = "P1"', said), "job.toml")
    part = job.parts[1]
    told = part_data(
        job, part, analyse_part(part, job.units, starting_shop()), "first angle", as_card=as_card
    )
    assert told["card"] is as_card
    assert dict(told["facts"])["ends"] == "square / square; both ends turned; one end threaded"
    held = "cut 80 longer to hold at the finish end; saw it off after bending"
    assert {held, "all pieces of one heat"} <= set(told["notes"])


@pytest.mark.parametrize("as_card", [False, True])
def test_a_bar_that_no_order_keeps_clear_has_its_bends_listed_and_is_told(as_card):
    """Pictures one after another would be an order that the program did not find."""
    job = read_job_text(job_of_many(3), "job.toml")
    part = job.parts[2]
    answer = analyse_part(part, job.units, starting_shop())
    found = part_data(job, part, answer, "first angle", as_card=as_card)
    assert len(found["pulls"]) == len(found["steps"]) == 2
    trapped = replace(
        answer, bend_order=(), order_note="", problems=order_problems(BendOrder((), "leg 1 hits the bench"))
    )
    told = part_data(job, part, trapped, "first angle", as_card=as_card)
    assert told["card"] is as_card
    assert told["pulls"] == [] and [row[0] for row in told["steps"]] == ["1", "2"]
    assert told["order"].startswith("No order of bends keeps the bar clear: leg 1 hits the bench.")


def test_a_thread_that_an_end_names_is_not_told_twice():
    said = 'mark = "G"\nthreaded = 1\nends = ["thread M12 x 40", "square"]'
    sheet = sheets_of(read_job_text(JOB.replace('mark = "G"', said), "job.toml"))["G"]
    assert dict(sheet["facts"])["ends"] == "thread M12 x 40 / square"


def test_holes_have_letters_marks_and_what_is_drilled_after_bending():
    sheets = sheets_of(read_job_text(JOB, "job.toml"))
    second, first = sheets["A"]["holes"]
    assert first[0] == "a" and first[3].startswith(
        "at 30 / -10 across mm from start; after bending: leg 1, 220"
    )
    assert second[0] == "b" and second[3].startswith("at 477.5 mm")
    assert sheets["G"]["holes"] == [["", "M6 tapped in the end", "1", "in the finish end"]]
    assert ">a<" in sheets["A"]["straight"]


def test_every_paper_of_the_floor_names_the_grade_in_full_and_what_radii_are_measured_to(shop, tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    with shop.session() as session:
        number = add_jobs(session, [path], at=NOW)[0].number
    with shop.reading() as session:
        sheet = floor_sheet(session, number, at=NOW)
    setting = Setting(unit="mm")

    def cell(columns, heading, row):
        (column,) = (one for one in columns if one.heading == heading and "sheet" in one.on)
        return column.value(row)

    wanted = "EN 10025-2 S275JR"
    assert {cell(PARTS, "Grade", part) for part in sheet.parts} == {wanted}
    assert {cell(SAW, "Grade", saw_rows(bar, setting)[0]) for bar in sheet.saw} == {wanted}
    assert {part.grade for part in sheet.bends} == {wanted}
    told = traveller_data(sheet)
    assert all(bar["head"][0].endswith(wanted) for bar in told["bars"] if bar["head"])
    assert all(wanted in part["bar"] for part in told["parts"])
    assert all(wanted in row["cells"][3] for row in told["pieces"])
    assert [part.shape for part in sheet.bends if part.mark == "G"] == [
        "leg 120; scroll from 60 to 30 turns 1.5 centre"
    ]
    # Drills by size: M6 is drilled 5.0 and comes before 9.
    assert [(hole.dia, hole.drill) for hole in sheet.holes] == [("M6", "5 mm"), ("M6", "5 mm"), ("9", "")]
    assert cell(HOLES, "Places on the straight bar", sheet.holes[0])
    (scroll,) = (part.bends[0] for part in sheet.bends if part.mark == "G")
    (note,) = (column for column in BENDS if column.heading == "Note")
    assert "28 small bends" in note.look.text(scroll, setting) and "°" in note.look.text(scroll, setting)


MANY = """
format = 1
[job]
title = "Curls"
customer = "Me"
sets = 1
units = "mm"
[[part]]
mark = "C"
per_set = 1
name = "frame"
bar = "angle 40 x 40 x 4"
grade = "S275"
shape = "leg 300; fold 90; leg 200"
[[part]]
mark = "D"
per_set = 1
name = "scroll"
bar = "flat 20 x 6"
grade = "S275"
shape = "scroll from 30 to 90 turns 1.25; leg 100"
"""


def job_of_many(count: int) -> str:
    """Straight pieces, angles, channels and offsets in turn, each longer than the last."""
    shapes = (
        "", "leg 250; bend 90 r 30; leg {}", "leg 120; bend 90 r 30; leg {}; bend 90 r 30; leg 120",
        "leg 200; bend 45 r 40; leg 150; bend -45 r 40; leg {}",
    )  # fmt: skip
    parts = [
        f'[[part]]\nmark = "P{n}"\nname = "member {n}"\nper_set = 2\nbar = "flat 40 x 6"\ngrade = "S275"\n'
        + (f'shape = "{shapes[n % 4].format(250 + 5 * n)}"\n' if n % 4 else f"length = {400 + n}\n")
        for n in range(count)
    ]
    return 'format = 1\n[job]\ntitle = "Many"\ncustomer = "Me"\nsets = 1\nunits = "mm"\n' + "".join(parts)


needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs poppler")


def pages_of_parts(parts: list[dict], template: str = "parts") -> list[str]:
    """The words and their boxes on each page of parts' sheets, as poppler tells them."""
    named = {"title": "t", "job": "j", "shop": "s", "paper": "A4", "language": "en", "footer": ""}
    pdf = typeset(template, named | {"parts": parts})
    done = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True)
    return done.stdout.decode().split("<page ")[1:]


@needs_poppler
def test_small_parts_fill_pages_and_none_is_lost():
    """Three parts a page and more; what is reckoned of a card's height is what the template needs."""
    job, shop = read_job_text(job_of_many(16), "job.toml"), starting_shop()
    cards = [
        part_data(job, part, analyse_part(part, job.units, shop), "first angle", as_card=True)
        for part in job.parts
    ]
    # Three of the tallest and their rules to a page of 273 mm: sixty bent parts take twenty of them.
    assert all(card["card"] and 25 < card["tall"] < (273 - 2 * 4.6) / 3 for card in cards)
    pages = pages_of_parts(cards)
    assert len(pages) <= 6
    found = [re.findall(r">(P\d+)</word>", page) for page in pages]
    assert sorted(mark for marks in found for mark in marks) == sorted(part.mark for part in job.parts)


@needs_poppler
def test_a_card_is_reckoned_as_tall_as_it_is(tmp_path, monkeypatch):
    """Measured by the template itself; also heads that run to several lines, and ticks among bold words."""
    job, shop = read_job_text(job_of_many(8), "job.toml"), starting_shop()
    long_name = replace(job.parts[0], name="left of the stair " * 4, turned=2, threaded=1)
    cards = [
        part_data(job, part, analyse_part(part, job.units, shop), "first angle", as_card=True)
        for part in (long_name, *job.parts[1:])
    ]
    shutil.copytree(TEMPLATES, tmp_path, dirs_exist_ok=True)
    (tmp_path / "tall.typ").write_text(
        '#import "part.typ": *\n#show: paper\n#for part in data.parts { layout(room => ['
        "tall #{ measure(block(width: room.width, card(part))).height / 1mm }]) }"
    )
    monkeypatch.setattr("shopquote.outputs.papers.typeset.TEMPLATES", tmp_path)
    (page,) = pages_of_parts(cards, "tall")
    measured = [float(tall) for tall in re.findall(r">tall</word>\s*<word[^>]*>([\d.]+)<", page)]
    for card, tall in zip(cards, measured, strict=True):
        assert tall <= card["tall"] <= tall + 8, card["mark"]


@needs_poppler
def test_no_word_lies_over_another_and_a_head_stays_with_its_drawing(tmp_path):
    job = read_job_text(MANY, "job.toml")
    made = [(part, analyse_part(part, job.units, starting_shop())) for part in job.parts]
    (pdf,) = typeset_parts(job, made, number="", shop="Shop", paper="A4", projection="first angle")
    (tmp_path / "parts.pdf").write_bytes(pdf)
    subprocess.run(["pdftotext", "-bbox", tmp_path / "parts.pdf", tmp_path / "boxes.html"], check=True)
    pages = (tmp_path / "boxes.html").read_text(encoding="utf-8").split("<page ")[1:]
    for page in pages:
        boxes = [
            (word, *map(float, sides))
            for *sides, word in re.findall(
                r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)<', page
            )
        ]
        over = [
            (one[0], other[0])
            for one, other in combinations(boxes, 2)
            if min(one[3], other[3]) - max(one[1], other[1]) > 1
            and min(one[4], other[4]) - max(one[2], other[2]) > 4
        ]
        assert over == []
        words = {box[0] for box in boxes}
        assert not {"frame", "scroll"} & words or "Straight" in words


ZIGZAG = "; ".join(f"bend {way}90 r 20; leg {80 + n}" for n, way in enumerate(("", "-") * 14))


@needs_poppler
@pytest.mark.parametrize("shape", [
    *("leg 80; " + "; ".join(ZIGZAG.split("; ")[: 2 * n]) for n in (1, 4, 5, 7, 8, 10, 12, 16, 20, 28)),
    "leg 200; bend 60 r 24; leg 150; turn 35; bend -100 r 40; leg 220; turn 20; bend 90 r 24; leg 90",
    "scroll from 30 to 90 turns 2.25; leg 100; bend 90 r 24; leg 300",
    "leg 100; arc 60 r 700; leg 100",
])  # fmt: skip
@pytest.mark.parametrize("extra", ["", "crowded"])
def test_nothing_that_a_sheet_says_runs_off_its_page(shape, extra):
    """Every word of every list is on the paper, however many bends, holes and notes a part has."""
    text = 'format = 1\n[job]\ntitle = "Z"\ncustomer = "Me"\nsets = 1\nunits = "mm"\n' + (
        '[[part]]\nmark = "Z"\nper_set = 1\nname = "zigzag"\nbar = "round 8"\ngrade = "S275"\n'
        f'shape = "{shape}"\n'
    )
    if extra:
        text += 'note = "' + "mind the finish of every face " * 12 + '"\n'
        text += (
            "holes = ["
            + ", ".join(f"{{ dia = {2 + n / 10:.1f}, at = {20 + n}, leg = 1 }}" for n in range(12))
            + "]\n"
        )
    job = read_job_text(text, "job.toml")
    (part,) = job.parts
    data = part_data(job, part, analyse_part(part, job.units, starting_shop()), "first angle")
    pulls = [line for pull in data["pulls"] for name, line in pull.items() if name != "picture"]
    lists = [*data["notes"], *data["cautions"], *pulls]
    if len(data["pulls"]) != len(data["steps"]):
        lists += [cell for row in data["steps"] for cell in row]
    for rows in ("small_bends", "holes", "checks", "facts"):
        lists += [cell for row in data[rows] for cell in row]
    said = Counter(" ".join(lists).split())
    pages = pages_of_parts([data])
    printed = Counter(unescape(word) for page in pages for word in re.findall(r">([^<>]+)</word>", page))
    assert not said - printed


def test_what_is_made_by_hand_is_said_once_and_hot_once():
    spring = JOB.replace("flat 40 x 6", "round 3").replace('"S275"', '"spring wire"', 1)
    spring = spring.replace("leg 250; bend 90 r 36; leg 300", "helix d 20 pitch 8 turns 10 wound closed")
    spring = re.sub(r"holes = .*\n", "", spring, count=1)
    steps = sheets_of(read_job_text(spring, "job.toml"))["A"]["steps"]
    assert [row[3] for row in steps] == ["1 turn", "8 turns", "1 turn"]
    assert "mandrel" in steps[0][-1] and [row[-1] for row in steps[1:]] == ["as above", "as above"]
    joggled = JOB.replace("leg 250; bend 90 r 36; leg 300", "leg 250; joggle 6 over 24; leg 300")
    for row in sheets_of(read_job_text(joggled, "job.toml"))["A"]["steps"]:
        assert " ".join(row).count("hot") <= 1
