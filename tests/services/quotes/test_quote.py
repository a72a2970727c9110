"""Quotes on file: snapshots that nothing changes, states, questions, comparisons."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import BoughtSpec, FinishSpec, JobSpec, OutsideSpec, PartSpec, StepSpec, WeldSpec
from shopquote.calc.pricing.document import document_text
from shopquote.calc.pricing.priced_quote import PriceOverride
from shopquote.calc.units import Measure
from shopquote.errors import CannotMakeError, InputError, NotFoundError
from shopquote.reading.job_file import write_job_text
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Customer, Supplier
from shopquote.records.quotes import Quote
from shopquote.records.shop import Saw, Shop, TaxRow
from shopquote.records.standards import StandardRow
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.jobs.jobs import add_job, find_job, revise_job
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.quote import draft_quote
from shopquote.services.quotes.quote_changes import compare_revisions, price_for, what_if
from shopquote.services.quotes.quotes_on_file import (
    answer_quote,
    list_quotes,
    make_quote,
    store_quote,
    stored_quote,
)
from shopquote.services.rack.rack import add_pieces

D = Decimal
TODAY = date(2026, 3, 3)
NOON = datetime(2026, 3, 3, 12, tzinfo=UTC)


def mm(text):
    return Measure.parse(text, "mm")


def job_spec(**changes):
    spec = JobSpec(
        title="Gate latch",
        customer="Fellside Gardens",
        sets=4,
        units="mm",
        breaks=(1, 4, 12),
        parts=(
            PartSpec("A", "hoop", 2, "round 12", "S275", shape="leg 200; bend 90 r 30; leg 300"),
            PartSpec("B", "bar", 1, "flat 40 x 6", "S275", length=mm("450")),
        ),
        welds=(WeldSpec("fillet", mm("5"), mm("30"), 4, "MAG"),),
        bought=(BoughtSpec("M8 bolt", 2, D("0.35")),),
    )
    return replace(spec, **changes)


@pytest.fixture
def job(shop):
    """A job on file in the invented shop; its number."""
    with shop.session() as session:
        return add_job(session, job_spec(), at=NOON).number


def quoted(shop, job, today=TODAY, **wishes):
    with shop.session() as session:
        return make_quote(session, job, today, QuoteWishes(**wishes))


def read(shop, job, revision=None):
    with shop.reading() as session:
        return stored_quote(session, job, revision)


def test_a_quote_is_stored_and_read_back_to_the_cent(shop, job):
    made = quoted(shop, job)
    assert read(shop, job) == made
    assert (made.number, made.revision) == ("Q-0001", 1)
    assert made.valid_until == TODAY + timedelta(days=21)
    assert [step.sets for step in made.priced.breaks] == [1, 4, 12]
    with shop.reading() as session:
        row = session.scalars(select(Quote)).one()
        assert (row.net, row.tax, row.total, row.cost) == (
            made.priced.net, made.priced.tax, made.priced.total, made.priced.cost,
        )  # fmt: skip
        assert sum(cost.amount for cost in row.costs) == row.cost
        assert sum(line.amount for line in row.lines) == row.net
        assert sum(line.minutes for line in row.minutes) == sum(made.estimate.by_operation.values())
        assert find_job(session, job).state == "quoted"


def test_a_quote_stays_as_it_was_when_everything_changes(shop, job):
    made = quoted(shop, job)
    with shop.session() as session:
        for price in session.scalars(select(StockPrice)):
            price.price *= 2
        for standard in session.scalars(select(StandardRow)):
            standard.value *= 3
        session.get(Shop, 1).margin_pct = D(60)
        session.get(Shop, 1).name = "Another name"
        session.scalars(select(Customer)).one().name = "Renamed"
        session.scalars(select(TaxRow)).first().percent = D(7)
    assert read(shop, job) == made
    dearer = quoted(shop, job, TODAY + timedelta(days=1))
    assert dearer.revision == 2
    assert dearer.priced.net > made.priced.net
    assert read(shop, job, 1) == made


def test_the_same_quote_made_again_the_same_day_stays_one_revision(shop, job):
    assert quoted(shop, job) == quoted(shop, job)
    assert quoted(shop, job, rush_pct=D(10)).revision == 2
    with shop.reading() as session:
        assert [row.state for row in list_quotes(session, TODAY)] == ["replaced", "sent"]


def test_each_quantity_is_planned_on_its_own(shop, job):
    priced = quoted(shop, job).priced
    units = [step.unit_price for step in priced.breaks]
    assert units == sorted(units, reverse=True)
    assert priced.breaks[1].total == priced.net


def test_a_quantity_that_is_quoted_but_not_asked_side_by_side_is_no_break(shop, job):
    assert [step.sets for step in quoted(shop, job, sets=5).priced.breaks] == [1, 4, 12]


def test_a_quote_is_not_stored_when_the_job_was_revised_meanwhile(shop, job):
    with shop.reading() as session:
        draft = draft_quote(session, job, TODAY)
    with pytest.raises(InputError, match="revised meanwhile"), shop.session() as session:
        find_job(session, job).revision = 2
        store_quote(session, draft)


def test_wishes_change_this_quote_only(shop, job):
    plain = quoted(shop, job)
    by_hand = PriceOverride("set", D("99.00"), "agreed by phone")
    wished = quoted(shop, job, overrides=(by_hand,), valid_days=7, discount_pct=D(2))
    assert wished.priced.lines[0].unit_price == D("99.00")
    assert wished.priced.lines[0].override_reason == "agreed by phone"
    assert wished.valid_until == TODAY + timedelta(days=7)
    assert quoted(shop, job).priced == plain.priced


def test_markup_takes_the_place_of_the_shops_margin(shop, job):
    assert quoted(shop, job, markup_pct=D(50)).policy.margin_pct is None
    with pytest.raises(InputError, match="one of the two"):
        quoted(shop, job, markup_pct=D(50), margin_pct=D(20))


def test_taxes_by_name_and_an_exempt_customer(shop, job):
    with shop.session() as session:
        session.add(TaxRow(name="city tax", percent=D("1.5")))
    assert [tax.name for tax in quoted(shop, job, taxes=("VAT", "city tax")).priced.taxes] == [
        "VAT",
        "city tax",
    ]
    with pytest.raises(NotFoundError, match="citty"):
        quoted(shop, job, taxes=("citty tax",))
    with pytest.raises(InputError, match="twice"):
        quoted(shop, job, taxes=("VAT", "VAT"))
    with shop.session() as session:
        session.scalars(select(Customer)).one().tax_exempt = True
    assert quoted(shop, job).priced.tax == 0


def test_cautions_follow_the_use(shop):
    with shop.session() as session:
        number = add_job(session, job_spec(use="lifting"), at=NOON).number
        document = make_quote(session, number, TODAY)
    assert "no load rating" in document.cautions[0]


def test_a_bar_that_nobody_sells_cannot_be_quoted(shop):
    long = PartSpec("A", "pole", 1, "round 12", "S275", length=mm("9000"))
    with shop.session() as session:
        number = add_job(session, job_spec(parts=(long,), welds=()), at=NOON).number
        with pytest.raises(CannotMakeError, match="round 12"):
            make_quote(session, number, TODAY)


def test_a_size_on_nobodys_list_is_priced_by_mass_at_the_nearest_size(shop):
    odd = PartSpec("A", "peg", 1, "round 13", "S275", length=mm("90"))
    like = PartSpec("B", "pin", 1, "round 14", "S275", length=mm("90"))
    with shop.session() as session:
        number = add_job(session, job_spec(parts=(odd, like), welds=()), at=NOON).number
        document = make_quote(session, number, TODAY)
    assert document.guessed == (
        "round 13 mm S275 is on nobody's list: price guessed, by mass as round 14 mm.",
    )
    assert document.guessed[0] in document.estimate.notes
    (guessed,), (listed,) = (
        [m.plan.bars[0] for m in document.materials if m.section.key == key]
        for key in ("round 13", "round 14")
    )
    # By hand: the mass of round bars goes with the square of the diameter, 169 to 196.
    assert abs(guessed.price / listed.price - D(169) / 196) < D("0.001")


def test_a_grade_that_nobody_lists_is_priced_as_the_nearest_bar_of_its_family(shop):
    with shop.session() as session:
        part = PartSpec("A", "pin", 1, "round 12", "4140 annealed", length=mm("90"))
        number = add_job(session, job_spec(parts=(part,), welds=()), at=NOON).number
        (told,) = draft_quote(session, number, TODAY).document.guessed
    assert told == "round 12 mm 4140 annealed is on nobody's list: price guessed, by mass as round 12 mm C45."


def test_bars_that_cannot_be_guessed_are_told_all_at_once(shop):
    parts = tuple(
        PartSpec(mark, "peg", 1, bar, "Ti grade 2", length=mm("90"))
        for mark, bar in (("A", "round 13"), ("B", "square 17"))
    )
    with shop.session() as session:
        number = add_job(session, job_spec(parts=parts, welds=()), at=NOON).number
        with pytest.raises(
            CannotMakeError, match=r"round 13 mm Ti grade 2, square 17 mm Ti grade 2"
        ) as caught:
            make_quote(session, number, TODAY)
    assert 'shopquote stock set SUPPLIER "round 13 mm" "Ti grade 2" LENGTH' in caught.value.hint


def test_an_accepted_quote_wins_the_job(shop, job):
    quoted(shop, job)
    with shop.session() as session:
        assert answer_quote(session, job, "accepted", TODAY).state == "accepted"
        assert find_job(session, job).state == "won"
        with pytest.raises(InputError, match="is accepted"):
            answer_quote(session, job, "declined", TODAY, reason="changed their mind")


def test_a_declined_quote_needs_the_reason_and_loses_the_job(shop, job):
    quoted(shop, job)
    with shop.session() as session:
        with pytest.raises(InputError, match="reason why"):
            answer_quote(session, job, "declined", TODAY)
        row = answer_quote(session, job, "declined", TODAY, reason="too dear")
        assert (row.state, row.reason) == ("declined", "too dear")
        assert find_job(session, job).state == "lost"
        with pytest.raises(InputError, match="is lost"):
            make_quote(session, job, TODAY)


def test_a_quote_past_its_day_is_expired(shop, job):
    late = quoted(shop, job).valid_until + timedelta(days=1)
    with shop.session() as session:
        assert [row.state for row in list_quotes(session, late)] == ["expired"]
        assert list_quotes(session, late, states=["sent"]) == []
        with pytest.raises(InputError, match="expired"):
            answer_quote(session, job, "accepted", late)


def test_a_no_that_comes_late_is_still_learnt_from(shop, job):
    late = quoted(shop, job).valid_until + timedelta(days=9)
    with shop.session() as session:
        row = answer_quote(session, job, "declined", late, reason="bought a ready-made one")
        assert (row.state, row.reason) == ("declined", "bought a ready-made one")
        assert find_job(session, job).state == "lost"


def test_a_job_that_was_not_quoted_says_how_to(shop, job):
    with pytest.raises(NotFoundError, match="not quoted yet"):
        read(shop, job)
    quoted(shop, job)
    with pytest.raises(NotFoundError, match="revision 7"):
        read(shop, job, 7)


def test_a_supplier_of_another_currency_is_reckoned_in_the_shops(shop, job):
    before = quoted(shop, job).estimate.by_category["material"]
    with shop.session() as session:
        for supplier in session.scalars(select(Supplier)):
            supplier.exchange_rate = D(2)
    after = quoted(shop, job).estimate.by_category["material"]
    assert abs(after - 2 * before) <= D("0.05")


def test_a_quantity_beyond_the_stock_is_left_out_with_a_note(shop, job):
    with shop.session() as session:
        for item in session.scalars(select(StockItem)):
            item.limit = 3
    document = quoted(shop, job, breaks=(1, 4, 900))
    assert [step.sets for step in document.priced.breaks] == [1, 4]
    assert any(note.startswith("900 sets are not offered") for note in document.estimate.notes)


def test_a_standard_that_an_older_database_lacks_takes_its_starting_figure(shop, job):
    whole = quoted(shop, job).estimate
    with shop.session() as session:
        session.delete(session.scalars(select(StandardRow).where(StandardRow.name == "weld.turn")).one())
    assert quoted(shop, job).estimate == whole


def test_an_unknown_state_of_quotes_is_refused(shop):
    with pytest.raises(InputError, match="accepted"), shop.reading() as session:
        list_quotes(session, TODAY, states=["acepted"])


def test_quoting_is_the_same_on_every_database(any_shop):
    with any_shop.session() as session:
        number = add_job(session, job_spec(), at=NOON).number
        made = make_quote(session, number, TODAY)
    with any_shop.session() as session:
        assert stored_quote(session, number) == made
        assert answer_quote(session, number, "accepted", TODAY).state == "accepted"


# --- questions -----------------------------------------------------------------------------


def ask(shop, job, **changes):
    words = {name.replace("_", "-"): value for name, value in changes.items()}
    with shop.reading() as session:
        return what_if(session, job, TODAY, words)


# A word on the price keeps the cost; a word on the cost works it out again, here with what the shop has.
UNCHANGED_COST = [{}, {"overhead": "10"}]


@pytest.mark.parametrize("cost", UNCHANGED_COST)
def test_what_if_nothing_changes_nothing_differs(shop, job, cost):
    quoted(shop, job)
    answer = ask(shop, job, margin="30", **cost)
    assert answer.differences == ()


@pytest.mark.parametrize("words", [
    {"margin": "45"}, {"markup": "60"}, {"rush": "15"}, {"discount": "5"}, {"minimum_order": "5000"},
])  # fmt: skip
def test_what_if_of_the_price_alone_is_as_with_the_cost_worked_out_again(shop, job, words):
    quoted(shop, job)
    kept, again = ask(shop, job, **words), ask(shop, job, **words, overhead="10")
    assert kept.after.priced == again.after.priced
    assert kept.after.estimate.by_category == again.after.estimate.by_category
    assert kept.differences == again.differences


def test_what_if_stores_nothing_and_moves_the_price(shop, job):
    made = quoted(shop, job)
    answer = ask(shop, job, margin="45")
    assert answer.after.priced.net > made.priced.net
    assert answer.after.priced.cost == made.priced.cost
    assert read(shop, job) == made
    with shop.reading() as session:
        assert len(list_quotes(session, TODAY)) == 1


@pytest.mark.parametrize("cost", UNCHANGED_COST)
def test_what_if_answers_from_the_figures_of_the_quotes_own_day(shop, job, cost):
    made = quoted(shop, job)
    with shop.session() as session:
        for standard in session.scalars(select(StandardRow)):
            standard.value *= 3
    assert ask(shop, job, discount="0", **cost).after.priced.net == made.priced.net


@pytest.mark.parametrize("cost", UNCHANGED_COST)
def test_what_if_keeps_what_bar_from_the_rack_and_offcuts_were_worth(shop, job, cost):
    with shop.session() as session:
        for section, length in (("round 12", "6000"), ("flat 40 x 6", "3000")):
            add_pieces(session, parse_section(section, "mm"), section, "S275", mm(length), on=TODAY)
    made = quoted(shop, job)
    assert all(bar.rack_piece for material in made.materials for bar in material.plan.bars)
    with shop.session() as session:
        for price in session.scalars(select(StockPrice)):
            price.price *= 2
        for saw in session.scalars(select(Saw)):
            saw.keep_percent = D(90)
    assert ask(shop, job, margin="45", **cost).after.priced.cost == made.priced.cost


@pytest.mark.parametrize("changes, what", [
    ({"sets": "8"}, "sets"),
    ({"process": "tig"}, "standard weld.deposition.TIG"),
    ({"stock_price": "+10%"}, "cost of material"),
    ({"rate.welding": "70"}, "rate of welding"),
    ({"bend.base": "-20%"}, "standard bend.base"),
    ({"overhead": "25"}, "cost of overhead"),
    ({"minimum-order": "5000"}, "unit price of Minimum order charge"),
])  # fmt: skip
def test_what_if_by_word(shop, job, changes, what):
    quoted(shop, job)
    assert what in {one.what for one in ask(shop, job, **changes).differences}


@pytest.mark.parametrize("changes, error, word", [
    ({"marjin": "3"}, NotFoundError, "marjin"),
    ({"margin": "x"}, InputError, "number"),
    ({"margin": "100"}, InputError, "below 100"),
    ({"margin": "30", "markup": "40"}, InputError, "one of the two"),
    ({"process": "glue"}, InputError, "MIG"),
    ({"sets": "2.5"}, InputError, "whole"),
    ({"rate.welding": "-5"}, InputError, "at least 0"),
    # Ten per cent of the rate, or ten more?
    ({"rate.welding": "10%"}, InputError, r"expected a number \(money/h\), or a change such as \+10%"),
    ({"stock-price": "10%"}, InputError, r"or a change such as \+10%"),
])  # fmt: skip
def test_what_if_refuses(shop, job, changes, error, word):
    quoted(shop, job)
    with pytest.raises(error, match=word):
        ask(shop, job, **changes)


def test_a_what_if_takes_the_signs_that_amounts_and_per_cent_bear(shop, job):
    quoted(shop, job)
    same = [
        ({"rate.welding": "70"}, {"rate.welding": "€70"}), ({"margin": "40"}, {"margin": "40 %"}),
        ({"learning.rate": "90"}, {"learning.rate": "90%"}),
        ({"minimum-order": "5000"}, {"minimum-order": "5000 €"}),
    ]  # fmt: skip
    for bare, signed in same:
        assert ask(shop, job, **bare).after.priced == ask(shop, job, **signed).after.priced
    with pytest.raises(InputError, match="an amount in EUR, not in £"):
        ask(shop, job, **{"rate.welding": "£70"})


def test_a_price_target_names_the_minutes_to_save(shop, job):
    made = quoted(shop, job)
    with shop.reading() as session:
        target = price_for(session, job, made.priced.net - D(20), TODAY)
    assert target.too_dear_by > 0
    assert all(save <= now for _, save, now in target.savings)
    # By hand: labour carries scrap 1 %, overhead 10 % and contingency 2 %.
    labour = sum(cost.amount for cost in made.estimate.operations) * D("1.01") * D("1.10") * D("1.02")
    assert target.share_of_all_pct == (target.too_dear_by / labour * 100).quantize(D("0.1"))


def compared(shop, job, before, after=None):
    with shop.reading() as session:
        return {one.what: one for one in compare_revisions(session, job, before, after)[2]}


def test_two_revisions_are_compared_in_words_and_figures(shop, job):
    first = quoted(shop, job)
    with shop.session() as session:
        session.get(Shop, 1).lead_time = "6 weeks"
    second = quoted(shop, job, rush_pct=D(10))
    found = compared(shop, job, 1, 2)
    assert Decimal(found["net"].change) == second.priced.net - first.priced.net
    assert found["lead time"].after == "6 weeks"
    assert found["unit price of Rush work"].before == ""
    assert compared(shop, job, 1, 1) == {}
    assert (found["asked rush %"].before, found["asked rush %"].after) == ("0", "10")
    with shop.session() as session:
        own = session.get(Shop, 1)
        own.learning, own.credit_offcuts, own.minimum_order = "unit", True, D(75)
    quoted(shop, job, rush_pct=D(10))
    third = compared(shop, job, 2)
    assert (third["offcuts credited"].before, third["offcuts credited"].after) == ("no", "yes")
    assert (third["learning over the run"].after, third["asked minimum order"].after) == ("unit", "75")


def test_a_comparison_names_the_parts_that_changed_and_why_a_price_is_set_by_hand(shop, job, tmp_path):
    quoted(shop, job)
    hoop, bar = job_spec().parts
    parts = (replace(hoop, bar="round 10", threaded=2), replace(bar, mark="C", per_set=2))
    file = tmp_path / "job.toml"
    bought, finish = (BoughtSpec("M10 bolt", 2, D("0.45")),), FinishSpec("oil", 1)
    welds = (WeldSpec("fillet", mm("6"), mm("30"), 4, "MAG"),)
    file.write_text(write_job_text(job_spec(parts=parts, bought=bought, finish=finish, welds=welds)))
    with shop.session() as session:
        revise_job(session, job, file, at=NOON)
    quoted(shop, job, overrides=(PriceOverride("set", D(95), "agreed by phone"),))
    found = compared(shop, job, 1)
    assert (found["part A: bar"].before, found["part A: bar"].after) == ("round 12", "round 10")
    assert (found["part A: ends threaded"].before, found["part A: ends threaded"].after) == ("0", "2")
    assert (found["bought M8 bolt"].after, found["bought M10 bolt"].after) == ("", "M10 bolt, 2, 0.45")
    assert (found["weld 1: leg"].before, found["weld 1: leg"].after) == ("5", "6")
    assert (found["finish"].before, found["finish"].after) == ("", "oil, coats 1")
    assert not any(what.startswith("outside") for what in found)
    assert "part A: grade" not in found and "part A: ends turned" not in found
    assert (found["part B"].after, found["part C"].before) == ("", "")
    assert found["part C"].after.startswith("C, bar, 2, flat 40 x 6, S275, straight length 450")
    assert found["price by hand of Gate latch"].after == "agreed by phone"


def test_outside_work_with_a_minimum_is_in_the_estimate(shop):
    spec = job_spec(outside=(OutsideSpec("hot-dip galvanising", "kg", D("1.90"), D(60)),))
    with shop.session() as session:
        number = add_job(session, spec, at=NOON).number
        document = make_quote(session, number, TODAY)
    assert document.estimate.by_category["outside"] == D("60.00")


def test_a_logo_is_kept_with_the_quote(shop, job, tmp_path):
    from PIL import Image

    Image.new("RGB", (40, 20), (122, 59, 18)).save(tmp_path / "logo.png")
    with shop.session() as session:
        session.get(Shop, 1).logo_path = str(tmp_path / "logo.png")
    made = quoted(shop, job)
    (tmp_path / "logo.png").unlink()
    assert made.wording.logo
    assert read(shop, job) == made
    without = quoted(shop, job)  # a missing logo stops no quote
    assert without.wording.logo == ""
    assert any("logo.png" in note and "no logo" in note for note in without.estimate.notes)


@pytest.mark.parametrize("day", [date(2026, 3, 2), date(2030, 1, 1)])
def test_the_day_is_the_callers(shop, job, day):
    assert quoted(shop, job, day).issued_on == day


def test_what_is_for_the_shop_alone_never_reaches_the_customers_paper(shop):
    hoop, bar = job_spec().parts
    spec = job_spec(
        description="A latch for a field gate", note="SECRET pays late", drawing="GA-12 rev B",
        enquiry="E-77",
        parts=(replace(hoop, note="SECRET scale off", drawing="D-1", hold=mm("15")), bar),
        welds=(WeldSpec("fillet", mm("5"), mm("30"), 4, "MAG", note="SECRET inside"),),
        steps=(StepSpec("SECRET tack first", "welding", ("A",)),),
    )  # fmt: skip
    with shop.session() as session:
        number = add_job(session, spec, at=NOON).number
        document = make_quote(session, number, TODAY)
        sheet = floor_sheet(session, number, at=NOON)
    assert (document.description, document.enquiry) == ("A latch for a field gate", "E-77")
    assert "SECRET" not in document_text(document)
    assert "SECRET pays late" in sheet.remarks and "Drawing GA-12 rev B" in sheet.remarks
    assert any("SECRET scale off" in text and "saw it off" in text for text in sheet.part_remarks)
    assert sheet.making == ("1. welding: SECRET tack first (A)",)
    assert "SECRET inside" in sheet.welds[0].note
