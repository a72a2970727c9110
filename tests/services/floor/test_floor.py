"""Floor sheets: every piece once, in a bar that holds it; marks as the bar room gave them; read back."""

from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook
from sqlalchemy import select

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.takeoff.cut_plan import BarCut
from shopquote.calc.takeoff.whole_sheets import Band
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.outputs.books.floor_book import write_floor_book
from shopquote.records.logs import ScrapNote, TimeEntry
from shopquote.records.materials import StockItem
from shopquote.records.rack import BarUse, RackPiece
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.takeoff import items_of_job
from shopquote.services.floor.bend_list import bend_list
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.floor.floor_sheet import WorkedEnds
from shopquote.services.floor.log_words import LogWords, log_words, rows_left_out
from shopquote.services.floor.saw_list import BarGroup, saw_list
from shopquote.services.floor.sheet import log_from_sheet
from shopquote.services.floor.sheet_rows import read_sheet
from shopquote.services.jobs.jobs import load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.rack.rack import add_pieces, promise_pieces, release_promises, share_piece
from shopquote.services.review.job_review import review_job
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings, the_shop
from shopquote.services.shop.starting import starting_shop
from tests.services.review_jobs import NOW, TODAY, hoops, mm, quoted_job
from tests.sheets import fill, row_where

D = Decimal


@pytest.fixture
def writing(shop):
    with shop.session() as session:
        yield session


def check_saw_list(session, sheet, spec):
    """By the statement of the task alone: every piece is there and no bar holds more than its length."""
    saw = saw_settings(session)
    answers = work_out_parts(spec, bending_shop(session))
    cut = Counter()
    for bar in sheet.saw:
        pieces = sum(part.count for part in bar.cuts)
        used = sum(part.length.nm * part.count for part in bar.cuts)
        kerfs, trim = (0, 0) if bar.sawn else ((pieces - 1) * saw.kerf.nm, saw.trim.nm)
        left = bar.length.nm - used - kerfs - trim  # a last cut frees it
        assert bar.offcut.nm == (left if bar.sawn else max(0, left - saw.kerf.nm))
        for part in bar.cuts:
            cut[part.mark] += part.count * bar.count
    wanted = Counter({part.mark: spec.quantity(part) for part in spec.parts})
    assert {mark: cut[mark] for mark in wanted} == wanted
    for bar in sheet.saw:
        for part in bar.cuts:
            if part.mark in answers:
                assert part.length == answers[part.mark].cut


def test_the_saw_list_cuts_every_piece_once(writing):
    number = quoted_job(writing)
    sheet = floor_sheet(writing, number, at=NOW, seconds=0.3)
    check_saw_list(writing, sheet, hoops())
    assert next(bar.first for bar in sheet.saw) == 1
    for before, after in zip(sheet.saw, sheet.saw[1:], strict=False):
        assert after.first == before.last + 1


def test_pieces_that_come_off_a_sheet_keep_what_is_done_to_their_ends():
    hoop, rail = hoops().parts
    spec = hoops(parts=(replace(hoop, threaded=1), rail))
    answers = {part.mark: analyse_part(part, spec.units, starting_shop()) for part in spec.parts}
    hooped, none, size = answers["A"], Length(0), Length.from_mm
    bar = BarCut(size(3000), 1, (("A", hooped.cut, 1, "J-0001"),), none, none, size(100), False)
    band = Band("A", "J-0001", hooped.section, 2, 2, hooped.cut, size(60), none, none)
    group = BarGroup(hooped.section, hooped.grade, (bar,), frozenset(), (band,))
    (row,) = saw_list([group], {}, spec, answers)
    assert [cut.ends for cut in row.cuts] == ["then each into 2 of 60 mm; one end threaded"]


