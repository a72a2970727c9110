"""The floor on a phone: sheets, entries that count once, a line that is cut, mending, and never a price."""

import io
import random
import re
from dataclasses import replace
from datetime import timedelta
from urllib.parse import quote

import pytest
from sqlalchemy import func, select

from shopquote.calc.bar.part_answer import shown_pulls
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Measure
from shopquote.records.logs import MinuteSum, ScrapNote, StruckEntry, TimeEntry
from shopquote.records.page import FloorEntry
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.floor.entries import good_pieces
from shopquote.services.floor.log_list import logged_so_far
from shopquote.services.floor.take_back import strike_entry
from shopquote.services.floor.time_log import running_timers
from shopquote.services.jobs.jobs import load_job, revise_job_to
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.quotes_on_file import stored_quote
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings
from tests.page.test_price import HOOK


@pytest.fixture
def phone(office, floor, shop):
    office.post("/price", {**HOOK, "part-0-holes": "", "do": "quote"})
    office.post("/quote/J-0001/answer", {"answer": "accepted"})
    with shop.session() as session:
        add_pieces(
            session, parse_section("flat 40 x 6", "mm"), "flat 40 x 6", "S275", Measure.parse("6000", "mm")
        )
        promise_pieces(session, ["R-0001"], "J-0001")
    assert floor.post("/f/who", {"person": "Wyn"}).status_code == 303
    return floor


def send(phone, key, kind, at=None, mark="A", job="J-0001", **fields):
    return phone.client.post(
        "/f/entry",
        base_url="http://127.0.0.1:8765",
        headers={"Origin": "http://127.0.0.1:8765", "X-Form-Token": phone.token},
        json={
            "key": key,
            "kind": kind,
            "job": job,
            "mark": mark,
            "at": at.isoformat() if at else "",
            "fields": fields,
        },
    )


def counted(shop):
    with shop.reading() as session:
        rows = session.scalars(select(TimeEntry)).all()
        return [(row.operation, row.person, row.minutes) for row in rows]


def test_no_price_stands_on_any_page_of_the_floor(phone, shop):
    send(phone, "key-start-0", "start", operation="bending")
    with shop.reading() as session:
        document = stored_quote(session, "J-0001")
    money = {f"{document.priced.net:,f}", f"{document.estimate.cost:.2f}", "EUR"}
    money |= {f"{step.unit_price:,f}" for step in document.priced.breaks}
    for path in ("/f/", "/f/job/J-0001", "/f/job/J-0001/A", "/f/bar/R-0001", "/f/work", "/f/today"):
        page = phone.get(path)
        assert page.status_code == 200, path
        text = re.sub(r"<svg.*?</svg>", "", page.text, flags=re.DOTALL)  # places of lines are no prices
        assert not [amount for amount in money if amount in text], path


def test_a_sheet_has_its_drawing_marks_and_pull(phone):
    page = phone.get("/f/job/J-0001/A").text
    assert "<svg" in page and "527.3" in page and "pull to" in page and "12 to make" in page
    assert phone.get("/f/open?code=j-0001/a").location == "/f/job/j-0001/a"
    assert phone.get("/f/job/j-0001/a").status_code == 200
    assert phone.get("/f/open?code=R-1").location == "/f/bar/R-1"
    typed = quote("http://192.168.1.20:8765/f/open?code=J-0001/A")  # a scanner typed it into the box
    assert phone.get(f"/f/open?code={typed}").location == "/f/job/J-0001/A"
    assert phone.get("/f/job/J-0001/Z").status_code == 404


def test_start_and_stop_log_minutes_good_and_spoilt(phone, shop, clock):
    assert send(phone, "key-start-1", "start", operation="bending").json["answer"] == "bending, timer started"
    clock.time += timedelta(minutes=24)
    assert "Bending A" in phone.get("/f/work").text
    told = send(phone, "key-stop-01", "stop", good="11", spoilt="1", reason="cracked").json["answer"]
    assert told == "bending, 24 min; 11 x A good; 1 x A scrapped"
    assert [(row[0], row[1], int(row[2])) for row in counted(shop)] == [("bending", "Wyn", 24)]
    with shop.reading() as session:
        assert session.scalars(select(ScrapNote)).one().reason == "cracked"
    assert "11 x A good" in phone.get("/f/today").text


