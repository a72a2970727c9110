"""Several jobs on one quote: bars bought together, one paper, one total, answered whole or in part."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import delete, select

from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.money import round_money
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.inwards import saved_together
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.papers.quote_paper import quote_data
from shopquote.outputs.tables.quote_tables import joint_json, quote_json
from shopquote.reading.job_file import write_job_text
from shopquote.reading.toml_files import parse_toml
from shopquote.records.joint_quotes import JointQuoteMember
from shopquote.records.materials import StockItem
from shopquote.records.shop import Shop
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.jobs.jobs import add_job, find_job, load_job, set_state
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.joint import (
    answer_joint,
    draft_joint,
    jobs_of_joint,
    store_joint,
    stored_joint,
    told_of_part,
)
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quote_changes import what_if
from shopquote.services.quotes.quotes_on_file import answer_quote, make_quote
from shopquote.services.quotes.typed import MadeBefore, price_typed
from shopquote.services.safe.checks.quotes import joint_quotes_are_whole
from shopquote.services.shop.lists import set_entry

DAY = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
D = Decimal


def a_job(title: str, length: str, customer: str = "Orla Fennimore", sets: int = 3) -> JobSpec:
    part = PartSpec("A", "piece", 2, "round 12", "S275", length=Measure.parse(length, "mm"))
    return JobSpec(title, customer, sets, "mm", parts=(part,))


@pytest.fixture
def jobs(shop) -> list[str]:
    """Two jobs of one customer; each leaves most of a bar by itself."""
    with shop.session() as session:
        return [add_job(session, spec, at=AT).number for spec in (a_job("Pegs", "410"), a_job("Pins", "380"))]


def bars_and_deliveries(document: QuoteDocument) -> Decimal:
    costs = document.estimate.costs
    return sum((line.amount for line in costs if line.category == "material" and line.unit != "%"), D(0))


def stored(shop, jobs, day=DAY, **wishes):
    with shop.reading() as session:
        drafts = draft_joint(session, jobs, day, QuoteWishes(**wishes))
    with shop.session() as session:
        return store_joint(session, drafts, at=AT)


def test_the_paper_is_the_sum_of_its_jobs_and_holds_what_the_order_costs(shop, jobs):
    joint = stored(shop, jobs)
    paper, quotes = joint.document.priced, [quote.priced for quote in joint.quotes]
    assert paper.net == sum(line.amount for line in paper.lines) == sum(quote.net for quote in quotes)
    assert paper.total == paper.net + paper.tax == sum(quote.total for quote in quotes)
    assert joint.document.deposit is None or joint.document.deposit == round_money(
        paper.total * joint.document.wording.deposit_pct / 100, paper.currency
    )
    assert joint.document.estimate.cost == sum(quote.cost for quote in quotes)
    material = bars_and_deliveries(joint.document)
    with shop.reading() as session:
        plan = plan_for_jobs(session, jobs, on=DAY)
        alone = sum(bars_and_deliveries(draft_quote(session, job, DAY).document) for job in jobs)
    order = sum(round_money(line.unit_price * line.count, "EUR") for line in plan.lines)
    assert material == order + sum(plan.deliveries.values())
    assert alone - material == sum(saved_together(quote.estimate.costs) for quote in joint.quotes) > 0


def test_it_prints_again_as_it_was_and_the_same_again_is_no_new_revision(shop, jobs):
    made = stored(shop, jobs)
    assert (made.document.number, [quote.number for quote in made.quotes]) == ("Q-0001", ["Q-0002", "Q-0003"])
    assert stored(shop, jobs) == made
    dearer = stored(shop, [*jobs[::-1]], margin_pct=D(40))
    assert (dearer.document.number, dearer.document.revision) == ("Q-0001", 2)
    with shop.reading() as session:
        assert stored_joint(session, "q-0001", 1) == made
        assert jobs_of_joint(session, "Q-0001") == tuple(jobs[::-1])
        with pytest.raises(NotFoundError, match="is one job's quote"):
            stored_joint(session, "Q-0002")
        with pytest.raises(NotFoundError, match="revision 3 is not on file"):
            stored_joint(session, "Q-0001", 3)


def test_the_customer_reads_each_job_with_its_own_quantities_and_no_cost(shop, jobs):
    joint = stored(shop, jobs, breaks=(6,))
    told = quote_data(joint.document)
    assert [line[1] for line in told["lines"]] == ["Pegs: complete set", "Pins: complete set"]
    assert [(row[0], row[3]) for row in told["breaks"]] == [
        ("6", "Pegs"),
        ("6", "Pins"),
    ]
    assert ["Only these jobs", ""] in told["blanks"]
    assert "together" not in str({**told, "logo_bytes": []})
    answer = joint_json(joint)
    assert (answer["job"], [job["job"] for job in answer["jobs"]]) == (", ".join(jobs), jobs)
    assert D(str(answer["total"])) == joint.document.priced.total


def test_two_jobs_of_one_title_are_told_apart(shop):
    with shop.session() as session:
        jobs = [add_job(session, a_job("Pegs", length), at=AT).number for length in ("410", "380")]
    lines = quote_data(stored(shop, jobs).document)["lines"]
    assert [line[1] for line in lines] == [f"Pegs ({job}): complete set" for job in jobs]


def test_a_part_is_ordered_and_what_it_had_saved_is_told(shop, jobs):
    joint = stored(shop, jobs)
    with shop.session() as session:
        row = answer_quote(session, jobs[0], "accepted", DAY)
        assert row.joint == "Q-0001"
        saved = round_money(saved_together(joint.quotes[0].estimate.costs), "EUR")
        assert f"{jobs[1]} of Q-0001 not ordered" in told_of_part(session, row)
        assert f"may cost {saved} more" in told_of_part(session, row)
        answer_joint(session, "q-1", "declined", DAY, reason="only the pegs")
        assert [find_job(session, job).state for job in jobs] == ["won", "lost"]
        with pytest.raises(InputError, match=f"no open quote: {jobs[0]} accepted, {jobs[1]} declined"):
            answer_joint(session, "Q-0001", "accepted", DAY)


def test_a_job_quoted_anew_is_answered_by_itself(shop, jobs):
    stored(shop, jobs)
    with shop.session() as session:
        make_quote(session, jobs[0], DAY)
        with pytest.raises(InputError, match=f"{jobs[0]} was quoted anew since"):
            answer_joint(session, "Q-0001", "accepted", DAY)
    again = stored(shop, jobs)
    assert again.document.revision == 2
    with shop.session() as session:
        with pytest.raises(InputError, match="is expired and cannot be accepted"):
            answer_joint(session, "Q-0001", "accepted", DAY + timedelta(days=60))
        rows = answer_joint(session, "Q-0001", "accepted", DAY)
        assert [(row.job, row.state, told_of_part(session, row)) for row in rows] == [
            (job, "accepted", "") for job in jobs
        ]


def test_a_minimum_order_is_asked_once_for_the_whole(shop, jobs):
    with shop.session() as session:
        session.query(Shop).update({"minimum_order": D(500)})
    # Each job's line is a whole number of cents a set.
    assert D(500) <= stored(shop, jobs).document.priced.net < D("500.06")
    with shop.session() as session:
        session.query(Shop).update({"minimum_order": D(1)})
    cheap = stored(shop, jobs)
    assert not any(line.key == "minimum" for line in cheap.document.priced.lines)


def test_what_if_keeps_what_is_saved_together(shop, jobs):
    joint = stored(shop, jobs)
    with shop.reading() as session:
        asked = what_if(session, jobs[0], DAY, {"margin": "25"})
    assert asked.after.estimate.cost == joint.quotes[0].estimate.cost


def test_what_cannot_stand_on_one_quote_is_refused(shop, jobs):
    with shop.session() as session:
        other = add_job(session, replace(a_job("Hooks", "300"), customer="Inn at Crake Hollow"), at=AT).number
    with shop.reading() as session:
        for wrong, words in (
            ([jobs[0], other], "one quote is for one customer"),
            ([jobs[0], jobs[0]], "Different jobs for one quote: 1"),
        ):
            with pytest.raises(InputError, match=words):
                draft_joint(session, wrong, DAY)
        with pytest.raises(InputError, match="Sets and prices by hand"):
            draft_joint(session, jobs, DAY, QuoteWishes(sets=2))


def test_the_check_tells_a_joint_quote_that_lost_a_job(shop, jobs):
    stored(shop, jobs)
    with shop.session() as session:
        assert not list(joint_quotes_are_whole(session))
        session.execute(delete(JointQuoteMember).where(JointQuoteMember.position == 2))
        (found,) = joint_quotes_are_whole(session)
    assert "joint quote Q-0001 revision 1 holds 1 quotes of 1 jobs" in found.text


def test_a_line_whose_words_begin_its_jobs_title_says_its_job_too(shop, jobs):
    paper = stored(shop, jobs).document
    line = replace(paper.priced.lines[0], key="part Peg", text="Peg")
    told = quote_json(replace(paper, priced=replace(paper.priced, lines=(line,))))
    assert [one["text"] for one in told["lines"]] == ["Pegs: Peg"]


def test_each_job_is_promised_behind_those_before_it_on_the_paper(shop, jobs):
    with shop.session() as session:
        # Hardly an hour a week: each job takes days of its own.
        set_entry(session, "people", ["Ebba", "hours=0.5"], on=DAY)
        alone = [
            _done(draft_quote(session, job, DAY, QuoteWishes(lead_time="worked out")).document)
            for job in jobs
        ]
    together = [_done(quote) for quote in stored(shop, jobs, lead_time="worked out").quotes]
    assert together[0] == alone[0]
    assert together[1] > max(*alone, together[0])


def _done(document: QuoteDocument) -> date:
    """The day that the note of a worked-out lead time tells."""
    (note,) = (note for note in document.estimate.notes if note.startswith("Lead time worked out: done on "))
    return date.fromisoformat(note.split()[6])


def test_a_note_says_which_job_it_is_of_unless_it_is_of_all(shop, jobs):
    """ "Part A" may be a part of either: whoever read it had to guess."""
    joint = stored(shop, jobs)
    whole, single = joint.document.estimate.notes, [quote.estimate.notes for quote in joint.quotes]
    common = [note for note in single[0] if all(note in others for others in single[1:])]
    apart = [
        f"{job}: {note}" for job, own in zip(jobs, single, strict=True) for note in own if note not in common
    ]
    assert common and apart and set(whole) == {*common, *apart} and len(whole) == len(set(whole))


def test_a_job_that_was_dropped_is_not_answered_with_the_others(shop, jobs):
    stored(shop, jobs)
    with shop.session() as session:
        set_state(session, jobs[0], "dropped", at=AT)
        with pytest.raises(InputError, match=f"of job {jobs[0]}, which is dropped, and cannot be accepted"):
            answer_quote(session, jobs[0], "accepted", DAY)
        rows = answer_joint(session, "Q-0001", "accepted", DAY)
        assert [row.job for row in rows] == list(jobs[1:])
        with pytest.raises(InputError, match=f"no open quote: {jobs[0]} dropped, {jobs[1]} accepted"):
            answer_joint(session, "Q-0001", "accepted", DAY)


def test_a_long_part_is_parted_by_the_bars_that_were_bought_for_its_job(shop, jobs):
    """As its own quote has it: longer bars that are listed later do not part it otherwise."""
    rail = PartSpec("A", "rail", 1, "round 16", "S275", length=Measure.parse("9170", "mm"), splice=True)
    listed = select(StockItem).where(StockItem.section_key == "round 16")
    with shop.session() as session:
        for item in session.scalars(listed):
            item.retired = item.length != Length.from_mm(3000)
        number = add_job(session, replace(a_job("Rail", "410"), parts=(rail,)), at=AT).number
    order_for_jobs(shop, [number], OrderWish(), on=DAY, seconds=0.3)
    with shop.session() as session:
        for item in session.scalars(listed):
            item.retired = False
    with shop.reading() as session:
        alone = draft_quote(session, number, DAY).document
        in_short = draft_quote(session, number.lstrip("J-0"), DAY).document  # a number as it may be typed
        (_, among) = draft_joint(session, [jobs[0], number], DAY)
        tables = parse_toml(write_job_text(load_job(session, number).spec), "")
        typed = price_typed(session, tables, MadeBefore(), today=DAY, revises=number)
        anew = price_typed(session, tables, MadeBefore(), today=DAY)
    # Typed as its next revision it has the bars that it has; typed as another job it has to buy them.
    assert typed.document is not None and typed.document.priced.net == alone.priced.net
    assert anew.document is not None and anew.document.priced.net != alone.priced.net
    sawn = {
        length
        for document in (alone, in_short, among.document, typed.document)
        for material in document.materials
        for bar in material.plan.bars
        for _, length, _, _ in bar.pieces
    }
    assert sawn == {Length.from_mm("2292.5")}  # 3 m less 60 mm of trim and grip: four to a rail