def test_the_sawyer_and_the_turner_see_which_ends_are_worked(writing):
    hoop, rail = hoops().parts
    ends = (End("mitre", D(45)), End())
    peg = PartSpec("C", "peg", 1, "round 16", "S275", length=rail.length, ends=ends, turned=1, threaded=2)
    number = quoted_job(writing, hoops(parts=(replace(hoop, threaded=1), rail, peg)))
    sheet = floor_sheet(writing, number, at=NOW, seconds=0.3)
    said = {cut.mark: cut.ends for bar in sheet.saw for cut in bar.cuts}
    assert said == {
        "A": "one end threaded", "B": "", "C": "mitre 45 / square; one end turned; both ends threaded",
    }  # fmt: skip
    # 4 sets: 8 hoops with one end each, 4 pegs with one turned and two threaded.
    assert sheet.worked_ends == (
        WorkedEnds("turned", "round 16", "C", 1, 4),
        WorkedEnds("threaded", "round 12", "A", 1, 8),
        WorkedEnds("threaded", "round 16", "C", 2, 8),
    )  # fmt: skip
    assert "turning" in dict(sheet.minutes)


def test_promised_pieces_are_sawn_first_with_their_place_and_heat(writing):
    number = quoted_job(writing)
    bar = parse_section("round 12", "mm")
    codes = [
        piece.code
        for piece in add_pieces(
            writing, bar, "round 12", "S275", mm("6000"), count=2, heat="H77", place="rack 3", on=TODAY
        )
    ]
    promise_pieces(writing, codes, number)
    sheet = floor_sheet(writing, number, at=NOW, seconds=0.3)
    check_saw_list(writing, sheet, hoops())
    rack = [row for row in sheet.saw if row.piece in codes]
    assert rack and {(row.place, row.heat, row.count) for row in rack} == {("rack 3", "H77", 1)}


def test_the_saw_list_goes_from_place_to_place(writing):
    number = quoted_job(writing)
    bar = parse_section("round 12", "mm")
    for place in ("bay 10", "bay 2", "A1"):
        (piece,) = add_pieces(writing, bar, "round 12", "S275", mm("2500"), heat="H77", place=place, on=TODAY)
        promise_pieces(writing, [piece.code], number)
    places = [row.place for row in floor_sheet(writing, number, at=NOW, seconds=0.3).saw]
    rack = [place for place in places if place]
    assert rack == sorted(rack, key=["A1", "bay 2", "bay 10"].index) and len(rack) > 1
    assert not any(places[len(rack) :])  # what lies nowhere yet comes last


def test_a_sheet_printed_before_the_bars_came_asks_which_were_sawn(shop, tmp_path):
    with shop.session() as session:
        number = quoted_job(session)
    order_for_jobs(shop, [number], OrderWish(), on=TODAY, seconds=1)
    with shop.reading() as session:
        path = write_floor_book(floor_sheet(session, number, at=NOW, seconds=0.3), tmp_path)
    with shop.session() as session:
        received = receive_order(session, "O-0001", certificates=shop.certificates, at=NOW)
        codes = [piece.code for piece in received.pieces if piece.section_key == "round 12"]
    book = load_workbook(path)
    page = book["Bars used"]
    fill(page, {"Used": None}, Used=1, Day=TODAY)
    book.save(path)
    with shop.session() as session, pytest.raises(InputError, match=f"Rack piece: .*{codes[0]}"):
        log_from_sheet(session, number, path, today=TODAY, at=NOW)
    book = load_workbook(path)
    fill(book["Bars used"], {"Used": 1}, **{"Rack piece": codes[0]})
    book.save(path)
    with shop.session() as session:
        (logged,) = log_from_sheet(session, number, path, today=TODAY, at=NOW).logged
        assert codes[0] in logged.what


