"""Bars, review and the shop's own on the page."""

import io
import re
from datetime import UTC, date, datetime
from decimal import Decimal
from html import unescape
from types import SimpleNamespace

import pytest
from flask import g
from markupsafe import Markup
from sqlalchemy import select, text

from shopquote.outputs.looks import MONEY, Setting
from shopquote.outputs.table import Column, Table
from shopquote.page.hints import DOORS, doors
from shopquote.page.pictures import bars_chart
from shopquote.page.show import table_html
from shopquote.records.closings import Closing
from shopquote.records.materials import StockItem
from shopquote.services.buying.orders_on_file import find_order, list_orders
from shopquote.services.floor.bar_log import log_bars
from shopquote.services.floor.log import log_scrap
from shopquote.services.rack.rack_on_file import list_pieces
from shopquote.services.shop.lists import read_list, set_entry
from shopquote.services.shop.new_shop import details_on_file, set_up
from shopquote.services.shop.setup import ShopDetails, detail_text
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import is_set_up, standards_book, the_shop
from tests.page.conftest import Browser
from tests.page.test_price import HOOK


@pytest.fixture
def won(office):
    office.post("/price", {**HOOK, "do": "quote"})
    office.post("/quote/J-0001/answer", {"answer": "accepted"})
    return office


def test_a_job_whose_bars_were_never_on_the_rack_is_not_told_to_have_none(won, shop):
    assert "no bars yet" in won.get("/").text
    day, at = date(2026, 3, 2), datetime(2026, 3, 2, 9, tzinfo=UTC)
    with shop.session() as session:
        log_bars(
            session, "J-0001", "flat 40 x 6", "S275", "600", 1, on=day, today=day, at=at, cost=Decimal(9)
        )
    assert "no bars yet" not in won.get("/").text


def test_needs_are_ordered_and_received_on_the_rack(won, shop):
    page = won.get("/bars?job=J-0001").text
    assert "<td>flat 40 x 6</td>" in page and "Order it" in page
    assert "no bars yet" in won.get("/").text
    assert "flat 40 x 6 mm S275, as it will be sawn" in page
    assert re.search(r"\d x \S+ of J-0001 at \d+ mm", page)
    done = won.post("/bars/order", {"job": "J-0001"})
    assert done.status_code == 303, done.text
    with shop.reading() as session:
        (order,) = list_orders(session)
        lines = [line.position for line in order.lines]
    assert "no bars yet" not in won.get("/").text
    page = won.get(f"/order/{order.number}").text
    assert "Goods in" in page and "Certificate" in page
    assert won.get(f"/order/{order.number}/paper").data.startswith(b"%PDF")
    form = {f"count-{line}": "1" for line in lines} | {f"heat-{lines[0]}": "INV-70413", "place": "bay 1"}
    form |= {f"certificate-{lines[0]}": (io.BytesIO(b"%PDF-1.4 invented"), "mill.pdf")}
    done = won.post(f"/order/{order.number}/receive", form)
    assert done.status_code == 303, done.text
    with shop.reading() as session:
        pieces = list_pieces(session)
    assert pieces[0].heat == "INV-70413" and pieces[0].place == "bay 1"
    came = won.get(f"/order/{order.number}").text
    assert "heat INV-70413" in came and f'<a href="/rack/{pieces[0].code}">' in came
    rack = won.get("/rack").text
    assert pieces[0].code in rack and "To scale" in rack and "100% of the longest piece" in rack
    assert "INV-70413" in won.get(f"/rack/{pieces[0].code}").text
    assert won.get("/?find=INV-70413").text.count(f"/rack/{pieces[0].code}") == 1
    wrong = won.post(f"/order/{order.number}/receive", {f"count-{lines[0]}": "many"})
    assert wrong.status_code == 422


def test_an_order_says_that_nothing_was_sent(won):
    order = won.post("/bars/order", {"job": "J-0001"}).location
    assert "Nothing was sent from here: send the PDF or the draft e-mail" in won.get(order).text
    won.post(order, {"seen": "1", "do": "cancel", "reason": "the customer waits"})
    assert "Nothing was sent" not in won.get(order).text


def test_a_length_typed_in_another_unit_is_asked_about_and_a_receipt_taken_back(won, shop):
    won.post("/bars/order", {"job": "J-0001"})
    typed = {"count-1": "1", "length-1": "5.99", "reference": "DN-7"}
    asked = won.post("/order/O-0001/receive", typed)
    assert asked.status_code == 422
    told = unescape(re.sub("<[^>]+>", "", asked.text))
    assert (
        "'5.99' is read as 5.99 mm, and 6000 mm was ordered" in told and 'tick "yes, I checked this"' in told
    )
    assert "--sure" not in told
    assert won.post("/order/O-0001/receive", typed | {"sure": "yes"}).status_code == 303
    page = won.get("/order/O-0001").text
    assert "delivery note DN-7" in page and "5.99" in page
    with shop.reading() as session:
        code = list_pieces(session)[0].code
    piece = won.get(f"/rack/{code}").text
    assert "Release it" in piece and 'value="scrap"' not in piece and '<a href="/quote/J-0001">' in piece
    assert won.post(f"/rack/{code}", {"do": "release"}).status_code == 303
    piece = won.get(f"/rack/{code}").text
    assert "Release it" not in piece and 'value="scrap"' in piece
    delivery = re.search(r'name="delivery" value="(\d+)"', page)[1]
    assert won.post("/order/O-0001/back", {"delivery": delivery}).status_code == 422
    back = {"delivery": delivery, "reason": "metres"}
    assert won.post("/order/O-0001/back", back).status_code == 303
    page = won.get("/order/O-0001").text
    assert "Goods in" in page and "<h2>Received" not in page and "; metres" in page
    assert won.post("/order/O-0001/back", back).status_code == 422
    with shop.reading() as session:
        assert not list_pieces(session)


