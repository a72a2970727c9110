"""Deliveries: what comes, how long, of which heat, for how much; and traces both ways."""

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import select

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.money import round_money
from shopquote.calc.units import Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.tables.rack_tables import print_received
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import csv_text, read_table
from shopquote.records.logs import StruckEntry
from shopquote.records.materials import StockPrice
from shopquote.records.orders import Certificate, Receipt, ReceivedBar
from shopquote.records.rack import BarUse, RackMove
from shopquote.services.buying.arrivals import (
    Arrival,
    arrivals_of_line,
    lines_as_they_stand,
    open_lines,
    read_lengths,
)
from shopquote.services.buying.goods_in import read_goods_sheet
from shopquote.services.buying.needs import bars_for_job
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.orders_on_file import NamedPrice, cancel_order, change_order, find_order
from shopquote.services.buying.receipt_strike import strike_receipt
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.shelving import Delivery
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.jobs.jobs import add_job, find_job
from shopquote.services.rack.heats import mend_heats
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.rack.rack_on_file import find_piece, list_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.rack.stocktake import enter_count, import_rack
from shopquote.services.rack.trace import trace_heat, trace_job, trace_piece
from shopquote.services.safe.checks import heats_run_along_cuts, received_counts_agree
from shopquote.services.safe.checks.orders import order_states_follow_deliveries
from shopquote.services.safe.checks.rack import bar_is_accounted_for, deliveries_lie_on_the_rack
from shopquote.services.shop.certificates import certificate_name
from shopquote.services.shop.values import section_of

EURO = Notation("mm", "en_GB", "EUR")
AT = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)


def mm(text: str) -> Measure:
    return Measure.parse(text, "mm")


@pytest.fixture
def ordered(shop):
    """A shop with one job and its order O-0001: 3 bars of round 12, 6 m, no delivery charge."""
    from shopquote.records.people import Supplier

    with shop.session() as session:
        for supplier in session.scalars(select(Supplier)):
            supplier.delivery_charge = Decimal(0)
        part = PartSpec("A", "rod", 9, "round 12", "S275", length=mm("1900"))
        job = add_job(session, JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT)
        assert job.number == "J-0001"
    placed = order_for_jobs(shop, ["J-0001"], OrderWish(certificate="3.1"), on=DAY)
    with shop.reading() as session:
        (line,) = find_order(session, placed.numbers[0]).lines
        assert (line.count, line.length.mm) == (3, 6000)
    return shop


def receive(shop, *arrivals: Arrival, sure: bool = False, **delivery):
    with shop.session() as session:
        return receive_order(
            session,
            "O-0001",
            arrivals,
            Delivery(**delivery),
            certificates=shop.certificates,
            at=AT,
            sure=sure,
        )


def test_whole_delivery_is_promised_to_its_job(ordered):
    received = receive(ordered, place="A1")
    assert received.state == "received"
    with ordered.reading() as session:
        pieces = list_pieces(session)
        assert [(p.length.mm, p.state, p.place) for p in pieces] == [(6000, "promised", "A1")] * 3
        assert {p.promised_job_id for p in pieces} == {find_job(session, "J-0001").id}


def test_part_delivery_leaves_the_rest_on_order(ordered):
    received = receive(ordered, Arrival(1, 2, heat="H1"))
    assert (received.state, received.lines[0].short, received.lines[0].over) == ("part received", 1, 0)
    assert order_for_jobs(ordered, ["J-0001"], OrderWish(), on=DAY).numbers == ()
    assert receive(ordered).state == "received"
    with pytest.raises(InputError, match="received; nothing is expected"):
        receive(ordered)


def test_bars_beyond_the_order_lie_free(ordered):
    received = receive(ordered, Arrival(1, 5))
    assert received.lines[0].over == 2
    assert [piece.state for piece in received.pieces] == ["promised"] * 3 + ["free"] * 2


def test_short_delivery_that_was_the_last_is_needed_again(ordered):
    assert receive(ordered, Arrival(1, 2), last=True).state == "received"
    again = order_for_jobs(ordered, ["J-0001"], OrderWish(), on=DAY)
    assert sum(line.count * line.length.mm for line in again.plan.lines) >= 3 * 1900


def test_rest_of_a_part_delivery_can_be_cancelled(ordered):
    receive(ordered, Arrival(1, 2))
    with ordered.session() as session:
        assert cancel_order(session, "1", "sold out").state == "received"
    assert len(order_for_jobs(ordered, ["J-0001"], OrderWish(), on=DAY).numbers) == 1