def test_counts_that_nobody_can_have_made_are_refused_as_they_come_and_as_they_are_mended(phone, shop, clock):
    """Twelve of A are to be made: a slip of the finger adds noughts."""
    send(phone, "key-start-8", "start", operation="bending")
    clock.time += timedelta(minutes=24)
    for typed, told in (
        ({"good": "1200"}, "1,200 x A good, where 12 are to be made"),
        ({"spoilt": "121", "reason": "cracked"}, "121 x A scrapped, where 12 are to be made"),
        ({"good": "1000000000"}, "Good"),
    ):
        answer = send(phone, "key-stop-08", "stop", **typed)
        assert answer.status_code == 422 and told in answer.json["error"], typed
    assert [int(row[2]) for row in counted(shop)] == [0], "the timer runs on"
    # Ten times the plan is let pass, and said.
    passed = send(phone, "key-stop-08", "stop", good="120", spoilt="120", reason="cracked")
    assert "120 x A good, where 12 are to be made" in passed.json["answer"]
    wrong = phone.post(
        "/f/mend", {"key": "key-stop-08", "good": "121"}, headers={"Accept": "application/json"}
    )
    assert wrong.status_code == 422 and "121 x A good" in wrong.json["error"]
    with shop.reading() as session:
        assert good_pieces(session, load_job(session, "J-0001").job) == [("A", "bending", 120)]
    # Of fewer sets later, what is on file is no slip of the finger: all else is still put right.
    with shop.session() as session:
        fewer = replace(load_job(session, "J-0001").spec, sets=1)
        revise_job_to(session, "J-0001", fewer, at=clock.time)
    assert phone.post("/f/mend", {"key": "key-stop-08", "minutes": "20"}).status_code == 303
    assert "bending, 20 min; 120 x A good, where " in phone.get("/f/today").text
    assert phone.post("/f/mend", {"key": "key-stop-08", "reason": "torn"}).status_code == 303
    with shop.reading() as session:
        assert [(row.count, row.reason) for row in session.scalars(select(ScrapNote))] == [(120, "torn")]
    # Counts are lowered step by step, though each is still far more than is made by now; none is raised.
    for good, spoilt in (("115", "110"), ("100", "90")):
        mended = phone.post("/f/mend", {"key": "key-stop-08", "good": good, "spoilt": spoilt})
        assert mended.status_code == 303, mended.text
        assert f"{good} x A good, where " in phone.get("/f/today").text
    for more in ({"good": "101"}, {"spoilt": "91"}):
        assert phone.post("/f/mend", {"key": "key-stop-08", **more}).status_code == 422
    with shop.reading() as session:
        assert [(row.count, row.reason) for row in session.scalars(select(ScrapNote))] == [(90, "torn")]


def test_an_entry_that_waited_counts_when_it_was(phone, shop, clock):
    began = clock.time
    clock.time += timedelta(hours=3)
    send(phone, "key-start-2", "start", at=began, operation="welding")
    send(phone, "key-stop-02", "stop", at=began + timedelta(minutes=30))
    assert [int(row[2]) for row in counted(shop)] == [30]