def test_bars_that_were_cancelled_are_not_offered_as_received(won, shop):
    """Two bars too many were offered once the rest was cancelled and then the delivery taken back."""
    won.post("/bars/order", {"job": "J-0001"})
    won.post("/order/O-0001", {"seen": "1", "do": "change", "count-1": "3", "reason": "spares"})
    assert won.post("/order/O-0001/receive", {"count-1": "1"}).status_code == 303
    gone = won.post("/order/O-0001", {"seen": "2", "do": "cancel", "reason": "enough"})
    assert gone.status_code == 303, gone.text
    delivery = re.search(r'name="delivery" value="(\d+)"', won.get("/order/O-0001").text)[1]
    back = {"delivery": delivery, "reason": "wrong grade"}
    assert won.post("/order/O-0001/back", back).status_code == 303
    with shop.reading() as session:
        line = find_order(session, "O-0001").lines[0]
        assert (line.count, line.open) == (3, 1)
    assert "Received, of 1<" in won.get("/order/O-0001").text


def test_an_order_tells_its_total_and_is_changed_and_cancelled_on_its_page(won, shop):
    won.post("/bars/order", {"job": "J-0001"})

    def order():
        with shop.reading() as session:
            found = find_order(session, "O-0001")
            return found.revision, found.state, found.lines[0].count, found.total

    page = won.get("/order/O-0001").text
    before = order()
    assert f'id="total">{before[3]:,.2f}<' in page and '<a href="/quote/J-0001">' in page
    letter = won.get("/order/O-0001/paper?as=letter")
    assert letter.data.startswith(b"Subject: ") and b"application/pdf" in letter.data
    more = {"seen": "1", "do": "change", "count-1": str(before[2] + 1), "reason": "one spare"}
    assert won.post("/order/O-0001", more).status_code == 303
    assert order()[:3] == (2, "placed", before[2] + 1) and order()[3] > before[3]
    late = won.post("/order/O-0001", more)
    assert late.status_code == 422 and "changed meanwhile" in late.text
    nothing = won.post("/order/O-0001", {"seen": "2", "do": "change", "count-1": str(before[2] + 1)})
    assert nothing.status_code == 422 and "Nothing is changed" in nothing.text
    assert won.post("/order/O-0001", {"seen": "2", "do": "cancel", "reason": "lost"}).status_code == 303
    page = won.get("/order/O-0001").text
    assert order()[1] == "cancelled" and "Cancelled: lost" in page and "Change it" not in page
    assert "<summary>Cancel" not in page and "Goods in" not in page
    asked = won.post("/bars/order", {"job": "J-0001", "ask": "yes"}).location
    page = won.get(asked).text
    assert "The supplier&#39;s answer" in page or "The supplier's answer" in page
    prices = {f"price-{line}": "31.50" for line in re.findall(r'name="price-(\d+)"', page)}
    assert won.post(asked, {"seen": "1", "do": "place"} | prices).status_code == 303
    assert "31.50" in won.get(asked).text and "Goods in" in won.get(asked).text
    assert won.post("/quote/J-0001/deliver", {"sets": "1"}).status_code == 303
    assert "Delivery note J-0001-1, 2 March 2026" in won.get("/quote/J-0001").text
    assert won.get("/quote/J-0001/paper/delivery?note=1").data.startswith(b"%PDF")
    assert won.get("/quote/J-0001/paper/delivery?note=2").status_code == 404
    assert "Record the delivery" in won.get("/quote/J-0001").text
    assert won.post("/quote/J-0001/deliver", {"sets": "", "went": "0"}).status_code == 422
    assert won.post("/quote/J-0001/deliver", {"sets": "", "went": "1"}).status_code == 303
    page = won.get("/quote/J-0001").text
    assert "All is delivered" in page and "Record the delivery" not in page


def test_a_certificate_of_another_kind_is_refused(won, shop):
    won.post("/bars/order", {"job": "J-0001"})
    with shop.reading() as session:
        (order,) = list_orders(session)
    page = {"count-1": "1", "certificate-1": (io.BytesIO(b"<script>"), "mill.html")}
    assert won.post(f"/order/{order.number}/receive", page).status_code == 422


