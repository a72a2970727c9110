"""A delivery note: what goes out, in marks, counts and masses; no price."""

from datetime import UTC, date, datetime
from decimal import Decimal
from math import pi

import pytest

from shopquote.calc.job import BoughtSpec, JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.papers.delivery_paper import delivery_data, delivery_text
from shopquote.outputs.tables.delivery_tables import MOST_OFF, total_mass, weighed
from shopquote.services.floor.delivery_note import (
    delivered_words,
    delivery_note,
    note_again,
    record_delivery,
)
from shopquote.services.floor.log_list import logged_so_far
from shopquote.services.floor.take_back import strike_entry
from shopquote.services.jobs.jobs import add_job, find_job, remove_job

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
D = Decimal


@pytest.fixture
def job(shop):
    """Three sets of two pegs and a bolt, not yet won."""
    part = PartSpec("A", "peg", 2, "round 12", "S275", length=Measure.parse("410", "mm"))
    bought = (BoughtSpec("M8 bolt", 4, D("0.37")),)
    spec = JobSpec("Pegs", "Orla Fennimore", 3, "mm", parts=(part,), bought=bought, enquiry="PO 55")
    with shop.session() as session:
        return add_job(session, spec, at=AT).number


def test_marks_counts_and_masses_and_no_price(shop, job):
    with shop.session() as session:
        find_job(session, job).state = "won"
        note = delivery_note(session, job, DAY, 2)
    peg, bolt = note.lines
    assert (peg.mark, peg.count, bolt.what, bolt.count, bolt.each_kg) == ("A", 4, "M8 bolt", 8, None)
    # Density of structural steel 7850 kg/m3: EN 1991-1-1:2002 table A.4 (77.0 to 78.5 kN/m3).
    assert abs(float(total_mass(weighed(note, "mm"))) - 4 * pi / 4 * 0.012**2 * 0.410 * 7850) < 0.05
    text, paper = delivery_text(note), str(delivery_data(note))
    assert "2 of 3" in text and "PO 55" in text
    assert "A, peg, round 12 S275, 4 x, 0.36 kg each, 1.44 kg, To follow: 2" in text
    for told in (text, paper):
        assert "0.37" not in told and "EUR" not in told and "rice" not in told


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(("sets", "ordered"), [(1, 3), (2, 3), (200, 200)])
def test_masses_add_up_as_they_are_printed(shop, unit, sets, ordered):
    part = PartSpec("A", "hook", 1, "round 8", "S275", length=Measure.parse("367", "mm"))
    other = PartSpec("B", "rail", 2, "flat 40 x 6", "S275", length=Measure.parse("1233", "mm"))
    with shop.session() as session:
        job = add_job(session, JobSpec("Hooks", "Orla", ordered, "mm", parts=(part, other)), at=AT)
        job.state = "won"
        note = delivery_note(session, job.number, DAY, sets)
    lines = weighed(note, unit)
    for row in lines:
        assert row.total == row.each * row.line.count
        true = row.line.each_kg * row.line.count / (D("0.45359237") if unit == "in" else 1)
        assert abs(row.total - true) <= max(MOST_OFF, D("0.0005") * row.line.count)
    data = delivery_data(note)
    shown = [D(row[5]) for row in data["lines"]["rows"]]
    assert [D(row[3]) * D(row[4]) for row in data["lines"]["rows"]] == shown
    assert data["sums"][0][1] == f"{sum(shown)} kg"


def test_a_light_piece_has_a_mass(shop):
    small = PartSpec("A", "washer", 1, "flat 30 x 4", "S275", length=Measure.parse("30", "mm"))
    with shop.session() as session:
        job = add_job(session, JobSpec("Washer", "Orla", 1, "mm", parts=(small,)), at=AT)
        job.state = "won"
        data = delivery_data(delivery_note(session, job.number, DAY, 1))
    # 30 x 30 x 4 mm of steel of 7850 kg/m3 are 28 g.
    assert data["lines"]["rows"][0][4:6] == ["0.03", "0.03"] and data["sums"][0][1] == "0.03 kg"