def test_a_line_that_is_cut_a_thousand_times_loses_nothing_and_doubles_nothing(phone, shop, clock):
    chance = random.Random(7)
    waiting, cuts, sent = [], 0, 0
    while cuts < 1000:
        clock.time += timedelta(minutes=1)
        kind = "start" if sent % 2 == 0 else "stop"
        waiting.append((f"cut-key-{sent:05d}", kind, clock.time))
        sent += 1
        while waiting:
            key, kind, at = waiting[0]
            way = chance.random()
            if way < 0.45:  # cut before it arrived
                cuts += 1
                continue
            fields = {"operation": "bending"} if kind == "start" else {}
            answer = send(phone, key, kind, at=at, **fields)
            if way < 0.9:  # it arrived, the answer did not
                cuts += 1
                continue
            assert answer.status_code == 200 and answer.json["key"] == key
            waiting.pop(0)
    with shop.reading() as session:
        assert session.scalar(select(func.count(FloorEntry.id))) == sent
        assert session.scalar(select(func.count(TimeEntry.id))) == (sent + 1) // 2
        total = session.scalar(select(func.sum(TimeEntry.minutes)))
        assert int(total) == sent // 2 == int(session.scalar(select(func.sum(MinuteSum.minutes))))
        assert not [result.faults for result in run_checks(session) if result.faults]


def test_a_bar_is_sawn_and_what_came_back_lies_on_the_rack(phone, shop):
    with shop.session() as session:
        load = [("J-0001", "A", Measure.parse("500", "mm").length, 11)]
        promise_pieces(session, ["R-0001"], "J-0001", load=load)
        saw = saw_settings(session)
    offered = re.search(r'name="back"[^>]* value="(\d+)"', phone.get("/f/bar/R-0001").text)[1]
    lost = saw.kerf.mm * 11
    assert int(offered) == int(500 - lost - saw.trim.mm) < 500
    much = send(phone, "key-sawn-00", "sawn", piece="R-0001", back="500", pieces="11", place="bay 1")
    assert much.status_code == 422
    assert (
        f"with the saw's kerfs: at most {(500 - lost).normalize():f} mm can come back, not 500"
        in much.json["error"]
    )
    told = send(phone, "key-sawn-01", "sawn", piece="R-0001", back="173", pieces="11", place="bay 1").json[
        "answer"
    ]
    assert told == "R-0001 sawn, back as R-0002"
    assert send(phone, "key-sawn-01", "sawn", piece="R-0001", back="173").json["answer"] == told
    again = send(phone, "key-sawn-02", "sawn", piece="R-0001", back="")
    assert again.status_code == 422 and again.json["key"] == "key-sawn-02" and again.json["error"]


def test_mending_the_same_day_and_not_after(phone, shop, clock):
    send(phone, "key-start-3", "start", operation="bending")
    clock.time += timedelta(minutes=50)
    send(phone, "key-stop-03", "stop", good="5", spoilt="1", reason="cracked")
    assert phone.post("/f/mend", {"key": "key-stop-03", "minutes": "34"}).status_code == 303
    assert phone.post("/f/mend", {"key": "key-stop-03", "minutes": "35"}).status_code == 303
    page = phone.get("/f/today").text
    assert "bending, 35 min; 5 x A good; 1 x A scrapped" in page
    assert re.search(r"corrected: 50 to 34 min, [\d:]+; 34 to 35 min, [\d:]+<", page)
    with shop.reading() as session:
        assert good_pieces(session, load_job(session, "J-0001").job) == [("A", "bending", 5)]
    assert [int(row[2]) for row in counted(shop)] == [35]
    assert "50" in phone.get("/f/today").text and "35 min" in phone.get("/f/today").text
    with shop.reading() as session:
        assert not [result.faults for result in run_checks(session) if result.faults]
    assert phone.post("/f/mend", {"key": "key-stop-03", "minutes": "many"}).status_code == 422
    clock.time += timedelta(days=1)
    assert phone.post("/f/mend", {"key": "key-stop-03", "minutes": "20"}).status_code == 422