def test_the_rack_is_added_to_moved_and_scrapped(office, shop):
    form = {"bar": "flat 40 x 6", "grade": "s275", "length": "6000", "count": "2", "place": "bay 2"}
    assert office.post("/rack", form).status_code == 303
    assert office.post("/rack/R-0001", {"do": "move", "place": "bay 3"}).status_code == 303
    assert office.post("/rack/R-0002", {"do": "scrap", "reason": "bent"}).status_code == 303
    with shop.reading() as session:
        assert [(piece.code, piece.place) for piece in list_pieces(session)] == [("R-0001", "bay 3")]
    assert office.post("/rack", {**form, "bar": "flt"}).status_code == 422
    assert office.post("/rack/labels", {}).data[:2] == b"PK"


def test_every_list_is_shown_exported_and_imported_again(office, shop):
    page = office.get("/shop").text
    for name in ("stock", "suppliers", "customers", "rates", "benders", "grades", "saws", "taxes", "house"):
        assert f"/shop/{name}" in page
        assert office.get(f"/shop/{name}").status_code == 200, name
        exported = office.get(f"/shop/{name}/export")
        assert exported.headers["Content-Disposition"].startswith("attachment")
        again = {"file": (io.BytesIO(exported.data), f"{name}.csv"), "preview": "yes", "do": "import"}
        done = office.post(f"/shop/{name}", again, follow_redirects=False)
        assert done.status_code == 303, done.text
        assert "0 added, 0 changed" in office.get(f"/shop/{name}").text, name


def cells(page, what):
    """The form of a list's page as it stands: by name what it would send."""
    found = re.findall(rf'name="({what}-[^"]*)" value="([^"]*)"', page)
    return {name: unescape(value) for name, value in found}


@pytest.mark.parametrize("name", sorted(LISTS))
def test_an_entry_that_is_opened_and_kept_stays_as_it_was(office, name):
    page = office.get(f"/shop/{name}").text
    change = re.search(r'<a href="([^"]*)#entry">', page)
    if change is None:
        assert "The list is empty." in page
        return
    page = office.get(unescape(change[1])).text
    form = cells(page, "was") | cells(page, "c")
    assert any(form.values()) and "Change one" in page
    done = office.post(f"/shop/{name}", form)
    assert done.status_code == 303, done.text
    assert "It was so already." in office.get(f"/shop/{name}").text


def test_an_entry_is_added_changed_emptied_and_taken_off_by_its_fields(office, shop):
    def customer():
        with shop.reading() as session:
            (entry,) = read_list(session, "customers").entries
        return entry

    def opened():
        page = office.get("/shop/customers?key=Orla+Home").text
        return cells(page, "was") | cells(page, "c")

    new = {"c-name": "Orla Home", "c-email": "orla@home.example"}
    assert office.post("/shop/customers", new).status_code == 303
    assert customer()["email"] == "orla@home.example"
    assert "/shop/customers?find=Orla" in office.get("/?find=orla").text
    assert office.post("/shop/suppliers", {"c-name": "Skelside Bars"}).status_code == 303
    assert "/shop/suppliers?find=Skelside" in office.get("/?find=skelside").text
    office.post("/shop/customers", opened() | {"c-phone": "0123"})
    assert (customer()["phone"], customer()["email"]) == ("0123", "orla@home.example")
    office.post("/shop/customers", opened() | {"c-phone": ""})
    assert customer()["phone"] == ""
    wrong = office.post("/shop/customers", opened() | {"c-name": "", "c-phone": "0456"})
    assert wrong.status_code == 422 and 'role="alert"' in wrong.text and 'value="0456"' in wrong.text
    assert office.get("/shop/nonsense").status_code == 404
    stale = opened() | {"c-email": "new@home.example"}
    office.post("/shop/customers", opened() | {"c-email": "other@home.example"})
    lost = office.post("/shop/customers", stale)
    assert lost.status_code == 422 and "somebody changed it meanwhile" in lost.text
    assert customer()["email"] == "other@home.example"
    again = cells(lost.text, "was") | cells(lost.text, "c")
    assert office.post("/shop/customers", again).status_code == 303
    assert customer()["email"] == "new@home.example"
    rule = {"c-rule": "fixed K", "c-grade": "S275", "c-section_kind": "flat", "c-k": "0.41"}
    assert office.post("/shop/k-rules", rule).status_code == 303
    page = office.get("/shop/k-rules").text
    page = office.get(unescape(re.search(r'<a href="([^"]*)#entry">', page)[1])).text
    assert cells(page, "c")["c-k"] == "0.41"
    assert office.post("/shop/k-rules", cells(page, "c") | {"do": "remove"}).status_code == 303
    assert "0.41" not in office.get("/shop/k-rules").text
    assert office.post("/shop/k-rules", rule | {"do": "remove"}).status_code == 422