def test_ordered_bars_are_sawn_as_they_were_ordered(shop):
    with shop.session() as session:
        first = quoted_job(session)
        second = quoted_job(session, hoops(title="More hoops", sets=3))
    order_for_jobs(shop, [first, second], OrderWish(), on=TODAY, seconds=1)
    with shop.reading() as session:
        for number, sets in ((first, 4), (second, 3)):
            sheet = floor_sheet(session, number, at=NOW, seconds=0.3)
            check_saw_list(session, sheet, hoops(sets=sets))
            assert all("O-0001" in bar.source or bar.piece for bar in sheet.saw)


def test_bars_that_jobs_share_stay_shared_when_one_of_them_is_planned_anew(shop):
    with shop.session() as session:
        first = quoted_job(session)
        second = quoted_job(session, hoops(title="More hoops", sets=3))
    order_for_jobs(shop, [first, second], OrderWish(), on=TODAY, seconds=1)
    with shop.session() as session:
        received = receive_order(session, "O-0001", certificates=shop.certificates, at=NOW)
        shared = {piece.code: piece for piece in received.pieces if len(piece.shares) > 1}
        assert shared  # else this test shows nothing
        lost = next(p for p in received.pieces if len(p.shares) == 1 and p.promised_job.number == first)
        release_promises(
            session, codes=[lost.code]
        )  # the first job has less bar now: its cuts are planned anew
        sheet = floor_sheet(session, first, at=NOW, seconds=0.5)
        check_saw_list(session, sheet, hoops())
        for bar in sheet.saw:
            if bar.piece in shared:
                theirs = sum(
                    n for s in shared[bar.piece].shares for _, _, n in s.pieces if s.job.number == second
                )
                assert sum(cut.count for cut in bar.cuts if cut.mark.startswith(second)) == theirs


def test_bends_are_marked_where_the_bar_room_says(writing):
    number = quoted_job(writing)
    sheet = floor_sheet(writing, number, at=NOW, seconds=0.3)
    answer = work_out_parts(load_job(writing, number).spec, bending_shop(writing))["A"]
    (part,) = sheet.bends
    assert (part.mark, part.count) == ("A", 8)
    for bend in part.bends:
        held = answer.bends[bend.number - 1]
        assert bend.mark == held.bender_mark
        assert (bend.angle, bend.over_bend_to, bend.former) == (
            held.angle,
            held.over_bend_to,
            held.former_radius,
        )
    # Round 12, inside radius 24, 90 degrees: outside setback 24 + 12 = 36, so the first bend begins at
    # 300 - 36 = 264 and its centreline arc pi/2 x 30 is 47.12 long.
    first = answer.bends[0].mark
    assert abs(first.start.mm_float - 264.0) < 0.5
    assert abs((first.end - first.start).mm_float - 47.12) < 0.5


def test_what_is_cut_longer_to_hold_stands_on_the_bend_list():
    hold = Measure.parse("15", "mm")
    part = PartSpec("A", "hook", 1, "round 12", "S275", shape="leg 40; bend 90 r 24; leg 80", hold=hold)
    spec = JobSpec("Hooks", "Somebody", 1, "mm", parts=(part,))
    (row,) = bend_list(spec, {"A": analyse_part(part, "mm", starting_shop())})
    assert row.problems[0] == "cut 15 longer to hold at the finish end; saw it off after bending"


def test_every_use_carries_its_caution_and_no_money_is_shown(writing, tmp_path):
    for use, words in (
        ("lifting", "no load rating"),
        ("guarding", "local building codes"),
        ("structural", "Strength was not"),
    ):
        number = quoted_job(writing, hoops(use=use))
        sheet = floor_sheet(writing, number, at=NOW, seconds=0.1)
        assert words in sheet.cautions[0]
        book = load_workbook(write_floor_book(sheet, tmp_path))
        for page in book.worksheets[:3]:
            text = " ".join(str(cell) for row in page.iter_rows(values_only=True) for cell in row if cell)
            assert words in text
            assert "EUR" not in text and "€" not in text


# ---- filled in and read back ------------------------------------------------------------------


