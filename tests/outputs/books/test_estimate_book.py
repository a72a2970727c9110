"""The shop's workbook: its live formulas, worked out by an engine not ours, come to the stored cent."""

import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from openpyxl import load_workbook

from shopquote.calc.job import PartSpec
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.price import price_job
from shopquote.calc.pricing.priced_quote import PriceOverride
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.units import Measure
from shopquote.outputs.books import estimate_book as estimate_book_module
from shopquote.outputs.books import estimate_columns
from shopquote.outputs.books.estimate_book import estimate_book, write_estimate_book
from shopquote.outputs.table import Column
from tests.office import OFFICE
from tests.sheets import fill, rows_under

D = Decimal
with_office = pytest.mark.skipif(
    OFFICE is None, reason="LibreOffice (soffice) is not installed: the formulas were not recalculated"
)


def recalculated(paths, folder):
    """The workbooks with every formula worked out by LibreOffice: no figures of ours stand beside them."""
    bare = [folder / "bare" / path.name for path in paths]
    (folder / "bare").mkdir()
    for path, alone in zip(paths, bare, strict=True):
        load_workbook(path).save(alone)
    command = [OFFICE, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless",
               "--convert-to", "xlsx", "--outdir", str(folder / "done"), *map(str, bare)]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=170)
    return [load_workbook(folder / "done" / path.name, data_only=True) for path in paths]


def figures(book):
    """Label to last number of each row of the Price sheet, as Decimal with cents."""
    found = {}
    for row in book["Price"].iter_rows(max_col=4, values_only=True):
        numbers = [value for value in row[1:] if isinstance(value, int | float)]
        if isinstance(row[0], str) and numbers:
            found.setdefault(row[0], [D(repr(round(number, 6))) for number in numbers])
    return found


def assert_same_cells(stored, worked):
    """Every cell as it is stored beside its formula, which previews show, against the same worked out."""
    for cell in (cell for sheet in stored for row in sheet.iter_rows() for cell in row):
        place = cell.parent.title, cell.coordinate
        other = worked[place[0]][place[1]].value
        if isinstance(other, int | float):
            assert cell.value == pytest.approx(other, rel=1e-9, abs=1e-9), place
        else:
            assert cell.value in (other, other or ""), place


def other_job():
    """Loose parts in inches, no welds: every line is a part's."""
    part = PartSpec("A", "peg", 3, "round 1/2", "A36", length=Measure.parse("5", "in"))
    plate = PartSpec("B", "plate", 1, "flat 1-1/2 x 1/4", "A36", length=Measure.parse("7-1/2", "in"))
    nothing = {"welds": (), "bought": (), "outside": (), "finish": None, "labour": ()}
    return {"units": "in", "parts": (part, plate), "use": "general", **nothing}


def worked_ends_job():
    """Ends turned and threaded, and nothing else done."""
    (peg, plate), nothing = other_job()["parts"], other_job()
    return {**nothing, "parts": (replace(peg, turned=1, threaded=2), replace(plate, threaded=1))}


@pytest.fixture
def documents(quoted):
    """Quotes that use each way of pricing."""
    by_hand = PriceOverride("part B", D("19.99"), "as last year")
    return [
        quoted(),
        quoted(lines="part", rush_pct=D("12.5"), discount_pct=D("3.3"), learning="unit"),
        quoted(lines="part", overrides=(by_hand,), learning="average"),
        quoted(markup_pct=D("41.7"), sets=7, taxes=("VAT",)),
        quoted(job=other_job(), lines="part", sets=1, breaks=()),
        quoted(job=other_job(), sets=30),
        quoted(job=worked_ends_job(), sets=5, learning="unit"),
        quoted(own_shop={"bought_markup_pct": None, "outside_markup_pct": None, "material_basis": "net",
                         "net_share_pct": D("12.5"), "scrap_pct": D(0), "contingency_pct": D(0),
                         "overhead_pct": D("17.25")}),
        quoted(own_shop={"currency": "JPY", "minimum_order": D(90000)}),
        quoted(own_shop={"currency": "KWD", "minimum_order": D(0)}, discount_pct=D("7.77"), learning="unit"),
    ]  # fmt: skip


@with_office
def test_recalculated_workbooks_equal_the_stored_figures_to_the_cent(documents, tmp_path):
    paths = [
        write_estimate_book(replace(document, number=f"Q-{number}"), tmp_path)
        for number, document in enumerate(documents)
    ]
    for document, path, book in zip(documents, paths, recalculated(paths, tmp_path), strict=True):
        assert_same_cells(load_workbook(path, data_only=True), book)
        shown, priced = figures(book), document.priced
        assert shown["Cost"] == [priced.cost], document.number
        assert shown["Net, before tax"] == [priced.net], document.number
        assert shown["Total"] == [priced.total], document.number
        assert shown["Margin, % of the net price"] == [priced.margin_pct], document.number
        for category, amount in document.estimate.by_category.items():
            assert shown[category][0] == amount
        for tax in priced.taxes:
            assert shown[tax.name][-1] == tax.amount
        texts = [cell for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row]
        assert not [text for text in texts if isinstance(text, str) and text.startswith(("#", "Err:"))]