def test_a_new_shop_is_asked_for_its_details_before_anything_else(database, make_app):
    new = Browser(make_app(database))
    code = new.app.extensions["guard"].codes.new_code("office")
    new.post("/code", {"code": code, "name": "counter"})
    asked = new.get("/price/new")
    assert asked.status_code == 302 and asked.headers["Location"] == "/shop/details"
    page = new.get("/shop/details").text
    new.token = page.split('name="form-token" content="')[1].split('"')[0]
    assert "A new shop" in page and "Hammerwright" not in page
    form = {name: unescape(value) for name, value in re.findall(r' name="(\w+)" value="([^"]*)"', page)}
    wrong = new.post("/shop/details", form | {"name": "Ford Forge", "currency": "pounds", "start": "own"})
    assert wrong.status_code == 422 and "expected three letters" in wrong.text and "Ford Forge" in wrong.text
    with database.reading() as session:
        assert not is_set_up(session)
    unknown = new.post("/shop/details", form | {"name": "Ford Forge", "locale": "en_US", "start": "own"})
    assert unknown.status_code == 422 and "No rate of tax is known" in unknown.text
    assert 'value="Letter"' in unknown.text and 'value="USD"' in unknown.text
    usual = {"currency": "GBP", "units": "mm", "paper": "A4", "tax_name": "VAT", "tax_percent": "20"}
    blank = form | {"name": "Ford Forge", "locale": "en_GB", "start": "own", "email": ""}
    assert {blank[name] for name in usual} == {""}
    done = new.post("/shop/details", blank)
    own = blank | usual
    assert done.status_code == 303 and done.headers["Location"] == "/shop/first", done.text
    with database.reading() as session:
        assert the_shop(session).name == "Ford Forge" and not read_list(session, "stock").entries
        assert {name: detail_text(getattr(details_on_file(session), name)) for name in usual} == usual
    assert "Ford Forge" in new.get("/").text
    page = new.get("/shop/details").text
    assert "The shop&#39;s details" in page and 'value="Ford Forge"' in page
    changed = new.post("/shop/details", own | {"phone": "0123", "address": "Ford Lane 3\r\nFordham"})
    assert changed.status_code == 303
    with database.reading() as session:
        assert (the_shop(session).phone, the_shop(session).address) == ("0123", "Ford Lane 3\nFordham")
    page = new.get("/shop/details").text
    opened = {name: unescape(value) for name, value in re.findall(r' name="([\w-]+)" value="([^"]*)"', page)}
    assert new.post("/shop/details", opened | {"phone": "0456", "tax_number": "T 1"}).status_code == 303
    lost = new.post("/shop/details", opened | {"phone": "0789"})
    assert lost.status_code == 422 and "Somebody else changed it to &#39;0456&#39; meanwhile" in lost.text
    assert new.post("/shop/details", opened | {"lead_time": "2 weeks"}).status_code == 303
    with database.reading() as session:
        shop = the_shop(session)
        assert (shop.phone, shop.tax_number, shop.lead_time) == ("0456", "T 1", "2 weeks")


def test_the_rates_that_matter_are_tried_on_a_sample_before_they_are_kept(office):
    def price(page):
        return re.search(r'id="sample">([\d,.]+)<', page.text)[1]

    page = office.get("/shop/first")
    told = {name: unescape(text) for name, text in re.findall(r'name="(r\d+)" value="([^"]*)"', page.text)}
    before = price(page)
    assert len(told) == 13 and told["r1"] == "30" and "At your own bars" in page.text
    # 21 x 1.30 / 0.75 an hour, as on the command line
    tried = office.post("/shop/first", told | {"r0": "21", "r4": "margin 50", "do": "try"})
    after = price(tried)
    assert f'before: <b class="fig">{before}</b>' in tried.text and after != before
    assert price(office.get("/shop/first")) == before
    wrong = office.post("/shop/first", told | {"r0": "plenty", "r3": "much", "do": "keep"})
    assert wrong.status_code == 422 and "2 answers cannot be used; nothing was stored." in wrong.text
    kept = office.post("/shop/first", told | {"r0": "21", "r4": "margin 50", "do": "keep"})
    assert kept.status_code == 303
    assert f"The sample: {before}, now {after} EUR" in office.get("/shop").text
    assert price(office.get("/shop/first")) == after
    with office.app.extensions["desk"].database.reading() as session:
        assert standards_book(session, date(2026, 3, 2)).value("rate.bending") == Decimal("36.4")


def test_a_shop_without_bars_or_benders_begins_with_a_bender_and_an_invented_sample(database, make_app):
    with database.session() as session:
        set_up(session, ShopDetails(name="Weir Forge"), on=date(2026, 3, 2), own=True)
    new = Browser(make_app(database)).let_in("office")
    start = new.get("/").text
    assert "Before the first price" in start and "/shop/stock" in start and "/shop/benders" in start
    page = new.get("/shop/first")
    told = {name: unescape(text) for name, text in re.findall(r'name="(r\d+)" value="([^"]*)"', page.text)}
    name = unescape(re.findall(r"<option[^>]*>([^<]+)</option>", page.text)[1])
    assert "are invented until yours are on file" in page.text
    done = new.post("/shop/first", told | {"r11": name, "r0": "21", "do": "keep"})
    assert done.status_code == 303 and done.headers["Location"] == "/", done.text
    assert 'name="r11"' not in new.get("/shop/first").text
    lines = {"columns": "grade=Q\nbasis==bar", "new_supplier": "Fenwick Bars"}

    def list_of(do):
        file = {"file": (io.BytesIO(b"bar;Q;length;price\nflat 40 x 6;S275;6000;33.10\n"), "list.csv")}
        return new.post("/shop/prices", lines | {"do": do} | file)

    assert "Nothing is stored yet" in list_of("look").text
    with database.reading() as session:
        assert not read_list(session, "suppliers").entries
    assert "Stored." in list_of("store").text
    # Its name in other letters is the same supplier, and stands once among those to choose from.
    lines["new_supplier"] = "FENWICK BARS"
    again = list_of("store").text
    assert (
        "Stored." in again and "FENWICK" not in again and again.count("<option selected>Fenwick Bars<") == 1
    )
    with database.reading() as session:
        assert [row["supplier"] for row in read_list(session, "stock").entries] == ["Fenwick Bars"]
    with database.reading() as session:
        assert [row["name"] for row in read_list(session, "benders").entries] == [name]


