"""Closing: figures that stand, opening again with a reason, old figures printable."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import select

from shopquote.calc.bar.sections import parse_section
from shopquote.cli.log import _ask_what_is_missing
from shopquote.errors import InputError, NotFoundError
from shopquote.records.closings import Closing, ClosingLine
from shopquote.records.page import FloorEntry
from shopquote.records.rack import RackPiece
from shopquote.records.standards import StandardRow
from shopquote.services.floor.bar_log import log_bars
from shopquote.services.floor.bill_log import log_invoice
from shopquote.services.floor.delivery_note import delivery_note, record_delivery
from shopquote.services.floor.log import log_scrap
from shopquote.services.floor.time_log import log_minutes, start_timer
from shopquote.services.jobs.jobs import find_job, set_state
from shopquote.services.jobs.promises import still_promised
from shopquote.services.rack.rack import add_pieces, promise_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.review import job_review
from shopquote.services.review.close import close_job, reopen_job
from shopquote.services.review.good_pieces import short_of_good
from shopquote.services.review.job_review import (
    before_closing,
    missing_of,
    quote_of,
    read_snapshot,
    review_job,
    work_out,
    write_snapshot,
)
from shopquote.services.review.review_sums import job_figures
from shopquote.services.review.selection import Filters
from shopquote.services.safe.checks import bar_is_accounted_for, pieces_are_promised_once
from tests.services.review_jobs import NOW, TODAY, mm, quoted_job

D = Decimal
WHEN = {"on": TODAY, "today": TODAY, "at": NOW}


@pytest.fixture
def writing(shop):
    with shop.session() as session:
        yield session


def finished_job(session):
    number = quoted_job(session)
    log_minutes(session, number, "bending", D(95), **WHEN)
    log_minutes(session, number, "welding", D(40), **WHEN)
    log_minutes(session, number, "welding", D(12), rework=True, reason="cold weld", **WHEN)
    log_bars(session, number, "round 12", "S275", "6000", 3, cost=D("21.30"), **WHEN)
    log_invoice(session, number, "R-1", D("640.50"), reason="agreed", **WHEN)
    return number


def test_closing_moves_a_started_job_to_its_end(writing):
    number = finished_job(writing)
    review = close_job(writing, number, on=TODAY, at=NOW)
    job = find_job(writing, number)
    assert job.state == review.state == "closed"
    assert [change.to_state for change in job.state_changes][-2:] == ["finished", "closed"]


def test_the_kept_lines_add_up_to_the_closing(any_shop):
    with any_shop.session() as session:
        _check_kept_lines(session)


def _check_kept_lines(writing):
    close_job(writing, finished_job(writing), on=TODAY, at=NOW)
    closing = writing.scalars(select(Closing)).one()
    lines = writing.scalars(select(ClosingLine)).all()
    assert sum(line.estimated for line in lines) == closing.cost_estimated
    assert sum(line.actual for line in lines) == closing.cost_actual
    assert sum(line.minutes_actual for line in lines) == closing.minutes_actual > 147
    # Bending and welding were logged; the rest of the plan counts as quoted.
    logged = ("bending", "welding")
    others = [line for line in lines if line.category == "labour" and line.operation not in logged]
    assert others and all(line.minutes_actual == line.minutes_estimated for line in others)
    for line in lines:
        parts = line.part_quantity + line.part_time + line.part_rate + line.part_price
        assert parts == line.actual - line.estimated


def test_closed_figures_do_not_follow_later_rates(writing):
    number = finished_job(writing)
    before = close_job(writing, number, on=TODAY, at=NOW)
    writing.add(StandardRow(name="rate.welding", value=D(500), unit="money/h", since=TODAY))
    writing.flush()
    assert review_job(writing, number) == before


def test_late_entries_need_opening_and_the_old_figures_stay_printable(writing):
    number = finished_job(writing)
    first = close_job(writing, number, on=TODAY, at=NOW)
    later, then = TODAY + timedelta(days=3), NOW + timedelta(days=3)
    reopen_job(writing, number, "late bars", on=later, at=then)
    log_bars(
        writing, number, "flat 40 x 8", "S275", "6000", 1, cost=D("30.00"), on=later, today=later, at=then
    )
    second = close_job(writing, number, on=later, at=then)
    again = review_job(writing, number, closing=1)
    assert again.notes == (*first.notes, f"Opened again on {later}: late bars")
    assert replace(again, notes=first.notes) == first
    assert review_job(writing, number, closing=2) == second == review_job(writing, number)
    (flat,) = [line for line in first.lines if line.name == "flat 40 x 8 S275"]
    assert flat.actual == flat.estimated  # nobody had logged it
    assert second.total.actual - first.total.actual == D("30.00") - flat.estimated
    held = writing.scalars(select(Closing).order_by(Closing.id)).all()
    assert (held[0].reason, held[0].reopened_on, held[1].reopened_on) == ("late bars", later, None)
    with pytest.raises(NotFoundError, match="closed 2 times"):
        review_job(writing, number, closing=3)


def test_what_cannot_be_closed_says_why(writing):
    number = quoted_job(writing)
    with pytest.raises(InputError) as caught:
        close_job(writing, number, on=TODAY, at=NOW)
    assert "is quoted" in str(caught.value) and "shopquote log" in str(caught.value)
    start_timer(writing, number, "welding", person="Wyn", at=NOW, on=TODAY)
    with pytest.raises(InputError, match="timer of Wyn"):
        close_job(writing, number, on=TODAY, at=NOW)


def test_closing_twice_and_opening_what_is_open_are_refused(writing):
    number = finished_job(writing)
    with pytest.raises(InputError, match="not closed"):
        reopen_job(writing, number, "why", on=TODAY, at=NOW)
    close_job(writing, number, on=TODAY, at=NOW)
    with pytest.raises(InputError, match="is closed"):
        close_job(writing, number, on=TODAY, at=NOW)
    with pytest.raises(InputError, match="needs a reason"):
        reopen_job(writing, number, "  ", on=TODAY, at=NOW)


def test_a_snapshot_comes_back_exactly(writing):
    review = review_job(writing, finished_job(writing))
    assert read_snapshot(write_snapshot(review)) == review


def test_a_day_to_come_is_refused(writing):
    number = finished_job(writing)
    with pytest.raises(InputError, match="not come yet"):
        close_job(writing, number, on=TODAY + timedelta(days=1), at=NOW)
    close_job(writing, number, on=TODAY, at=NOW)
    with pytest.raises(InputError, match="not come yet"):
        reopen_job(writing, number, "late bill", on=TODAY + timedelta(days=1), at=NOW)


# As the first version wrote a closing; its figures must come back to the cent for ever.
FIRST_CLOSING = (
    '{"job": "J-0001", "title": "Tür", "customer": "Orla Fennimore", "state": "closed", '
    '"done_on": "2026-03-02", "sets": 4, "currency": "EUR", "quote": "Q-0001 revision 1", '
    '"quoted": "536.8800", "price": "540.00", "invoiced": true, "minutes_rework": "9.000", '
    '"scrapped": [["A", 1, "bent the wrong way"]], "assumed": ["bought"], "notes": [], '
    '"sentences": ["x"], "closed_on": "", "closing": 0, "lines": [{"category": "labour", '
    '"name": "sawing", "estimated": "15.83", "actual": "16.10", "quantity": "0", "time": "0.27", '
    '"rate": "0", "price": "0", "minutes_estimated": "25", "minutes_actual": "25.4", "rework": "0"}]}'
)  # fmt: skip


def test_a_closing_of_the_first_version_is_read_to_the_cent():
    review = read_snapshot(FIRST_CLOSING)
    assert (review.quoted, review.price, review.minutes_rework) == (
        Decimal("536.8800"), Decimal("540.00"), Decimal("9.000"),
    )  # fmt: skip
    assert review.scrapped == (("A", 1, "bent the wrong way"),)
    (line,) = review.lines
    assert (line.name, line.actual, line.time) == ("sawing", Decimal("16.10"), Decimal("0.27"))
    assert review.title == "Tür" and review.assumed == ("bought",)
    assert read_snapshot(write_snapshot(review)) == review


def test_a_text_that_is_no_closing_is_refused():
    for text in ("", "[]", '{"job": 1}'):
        with pytest.raises(InputError, match="cannot be read"):
            read_snapshot(text)


def test_work_that_nobody_logged_is_not_work_for_nothing(writing):
    number = quoted_job(writing)
    log_minutes(writing, number, "sawing", D(5), **WHEN)
    review = close_job(writing, number, on=TODAY, at=NOW)
    quoted = {line.name: line for line in review.lines}
    assert quoted["sawing"].minutes_actual == 5
    assert quoted["welding"].actual == quoted["welding"].estimated > 0
    assert review.categories["material"].actual == review.categories["material"].estimated
    assert abs(review.actual.margin_pct - review.estimated.margin_pct) < 15
    assert {"labour: welding", "material", "bought", "outside"} <= set(review.assumed)
    assert "labour: sawing" not in review.assumed
    assert review_job(writing, number).assumed == review.assumed
    (row,) = job_figures(writing, Filters(jobs=(number,)), "EUR")[0]
    assert row.assumed == review.assumed
    assert row.held_its_range is None


def test_what_really_cost_nothing_is_said(writing):
    number = quoted_job(writing)
    log_minutes(writing, number, "sawing", D(5), **WHEN)
    with pytest.raises(NotFoundError, match="weldng"):
        close_job(writing, number, on=TODAY, at=NOW, nothing=["weldng"])
    review = close_job(writing, number, on=TODAY, at=NOW, nothing=["Welding", "M6 bolt", "outside work"])
    lines = {line.name: line for line in review.lines}
    assert lines["welding"].actual == lines["M6 bolt"].actual == lines["outside work"].actual == 0
    assert "labour: welding" not in review.assumed


@pytest.mark.parametrize("finished_first", [False, True])
def test_bars_that_lie_ready_do_not_become_free_on_closing(writing, finished_first):
    number = quoted_job(writing)
    bar = parse_section("round 12", "mm")
    pieces = add_pieces(writing, bar, "round 12", "S275", mm("6000"), count=2, cost=D(7))
    promise_pieces(writing, [piece.code for piece in pieces], number)
    log_minutes(writing, number, "bending", D(95), **WHEN)
    if finished_first:
        job = set_state(writing, number, "finished", at=NOW)
        told = still_promised(writing, job)
        assert "2 bars promised" in told and all(piece.code in told for piece in pieces)
        assert list(pieces_are_promised_once(writing)) == []
    review = close_job(writing, number, on=TODAY, at=NOW)
    assert set(writing.scalars(select(RackPiece.state)).all()) == {"used"}
    # As much as was quoted, at what the bars cost: 7.00 for 6 m.
    (line,) = [line for line in review.lines if line.name == "round 12 S275"]
    (row,) = [
        row for row in quote_of(writing, find_job(writing, number)).materials if row.section_key == "round 12"
    ]
    assert line.as_quoted and line.actual == round(D(7) * row.bought.mm / 6000, 2) != line.estimated
    assert list(bar_is_accounted_for(writing)) == []


@pytest.mark.parametrize("own", [0, 2])
def test_what_another_job_logged_of_a_shared_bar_does_not_say_that_ones_own_bars_were_left(writing, own):
    """The job's own bars went back on the rack unsawn, and it looked cheap by their whole cost."""
    number, other = quoted_job(writing), quoted_job(writing)
    bar = parse_section("round 12", "mm")
    shared, *pieces = add_pieces(writing, bar, "round 12", "S275", mm("6000"), count=1 + own, cost=D(7))
    cuts = [(number, "A", mm("1000").length, 2), (other, "A", mm("1000").length, 1)]
    promise_pieces(writing, [shared.code], other, load=cuts)
    promise_pieces(writing, [piece.code for piece in pieces], number)
    use_bar(writing, shared.code, other, used_on=TODAY)
    log_minutes(writing, number, "bending", D(95), **WHEN)
    review = close_job(writing, number, on=TODAY, at=NOW)
    assert {piece.state for piece in (shared, *pieces)} == {"used"}
    assert ("material: round 12 S275" in review.assumed) == bool(own)
    assert list(bar_is_accounted_for(writing)) == []


