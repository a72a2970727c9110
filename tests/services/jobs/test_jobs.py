from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy import func, select

from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError, InputError, NotFoundError
from shopquote.reading.job_book import read_job
from shopquote.reading.job_book_sheets import write_job_book
from shopquote.reading.job_file import read_job_text, write_job_text
from shopquote.reading.kinds import Notation
from shopquote.records.jobs import Job, JobRevision, PartBend, PartHole, PartRow, StateChange
from shopquote.records.logs import TimeEntry
from shopquote.records.people import Customer
from shopquote.records.quotes import Quote
from shopquote.services.jobs.check import CheckedJob, check_jobs
from shopquote.services.jobs.job_list import list_jobs
from shopquote.services.jobs.job_states import MOVES, move_job
from shopquote.services.jobs.jobs import (
    add_job,
    add_jobs,
    export_job,
    find_job,
    load_job,
    remove_job,
    revise_job,
    revise_job_to,
    set_state,
    store_job,
)
from shopquote.services.jobs.part import shop_to_bend_with, work_out_parts
from shopquote.services.shop.shop_on_file import bending_shop
from tests.reading.test_job_file import WHOLE
from tests.services.job_specs import job_specs

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
GATE = read_job_text(WHOLE, "gate.toml")


def write(folder: Path, name: str, text: str = WHOLE) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def add_gate(session) -> Job:
    return add_job(session, GATE, at=AT)


@pytest.fixture
def some_answer(shop):
    """The answer of a part that can be made, for rows that keep its figures beside what was typed."""
    with shop.reading() as session:
        return work_out_parts(GATE, bending_shop(session))[GATE.parts[0].mark]


# Most random jobs cannot be made; what is typed is kept the same way, whatever its figures are.
@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(job_specs())
def test_a_job_comes_back_from_the_tables_exactly_as_typed(shop, some_answer, spec):
    answers = {part.mark: some_answer for part in spec.parts}
    with shop.session() as session:
        number = store_job(session, CheckedJob(spec, answers, write_job_text(spec)), at=AT).number
        session.expire_all()
        loaded = load_job(session, number)
    assert loaded.spec == spec
    assert write_job_text(loaded.spec).replace(".0000", "") == write_job_text(spec).replace(".0000", "")


def test_jobs_of_files_and_workbooks_are_added_with_numbers_and_customers(any_shop, tmp_path):
    files = [
        write(tmp_path, "gate.toml"),
        write_job_book(replace(GATE, title="Copy"), tmp_path / "copy.xlsx"),
    ]
    with any_shop.session() as session:
        jobs = add_jobs(session, files, at=AT)
        assert [(job.number, job.state, job.revisions[0].title) for job in jobs] == [
            ("J-0001", "asked", "Gate"),
            ("J-0002", "asked", "Copy"),
        ]
        assert jobs[0].customer is jobs[1].customer
        assert jobs[0].created_on == date(2026, 3, 2)
    with any_shop.reading() as session:
        loaded = load_job(session, "J-0002")
        assert loaded.spec == replace(GATE, title="Copy")
        assert loaded.revision.source == write_job_text(loaded.spec)
        assert load_job(session, "1").revision.source == WHOLE
        hoop, rail = loaded.revision.parts
        # 300, 600, 150 inside legs in round 12: each bend of 90 degrees adds an arc of centreline
        # radius 24 + 6 and takes an inside setback of 24 on both sides.
        assert float(hoop.developed.mm) == pytest.approx(1050 - 4 * 24 + 2 * 47.1239, abs=0.06)
        assert [(bend.angle, bend.radius) for bend in hoop.bends] == [
            (90, Length.from_mm(24)),
            (-90, Length.from_mm(24)),
        ]
        assert rail.section_key == "flat 40 x 6"
        # EN 10058 flat 40 x 6: 1.884 kg/m at 7850 kg/m3; less 2 holes of 6.5 through 6, and the mitre.
        assert 1.884 * 2.2987 - 0.16 < float(rail.mass_kg) < 1.884 * 2.2987


