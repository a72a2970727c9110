"""A shop in the United States on the page: $, feet, inches and pounds from the first order to the log."""

import re
from decimal import Decimal
from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.units import LEAST_IN_FEET, Length, parse_length, show_bar, show_length
from shopquote.errors import Misread
from shopquote.outputs.quote_words import voice_of
from shopquote.page.show import unbroken
from shopquote.reading.kinds import MASS, MOMENT, Notation
from shopquote.reading.kinds.numbers import kg_of
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.jobs.jobs import find_job, newest_revision
from shopquote.services.quotes.quotes_on_file import stored_quote
from shopquote.services.rack.rack_on_file import list_pieces
from shopquote.services.shop.lists import set_entry
from shopquote.services.shop.new_shop import set_up
from shopquote.services.shop.setup import ShopDetails, in_its_country
from tests.page.conftest import MORNING, Browser

YARD = "Tin Kettle Flats Steel"
GUARD = {
    "job-0-title": "Window guards", "job-0-customer": "Prairie Lane Feed", "job-0-sets": "4",
    "part-0-mark": "A", "part-0-name": "bow", "part-0-per_set": "2", "part-0-bar": "round 1/2",
    "part-0-grade": "A36", "part-0-dims": "outside", "job-0-units": "in",
    "part-0-shape": "leg 8; bend 90 r 1; leg 36; bend 90 r 1; leg 8",
}  # fmt: skip
INCHES = Notation(unit="in")
METRIC = re.compile(r"[\d/] ?(?:mm|kg|m|EUR|GBP)\b|[£€]")


@pytest.fixture
def office(database, make_app):
    details = in_its_country(ShopDetails(name="Cottonwood Bar Works", tax_percent=Decimal(0)), "en_US")
    with database.session() as session:
        set_up(session, ShopDetails(**{**vars_of(details), "tax_percent": Decimal(0)}), on=MORNING.date())
        set_entry(session, "suppliers", [YARD, "delivery_charge=45", "cut_charge=1.80"], on=MORNING.date())
        for bar, price in (("round 1/2", "0.98"), ("flat 1-1/2 x 1/4", "1.02")):
            words = [YARD, bar, "A36", "20 ft", f"price={price}", "basis=lb"]
            set_entry(session, "stock", words, on=MORNING.date())
        bender = [
            "bench",
            "largest_moment_nm=600",
            "opening=1",
            "width=2-1/2",
            "lever=39",
            "formers=3/4; 1; 1-1/2",
        ]
        set_entry(session, "benders", [*bender, "largest_angle=200", "works_by=wipe"], on=MORNING.date())
        step = [YARD, "round 1/2", "A36", "20 ft", "price=0.92", "basis=lb", "from_kg=500 lb"]
        set_entry(session, "stock", step, on=MORNING.date())
    office = Browser(make_app(database)).let_in("office")
    assert office.post("/invented", {}).status_code == 303
    return office


def vars_of(details):
    return {name: getattr(details, name) for name in details.__dataclass_fields__}


def words_of(page):
    """The texts of a page, without its tags and what its fields hold."""
    return unescape(re.sub(r"<[^>]+>", " ", page.text.partition("<main")[2]))


@pytest.fixture
def ordered(office):
    made = office.post("/price", {**GUARD, "do": "quote"})
    assert made.status_code == 303, re.findall(r'class="fault"[^>]*>([^<]+)', made.text)
    office.post("/quote/J-0001/answer", {"answer": "accepted"})
    done = office.post("/bars/order", {"job": "J-0001"})
    assert done.status_code == 303, done.text
    return office


@given(st.integers(1, 600 * 64))
def test_a_bar_in_feet_reads_back_as_the_same_bar(sixty_fourths):
    length = Length.from_inches(Decimal(sixty_fourths) / 64)
    shown = show_bar(length, "in")
    assert parse_length(shown, "in") == parse_length(shown, "mm") == length
    assert (" ft" in shown) is (length >= LEAST_IN_FEET)


@given(st.integers(1, 15_000_000))
def test_a_bar_of_tenths_of_a_micron_reads_back_too(tenths):
    length = Length(tenths * 100_000)
    assert parse_length(show_bar(length, "in"), "in") == length
    assert show_bar(length, "mm") == show_length(length, "mm", exact=True)


@given(st.integers(0, 10**8), st.sampled_from(["mm", "in"]))
def test_a_mass_that_prices_begin_at_reads_back_as_it_is_shown(grams, unit):
    kg, notation = Decimal(grams) / 1000, Notation(unit=unit)
    assert MASS.read(str(MASS.show(kg, notation)), notation) == kg


