"""A quote on the page: what if, target, the answer, the next revision, compare, papers."""

import re
from html import unescape

import pytest

from shopquote.records.people import Customer
from shopquote.services.jobs.jobs import load_job
from shopquote.services.quotes.joint import stored_joint
from shopquote.services.quotes.quotes_on_file import list_quotes, stored_quote
from tests.page.conftest import MORNING
from tests.page.test_price import HOOK


@pytest.fixture
def quoted(office):
    assert office.post("/price", {**HOOK, "do": "quote"}).status_code == 303
    return office


def net(shop, revision=None):
    with shop.reading() as session:
        return stored_quote(session, "J-0001", revision).priced.net


def test_the_stored_figures_stand_on_the_page(quoted, shop):
    page = quoted.get("/quote/J-0001").text
    assert f"{net(shop):,f}" in page and "labour" in page and "left for the shop" in page
    assert "Hook" in page and "leg 250" in page


def test_what_if_and_target_are_answered_and_stored_nowhere(quoted, shop):
    before = net(shop)
    page = quoted.get("/quote/J-0001?sets=20&margin=35&what_if=rate.welding=60").text
    assert "nothing is stored" in page and "What differs" in page
    assert "margin" in quoted.get("/quote/J-0001?target=500").text
    assert net(shop) == before
    wrong = quoted.get("/quote/J-0001?what_if=nonsense")
    assert wrong.status_code == 422 and "word=value" in wrong.text
    assert quoted.get("/quote/J-0001?what_if=rate.weldin=60").status_code == 404


def test_a_what_if_says_what_is_stored_beside_it_and_why_the_margin_is_another(quoted, shop):
    stored = f"{net(shop) / 12:,.2f}"
    page = quoted.get("/quote/J-0001?sets=30&margin=40").text
    curve = page.partition("price a set by quantity: ")[2].partition('"')[0]
    # The quoted quantity stands on the curve, what is asked at another margin does not.
    assert "30 sets" not in curve and f"12 sets {stored}" in curve
    assert "Price a set by quantity, as stored" in page and "As stored, without the what-if" in page
    assert "30 sets" in quoted.get("/quote/J-0001?sets=30").text.partition("price a set by quantity: ")[2]
    assert "as stored" not in quoted.get("/quote/J-0001").text


def test_the_next_revision_is_made_and_compared(quoted, shop):
    done = quoted.post("/quote/J-0001/revision", {"margin_pct": "40", "sets": "12", "seen": "1"})
    assert done.status_code == 303
    assert net(shop, 2) > net(shop, 1)
    page = quoted.get("/quote/J-0001/compare/1/2").text
    assert f"{net(shop, 1):f}" in page and f"{net(shop, 2):f}" in page


def test_an_answer_to_an_older_revision_than_the_newest_is_refused(quoted, shop):
    quoted.post("/quote/J-0001/revision", {"margin_pct": "40", "seen": "1"})
    late = quoted.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "1"})
    assert late.status_code == 422 and "made meanwhile" in late.text
    assert quoted.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "2"}).status_code == 303
    with shop.reading() as session:
        assert [row.state for row in list_quotes(session, MORNING.date())] == ["replaced", "accepted"]
    assert "is <b>won</b>" in quoted.get("/quote/J-0001").text


def test_declined_needs_its_reason(quoted):
    assert quoted.post("/quote/J-0001/answer", {"answer": "declined"}).status_code == 422
    assert (
        quoted.post("/quote/J-0001/answer", {"answer": "declined", "reason": "too dear"}).status_code == 303
    )
    assert "is <b>lost</b>" in quoted.get("/quote/J-0001").text


def test_a_declined_quote_tells_which_orders_still_bring_its_bars(quoted):
    assert quoted.post("/bars/order", {"job": "J-0001"}).status_code == 303
    quoted.post("/quote/J-0001/answer", {"answer": "declined", "reason": "too dear"})
    told = quoted.get("/quote/J-0001").text
    assert "still bring" in told and "O-0001" in told


def test_a_dropped_job_asks_first_and_its_quote_is_answered_no_more(quoted, shop):
    page = quoted.get("/quote/J-0001").text
    assert "<summary>Drop it" in page and "not answered yet" in page and ">Won<" not in page
    done = quoted.post("/quote/J-0001/state", {"state": "dropped", "reason": "builds another"})
    assert done.status_code == 303
    page = quoted.get("/quote/J-0001").text
    for word in ('value="accepted"', 'value="declined"', "Drop it", "Make this revision", "Next revision"):
        assert word not in page, word
    late = quoted.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "1"})
    assert late.status_code == 422 and "of job J-0001, which is dropped," in late.text
    with shop.reading() as session:
        (row,) = list_quotes(session, MORNING.date())
        assert (row.state, row.answers) == ("sent", ())
        assert load_job(session, "J-0001").job.state_changes[-1].reason == "builds another"


