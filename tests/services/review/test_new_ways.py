"""An owner says that an operation is done another way since a day: all jobs teach, those before less."""

from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from sqlalchemy import select, text

from shopquote.errors import InputError
from shopquote.invented.history import build_history
from shopquote.outputs.tables.review_words import pace_texts, ranges_text
from shopquote.records.standards import StandardRow
from shopquote.services.review.accepted import accept_suggestions, take_back
from shopquote.services.review.learning import learn_standards
from shopquote.services.review.review_answer import ReviewWish, answer_review, filters_typed
from shopquote.services.review.work_done import EVERY_JOB, work_tables

UNTIL = date(2026, 3, 2)


@pytest.fixture
def jig(any_shop):
    """Twenty jobs; fit-up took half the time on the last four of them with any, and the day of the first."""
    with any_shop.session() as session:
        build_history(session, jobs=20, seed=5, until=UNTIL)
        work = work_tables(session, on=UNTIL)
        jobs = next(table for table in work.tables if table.operation == "fit-up").jobs[-4:]
        for job in jobs:
            session.execute(
                text(
                    "UPDATE minute_sums SET minutes = minutes / 2 WHERE operation = 'fit-up' "
                    "AND kind = 'work' AND job_id = (SELECT id FROM jobs WHERE number = :job)"
                ),
                {"job": job},
            )
        answer = answer_review(session, ReviewWish(), today=UNTIL)
        days = {row.number: row.done_on for row in answer.many.jobs}
        yield SimpleNamespace(session=session, jobs=jobs, day=min(days[job] for job in jobs))
        session.rollback()


def test_what_was_done_before_teaches_less_and_no_job_is_left_out(jig):
    filters = filters_typed(jig.session, ReviewWish(learn_since=[f"fit-up={jig.day}"]), UNTIL)[1]
    plain, told = (learn_standards(jig.session, on=UNTIL, filters=given) for given in (EVERY_JOB, filters))
    assert told.jobs == plain.jobs
    (pace,) = [pace for pace in told.new_paces if pace.operation == "fit-up"]
    assert pace.jobs_since == 4 and pace.job == jig.jobs[0]
    assert 0.35 < pace.times < 0.75
    assert f"since {pace.job} fit-up takes" in pace_texts(told)[0]


def test_a_change_stays_known_while_what_was_taken_by_it_counts(jig):
    filters = filters_typed(jig.session, ReviewWish(learn_since=[f"Fit-Up = {jig.day}"]), UNTIL)[1]
    taken = accept_suggestions(jig.session, ["all"], on=UNTIL, filters=filters)
    names = [item.standard for item in taken if item.operation == "fit-up"]
    assert names
    later = UNTIL + timedelta(days=30)
    again = learn_standards(jig.session, on=later)
    assert again.told_paces == {"fit-up": jig.day}
    # The next review does not go back to what was before the jig.
    assert not [item for item in again.worth_taking if item.standard in names]
    take_back(jig.session, names, on=later)
    assert learn_standards(jig.session, on=later).told_paces == {}
    row = jig.session.scalars(
        select(StandardRow).where(StandardRow.name == names[0], StandardRow.since == UNTIL)
    ).one()
    assert row.accepted_from["new_pace"] == {"fit-up": jig.day}


def test_a_change_that_no_job_shows_yet_is_believed_and_said(jig):
    filters = filters_typed(jig.session, ReviewWish(learn_since=[f"fit-up={UNTIL}"]), UNTIL)[1]
    told = learn_standards(jig.session, on=UNTIL, filters=filters)
    (pace,) = [pace for pace in told.new_paces if pace.operation == "fit-up"]
    assert not pace.job and not pace.jobs_since and 0.5 < pace.times < 0.7
    assert "until a job shows how long it takes" in pace_texts(told)[0]
    whole = filters_typed(jig.session, ReviewWish(learn_since=["fit-up=2020-01-01"]), UNTIL)[1]
    (told,) = pace_texts(learn_standards(jig.session, on=UNTIL, filters=whole))
    assert told.endswith("no job from before is logged.")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("gluing=2026-01-05", "Operation is 'gluing'"),
        ("fit-up=soon", "--learn-since"),
        ("fit-up=", "--learn-since"),
        (["2020-01-01", "2020-02-01"], "names two days: 2020-01-01 and 2020-02-01"),
        (["fit-up=2020-01-01", "Fit-up=2020-02-01"], "names fit-up twice: 2020-01-01 and 2020-02-01"),
        ("=2026-01-05", "Operation is ''"),
        ("fit-up=2031-01-05", "has not come yet"),
    ],
)
def test_what_is_no_operation_or_day_is_refused(jig, typed, said):
    with pytest.raises(InputError, match=said):
        filters_typed(
            jig.session, ReviewWish(learn_since=[typed] if isinstance(typed, str) else typed), UNTIL
        )


def test_the_command_that_is_told_takes_the_values_that_are_shown(jig):
    """Of other jobs it would take other values."""
    customer = jig.session.scalar(text("SELECT name FROM customers ORDER BY id LIMIT 1"))
    wish = ReviewWish(until="2026-02-20", customer=customer, learn_since=["fit-up=2026-01-05"])
    taking = answer_review(jig.session, wish, today=UNTIL).taking
    shown = f'"{customer}"' if " " in customer else customer
    assert taking == (
        f"shopquote review --until 2026-02-20 --customer {shown} --learn-since fit-up=2026-01-05 --accept"
    )
    assert answer_review(jig.session, ReviewWish(), today=UNTIL).taking == "shopquote review --accept"


@pytest.mark.parametrize(
    ("inside", "stated", "said"),
    [
        (3, 3, "too few to judge by"),
        (65, 81, "as many as should"),
        (43, 81, "about 65 should: ranges were too narrow"),
        (80, 81, "about 65 should: ranges were wider than need be"),
    ],
)
def test_how_many_ranges_held_is_judged(inside, stated, said):
    assert said in ranges_text(SimpleNamespace(ranges_held=(inside, stated)))
