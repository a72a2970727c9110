"""Parts worked out with the usual benders, or with the shop's own on file."""

from datetime import date

import pytest

from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.units import Length
from shopquote.errors import DatabaseError
from shopquote.records.benders import BendTestRow
from shopquote.services.jobs.part import shop_to_bend_with, work_out_file
from shopquote.services.shop.shop_on_file import bender_of, bender_row, bending_shop

JOB = """format = 1
[job]
title = "t"
customer = "c"
sets = 2
units = "mm"
[[part]]
mark = "A"
name = "bracket"
per_set = 1
bar = "round 12"
grade = "S275"
shape = "leg 200; bend 90 r 24; leg 100"
"""


@pytest.fixture
def job(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_without_a_database_the_usual_benders_serve(job):
    found = work_out_file(job)
    assert not found.own_shop
    assert found.parts[0][1].bends[0].bender in {bender.name for bender in STARTING_BENDERS}


def test_a_database_that_is_named_and_not_there_is_told(job, tmp_path):
    with pytest.raises(DatabaseError):
        work_out_file(job, database=str(tmp_path / "none.db"))


def test_a_database_that_is_still_to_be_set_up_does_not_keep_parts_from_being_worked_out(
    job, tmp_path, monkeypatch
):
    monkeypatch.setenv("SHOPQUOTE_DB", str(tmp_path / "later.db"))
    assert not work_out_file(job).own_shop
    assert not (tmp_path / "later.db").exists()


def test_with_a_database_the_shops_own_tests_and_benders_count(job, shop):
    with shop.session() as session:
        session.add(
            BendTestRow(
                made_on=date(2026, 3, 1), section_key="round 12", section_text="round 12", grade="S275",
                former_radius=Length.from_mm(24), angle=90, over_bend=94,
            )
        )  # fmt: skip
    with shop.reading() as session:
        own = bending_shop(session)
    from shopquote.reading.job_book import read_job
    from shopquote.services.jobs.part import work_out

    ((_, answer),) = work_out(read_job(job), own)
    bend = answer.bends[0]
    # One measured bend outweighs the theory, but does not silence it: a reading is good to half a degree.
    assert bend.over_bend_to == pytest.approx(94.0, abs=0.1)
    assert bend.over_bend_source.startswith("measured")


def test_every_field_of_a_bender_comes_back_from_the_database(session):
    for bender in STARTING_BENDERS:
        session.add(bender_row(bender))
    session.flush()
    session.expire_all()
    from sqlalchemy import select

    from shopquote.records.benders import BenderRow

    rows = session.scalars(select(BenderRow).order_by(BenderRow.id)).all()
    assert tuple(bender_of(row) for row in rows) == STARTING_BENDERS


def test_the_usual_shop_is_taken_only_when_nothing_is_on_file():
    shop, notation, own = shop_to_bend_with(None)
    assert shop.benders == STARTING_BENDERS
    assert not own and notation.currency == "EUR"