def filled(session, tmp_path, number, write):
    """The job's floor workbook after `write(book)` wrote into it."""
    path = write_floor_book(floor_sheet(session, number, at=NOW, seconds=0.2), tmp_path)
    book = load_workbook(path)
    write(book)
    book.save(path)
    return path


def minutes_row(page, operation, minutes, **cells):
    """Fill the first free row of an operation."""
    return fill(page, {"Operation": operation, "Minutes": None}, Minutes=minutes, **cells)


def take(session, number, path, at=NOW):
    return log_from_sheet(session, number, path, today=at.date(), at=at)


def test_a_filled_in_sheet_is_logged_once(writing, tmp_path):
    number = quoted_job(writing)
    bar = parse_section("round 12", "mm")
    (piece,) = add_pieces(writing, bar, "round 12", "S275", mm("6000"), cost=D("12.00"), heat="H7", on=TODAY)
    promise_pieces(writing, [piece.code], number)

    def write(book):
        page = book["Minutes"]
        minutes_row(page, "bending", 95, Day=date(2026, 3, 5), Person="Wyn")
        minutes_row(page, "bending", "0:20", Rework="yes", **{"Reason or note": "bent the wrong way"})
        minutes_row(page, "welding", "1.5 h", Day="2026-03-06", Person="Ebba")
        bars = book["Bars used"]
        back = {"Came back": "1450; 620"}
        fill(bars, {"Rack piece": piece.code}, Used=1, Day=date(2026, 3, 5), **back)
        scrapped = {"Mark": "A", "Pieces": 1, "Day": date(2026, 3, 5), "Person": "Wyn", "Reason": "cut short"}
        fill(book["Scrap"], {"Mark": None}, **scrapped)

    path = filled(writing, tmp_path, number, write)
    done = take(writing, number, path)
    assert len(done.logged) == 5
    entries = writing.scalars(select(TimeEntry).order_by(TimeEntry.id)).all()
    assert [(e.operation, e.minutes, e.kind, e.worked_on.day) for e in entries] == [
        ("bending", 95, "work", 5), ("bending", 20, "rework", 5), ("welding", 90, "work", 6),
    ]  # fmt: skip
    (use,) = writing.scalars(select(BarUse))
    assert use.rack_piece_id == piece.id
    assert use.returned == Length.from_mm(2070)
    assert use.credit == D("4.14")  # 2070 of 6000 mm of 12.00
    back = writing.scalars(select(RackPiece).where(RackPiece.parent_id == piece.id)).all()
    assert {(row.length.mm, row.heat) for row in back} == {(1450, "H7"), (620, "H7")}
    assert writing.scalars(select(ScrapNote)).one().reason == "cut short"
    again = take(writing, number, path)
    assert (again.logged, again.before) == ((), 5)
    assert review_job(writing, number).minutes_rework == 20


@pytest.mark.parametrize(
    ("mine", "borne", "told"),
    [
        (1000, "3.00", "rack piece R-0001, J-0002 bears 9.00 of it"),
        (0, "0", "rack piece R-0001, J-0002 bears 12.00 of it"),
    ],
)
def test_a_bar_with_cuts_of_another_job_is_logged_once_and_says_what_each_bears(
    writing, tmp_path, mine, borne, told
):
    """The whole cost was told as this job's; a bar of the other's cuts alone was refused when read again."""
    number, other = quoted_job(writing), quoted_job(writing, hoops(title="More hoops"))
    bar = parse_section("round 12", "mm")
    (piece,) = add_pieces(writing, bar, "round 12", "S275", mm("6000"), cost=D("12.00"), on=TODAY)
    promise_pieces(writing, [piece.code], number)
    path = filled(
        writing, tmp_path, number,
        lambda book: fill(book["Bars used"], {"Rack piece": piece.code}, Used=1, Day=date(2026, 3, 5)),
    )  # fmt: skip
    # Planned anew after the sheet was printed.
    cuts = [(number, "A", Length.from_mm(mine), 1), (other, "A", Length.from_mm(3000), 1)]
    share_piece(writing, piece, cuts if mine else cuts[1:])
    (logged,) = take(writing, number, path).logged
    assert (logged.what, logged.cost) == (told, D(borne))
    uses = {use.job.number: use.cost for use in writing.scalars(select(BarUse))}
    assert (uses.get(number, D(0)), sum(uses.values())) == (D(borne), D(12))
    again = take(writing, number, path)
    assert (again.logged, again.before) == ((), 1)


