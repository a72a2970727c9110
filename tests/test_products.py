"""Everyday products of bar shops, each said in one job file, made and priced.

Sizes are our own. What is held here is that each can be said: it checks, every part has a length on which its
marks lie, and it has a price; closed forms stand in tests/calc/bar.
"""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shopquote.cli.app import app

FOLDER = Path(__file__).parent / "products"
PRODUCTS = sorted(FOLDER.glob("*.toml"))
RUNNER = CliRunner()
# A person decides about these; everything else would be a fault of the file or of the shop it is made in.
MAY_BE_TOLD = {
    "stretches-far", "angle-buckles", "scroll-former", "hand-force", "hole-near-bend", "edge-buckles",
    "hook-crosses", "spliced", "laps-itself",
}  # fmt: skip


def answered(*words):
    done = RUNNER.invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.mark.parametrize("product", PRODUCTS, ids=[path.stem for path in PRODUCTS])
def test_a_product_is_said_made_and_priced(product):
    checked = RUNNER.invoke(app, ["check", str(product)])
    assert checked.exit_code == 0, checked.output
    for part in answered("part", product)["parts"]:
        assert 0 < part["developed_mm"] <= part["cut_mm"] and part["mass_kg"] > 0
        assert all(0 <= mark <= part["cut_mm"] for mark in part["bend_marks_mm"])
        assert {problem["code"] for problem in part["problems"]} <= MAY_BE_TOLD
    price = answered("price", product)
    assert float(price["net"]) > 0 and sum(map(float, price["estimate"]["minutes"].values())) > 0
