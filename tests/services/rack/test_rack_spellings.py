"""The rack takes a grade, a heat and a number however they are typed, from any file of a spreadsheet."""

from datetime import date
from decimal import Decimal

import pytest

from shopquote.reading.table_files import read_table
from shopquote.services.rack.rack_on_file import list_pieces, pieces_by_code
from shopquote.services.rack.stocktake import enter_count, import_rack
from shopquote.services.rack.trace import trace_heat
from shopquote.services.shop.shop_on_file import the_shop

DAY = date(2026, 11, 24)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_an_import_takes_spellings_and_encodings(shop, tmp_path, encoding):
    path = tmp_path / "rack.csv"
    rows = ["bar;grade;length;heat;place;cost"]
    rows += ["round 12;S 275;1 250;ab 12;Büro;€1,250", "round 12;s275;33,5;AB12;;€3"]
    path.write_bytes("\n".join(rows).encode(encoding))
    with shop.session() as session:
        the_shop(session).currency = "EUR"
        pieces = import_rack(session, read_table(path), on=DAY)
        assert [(p.grade, p.length.mm, p.heat) for p in pieces] == [
            ("S275", Decimal(1250), "AB12"), ("S275", Decimal("33.5"), "AB12")
        ]  # fmt: skip
        assert [piece.cost for piece in pieces] == [1250, 3]
        assert pieces[0].place == "Büro"
        assert len(trace_heat(session, " aB12")) == 2
        assert len(list_pieces(session, grade="s 275", heat="ab 12")) == 2


@pytest.mark.parametrize("code", ["r-1", "R1", "1", "R\u20110001", "\uff320001", " R-0001 "])
def test_a_piece_is_counted_moved_and_labelled_by_its_code_in_any_form(shop, tmp_path, code):
    path = tmp_path / "rack.csv"
    with shop.session() as session:
        for rows in ("bar,grade,length\nround 12,S275,1000", f"code,bar,grade,length,place\n{code},,,,Bay 3"):
            path.write_text(rows, encoding="utf-8")
            import_rack(session, read_table(path), on=DAY)
        path.write_text(f"code,found\n{code},990", encoding="utf-8")
        assert [one.code for one in enter_count(session, read_table(path), on=DAY).differences] == ["R-0001"]
        (piece,) = pieces_by_code(session, [code])
        assert (piece.code, piece.place, piece.length.mm) == ("R-0001", "Bay 3", 990)