def test_a_row_far_below_the_others_is_logged_too(writing, tmp_path):
    number = quoted_job(writing)

    def write(book):
        minutes_row(book["Minutes"], "sawing", 10, Day=TODAY)
        page = book["Minutes"]
        (row,) = {cell.row for line in page.iter_rows() for cell in line if cell.value == 10}
        for place, cell in enumerate(list(page[row]), start=1):
            page.cell(6_000, place).value = cell.value

    take(writing, number, filled(writing, tmp_path, number, write))
    assert [entry.minutes for entry in writing.scalars(select(TimeEntry))] == [10, 10]


def test_more_can_be_filled_in_later(writing, tmp_path):
    number = quoted_job(writing)
    path = filled(
        writing, tmp_path, number, lambda book: minutes_row(book["Minutes"], "welding", 30, Day=TODAY)
    )
    take(writing, number, path)
    book = load_workbook(path)
    minutes_row(book["Minutes"], "welding", 12, Day=TODAY)
    book.save(path)
    done = take(writing, number, path)
    assert (len(done.logged), done.before) == (1, 1)


def test_a_logged_row_that_changed_is_told(writing, tmp_path):
    number = quoted_job(writing)
    path = filled(
        writing, tmp_path, number, lambda book: minutes_row(book["Minutes"], "welding", 30, Day=TODAY)
    )
    take(writing, number, path)
    book = load_workbook(path)
    fill(book["Minutes"], {"Operation": "welding"}, Minutes=300)
    book.save(path)
    with pytest.raises(InputError, match="logged before"):
        take(writing, number, path)


def test_all_faults_are_told_by_row_and_nothing_is_logged(shop, tmp_path):
    with shop.session() as session:
        number = quoted_job(session)

        def write(book):
            page = book["Minutes"]
            minutes_row(page, "bending", "ninety", Day=TODAY)
            minutes_row(page, "welding", 30)  # no day, none above it either on this tab
            minutes_row(page, "sawing", 10, Day=date(2027, 1, 1))
            minutes_row(page, "packing", 10, Day=TODAY, Rework="yes")
            fill(page, {"Operation": None}, Operation="wleding", Day=TODAY, Minutes=5)
            fill(book["Scrap"], {"Mark": None}, Mark="Z", Pieces=1.5, Day=TODAY, Person="", Reason="")

        path = filled(session, tmp_path, number, write)
    with pytest.raises(InputError) as caught, shop.session() as session:
        take(session, number, path)
    faults = caught.value.faults
    told = {(fault.table, fault.key) for fault in faults}
    assert told >= {
        ("tab Minutes", "Minutes"), ("tab Minutes", "Day"), ("tab Minutes", "Reason or note"),
        ("tab Minutes", "Operation"), ("tab Scrap", "Mark"), ("tab Scrap", "Pieces"), ("tab Scrap", "Reason"),
    }  # fmt: skip
    assert all(fault.mark.startswith("row ") for fault in faults)
    assert any(fault.nearest == "welding" for fault in faults)
    with shop.reading() as session:
        assert session.scalars(select(TimeEntry)).all() == []


