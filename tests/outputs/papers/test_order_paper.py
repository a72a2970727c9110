"""The supplier's PDF says what the workbook says: the same columns, the same sums."""

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from decimal import Decimal
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import pytest

from shopquote.calc.bar.section_kinds import KINDS
from shopquote.calc.buying.order_document import LineChange
from shopquote.outputs.books.order_book import closing_words, order_book, order_csv, order_text
from shopquote.outputs.order_words import ORDER_WORDS, PHRASES
from shopquote.outputs.papers.letter import write_order_letter
from shopquote.outputs.papers.order_paper import order_data, write_order_paper
from shopquote.outputs.quote_words import voice_of
from shopquote.outputs.tables.order_columns import ORDER_COLUMNS, order_table
from shopquote.services.buying.orders import CUT_TOLERANCE, MARKING, MILL_TOLERANCE, ONE_HEAT
from tests.outputs.books.test_order_book import ORDER


def test_every_column_of_the_order_stands_on_the_paper() -> None:
    head = order_data(ORDER)["lines"]["head"]
    assert len(head) == len([column for column in ORDER_COLUMNS if "sheet" in column.on])


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not here")
def test_the_paper_reads_back(tmp_path: Path) -> None:
    path = write_order_paper(ORDER, tmp_path)
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    words = " ".join(done.stdout.split())
    data = order_data(ORDER)
    for row in data["lines"]["rows"]:
        assert all(cell in words for cell in row if " " not in cell)
    for name, value in data["sums"]:
        assert f"{name} {value}" in words
    for told in (ORDER.supplier.name, ORDER.number, *closing_words(ORDER)):
        assert " ".join(str(told).split()) in words


def test_a_shop_in_the_united_states_asks_for_mill_test_reports() -> None:
    told = dict(order_data(replace(ORDER, locale="en_US", certificate="3.1"))["facts"])
    assert "mill test report" in told["Certificates"] and "10204" not in told["Certificates"]
    assert "EN 10204 type 3.1" in dict(order_data(replace(ORDER, certificate="3.1"))["facts"])["Certificates"]


def test_a_request_names_no_price(tmp_path: Path) -> None:
    asked = replace(ORDER, kind="ask")
    assert [name for name, _ in order_data(asked)["sums"]] == ["Total mass"]


REVISED = replace(
    ORDER, revision=2, replaces_of=date(2026, 3, 2), certificate="2.2", marking=MARKING,
    changes=(
        LineChange(1, "round 12", "6 m", 12, 10),
        LineChange(2, "flat 40 x 6", "450.5 mm", 4, 4, Decimal("2.8"), "kg", Decimal("3"), "bar"),
        LineChange(3, "round 8", "6 m", 2, 0),
    ),
)  # fmt: skip


def test_a_revision_says_what_it_replaces_and_what_changed() -> None:
    told = dict(order_data(REVISED)["facts"])
    assert told["Replaces"] == "revision 1 of 2026-03-02"
    assert told["Changed"] == (
        "item 1, round 12, 6 m: count 10 instead of 12; item 2, flat 40 x 6, 450.5 mm: 2.80 per kg becomes "
        "3.00 per bar; item 3, round 8, 6 m left out"
    )


# Words of the trade: EN 10204:2004 in German and French; dates and decimals as the language writes them.
@pytest.mark.parametrize(
    ("locale", "words"),
    [
        ("de_DE", ["Bestellung O-0007 Fassung 2", "2. März 2026", "6. März 2026", "rund 12", "Werkszeugnis",
                   "gesägt auf 450,5 mm, 0 bis +2 mm", "1,25 je kg", "warmgewalzt", "Herstelllänge",
                   "78,59 EUR", "Pos. 1, rund 12, 6 m: Anzahl 10 statt 12",
                   "Schmelzennummer und unserem Zeichen"]),
        ("fr_FR", ["Commande O-0007 révision 2", "2 mars 2026", "rond 12", "relevé de contrôle",
                   "scié à 450,5 mm", "1,25 par kg", "laminé à chaud", "78,59 EUR"]),
        ("es_ES", ["Pedido O-0007 revisión 2", "2 de marzo de 2026", "redondo 12", "cortado a 450,5 mm",
                   "1,25 por kg", "laminado en caliente", "78,59 EUR"]),
    ],
)  # fmt: skip
def test_order_letter_text_and_workbook_speak_the_suppliers_language(
    tmp_path: Path, locale: str, words: list[str]
) -> None:
    order = replace(REVISED, locale=locale, marking=MARKING)
    paper, text = str(order_data(order)), order_text(order)
    for word in words:
        assert word in paper and word in text
    letter = message_from_bytes(
        write_order_letter(order, tmp_path, write_order_paper(order, tmp_path)).read_bytes(), policy=default
    )
    body = letter.get_body().get_content()
    assert words[0] in body and words[0] in letter["Subject"] and words[1] in body
    told = [str(cell.value) for row in order_book(order).worksheets[0].iter_rows() for cell in row]
    assert words[0] in told and any(words[3] in cell for cell in told)
    english = {"Order", "Delivery wanted by", "Bar", "Each", "Length", "Total mass", "hot rolled",
               "mill length", "Dear", "attached", "sawn to"}  # fmt: skip
    for told_there in (paper, text, body, " ".join(told)):
        assert not [word for word in english if re.search(rf"\b{word}\b", told_there)]


def test_the_shops_own_tables_of_a_foreign_order_stay_english() -> None:
    order = replace(REVISED, locale="de_DE")
    assert order_csv(order) == order_csv(REVISED)
    assert order_table(order).title.startswith("Order")


@pytest.mark.parametrize("language", ORDER_WORDS)
def test_every_heading_and_phrase_of_an_order_is_in_each_language(language: str) -> None:
    words = ORDER_WORDS[language]
    for column in ORDER_COLUMNS:
        if column.on & {"sheet", "text"}:
            assert column.heading in words and (
                column.said in words or not re.search(r"[a-z]+$", column.said)
            )
    assert words.keys() == ORDER_WORDS["en"].keys()
    if language != "en":
        usual = {MILL_TOLERANCE, ONE_HEAT, *CUT_TOLERANCE.values()}
        usual |= {phrase for kind in KINDS.values() for phrase in kind.condition.split(", ") if phrase}
        assert usual <= PHRASES[language].keys()
        assert voice_of(language, "EUR").phrases(MARKING) != MARKING
