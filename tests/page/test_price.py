"""A new price on the page: typed, worked out, kept, made into a job and its quote."""

import json
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest

from shopquote.calc.bar.part import analyse_part
from shopquote.page.parts import drawings
from shopquote.page.price_form import examples, fields_of, rows_of, tables_of
from shopquote.reading.job_fields import TABLES
from shopquote.reading.job_file import read_job_file, read_job_text
from shopquote.reading.job_reader import read_job_tables
from shopquote.services.jobs.job_list import list_jobs
from shopquote.services.jobs.jobs import load_job
from shopquote.services.quotes.quotes_on_file import stored_quote
from shopquote.services.shop.starting import starting_shop

SAMPLES = sorted((Path(__file__).parents[2] / "sample_jobs").glob("*.toml"))
HOOK = {
    "job-0-title": "Hook", "job-0-customer": "Dovecote Bakery", "job-0-sets": "12", "job-0-breaks": "6, 24",
    "part-0-mark": "A", "part-0-name": "hook", "part-0-per_set": "1", "part-0-bar": "flat 40 x 6",
    "part-0-grade": "S275", "part-0-shape": "leg 250; bend 90 r 36; leg 300",
}  # fmt: skip


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_all_that_a_job_file_says_can_be_said_here_and_comes_back(path):
    spec = read_job_file(path)
    document, numbers = tables_of(rows_of(fields_of(spec)), named=True)
    assert read_job_tables(document, "form") == spec
    assert numbers == list(range(len(spec.parts)))


def test_the_form_has_fields_for_every_table_of_a_job(office):
    page = office.get("/price/new").text
    lacking = [f"{table.name}.{key}" for table in TABLES for key in table.by_key
               if f'name="{table.name}-' not in page or f"-{key}" not in page]  # fmt: skip
    assert lacking == []


def test_the_live_price_is_the_price_of_the_quote(office, shop):
    told = office.post("/price/live?others=1", HOOK).json
    assert told["faults"] == {} and told["others"] == []
    assert "<svg" in told["see"]["0"] and "527.3" in told["see"]["0"]
    assert office.post("/price", {**HOOK, "do": "quote"}).location == "/quote/J-0001"
    with shop.reading() as session:
        net = stored_quote(session, "J-0001").priced.net
        breaks = stored_quote(session, "J-0001").priced.breaks
    assert f"{net:,f} EUR" in told["ticket"]
    assert all(f"{step.unit_price:,f}" in told["ticket"] for step in breaks)
    alone = office.post("/price/live", HOOK).json
    assert f"{net:,f} EUR" in alone["ticket"]


def test_a_price_needs_no_names_but_a_quote_does(office):
    nameless = {**HOOK, "job-0-title": "", "job-0-customer": ""}
    assert "EUR" in office.post("/price/live", nameless).json["ticket"]
    page = office.post("/price", {**nameless, "do": "quote"})
    assert page.status_code == 422 and "expected a text of 1 to" in page.text


def test_faults_stand_at_their_fields_and_no_price_stands_on_a_fault(office):
    wrong = {
        **HOOK, "job-0-sets": "dozen", "part-0-bar": "flt 40 x 6", "part-1-mark": "B", "part-1-per_set": "1",
        "part-1-bar": "round 10", "part-1-grade": "S275", "part-1-shape": "leg 100; bend 90 r 20; leg 5",
        "holes-0-of": "0", "holes-0-dia": "big", "holes-0-count": "2",
    }  # fmt: skip
    told = office.post("/price/live", wrong).json
    assert set(told["faults"]) == {"job-0-sets", "part-0-bar", "part-1-shape", "holes-0-dia"}
    assert "–" in told["ticket"] and "EUR" not in told["ticket"]


def test_one_part_with_a_fault_does_not_hide_the_drawing_of_another(office):
    told = office.post(
        "/price/live",
        {
            **HOOK,
            "part-3-mark": "B",
            "part-3-per_set": "1",
            "part-3-bar": "nonsense",
            "part-3-length": "100",
            "part-3-grade": "S275",
        },
    ).json
    assert "<svg" in told["see"]["0"] and "<svg" not in told["see"]["3"]
    assert list(told["faults"]) == ["part-3-bar"]


