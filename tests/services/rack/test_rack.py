"""The rack: promised, cut, brought back, scrapped, counted; never twice, never more than there was."""

import csv
import shutil
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.money import share_out
from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.outputs.tables.rack_tables import print_released
from shopquote.reading.table_files import csv_text, read_table
from shopquote.records.rack import BarUse
from shopquote.services.buying.needs import bars_for_job
from shopquote.services.jobs.jobs import add_job, find_job, set_state
from shopquote.services.jobs.promises import Released
from shopquote.services.rack.rack import (
    add_pieces,
    move_piece,
    promise_pieces,
    release_promises,
    scrap_piece,
    share_piece,
)
from shopquote.services.rack.rack_on_file import find_piece, list_pieces, rack_value, scrap_offers
from shopquote.services.rack.rack_uses import return_offcut, use_bar
from shopquote.services.rack.stocktake import enter_count, import_rack
from shopquote.services.rack.stocktake_forms import COUNT_COLUMNS, RACK_COLUMNS, count_rows, rack_rows
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.database import open_database
from shopquote.services.shop.free_rack import free_rack

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 2)
ROUND = parse_section("round 12", "mm")


def mm(text: str) -> Measure:
    return Measure.parse(text, "mm")


def a_job(session, title: str = "hooks") -> str:
    part = PartSpec("A", "rod", 4, "round 12", "S275", length=mm("450"))
    spec = JobSpec(title, "Orla Fennimore", 1, "mm", parts=(part,))
    return add_job(session, spec, at=AT).number


def put_on(session, *lengths: str, **words) -> list[str]:
    pieces = [
        add_pieces(session, ROUND, "round 12", "S275", mm(length), on=DAY, **words)[0] for length in lengths
    ]
    return [piece.code for piece in pieces]


def test_pieces_get_codes_of_their_own(shop):
    with shop.session() as session:
        made = add_pieces(session, ROUND, "round 12", "S275", mm("1450"), count=3, place="A1", on=DAY)
        assert [piece.code for piece in made] == ["R-0001", "R-0002", "R-0003"]
        assert find_piece(session, " r-0002 ").place == "A1" == find_piece(session, "2").place


@pytest.mark.parametrize("length, count, cost", [("0", 1, "0"), ("100", 0, "0"), ("100", 1, "-1")])
def test_senseless_pieces_are_refused(shop, length, count, cost):
    with shop.session() as session, pytest.raises(InputError):
        add_pieces(session, ROUND, "round 12", "S275", mm(length), count=count, cost=Decimal(cost))


def test_promise_is_all_or_nothing(shop):
    with shop.session() as session:
        first, second = put_on(session, "1000", "2000")
        one, other = a_job(session), a_job(session, "gate")
        promise_pieces(session, [second], other)
    with shop.session() as session, pytest.raises(InputError, match=f"{second} is promised to job {other}"):
        promise_pieces(session, [first, second], one)
    with shop.reading() as session:
        assert find_piece(session, first).state == "free"