def test_a_customer_is_put_on_file_once_whatever_the_capitals(shop):
    with shop.session() as session:
        add_gate(session)
        add_job(session, replace(GATE, customer="NETHER TARN PARISH"), at=AT)
        names = session.scalars(select(Customer.name).where(Customer.name.ilike("nether%"))).all()
        assert names == ["Nether Tarn Parish"]
        assert load_job(session, "2").spec.customer == "NETHER TARN PARISH"


def test_one_bad_file_keeps_all_out_and_all_mistakes_are_told(shop, tmp_path):
    good = write(tmp_path, "good.toml")
    bad = write(tmp_path, "bad.toml", WHOLE.replace("sets = 4", "sets = 0").replace('"kg"', '"kilo"'))
    worse = write(tmp_path, "worse.toml", WHOLE.replace('"S275"', '"S257"'))
    with shop.session() as session, pytest.raises(InputError, match="4 mistakes in 3 files") as caught:
        add_jobs(session, [good, bad, worse, tmp_path / "gone.toml"], at=AT)
    assert [Path(fault.file).name for fault in caught.value.faults] == [
        "bad.toml",
        "bad.toml",
        "worse.toml",
        "gone.toml",
    ]
    assert "gone.toml: there is no such file" in str(caught.value)
    with shop.reading() as session:
        assert session.scalar(select(func.count(Job.id))) == 0
        assert session.scalar(select(func.count(Customer.id)).where(Customer.name == GATE.customer)) == 0


def test_a_part_that_no_geometry_allows_is_told_and_not_stored(shop, tmp_path):
    tight = write(tmp_path, "tight.toml", WHOLE.replace("leg 600;", "leg 20;"))
    with shop.session() as session:
        with pytest.raises(CannotMakeError, match=r"tight.toml: .*A"):
            add_jobs(session, [tight], at=AT)
        assert session.scalar(select(func.count(Job.id))) == 0


def test_parts_that_cannot_be_made_are_told_with_the_mistakes_of_other_files(shop, tmp_path):
    tight = write(tmp_path, "tight.toml", WHOLE.replace("leg 600;", "leg 20;"))
    worse = write(tmp_path, "worse.toml", WHOLE.replace('"S275"', '"S257"'))
    broken = write(tmp_path, "broken.toml", "[[part]")
    with shop.session() as session:
        with pytest.raises(InputError, match="3 mistakes in 3 files; nothing was stored") as caught:
            add_jobs(session, [tight, worse, broken], at=AT)
        assert [Path(fault.file).name for fault in caught.value.faults] == [
            "tight.toml",
            "worse.toml",
            "broken.toml",
        ]
        assert session.scalar(select(func.count(Job.id))) == 0


def test_the_shop_s_own_grades_are_known_when_its_database_is_there(shop, monkeypatch, tmp_path):
    assert "S275" in shop_to_bend_with(shop.name)[0].grades
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "nothing"))
    assert "S275" in shop_to_bend_with(None)[0].grades
    with shop.reading() as session:
        (checked,) = check_jobs([write(tmp_path, "gate.toml")], bending_shop(session), Notation())
    assert list(checked.answers) == ["A", "B"]


@pytest.mark.parametrize("typed", ["J-0001", "j-1", "J1", "1", " 0001 "])
def test_a_job_is_found_by_its_number_as_people_say_it(shop, typed):
    with shop.session() as session:
        add_gate(session)
        assert find_job(session, typed).number == "J-0001"


@pytest.mark.parametrize("typed", ["2", "gate", "", "J-", "1; DROP TABLE jobs", "\u0661", "9" * 400])
def test_a_job_that_is_not_on_file_is_not_found(shop, typed):
    with shop.session() as session:
        add_gate(session)
        with pytest.raises(NotFoundError, match="is not on file"):
            load_job(session, typed)


