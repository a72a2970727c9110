"""Learning from real quotes: minutes that the estimate counted, logged by a shop that works otherwise."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from sqlalchemy import select

from shopquote.calc.job import PartSpec, WeldSpec
from shopquote.calc.review.learning import learn
from shopquote.records.quotes import QuoteMinutes
from shopquote.services.floor.time_log import log_minutes
from shopquote.services.jobs.job_states import move_job
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quotes_on_file import make_quote
from shopquote.services.review.accepted import accept_suggestions
from shopquote.services.review.learning import learn_standards
from shopquote.services.review.work_done import work_tables
from tests.services.review_jobs import NOW, TODAY, hoops, mm

D = Decimal
# What this shop really takes, over the standards; all others are as the standards say.
TRUTH = {
    "weld.fit-up": 0.6,
    "saw.job-set-up": 3.0,
    "bend.former-change": 2.0,
    "bend.base": 1.5,
    "saw.cut-handling": 1.4,
}


def different_jobs(count, random):
    """Jobs of many sizes: bars, angles, quantities, welds."""
    bars = ("round 8", "round 12", "round 16", "flat 40 x 8")
    for number in range(count):
        bar = bars[number % len(bars)]
        angle = int(random.choice([45, 60, 90, 120]))
        radius = 40 if bar != "flat 40 x 8" else 30
        legs = int(random.integers(120, 500))
        shape = f"leg {legs}; bend {angle} r {radius}; leg {legs + 100}"
        if number % 3 == 0:
            shape += f"; bend {angle} r {radius}; leg {legs}"
        welds = (
            (WeldSpec("fillet", mm("4"), mm("30"), int(random.integers(1, 9)), "MAG"),) if number % 2 else ()
        )
        yield hoops(
            title=f"Job {number}",
            sets=int(random.choice([1, 2, 4, 8, 20, 60])),
            welds=welds,
            bought=(),
            outside=(),
            parts=(
                PartSpec("A", "hoop", int(random.integers(1, 5)), bar, "S275", shape=shape),
                PartSpec("B", "rail", int(random.integers(1, 4)), "flat 40 x 8", "S275", length=mm("450")),
            ),
        )


def log_by_the_truth(shop):
    """30 quoted jobs, their minutes logged by the truth with a spread of 10 %."""
    random = np.random.default_rng(11)
    with shop.session() as session:
        for spec in different_jobs(30, random):
            job = add_job(session, spec, at=NOW)
            session.flush()
            make_quote(session, job.number, TODAY)
            rows = session.scalars(
                select(QuoteMinutes)
                .join(QuoteMinutes.__table__.metadata.tables["quotes"])
                .where(QuoteMinutes.__table__.metadata.tables["quotes"].c.job_id == job.id)
            ).all()
            true = {}
            for row in rows:
                times = D(str(TRUTH.get(row.standard, 1.0)))
                true[row.operation] = true.get(row.operation, D(0)) + row.minutes * times
            for operation, minutes in true.items():
                spent = minutes * D(str(round(float(random.lognormal(-0.005, 0.1)), 6)))
                log_minutes(
                    session, job.number, operation, max(spent, D("0.01")), on=TODAY, today=TODAY, at=NOW
                )
            move_job(job, "finished", at=NOW)


def test_standards_of_real_quotes_are_learned_and_make_the_next_quote_come_nearer(shop):
    log_by_the_truth(shop)
    with shop.reading() as session:
        lesson = learn_standards(session, on=TODAY)
        tables = work_tables(session, on=TODAY).tables
    values = learn(tables).values()
    for table in tables:
        true = table.counts @ (table.now * [TRUTH.get(name, 1.0) for name in table.standards])
        ours = table.counts @ [values[table.operation, name] for name in table.standards]
        assert np.sum(ours) == pytest.approx(np.sum(true), rel=0.05), table.operation
    learned = {item.standard: item for item in lesson.suggestions}
    # Every joint has two tacks, so these can only be told together: 0.6 x 3 + 2 x 0.25. Squaring what is
    # longer is logged with them and takes a little of their share.
    joint = learned["weld.fit-up"].suggest + 2 * learned["weld.tack"].suggest
    assert float(joint) == pytest.approx(2.30, rel=0.06)
    assert learned["weld.fit-up"].worth_it
    # One job set-up and two lengths are in every job, so these can only be told together: 3 x 5 + 2 x 1.5.
    together = learned["saw.job-set-up"].suggest + 2 * learned["saw.stop-change"].suggest
    assert float(together) == pytest.approx(18, rel=0.15)
    # A speed that is as the standard says stays about there, in its own unit.
    speed = learned["saw.area-rate.mild"]
    assert speed.unit == "cm2/min"
    assert speed.low <= D(29) <= speed.high
    # Of the same shop, whose thirty quotes take ten seconds: what is accepted counts in the next quote.
    spec = replace(next(different_jobs(1, np.random.default_rng(3))), title="next", sets=6)
    later = TODAY + timedelta(days=1)
    with shop.session() as session:
        number = add_job(session, spec, at=NOW).number
        session.flush()
        before = draft_quote(session, number, TODAY).document.estimate.by_operation
        accept_suggestions(session, ["saw.job-set-up"], on=later)
        after = draft_quote(session, number, later).document.estimate.by_operation
        session.rollback()
    assert after["sawing"] > before["sawing"] + 7  # 5 minutes become about 15
    assert after["bending"] == before["bending"]
