"""One job through every command, each figure worked again by hand or by sums of our own.

Legs measured outside lose the setback R + T at a 90 degree bend, and the bend adds the arc of its
neutral axis, R + T/2: BA = A (R + K T), a public page of bend allowances (mech.toolfusion.net/calcs,
bend-allowance), K 0.5 on the centre line. Mass: area x length x 7850 kg/m3 (weight tables give 0.888 kg/m for
round 12). The job, its customer and its prices are invented.
"""

import json
import zipfile
from decimal import ROUND_HALF_UP, Decimal
from math import pi

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from shopquote.cli.app import app

JOB = """
format = 1
[job]
title = "=1+1 arch"
customer = "../../Quillon Orchard"
sets = 3
breaks = [1, 3, 10]
units = "mm"
[[part]]
mark = "A"
name = "=cmd()"
per_set = 2
bar = "round 12"
grade = "S275"
dims = "outside"
shape = "leg 300; bend 90 r 24; leg 600; bend -90 r 24; leg 150"
[[part]]
mark = "B"
per_set = 1
bar = "angle 40 x 40 x 4"
grade = "S275"
length = "7' 6-1/2\\""
[[weld]]
kind = "fillet"
leg = 5
length = 40
count = 4
process = "MIG"
[[bought]]
name = "@bolt"
per_set = 8
unit_cost = "0.42"
[[outside]]
name = "galvanising"
basis = "kg"
rate = "1.90"
minimum = "60"
"""
KERF_MM, TRIM_MM = 1.6, 10  # the saw that every shop starts with
CENT = Decimal("0.01")


@pytest.fixture
def run(shop, tmp_path, monkeypatch):
    monkeypatch.setenv("SHOPQUOTE_DB", str(shop.name))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "arch.toml").write_text(JOB)

    def call(*words, code=0):
        result = CliRunner().invoke(app, [*map(str, words)])
        assert result.exit_code == code, result.output
        return json.loads(result.stdout) if "--json" in words and code == 0 else result.stdout

    return call