def test_inches_stay_as_typed(office):
    told = office.post(
        "/price/live",
        {
            **HOOK,
            "job-0-units": "in",
            "part-0-bar": "flat 1-1/2 x 1/4",
            "part-0-grade": "A36",
            "part-0-shape": "leg 10; bend 90 r 1-1/2; leg 1' 2-7/16\"",
        },
    ).json
    assert told["faults"] == {}
    assert "1&#39; 2-7/16" in told["see"]["0"] or "7/16" in told["see"]["0"]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_every_example_in_a_field_can_be_typed_there(office, unit):
    """An example that the field itself refuses would teach a mistake."""
    told = examples(unit)
    assert {place.split("-")[1] for place in told} >= {"bar", "shape", "thread", "at", "leg"}
    bar, shape = told["part-bar"], told["part-shape"]
    base = {
        f"part-{row}-{key}": text
        for row, mark in enumerate("AB")
        for key, text in (("mark", mark), ("per_set", "1"), ("bar", bar), ("grade", "S275"))
    }
    base |= {"job-0-units": unit, "job-0-sets": "1", "part-1-shape": shape}  # fmt: skip
    for place, text in told.items():
        table, key = place.split("-")
        names = {"ends": f"part-0-{key}-0"}.get(key, f"{table}-0-{key}")
        typed = (
            {**base, "part-0-length": told["part-length"]}
            if key != "shape"
            else {**base, "part-0-shape": text}
        )
        usual = {
            "holes": {"of": "1", "dia": told["holes-dia"], "at": told["holes-at"]},
            "weld": {"kind": "fillet", "count": "1"},
            "joint": {"kind": "rivet"},
        }
        typed |= {f"{table}-0-{name}": value for name, value in usual.get(table, {}).items()}
        if key == "thread":
            del typed["holes-0-dia"]
        faults = office.post("/price/live?others=1", {**typed, names: text}).json["faults"]
        assert names not in faults, (place, text, faults)


def test_a_new_form_leads_back_to_what_is_being_typed_and_a_taken_up_one_does_not(office):
    assert "Drafts" not in office.get("/price/new").text
    word = office.post("/price/keep", HOOK).json["word"]
    assert f'href="/price/draft/{word}">Hook</a>' in office.get("/price/new").text
    assert "Drafts" not in office.get(f"/price/draft/{word}").text


def test_the_price_says_at_once_which_of_its_figures_are_invented(office):
    ticket = office.post("/price/live", HOOK).json["ticket"]
    assert "Invented prices" in ticket and "Invented rates: " in ticket and 'href="/shop/rates' in ticket


def test_a_draft_is_kept_as_typed_whatever_it_is(office, clock):
    odd = {**HOOK, "part-0-shape": "leg <b>; bend", "job-0-title": '½ "hook" & co'}
    kept = office.post("/price/keep", odd).json
    page = office.get(f"/price/draft/{kept['word']}").text
    assert "leg &lt;b&gt;; bend" in page and "½ &#34;hook&#34; &amp; co" in page
    assert "½ &#34;hook&#34; &amp; co" in office.get("/").text
    again = office.post("/price/keep", {**odd, "word": kept["word"], "version": kept["version"]}).json
    assert again["version"] == kept["version"] + 1
    other = office.post(
        "/price/keep",
        {**odd, "word": kept["word"], "version": kept["version"]},
        headers={"Accept": "application/json"},
    )
    assert other.status_code == 422 and "another window" in other.json["error"]


def test_the_draft_goes_with_the_quote(office, shop):
    kept = office.post("/price/keep", HOOK).json
    office.post("/price", {**HOOK, "word": kept["word"], "version": kept["version"], "do": "quote"})
    assert office.get(f"/price/draft/{kept['word']}").status_code == 404
    with shop.reading() as session:
        assert [line.title for line in list_jobs(session)] == ["Hook"]


def test_rows_are_added_without_scripts(office):
    page = office.post("/price", {**HOOK, "do": "add-part"}).text
    assert 'name="part-1-mark" value="B"' in page
    page = office.post("/price", {**HOOK, "do": "add-holes-0"}).text
    assert 'name="holes-0-of" value="0"' in page and 'name="holes-0-dia"' in page
    page = office.post("/price", {**HOOK, "do": "add-weld"}).text
    assert 'name="weld-0-leg"' in page


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_job_file_is_dropped_and_had_back(office, path):
    spec = read_job_file(path)
    done = office.post("/price/file", {"file": (BytesIO(path.read_bytes()), path.name)})
    assert done.status_code == 303, done.text
    assert office.get(done.location).status_code == 200
    back = office.post("/price", {**dict(fields_of(spec)), "do": "file"})
    assert back.headers["Content-Disposition"].startswith("attachment")
    assert read_job_text(back.text, "back.toml") == spec


def test_a_workbook_is_had_and_dropped(office, tmp_path):
    book = office.post("/price", {**HOOK, "do": "book"})
    assert book.data[:2] == b"PK"
    done = office.post("/price/file", {"file": (BytesIO(book.data), "hook.xlsx")})
    assert "leg 250; bend 90 r 36; leg 300" in office.get(done.location).text


