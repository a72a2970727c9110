"""The review workbook: sheets and charts, figures equal to the review's, no text turned into a formula."""

import shutil
import zipfile
from datetime import date

import pytest
from openpyxl import load_workbook

from shopquote.calc.money import round_money
from shopquote.calc.review.variance import PARTS
from shopquote.invented.history import build_history
from shopquote.outputs.books.review_book import write_review_book
from shopquote.outputs.tables.review_columns import line_name
from shopquote.outputs.tables.review_json import job_json, review_json
from shopquote.outputs.tables.review_tables import print_answer
from shopquote.outputs.tables.show import json_text
from shopquote.services.review.review_answer import ReviewWish, answer_review
from shopquote.services.shop.database import open_database
from tests.sheets import rows_under

UNTIL = date(2026, 3, 1)


@pytest.fixture(scope="module")
def made(_shop_file, tmp_path_factory):
    """A review of 80 invented jobs, and of one of them in full."""
    path = tmp_path_factory.mktemp("review") / "history.db"
    shutil.copy(_shop_file, path)
    with open_database(str(path)) as database:
        with database.session() as session:
            history = build_history(session, jobs=80, seed=4, until=UNTIL)
        with database.reading() as session:
            many = answer_review(session, ReviewWish(every_group=True, back_test=True), today=UNTIL)
            one = answer_review(session, ReviewWish(jobs=history.finished[:1]), today=UNTIL)
    return many, one


def test_sheets_and_native_charts(made, tmp_path):
    path = write_review_book(made[0], tmp_path, shop="Alder Lane")
    book = load_workbook(path)
    assert book.sheetnames == [
        "In short",
        "Review",
        "Jobs",
        "Customers",
        "Kinds",
        "Sizes",
        "Quantities",
        "Months",
        "Operations",
        "What to ask",
        "Left on the table",
        "Bottleneck",
        "Won and lost",
        "Which margin",
        "Standards",
        "Jobs that stand out",
    ]
    with zipfile.ZipFile(path) as files:
        charts = [name for name in files.namelist() if name.startswith("xl/charts/chart")]
    # Three of the sheet in short, one each of the sum, the groups, Operations and Won and lost.
    assert len(charts) == 11
    # Headings repeated on a second page are those of the only table on the sheet.
    page = book["Standards"]
    assert rows_under(page, "Standard", "Operation") and page.print_title_rows == "$4:$4"


def test_the_sum_is_the_reviews_own(made, tmp_path):
    many = made[0].many
    page = load_workbook(write_review_book(made[0], tmp_path))["Jobs"]
    *rows, total = rows_under(page, "Job", "Cost quoted")
    assert len(rows) == 80 and total["Job"] == "total"
    for heading, amount in (
        ("Price", many.total.price),
        ("Cost quoted", many.total.cost_estimated),
        ("Cost", many.total.cost_actual),
    ):
        assert total[heading] == float(round_money(amount, many.currency))
        assert round(sum(row[heading] for row in rows), 2) == total[heading]


def test_one_job_in_full_has_a_sheet_with_its_variances(made, tmp_path):
    (review,) = made[1].details
    book = load_workbook(write_review_book(made[1], tmp_path))
    assert book.sheetnames[:2] == ["Review", review.job]
    *lines, total = rows_under(book[review.job], "Cost", "Over/under")
    assert [line["Cost"] for line in lines] == [line_name(line) for line in review.lines]
    assert total["Quoted"] == float(round_money(review.total.estimated, review.currency))
    assert total["Actual"] == float(round_money(review.total.actual, review.currency))
    parts = [total[name.capitalize()] or 0 for name in PARTS]
    assert (
        round(sum(parts), 2)
        == total["Over/under"]
        == float(round_money(review.total.difference, review.currency))
    )


def test_the_job_as_a_whole_stands_quoted_beside_actual(made, tmp_path):
    (review,) = made[1].details
    book = load_workbook(write_review_book(made[1], tmp_path))
    facts = {row[0]: row[1:3] for row in book[review.job].iter_rows(max_col=3, values_only=True)}
    assert facts["Price"] == (float(review.quoted), float(review.price))
    assert facts["Margin, % of the price"] == (
        float(review.estimated.margin_pct), float(review.actual.margin_pct),
    )  # fmt: skip


def test_no_text_becomes_a_formula(made, tmp_path):
    row = made[0].many.jobs[0]
    row.title, row.customer = "=1+1", "@SUM(A1)"
    book = load_workbook(write_review_book(made[0], tmp_path))
    for page in book.worksheets:
        assert all(cell.data_type != "f" for line in page.iter_rows() for cell in line)


def test_json_has_the_names_that_programs_rely_on(made):
    answer = review_json(made[0].many, made[0].lesson, [], (), ("customer",))
    assert set(answer) >= {"jobs", "totals", "suggestions", "files", "groups"}
    job = answer["jobs"][0]
    assert set(job) >= {
        "job",
        "price",
        "cost_estimated",
        "cost_actual",
        "margin_estimated_pct",
        "margin_actual_pct",
        "categories",
    }
    assert set(job["categories"]["material"]) == {"estimated", "actual"}
    suggestion = answer["suggestions"][0]
    assert set(suggestion) >= {"standard", "now", "seen", "jobs", "suggest"}
    assert len(job["price"].split(".")[1]) == 2
    json_text(answer)
    json_text(job_json(made[1].details[0]))


def test_the_terminal_summary_says_what_matters(made, capsys):
    print_answer(made[0], ("customer", "month"))
    many = capsys.readouterr().out
    for words in (
        "Of 80 jobs",
        "By customer",
        "By month",
        "bottleneck",
        "Quoted margin",
        "8 in 10",
        "Back-test on",
    ):
        assert words in many
    print_answer(made[1])
    one = capsys.readouterr().out
    assert "Why it differs" in one and "per hour" in one