def test_bars_that_were_not_needed_become_free_when_it_is_said(writing):
    number = quoted_job(writing)
    bar = parse_section("round 12", "mm")
    (piece,) = add_pieces(writing, bar, "round 12", "S275", mm("6000"), cost=D(7))
    promise_pieces(writing, [piece.code], number)
    log_minutes(writing, number, "bending", D(95), **WHEN)
    close_job(writing, number, on=TODAY, at=NOW, nothing=["round 12 S275"])
    assert piece.state == "free"


def test_an_operation_with_a_hundredth_of_its_plan_is_asked_about(writing, monkeypatch):
    """It has an entry, so that it is no gap, and counts as all of the work: people are asked."""
    number = quoted_job(writing)
    (planned,) = [
        line for line in work_out(writing, find_job(writing, number)).lines if line.name == "bending"
    ]
    some = round(planned.minutes_estimated / 100, 2)
    log_minutes(writing, number, "bending", some, **WHEN)
    words = f"bending: {round(some)} min logged of {round(planned.minutes_estimated)} planned"
    assert any(words in note for note in review_job(writing, number).notes)
    asked = []
    monkeypatch.setattr("typer.confirm", lambda question: bool(asked.append(question)))
    with pytest.raises(InputError, match="stays open"):
        _ask_what_is_missing(writing, number, missing_of(writing, find_job(writing, number)).names)
    assert asked == ["Is that all of it?"]
    log_minutes(writing, number, "bending", planned.minutes_estimated / 2, **WHEN)
    assert not any(words in note for note in review_job(writing, number).notes)
    _ask_what_is_missing(writing, number, missing_of(writing, find_job(writing, number)).names)
    assert len(asked) == 1


