"""Everyday products of bar shops, each said in one job file, made and priced.

Sizes are our own. What is held here is that each can be said: it checks, every part has a length on which its
marks lie, and it has a price; closed forms stand in tests/calc/bar.
"""

import json
import re
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.page.price_form import fields_of, rows_of, tables_of
from shopquote.reading.job_book import read_job
from shopquote.reading.job_book_sheets import write_job_book
from shopquote.reading.job_file import read_job_file, read_job_text, write_job_text
from shopquote.reading.job_reader import read_job_tables

FOLDER = Path(__file__).parent / "products"
PRODUCTS = sorted(FOLDER.glob("*.toml"))
RUNNER = CliRunner()
# Words of a job file, and the operation that they are work of.
ASKS_FOR = {
    "thread M": "turning", "turn ": "turning", "dia = ": "drilling", "thread = ": "tapping",
    "scarf": "forging",
    "point ": "forging", "head ": "forging", "corner ": "forging", "collar": "forging", "drifted": "forging",
    "hook d": "bending", "ring d": "bending", "volute": "bending", "wound": "bending", "fold ": "welding",
    "[[weld]]": "welding", "[[joint]]\nkind = \"rivet\"": "assembly", "kind = \"halved\"": "fit-up",
}  # fmt: skip
# A person decides about these; everything else would be a fault of the file or of the shop it is made in.
MAY_BE_TOLD = {
    "stretches-far", "angle-buckles", "scroll-former", "hand-force", "hole-near-bend", "edge-buckles",
    "hook-crosses", "spliced", "laps-itself", "rolled-end", "bright-bar",
}  # fmt: skip


@pytest.fixture(scope="module")
def shop_path(_shop_file, tmp_path_factory):
    """A shop that all products are priced in, so that none has to set one up."""
    path = tmp_path_factory.mktemp("products") / "shop.db"
    shutil.copy(_shop_file, path)
    return str(path)


def answered(*words):
    done = RUNNER.invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.mark.parametrize("product", PRODUCTS, ids=[path.stem for path in PRODUCTS])
def test_a_product_is_said_made_and_priced(product, shop_path):
    checked = RUNNER.invoke(app, ["check", str(product), "--db", shop_path])
    assert checked.exit_code == 0, checked.output
    for part in answered("part", product, "--db", shop_path)["parts"]:
        assert part["developed_mm"] > 0 and part["mass_kg"] > 0
        assert part["developed_mm"] <= part["cut_mm"]
        assert all(0 <= mark <= part["cut_mm"] for mark in part["bend_marks_mm"])
        assert {problem["code"] for problem in part["problems"]} <= MAY_BE_TOLD
        assert not re.search(r"\bword \d", json.dumps([part["problems"], part.get("shape_notes")]))
    price = answered("price", product, "--db", shop_path)
    minutes = {name: float(value) for name, value in price["estimate"]["minutes"].items()}
    assert float(price["net"]) > 0 and sum(minutes.values()) > 0
    # What the job file asks for is work: no operation that it names costs nothing.
    text = product.read_text(encoding="utf-8")
    for word, operation in ASKS_FOR.items():
        assert word not in text or minutes[operation] > 0, f"{word}: no minutes of {operation}"


@pytest.mark.parametrize("product", PRODUCTS, ids=[path.stem for path in PRODUCTS])
def test_a_product_is_the_same_in_a_workbook_and_on_the_page(product, tmp_path):
    spec = read_job_file(product)
    assert read_job(write_job_book(spec, tmp_path / "job.xlsx")) == spec
    assert read_job_text(write_job_text(spec), "job.toml") == spec
    document, _ = tables_of(rows_of(fields_of(spec)), named=True)
    assert read_job_tables(document, "form") == spec