def test_a_closed_job_tells_what_it_earned_and_offers_nothing_that_is_refused(quoted):
    quoted.post("/quote/J-0001/answer", {"answer": "accepted"})
    assert "Bars: what it still needs" in quoted.get("/quote/J-0001").text
    for state in ("started", "finished"):
        quoted.post("/quote/J-0001/state", {"state": state})
    assert "Drop it" in quoted.get("/quote/J-0001").text
    quoted.post("/logged/J-0001", {"invoice": "V-1", "amount": "10"})
    page = quoted.get("/quote/J-0001").text
    assert "Drop it" not in page and "Close it" in page and ">Finished<" not in page
    missing = re.findall(r'name="missing" value="([^"]*)"', quoted.get("/quote/J-0001/close").text)
    assert quoted.post("/quote/J-0001/close", {"missing": list(map(unescape, missing))}).status_code == 303
    page = quoted.get("/quote/J-0001").text
    assert 'id="earned"' in page and "it earned" in page and "Open it again" in page
    for word in (">Finished<", "Drop it", "Make this revision", 'id="what-if"'):
        assert word not in page, word
    page = quoted.get("/logged/J-0001").text
    assert 'name="minutes"' not in page and 'name="paid"' in page and "open it again" in page


@pytest.mark.parametrize(
    ("kind", "begins"),
    [
        ("pdf", b"%PDF"),
        ("book", b"PK"),
        ("estimate", b"PK"),
        ("traveller", b"%PDF"),
        ("file", b"format"),
        ("letter", b"Subject: Quote Q-0001"),
    ],
)
def test_papers_are_saved_never_shown(quoted, kind, begins):
    answer = quoted.get(f"/quote/J-0001/paper/{kind}")
    assert answer.status_code == 200 and answer.data.startswith(begins)
    assert answer.headers["Content-Disposition"].startswith("attachment")


def test_what_is_not_on_file_is_told(quoted):
    for path in ("/quote/J-0099", "/quote/J-0001/compare/1/9", "/quote/J-0001/paper/gold", "/quote/'--"):
        assert quoted.get(path).status_code == 404, path


def test_the_start_shows_the_job_and_the_box_finds_it(quoted, shop):
    assert "Waiting for an answer" in quoted.get("/").text
    assert "J-0001" in quoted.get("/jobs").text and "J-0001" in quoted.get("/jobs?state=quoted").text
    for words in ("hook", "dovecote hook", "Q-0001", "BAKERY"):
        assert "/quote/J-0001" in quoted.get(f"/?find={words}").text, words
    quoted.post("/quote/J-0001/answer", {"answer": "accepted"})
    assert quoted.post("/logged/J-0001", {"invoice": "V-77", "amount": "10"}).status_code == 303
    assert "/quote/J-0001" in quoted.get("/?find=V-77").text
    for code in ("J-0001", "j1", "Q-0001", "q1"):
        assert quoted.get(f"/?find={code}").location == "/quote/J-0001", code
    with shop.session() as session:
        session.add(Customer(name="R20 Gates"))
    # A word that looks like a number of the rack is sought as it was typed too.
    assert "/shop/customers?find=R20" in quoted.get("/?find=r20 gate").text
    assert quoted.get("/?find=J-0001/A").location == "/f/job/J-0001/A"
    assert "Nothing was found" in quoted.get("/?find=%25").text


def test_no_chance_is_told_that_rests_on_starting_figures_and_no_empty_picture_stands(office):
    office.post("/price", {**HOOK, "job-0-breaks": "", "do": "quote"})
    page = office.get("/quote/J-0001").text
    assert "to lose money: not known" in page and "to lose money 0 %" not in page
    assert "Price a set by quantity" not in page