def test_a_file_that_is_none_is_told_plainly(office):
    for name, content in (
        ("job.exe", b"MZ"),
        ("job.toml", b"\xff\xfe"),
        ("job.xlsx", b"no"),
        ("line.dxf", b"no"),
    ):
        answer = office.post("/price/file", {"file": (BytesIO(content), name)})
        assert answer.status_code == 422 and "/tmp" not in answer.text, (name, answer.text)


def test_a_job_is_copied_and_its_next_revision_made(office, shop):
    office.post("/price", {**HOOK, "do": "quote"})
    copied = office.post("/price/from/J-0001", {})
    assert "leg 250" in office.get(copied.location).text
    revised = office.post("/price/from/J-0001", {"do": "revise"})
    assert "Next revision of J-0001" in office.get(revised.location).text
    made = office.post("/price", {**HOOK, "job-0-sets": "20", "revises": "J-0001", "do": "quote"})
    assert made.location == "/quote/J-0001"
    with shop.reading() as session:
        assert load_job(session, "J-0001").spec.sets == 20
        assert stored_quote(session, "J-0001").revision == 2


def test_an_odd_form_is_no_fault_of_the_program(office):
    for data in (
        {}, {"part-x-mark": "A"}, {"part--1-mark": "A"}, {"part-99999999999-mark": "A"}, {"holes-0-of": "77"},
        {"part-0-ends-7": "x"}, {"do": "add-nothing"}, {"do": "add-"}, {"job-0-sets": "9" * 400},
        {"part-0-shape": "leg " * 5000, "part-0-bar": "round 10"}, {"finish-0-kind": "gold"},
    ):  # fmt: skip
        assert office.post("/price", data).status_code == 200, data
        assert office.post("/price/live", data).status_code == 200, data


def test_what_was_typed_never_becomes_a_tag(office):
    told = office.post(
        "/price/live", {**HOOK, "part-0-mark": "<b>", "job-0-title": "<script>", "part-0-bar": "<i>"}
    )
    assert "<script>" not in json.dumps(told.json["ticket"]) and "<b>" not in json.dumps(told.json["see"])


def test_a_row_that_only_has_what_a_new_row_has_is_none(office):
    blank = {"part-1-mark": "B", "part-1-per_set": "1", "part-1-grade": "S275", "part-1-dims": "outside"}
    told = office.post("/price/live", {**HOOK, **blank, "weld-0-count": "1", "weld-0-kind": "fillet"}).json
    assert told["faults"] == {} and "EUR" in told["ticket"]


def test_money_is_exact(office):
    ticket = office.post("/price/live", HOOK).json["ticket"]
    total = Decimal(ticket.split('12 sets: <b class="fig">')[1].split(" EUR")[0].replace(",", ""))
    assert total == total.quantize(Decimal("0.01")) and total > 0


def test_a_new_customer_whose_name_is_like_one_on_file_is_asked_about_and_not_refused(office, shop):
    asked = "Did you mean Dovecote Bakery, who is on file?"
    assert asked not in office.post("/price/live", HOOK).json["ticket"]
    assert office.post("/price", {**HOOK, "do": "quote"}).status_code == 303
    for name, is_like in (
        ("Dovecote", True), ("Bakery", True), ("Dovecot Bakery", True), ("The Dovecote Bakery Ltd", True),
        ("dovecote  bakery", False), ("Tarn Mill", False), ("Bake", False), ("Cote", False),
    ):  # fmt: skip
        ticket = office.post("/price/live", {**HOOK, "job-0-customer": name}).json["ticket"]
        assert (asked in ticket) == is_like, name
    made = office.post("/price", {**HOOK, "job-0-customer": "Dovecote", "do": "quote"}).location
    assert asked in office.get(made).text
    assert asked not in office.get("/quote/J-0001").text


def test_a_straight_bar_is_drawn_anew_when_the_shop_measures_from_its_other_end(desk_app):
    part = read_job_file(SAMPLES[0]).parts[0]
    shop = starting_shop()
    start, finish = (analyse_part(part, "mm", replace(shop, datum=datum)) for datum in ("start", "finish"))
    assert start.cut == finish.cut
    with desk_app.app_context():
        first = drawings(part, start, "mm", None)
        assert first[1] == drawings(part, start, "mm", None)[1]
        assert first[1] != drawings(part, finish, "mm", None)[1]


def test_a_weld_that_has_a_place_stands_on_the_drawing_as_it_is_typed(office):
    weld = {
        "weld-0-kind": "fillet",
        "weld-0-leg": "4",
        "weld-0-length": "40",
        "weld-0-count": "1",
        "weld-0-process": "MIG",
    }
    bare = office.post("/price/live", HOOK).json["see"]["0"]
    answer = office.post("/price/live", HOOK | weld | {"weld-0-at": "A start"}).json
    placed = answer["see"]["0"]
    assert not answer["faults"], answer["faults"]
    assert "a4" in placed or "z4" in placed or ">4<" in placed, placed
    assert placed != bare