def test_a_job_from_file_to_margin_adds_up_at_every_step(run, tmp_path):
    parts = {part["mark"]: part for part in run("part", "arch.toml", "--json")["parts"]}
    # 300 + 600 + 150 less two setbacks of 24 + 12 at each bend, and two quarter circles of 24 + 6.
    hoop = 300 + 600 + 150 - 4 * 36 + 2 * pi / 2 * 30
    assert parts["A"]["developed_mm"] == pytest.approx(hoop, abs=1e-3)
    assert 0 <= parts["A"]["cut_mm"] - hoop <= 0.1
    assert parts["A"]["mass_kg"] == pytest.approx(pi / 4 * 12**2 * hoop * 7850e-9, rel=1e-3)
    assert parts["B"]["developed_mm"] == 90.5 * 25.4  # 7 ft 6-1/2 in
    # Legs 40 of 4 thick, a root radius of 6 and two toes of 3: EN 10056-1 in
    # fib-international/structuralcodes, structuralcodes/geometry/profiles/_l.py.
    angle = (40 + 36) * 4 + (1 - pi / 4) * (6**2 - 2 * 3**2)
    assert parts["B"]["mass_kg"] == pytest.approx(angle * 90.5 * 25.4 * 7850e-9, rel=1e-3)

    assert run("job", "add", "arch.toml", "--json")["jobs"][0]["state"] == "asked"
    taken = run("takeoff", "J-0001", "--json")["materials"]
    for material, (mark, count) in zip(taken, (("A", 6), ("B", 3)), strict=True):
        cut = 0
        for bar in material["plan"]["bars"]:
            pieces = sum(piece["count"] for piece in bar["pieces"])
            sawn = sum(piece["length_mm"] * piece["count"] for piece in bar["pieces"])
            assert {piece["mark"] for piece in bar["pieces"]} == {mark}
            rest = bar["stock_mm"] - TRIM_MM - sawn - (pieces - 1) * KERF_MM
            # What is left is freed by one more cut.
            assert bar["offcut_mm"] == pytest.approx(max(0, rest - KERF_MM), abs=1e-6) and rest >= 0
            cut += pieces * bar["count"]
        assert cut == material["pieces"] == count
        used = sum(material[name] for name in ("net_mm", "kerf_mm", "trim_mm", "kept_mm", "scrap_mm"))
        assert used == pytest.approx(material["bought_mm"] + material["rack_mm"])

    quote = run("quote", "J-0001", "--json", "--out", "papers")
    for line in quote["lines"]:
        assert Decimal(line["unit_price"]) * Decimal(line["quantity"]) == Decimal(line["amount"])
    net = sum(Decimal(line["amount"]) for line in quote["lines"])
    assert net == Decimal(quote["net"])
    assert (net * Decimal("0.20")).quantize(CENT, ROUND_HALF_UP) == Decimal(quote["tax"])
    assert net + Decimal(quote["tax"]) == Decimal(quote["total"])
    estimate = quote["estimate"]
    kinds = ("material", "labour", "consumables", "bought", "outside", "overhead", "contingency")
    cost = sum(Decimal(estimate[kind]) for kind in kinds)
    assert cost == Decimal(estimate["cost"])
    assert estimate["bought"] == "10.08"  # 3 sets x 8 x 0.42
    assert estimate["outside"] == "60.00"  # 3 x (2 x 0.888 + 5.49) kg x 1.90 = 41.41: the least is 60
    units = [Decimal(each["unit_price"]) for each in quote["breaks"]]
    assert [each["sets"] for each in quote["breaks"]] == [1, 3, 10] and units == sorted(units, reverse=True)

    run("rates", "set", "rate.bending", "99")
    run("taxes", "set", "VAT", "25", "default=yes")
    assert run("quote", "J-0001", "--again", "--json", "--out", "papers") == quote

    run("quotes", "accepted", "J-0001")
    for order in run("order", "J-0001", "--json", "--out", "papers")["orders"]:
        amounts = [Decimal(line["amount"]) for line in order["lines"]]
        for line, amount in zip(order["lines"], amounts, strict=True):
            exact = Decimal(line["unit_price"]) * line["count"]
            assert exact.quantize(CENT, ROUND_HALF_UP) == amount
        assert sum(amounts) + Decimal(order["delivery"]) == Decimal(order["total"])
        run("receive", order["number"], "--heat", "70411")
    assert run("rack", "list", "--json")["pieces"]
    run("floor", "J-0001", "--out", "papers")
    run("log", "J-0001", "--operation", "welding", "--minutes", "42")
    run("close", "J-0001")
    (closed,) = run("review", "J-0001", "--json", "--out", "papers")["jobs"]
    for side in ("estimated", "actual"):
        by_kind = sum(Decimal(each[side]) for each in closed["categories"].values())
        assert by_kind == Decimal(closed[f"cost_{side}"])
        margin = (net - by_kind) / net * 100
        assert abs(margin - Decimal(closed[f"margin_{side}_pct"])) <= Decimal("0.05")
    assert Decimal(closed["cost_estimated"]) == cost

    books = list((tmp_path / "papers").glob("*.xlsx"))
    assert len(books) >= 5 and not list(tmp_path.parent.glob("*Quillon*"))
    for book in books:
        typed = [
            cell
            for sheet in load_workbook(book)
            for row in sheet.iter_rows()
            for cell in row
            if isinstance(cell.value, str) and ("1+1 arch" in cell.value or "cmd()" in cell.value)
        ]
        assert all(cell.data_type == "s" for cell in typed), book


def test_a_customer_s_quote_tells_nothing_of_cost(run, tmp_path):
    run("job", "add", "arch.toml")
    quote = run("quote", "1", "--json", "--out", "papers")
    (path,) = (tmp_path / "papers").glob("Quote*.xlsx")
    assert all(sheet.sheet_state == "visible" for sheet in load_workbook(path))
    with zipfile.ZipFile(path) as packed:
        names = packed.namelist()
        everything = " ".join(
            packed.read(name).decode("utf-8", "replace") for name in names if "media" not in name
        )
    assert not [name for name in names if "comment" in name or "external" in name or "custom" in name]
    told = quote["estimate"]
    for secret in (
        told["cost"],
        told["labour"],
        told["material"],
        told["overhead"],
        "margin",
        "minutes",
        "overhead",
    ):
        assert secret not in everything


def test_a_refused_command_leaves_nothing_behind(run, tmp_path):
    run("job", "add", "arch.toml")
    before = run("job", "list", "--json")
    (tmp_path / "bad.toml").write_text(JOB.replace("S275", "S257"))
    run("job", "add", "arch.toml", "bad.toml", code=3)
    run("job", "status", "1", "closed", code=3)
    run("order", "1", "99", code=4)
    assert run("job", "list", "--json") == before