def test_rates_are_found_by_their_first_words_and_people_by_none(office, shop):
    with shop.session() as session:
        for name in ("J. Smith", "M. Jones & Sons"):
            set_entry(session, "customers", [name], on=date(2026, 3, 2))
    rates = office.get("/shop/rates").text
    (group,) = re.findall(r'<p class="groups">(.*?)</p>', rates, re.DOTALL)
    assert 'find=bend.">bend</a>' in group and "joint" in group
    assert 'class="groups"' not in office.get("/shop/customers").text


def test_a_heat_typed_wrong_is_put_right_on_the_page_of_its_bar(office, shop):
    office.post(
        "/rack", {"bar": "flat 40 x 6", "grade": "S275", "length": "6 m", "count": "1", "heat": "70411"}
    )
    assert "Is the heat number wrong?" in office.get("/rack/R-0001").text
    unsaid = office.post("/rack/R-0001", {"do": "heat", "heat": "70412", "reason": ""})
    assert unsaid.status_code == 422 and "reason" in unsaid.text
    done = office.post("/rack/R-0001", {"do": "heat", "heat": "70412", "reason": "misread the stamp"})
    assert done.status_code == 303
    page = office.get("/rack/R-0001").text
    assert "heat 70412" in page
    with shop.reading() as session:
        assert [one.heat for one in list_pieces(session)] == ["70412"]


def test_a_certificate_that_came_after_its_bars_is_kept_under_its_own_name(won, shop):
    won.post("/bars/order", {"job": "J-0001"})
    first = {"count-1": "1", "certificate-1": (io.BytesIO(b"%PDF-1.7"), "Blatt 3.pdf")}
    assert won.post("/order/O-0001/receive", first).status_code == 303
    page = won.get("/rack/R-0001").text
    assert "Did the certificate come later?" in page and "Blatt_3.pdf" in page

    def send(name):
        file = (io.BytesIO(b"%PDF-1.7 of the mill"), name)
        return won.post("/rack/R-0001", {"do": "certificate", "certificate": file})

    assert send("macro.exe").status_code == 422
    assert send("../../Mill 7 (late).PDF").status_code == 303
    assert "Mill_7_late.pdf" in won.get("/rack/R-0001").text


def test_a_suppliers_own_price_list_is_looked_at_and_stored(office, shop):
    def send(do, text=b"Article;Quality;Long;Net each\nflat 40 x 6;S275;6 m;33,10\n", **more):
        columns = "bar=Article\ngrade=Quality\nlength=Long\nprice=Net each\nbasis==bar"
        file = {"file": (io.BytesIO(text), "list.csv")}
        return office.post("/shop/prices", {"supplier": name, "columns": columns, "do": do, **file, **more})

    with shop.session() as session:
        name = "Fenwick Bars"
        set_entry(session, "suppliers", [name], on=date(2026, 3, 2))
    assert name in office.get("/shop/prices").text
    looked = send("look")
    assert looked.status_code == 200 and "1 new" in looked.text and "Nothing is stored yet" in looked.text
    with shop.reading() as session:
        assert not [e for e in read_list(session, "stock").entries if e["supplier"] == name]
    assert "Stored." in send("store").text
    with shop.reading() as session:
        (bar,) = [e for e in read_list(session, "stock").entries if e["supplier"] == name]
    assert (bar["price"], bar["basis"]) == (Decimal("33.10"), "bar")
    good = b"Article;Quality;Long;Net each\nflat 40 x 6;S275;6 m;33,10\n"
    foreign = send("look", file=(io.BytesIO(good), "\u043f\u0440\u0430\u0439\u0441.csv"))
    assert foreign.status_code == 200 and "1 same" in foreign.text  # a name in another script
    strange = b"Artikel;Q;Lang;Netto\nflat 40 x 6;S275;6 m;34,10\n"
    asked = send("look", strange, columns="")
    assert asked.status_code == 422 and "Which column of the list is the" in asked.text
    assert '<select id="col-price"' in asked.text and "<option>Netto</option>" in asked.text
    chosen = {"col-bar": "Artikel", "col-grade": "Q", "col-length": "Lang", "col-price": "Netto"}
    seen = send("look", strange, columns="", **chosen, **{"col-basis": "=bar"})
    assert (
        seen.status_code == 200 and "1 dearer" in seen.text and "<option selected>Netto</option>" in seen.text
    )
    bad = good + b"flat forty;S275;6 m;12,00\n"
    told = send("store", bad)
    assert told.status_code == 422 and 'name="good_rows"' in told.text and "flat forty" in told.text
    kept = send("store", bad, good_rows="yes")
    assert kept.status_code == 200 and "Stored." in kept.text and "Left out" in kept.text
    assert send("store", good, new_supplier="Hythe Steel", delivery_charge="25").status_code == 200
    with shop.reading() as session:
        (hythe,) = [e for e in read_list(session, "suppliers").entries if e["name"] == "Hythe Steel"]
    assert hythe["delivery_charge"] == 25
    refused = send("store", b"nothing;here\n1;2\n", columns="")
    assert refused.status_code == 422 and "<option>nothing</option>" in refused.text


