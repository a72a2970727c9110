"""Every import takes what a spreadsheet saves: UTF-8, UTF-16, Windows-1252; and numbers as typed."""

from datetime import date
from decimal import Decimal

import pytest

from shopquote.errors import InputError
from shopquote.reading.kinds import Notation
from shopquote.reading.table_files import read_table
from shopquote.services.buying.cut_list import read_cut_list
from shopquote.services.buying.goods_in import read_goods_sheet
from shopquote.services.buying.price_list import read_price_list
from shopquote.services.shop.shop_on_file import the_shop

SUPPLIER = "Quillmoor Bar Yard (invented)"
ENCODINGS = pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])


@ENCODINGS
def test_a_cut_list_is_read_in_any_encoding(tmp_path, encoding):
    path = tmp_path / "list.csv"
    path.write_bytes("mark;length;count\nBügel;1 250;4\nB;33,5;2\n".encode(encoding))
    pieces = read_cut_list(path, "mm")
    assert [(piece.mark, piece.length.mm, piece.count) for piece in pieces] == [
        ("Bügel", Decimal(1250), 4), ("B", Decimal("33.5"), 2),
    ]  # fmt: skip
    path.write_bytes("mark;length;count\nB;1,250;2\n".encode(encoding))
    with pytest.raises(InputError, match=r"expected 1250 or 1\.25"):
        read_cut_list(path, "mm")


@ENCODINGS
def test_a_goods_in_sheet_is_read_in_any_encoding(tmp_path, encoding):
    path = tmp_path / "goods.csv"
    path.write_bytes("Line\tCount\tHeat number\tCharged each\n1\t2\tä 12\t€7,50\n".encode(encoding))
    (arrival,) = read_goods_sheet(read_table(path), Notation("mm", "de_DE", "EUR"))
    assert (arrival.count, arrival.heat, arrival.charged) == (2, "Ä12", Decimal("7.50"))


@ENCODINGS
@pytest.mark.parametrize(("locale", "price"), [("en_GB", "1250"), ("de_DE", "1.25")])
def test_a_price_list_is_read_in_any_encoding_and_by_the_locale(shop, tmp_path, encoding, locale, price):
    path = tmp_path / "prices.csv"
    path.write_bytes(
        "bar;grade;length;price;basis;note\nround 12;s 275;6 m;1,250 €;bar;für Müßig\n".encode(encoding)
    )
    with shop.session() as session:
        the_shop(session).locale = locale
        (change,) = read_price_list(
            session, SUPPLIER.upper(), read_table(path), on=date(2026, 11, 24)
        ).changes
    assert (change.line.grade, change.line.note) == ("S275", "für Müßig")
    assert change.line.steps == ((Decimal(0), Decimal(price)),)