def test_two_jobs_of_a_customer_stand_on_one_quote_and_are_answered_apart(quoted, shop):
    assert "/joint/new?customer=" not in quoted.get("/quote/J-0001").text
    alone = quoted.get("/joint/new", query_string={"customer": HOOK["job-0-customer"]}).text
    assert "Back to J-0001" in alone
    quoted.post("/price", {**HOOK, "job-0-title": "Rail", "do": "quote"})
    page = quoted.get("/quote/J-0001").text
    assert "/joint/new?customer=" in page
    chosen = quoted.get("/joint/new", query_string={"customer": HOOK["job-0-customer"]}).text
    assert "J-0001" in chosen and "J-0002" in chosen and "checked" in chosen
    assert quoted.post("/joint", {"job": ["J-0001"]}).status_code == 422
    made = quoted.post("/joint", {"job": ["J-0001", "J-0002"], "margin_pct": "35"})
    number = made.headers["Location"].rsplit("/", 1)[1]
    with shop.reading() as session:
        joint = stored_joint(session, number)
    page = quoted.get(f"/joint/{number}").text
    assert f"{joint.document.priced.net:,f}" in page and "All accepted" in page
    assert f"/joint/{number}" in quoted.get("/quote/J-0002").text
    assert f"/joint/{number}" in quoted.get(f"/?find={number}").headers["Location"]
    for kind, begins in (("pdf", b"%PDF"), ("letter", b"Subject"), ("book", b"PK")):
        assert quoted.get(f"/joint/{number}/paper/{kind}").data.startswith(begins)
    assert quoted.get(f"/joint/{number}/paper/estimate").status_code == 404
    again = {"job": ["J-0001", "J-0002"], "margin_pct": "36", "of": number}
    late = quoted.post("/joint", {**again, "seen": "7"})
    assert late.status_code == 422 and "this page shows revision 7" in late.text
    alone = {"answer": "accepted", "job": "J-0002"}
    assert quoted.post(f"/joint/{number}/answer", {**alone, "seen": "7"}).status_code == 422
    assert quoted.post(f"/joint/{number}/answer", {**alone, "seen": "1"}).status_code == 303
    no = {"answer": "declined", "reason": "not needed", "seen": "1"}
    assert "not ordered" in quoted.get(f"/joint/{number}").text
    assert quoted.post(f"/joint/{number}/answer", no).status_code == 303
    with shop.reading() as session:
        states = {row.job: row.state for row in list_quotes(session, MORNING.date()) if row.joint}
    assert states == {"J-0001": "declined", "J-0002": "accepted"}
    page = quoted.get(f"/joint/{number}").text
    assert "All accepted" not in page and "J-0001" in page


def test_the_weeks_ahead_hold_the_won_job_and_name_the_first_free_day(quoted):
    free = quoted.get("/load?hours=200").text
    quoted.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "1"})
    page = quoted.get("/load?hours=200").text
    assert (
        "/quote/J-0001" in page and "/quote/J-0001" not in free and "h booked" in page and "200 hours" in page
    )
    assert quoted.get("/load?job=J-0001").status_code == 200
    assert quoted.get("/load?hours=many").status_code == 422
    assert quoted.get("/load?job=J-0404").status_code == 404


def test_invoices_and_payments_are_entered_and_taken_back_on_the_page(quoted, shop):
    quoted.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "1"})
    bill = {"invoice": "2026-8", "amount": "50.00", "due": "2026-03-20"}
    made = quoted.post("/logged/J-0001", bill)
    assert made.status_code == 303, made.text
    page = quoted.get("/logged/J-0001").text
    assert "2026-8" in page and 'id="invoiced">' in page
    assert quoted.post("/logged/J-0001", {"paid": "2026-8", "amount": "20"}).status_code == 303
    page = quoted.get("/logged/J-0001").text
    assert '<b class="fig" id="paid">20.00</b>' in page
    assert "Nothing was typed" in quoted.post("/logged/J-0001", {}).text
    wrong = quoted.post("/logged/J-0001", {"invoice": "2026-9"})
    assert wrong.status_code == 422 and "needs “Amount before tax”" in unescape(wrong.text)
    # A message names fields, never the options of the command that asks for the same.
    wrong = quoted.post("/logged/J-0001", {"outside": "zinc", "cost": "1,2,3"}).text
    assert "“Cost before tax”: " in unescape(wrong) and "--cost" not in wrong
    early = quoted.post("/logged/J-0001", {"paid": "2026-8", "on": "2020-01-01"})
    told = unescape(re.sub("<[^>]+>", "", early.text))
    assert (
        "it came: “Day”. If the" in told
        and "log it again: what is logged on J-0001The browser's back button" in told
    )
    # What is taken back is named by all that tells it from others, never by its number alone.
    by_number = quoted.post("/logged/J-0001", {"strike": "2", "reason": "typed twice"})
    assert by_number.status_code == 422
    entry = page.split('<option value="')[-1].split('"')[0]
    assert quoted.post("/logged/J-0001/back", {"entry": entry}).status_code == 422
    taken = {"entry": entry, "reason": "typed twice"}
    assert quoted.post("/logged/J-0001/back", taken).status_code == 303
    late = quoted.post("/logged/J-0001/back", taken)
    assert late.status_code == 422 and "not there any more" in late.text
    assert '<b class="fig" id="paid">0.00</b>' in quoted.get("/logged/J-0001").text
    assert quoted.get("/logged/J-0404").status_code == 404
    credit = {"credit": "C-1", "amount": "5", "invoice": "2026-8", "reason": "a scratch"}
    assert quoted.post("/logged/J-0001", credit | {"invoice": "2026-99"}).status_code in (404, 422)
    assert quoted.post("/logged/J-0001", credit).status_code == 303
    assert "credit" in quoted.get("/logged/J-0001").text.partition("What is logged")[2]