def test_a_dropped_job_starts_nothing_on_the_floor_and_is_no_empty_shop(won, floor):
    assert "Start bending" in floor.get("/f/job/J-0001/A").text
    assert won.post("/quote/J-0001/state", {"state": "dropped", "reason": "tried"}).status_code == 303
    page = floor.get("/f/job/J-0001/A").text
    assert "nothing more is started" in page and "Start bending" not in page
    assert "No job is on file" not in won.get("/").text and "Nothing is waiting" in won.get("/").text


def test_what_a_terminal_would_obey_is_written_out_on_every_page(won, floor, shop):
    with shop.session() as session:
        for table, column in (
            ("job_revisions", "title"), ("customers", "name"), ("parts", "name"), ("suppliers", "name")
        ):  # fmt: skip
            session.execute(
                text(f"UPDATE {table} SET {column} = {column} || :more"), {"more": "\x1b[31m\u202e"}
            )
    pages = {path: won.get(path).text for path in ("/", "/jobs", "/quote/J-0001", "/bars", "/shop/customers")}
    pages["floor"] = floor.get("/f/job/J-0001/A").text
    for path, page in pages.items():
        assert "\x1b" not in page and "\u202e" not in page, path
        assert "\\x1b[31m\\u202e" in page, path


def test_a_backup_is_had(office):
    answer = office.post("/backup", {})
    assert answer.status_code == 200 and len(answer.data) > 10_000
    assert answer.headers["Content-Disposition"].startswith("attachment")


def test_a_backup_is_put_back_and_the_browser_stays_in(office, shop):
    office.post("/shop/customers", {"c-name": "Orla Home"})
    backup = office.post("/backup", {}).data
    office.post("/shop/customers", {"c-name": "Somebody Else"})
    unsure = office.post("/restore", {"backup": (io.BytesIO(backup), "shop.backup")})
    assert unsure.status_code == 422 and "Nothing was changed" in unsure.text
    broken = {"backup": (io.BytesIO(backup[:9000]), "half.backup"), "replace": "yes"}
    refused = office.post("/restore", broken)
    assert refused.status_code == 422 and "half.backup" in refused.text
    assert "Somebody Else" in office.get("/shop/customers").text
    done = office.post("/restore", {"backup": (io.BytesIO(backup), "shop.backup"), "replace": "yes"})
    assert done.status_code == 302 and done.headers["Location"] == "/shop", done.text
    page = office.get("/shop").text
    assert "rows and 0 certificates are back" in page and ".before-restore-1" in page
    customers = office.get("/shop/customers").text
    assert "Orla Home" in customers and "Somebody Else" not in customers


def test_closing_asks_what_nobody_logged_and_review_shows_what_was_earned(won, floor, shop):
    assert "No job is finished" in won.get("/review").text
    floor.post("/f/who", {"person": "Wyn"})
    for state in ("started", "finished"):
        done = won.post("/quote/J-0001/state", {"state": state})
        assert done.status_code == 303, done.text
    asked = won.get("/quote/J-0001/close").text
    missing = re.findall(r'name="missing" value="([^"]*)"', asked)
    assert "labour: bending" in missing and "material: flat 40 x 6 S275" in missing
    assert len(missing) == len(set(missing))
    assert won.post("/quote/J-0001/state", {"state": "closed"}).headers["Location"] == "/quote/J-0001/close"
    unseen = won.post("/quote/J-0001/close", {"missing": missing[1:]})
    assert unseen.status_code == 422 and "was not looked at" in unseen.text
    done = won.post("/quote/J-0001/close", {"missing": missing, "nothing": "packing"})
    assert done.status_code == 303, done.text
    with shop.reading() as session:
        (closing,) = session.scalars(select(Closing))
        actual = {line.operation: line.actual for line in closing.lines if line.category == "labour"}
        assert "labour" in closing.assumed and actual["bending"] > 0 and not actual.get("packing")
    of_month = re.search(r'href="(/review\?by=month&amp;group=[^"#]*)', won.get("/review?by=month").text)[1]
    assert "Hook" in won.get(unescape(of_month)).text
    assert "Jobs of 1999-01" in won.get("/review?by=month&group=1999-01").text
    page = won.get("/review?by=month").text
    assert "Hook" in page and "<svg" in page and "/quote/J-0001" in page
    assert "of the cost as quoted, not logged" in page and "Not logged" in page
    month = "/review?by=customer&month=2026-03"
    assert "/review/month/2026-03" in won.get(month).text
    assert "Hook" in won.get(month).text and "in this period" in won.get(f"{month[:-1]}1").text
    assert won.get("/review/month/2026-03").data.startswith(b"%PDF")
    assert won.get("/review?month=2026-13").status_code == 422
    assert won.get("/review?by=nonsense&since=2026-01-01").status_code == 200
    assert won.get("/review?since=nonsense").status_code == 422
    assert won.post("/review", {"take": "nonsense"}).status_code in (404, 422)
    # What is taken is learned from the jobs that were shown: of a month in which none was done, nothing.
    assert won.post("/review", {"take": "all", "month": "2026-13"}).status_code == 422
    assert won.post("/review", {"take": "all", "month": "2020-01"}).status_code == 404