# What is charged with the first bar of three, and in all where it is told on cancelling; None: nothing is
# said. Then what of the 9 that were agreed the one bar bears: what was charged, however it was told.
CANCELLED = [(None, None, 3), ("9", None, 9), ("9", "12", 12), (None, "9", 9), (None, "0", 0)]


@pytest.mark.parametrize(("first", "told", "borne"), CANCELLED)
def test_what_came_bears_the_deliveries_when_the_rest_is_cancelled(ordered, first, told, borne):
    """A charge for the whole order rested on all its bars, so that two thirds were on none of them."""
    with ordered.session() as session:
        order = find_order(session, "1")
        order.delivery, order.lines[0].unit_price = Decimal(9), Decimal(20)
    charge = None if first is None else Decimal(first)
    (piece,) = receive(ordered, Arrival(1, 1), delivery_charge=charge).pieces
    with ordered.session() as session:
        done = cancel_order(session, "1", "sold out", delivery=None if told is None else Decimal(told))
        # What nobody said is told where the bars bear less than was agreed.
        unsaid = "Of 9.00 agreed for delivery its bars bear 3.00, charged so far"
        assert (unsaid in done.reason) == (first is None and told is None)
        assert find_piece(session, piece.code).cost == 20 + borne
        assert session.scalar(select(Receipt.charged_total)) == 20 + borne
        assert not [*bar_is_accounted_for(session), *deliveries_lie_on_the_rack(session)]


def test_a_bar_that_was_cut_takes_the_rest_of_its_delivery_along(ordered):
    with ordered.session() as session:
        order = find_order(session, "1")
        order.delivery, order.lines[0].unit_price = Decimal(9), Decimal(20)
    (piece,) = receive(ordered, Arrival(1, 1), delivery_charge=Decimal(9)).pieces
    with ordered.session() as session:
        use_bar(session, piece.code, "J-0001", returned=[mm("3000")], used_on=DAY)
        use = session.scalars(select(BarUse)).one()
        assert (use.cost, use.credit) == (23, Decimal("11.50"))
        cancel_order(session, "1", "sold out")
        assert (use.cost, use.credit) == (29, Decimal("11.50"))
        assert not [*bar_is_accounted_for(session), *deliveries_lie_on_the_rack(session)]


def test_random_lengths_are_each_measured_in(ordered):
    with ordered.reading() as session:
        arrivals = arrivals_of_line(session, "1", 1, lengths="6100, 6150.5 x 2", heat="H2")
    received = receive(ordered, *arrivals)
    assert [piece.length.mm for piece in received.pieces] == [6100, Decimal("6150.5"), Decimal("6150.5")]
    assert received.lines[0].other_length


@pytest.mark.parametrize("length", ["5.99", "2999.9", "12000.1", "60000"])
def test_a_length_far_from_what_was_ordered_is_asked_about(ordered, length):
    words = f"'{length}' is read as {length} mm, and 6000 mm was ordered"
    with pytest.raises(InputError, match=words) as asked:
        receive(ordered, Arrival(1, 1, mm("6000")), Arrival(1, 1, mm(length)))
    assert "--sure" in asked.value.hint
    with ordered.session() as session:
        assert not list_pieces(session)
    (piece,) = receive(ordered, Arrival(1, 1, mm(length)), sure=True).pieces
    assert piece.length.mm == Decimal(length)


def test_a_length_within_half_and_twice_is_taken_without_a_question(ordered):
    assert len(receive(ordered, Arrival(1, 1, mm("3000")), Arrival(1, 1, mm("12000"))).pieces) == 2


def test_bars_too_short_for_the_plan_are_told_at_once(ordered):
    # Three pieces of 1900 need 5700 and more; the job has nothing else to cut them from.
    received = receive(ordered, Arrival(1, 3, mm("5600")))
    assert [(bar.code, bar.load) for bar in received.too_short] == [
        (code, (("J-0001", "A", mm("1900").length, 3),)) for code in ("R-0001", "R-0002", "R-0003")
    ]
    assert all(bar.length.mm == 5600 and 5700 < bar.needed.mm < 5850 for bar in received.too_short)
    assert received.lacking == (("round 12 S275", ("J-0001",)),)
    again = order_for_jobs(ordered, ["J-0001"], OrderWish(), on=DAY)
    assert len(again.numbers) == 1  # two pieces of 1900 a bar now, so three are lacking


