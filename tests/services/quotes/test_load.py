"""What is left of open jobs against people's hours, the sums on both databases."""

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import func, select

from shopquote.calc.load import monday_of
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.tables.load_tables import load_json, print_load
from shopquote.records.orders import Order, OrderJob
from shopquote.records.people import Supplier
from shopquote.records.quotes import QuoteOperation
from shopquote.services.floor.time_log import log_minutes
from shopquote.services.jobs.jobs import add_job, find_job, set_state
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.load import ASSUMED_NOTE, look_ahead
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.shop.database import open_database
from shopquote.services.shop.lists import set_entry
from shopquote.services.shop.shop_on_file import the_shop
from tests.services.quoted_shop import quoted_copy
from tests.services.review_jobs import NOW, TODAY, hoops, quoted_job

D = Decimal
# Two of five days are left of the week of 9 March 2026, a Monday, from its Thursday on.
THURSDAY = TODAY + timedelta(3)


def _won(session) -> None:
    set_entry(session, "people", ["Ebba", "38"], on=TODAY)
    set_state(session, "1", "won", at=NOW)


@pytest.fixture
def open_shop(_shop_file, tmp_path):
    """A session of a shop with Ebba, who does all, and one job that is won."""
    with open_database(str(quoted_copy(_shop_file, tmp_path))) as database, database.session() as session:
        _won(session)
        yield session


def quoted_minutes(session) -> Decimal:
    return session.scalar(select(func.sum(QuoteOperation.minutes)))


def test_what_is_left_is_the_quote_less_the_log_and_the_weeks_hold_it(any_shop):
    with any_shop.session() as session:
        quoted_job(session)
        _won(session)
        what_is_left(session)


def what_is_left(open_shop) -> None:
    before = look_ahead(open_shop, on=TODAY)
    assert before.jobs[0].placed.minutes == quoted_minutes(open_shop)
    assert sum(week.booked for week in before.load.weeks) == quoted_minutes(open_shop)
    log_minutes(open_shop, "1", "sawing", D(5), on=TODAY, today=TODAY, at=NOW)
    rework = {"rework": True, "reason": "bent", "on": TODAY, "today": TODAY, "at": NOW}
    log_minutes(open_shop, "1", "bending", D(5), **rework)
    after = look_ahead(open_shop, on=TODAY)
    assert after.jobs[0].placed.minutes == quoted_minutes(open_shop) - 5
    # Once more than was quoted is logged nothing is left of it; it makes no room for other work.
    log_minutes(open_shop, "1", "sawing", D(500), on=TODAY, today=TODAY, at=NOW, sure=True)
    sawn = look_ahead(open_shop, on=TODAY).jobs[0].placed.work.minutes["sawing"]
    assert sawn < 0 < look_ahead(open_shop, on=TODAY).jobs[0].placed.minutes


def test_hours_of_a_week_are_those_of_people_less_their_days_off(open_shop):
    set_entry(open_shop, "people", ["Wyn", "20", "days=4"], on=TODAY)
    set_entry(open_shop, "days-off", ["16.3.2026", "17.3.2026", "person=wyn"], on=TODAY)
    set_entry(open_shop, "days-off", ["2026-03-20", "note=holiday"], on=TODAY)
    weeks = look_ahead(open_shop, on=THURSDAY, weeks=2).load.weeks
    assert weeks[0].minutes == 60 * (2 * D("7.6") + 5)
    assert weeks[1].minutes == 60 * (4 * D("7.6") + 2 * 5)


def test_bars_on_order_are_waited_for(open_shop):
    job, supplier = find_job(open_shop, "1"), open_shop.scalar(select(Supplier).limit(1))
    due = monday_of(TODAY) + timedelta(14)
    order = Order(number="O-0001", supplier=supplier, placed_on=TODAY, due_on=due, currency="EUR")
    order.jobs.append(OrderJob(job=job))
    open_shop.add(order)
    open_shop.flush()
    assert look_ahead(open_shop, on=TODAY).jobs[0].placed.begins == due
    order.state = "received"
    open_shop.flush()
    assert look_ahead(open_shop, on=TODAY).jobs[0].placed.begins == TODAY


def test_the_day_to_promise_lies_behind_the_open_jobs(open_shop):
    first = look_ahead(open_shop, on=TODAY, hours=D(76))
    # Two weeks of Ebba's besides the open job, which takes less than a day.
    assert (first.first_day - TODAY).days in (14, 15)
    assert first.asked == "a new job of 76 hours"
    second = quoted_job(open_shop, hoops(title="More hoops"))
    asked = look_ahead(open_shop, on=TODAY, job_number=second)
    assert [one.placed.work.job for one in asked.jobs] == ["J-0001"] and asked.asked == second
    assert asked.first_day >= asked.jobs[0].placed.done
    assert len(look_ahead(open_shop, on=TODAY, with_quoted=True).jobs) == 2
    assert look_ahead(open_shop, on=TODAY, job_number="1").first_day == asked.jobs[0].placed.done


def test_what_is_not_known_is_told(open_shop, capsys):
    number = add_job(open_shop, hoops(title="Never quoted"), at=NOW).number
    with pytest.raises(InputError, match="no quote, so nothing says how long"):
        look_ahead(open_shop, on=TODAY, job_number=number)
    find_job(open_shop, number).state = "won"
    set_entry(open_shop, "people", ["Ebba", "operations=sawing"], on=TODAY)
    found = look_ahead(open_shop, on=TODAY)
    assert f"{number} is not counted: it has no quote." in found.notes
    assert any(note.startswith("Nobody on file has hours for") and "welding" in note for note in found.notes)
    assert found.jobs[0].placed.done is None and load_json(found, 8)["jobs"][0]["done"] is None
    print_load(found, 1)
    assert "First day that could be promised for a new job of 8 hours: 2026-03-" in capsys.readouterr().out
    with pytest.raises(NotFoundError):
        look_ahead(open_shop, on=TODAY, job_number="99")


def test_json_has_the_contract_keys_and_an_empty_shop_assumes_one_person(shop):
    with shop.reading() as session:
        found = load_json(look_ahead(session, on=TODAY, weeks=2), 2)
    assert found["weeks"][0] | {"from": TODAY} == {
        "week": "2026-W11", "from": TODAY, "hours": 40.0, "hours_booked": 0, "hours_free": 40.0,
        "by_operation": {},
    }  # fmt: skip
    assert (found["first_day"], found["notes"]) == (TODAY, (ASSUMED_NOTE,))


def test_a_lead_time_is_typed_or_worked_out_from_the_load_in_the_shops_language(open_shop):
    number = quoted_job(open_shop, hoops(title="More hoops"))

    def lead_time(wish=None):
        document = draft_quote(open_shop, number, TODAY, QuoteWishes(lead_time=wish)).document
        return document.wording.lead_time, document.estimate.notes

    assert lead_time()[0] == the_shop(open_shop).lead_time
    assert lead_time("by Easter")[0] == "by Easter"
    worked_out, notes = lead_time("Worked  out")
    assert worked_out == "1 week" and any("done on 2026-03-1" in note for note in notes)
    the_shop(open_shop).lead_time, the_shop(open_shop).locale = "worked out", "de_DE"
    set_entry(open_shop, "days-off", ["2026-03-10", "2026-03-23"], on=TODAY)
    assert lead_time()[0] == "3 Wochen"
    set_entry(open_shop, "people", ["Ebba", "operations=sawing"], on=TODAY)
    nothing, notes = lead_time()
    assert nothing == "" and any(note.startswith("No lead time stands on the quote") for note in notes)