def test_finishing_and_closing_say_where_good_pieces_are_short(won, shop):
    said = "A: no good piece counted of 12, 1 spoilt"
    day, at = date(2026, 3, 2), datetime(2026, 3, 2, 9, tzinfo=UTC)
    with shop.session() as session:
        log_scrap(session, "J-0001", "A", 1, on=day, today=day, at=at, reason="cracked", person="Wyn")
    assert won.post("/quote/J-0001/state", {"state": "finished"}).status_code == 303
    assert said in won.get("/quote/J-0001").text
    assert said in won.get("/quote/J-0001/close").text


def test_a_bar_that_comes_cut_to_length_tells_its_length_everywhere(office, shop):
    with shop.session() as session:  # only the one who saws to length sells
        for item in session.scalars(select(StockItem)):
            if not item.supplier.name.startswith("Quillmoor"):
                session.delete(item)
    form = {**HOOK, "part-0-bar": "square 12", "part-0-shape": "leg 120; corner 90; leg 120"}
    assert office.post("/price", {**form, "job-0-sets": "2", "do": "quote"}).status_code == 303
    office.post("/quote/J-0001/answer", {"answer": "accepted"})
    assert "<td>sawn to 231 mm</td>" in office.get("/bars?job=J-0001").text
    office.post("/bars/order", {"job": "J-0001"})
    assert "1: square 12 S275, 231 mm</legend>" in office.get("/order/O-0001").text
    received = office.post("/order/O-0001/receive", {"count-1": "2"})
    assert received.status_code == 303, received.text
    assert "On the rack: R-0001, R-0002." in office.get("/order/O-0001").text
    for address in ("/rack/R-0001", "/f/bar/R-0001", "/f/job/J-0001"):
        assert "231 mm" in office.get(address).text, address


@pytest.mark.parametrize(
    ("said", "shown", "to"),
    [
        ("See: shopquote job list", "See: All jobs", ["/jobs"]),
        (
            "Invented rates: rate.sawing; put your own on file: shopquote rates set",
            "Invented rates: rate.sawing; put your own on file: Shop, rates",
            ["/shop/rates"],
        ),
        (
            'Open it: shopquote close J-0007 --reopen "why. so"',
            "Open it: the closing of J-0007",
            ["/quote/J-0007/close"],
        ),
        (
            "Cancel: shopquote order cancel O-0003; or leave out: shopquote order change O-0003 --count 1=0.",
            "Cancel: the page of O-0003; or leave out: the page of O-0003.",
            ["/order/O-0003", "/order/O-0003"],
        ),
        (
            "Say what it really was: shopquote log J-0001 --stop --minutes M --person Wyn",
            "Say what it really was: what is logged on J-0001",
            ["/logged/J-0001"],
        ),
        ("assumed (shopquote people set).", "assumed (Shop, people).", ["/shop/people"]),
        ("Upgrade it: shopquote db upgrade", "Upgrade it: shopquote db upgrade", []),
        ("a <b> & shopquote rack list", "a <b> & the rack", ["/rack"]),
    ],
)  # fmt: skip
def test_a_command_that_a_message_names_is_shown_as_the_page_that_does_it(office, said, shown, to):
    with office.app.test_request_context("/"):
        html = doors(said)
    assert unescape(re.sub("</?a[^>]*>", "", html)) == shown
    assert re.findall('href="([^"]*)"', html) == to
    assert "<b>" not in html


def test_every_door_in_place_of_a_command_opens(won):
    with won.app.test_request_context("/"):
        found = re.findall('href="([^"]*)"', Markup(" ").join(
            doors(f"shopquote {first} {rest}")
            for first in (*DOORS, *LISTS)
            for rest in ("J-0001", "list", "add FILE", "backup", "--drop-invented")
        ))  # fmt: skip
    assert len(set(found)) > len(LISTS)
    for address in set(found):
        assert won.get(address).status_code == 200, address