def test_a_customers_own_language_is_that_of_its_papers(shop, job):
    with shop.session() as session:
        found = find_job(session, job)
        found.state, found.customer.locale = "won", "fr_FR"
        text = delivery_text(delivery_note(session, job, DAY, 2))
    assert text.startswith("Bon de livraison") and "2 mars 2026" in text and "1,44 kg" in text


def test_what_was_not_ordered_is_not_delivered(shop, job):
    with shop.session() as session:
        with pytest.raises(InputError, match="asked: nothing is delivered"):
            delivery_note(session, job, DAY)
        find_job(session, job).state = "won"
        with pytest.raises(InputError, match=r"4 sets of .* expected 1 to 3"):
            delivery_note(session, job, DAY, 4)


def deliver(session, job, **what):
    note = delivery_note(session, job, DAY, **what)
    record_delivery(session, note)
    return note


def counts(note):
    return [(line.mark or line.what, line.count, line.left) for line in note.lines]


def test_each_note_says_what_went_and_what_is_left(shop, job):
    with shop.session() as session:
        find_job(session, job).state = "won"
        assert delivered_words(session, find_job(session, job)) == ""
        first = deliver(session, job, sets=1)
        second = deliver(session, job, pieces=[("a", 1), ("m8 BOLT", 8)])
        assert delivered_words(session, find_job(session, job)) == "Not delivered yet: 3 x A."
        third = deliver(session, job)
        said = delivered_words(session, find_job(session, job))
        again = note_again(session, job, 2)
    assert counts(first) == [("A", 2, 4), ("M8 bolt", 4, 8)]
    assert counts(second) == [("A", 1, 3), ("M8 bolt", 8, 0)]
    assert counts(third) == [("A", 3, 0)] and not third.is_part
    assert (first.sets, second.sets, third.sets) == (1, None, None)
    assert [note.name for note in (first, second, third)] == [f"{job}-{number}" for number in (1, 2, 3)]
    assert said == "All is delivered, the last on 2026-03-02."
    assert again == second
    assert "Sets" not in delivery_text(second) and "To follow" not in delivery_text(third)


def test_what_goes_out_was_begun(shop, job):
    with shop.session() as session:
        found = find_job(session, job)
        found.state = "won"
        record_delivery(session, delivery_note(session, job, DAY, sets=1))
        assert found.state == "started" and found.state_changes[-1].reason == f"delivery note {job}-1"
        record_delivery(session, delivery_note(session, job, DAY, sets=1))
        assert [change.to_state for change in found.state_changes].count("started") == 1


def test_more_than_is_left_is_not_delivered(shop, job):
    with shop.session() as session:
        find_job(session, job).state = "won"
        deliver(session, job, sets=2)
        for what, told in (
            ({"sets": 2}, "left are 2 x A, 4 x M8 bolt"),
            ({"pieces": [("A", 2), ("A", 1)]}, "3 of A .* left are 2"),
        ):
            with pytest.raises(InputError, match=told):
                delivery_note(session, job, DAY, **what)
        with pytest.raises(NotFoundError, match="no part or bought item 'B'"):
            delivery_note(session, job, DAY, pieces=[("B", 1)])
        with pytest.raises(NotFoundError, match="no delivery note 2; there are: 1"):
            note_again(session, job, 2)
        deliver(session, job)
        with pytest.raises(InputError, match=r"All of .* is on delivery notes already"):
            delivery_note(session, job, DAY)
        with pytest.raises(InputError, match="deliveries"):
            remove_job(session, job)


def test_a_delivery_is_listed_and_taken_back_as_other_entries_even_of_a_closed_job(shop, job):
    with shop.session() as session:
        find_job(session, job).state = "closed"
        deliver(session, job, sets=2)
        (row,) = logged_so_far(session, job).rows
        assert (row.kind, row.what, row.number) == ("delivery", "note 1: 4 x A, 8 x M8 bolt", 1)
        strike_entry(session, job, 1, "wrong van", at=AT)
        (struck,) = logged_so_far(session, job).rows
        assert "taken back" in struck.kind and struck.what == "note 1: 4 x A, 8 x M8 bolt"
        note = deliver(session, job)
    # The customer holds a paper with number 1: the next one is another.
    assert (note.number, counts(note)) == (2, [("A", 6, 0), ("M8 bolt", 12, 0)])
