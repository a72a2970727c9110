"""Keys are made equal before they are looked up: no list or record holds one thing in two spellings."""

import unicodedata
from decimal import Decimal

import pytest
from sqlalchemy import select

from shopquote.calc.bar.sections import parse_section
from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.outputs.books.list_files import write_table
from shopquote.reading.table_files import read_table
from shopquote.records.benders import BenderRow
from shopquote.records.materials import GradeRow
from shopquote.records.shop import TaxRow
from shopquote.services.rack.rack import add_pieces, move_piece
from shopquote.services.rack.stocktake_forms import count_rows
from shopquote.services.safe.checks import run_checks
from shopquote.services.shop.lists import import_list, read_list, set_entry
from shopquote.services.shop.new_shop import put_starting_lists, set_up
from shopquote.services.shop.setup import ShopDetails
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import benders_on_file
from tests.services.shop.test_lists import LATER, TODAY, fill_with_awkward_text

SPELLINGS = {
    "upper": str.upper,
    "lower": str.lower,
    "blanks": lambda text: f"  {text.replace(' ', '   ')} ",
    "swapped": lambda text: " " + text.swapcase(),
}
# As other keyboards and programs write a name or a grade: a word processor, a PDF, a phone, macOS.
FORMS = {
    "no-break blanks": lambda text: text.replace(" ", "\u00a0"),
    "no-break hyphens": lambda text: text.replace("-", "\u2011"),
    "en dashes": lambda text: text.replace("-", "\u2013"),
    "curled apostrophes": lambda text: text.replace("'", "\u2019"),
    "accents apart": lambda text: unicodedata.normalize("NFD", text),
    "full width": lambda text: "".join(chr(ord(c) + 0xFEE0) if "!" <= c <= "~" else c for c in text),
    "byte order mark": lambda text: f"\ufeff{text}",
    "soft hyphen": lambda text: f"{text[:2]}\u00ad{text[2:]}",
    "no width": lambda text: f"{text[:1]}\u200b{text[1:]}",
}
NAMED = ("name", "supplier", "person", "grade")
CHECK = "nothing stands twice in two spellings"


@pytest.mark.parametrize("spelling", [*SPELLINGS, *FORMS])
@pytest.mark.parametrize("name", LISTS)
def test_every_entry_of_every_list_is_known_in_any_spelling(shop, tmp_path, name, spelling):
    with shop.trial() as session:
        fill_with_awkward_text(session)
        table = read_list(session, name)
        before = [list(row) for row in table.cells()]
        named = [
            place
            for place, column in enumerate(table.columns)
            if (column.key or column.on_list) and (spelling in SPELLINGS or column.name in NAMED)
        ]
        spelt = (SPELLINGS | FORMS)[spelling]
        typed = [
            [
                spelt(cell) if place in named and isinstance(cell, str) and cell else cell
                for place, cell in enumerate(row)
            ]
            for row in before
        ]
        path = write_table(tmp_path / "list.csv", LISTS[name].title, [c.name for c in table.columns], typed)
        result = import_list(session, name, read_table(path), on=LATER)
        assert (result.added, result.changed + result.same) == (0, len(before))
        # A section is kept in the words that it was typed in; whatever else names an entry, in those on file.
        after = [list(row) for row in read_list(session, name).cells()]
        words = [place for place, column in enumerate(table.columns) if column.name in ("bar", "section")]
        for row in (*before, *after):
            for place in words:
                row[place] = " ".join(str(row[place]).casefold().split())
        assert after == before
        assert {one.name: one.faults for one in run_checks(session)}[CHECK] == ()


def test_formers_of_one_name_are_one(shop):
    with shop.trial() as session:
        bender = ["hand bender, bench", "formers=24, 20, big; 24, 20, small"]
        set_entry(session, "benders", bender, on=TODAY)
        with pytest.raises(InputError, match="each once"):
            set_entry(session, "benders", [bender[0].upper(), "formers=24, 20, big; 24, 20, BIG"], on=TODAY)
        set_entry(session, "benders", [bender[0], "formers=24, 20, BIG"], on=TODAY)
        (found,) = (one for one in benders_on_file(session) if one.name == bender[0])
        assert [former.name for former in found.formers] == ["big"]


def test_places_of_the_rack_are_one_in_any_spelling(shop):
    with shop.trial() as session:
        bar = parse_section("round 12", "mm"), "round 12", "S275", Measure.parse("1200", "mm")
        (piece,) = add_pieces(session, *bar, cost=Decimal(0), place="Bay 1")
        (other,) = add_pieces(session, *bar, cost=Decimal(0), place=" bay  1")
        assert piece.place == other.place == "Bay 1"
        assert len(count_rows(session, "BAY 1")) == 2
        assert move_piece(session, other.code, "Yard").place == "Yard"
        assert move_piece(session, other.code, "bay 1").place == "Bay 1"


def test_setting_up_again_knows_taxes_grades_and_benders_in_any_spelling(shop):
    with shop.trial() as session:
        tables = (TaxRow, GradeRow, BenderRow)
        for row in [row for table in tables for row in session.scalars(select(table))]:
            row.name = row.name.swapcase()
        before = [session.scalars(select(table.name).order_by(table.id)).all() for table in tables]
        (tax,) = before[0]
        set_up(session, ShopDetails(tax_name=tax.swapcase(), tax_percent=Decimal(19)), on=TODAY)
        put_starting_lists(session, "EUR", TODAY)
        session.flush()
        assert [session.scalars(select(table.name).order_by(table.id)).all() for table in tables] == before
        (rate,) = session.scalars(select(TaxRow))
        assert (rate.percent, rate.is_default) == (19, True)