def test_shorter_bar_that_holds_its_pieces_is_no_trouble(ordered):
    received = receive(ordered, Arrival(1, 3, mm("5900")))
    assert (received.too_short, received.lacking) == ((), ())


def test_short_last_delivery_says_who_lacks_bar(ordered):
    received = receive(ordered, Arrival(1, 2), last=True)
    assert received.too_short == () and received.lacking == (("round 12 S275", ("J-0001",)),)


def test_line_ordered_of_one_heat_that_came_of_two_is_told(shop):
    with shop.session() as session:
        part = PartSpec("A", "rod", 9, "round 12", "S275", length=mm("1900"), one_heat=True)
        add_job(session, JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT)
    order_for_jobs(shop, ["J-0001"], OrderWish(), on=DAY)
    first = receive(shop, Arrival(1, 2, heat="HI"))
    assert first.mixed_heats == ()
    with shop.session() as session:
        mend_heats(session, [piece.code for piece in first.pieces], "H1", "misread")
    received = receive(shop, Arrival(1, 1, heat="H2"))
    assert received.mixed_heats == ((1, ("H1", "H2")),)
    assert received.lacking == (("round 12 S275", ("J-0001",)),)


def test_short_bar_takes_the_pieces_that_it_holds(shop):
    """Two bars for 3 x 1900 and 1 x 1900; the short one came first and holds the one piece."""
    with shop.session() as session:
        part = PartSpec("A", "rod", 4, "round 12", "S275", length=mm("1900"))
        add_job(session, JobSpec("hooks", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT)
    placed = order_for_jobs(shop, ["J-0001"], OrderWish(), on=DAY)
    lines = placed.documents[0].lines
    assert [(line.count, line.length) for line in lines] == [(2, mm("6000").length)]
    received = receive(shop, Arrival(1, 1, mm("2500")), Arrival(1, 1, mm("6000")), sure=True)
    assert received.too_short == ()
    with shop.reading() as session:
        held = {p.length.mm: [n for s in p.shares for _, _, n in s.pieces] for p in list_pieces(session)}
        assert held == {2500: [1], 6000: [3]}
        (first, second) = floor_sheet(session, "J-0001", at=AT, seconds=0.3).saw
        assert {(bar.length.mm, bar.cuts[0].count) for bar in (first, second)} == {(2500, 1), (6000, 3)}


def test_floor_cuts_bars_that_came_short_another_way(ordered):
    with ordered.session() as session:
        add_pieces(session, section_of("round 12"), "round 12", "S275", mm("6000"), on=DAY)
        promise_pieces(session, ["R-0001"], "J-0001")
    received = receive(ordered, Arrival(1, 3, mm("5600")))
    assert len(received.too_short) == 3 and received.lacking == ()  # 3 + 2 + 2 + 2 pieces
    with ordered.reading() as session:
        saw = floor_sheet(session, "J-0001", at=AT, seconds=0.5).saw
        assert sorted(cut.count for bar in saw for cut in bar.cuts) == [2, 2, 2, 3]
        assert all(bar.piece for bar in saw)


def test_charged_price_and_delivery_go_into_the_cost_of_the_bars(ordered):
    received = receive(ordered, Arrival(1, 3, charged=Decimal("7.5000")), delivery_charge=Decimal("10.00"))
    costs = [piece.cost for piece in received.pieces]
    assert sum(costs) == Decimal("32.5000")  # 3 x 7.50 + 10.00
    assert max(costs) - min(costs) <= Decimal("0.01")
    with ordered.reading() as session:
        ordered_price = find_order(session, "1").lines[0].unit_price
        assert received.price_difference == round_money((Decimal("7.5") - ordered_price) * 3, "EUR")
        assert session.scalar(select(Receipt.charged_total)) == Decimal("32.5")


def test_delivery_charge_is_borne_once_over_part_deliveries(ordered):
    with ordered.session() as session:
        order = find_order(session, "1")
        order.delivery = Decimal("9.00")
        price = order.lines[0].unit_price
    pieces = [*receive(ordered, Arrival(1, 1)).pieces, *receive(ordered, Arrival(1, 2)).pieces]
    # Each delivery's bill is rounded once, and its bars bear all of it in whole cents.
    alone, others = round_money(price + 3, "EUR"), round_money(2 * price + 6, "EUR")
    assert [pieces[0].cost, sum(piece.cost for piece in pieces[1:])] == [alone, others]


# What was charged for the delivery with the first bar and with the two others; None: nothing was said.
DELIVERIES = [
    (None, None),
    ("9", None),
    ("9", "0"),
    (None, "9"),
    ("9", "9"),
    ("0", None),
    ("4", None),
    ("0", "0"),
]


@pytest.mark.parametrize(("first", "second"), DELIVERIES)
def test_what_deliveries_cost_rests_on_all_bars_of_their_order(ordered, first, second):
    """Whenever it is charged, by hand: bars of one price bear a third each of all that was agreed or charged,
    as far as was known when they came, and none what was not charged yet."""
    with ordered.session() as session:
        order = find_order(session, "1")
        order.delivery, order.lines[0].unit_price = Decimal(9), Decimal(20)
    charges = [None if told is None else Decimal(told) for told in (first, second)]
    one = receive(ordered, Arrival(1, 1), delivery_charge=charges[0])
    two = receive(ordered, Arrival(1, 2), delivery_charge=charges[1])
    costs = [piece.cost - 20 for piece in (*one.pieces, *two.pieces)]
    with ordered.reading() as session:
        bills = sum(session.scalars(select(Receipt.charged_total))) - 60
    assert costs[0] == min(Decimal(first or 3), 3) and costs[1] == costs[2]
    assert sum(costs) == max(bills, costs[0])
    told = [Decimal(0) if charge is None else charge for charge in charges]
    assert bills == sum(told) if second is not None and first is not None else bills >= sum(told)


def test_what_the_bars_bear_of_a_delivery_is_told_where_it_is_not_its_charge(ordered, capsys):
    with ordered.session() as session:
        order = find_order(session, "1")
        order.delivery, order.lines[0].unit_price = Decimal(9), Decimal(20)
    print_received(receive(ordered, Arrival(1, 1), delivery_charge=Decimal(9)), EURO)
    assert "Delivery: 9.00 charged; in the cost of these bars: 3.00 of" in capsys.readouterr().out
    # Short and the last: what came bears the rest.
    print_received(receive(ordered, Arrival(1, 1), last=True), EURO)
    assert "Delivery: 0.00 charged; in the cost of these bars: 6.00 of" in capsys.readouterr().out


def test_bars_that_came_cost_together_what_the_order_says(ordered):
    with ordered.session() as session:
        order = find_order(session, "1")
        order.lines[0].unit_price = Decimal("7.5449")
        order.delivery = Decimal("18.00")
    received = receive(ordered, Arrival(1, 3))
    # The line is 22.63 (22.6347), with delivery 40.63; each bar by itself is 13.5449, three of 13.54 40.62.
    assert [piece.cost for piece in received.pieces] == [Decimal("13.55"), Decimal("13.54"), Decimal("13.54")]


def test_price_really_charged_goes_on_the_list_when_wanted(ordered):
    with ordered.reading() as session:
        item_id = find_order(session, "1").lines[0].stock_item_id
        before = session.scalars(select(StockPrice).where(StockPrice.stock_item_id == item_id)).all()
    received = receive(ordered, Arrival(1, 3, charged=Decimal("9.99")), update_prices=True)
    assert received.new_prices == (1,)
    with ordered.reading() as session:
        prices = session.scalars(select(StockPrice).where(StockPrice.stock_item_id == item_id)).all()
        assert len(prices) == 2 * len(before)  # the old list stays as history
        assert {price.valid_from for price in prices} == {DAY, AT.date()}
    job_line = order_prices(ordered)
    assert abs(job_line - Decimal("9.99")) < Decimal("0.01")


@pytest.mark.parametrize("list_day", [DAY, AT.date()])
def test_a_price_really_charged_is_invented_no_more(ordered, list_day):
    with ordered.session() as session:
        item_id = find_order(session, "1").lines[0].stock_item_id
        for price in session.scalars(select(StockPrice).where(StockPrice.stock_item_id == item_id)):
            price.valid_from = list_day
            assert price.invented
    receive(ordered, Arrival(1, 3, charged=Decimal("9.99")), update_prices=True)
    with ordered.reading() as session:
        held = select(StockPrice.invented).where(
            StockPrice.stock_item_id == item_id, StockPrice.valid_from == AT.date()
        )
        assert session.scalars(held).all().count(False) == 1


def order_prices(shop) -> Decimal:
    from shopquote.services.buying.offers_on_file import listed_bars
    from shopquote.services.shop.shop_on_file import grades_on_file
    from shopquote.services.shop.values import section_of

    with shop.reading() as session:
        line = find_order(session, "1").lines[0]
        bars = listed_bars(
            session, section_of(line.section_key), grades_on_file(session)[line.grade], AT.date()
        )
        bar = next(bar for bar in bars if bar.item.id == line.stock_item_id)
        return bar.unit_price(line.mass_kg)


@pytest.mark.parametrize(
    "arrival, words",
    [
        (Arrival(2, 1), "no line 2"),
        (Arrival(1, 0), "expected 1 to"),
        (Arrival(1, 1, charged=Decimal(-1)), "charged is -1"),
    ],
)
def test_senseless_deliveries_are_refused_whole(ordered, arrival, words):
    with pytest.raises(InputError, match=words):
        receive(ordered, Arrival(1, 1), arrival)
    with ordered.reading() as session:
        assert list_pieces(session) == () and find_order(session, "1").state == "placed"


def test_lengths_must_agree_with_the_count(ordered):
    with ordered.reading() as session:
        with pytest.raises(InputError, match="2 lengths"):
            arrivals_of_line(session, "1", 1, count=3, lengths="6000, 6010")
        with pytest.raises(InputError, match="of one line"):
            arrivals_of_line(session, "1", None, lengths="6000")


@pytest.mark.parametrize("text", ["6000 x 0", "long", "6000 x 2 x 3"])
def test_lengths_that_cannot_be_read(text):
    with pytest.raises(InputError):
        read_lengths(text, Notation("mm"))


# --- certificates -----------------------------------------------------------------------------------


def test_certificate_is_kept_by_its_content(ordered, tmp_path):
    paper = tmp_path / "cert 7.pdf"
    paper.write_bytes(b"heat 7 results")
    receive(ordered, Arrival(1, 1, heat="H7", certificate=paper), Arrival(1, 1, heat="H7", certificate=paper))
    paper.write_bytes(b"something else")
    with ordered.reading() as session:
        (kept,) = session.scalars(select(Certificate))
        assert (kept.file_name, kept.kind, kept.heat) == ("cert 7.pdf", "3.1", "H7")
        path = ordered.certificates / certificate_name(kept.sha256, kept.file_name)
    assert path.read_bytes() == b"heat 7 results"


def test_a_certificate_has_the_type_that_was_said_last(ordered, tmp_path):
    """What was ordered is only supposed; a person who names another has looked at the paper."""
    paper = tmp_path / "cert 7.pdf"
    paper.write_bytes(b"heat 7 results")

    def kind(word: str) -> str:
        receive(ordered, Arrival(1, 1, heat="H7", certificate=paper, certificate_kind=word))
        with ordered.reading() as session:
            return session.scalars(select(Certificate.kind)).one()

    assert [kind(word) for word in ("", "3.2", "")] == ["3.1", "3.2", "3.2"]


@pytest.mark.parametrize("content", [None, b""])
def test_certificate_that_cannot_be_kept_refuses_the_delivery(ordered, tmp_path, content):
    paper = tmp_path / "cert.pdf"
    if content is not None:
        paper.write_bytes(content)
    with pytest.raises(InputError, match=r"cert\.pdf"):
        receive(ordered, Arrival(1, 1, certificate=paper))
    with ordered.reading() as session:
        assert list_pieces(session) == ()


# --- the goods-in sheet -------------------------------------------------------------------------------


def goods(tmp_path: Path, *rows) -> Path:
    path = tmp_path / "goods.csv"
    columns = ("line", "bar", "count", "length", "heat", "certificate", "charged each")
    path.write_text(csv_text(columns, rows), encoding="utf-8")
    return path


def test_filled_in_sheet_is_read(ordered, tmp_path):
    (tmp_path / "c.pdf").write_bytes(b"x")
    path = goods(
        tmp_path,
        (1, "round 12", 2, "", "H1", "c.pdf", ""),
        (1, "round 12", 1, "6050", "H2", "", "7.1"),
        (1, "round 12", "", "", "", "", ""),
    )
    arrivals = read_goods_sheet(read_table(path), Notation("mm"))
    assert arrivals == (
        Arrival(1, 2, None, "H1", tmp_path / "c.pdf"),
        Arrival(1, 1, mm("6050"), "H2", charged=Decimal("7.1")),
    )
    assert [piece.heat for piece in receive(ordered, *arrivals).pieces] == ["H1", "H1", "H2"]


def test_further_lengths_below_a_line_need_not_say_it_again_and_good_rows_may_be_taken(tmp_path):
    rows = (
        (2, "round 12", 2, "", "H1", "", ""),
        ("", "", 1, "6050", "ditto", "", ""),
        ("", "", 1, "long", "H2", "", "same again"),
        (3, "flat 40 x 6", "", "", "", "", ""),
        ("x", "", 1, "", "", "", ""),
        ("", "", 1, "6000", "", "", ""),
    )
    left_out = []
    table = read_table(goods(tmp_path, *rows))
    arrivals = read_goods_sheet(table, Notation("mm"), None, left_out)
    assert arrivals == (Arrival(2, 2, None, "H1"), Arrival(2, 1, mm("6050"), "H1"))
    # A row below a line that nobody can read hangs on it.
    assert [fault.mark for fault in left_out] == ["row 4", "row 6", "row 7"]


def test_a_sheet_without_one_good_row_tells_its_mistakes_also_where_good_rows_are_taken(tmp_path):
    table = read_table(goods(tmp_path, (1, "", "two", "", "", "", ""), ("a", "", 1, "", "", "", "")))
    with pytest.raises(InputError) as caught:
        read_goods_sheet(table, Notation("mm"), None, [])
    assert [fault.mark for fault in caught.value.faults] == ["row 2", "row 3"]


def test_mistakes_of_the_sheet_are_told_together(tmp_path):
    path = goods(tmp_path, (1, "", "two", "x", "", "no.pdf", "y"), ("a", "", 1, "", "", "", ""))
    with pytest.raises(InputError) as caught:
        read_goods_sheet(read_table(path), Notation("mm"))
    assert [(f.mark, f.key) for f in caught.value.faults] == [
        ("row 2", "count"), ("row 2", "length"), ("row 2", "charged each"), ("row 2", "certificate"),
        ("row 3", "line"),
    ]  # fmt: skip
    with pytest.raises(InputError, match="nothing was received"):
        read_goods_sheet(read_table(goods(tmp_path, (1, "round", "", "", "", "", ""))), Notation("mm"))


def test_sheet_lists_what_is_open(ordered):
    receive(ordered, Arrival(1, 2))
    with ordered.reading() as session:
        assert [line["open"] for line in open_lines(session, "1")["lines"]] == [1]


def test_sheet_is_entered_only_once_and_for_its_own_order(ordered, tmp_path):
    path = tmp_path / "goods.csv"
    columns = ("line", "bar", "grade", "open", "count", "heat")

    def read(*rows):
        path.write_text(csv_text(columns, rows), encoding="utf-8")
        with ordered.reading() as session:
            return read_goods_sheet(read_table(path), Notation("mm"), lines_as_they_stand(session, "1"))

    sheet = ((1, "round 12", "S275", 3, 2, "H1"), (1, "", "", "", 1, "H2"))
    receive(ordered, *read(*sheet))
    with pytest.raises(InputError) as caught:
        read(*sheet)
    (fault,) = caught.value.faults
    assert (fault.mark, fault.key, fault.found) == ("row 2", "open", "'3'")
    assert fault.expected.startswith("0 open")
    with pytest.raises(InputError) as caught:
        read((1, "square 20", "S355", 0, 1, ""))
    assert [fault.key for fault in caught.value.faults] == ["bar", "grade"]
    # A row written by hand says nothing of what is open: more than was ordered can still come.
    assert read((1, "", "", "", 1, "H3")) == (Arrival(1, 1, heat="H3"),)


# --- traces -----------------------------------------------------------------------------------------


@pytest.fixture
def delivered(ordered, tmp_path):
    paper = tmp_path / "h1.pdf"
    paper.write_bytes(b"heat 1")
    receive(ordered, Arrival(1, 2, heat="H1", certificate=paper), Arrival(1, 1, heat="H2"), reference="DN 5")
    with ordered.session() as session:
        use_bar(session, "R-0001", "J-0001", returned=[mm("250")], used_on=DAY)
    return ordered


def test_part_is_traced_back_to_heat_certificate_order_and_supplier(delivered):
    with delivered.reading() as session:
        links = trace_job(session, "J-0001", "A")
        supplier = find_order(session, "1").supplier.name
    first = next(link for link in links if link.code == "R-0001")
    origin = first.origin
    assert (origin.heat, origin.certificate, origin.certificate_kind) == ("H1", "h1.pdf", "3.1")
    assert (origin.order, origin.supplier, origin.delivery_note) == ("O-0001", supplier, "DN 5")
    assert first.parts == (("J-0001", "A", 3),)


def test_heat_is_traced_forward_to_every_job_and_offcut(delivered):
    with delivered.session() as session:
        part = PartSpec("B", "rod", 1, "round 12", "S275", length=mm("200"))
        other = add_job(session, JobSpec("gate", "Orla Fennimore", 1, "mm", parts=(part,)), at=AT)
        use_bar(session, "R-0004", other.number, used_on=DAY)
    with delivered.reading() as session:
        links = trace_heat(session, "H1")
        assert {job for link in links for job in link.jobs} == {"J-0001", "J-0002"}
        assert {link.code: link.cut_from for link in links}["R-0004"] == ("R-0001",)
        assert [link.code for link in trace_piece(session, "R-0004")] == ["R-0001", "R-0004"]
        with pytest.raises(NotFoundError, match="H9"):
            trace_heat(session, "H9")
        with pytest.raises(InputError, match="'Z'"):
            trace_job(session, "J-0001", "Z")


def strike(shop, which, reason="typed on the wrong order"):
    with shop.session() as session:
        return strike_receipt(session, "O-0001", which, reason, at=AT)


def test_bars_that_were_cancelled_are_not_expected_when_a_delivery_is_taken_back(ordered):
    """Two of three came, the third was cancelled; with the two taken back, all three were expected."""
    receive(ordered, Arrival(1, 2))
    with ordered.session() as session:
        cancel_order(session, "1", "sold out")
    assert strike(ordered, 1).state == "placed"
    with ordered.reading() as session:
        assert [line["open"] for line in open_lines(session, "O-0001")["lines"]] == [2]
        assert len([bar for bar in bars_for_job(session, "J-0001") if bar.state == "on order"]) == 2
        assert not [*order_states_follow_deliveries(session)]
    received = receive(ordered)
    assert (received.state, len(received.pieces)) == ("received", 2)


def test_bars_that_were_cancelled_are_not_ordered_again_by_a_new_revision(ordered):
    """With its delivery taken back an order may be changed: a new price made all three expected again."""
    receive(ordered, Arrival(1, 2))
    with ordered.session() as session:
        cancel_order(session, "1", "sold out")
    strike(ordered, 1)
    with ordered.session() as session:
        named = NamedPrice(Decimal("7.50"), "bar")
        (line,) = change_order(session, "1", prices={1: named}, on=DAY).lines
        assert (line.count, line.open, len(line.loads), line.amount) == (2, 2, 2, Decimal("15.00"))
    with ordered.reading() as session:
        assert len([bar for bar in bars_for_job(session, "J-0001") if bar.state == "on order"]) == 2


# Of three bars one came, then one that was said to be the last: which is taken back, and what is open then.
@pytest.mark.parametrize(("taken_back", "open_then"), [(1, 1), (2, 2)])
def test_that_nothing_more_comes_is_taken_back_with_the_delivery_that_said_so(ordered, taken_back, open_then):
    receive(ordered, Arrival(1, 1))
    assert receive(ordered, Arrival(1, 1), last=True).state == "received"
    assert strike(ordered, taken_back).state == "part received"
    with ordered.reading() as session:
        assert [line["open"] for line in open_lines(session, "O-0001")["lines"]] == [open_then]


def test_a_delivery_that_is_taken_back_is_open_again(ordered):
    receive(ordered, Arrival(1, 2, heat="H1"))
    struck = strike(ordered, 1)
    assert (struck.state, len(struck.codes)) == ("placed", 2)
    with ordered.reading() as session:
        assert find_order(session, "O-0001").lines[0].received == 0
        assert not list_pieces(session)
        (kept,) = session.scalars(select(StruckEntry)).all()
        assert ("heat H1" in kept.what, kept.reason) == (True, "typed on the wrong order")
        assert list(received_counts_agree(session)) == []
    assert receive(ordered).state == "received"


def test_a_delivery_whose_bars_were_cut_stays(ordered):
    code = receive(ordered).pieces[0].code
    with ordered.session() as session:
        use_bar(session, code, "J-0001")
    with pytest.raises(InputError, match=f"{code} is used"):
        strike(ordered, 1)
    with pytest.raises(InputError, match="reason"):
        strike(ordered, 1, " ")
    with pytest.raises(NotFoundError, match="1 to 1"):
        strike(ordered, 2)


def test_more_of_a_line_that_had_all_come_asks(ordered):
    receive(ordered, Arrival(1, 2))
    with pytest.raises(InputError, match="typed already") as asked:
        receive(ordered, Arrival(1, 2))
    assert "--sure" in asked.value.hint and "--strike" in asked.value.hint
    assert receive(ordered, Arrival(1, 1)).state == "received"


def test_a_heat_typed_wrong_is_put_right_and_what_was_typed_stays(ordered):
    received = receive(ordered, Arrival(1, 3, heat="70411"))
    codes = [piece.code for piece in received.pieces]
    with ordered.session() as session:
        offcut = use_bar(session, codes[0], "J-0001", returned=[mm("1000")], used_on=DAY).returned[0]
        with pytest.raises(InputError, match="needs a reason"):
            mend_heats(session, codes[:1], "70412", " ")
        mended = mend_heats(session, [offcut, codes[0]], " 70412 ", "misread")
        assert [piece.code for piece in mended] == [codes[0], offcut]
        with pytest.raises(InputError, match="of heat 70412 already"):
            mend_heats(session, [offcut], "70412", "again")
    with ordered.session() as session:
        # What is cut of it later is of the right heat too; other bars of the row keep theirs.
        use_bar(session, offcut, "J-0001", returned=[mm("400")], used_on=DAY)
        assert session.scalars(select(ReceivedBar.heat)).all() == ["70411"]
        links = {link.code: link.origin for link in trace_heat(session, "70411")}
        assert {links[codes[0]].heat, links[offcut].heat, links[codes[1]].heat} == {"70412", "70411"}
        assert (links[offcut].heat_entered, links[codes[1]].heat_entered) == ("70411", "")
        assert len(trace_heat(session, "70412")) == 3
        assert list(heats_run_along_cuts(session)) == []
        moves = session.scalars(select(RackMove.note).where(RackMove.kind == "heat")).all()
        assert moves == ["70411 to 70412: misread"] * 2
        # A heat that nobody put right is still found.
        find_piece(session, codes[1]).heat = "1"
        session.flush()
        assert len(list(heats_run_along_cuts(session))) == 1


SPELLINGS = ("ab 12", "AB12", "  Ab\t12 ", "aB1 2")


@pytest.mark.parametrize("typed", SPELLINGS)
def test_a_heat_is_one_at_every_door_however_it_is_typed(ordered, tmp_path, typed):
    receive(ordered, Arrival(1, 1, heat=typed))
    with ordered.reading() as session:
        lines = lines_as_they_stand(session, "O-0001")
        goods = tmp_path / "goods.csv"
        goods.write_text(csv_text(["line", "count", "heat"], [["1", "1", typed]]), encoding="utf-8")
        arrivals = read_goods_sheet(read_table(goods), Notation(), lines)
    receive(ordered, *arrivals)
    bar = ["round 12", "S275"]
    with ordered.session() as session:
        section = section_of("round 12")
        add_pieces(session, section, "round 12", "S275", mm("1450"), heat=typed)
        path = tmp_path / "rack.csv"
        path.write_text(
            csv_text(["bar", "grade", "length", "heat"], [[*bar, "900", typed]]), encoding="utf-8"
        )
        import_rack(session, read_table(path), on=DAY)
        headings = ["code", "bar", "grade", "found", "heat"]
        path.write_text(csv_text(headings, [["", *bar, "800", typed]]), encoding="utf-8")
        enter_count(session, read_table(path), on=DAY)
        (other,) = add_pieces(session, section, "round 12", "S275", mm("700"), heat="H2")
        mend_heats(session, [other.code], typed, "misread")
        with pytest.raises(InputError, match="already"):
            mend_heats(session, [other.code], typed.swapcase(), "again")
        assert [piece.heat for piece in list_pieces(session, heat=typed)] == ["AB12"] * 6
        assert len(trace_heat(session, typed)) == 6
