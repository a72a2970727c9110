"""The supplier's PDF says what the workbook says: the same columns, the same sums."""

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from shopquote.outputs.books.order_book import closing_words
from shopquote.outputs.papers.order_paper import order_data, write_order_paper
from shopquote.outputs.tables.order_columns import ORDER_COLUMNS
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