def test_a_price_step_in_pounds_is_typed_and_shown_in_pounds(office):
    assert MASS.show(kg_of(Decimal(500), "lb"), Notation(unit="in")) == "500 lb"
    listed = words_of(office.get("/shop/stock"))
    assert "500 lb" in listed and "from mass" in listed and "from kg" not in listed
    typed = {"c-supplier": YARD, "c-bar": "round 1/2", "c-grade": "A36", "c-length": "20 ft"}
    typed |= {"c-price": "0.90", "c-basis": "lb", "c-from_kg": "1000", "do": "set"}
    refused = office.post("/shop/stock", typed)
    assert refused.status_code == 422 and "1000 lb" in refused.text and "1000 kg" in refused.text
    assert office.post("/shop/stock", typed | {"c-from_kg": "1000 lb"}).status_code == 303


def test_an_inch_shop_reads_no_metric_figure_from_order_to_rack_and_log(ordered, database):
    assert "20 ft" in words_of(ordered.get("/order/O-0001"))
    short = {"count-1": "2", "length-1": "20 ft, 19 ft 11-1/2 in", "heat-1": "H72", "delivery": "51.50"}
    done = ordered.post("/order/O-0001/receive", short)
    assert done.status_code == 303, done.text
    ordered.post("/rack", {"bar": "round 1/2", "grade": "A36", "length": "243", "count": "1"})
    too_long = ordered.post("/rack/R-0001", {"do": "scrap", "reason": "bent"})
    assert too_long.status_code in (303, 422)
    for address in (
        "/bars", "/bars?job=J-0001", "/order/O-0001", "/rack", "/rack/R-0001", "/rack/R-0003",
        "/quote/J-0001", "/logged/J-0001", "/f/bar/R-0003", "/f/job/J-0001", "/?find=R-0003",
        "/shop/stock", "/shop/saws",
    ):  # fmt: skip
        told = words_of(ordered.get(address))
        assert not METRIC.findall(told), (address, METRIC.findall(told))
    rack = words_of(ordered.get("/rack"))
    assert "20 ft" in rack and "19 ft 11-1/2 in" in rack and "20 ft 3 in" in rack and "240 in" not in rack
    # 51.50 charged in place of the 45.00 agreed; 26.73 lb of bar at 0.98.
    with database.reading() as session:
        whole = sum(piece.cost for piece in list_pieces(session) if piece.received_bar_id)
    assert whole == Decimal("26.19") + Decimal("51.50")


def test_lengths_named_are_as_many_as_bars_received(ordered):
    wrong = ordered.post("/order/O-0001/receive", {"count-1": "2", "length-1": "20 ft, 19 ft, 19 ft"})
    assert wrong.status_code == 422 and "2 received, but 3 lengths are named" in wrong.text
    for typed, told in (
        ("20 ft 5 lb", "Line 1: '20 ft 5 lb' cannot be used"),
        ("240,5", "Line 1: '240,5' may mean 240; 5"),
    ):
        wrong = ordered.post("/order/O-0001/receive", {"count-1": "2", "length-1": typed})
        assert wrong.status_code == 422 and told in unescape(wrong.text)


def test_bars_that_no_order_brought_are_logged_on_the_page_with_their_delivery(ordered):
    form = ordered.get("/logged/J-0001").text
    assert "Bars bought without an order" in form and 'placeholder="flat 1-1/2 x 1/4"' in form
    typed = {"bar": "flat 1-1/2 x 1/4", "grade": "A36", "length": "20 ft", "count": "1", "cost": "26.10"}
    done = ordered.post("/logged/J-0001", typed | {"delivery": "12", "returned": "77-1/2; 20"})
    assert done.status_code == 303, done.text
    page = words_of(ordered.get("/logged/J-0001"))
    # 26.10 and 12 to bring it, less 97-1/2 in of 240 that came back.
    assert "1 x flat 1-1/2 x 1/4 A36, 20 ft" in page and "22.62" in page
    assert "77-1/2 in" in words_of(ordered.get("/rack"))
    bad = ordered.post("/logged/J-0001", typed | {"returned": "30 ft"})
    assert bad.status_code == 422 and "30 ft came back" in bad.text


def test_bars_that_the_supplier_saws_are_told_in_inches(office):
    long = {**GUARD, "part-0-shape": "leg 8; bend 90 r 1; leg 100; bend 90 r 1; leg 8", "job-0-sets": "1"}
    assert office.post("/price", {**long, "do": "quote"}).status_code == 303
    office.post("/quote/J-0001/answer", {"answer": "accepted"})
    told = words_of(office.get("/bars?job=J-0001"))
    assert not METRIC.findall(told), METRIC.findall(told)