def test_a_sheet_is_read_as_people_fill_it_in(writing, tmp_path):
    number = quoted_job(writing)
    the_shop(writing).locale = "de_DE"

    def write(book):
        page = book["Minutes"]
        minutes_row(page, "sawing", "12,5", Day="5/3/2026", Person="Wyn")
        minutes_row(page, "bending", "1,5 h")
        minutes_row(page, "welding", "0:20", Day="6.3.2026", Person="Ebba")
        fill(page, {"Operation": None}, Operation="ditto", Minutes="same again", Day='"', Person="Wyn")
        fill(book["Scrap"], {"Mark": None}, Mark="A", Pieces=1, Day="6/3/2026", Person="Wyn", Reason="short")
        fill(book["Scrap"], {"Mark": None}, Mark="B", Pieces=2, Reason="Dto.")

    take(writing, number, filled(writing, tmp_path, number, write))
    entries = writing.scalars(select(TimeEntry).order_by(TimeEntry.id)).all()
    assert [(e.operation, e.minutes, e.worked_on.isoformat(), e.person) for e in entries] == [
        ("sawing", D("12.5"), "2026-03-05", "Wyn"), ("bending", 90, "2026-03-05", "Wyn"),
        ("welding", 20, "2026-03-06", "Ebba"), ("welding", 20, "2026-03-06", "Wyn"),
    ]  # fmt: skip
    notes = writing.scalars(select(ScrapNote).order_by(ScrapNote.id)).all()
    assert [(n.mark, n.reason, n.person, n.scrapped_on.day) for n in notes] == [
        ("A", "short", "Wyn", 6), ("B", "short", "Wyn", 6),
    ]  # fmt: skip


def test_good_rows_are_logged_though_others_are_bad_where_the_person_says_so(shop, tmp_path):
    with shop.session() as session:
        number = quoted_job(session)
        (piece,) = add_pieces(
            session, parse_section("round 12", "mm"), "round 12", "S275", mm("6000"), cost=D(12), on=TODAY
        )
        promise_pieces(session, [piece.code], number)
        code = piece.code

        def write(book):
            page = book["Minutes"]
            minutes_row(page, "sawing", 10, Day=TODAY)
            minutes_row(page, "bending", "ninety", Day="31.2.2026")
            minutes_row(page, "welding", 30)  # its day is that of the row above, which is none
            minutes_row(page, "packing", 10, Day=TODAY)
            # More came back than was there: found only while it is logged.
            fill(book["Bars used"], {"Rack piece": code}, Used=1, Day=TODAY, **{"Came back": "7000"})

        path = filled(session, tmp_path, number, write)
    words = LogWords(sheet=path, good_rows=True)
    with shop.session() as session:
        left_out = rows_left_out(session, number, words, at=NOW)
        session.rollback()
        done = log_words(session, number, words, at=NOW, but=left_out)
    assert len({(fault.table, fault.mark) for fault in done.left_out}) == 3
    assert len(done.rows) == 2
    with shop.reading() as session:
        assert set(session.scalars(select(TimeEntry.operation))) == {"sawing", "packing"}
        assert session.scalars(select(BarUse)).all() == []
        assert session.scalars(select(RackPiece.state).where(RackPiece.code == code)).one() == "promised"
    with pytest.raises(InputError) as told, shop.session() as session:
        log_words(session, number, LogWords(sheet=path), at=NOW)
    assert len(told.value.faults) == len(left_out)


def test_a_floor_sheet_without_one_good_row_is_refused_also_where_good_rows_are_taken(shop, tmp_path):
    with shop.session() as session:
        number = quoted_job(session)
        path = filled(
            session,
            tmp_path,
            number,
            lambda book: minutes_row(book["Minutes"], "bending", "ninety", Day=TODAY),
        )
    words = LogWords(sheet=path, good_rows=True)
    with shop.session() as session:
        left_out = rows_left_out(session, number, words, at=NOW)
        session.rollback()
        with pytest.raises(InputError, match="ninety"):
            log_words(session, number, words, at=NOW, but=left_out)


