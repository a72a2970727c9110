"""A delivery note: what goes out, in marks, counts and masses; no price."""

from datetime import UTC, date, datetime
from decimal import Decimal
from math import pi

import pytest

from shopquote.calc.job import BoughtSpec, JobSpec, PartSpec
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.outputs.papers.delivery_paper import delivery_data, delivery_text
from shopquote.services.floor.delivery_note import delivery_note
from shopquote.services.jobs.jobs import add_job, find_job

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
    assert (peg.mark, peg.count, bolt.what, bolt.count, bolt.total_kg) == ("A", 4, "M8 bolt", 8, None)
    # Density of structural steel 7850 kg/m3: EN 1991-1-1:2002 table A.4 (77.0 to 78.5 kN/m3).
    assert abs(float(note.mass_kg) - 4 * pi / 4 * 0.012**2 * 0.410 * 7850) < 0.006
    text, paper = delivery_text(note), str(delivery_data(note))
    assert "2 of 3" in text and "PO 55" in text and "A, peg, round 12 S275, 4 x, 0.4 kg each, 1.5 kg" in text
    for told in (text, paper):
        assert "0.37" not in told and "EUR" not in told and "rice" not in told


def test_what_was_not_ordered_is_not_delivered(shop, job):
    with shop.session() as session:
        with pytest.raises(InputError, match="asked: nothing is delivered"):
            delivery_note(session, job, DAY)
        find_job(session, job).state = "won"
        with pytest.raises(InputError, match=r"4 sets of .* expected 1 to 3"):
            delivery_note(session, job, DAY, 4)