def test_pieces_are_mended_and_entries_taken_back(phone, shop, clock):
    send(phone, "key-start-7", "start", operation="bending")
    wrong = send(phone, "key-start-8", "start", operation="welding")
    assert wrong.status_code == 422
    assert phone.post("/f/mend", {"key": "key-start-7", "do": "back"}).status_code == 303
    send(phone, "key-start-9", "start", operation="welding")
    clock.time += timedelta(minutes=20)
    send(phone, "key-stop-09", "stop", good="5")
    late = phone.post("/f/mend", {"key": "key-start-9", "do": "back"}, headers={"Accept": "application/json"})
    assert late.status_code == 422 and "stopped meanwhile" in late.json["error"]
    mend = {"key": "key-stop-09", "good": "9", "spoilt": "2"}
    assert phone.post("/f/mend", mend).status_code == 422
    assert phone.post("/f/mend", {**mend, "reason": "cracked"}).status_code == 303
    page = phone.get("/f/today").text
    assert "welding, 20 min; 9 x A good; 2 x A scrapped" in page
    assert "corrected: 5 to 9 good, 0 to 2 spoilt" in page
    with shop.reading() as session:
        assert good_pieces(session, load_job(session, "J-0001").job) == [("A", "welding", 9)]
        assert [(note.count, note.reason) for note in session.scalars(select(ScrapNote))] == [(2, "cracked")]
    assert phone.post("/f/mend", {"key": "key-stop-09", "spoilt": "0"}).status_code == 303
    with shop.reading() as session:
        assert not session.scalars(select(ScrapNote)).all()
    assert phone.post("/f/mend", {"key": "key-stop-09", "do": "back"}).status_code == 303
    assert phone.post("/f/mend", {"key": "key-stop-09", "do": "back"}).status_code == 422
    assert "taken back: welding, 20 min; 9 x A good" in phone.get("/f/today").text
    with shop.reading() as session:
        assert not good_pieces(session, load_job(session, "J-0001").job) and not counted(shop)
        assert not [result.faults for result in run_checks(session) if result.faults]
        assert [row.what for row in session.scalars(select(StruckEntry))] == ["bending", "welding"]


def test_a_bar_that_was_not_sawn_lies_on_the_rack_again(phone, shop):
    send(phone, "key-sawn-05", "sawn", piece="r-1", back="173", pieces="6", place="bay 1")
    assert phone.post("/f/mend", {"key": "key-sawn-05", "do": "back"}).status_code == 303
    with shop.reading() as session:
        pieces = [(piece.code, piece.state) for piece in session.scalars(select(RackPiece))]
        assert pieces == [("R-0001", "promised")]
        assert not [result.faults for result in run_checks(session) if result.faults]


def test_only_what_an_entry_itself_put_on_file_is_taken_back(phone, shop, clock):
    def refused(key):
        asked = phone.post("/f/mend", {"key": key, "do": "back"}, headers={"Accept": "application/json"})
        assert asked.status_code == 422
        return asked.json["error"]

    send(phone, "key-start-5", "start", operation="bending")
    clock.time += timedelta(minutes=20)
    send(phone, "key-stop-05", "stop", good="5", spoilt="2", reason="cracked")
    # The same operation runs again: to take back its first start would lose the second.
    send(phone, "key-start-6", "start", operation="bending")
    assert "stopped meanwhile" in refused("key-start-5")
    with shop.reading() as session:
        assert len(running_timers(session)) == 1
    # Another reason alone is mended too, and none without pieces.
    assert phone.post("/f/mend", {"key": "key-stop-05", "reason": "wrong length"}).status_code == 303
    with shop.reading() as session:
        notes = [(note.count, note.reason) for note in session.scalars(select(ScrapNote))]
        assert notes == [(2, "wrong length")]
    assert phone.post("/f/mend", {"key": "key-stop-05", "spoilt": "0"}).status_code == 303
    assert phone.post("/f/mend", {"key": "key-stop-05", "reason": "cracked"}).status_code == 422
    # The office took a sawing back, and the bar was sawn again.
    send(phone, "key-sawn-07", "sawn", piece="R-0001", back="173", pieces="6", place="bay 1")
    with shop.session() as session:
        rows = logged_so_far(session, "J-0001").rows
        number = next(row.number for row in rows if row.table is BarUse)
        strike_entry(session, "J-0001", number, "not this one", at=clock.time)
    assert send(phone, "key-sawn-08", "sawn", piece="R-0001", back="173", pieces="6").status_code == 200
    assert "taken it back" in refused("key-sawn-07")
    with shop.reading() as session:
        assert len(session.scalars(select(BarUse)).all()) == 1
    assert phone.post("/f/mend", {"key": "key-sawn-08", "do": "back"}).status_code == 303
    with shop.reading() as session:
        assert not session.scalars(select(BarUse)).all()
        assert not [result.faults for result in run_checks(session) if result.faults]