def test_bars_that_are_not_on_the_rack_are_logged_at_the_stock_price(writing, tmp_path):
    number = quoted_job(writing)

    def write(book):
        bars = book["Bars used"]
        planned = row_where(bars, {"Section": "flat 40 x 8"}, "Planned")["Planned"].value
        fill(bars, {"Section": "flat 40 x 8"}, Used=planned, Day=TODAY)

    path = filled(writing, tmp_path, number, write)
    assert len(take(writing, number, path).logged) == 1
    use = writing.scalars(select(BarUse)).one()
    assert use.section_key == "flat 40 x 8" and use.cost > 0


def free_bar(book, *values):
    """Fill the first free row of the bars: section, grade, length, used, came back, cost."""
    names = ("Section", "Grade", "Length", "Used", "Came back", "Cost")
    cells = dict(zip(names, values, strict=True))
    return fill(book["Bars used"], {"Section": None}, Day=TODAY, **cells)


def test_bars_without_a_price_on_file_are_logged_at_the_cost_on_the_sheet(writing, tmp_path):
    number = quoted_job(writing)

    def write(book):
        free_bar(book, "round 9", "S275", "4000", 3, "1000", "12.50")
        free_bar(book, "round 9", "S275", "3000", 1, None, 4.2)
        free_bar(book, "round 9", "S275", "2000", 1, None, 0)  # the customer's own bar

    path = filled(writing, tmp_path, number, write)
    assert len(take(writing, number, path).logged) == 3
    uses = writing.scalars(select(BarUse).order_by(BarUse.id)).all()
    # 1000 of 3 x 4000 mm came back: a twelfth of 12.50.
    assert [(use.cost, use.credit) for use in uses] == [(D("12.50"), D("1.04")), (D("4.20"), 0), (0, 0)]
    again = take(writing, number, path)
    assert (again.logged, again.before) == ((), 3)


@pytest.mark.parametrize(("typed", "charged"), [("7,50", D("7.50")), (0, D(0))])
def test_a_sheet_says_what_the_delivery_of_its_bars_cost(writing, tmp_path, typed, charged):
    """0 says that nothing was charged, which an empty cell does not."""
    number = quoted_job(writing)
    rows = []

    def write(book):
        rows.append(free_bar(book, "round 9", "S275", "4000", 3, None, "12.50"))
        fill(book["Bars used"], {"Section": "round 9"}, Delivery=typed)

    path = filled(writing, tmp_path, number, write)
    take(writing, number, path)
    use = writing.scalars(select(BarUse)).one()
    assert (use.cost, use.delivery) == (D("12.50") + charged, charged)
    # The same row again counts once.
    assert (take(writing, number, path).logged, take(writing, number, path).before) == ((), 1)


def test_faults_that_are_not_a_cells_are_told_in_plain_words(writing, tmp_path):
    number = quoted_job(writing)
    (piece,) = add_pieces(writing, parse_section("round 12", "mm"), "round 12", "S275", mm("6000"), on=TODAY)
    promise_pieces(writing, [piece.code], number)
    rows = []

    def write(book):
        rows.append(free_bar(book, "round 9", "S275", "4000", 3, None, None))
        rows.append(free_bar(book, "rnd 9", "S27", "4000", 3, None, "1.2.50"))
        rows.append(free_bar(book, "rnd 9", "S27", "4000", 3, None, "12.50"))
        rows.append(free_bar(book, "round 12", "S275", "1000", 1, "1500", "3"))
        rows.append(fill(book["Bars used"], {"Rack piece": piece.code}, Used=1, Cost=5, Day=TODAY))

    path = filled(writing, tmp_path, number, write)
    with pytest.raises(InputError) as caught:
        take(writing, number, path)
    told = str(caught.value)
    place = f"{path.name}: tab Bars used row "
    assert (
        f"{place}{rows[0]}, Cost: found nothing, expected what the bars cost in all: no price is on file "
        "for 4000 of round 9 in S275" in told
    )
    assert f"{place}{rows[1]}, Cost: found 1.2.50, expected an amount" in told
    assert f"{place}{rows[2]}, Grade: Grade 'S27' is not on file. Did you mean 'S275'?" in told
    assert f"{place}{rows[2]}, Section: " in told
    assert f"{place}{rows[3]}: 1500 mm came back, more than the bars had." in told
    assert f"{place}{rows[4]}, Cost: found 5, expected nothing, because a rack piece" in told
    assert "a row that can be logged" not in told


