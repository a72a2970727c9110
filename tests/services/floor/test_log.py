"""Logging: every form, every refusal, costs to the cent at the rate of the day."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import select, text

from shopquote.calc.bar.sections import parse_section
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.kinds import MINUTES, Notation
from shopquote.records.logs import Invoice, OutsideBill, ScrapNote, TimeEntry
from shopquote.records.people import Supplier
from shopquote.records.rack import BarUse, RackPiece
from shopquote.records.standards import StandardRow
from shopquote.services.floor.bar_log import log_bars, log_piece
from shopquote.services.floor.bill_log import log_bought, log_invoice, log_outside, log_payment
from shopquote.services.floor.log import log_scrap, pieces_to_make
from shopquote.services.floor.log_list import logged_so_far
from shopquote.services.floor.log_words import LogWords, log_words
from shopquote.services.floor.take_back import strike_entry
from shopquote.services.floor.time_log import log_minutes, start_timer, stop_timer
from shopquote.services.jobs.jobs import add_job, find_job, load_job, set_state
from shopquote.services.jobs.money_in import money_in
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.review.close import close_job, reopen_job
from shopquote.services.review.review import review_many
from shopquote.services.review.selection import Filters
from shopquote.services.safe.checks import bar_is_accounted_for, minutes_add_up
from shopquote.services.safe.checks.doubles import names_stand_once
from shopquote.services.shop.database import open_database
from shopquote.services.shop.lists import set_entry
from shopquote.services.shop.shop_on_file import the_shop
from tests.services.quoted_shop import NUMBER, quoted_copy
from tests.services.review_jobs import NOW, TODAY, hoops, mm, quoted_job

D = Decimal
WHEN = {"on": TODAY, "today": TODAY, "at": NOW}


@pytest.fixture
def quoted(_shop_file, tmp_path):
    """A shop with one quoted job, J-0001."""
    with open_database(str(quoted_copy(_shop_file, tmp_path))) as database:
        yield database


@pytest.fixture
def writing(quoted):
    with quoted.session() as session:
        yield session


@pytest.mark.parametrize(
    "text, minutes",
    [("90", 90), ("7.5", "7.5"), ("7,5", "7.5"), ("1:30", 90), ("0:05", 5), ("1.5 h", 90), ("20 min", 20)],
)
def test_minutes_are_read_as_people_type_them(text, minutes):
    assert MINUTES.read(text, Notation()) == D(minutes)


@pytest.mark.parametrize("text", ["", "x", "1:75", "1:5", "nan", "inf", "1h30", "--"])
def test_other_minutes_are_refused(text):
    with pytest.raises(InputError, match="expected minutes"):
        MINUTES.read(text, Notation())


def test_minutes_cost_the_rate_of_their_day(writing):
    number = NUMBER
    writing.add(StandardRow(name="rate.welding", value=D(66), unit="money/h", since=date(2026, 3, 5)))
    writing.flush()
    before = log_minutes(writing, number, "welding", D(50), on=date(2026, 3, 4), today=TODAY, at=NOW)
    after = log_minutes(writing, number, "Welding", D(50), **WHEN)
    assert before.cost == D("41.67")  # 50 min of the starting 50 an hour
    assert after.cost == D("55.00")


def test_first_work_on_a_quoted_job_wins_and_starts_it(writing):
    number = NUMBER
    logged = log_minutes(writing, number, "sawing", D(10), **WHEN)
    job = find_job(writing, number)
    assert job.state == "started"
    assert [change.to_state for change in job.state_changes][-2:] == ["won", "started"]
    assert "was quoted and is now started" in logged.note


@pytest.mark.parametrize(
    "changes, message",
    [
        ({"operation": "weldin"}, "expected one of"),
        ({"minutes": D(0)}, "more than 0"),
        ({"minutes": D("0.001")}, "smallest"),
        ({"minutes": D(100_001)}, "at most"),
        ({"minutes": D(1500), "person": "Wyn"}, "24 hours"),
        ({"on": TODAY + timedelta(days=1)}, "not come yet"),
        ({"rework": True}, "needs a reason"),
    ],
)
def test_minutes_that_cannot_be_are_refused(writing, changes, message):
    number = NUMBER
    words = {"operation": "welding", "minutes": D(10), **WHEN, **changes}
    with pytest.raises(InputError, match=message):
        log_minutes(writing, number, words.pop("operation"), words.pop("minutes"), **words)


def test_a_misspelt_operation_is_told_the_nearest():
    from shopquote.services.floor.time_log import known_operation

    with pytest.raises(InputError) as caught:
        known_operation("weldin")
    assert "'welding'" in str(caught.value)


@pytest.mark.parametrize("state", ["lost", "dropped"])
def test_nothing_is_logged_on_a_job_that_is_not_made(writing, state):
    number = NUMBER
    set_state(writing, number, state, at=NOW)
    with pytest.raises(InputError, match=f"is {state}"):
        log_minutes(writing, number, "sawing", D(10), **WHEN)


def test_a_closed_job_must_be_opened_first(writing):
    number = NUMBER
    log_minutes(writing, number, "sawing", D(10), **WHEN)
    close_job(writing, number, on=TODAY, at=NOW)
    with pytest.raises(InputError) as caught:
        log_minutes(writing, number, "sawing", D(10), **WHEN)
    assert "--reopen" in str(caught.value)


def test_a_timer_counts_from_start_to_stop(writing):
    number = NUMBER
    start_timer(writing, number, "bending", person="Wyn", at=NOW, on=TODAY)
    stopped = stop_timer(writing, number, person="Wyn", at=NOW + timedelta(minutes=25, seconds=30))
    assert stopped.minutes == D("25.50")
    assert stopped.cost == D("17.85")  # 25.5 min at 42 an hour


def test_what_minutes_add_up_to_is_kept_beside_them(quoted):
    """What reviews of many jobs read, against the entries themselves in plain SQL."""
    with quoted.session() as session:
        for minutes in ("31.5", "8.25", "0.5"):
            log_minutes(session, NUMBER, "sawing", D(minutes), **WHEN)
        log_minutes(session, NUMBER, "sawing", D(4), rework=True, reason="cut short", **WHEN)
        start_timer(session, NUMBER, "bending", person="Wyn", at=NOW, on=TODAY)
        start_timer(session, NUMBER, "welding", person="Ebba", at=NOW, on=TODAY)
        later = NOW + timedelta(minutes=25)
        stop_timer(session, NUMBER, person="Wyn", at=later, rework=True, reason="cracked")
    with quoted.reading() as session:
        entries = session.execute(
            text(
                "SELECT operation, kind, SUM(minutes), SUM(cost) FROM time_entries WHERE minutes > 0 "
                "GROUP BY operation, kind ORDER BY operation, kind"
            )
        ).all()
        sums = session.execute(
            text("SELECT operation, kind, minutes, cost FROM minute_sums ORDER BY operation, kind")
        ).all()
        assert sums == entries
        assert [row[:2] for row in sums] == [
            ("bending", "rework"), ("sawing", "rework"), ("sawing", "work"),
        ]  # fmt: skip
        assert list(minutes_add_up(session)) == []


@pytest.mark.parametrize(
    "statement, told",
    [
        ("UPDATE minute_sums SET cost = cost + 100", "come to 0 min and -0.01 more than is kept"),
        ("UPDATE time_entries SET minutes = minutes + 1000000", "come to 1 min and 0 more"),
        ("DELETE FROM minute_sums", "come to 5 min and 3.17 more"),
        ("DELETE FROM time_entries", "come to -5 min and -3.17 more"),
    ],
)
def test_minutes_that_do_not_add_up_are_found(quoted, statement, told):
    with quoted.session() as session:
        log_minutes(session, NUMBER, "sawing", D(5), **WHEN)  # at 38 an hour
        assert list(minutes_add_up(session)) == []
        session.execute(text(statement))
        (fault,) = minutes_add_up(session)
    assert f"job {NUMBER}, sawing (work)" in fault.text and told in fault.text


def test_minutes_of_a_quote_that_do_not_add_up_are_found(quoted):
    with quoted.session() as session:
        session.execute(text("UPDATE quote_operations SET minutes = minutes + 1 WHERE operation = 'sawing'"))
        (fault,) = minutes_add_up(session)
    assert "revision 1, sawing: its minutes come to -0.000001 min and 0 more than is kept" in fault.text


def test_one_person_has_one_timer(writing):
    number = NUMBER
    start_timer(writing, number, "bending", person="Wyn", at=NOW, on=TODAY)
    start_timer(writing, number, "welding", person="Ebba", at=NOW, on=TODAY)
    with pytest.raises(InputError, match="already runs"):
        start_timer(writing, number, "sawing", person="Wyn", at=NOW, on=TODAY)
    with pytest.raises(NotFoundError, match="No timer of Tomas"):
        stop_timer(writing, number, person="Tomas", at=NOW)


def test_a_forgotten_timer_asks_for_the_real_minutes(writing):
    number = NUMBER
    start_timer(writing, number, "bending", person="", at=NOW, on=TODAY)
    with pytest.raises(InputError, match="16 hours"):
        stop_timer(writing, number, person="", at=NOW + timedelta(hours=17))
    stopped = stop_timer(writing, number, person="", at=NOW + timedelta(hours=17), minutes=D(40))
    assert stopped.minutes == 40


def test_bars_take_the_stock_price_of_the_day_or_the_cost_said(writing):
    number = NUMBER
    from_list = log_bars(writing, number, "round 12", "s275", "6000", 3, **WHEN)
    said = log_bars(writing, number, "round 12", "S275", "6 m", 1, **WHEN, cost=D("9.995"))
    assert from_list.cost > 0
    assert said.cost == D("10.00")  # rounded half up once
    assert [row.section_key for row in writing.scalars(select(BarUse))] == ["round 12", "round 12"]


def test_bars_used_before_the_first_price_list_take_the_price_of_today(writing):
    now = log_bars(writing, NUMBER, "round 12", "S275", "6000", 1, **WHEN)
    before = log_bars(
        writing, NUMBER, "round 12", "S275", "6000", 1, **{**WHEN, "on": TODAY - timedelta(days=300)}
    )
    assert before.cost == now.cost > 0


def test_bars_without_a_price_on_file_need_a_cost(writing):
    number = NUMBER
    with pytest.raises(NotFoundError) as caught:
        log_bars(writing, number, "round 12", "S275", "4321", 1, **WHEN)
    assert "--cost" in str(caught.value)
    with pytest.raises(NotFoundError, match="S2750"):
        log_bars(writing, number, "round 12", "S2750", "6000", 1, **WHEN)


def test_what_is_left_of_bars_goes_on_the_rack_with_its_share_of_the_cost(writing):
    number = NUMBER
    logged = log_bars(
        writing, number, "round 12", "S275", "6000", 2, cost=D("24.00"), returned=["3 m", "600"], **WHEN
    )
    assert logged.cost == D("16.80")  # 24.00 less 3600 of 12 000 mm
    left = writing.scalars(select(RackPiece).order_by(RackPiece.id)).all()
    assert [(piece.length.mm, piece.cost, piece.state) for piece in left] == [
        (3000, D("6.00"), "free"), (600, D("1.20"), "free"),
    ]  # fmt: skip
    with pytest.raises(InputError, match="more than the bars had"):
        log_bars(writing, number, "round 12", "S275", "6000", 1, cost=D(9), returned=["7 m"], **WHEN)


def test_a_rack_piece_brings_its_own_cost_less_what_came_back(writing):
    number = NUMBER
    bar = parse_section("round 12", "mm")
    code = add_pieces(writing, bar, "round 12", "S275", mm("6000"), cost=D("12.00"), on=TODAY)[0].code
    used = log_piece(writing, number, code, returned=["3 m"], **WHEN)
    assert used.cost == D("6.00")
    with pytest.raises(InputError, match=code):
        log_piece(writing, number, code, **WHEN)
    # 7.77 x 333 / 1450 = 1.7844: what comes back is credited in whole cents, and so is what it costs there.
    code = add_pieces(writing, bar, "round 12", "S275", mm("1450"), cost=D("7.77"), on=TODAY)[0].code
    assert log_piece(writing, number, code, returned=["333"], **WHEN).cost == D("5.99")
    use = writing.scalars(select(BarUse).where(BarUse.cost == D("7.77"))).one()
    back = writing.scalars(select(RackPiece).where(RackPiece.length == mm("333").length)).one()
    assert use.credit == back.cost == D("1.78")


def test_money_in_and_out(writing):
    number = NUMBER
    assert log_bought(writing, number, "M6 bolt", D("4.125"), **WHEN, count=D(16)).cost == D("4.13")
    assert log_outside(writing, number, "galvanising", D("92.40"), **WHEN, supplier="Zinc").cost == D("92.40")
    log_invoice(writing, number, "R-1", D("700"), reason="agreed", **WHEN)
    log_invoice(writing, number, "R-1", D("50"), **WHEN, credit=True, reason="scratched")
    with pytest.raises(InputError, match="on file already"):
        log_invoice(writing, number, "R-1", D("700"), **WHEN)
    with pytest.raises(InputError, match="at least 0"):
        log_bought(writing, number, "bolt", D("-1"), **WHEN)


def test_payments_of_an_invoice_are_logged_asked_about_and_taken_back(writing):
    the_shop(writing).payment_days = 14
    log_minutes(writing, NUMBER, "sawing", D(5), **WHEN)
    log_invoice(writing, NUMBER, "R-1", D("60"), **WHEN)
    log_invoice(writing, NUMBER, "R-2", D("40"), due=TODAY, **WHEN)
    job = find_job(writing, NUMBER).id
    dues = {row.number: row.due_on for row in writing.scalars(select(Invoice))}
    assert dues == {"R-1": TODAY + timedelta(days=14), "R-2": TODAY}
    on = {"on": TODAY, "today": TODAY}
    assert log_payment(writing, NUMBER, "r-1", D("45"), **on).note == "15.00 is open."
    late = TODAY + timedelta(days=15)
    assert money_in(writing, today=TODAY)[job] == (1_000_000, 0, 450_000, 0)
    assert money_in(writing, today=late)[job].overdue == 550_000
    with pytest.raises(InputError, match=r"15.01 EUR is more than the 15.00 that are open"):
        log_payment(writing, NUMBER, "R-1", D("15.01"), **on)
    with pytest.raises(NotFoundError, match="no invoice 'R-3'; there are R-1, R-2"):
        log_payment(writing, NUMBER, "R-3", None, **on)
    with pytest.raises(InputError, match="before invoice"):
        log_payment(writing, NUMBER, "R-1", None, on=TODAY - timedelta(days=1), today=TODAY)
    # Without an amount all that is open is paid, of a closed job too.
    close_job(writing, NUMBER, on=TODAY, at=NOW)
    assert log_payment(writing, NUMBER, "R-1", None, **on).cost == D("15.00")
    with pytest.raises(InputError, match="nothing of it is open"):
        log_payment(writing, NUMBER, "R-1", None, **on)
    assert money_in(writing, today=late)[job].overdue == 400_000
    (row,) = review_many(writing, Filters(), today=late).jobs
    assert (row.invoiced_so_far, row.paid, row.overdue) == (100, 60, 40)
    rows = logged_so_far(writing, NUMBER).rows
    with pytest.raises(InputError, match="closed"):
        strike_entry(writing, NUMBER, 1, "why", at=NOW)
    # The credits of another customer may have the same numbers.
    other = add_job(writing, load_job(writing, NUMBER).spec, at=NOW)
    writing.add(Invoice(job_id=other.id, number="R-2", invoiced_on=TODAY, amount=D(30), kind="credit"))
    with pytest.raises(InputError, match=r"40.01 EUR is more than the 40.00 that are open"):
        log_payment(writing, NUMBER, "R-2", D("40.01"), **on)
    last = rows[-1]
    assert (last.kind, last.what, last.cost) == ("payment", "R-1", D(15))
    strike_entry(writing, NUMBER, last.number, "of another job", at=NOW)
    assert money_in(writing, today=late)[job].overdue == 550_000
    # More than was invoiced is neither credited nor paid without a word.
    reopen_job(writing, NUMBER, "late entries", on=TODAY, at=NOW)
    with pytest.raises(InputError, match=r"Credit R-1 of 101.00 EUR is more than the 100.00 invoiced"):
        log_invoice(writing, NUMBER, "R-1", D(101), credit=True, **WHEN)
    which = next(row.number for row in rows if row.what == "R-1" and row.kind == "invoice")
    with pytest.raises(InputError, match="has payments; take them back first"):
        strike_entry(writing, NUMBER, which, "why", at=NOW)


def test_a_closed_job_is_invoiced_as_far_as_its_price_and_no_further(writing):
    """Nobody reopens a job to write its last invoice; what would change what it earned needs that."""
    log_invoice(writing, NUMBER, "R-1", D(30), **WHEN)
    log_minutes(writing, NUMBER, "sawing", D(10), **WHEN)
    close_job(writing, NUMBER, on=TODAY, at=NOW)
    (before,) = review_many(writing, Filters(), today=TODAY).jobs
    left = before.to_invoice
    log_invoice(writing, NUMBER, "R-2", left - 1, **WHEN)
    for more in ({}, {"reason": "more was agreed"}, {"credit": True, "lowers": "R-1", "reason": "scratched"}):
        with pytest.raises(
            InputError, match=r"closed; its figures stand, and 1.00 EUR of its price are"
        ) as no:
            log_invoice(writing, NUMBER, "R-3", D("1.01"), **more, **WHEN)
        assert "--reopen" in no.value.hint
    log_invoice(writing, NUMBER, "R-3", D(1), **WHEN)
    (after,) = review_many(writing, Filters(), today=TODAY).jobs
    assert (after.price, after.to_invoice) == (before.price, 0)
    # Typed wrong, it is taken back as it came.
    (wrong,) = (row for row in logged_so_far(writing, NUMBER).rows if row.what == "R-2")
    strike_entry(writing, NUMBER, wrong.number, "another number", at=NOW)
    (back,) = review_many(writing, Filters(), today=TODAY).jobs
    assert back.price == before.price and back.to_invoice == left - 1


def test_an_invoice_of_more_than_was_quoted_is_not_taken_back_from_a_closed_job(writing):
    log_invoice(writing, NUMBER, "R-1", D(90_000), reason="painted too", **WHEN)
    log_minutes(writing, NUMBER, "sawing", D(10), **WHEN)
    close_job(writing, NUMBER, on=TODAY, at=NOW)
    (paper,) = (row for row in logged_so_far(writing, NUMBER).rows if row.kind == "invoice")
    with pytest.raises(InputError, match=r"its figures stand, and 0\.00 EUR"):
        strike_entry(writing, NUMBER, paper.number, "why", at=NOW)


def test_a_credit_lowers_the_invoice_that_it_names_else_the_only_one(writing):
    on = {"on": TODAY, "today": TODAY}
    log_invoice(writing, NUMBER, "R-1", D(60), **WHEN)
    done = log_invoice(writing, NUMBER, "C-1", D(10), credit=True, reason="scratched", **WHEN)
    assert done.what == "credit C-1 of invoice R-1"
    with pytest.raises(InputError, match=r"50.01 EUR is more than the 50.00 that are open"):
        log_payment(writing, NUMBER, "R-1", D("50.01"), **on)
    log_invoice(writing, NUMBER, "R-2", D(40), **WHEN)
    credit = {"credit": True, "reason": "scratched", **WHEN}
    with pytest.raises(InputError, match=r"R-1, R-2: which of them does credit C-2 lower"):
        log_invoice(writing, NUMBER, "C-2", D(5), **credit)
    assert LogWords(credit="C-2", invoice="r-2", amount="5").mistake() == ""
    words = LogWords(credit="C-2", invoice="r-2", amount="5", reason="late")
    assert log_words(writing, NUMBER, words, at=NOW).rows[0].what == "credit C-2 of invoice R-2"
    # One that bears an invoice's own number says so itself.
    assert log_invoice(writing, NUMBER, "r-1", D(1), **credit).what == "credit r-1 of invoice R-1"
    assert [log_payment(writing, NUMBER, name, None, **on).cost for name in ("R-1", "R-2")] == [49, 35]
    rows = {row.what: row.number for row in logged_so_far(writing, NUMBER).rows if row.kind != "payment"}
    for _ in range(2):
        paid = next(row for row in logged_so_far(writing, NUMBER).rows if row.kind == "payment")
        strike_entry(writing, NUMBER, paid.number, "of another job", at=NOW)
    with pytest.raises(InputError, match="R-1 has credits; take them back first"):
        strike_entry(writing, NUMBER, rows["R-1"], "why", at=NOW)


def test_an_invoice_starts_no_work_and_its_number_stands_once_in_any_case(writing):
    done = log_invoice(writing, NUMBER, "Dep-1", D(20), **WHEN)
    assert done.note == f"{NUMBER} was quoted and is now won."
    assert log_invoice(writing, NUMBER, "R-2", D(20), **WHEN).note == ""
    with pytest.raises(InputError, match=f"invoice Dep-1 is on file already, for {NUMBER}"):
        log_invoice(writing, NUMBER, "DEP-1", D(20), **WHEN)
    with pytest.raises(InputError, match="expected that day or a later one") as refused:
        log_invoice(writing, NUMBER, "R-3", D(20), due=TODAY - timedelta(days=1), **WHEN)
    assert "--on DATE" in (refused.value.hint or "")
    assert log_bought(writing, NUMBER, "M6 bolt", D(4), **WHEN).note.startswith(
        f"{NUMBER} was won and is now"
    )


def test_scrap_needs_a_mark_of_the_job_and_a_reason(writing):
    number = NUMBER
    assert log_scrap(writing, number, "A", 1, **WHEN, reason="bent the wrong way").what == "1 x A scrapped"
    made = pieces_to_make(writing, find_job(writing, number))["A"]
    told = log_scrap(writing, number, "A", made + 1, **WHEN, reason="cracked").what
    assert told == f"{made + 1} x A scrapped, where {made} are to be made"
    with pytest.raises(NotFoundError, match="no part 'Z'"):
        log_scrap(writing, number, "Z", 1, **WHEN, reason="cut short")
    with pytest.raises(InputError, match="reason"):
        log_scrap(writing, number, "A", 1, **WHEN, reason=" ")


@pytest.mark.parametrize(
    "words, message",
    [
        (LogWords(operation="welding"), "--operation needs --minutes"),
        (LogWords(bar="round 12"), "--bar needs --grade"),
        (LogWords(minutes="5"), "--minutes needs one of"),
        (LogWords(bought="bolt"), "--bought needs --cost"),
        (LogWords(operation="welding", minutes="5", cost="3"), "--cost does not go with --operation"),
        (LogWords(start=True), "--start needs --operation"),
        (LogWords(stop=True, person="Wyn"), ""),
        (LogWords(operation="welding", minutes="5", on="2026-03-02"), ""),
    ],
)
def test_words_that_do_not_go_together_are_told(words, message):
    assert words.mistake().startswith(message)
    assert bool(words.mistake()) == bool(message)


def test_the_log_of_a_job_is_shown_by_day(writing):
    number = NUMBER
    log_words(writing, number, LogWords(operation="welding", minutes="30", on="2026-03-05"), at=NOW)
    log_words(writing, number, LogWords(operation="sawing", minutes="10", on="2026-03-04"), at=NOW)
    log_words(writing, number, LogWords(invoice="R-9", amount="100", on="2026-03-09"), at=NOW)
    rows = logged_so_far(writing, number).rows
    assert [(row.day.day, row.what) for row in rows] == [(4, "sawing"), (5, "welding"), (9, "R-9")]


def test_a_refused_entry_stores_nothing(quoted):
    with pytest.raises(InputError), quoted.session() as session:
        log_minutes(session, NUMBER, "sawing", D(-1), **WHEN)
    with quoted.reading() as session:
        assert find_job(session, NUMBER).state == "quoted"
        assert session.scalars(select(TimeEntry)).all() == []


def test_bars_that_lie_ready_on_the_rack_are_pointed_to(writing):
    number = NUMBER
    bar = parse_section("round 12", "mm")
    code = add_pieces(writing, bar, "round 12", "S275", mm("6000"), on=TODAY)[0].code
    promise_pieces(writing, [code], number)
    logged = log_bars(writing, number, "round 12", "S275", "6000", 1, cost=D(9), **WHEN)
    assert f"--piece {code}" in logged.note


@pytest.mark.parametrize(
    ("locale", "text", "amount"),
    [
        ("en_GB", "12.50", "12.50"), ("en_GB", "1,250", "1250"), ("en_GB", "1,250.40", "1250.40"),
        ("en_GB", "12,50", "12.50"), ("en_GB", "1.250,40", "1250.40"), ("de_DE", "1,250", "1.25"),
        ("fr_FR", "1 250,40", "1250.40"),
    ],
)  # fmt: skip
def test_costs_and_minutes_are_read_alike_by_the_locale_of_the_shop(writing, locale, text, amount):
    the_shop(writing).locale = locale
    done = log_words(writing, NUMBER, LogWords(bought="wood screws", cost=text), at=NOW)
    assert done.rows[0].cost == D(amount)
    if D(amount) < 1440:
        done = log_words(writing, NUMBER, LogWords(operation="welding", minutes=text, sure=True), at=NOW)
        assert done.rows[0].minutes == D(amount)


@pytest.mark.parametrize(("locale", "text"), [("de_CH", "1,250"), ("de_DE", "1.250")])
def test_what_stays_unsure_is_refused_with_both_readings(writing, locale, text):
    the_shop(writing).locale = locale
    for words in (LogWords(bought="wood screws", cost=text), LogWords(operation="welding", minutes=text)):
        with pytest.raises(InputError, match=r"may mean 1250 or 1\.25"):
            log_words(writing, NUMBER, words, at=NOW)


def test_a_part_of_a_shared_bar_is_shown_as_on_sheets(writing):
    part = BarUse(
        job_id=find_job(writing, NUMBER).id, section_key=parse_section("round 12", "mm").key,
        section_text="round 12", grade="S275", length=mm("1099.572516").length, count=1, cost=D(3),
        used_on=TODAY, kind="work", source="rack R-0001",
    )  # fmt: skip
    writing.add(part)
    writing.flush()
    assert "1 x round 12 S275, 1100 mm" in [row.what for row in logged_so_far(writing, NUMBER).rows]


def entries(session, *kinds):
    rows = logged_so_far(session, NUMBER).rows
    return [(row.number, row.kind, row.what) for row in rows if not kinds or row.kind in kinds]


def test_minutes_that_are_taken_back_count_for_nothing_and_stay_readable(writing):
    log_minutes(writing, NUMBER, "bending", D(30), **WHEN)
    log_minutes(writing, NUMBER, "bending", D(45), person="Ada", **WHEN)
    struck = strike_entry(writing, NUMBER, 1, "another job's", at=NOW)
    assert (struck.minutes, writing.scalars(select(TimeEntry.minutes)).all()) == (-30, [D(45)])
    assert list(minutes_add_up(writing)) == []
    assert entries(writing) == [(1, "minutes", "bending"), (None, "minutes, taken back", "bending")]
    assert "another job's" in logged_so_far(writing, NUMBER).rows[-1].note
    strike_entry(writing, NUMBER, 1, "nobody bent it", at=NOW)
    assert list(minutes_add_up(writing)) == []
    assert [number for number, _, _ in entries(writing)] == [None, None]


def test_every_kind_of_entry_can_be_taken_back(writing):
    log_bars(writing, NUMBER, "round 12", "S275", "6000", 2, cost=D(14), **WHEN)
    log_bought(writing, NUMBER, "bolts", D(5), **WHEN)
    log_outside(writing, NUMBER, "zinc", D(90), **WHEN)
    log_invoice(writing, NUMBER, "R-1", D(500), reason="agreed", **WHEN)
    log_scrap(writing, NUMBER, "A", 1, reason="bent wrong", **WHEN)
    for _ in range(5):
        strike_entry(writing, NUMBER, 1, "all of another job", at=NOW)
    rows = logged_so_far(writing, NUMBER).rows
    assert [row.number for row in rows] == [None] * 5
    assert sum(row.cost for row in rows) == 14 + 5 + 90 + 500


def test_a_piece_that_was_not_cut_lies_on_the_rack_again(writing):
    (piece,) = add_pieces(writing, parse_section("round 12", "mm"), "round 12", "S275", mm("3000"), cost=D(9))
    promise_pieces(writing, [piece.code], NUMBER)
    log_piece(writing, NUMBER, piece.code, returned=["1200"], **WHEN)
    struck = strike_entry(writing, NUMBER, 1, "the wrong bar", at=NOW)
    assert piece.code in struck.note
    (left,) = writing.scalars(select(RackPiece)).all()
    assert (left.code, left.state, left.cost) == (piece.code, "promised", D(9))
    assert writing.scalars(select(BarUse)).all() == []
    assert list(bar_is_accounted_for(writing)) == []


def test_a_cut_that_served_two_jobs_is_taken_back_readably_in_both(writing):
    other = quoted_job(writing, hoops(title="Other hoops"))
    (piece,) = add_pieces(writing, parse_section("round 12", "mm"), "round 12", "S275", mm("3000"), cost=D(9))
    load = [(NUMBER, "A", mm("1000").length, 1), (other, "A", mm("500").length, 1)]
    promise_pieces(writing, [piece.code], NUMBER, load=load)
    log_piece(writing, NUMBER, piece.code, **WHEN)
    borne = [row.cost for row in logged_so_far(writing, other).rows]
    assert borne == [D(3)]  # a third of what is cut is its own
    strike_entry(writing, NUMBER, 1, "the wrong bar", at=NOW)
    for number, cost in ((NUMBER, D(6)), (other, D(3))):
        (row,) = logged_so_far(writing, number).rows
        assert (row.kind, row.number, row.cost) == ("bars, taken back", None, cost)
        assert "the wrong bar" in row.note


def test_what_came_back_of_bars_is_never_credited_above_their_cost(writing):
    log_bars(writing, NUMBER, "round 12", "S275", "6 m", 1, **WHEN, cost=D("0.01"), returned=["3000", "3000"])
    (use,) = writing.scalars(select(BarUse)).all()
    assert (use.cost, use.credit) == (D("0.01"), D("0.01"))


def test_a_piece_whose_offcut_is_used_stays_used(writing):
    (piece,) = add_pieces(writing, parse_section("round 12", "mm"), "round 12", "S275", mm("3000"), cost=D(9))
    log_piece(writing, NUMBER, piece.code, returned=["1200"], **WHEN)
    (child,) = writing.scalars(select(RackPiece.code).where(RackPiece.parent_id == piece.id)).all()
    log_piece(writing, NUMBER, child, **WHEN)
    with pytest.raises(InputError, match=f"{child}.*is used"):
        strike_entry(writing, NUMBER, 1, "the wrong bar", at=NOW)


def test_taking_back_needs_a_reason_an_entry_and_an_open_job(writing):
    log_minutes(writing, NUMBER, "bending", D(30), **WHEN)
    with pytest.raises(InputError, match="reason"):
        strike_entry(writing, NUMBER, 1, " ", at=NOW)
    with pytest.raises(NotFoundError, match="1 to 1"):
        strike_entry(writing, NUMBER, 2, "why", at=NOW)
    close_job(writing, NUMBER, on=TODAY, at=NOW)
    with pytest.raises(InputError, match="closed"):
        strike_entry(writing, NUMBER, 1, "why", at=NOW)


def test_ten_times_the_plan_in_one_entry_asks(writing):
    with pytest.raises(InputError, match="the quote plans") as asked:
        log_minutes(writing, NUMBER, "bending", D(9999), **WHEN)
    assert "--sure" in asked.value.hint
    assert writing.scalars(select(TimeEntry)).all() == []
    log_minutes(writing, NUMBER, "bending", D(9999), sure=True, **WHEN)


def test_more_than_a_day_in_one_entry_asks_where_nothing_is_planned(writing):
    """Of an operation that the quote has not, and of a job that was never quoted."""
    unquoted = add_job(writing, hoops(title="Not quoted"), at=NOW).number
    for number, operation in ((unquoted, "bending"), (NUMBER, "turning")):
        with pytest.raises(InputError, match=f"no quote plans any for {number}") as asked:
            log_minutes(writing, number, operation, D(1441), **WHEN)
        assert "--sure" in asked.value.hint
        log_minutes(writing, number, operation, D(1440), **WHEN)
        log_minutes(writing, number, operation, D(1441), sure=True, **WHEN)


@pytest.mark.parametrize("typed", ["ADA  marsh", " ada marsh ", "Ada\tMarsh"])
def test_a_person_is_one_however_the_name_is_typed(writing, typed):
    log_minutes(writing, NUMBER, "welding", D(10), person="Ada Marsh", **WHEN)
    log_minutes(writing, NUMBER, "welding", D(10), person=typed, **WHEN)
    start_timer(writing, NUMBER, "bending", person=typed, at=NOW, on=TODAY)
    with pytest.raises(InputError, match="already runs"):
        start_timer(writing, NUMBER, "welding", person="Ada Marsh", at=NOW, on=TODAY)
    stop_timer(writing, NUMBER, person=typed.upper(), at=NOW + timedelta(minutes=5))
    mark = load_job(writing, NUMBER).spec.parts[0].mark
    log_scrap(writing, NUMBER, mark, 1, reason="cracked", person=typed, **WHEN)
    people = {row.person for row in logged_so_far(writing, find_job(writing, NUMBER).number).rows}
    assert people == {"Ada Marsh"}
    # Who comes on the list later is written there as he shall be from then on.
    set_entry(writing, "people", ["ADA MARSH", "38"], on=TODAY)
    log_minutes(writing, NUMBER, "welding", D(10), person=typed, **WHEN)
    assert set(writing.scalars(select(TimeEntry.person))) == {"ADA MARSH"}
    assert list(names_stand_once(writing)) == []


def test_who_only_scrapped_is_one_however_the_name_is_typed(writing):
    mark = load_job(writing, NUMBER).spec.parts[0].mark
    for typed in ("Ada Marsh", "ada  marsh"):
        log_scrap(writing, NUMBER, mark, 1, reason="cracked", person=typed, **WHEN)
    assert set(writing.scalars(select(ScrapNote.person))) == {"Ada Marsh"}
    assert list(names_stand_once(writing)) == []


@pytest.mark.parametrize("typed", ["FIT-UP", "fit up", " Fit  up ", "fitup", "Fit \u2013 Up", "fit\u2011up"])
def test_an_operation_is_one_however_it_is_typed(writing, typed):
    log_minutes(writing, NUMBER, typed, D(10), **WHEN)
    assert set(writing.scalars(select(TimeEntry.operation))) == {"fit-up"}


def test_who_sent_a_bill_is_one_however_he_is_typed(writing):
    known = writing.scalars(select(Supplier.name)).first()
    for supplier in (known.upper(), f" {known.lower()} ", "Dipwell Zinc", "DIPWELL  zinc"):
        log_outside(writing, NUMBER, "galvanising", D(10), supplier=supplier, **WHEN)
    assert set(writing.scalars(select(OutsideBill.supplier))) == {known, "Dipwell Zinc"}
    set_entry(writing, "suppliers", ["Dipwell ZINC"], on=TODAY)
    assert set(writing.scalars(select(OutsideBill.supplier))) == {known, "Dipwell ZINC"}