def test_a_photo_is_kept_as_a_picture_and_nothing_else(phone, shop):
    from PIL import Image

    held = io.BytesIO()
    Image.new("RGB", (3000, 2000), "grey").save(held, "PNG")
    form = {"key": "key-photo-1", "kind": "photo", "job": "J-0001", "mark": "A"}
    done = phone.post("/f/photo", {**form, "photo": (io.BytesIO(held.getvalue()), "crack.png")})
    assert done.status_code == 303
    shown = phone.get("/f/picture/key-photo-1")
    assert (
        shown.mimetype == "image/jpeg"
        and shown.data[:2] == b"\xff\xd8"
        and max(Image.open(io.BytesIO(shown.data)).size) == 1600
    )
    page = {**form, "key": "key-photo-2", "photo": (io.BytesIO(b"<html><script>"), "x.jpg")}
    assert phone.post("/f/photo", page).status_code == 422


def test_without_scripts_a_form_does_the_same(phone, shop):
    page = phone.get("/f/job/J-0001/A").text
    key = re.findall(r'name="key" value="([^"]+)"', page)[-1]
    form = {
        "key": key,
        "kind": "start",
        "job": "J-0001",
        "mark": "A",
        "to": "/f/work",
        "operation": "bending",
    }
    assert phone.post("/f/entry", form).location == "/f/work"
    assert phone.post("/f/entry", form).location == "/f/work"
    assert len(counted(shop)) == 1


def test_odd_entries_are_no_fault_of_the_program(phone):
    for kind, fields in (
        ("start", {"operation": "x"}),
        ("stop", {}),
        ("sawn", {"piece": "R-9"}),
        ("gold", {}),
        ("photo", {}),
    ):
        assert send(phone, "key-odd-" + kind, kind, **fields).status_code == 422, kind
    assert send(phone, "", "start").status_code == 422
    odd = phone.client.post(
        "/f/entry",
        base_url="http://127.0.0.1:8765",
        json={"key": 7, "fields": [1], "at": "yesterday"},
        headers={"Origin": "http://127.0.0.1:8765", "X-Form-Token": phone.token},
    )
    assert odd.status_code == 422


def on_the_floor(office, floor, steps=(), number=1, units="mm", **part):
    """A job of one part that is quoted, with steps of its making, and its sheet on the phone."""
    fields = {"part-0-mark": "A", "part-0-per_set": "1", "part-0-grade": "S275"} | {
        f"part-0-{key}": text for key, text in part.items()
    }
    job = {"job-0-title": "Curl", "job-0-customer": "Orla Fennimore", "job-0-sets": "2", "job-0-units": units}
    making = {f"step-{number}-text": text for number, text in enumerate(steps)}
    made = office.post("/price", {**job, **fields, **making, "do": "quote"})
    assert made.status_code == 303, made.text
    return floor.get(f"/f/job/J-000{number}/A")


def test_each_small_bend_of_a_scroll_has_its_own_pull_on_the_phone(office, floor, shop):
    sheet = on_the_floor(office, floor, bar="round 8", shape="scroll from 30 to 90 turns 1.25; leg 100")
    with shop.reading() as session:
        spec = load_job(session, "J-0001").spec
        (bend,) = work_out_parts(spec, bending_shop(session))["A"].bends
    pulls = shown_pulls(bend.hit_over_bends)
    assert len(set(pulls)) > 3 and "each by its own pull" in sheet.text
    for pull in pulls:
        assert f"<b>{pull}°</b>" in sheet.text
    assert f"pull to {abs(bend.hit_over_bend):.1f}°" not in sheet.text  # their mean would bend a ring