def test_a_sheet_printed_before_bars_had_a_cost_is_still_read(writing, tmp_path):
    number = quoted_job(writing)

    def write(book):
        page = book["Bars used"]
        page.delete_cols([cell.value for cell in page[5]].index("Cost") + 1)
        fill(page, {"Section": "flat 40 x 8"}, Used=1, Day=TODAY)

    assert len(take(writing, number, filled(writing, tmp_path, number, write)).logged) == 1


@pytest.mark.parametrize("kind", ["other job", "not ours", "no workbook", "not there", "heading gone"])
def test_files_that_are_not_this_jobs_sheet_are_refused(writing, tmp_path, kind):
    number = quoted_job(writing)
    path = filled(writing, tmp_path, number, lambda book: None)
    wanted = number
    if kind == "other job":
        wanted = quoted_job(writing)
    elif kind == "not ours":
        book = load_workbook(path)
        for name in book.sheetnames[1:]:
            del book[name]
        book.save(path)
    elif kind == "no workbook":
        path.write_text("not a workbook")
    elif kind == "not there":
        path = tmp_path / "nowhere.xlsx"
    else:
        book = load_workbook(path)
        book["Minutes"].delete_cols(5)
        book.save(path)
    with pytest.raises(InputError):
        take(writing, wanted, path)


def test_an_empty_sheet_logs_nothing(writing, tmp_path):
    number = quoted_job(writing)
    path = filled(writing, tmp_path, number, lambda book: None)
    assert read_sheet(path).rows == ()
    assert take(writing, number, path).logged == ()


def test_text_that_looks_like_a_formula_stays_text(writing, tmp_path):
    number = quoted_job(writing, hoops(title="=HYPERLINK(1)", customer="+cmd|calc"))
    path = write_floor_book(floor_sheet(writing, number, at=NOW, seconds=0.1), tmp_path)
    book = load_workbook(path)
    for page in book.worksheets:
        for row in page.iter_rows():
            assert all(cell.data_type != "f" for cell in row)


def test_a_part_longer_than_any_bar_is_sawn_as_it_was_ordered_whatever_is_listed_later(shop):
    rail = replace(hoops().parts[1], bar="round 16", splice=True, length=Measure.parse("9170", "mm"))
    listed = select(StockItem).where(StockItem.section_key == "round 16")
    pieces = [Length.from_mm("2292.5")] * 4  # 3 m less 60 mm of trim and grip: four to a part
    with shop.session() as session:
        for item in session.scalars(listed):
            item.retired = item.length != Length.from_mm(3000)
        number = quoted_job(session, hoops(parts=(rail,)))
        assert items_of_job(session, number)[0][0].sawn_as == tuple(pieces)
    order_for_jobs(shop, [number], OrderWish(), on=TODAY, seconds=0.3)
    with shop.session() as session:
        # Bars of 6 m are listed from now on; what is on order is of 3 m all the same.
        for item in session.scalars(listed):
            item.retired = False
    with shop.session() as session:
        sheet = floor_sheet(session, number, at=NOW, seconds=0.3)
    sawn = Counter()
    for bar in sheet.saw:
        assert bar.length == Length.from_mm(3000)
        sawn.update({(cut.mark, cut.length): cut.count * bar.count for cut in bar.cuts})
    assert sum(sawn.values()) == 4 * hoops().quantity(rail) and {length for _, length in sawn} == set(pieces)
    assert "a piece of 2292.5 mm + 2292.5 mm + 2292.5 mm + 2292.5 mm" in sheet.saw[0].cuts[0].ends