def test_a_revision_keeps_the_older_ones_as_they_were(any_shop, tmp_path):
    changed = write(
        tmp_path, "gate2.toml", WHOLE.replace("sets = 4", "sets = 6").replace("Parish", "Council")
    )
    with any_shop.session() as session:
        add_gate(session)
        revise_job(session, "1", changed, at=AT, reason="two more")
    with any_shop.reading() as session:
        newest = load_job(session, "1")
        assert (newest.revision.revision, newest.spec.sets, newest.job.customer.name) == (
            2, 6, "Nether Tarn Council",
        )  # fmt: skip
        assert newest.revision.reason == "two more"
        assert load_job(session, "1", revision=1).spec == GATE
        with pytest.raises(NotFoundError, match="no revision 3"):
            load_job(session, "1", revision=3)


def test_a_revision_that_changes_nothing_is_refused(shop, tmp_path):
    with shop.session() as session:
        add_gate(session)
        with pytest.raises(InputError, match="the same as revision 1"):
            revise_job(session, "1", write(tmp_path, "same.toml"), at=AT)


def test_a_revision_hands_no_job_to_a_customer_who_is_retired(shop):
    with shop.session() as session:
        add_gate(session)
        session.add(Customer(name="Gone Before", retired=True))
        session.flush()
        with pytest.raises(InputError, match="Gone Before is retired"):
            revise_job_to(session, "1", replace(GATE, customer="gone before"), at=AT)
        assert load_job(session, "1").job.revision == 1
        # Its own customer, retired since, keeps the job.
        session.scalars(select(Customer).where(Customer.name == GATE.customer)).one().retired = True
        assert revise_job_to(session, "1", replace(GATE, sets=6), at=AT).job.revision == 2


def test_a_job_that_is_done_cannot_be_revised(shop, tmp_path):
    changed = write(tmp_path, "gate2.toml", WHOLE.replace("sets = 4", "sets = 6"))
    with shop.session() as session:
        job = add_gate(session)
        for state in ("quoted", "won", "started", "finished"):
            move_job(job, state, at=AT)
        with pytest.raises(InputError, match="finished and cannot be revised"):
            revise_job(session, "1", changed, at=AT)


def test_a_job_moves_through_its_states_and_each_move_is_kept(shop):
    with shop.session() as session:
        add_gate(session)
        for state in ("quoted", "won", "started", "finished"):
            assert set_state(session, "1", state, at=AT, reason=f"now {state}").state == state
        changes = session.scalars(select(StateChange).order_by(StateChange.id)).all()
    assert [(change.from_state, change.to_state, change.reason) for change in changes] == [
        (None, "asked", ""),
        ("asked", "quoted", "now quoted"),
        ("quoted", "won", "now won"),
        ("won", "started", "now started"),
        ("started", "finished", "now finished"),
    ]


@pytest.mark.parametrize("state", sorted(MOVES))
def test_every_move_that_is_not_open_is_refused_with_those_that_are(shop, state):
    with shop.session() as session:
        job = add_gate(session)
        for to in MOVES:
            job.state = state
            if to in MOVES[state]:
                move_job(job, to, at=AT)
                assert job.state == to
            else:
                with pytest.raises(InputError, match=rf"J-0001 is {state}") as caught:
                    move_job(job, to, at=AT)
                assert job.state == state
                if to != state:
                    assert all(word in str(caught.value) for word in MOVES[state])


def test_a_refused_move_says_the_way_there(shop):
    with shop.session() as session:
        add_gate(session)
        with pytest.raises(InputError, match="The way there: asked -> quoted -> won"):
            set_state(session, "1", "won", at=AT)
        with pytest.raises(InputError, match="Did you mean 'won'"):
            set_state(session, "1", "wonn", at=AT)


def test_closing_and_opening_again_have_a_command_of_their_own(shop):
    with shop.session() as session:
        job = add_gate(session)
        job.state = "finished"
        with pytest.raises(InputError, match="shopquote close J-0001"):
            set_state(session, "1", "closed", at=AT)
        move_job(job, "closed", at=AT)
        with pytest.raises(InputError, match="--reopen"):
            set_state(session, "1", "finished", at=AT)
        move_job(job, "finished", at=AT, reason="a bill came late")
        assert job.state == "finished"