def test_hot_work_is_not_pulled_past_its_angle_on_the_phone(office, floor):
    sheet = on_the_floor(office, floor, bar="square 12", shape="leg 120; corner 90; leg 120")
    assert "hot, to 90°" in sheet.text and "pull to" not in sheet.text


def test_what_rolls_curve_is_told_by_its_radii_and_not_by_a_pull(office, floor):
    ring = {"bar": "flat 40 x 6", "shape": "leg 100; arc 120 r 500; leg 100"}
    sheet = on_the_floor(office, floor, **ring)
    assert re.search(r"r \d+(\.\d)? mm in the rolls \(.*\), r 500 mm off them", sheet.text)
    assert "pull to" not in sheet.text
    seen = office.post(
        "/price/live", {**HOOK, "part-0-bar": ring["bar"], "part-0-shape": ring["shape"]}
    ).json["see"]["0"]
    assert "in the rolls" in seen and "pull to" not in seen


def test_the_phone_says_the_saw_length_as_the_part_sheet_prints_it(office, floor):
    assert (
        'Saw to <span class="fig mid">527.3 mm</span>'
        in on_the_floor(office, floor, bar="flat 40 x 6", shape="leg 250; bend 90 r 36; leg 300").text
    )


def test_the_phone_says_a_saw_length_in_inches_to_a_sixteenth_as_sheets_do(office, floor):
    """By hand: 3 + 6, less twice 1-1/8 of setback, and a quarter turn about 3/4 + 0.4 x 3/8: 8.164 in."""
    bent = {"bar": "flat 1-1/2 in x 3/8 in", "shape": "leg 3 in; bend 90 r 3/4 in; leg 6 in"}
    said = on_the_floor(office, floor, units="in", **bent).text
    assert 'Saw to <span class="fig mid"><span class="one">8-3/16 in</span></span>' in said


def test_what_is_alike_for_bends_or_told_of_the_whole_part_stands_once_on_the_phone(office, floor):
    bends = "; ".join("bend 90 r 20; leg 80; bend -90 r 20; leg 80" for _ in range(6))
    sheet = on_the_floor(office, floor, bar="round 8", shape=f"leg 80; {bends}").text
    lines = [line for line in re.findall(r"<p[^>]*>(.*?)</p>", sheet) if "pull to " in line]
    ways = [line for line in re.findall(r"<p[^>]*>(.*?)</p>", sheet) if "pull-to: " in line]
    assert len(lines) == 12 and len(ways) == 1 and ways[0].startswith("Each bend: ")
    assert len({line for line in re.findall(r"<p>(stop: .*?)</p>", sheet)}) == 12
    # Made in two ways, each says of which bends.
    other = f"leg 80; {bends}; bend 60 r 40; leg 90"
    mixed = on_the_floor(office, floor, bar="round 8", shape=other, number=2).text
    (ways,) = [line for line in re.findall(r"<p[^>]*>(.*?)</p>", mixed) if line.startswith("Bend 12, 11, ")]
    assert "pull-to: " in ways and len(re.findall(r"<p>[^<]*pull-to: ", mixed)) == 2


def test_a_splice_is_told_once_on_the_phone(office, floor):
    long = {"bar": "flat 40 x 6", "length": "7455", "splice": "true"}
    assert on_the_floor(office, floor, **long).text.count("welded") == 1


def test_a_step_of_the_making_has_one_number(office, floor):
    part = {"bar": "round 8", "shape": "leg 100; bend 90 r 20; leg 100"}
    sheet = on_the_floor(office, floor, ["tack it", "grind it"], **part)
    for page in (sheet.text, floor.get("/f/job/J-0001").text):
        listed = page.partition("<h2>Steps</h2>")[2].partition(">")[0]
        assert listed.startswith("<ul") and "<li>1. tack it</li><li>2. grind it</li>" in page