def test_promising_twice_to_the_same_job_changes_nothing(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        job = a_job(session)
        promise_pieces(session, [code], job)
        assert promise_pieces(session, [code], job)[0].state == "promised"


def test_nothing_is_promised_to_a_job_that_is_over(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        number = a_job(session)
        find_job(session, number).state = "dropped"
        with pytest.raises(InputError, match="dropped"):
            promise_pieces(session, [code], number)


def test_cut_piece_comes_back_shorter_with_heat_place_and_its_share_of_the_cost(shop):
    with shop.session() as session:
        (code,) = put_on(session, "6000", heat="H7", place="A1", cost=Decimal("12.00"))
        job = a_job(session)
        used = use_bar(session, code, job, returned=[mm("1500")], used_on=DAY)
        # 1500 of 6000 mm at 12.00 is 3.00.
        assert (used.cost, used.credit) == (Decimal("12.00"), Decimal("3.0000"))
        offcut = find_piece(session, used.returned[0])
        assert (offcut.heat, offcut.place, offcut.length.mm, offcut.cost) == ("H7", "A1", 1500, 3)
        use = session.scalar(select(BarUse))
        assert (use.cost, use.credit, use.returned.mm) == (12, 3, 1500)
        assert (use.source, use.rack_piece_id) == (f"rack {code}", find_piece(session, code).id)


def test_offcut_that_is_found_later_is_credited_too(shop):
    with shop.session() as session:
        (code,) = put_on(session, "6000", cost=Decimal("12.00"))
        used = use_bar(session, code, a_job(session), returned=[mm("1500")], used_on=DAY)
        late = return_offcut(session, code, mm("600"), place="bin", on=DAY)
        use = session.scalar(select(BarUse))
        assert (use.returned.mm, use.credit) == (2100, Decimal("4.2000"))
        assert find_piece(session, late).place == "bin" and used.returned != (late,)


def test_more_cannot_come_back_than_there_was(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        job = a_job(session)
        with pytest.raises(InputError, match=r"1000 mm long; 1000\.5 mm cannot come back"):
            use_bar(session, code, job, returned=[mm("400"), mm("600.5")])
        use_bar(session, code, job, returned=[mm("400")])
        with pytest.raises(InputError, match="1001 mm cannot come back"):
            return_offcut(session, code, mm("601"))


def test_piece_is_used_once_and_only_by_its_job(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        one, other = a_job(session), a_job(session, "gate")
        promise_pieces(session, [code], one)
        with pytest.raises(InputError, match=f"promised to job {one}"):
            use_bar(session, code, other)
        use_bar(session, code, one)
        with pytest.raises(InputError, match=f"was used for job {one}"):
            use_bar(session, code, one)
        with pytest.raises(InputError, match="used"):
            scrap_piece(session, code, "")


def test_cost_of_a_shared_piece_is_split_by_length(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000", cost=Decimal("10.00"))
        one, other = a_job(session), a_job(session, "gate")
        load = [(one, "A", Length.from_mm(100), 6), (other, "B", Length.from_mm(300), 1)]
        promise_pieces(session, [code], one, load=load)
        assert [bar.name for bar in bars_for_job(session, other)] == [code]
        use_bar(session, code, other, returned=[mm("90")])
        costs = {use.job_id: use.cost for use in session.scalars(select(BarUse))}
        assert costs == {
            find_job(session, one).id: Decimal("6.67"),
            find_job(session, other).id: Decimal("3.33"),
        }
        assert sum(use.length.nm for use in session.scalars(select(BarUse))) == 10**9


def test_what_comes_back_is_credited_in_whole_cents_and_never_more_than_it_cost(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000", cost=Decimal("10.0049"))
        used = use_bar(session, code, a_job(session), returned=[mm("333"), mm("333")], used_on=DAY)
        assert (used.cost, used.credit) == (Decimal("10.00"), Decimal("6.66"))
        return_offcut(session, code, mm("334"))
        uses = session.scalars(select(BarUse)).all()
        assert sum(use.cost - use.credit for use in uses) == 0
        (small,) = put_on(session, "1000", cost=Decimal("0.01"))
        halves = use_bar(session, small, a_job(session, "gate"), returned=[mm("500"), mm("500")], used_on=DAY)
        assert halves.credit == halves.cost


def test_released_pieces_are_free_for_others(shop):
    with shop.session() as session:
        codes = put_on(session, "1000", "1100")
        one, other = a_job(session), a_job(session, "gate")
        promise_pieces(session, codes, one)
        assert set(release_promises(session, one).free) == set(codes)
        promise_pieces(session, codes, other)
        with pytest.raises(InputError, match="free, not promised"):
            release_promises(session, other)
            release_promises(session, codes=codes[:1])


def test_a_shared_bar_goes_over_to_the_job_that_still_has_cuts_in_it(shop, capsys):
    """The first job's end freed the whole bar, and the other's cuts were lost with it."""
    with shop.session() as session:
        shared, own = put_on(session, "1000", "1100")
        first, gone, other = a_job(session), a_job(session, "gone"), a_job(session, "gate")
        load = [(name, "A", Length.from_mm(200), 2) for name in (first, gone, other)]
        promise_pieces(session, [shared], first, load=load)
        promise_pieces(session, [own], first)
        # It is no heir then, and its cuts leave the bar that is promised to another.
        assert release_promises(session, gone) == Released(struck_out=(shared,))
        set_state(session, gone, "dropped", at=AT)
        print_released(Released(goes_on=((shared, other),), struck_out=(own,)))
        assert capsys.readouterr().out.splitlines() == [
            f"Goes on to {other}, which has cuts in it: {shared}",
            f"Its cuts are struck out of bars of other jobs: {own}",
        ]
        assert release_promises(session, first) == Released((own,), ((shared, other),))
        piece = find_piece(session, shared)
        assert (piece.state, piece.promised_job.number) == ("promised", other)
        assert [(share.job.number, share.length.mm) for share in piece.shares] == [(other, 400)]
        assert release_promises(session, other) == Released((shared,))
        assert find_piece(session, shared).state == "free"
        assert not piece.shares and not any(check.found for check in run_checks(session))


@pytest.mark.parametrize(
    ("gone", "back", "borne"),
    # A bar of 10.00 with 300 mm of cuts for one job and 100 mm for another, of which 500 mm come back.
    [
        (False, "500", ("3.75", "1.25", "5.00")),
        (True, "500", ("0", "5.00", "5.00")),
        (True, "", ("0", "10.00", "0")),
    ],
)
def test_a_job_that_is_dropped_bears_nothing_of_a_shared_bar(shop, gone, back, borne):
    with shop.session() as session:
        (shared,) = put_on(session, "1000", cost=Decimal(10))
        first, other = a_job(session), a_job(session, "gate")
        load = [(first, "A", Length.from_mm(300), 1), (other, "A", Length.from_mm(100), 1)]
        promise_pieces(session, [shared], first, load=load)
        if gone:
            set_state(session, first, "dropped", at=AT)
        used = use_bar(session, shared, other, returned=[mm(back)] if back else [], used_on=DAY)
        uses = {use.job_id: use.cost - use.credit for use in session.scalars(select(BarUse))}
        found = [uses.get(find_job(session, number).id, 0) for number in (first, other)]
        assert [*found, used.credit] == [Decimal(amount) for amount in borne]


def test_a_piece_named_with_a_job_is_released_alone_and_only_from_that_job(shop):
    with shop.session() as session:
        codes = put_on(session, "1000", "1100")
        one, other = a_job(session), a_job(session, "gate")
        promise_pieces(session, codes, one)
        with pytest.raises(InputError, match=f"{codes[0]} is not promised to {other}"):
            release_promises(session, other, codes[:1])
        assert release_promises(session, one, [codes[0], codes[0]]).free == (codes[0],)
        assert set(release_promises(session, one).free) == {codes[1]}


def test_unknown_pieces_and_jobs_are_not_found(shop):
    with shop.session() as session:
        with pytest.raises(NotFoundError, match="R-0099"):
            find_piece(session, "R-0099")
        with pytest.raises(NotFoundError):
            promise_pieces(session, [], "J-0099")


def test_free_rack_begins_with_the_shortest_and_leaves_out_what_is_too_short(shop):
    with shop.session() as session:
        put_on(session, "3000", "400", "900")
        bars = free_rack(session, "round 12", "S275", at_least=Length.from_mm(500))
        assert [bar.length.mm for bar in bars] == [900, 3000]


def test_value_of_the_rack_is_what_lies_there_at_cost(shop):
    with shop.session() as session:
        codes = put_on(session, "1000", "2000", cost=Decimal("4.50"))
        scrap_piece(session, codes[0], "bent")
        (value,) = rack_value(session)
        assert (value.pieces, value.cost, value.length.mm) == (1, Decimal("4.50"), 2000)


def test_old_and_short_free_pieces_are_offered_for_scrap(shop):
    with shop.session() as session:
        short, long = put_on(session, "150", "2000")
        old = add_pieces(session, ROUND, "round 12", "S275", mm("2500"), on=date(2024, 1, 1))[0].code
        found = scrap_offers(session, made_before=date(2025, 1, 1), shorter_than=Length.from_mm(200))
        assert {piece.code for piece in found} == {short, old}
        assert {piece.state for piece in list_pieces(session)} == {"free"} and long


def test_moving_is_noted(shop):
    with shop.session() as session:
        (code,) = put_on(session, "150", place="A1")
        assert move_piece(session, code, "B2").place == "B2"


@pytest.mark.parametrize("total, weights", [(100, {1: 1, 2: 2}), (7, {1: 0, 2: 0, 3: 0}), (0, {5: 3})])
def test_parts_add_up_to_the_whole(total, weights):
    assert sum(share_out(total, weights).values()) == total


def test_shares_can_be_said_again(shop):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        one, other = a_job(session), a_job(session, "gate")
        (piece,) = promise_pieces(session, [code], one, load=[(other, "B", Length.from_mm(100), 1)])
        share_piece(session, piece, [(one, "A", Length.from_mm(300), 2)])
        session.flush()
        assert [(share.job.number, share.length.mm) for share in piece.shares] == [(one, 600)]


# --- sheets ---------------------------------------------------------------------------------------


def sheet(tmp_path: Path, columns, rows) -> Path:
    path = tmp_path / "sheet.csv"
    path.write_text(csv_text(columns, rows), encoding="utf-8")
    return path


def test_exported_rack_can_be_imported_into_another_shop(shop, tmp_path):
    with shop.session() as session:
        put_on(session, "1450.5", "33", heat="=H7", place="A1", cost=Decimal("4.5"))
        rows = [["", *row[1:]] for row in rack_rows(session)]
        path = sheet(tmp_path, RACK_COLUMNS, rows)
        new = import_rack(session, read_table(path), on=DAY)
        assert {(piece.length.mm, piece.heat, piece.cost) for piece in new} == {
            (Decimal("1450.5"), "=H7", Decimal("4.5")),
            (Decimal(33), "=H7", Decimal("4.5")),
        }


def test_an_export_read_into_an_empty_database_keeps_its_codes_and_is_the_same_export(
    shop, _shop_file, tmp_path
):
    with shop.session() as session:
        put_on(session, "1450.5", "33", "6000", heat="=H7", place="A1", cost=Decimal("4.5"))
        scrap_piece(session, "R-0002", "rust")
        promise_pieces(session, ["R-0003"], a_job(session))
        rows = rack_rows(session)
    path = sheet(tmp_path, RACK_COLUMNS, rows)
    shutil.copy(_shop_file, tmp_path / "other.db")
    with open_database(str(tmp_path / "other.db")) as other:
        with other.trial() as session:  # the job is not on file there: its piece is free
            import_rack(session, read_table(path), on=DAY)
            assert [row[-3] for row in rack_rows(session)] == ["free", "free"]
        with other.session() as session:
            a_job(session)
            assert [piece.code for piece in import_rack(session, read_table(path), on=DAY)] == [
                "R-0003", "R-0001"
            ]  # fmt: skip
            assert rack_rows(session) == rows
            assert put_on(session, "900") == ["R-0004"]
            assert not any(result.found for result in run_checks(session))
            # From now on a code that is not there is a slip of the pen.
            with pytest.raises(InputError) as caught:
                unknown = sheet(tmp_path, RACK_COLUMNS, [["R-0014", *rows[0][1:]]])
                import_rack(session, read_table(unknown), on=DAY)
            assert [fault.key for fault in caught.value.faults] == ["code"]


@pytest.mark.parametrize(
    ("codes", "count", "key"),
    [(["R-1", "r1"], 1, "code"), (["X-1"], 1, "code"), (["R-0001"], 2, "count")],
)
def test_a_code_that_is_none_or_stands_twice_is_refused_in_an_empty_database(
    shop, tmp_path, codes, count, key
):
    rows = [[code, "round 12", "S275", "1000", str(count)] for code in codes]
    with shop.session() as session:
        with pytest.raises(InputError) as caught:
            import_rack(session, read_table(sheet(tmp_path, RACK_COLUMNS[:5], rows)), on=DAY)
        assert [fault.key for fault in caught.value.faults] == [key]
        assert list_pieces(session) == ()


def test_all_mistakes_of_a_rack_sheet_are_told_by_row_and_nothing_is_stored(shop, tmp_path):
    rows = [
        ["round 12", "S257", "1000", "1", "1"],
        ["rond 12", "S275", "1000", "1", "1"],
        ["round 12", "S275", "long", "0", "x"],
    ]
    path = sheet(tmp_path, ["bar", "grade", "length", "count", "cost"], rows)
    with shop.session() as session:
        with pytest.raises(InputError) as caught:
            import_rack(session, read_table(path), on=DAY)
        assert [(fault.mark, fault.key) for fault in caught.value.faults] == [
            ("row 2", "grade"), ("row 3", "bar"), ("row 4", "length"), ("row 4", "count"), ("row 4", "cost"),
        ]  # fmt: skip
        assert [fault.nearest for fault in caught.value.faults[:2]] == ["S275", "round"]
        assert list_pieces(session) == ()


def test_count_explains_every_difference(shop, tmp_path):
    with shop.session() as session:
        agreed, shorter, gone, unseen = put_on(session, "1000", "2000", "3000", "500", place="A1")
        job = a_job(session)
        promise_pieces(session, [gone], job)
        rows = []
        for row in count_rows(session):
            found = {agreed: "1000", shorter: "1998", gone: "0", unseen: ""}[row[0]]
            rows.append([*row[:6], found, *row[7:]])
        rows.append(["", "round 12", "S275", "", "", "B3", "700", "2", "1.25", "under the bench"])
        result = enter_count(session, read_table(sheet(tmp_path, COUNT_COLUMNS, rows)), on=DAY)
        assert (result.agreed, result.not_counted) == (1, 1)
        kinds = [(d.kind, d.code, d.length.mm) for d in result.differences]
        assert kinds == [
            ("measured", shorter, -2), ("missing", gone, -3000),
            ("found", "R-0005", 700), ("found", "R-0006", 700),
        ]  # fmt: skip
        assert f"promised to {job}" in result.differences[1].explained
        assert find_piece(session, "R-0006").cost == Decimal("1.25")
        assert result.value == 2 * Decimal("1.25") - find_piece(session, gone).cost
        assert find_piece(session, gone).state == "scrapped"
        assert find_piece(session, shorter).length.mm == 1998


def test_piece_written_off_as_lost_comes_back_with_its_heat_and_cost(shop, tmp_path):
    with shop.session() as session:
        (code,) = put_on(session, "3000", heat="H7", cost=Decimal("6.50"))
        for found in ("0", "2990"):
            result = enter_count(
                session, read_table(sheet(tmp_path, ["code", "found"], [[code, found]])), on=DAY
            )
        assert [(d.kind, d.value) for d in result.differences] == [
            ("found", Decimal("6.50")), ("measured", Decimal(0)),
        ]  # fmt: skip
        piece = find_piece(session, code)
        assert (piece.state, piece.heat, piece.cost, piece.length.mm) == ("free", "H7", Decimal("6.50"), 2990)
    with shop.reading() as session:
        assert [fault for check in run_checks(session) for fault in check.faults] == []


def test_code_of_a_piece_that_was_cut_or_scrapped_says_what_to_enter_instead(shop, tmp_path):
    with shop.session() as session:
        cut, bent = put_on(session, "3000", "1000")
        job = a_job(session)
        use_bar(session, cut, job, used_on=DAY)
        scrap_piece(session, bent, "bent")
        rows = [[cut, "900"], [bent, "1000"]]
        with pytest.raises(InputError) as caught:
            enter_count(session, read_table(sheet(tmp_path, ["code", "found"], rows)), on=DAY)
    first, second = (fault.expected for fault in caught.value.faults)
    assert f"cut for {job}" in first and f"rack return {cut}" in first
    assert "scrapped" in second and "without a code" in second


def test_places_are_walked_by_in_order(shop):
    with shop.session() as session:
        for place in ("bay 10", "", "bay 2", "A1"):
            put_on(session, "1000", place=place)
        assert [row[5] for row in count_rows(session)] == ["A1", "bay 2", "bay 10", ""]


def test_count_sheet_with_mistakes_changes_nothing(shop, tmp_path):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        rows = [[code, "900"], [code, "800"], ["R-0099", "1"]]
        with pytest.raises(InputError) as caught:
            enter_count(session, read_table(sheet(tmp_path, ["code", "found"], rows)), on=DAY)
        assert [fault.mark for fault in caught.value.faults] == ["row 4", "row 3"]
        assert find_piece(session, code).length.mm == 1000


def test_count_sheet_needs_its_columns(shop, tmp_path):
    with shop.session() as session, pytest.raises(InputError, match="a column found"):
        enter_count(session, read_table(sheet(tmp_path, ["code", "length"], [["R-0001", "1"]])), on=DAY)


def test_sheet_is_plain_csv(shop, tmp_path):
    with shop.session() as session:
        put_on(session, "1000", heat="=CMD")
        path = sheet(tmp_path, RACK_COLUMNS, rack_rows(session))
    with path.open(encoding="utf-8", newline="") as file:
        assert next(iter(csv.DictReader(file)))["heat"] == "'=CMD"


@pytest.mark.parametrize("end", ["lost", "dropped"])
def test_job_that_is_over_frees_its_pieces(shop, end):
    with shop.session() as session:
        (code,) = put_on(session, "1000")
        number = a_job(session)
        promise_pieces(session, [code], number)
        set_state(session, number, end, at=AT)
        assert find_piece(session, code).state == "free"


def test_a_rack_sheet_without_one_good_row_is_refused_also_where_good_rows_are_taken(shop, tmp_path):
    path = tmp_path / "rack.csv"
    path.write_text("bar,grade,length\nround 12,S999,6 m\n", encoding="utf-8")
    with shop.session() as session, pytest.raises(InputError, match="S999"):
        import_rack(session, read_table(path), on=DAY, left_out=[])


def test_a_blank_bar_of_a_rack_sheet_is_the_one_above_and_one_bad_row_may_be_left_out(shop, tmp_path):
    rows = [["round 12", "S275", "1200"], ["", "", "900"], ["", "", "long"], ["flat 40 x 6", "ditto", "700"]]
    path = sheet(tmp_path, ("bar", "grade", "length"), rows)
    with shop.session() as session:
        with pytest.raises(InputError, match="row 4"):
            import_rack(session, read_table(path), on=DAY)
        left_out = []
        new = import_rack(session, read_table(path), on=DAY, left_out=left_out)
    assert [(one.section_text, one.grade, one.length.mm) for one in new] == [
        ("round 12", "S275", 1200), ("round 12", "S275", 900), ("flat 40 x 6", "S275", 700),
    ]  # fmt: skip
    assert [fault.mark for fault in left_out] == ["row 4"]