def test_a_job_that_nothing_depends_on_can_be_removed_whole(any_shop):
    with any_shop.session() as session:
        add_gate(session)
        assert remove_job(session, "j-1") == "J-0001"
    with any_shop.reading() as session:
        for table in (Job, JobRevision, PartRow, PartBend, PartHole, StateChange):
            assert session.scalar(select(func.count(table.id))) == 0
    with any_shop.session() as session:
        assert add_gate(session).number == "J-0002", "a number is never given out twice"


def test_a_job_that_was_quoted_or_worked_on_cannot_be_removed(shop):
    with shop.session() as session:
        job = add_gate(session)
        add_quote(session, job, "120.5")
        session.add(
            TimeEntry(job_id=job.id, operation="sawing", minutes=Decimal(5), worked_on=AT.date(), kind="work")
        )
        session.flush()
        with pytest.raises(InputError, match="has logged minutes and quotes on file"):
            remove_job(session, "1")
        assert find_job(session, "1") is job


def add_quote(session, job: Job, net: str, revision: int = 1) -> None:
    session.add(
        Quote(
            job_id=job.id,
            job_revision_id=job.revisions[-1].id,
            number="Q-0001",
            revision=revision,
            issued_on=AT.date(),
            valid_until=AT.date(),
            currency="EUR",
            net=Decimal(net),
            tax=Decimal(0),
            total=Decimal(net),
            cost=Decimal(1),
            margin_pct=Decimal(1),
            snapshot="{}",
        )
    )
    session.flush()


@pytest.mark.parametrize(
    ("state", "answer"), [("won", "accepted"), ("lost", "declined"), ("dropped", "sent")]
)
def test_the_open_quote_of_a_job_is_answered_with_it(shop, state, answer):
    with shop.session() as session:
        job = add_gate(session)
        add_quote(session, job, "120.5")
        add_quote(session, job, "99.5", revision=2)
        session.scalars(select(Quote)).first().state = "replaced"
        move_job(job, "quoted", at=AT)
        set_state(session, "1", state, at=AT, reason="by phone")
        older, newest = session.scalars(select(Quote).order_by(Quote.revision))
    assert older.state == "replaced"
    assert newest.state == answer
    assert newest.decided_on == (None if answer == "sent" else date(2026, 3, 2))


def test_the_list_shows_the_newest_price_and_can_be_narrowed(any_shop):
    with any_shop.session() as session:
        first = add_gate(session)
        add_job(session, replace(GATE, title="Other", customer="Orla Fennimore", due=None), at=AT)
        add_quote(session, first, "120.5")
        add_quote(session, first, "99.5", revision=2)
        move_job(first, "quoted", at=AT)
    with any_shop.reading() as session:
        lines = list_jobs(session)
        assert [(line.job, line.state, str(line.price), line.due) for line in lines] == [
            ("J-0001", "quoted", "99.50", date(2027, 3, 1)),
            ("J-0002", "asked", "None", None),
        ]
        assert [line.job for line in list_jobs(session, states=["asked", "won"])] == ["J-0002"]
        assert [line.job for line in list_jobs(session, customer="tarn")] == ["J-0001"]
        assert [line.job for line in list_jobs(session, find="J-0002")] == ["J-0002"]
        assert list_jobs(session, find="J-0002 tarn") == []
        assert list_jobs(session, late_on=date(2027, 3, 1)) == []  # due that day is not late
        assert [line.job for line in list_jobs(session, late_on=date(2027, 3, 2))] == ["J-0001"]
    with any_shop.session() as session:
        set_state(session, "1", "lost", at=AT, reason="too dear")
        assert list_jobs(session, late_on=date(2027, 3, 2)) == []
        assert [line.state for line in list_jobs(session, find="J-0001")] == ["lost"]
        with pytest.raises(InputError, match="expected one of asked, quoted"):
            list_jobs(session, states=["open"])


def test_an_exported_job_is_the_job(shop, tmp_path):
    with shop.session() as session:
        add_gate(session)
        loaded = load_job(session, "1")
        files = export_job(loaded, tmp_path / "out")
    assert [path.name for path in files] == ["J-0001.toml", "J-0001.xlsx"]
    assert [read_job(path) for path in files] == [GATE, GATE]