def test_a_moment_may_be_typed_in_pound_feet(office):
    # 200 lb-ft x 1.35582 = 271.16 N m
    page = office.get("/shop/benders").text
    assert "strongest A36" in page and "lb-ft)" in page
    assert MOMENT.read("200 lb-ft", INCHES) == MOMENT.read("200 ft lbs", INCHES) == Decimal("271.16")
    assert MOMENT.read("271.16 N m", INCHES) == MOMENT.read("271.16", INCHES) == Decimal("271.16")
    assert MOMENT.read("271.16 N·m", INCHES) == MOMENT.read("200 lbf·ft", INCHES) == Decimal("271.16")
    for typed in ("0.001 lb-ft", "0 N m", "2400 lb-in"):
        with pytest.raises(Misread, match="such as 190 lb-ft"):
            MOMENT.read(typed, INCHES)


def test_no_measure_is_broken_over_two_lines(ordered):
    assert unbroken("mark 6-3/4 in") == 'mark <span class="one">6-3/4 in</span>'
    sheet = ordered.get("/f/job/J-0001/A").text
    assert re.search(r'· mark <span class="one">\d+-\d+/\d+ in</span>', sheet)


def test_days_are_told_in_the_order_of_the_shops_country(ordered):
    assert "March 2, 2026" in ordered.get("/").text


def test_papers_of_the_united_states_say_what_is_said_there():
    american, british = voice_of("en_US", "USD"), voice_of("en_GB", "GBP")
    other = {key for key, word in american.words.items() if word != british.words[key]}
    assert {"tax_number", "enquiry", "ask_closing", "Mass {mass}"} <= other
    assert american.words.keys() == british.words.keys()
    assert not re.search(r"VAT|[Ee]nquir|metre|centre|colour", " ".join(american.words.values()))


def test_the_grades_of_inch_bars_are_offered_first(database, make_app):
    details = in_its_country(ShopDetails(name="Cottonwood Bar Works"), "en_US")
    with database.session() as session:  # with the invented list, which has more bars in millimetres
        set_up(session, ShopDetails(**{**vars_of(details), "tax_percent": Decimal(0)}), on=MORNING.date())
    office = Browser(make_app(database)).let_in("office")
    assert "are invented until yours are on file" in office.get("/shop/first").text
    form = office.get("/price/new").text
    assert re.search(r'<select id="part-0-grade"[^>]*><option[^>]*>A36<', form)


def test_a_quote_for_more_sets_is_bought_and_made_for_as_many(office, database):
    assert office.post("/price", {**GUARD, "do": "quote"}).status_code == 303
    made = office.post("/quote/J-0001/revision", {"sets": "9", "seen": "1"})
    assert made.status_code == 303, made.text
    office.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "2"})
    with database.reading() as session:
        assert newest_revision(session, find_job(session, "J-0001")).sets == 9
        assert stored_quote(session, "J-0001").job_revision == 2
    # 18 bows of 50-1/8 in, 4 to a bar: four bars and one for the last two.
    assert re.search(r"<td[^>]*>20 ft</td><td[^>]*>5</td>", office.get("/bars?job=J-0001").text)
    # A won job is not changed by what is only asked about; whoever accepts is told.
    office.post("/quote/J-0001/revision", {"sets": "12", "seen": "2"})
    told = office.post("/quote/J-0001/answer", {"answer": "accepted", "seen": "3"})
    assert told.status_code == 303, told.text
    assert "is for 12 sets and J-0001 for 9" in words_of(office.get("/quote/J-0001"))


@pytest.mark.parametrize("left", ["38-3/4", "39-1/8", "38-5/8", ""])
def test_a_sheet_printed_again_shows_what_is_still_to_be_sawn(ordered, database, left):
    """Four bows are sawn from each of two bars; an offcut is measured with or without what the vise held."""
    assert ordered.post("/order/O-0001/receive", {"count-1": "2"}).status_code == 303
    assert _to_saw(database) == [("R-0001", 4), ("R-0002", 4)]
    done = ordered.post("/logged/J-0001", {"piece": "R-0001"} | ({"returned": left} if left else {}))
    assert done.status_code == 303, done.text
    assert _to_saw(database) == [("R-0002", 4)]
    assert ordered.post("/logged/J-0001", {"piece": "R-0002"}).status_code == 303
    assert _to_saw(database) == []


def _to_saw(database):
    with database.reading() as session:
        saw = floor_sheet(session, "J-0001", at=MORNING).saw
    return sorted((bar.piece or bar.source, sum(cut.count for cut in bar.cuts)) for bar in saw)
