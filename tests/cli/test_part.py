"""shopquote part: JSON, tables, marks, exit codes."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app

HEAD = 'format = 1\n[job]\ntitle = "t"\ncustomer = "c"\nsets = 1\nunits = "mm"\nuse = "{use}"\n'


def job_file(folder, *parts, use="general"):
    text = HEAD.format(use=use)
    for number, part in enumerate(parts):
        lines = {
            "mark": f'"{"ABCDEF"[number]}"',
            "name": '"piece"',
            "per_set": "1",
            "grade": '"S275"',
            **part,
        }
        text += "[[part]]\n" + "".join(f"{key} = {value}\n" for key, value in lines.items())
    path = folder / "job.toml"
    path.write_text(text)
    return str(path)


BRACKET = {"bar": '"round 12"', "shape": '"leg 100; bend 90 r 25; leg 60"'}
STRAIGHT = {"bar": '"square 12"', "length": "450"}


def run(*words):
    return CliRunner().invoke(app, ["part", *words])


def test_json_has_the_agreed_keys_and_the_worked_bracket(tmp_path):
    result = run(job_file(tmp_path, BRACKET, STRAIGHT), "--json")
    assert result.exit_code == 0, result.stderr
    part, straight = json.loads(result.stdout)["parts"]
    keys = {
        "mark", "developed_mm", "cut_mm", "bend_marks_mm", "bends", "mass_kg", "area_m2", "envelope_mm",
        "problems",
    }  # fmt: skip
    assert keys <= part.keys()
    # Kalpakjian and Schmid, eq. 16.2, worked by hand: 134.695 mm, first mark at 100 - 37.
    assert part["developed_mm"] == pytest.approx(134.695, abs=1e-3)
    assert part["cut_mm"] == 134.7
    assert part["bend_marks_mm"] == [63]
    assert part["envelope_mm"] == [100, 60, 12]
    bend = part["bends"][0]
    assert {"angle", "inside_radius_mm", "over_bend_to", "moment_nm", "hits"} <= bend.keys()
    assert (bend["angle"], bend["inside_radius_mm"], bend["hits"]) == (90, 25, 1)
    assert bend["over_bend_to"] > 90
    assert (straight["cut_mm"], straight["bends"], straight["problems"]) == (450, [], [])


def test_one_mark_alone_and_an_unknown_mark(tmp_path):
    path = job_file(tmp_path, BRACKET, STRAIGHT)
    result = run(path, "--mark", "B", "--json")
    assert [part["mark"] for part in json.loads(result.stdout)["parts"]] == ["B"]
    missing = run(path, "--mark", "Q")
    assert missing.exit_code == 4
    assert "No part has the mark 'Q'" in missing.stderr


def test_a_part_that_cannot_be_made_ends_with_5_and_names_leg_lack_and_cure(tmp_path):
    short = {"bar": '"round 12"', "shape": '"leg 30; bend 90 r 24; leg 300"'}
    result = run(job_file(tmp_path, BRACKET, short), "--json")
    assert result.exit_code == 5
    assert result.stdout == ""
    assert "Part B: leg 1 (word 1) of 30 mm is 6 mm too short" in result.stderr
    assert "at least 36 mm" in result.stderr


def test_all_parts_that_cannot_be_made_are_told_at_once(tmp_path):
    short = {"bar": '"round 12"', "shape": '"leg 30; bend 90 r 24; leg 300"'}
    ring = {"bar": '"round 12"', "shape": '"ring d 8"'}
    result = run(job_file(tmp_path, short, ring))
    assert result.exit_code == 5
    assert "2 parts cannot be made" in result.stderr
    assert "Part A: leg 1" in result.stderr
    assert "Part B: word 1: a ring" in result.stderr


def test_a_part_that_cannot_be_read_hides_no_other_that_cannot_be_made(tmp_path):
    ring = {"bar": '"round 12"', "shape": '"ring d 200"', "ends": '["turn 8 x 10", "square"]'}
    short = {"bar": '"round 12"', "shape": '"leg 30; bend 90 r 24; leg 300"'}
    result = run(job_file(tmp_path, ring, short))
    assert result.exit_code == 3
    assert "Part A: a ring is closed" in result.stderr and "Part B: leg 1" in result.stderr


def test_a_misspelt_shape_ends_with_3(tmp_path):
    result = run(job_file(tmp_path, {"bar": '"round 12"', "shape": '"leg 30; bned 90 r 24"'}))
    assert result.exit_code == 3
    assert "did you mean 'bend'" in result.stderr


def test_a_file_that_is_not_there_ends_with_3_or_4(tmp_path):
    result = run(str(tmp_path / "none.toml"))
    assert result.exit_code in (3, 4)
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("columns", ["40", "80", "200"])
def test_no_figure_is_cut_short_however_narrow_the_terminal(tmp_path, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    shape = '"leg 1234.5; bend 90 r 25; leg 600; turn 33.3; bend -90 r 25; leg 600; arc 45 r 1000; leg 100"'
    result = run(job_file(tmp_path, {"bar": '"round 12"', "shape": shape}))
    assert result.exit_code == 0, result.stderr
    assert "…" not in result.stdout
    assert "1198 mm" in result.stdout.replace("1197.5", "1198") or "1197.5 mm" in result.stdout
    assert "small bends" in result.stdout.replace("\n", " ")


def test_a_job_in_inches_is_answered_in_the_units_of_an_inch_shop(tmp_path):
    # A36 to ASTM A36: round 1/2, Z 0.02083 in3; lb and lbf by the international pound, 0.45359237 kg.
    part = {"bar": '"round 1/2"', "grade": '"A36"', "shape": '"leg 10; bend 90 r 1; leg 10"'}
    path = tmp_path / "inch.toml"
    path.write_text(Path(job_file(tmp_path, part)).read_text().replace('"mm"', '"in"'))
    shown = run(str(path)).stdout
    bend = json.loads(run(str(path), "--json").stdout)["parts"][0]["bends"][0]
    # 0.668 lb/ft of ASTM's half-inch bar over the length of the centre line: 20 - 3 + pi/2 x 1.25 in.
    pounds = 0.668 * (20 - 3 + 1.25 * 1.5708) / 12
    assert float(shown.split("mass")[1].split("lb")[0]) == pytest.approx(pounds, rel=1e-3)
    assert f"{bend['moment_nm'] / 1.3558179:.0f} lbf ft" in shown
    assert f"{bend['hand_force_n'] / 4.4482216:.0f} lbf" in shown
    assert "N m" not in shown


def test_the_table_tells_where_each_bend_lies_how_its_length_was_found_and_what_is_left(tmp_path):
    arc = {"bar": '"round 12"', "shape": '"leg 200; arc 90 r 994 hits 18; leg 100"'}
    shown = run(job_file(tmp_path, BRACKET, arc)).stdout
    text = " ".join(shown.split())
    # Begins at 63, takes 48.695 (Kalpakjian and Schmid, eq. 16.2); marks to half a millimetre.
    assert "1 63 mm 87.5 mm 111.5 mm 0.500 centreline" in text
    assert "centre of gravity x" in text
    assert "former r 25 mm leaves r 25." in text
    assert "mark is the start of the bend" in text
    assert "an arm wipes the bar round the former" in text
    assert "18 of 5.00°, start of each from start at" in text
    assert "; stop: mark to start end 63 mm" in text or "stop: mark to start end" in text


def test_why_shows_formula_and_source(tmp_path):
    path = job_file(tmp_path, BRACKET)
    assert "A (R + K T)" not in run(path).stdout
    shown = run(path, "--why").stdout.replace("\n", " ")
    assert "A (R + K T)" in shown
    assert "Kalpakjian" in shown
    assert "why" in json.loads(run(path, "--why", "--json").stdout)["parts"][0]


@pytest.mark.parametrize(
    ("use", "says"), [("lifting", "no load rating is given"), ("guarding", "local building codes")]
)
def test_the_use_of_the_work_brings_its_caution(tmp_path, use, says):
    result = run(job_file(tmp_path, BRACKET, use=use))
    assert says in " ".join(result.stdout.split())
    listed = json.loads(run(job_file(tmp_path, BRACKET, use=use), "--json").stdout)["cautions"]
    assert any(says in caution for caution in listed)


def test_every_bender_on_file_can_be_tried_on_the_parts(tmp_path):
    ring = {"bar": '"round 12"', "shape": '"ring d 300"'}
    path = job_file(tmp_path, BRACKET, STRAIGHT, ring)
    shown = run(path, "--benders").stdout
    assert "Benders on file, tried on all bends (1 in 1 of the parts)" in shown
    assert "Left out, for they have other curves than bends: C" in shown
    tried = json.loads(run(path, "--benders", "--json").stdout)["benders_tried"]
    assert (tried["bends"], tried["parts"], tried["left_out"]) == (1, 1, ["C"])
    by_name = {trial["bender"]: trial for trial in tried["benders"]}
    assert by_name["hand bender, bench"]["parts"] == 1
    assert by_name["hydraulic ram bender"]["lacks"] == {"short-leg": 1}


def test_marks_can_be_asked_from_either_end_or_the_middle(tmp_path):
    path = job_file(tmp_path, BRACKET)

    def mark(*words):
        return json.loads(run(path, "--json", *words).stdout)["parts"][0]["bends"][0]["bender_mark_mm"]

    # The former leaves a little more than r 25, so the bend starts a little before 63 to keep its middle.
    start = mark()
    assert start == mark("--datum", "start") == pytest.approx(63, abs=0.7)
    assert mark("--datum", "finish") == pytest.approx(134.7 - start)
    assert mark("--datum", "middle") == pytest.approx(start - 134.7 / 2)
    wrong = run(path, "--datum", "strat")
    assert wrong.exit_code == 2
    assert "middle" in wrong.stderr


def test_json_tells_the_hand_of_mitres_and_how_a_part_was_typed(tmp_path):
    rail = {"bar": '"flat 40 x 6"', "length": "500", "ends": '["mitre 45", "mitre -45"]'}
    frame = {**rail, "ends": '["mitre 45", "mitre 45"]'}
    parallel, framed, bent = json.loads(run(job_file(tmp_path, rail, frame, BRACKET), "--json").stdout)[
        "parts"
    ]
    assert (parallel["mitres"]["hand"], parallel["mitres"]["short_point_mm"]) == ("parallel", 460)
    assert (framed["mitres"]["hand"], framed["mitres"]["short_point_mm"]) == ("frame", 420)
    assert parallel["ends"] == ["mitre 45", "mitre -45"]
    assert (bent["shape"], bent["dims"], bent["thickness_mm"]) == (BRACKET["shape"].strip('"'), "outside", 12)
    assert [bend["leg"] for bend in bent["bends"]] == [1]
    assert bent["bends"][0]["stop_mm"] == bent["bends"][0]["bender_mark_mm"]
    assert bent["mitres"] is None