def test_the_floor_is_told_no_command_and_no_room_of_the_office(office):
    with office.app.test_request_context("/"):
        g.device = SimpleNamespace(role="floor")
        told = doors("Piece R-0001 is cut. Say it: shopquote log J-0001 --operation NAME --minutes 5")
        stop = doors("A timer of Wyn runs. Stop it first: shopquote log J-0001 --stop --person Wyn")
        none = doors("No bender is on file, so none was tried; see: shopquote benders set.")
        kept = doors("It was closed. Of 2.5 m see: shopquote log J-0001. R-0002 is <free>.")
    assert told == "Piece R-0001 is cut."
    assert stop == 'A timer of Wyn runs. Stop it first: <a href="/f/work">Work, on the floor</a>'
    assert none == "No bender is on file, so none was tried."
    assert kept == "It was closed. R-0002 is &lt;free&gt;."


def test_what_is_invented_is_taken_out_by_a_press(office, shop):
    with shop.session() as session:
        the_shop(session).invented = False
    assert "Remove the invented ones" in office.get("/shop").text
    assert office.post("/invented", {}).status_code == 303
    page = office.get("/shop").text
    assert "Removed: " in page and "Remove the invented ones" not in page


def test_a_closed_job_is_opened_again_with_a_reason_and_tells_what_was_done(won):
    won.post("/quote/J-0001/state", {"state": "started"})
    won.post("/quote/J-0001/state", {"state": "finished"})
    page = won.get("/quote/J-0001/close").text
    seen = [unescape(word) for word in re.findall('name="missing" value="([^"]*)"', page)]
    assert won.post("/quote/J-0001/close", {"missing": seen}).status_code == 303
    assert "Open it again" in won.get("/quote/J-0001").text
    assert won.post("/quote/J-0001/reopen", {"reason": " "}).status_code == 422
    assert won.post("/quote/J-0001/reopen", {"reason": "a bill came late"}).status_code == 303
    assert "<b>finished</b>" in won.get("/quote/J-0001").text
    happened = won.get("/logged/J-0001").text.partition("What was done to J-0001")[2]
    assert "finished" in happened and "closed" in happened


def test_a_name_that_is_cut_in_a_picture_says_so_and_amounts_have_their_thousands_apart():
    assert "Railing for the old harbour…" in bars_chart(
        [("Railing for the old harbour wall", 1.0, "/")], "", "m"
    )
    table = Table((Column("Price", lambda row: row, MONEY),), [Decimal("12345.60")], setting=Setting("EUR"))
    assert "12,345.60" in table_html(table)
    # A number that a customer gave his order is none of them.
    assert "2026.015" in table_html(Table((Column("Order", lambda row: row),), ["2026.015"]))


def test_a_refused_entry_names_the_fields_of_the_page_and_a_script_is_told_where_to_go(won):
    refused = won.post("/logged/J-0001", {"operation": "bending", "minutes": "25 h"})
    assert refused.status_code == 422 and 'tick "yes, I checked this"' in unescape(refused.text)
    assert "--" not in unescape(refused.text).partition("<main")[2]
    told = won.post("/logged/J-0001", {"minutes": "20"}, headers={"Accept": "application/json"})
    assert told.status_code == 422 and "“Operation”" in told.json["error"]
    done = won.post(
        "/logged/J-0001", {"operation": "bending", "minutes": "20"}, headers={"Accept": "application/json"}
    )
    assert done.status_code == 200 and done.json == {"to": "/logged/J-0001"}
    assert "bending, 20 min" in won.get("/logged/J-0001").text


def test_mistakes_of_an_entry_stand_at_their_fields_and_a_rate_kept_is_the_shops_own(office, shop):
    wrong = office.post("/shop/suppliers", {
        "do": "set", "c-name": "Ford Steel", "c-delivery_charge": "18 pounds", "c-lead_days": "soon",
    }).text  # fmt: skip
    assert "2 fields cannot be used; nothing was stored." in wrong and "this page" not in wrong
    assert re.search('id="f-delivery_charge">found &#39;18 pounds&#39;, expected', wrong)
    page = office.get("/shop/rates?key=rate.bending&key=&find=rate.bending").text
    names = read_on(shop)
    assert names["rate.bending"]["source"].startswith("invented")
    kept = {"do": "set", "c-name": "rate.bending", "c-value": str(names["rate.bending"]["value"])}
    kept |= {f"was-{name[2:]}": text for name, text in kept.items() if name.startswith("c-")}
    done = office.post("/shop/rates", kept)
    assert done.status_code == 303, page and done.text
    assert read_on(shop)["rate.bending"]["source"] == "set by the shop"


def read_on(shop):
    with shop.reading() as session:
        return {row["name"]: row for row in read_list(session, "rates", on=date(2026, 3, 2)).entries}


def test_what_a_bender_is_asked_is_said_beside_its_fields(office):
    page = office.get("/shop/benders").text
    required = [column.name for column in LISTS["benders"].columns if column.required]
    assert len(required) == 5 and all(f'id="a-{name}"' in page for name in required)
    assert 'aria-describedby="a-works_by"' in page and "an arm wipes it round" in page
    assert 'round 16 <b class="fig">440 N m</b>' in page and "N m</b>" not in office.get("/shop/saws").text