@with_office
def test_a_column_put_in_anywhere_leaves_every_formula_right(quoted, tmp_path, monkeypatch):
    monkeypatch.setattr(estimate_book_module, "MINUTES", with_one_more(estimate_columns.MINUTES))
    monkeypatch.setattr(estimate_book_module, "COSTS", with_one_more(estimate_columns.COSTS))
    monkeypatch.setattr(estimate_book_module, "STANDARDS", with_one_more(estimate_columns.STANDARDS))
    document = quoted(rush_pct=D("12.5"))
    (book,) = recalculated([write_estimate_book(document, tmp_path)], tmp_path)
    assert {row["Checked"] for row in rows_under(book["Costs"], "Category", "Checked")} >= {"yes"}
    assert figures(book)["Cost"] == [document.priced.cost]
    assert figures(book)["Total"] == [document.priced.total]


def with_one_more(columns):
    return (columns[0], Column("Checked", lambda row: "yes"), *columns[1:])


@with_office
def test_operations_add_up_as_they_are_stored(quoted, tmp_path):
    document = quoted()
    (book,) = recalculated([write_estimate_book(document, tmp_path)], tmp_path)
    *rows, total = rows_under(book["Minutes"], "Set-up minutes", "Rate")
    stored = document.estimate.operations
    assert [(row["Operation"], round(row["Cost"], 2)) for row in rows] == [
        (cost.operation, float(cost.amount)) for cost in stored
    ]
    assert round(total["Cost"], 2) == float(sum(cost.amount for cost in stored))
    assert round(sum(row["Minutes"] for row in rows), 2) == round(total["Minutes"], 2)


@with_office
def test_a_changed_rate_moves_the_price_as_the_program_would(quoted, shop, tmp_path):
    from shopquote.services.jobs.jobs import load_job
    from shopquote.services.jobs.part import work_out_parts
    from shopquote.services.shop.shop_on_file import bending_shop

    document = quoted()
    with shop.reading() as session:
        spec = load_job(session, document.job).spec
        answers = work_out_parts(spec, bending_shop(session))
    changes = {"rate.welding": D("71.5"), "bend.base": D("0.83"), "saw.area-rate.mild": D("17")}
    book = estimate_book(document)
    for name, value in changes.items():
        fill(book["Standards"], {"Name": name}, Value=value)
    path = tmp_path / "changed.xlsx"
    book.save(path)
    (done,) = recalculated([path], tmp_path)
    standards = StandardsBook(document.standards).with_values(changes)
    estimate = estimate_job(
        spec, answers, document.materials, standards, document.policy, document.priced.sets,
        charges=document.charges,
    )  # fmt: skip
    priced = price_job(spec, estimate, document.policy)
    assert priced.net != document.priced.net
    assert figures(done)["Cost"] == [priced.cost]
    assert figures(done)["Net, before tax"] == [priced.net]


def test_every_formula_is_written_with_what_it_comes_to(quoted, tmp_path):
    """A preview works nothing out: it shows the total as it is stored."""
    document = quoted()
    path = write_estimate_book(document, tmp_path)
    stored = load_workbook(path, data_only=True)
    alive = [cell for sheet in load_workbook(path) for row in sheet.iter_rows() for cell in row]
    alive = [cell for cell in alive if cell.data_type == "f"]
    assert all(isinstance(stored[c.parent.title][c.coordinate].value, int | float) for c in alive)
    shown = figures(stored)
    assert (shown["Cost"], shown["Total"]) == ([document.priced.cost], [document.priced.total])


def test_the_workbook_is_alive_and_has_its_pictures(quoted, tmp_path):
    book = load_workbook(write_estimate_book(quoted(), tmp_path))
    formulas = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert len(formulas) > 100
    assert [sheet.title for sheet in book] == ["Price", "Minutes", "Costs", "Standards", "Parts", "Pictures"]
    assert len(book["Pictures"]._charts) == 3


def test_a_persons_text_is_never_a_formula(quoted, tmp_path):
    book = load_workbook(write_estimate_book(quoted(), tmp_path))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    own = [cell for cell in cells if str(cell.value).startswith(("=Bench", "=Fellside", "@M8", "+hoop"))]
    assert own and all(cell.data_type == "s" for cell in own)


def test_file_names_hold_no_text_of_a_customers(quoted, tmp_path):
    path = write_estimate_book(quoted(), tmp_path / "deep" / "folder")
    assert path == Path(tmp_path / "deep" / "folder" / "INTERNAL estimate Q-0001 r1.xlsx")