def counted(session, number, mark, good, operation="bending"):
    job = find_job(session, number)
    session.add(
        FloorEntry(
            key=f"{mark}-{operation}", kind="stop", person="Wyn", job_id=job.id, mark=mark, entered_at=NOW,
            content={"good": str(good)}, answer=f"{operation}, 20 min",
        )
    )  # fmt: skip
    session.flush()


def test_good_pieces_that_are_short_are_told_and_asked_about(writing, monkeypatch):
    """Eight hoops and eight rails: nobody is asked who counts nothing, who spoils one or counts seven is."""
    number = finished_job(writing)
    job = find_job(writing, number)
    assert short_of_good(writing, job) == ()
    log_scrap(writing, number, "A", 1, reason="bent the wrong way", **WHEN)
    assert short_of_good(writing, job) == ("A: no good piece counted of 8, 1 spoilt",)
    counted(writing, number, "A", 8, "sawing")
    counted(writing, number, "A", 7)
    assert short_of_good(writing, job) == (
        "A: 7 of 8 good at bending, 1 spoilt",
        "B: no good piece counted of 8",
    )
    counted(writing, number, "B", 8)
    assert "Good pieces are short: A: 7 of 8 good at bending, 1 spoilt." in review_job(writing, number).notes
    asked = []
    monkeypatch.setattr("typer.confirm", lambda question: bool(asked.append(question)))
    with pytest.raises(InputError, match="stays open"):
        _ask_what_is_missing(writing, number, missing_of(writing, job).names)
    assert asked == ["Is that all of it?"]
    counted(writing, number, "A", 8, "drilling")
    assert short_of_good(writing, job) == ()
    _ask_what_is_missing(writing, number, missing_of(writing, job).names)
    assert len(asked) == 1


def test_closing_asks_each_thing_once(writing, monkeypatch):
    """Good pieces were counted once for the question and once more for figures that nobody had asked for."""
    number = finished_job(writing)
    job, calls = find_job(writing, number), []
    counts = job_review.short_of_good
    monkeypatch.setattr(job_review, "short_of_good", lambda *about: calls.append(about) or counts(*about))
    asked = before_closing(writing, job)
    assert len(calls) == 1
    review = work_out(writing, job)
    assert asked.missing == missing_of(writing, job)
    assert all(any(words in note for note in review.notes) for words in (*asked.few, *asked.short))


def test_what_is_delivered_was_good(writing):
    number = finished_job(writing)
    log_scrap(writing, number, "A", 1, reason="bent the wrong way", **WHEN)
    job = find_job(writing, number)
    assert short_of_good(writing, job)
    record_delivery(writing, delivery_note(writing, number, on=TODAY))
    assert short_of_good(writing, job) == ()
