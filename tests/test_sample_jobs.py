"""The sample jobs from file to quote, against results worked out beside them.

`expected/<job>.toml` holds hand calculations as plain sums; these tests do the sums
again and compare the tool's answers. Cut plans are compared with an optimum found by
OR-tools CP-SAT and go through a checker that shares no code with the planner.
"""

import ast
import json
import math
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from ortools.sat.python import cp_model
from typer.testing import CliRunner

from shopquote.calc.takeoff.cut_plan import Piece, SawSettings, StockBar
from shopquote.calc.takeoff.takeoff import group_pieces
from shopquote.cli.app import app
from shopquote.services.buying.takeoff import items_of_job, take_off_job
from shopquote.services.shop.database import open_database
from shopquote.services.shop.shop_on_file import saw_settings
from tests.listed_stock import stock_bars
from tests.referees.cp_sat import cheapest
from tests.referees.feasible import faults_of_plan

FOLDER = Path(__file__).parents[1] / "sample_jobs"
JOBS = sorted(path for path in FOLDER.glob("*.toml") if path.name.count(".") == 1)
NAMES = [path.stem for path in JOBS]

RUNNER = CliRunner()

# A cut length is shown to the planning unit: 0.1 mm, or 1/64 in for a job in inches.
PLANNING_MM = {"mm": 0.1, "in": 25.4 / 64}


def shopquote(*words: object) -> Any:
    """Run a command in this process and read its JSON."""
    done = RUNNER.invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, f"{words}\n{done.output}"
    return json.loads(done.stdout)


def worked(sum_text: str) -> float:
    """A hand calculation: numbers, + - * / **, pi, tan, sqrt, log and radians, nothing else."""
    allowed = (
        ast.Expression, ast.BinOp, ast.UnaryOp, ast.USub, ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Pow,
        ast.Call, ast.Name, ast.Load, ast.Constant,
    )  # fmt: skip
    tree = ast.parse(sum_text, mode="eval")
    assert all(isinstance(node, allowed) for node in ast.walk(tree)), sum_text
    names = {name: getattr(math, name) for name in ("pi", "tan", "sqrt", "log", "radians")}
    return float(eval(compile(tree, "working", "eval"), {"__builtins__": {}}, names))


def job_file(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def expected(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / "expected" / f"{name}.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", NAMES)
def test_the_starting_shop_can_make_every_part(name: str) -> None:
    """A hard pull may be told, or a better way; never that no bender makes it or that it cracks."""
    for part in shopquote("part", FOLDER / f"{name}.toml")["parts"]:
        assert all(bend["bender"] for bend in part["bends"]), part["mark"]
        assert {problem["code"] for problem in part["problems"]} <= {"hand-force", "scroll-former"}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A new shop with every sample job added: (database, {name: job number})."""
    database = tmp_path_factory.mktemp("shop") / "shop.db"
    done = RUNNER.invoke(app, ["setup", "--yes", "--db", str(database)])
    assert done.exit_code == 0, done.output
    added = shopquote("job", "add", *JOBS, "--db", database)["jobs"]
    titles = {entry["title"]: entry["job"] for entry in added}
    return database, {name: titles[job_file(name)["job"]["title"]] for name in NAMES}


def test_there_are_six_jobs_of_the_kinds_a_shop_sees() -> None:
    jobs = [job_file(name) for name in NAMES]
    assert len(jobs) >= 6
    assert {job["job"]["units"] for job in jobs} == {"mm", "in"}
    assert {1, 200} <= {job["job"]["sets"] for job in jobs}
    assert {"general", "guarding", "lifting"} <= {job["job"]["use"] for job in jobs}
    assert {"round", "square", "flat"} <= {part["bar"].split()[0] for job in jobs for part in job["part"]}


@pytest.mark.parametrize("name", NAMES)
def test_every_part_has_an_expected_result_whose_sums_are_right(name: str) -> None:
    parts = expected(name)["part"]
    assert [part["mark"] for part in parts] == [part["mark"] for part in job_file(name)["part"]]
    for part in parts:
        assert worked(part["working"]) == pytest.approx(part["cut_mm"], abs=0.0006)
        assert worked(part["mass_working"]) == pytest.approx(part["mass_kg"], abs=0.0001)


@pytest.mark.parametrize("name", NAMES)
def test_lengths_and_masses_equal_the_hand_calculation(name: str) -> None:
    found = {part["mark"]: part for part in shopquote("part", FOLDER / f"{name}.toml")["parts"]}
    planning = PLANNING_MM[job_file(name)["job"]["units"]]
    for part in expected(name)["part"]:
        answer = found[part["mark"]]
        assert answer["developed_mm"] == pytest.approx(worked(part["working"]), abs=0.001), part["mark"]
        assert abs(answer["cut_mm"] - part["cut_mm"]) <= planning, part["mark"]
        assert answer["mass_kg"] == pytest.approx(part["mass_kg"], rel=0.001), part["mark"]


@pytest.mark.parametrize("name", NAMES)
def test_bend_marks_end_one_straight_leg_before_the_end_of_the_bar(name: str) -> None:
    """Marks lie in order inside the cut length, and each bend has one."""
    for part in shopquote("part", FOLDER / f"{name}.toml")["parts"]:
        marks = part["bend_marks_mm"]
        assert len(marks) == len(part["bends"])
        assert marks == sorted(marks)
        assert all(0 <= mark < part["cut_mm"] for mark in marks)


@pytest.mark.parametrize("name", NAMES)
def test_takeoff_counts_and_adds_up(shop: Any, name: str) -> None:
    database, numbers = shop
    job = job_file(name)
    materials = shopquote("takeoff", numbers[name], "--db", database)["materials"]
    assert sum(material["pieces"] for material in materials) == job["job"]["sets"] * sum(
        part["per_set"] for part in job["part"]
    )
    cut = {part["mark"]: part["cut_mm"] for part in expected(name)["part"]}
    wanted = {part["mark"]: job["job"]["sets"] * part["per_set"] for part in job["part"]}
    planned: dict[str, int] = {}
    for material in materials:
        for bar in material["plan"]["bars"]:
            for piece in bar["pieces"]:
                mark = piece["mark"].rsplit("/", 1)[-1]
                planned[mark] = planned.get(mark, 0) + bar["count"] * piece["count"]
                assert abs(piece["length_mm"] - cut[mark]) <= PLANNING_MM[job["job"]["units"]]
        bought = sum(bar["stock_mm"] * bar["count"] for bar in material["plan"]["bars"])
        assert material["bought_mm"] + sum(material["from_rack"] or [0]) == pytest.approx(bought)
    assert planned == wanted


def fewest_in_full_bars(piece: Piece, stocks: Sequence[StockBar], saw: SawSettings) -> Fraction:
    """Cheapest bars for many equal square-ended pieces, by CP-SAT: how many fit a bar is a division."""
    model = cp_model.CpModel()
    bars = []
    for stock in stocks:
        assert stock.price is not None and stock.limit is None
        fit = (stock.length.nm - saw.trim.nm - saw.grip.nm + saw.kerf.nm) // (piece.length.nm + saw.kerf.nm)
        bars.append((model.NewIntVar(0, piece.count, ""), fit, int(stock.price * 10_000)))
    model.Add(sum(count * fit for count, fit, _ in bars) >= piece.count)
    model.Minimize(sum(count * price for count, _, price in bars))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.Solve(model) == cp_model.OPTIMAL
    return Fraction(round(solver.ObjectiveValue()), 10_000)


@pytest.mark.parametrize("name", NAMES)
def test_cut_plan_can_be_sawn_and_is_as_cheap_as_cp_sat_finds(shop: Any, name: str) -> None:
    database, numbers = shop
    today = date.today()
    with open_database(str(database)) as opened, opened.reading() as session:
        # Offcuts are credited nothing: no supplier pays for them.
        saw = replace(saw_settings(session), keep_percent=Decimal(0))
        found = take_off_job(session, [numbers[name]], on=today)
        assert found.purchase is not None and found.purchase.proven and found.purchase.cuts_proven
        for section, grade, pieces in group_pieces(items_of_job(session, numbers[name])):
            (plan,) = [
                m.plan for m in found.materials if (m.section.key, m.grade.name) == (section.key, grade.name)
            ]
            stocks = [bar for bar in stock_bars(session, section, grade, today) if bar.price is not None]
            cut_here = replace(plan, bars=tuple(bar for bar in plan.bars if bar.pieces and not bar.sawn))
            if cut_here.bars == plan.bars:
                step = 396_875 if found.unit == "in" else 100_000
                assert faults_of_plan(pieces, stocks, (), saw, plan, step) == []
            if len(pieces) == 1 and pieces[0].count > 40 and not any(pieces[0].mitres):
                cost = fewest_in_full_bars(pieces[0], stocks, saw)
            else:
                cost, optimal = cheapest(pieces, stocks, (), saw)
                assert optimal, section.key
            # Bars may cost more than the cheapest cut of them where that spares a delivery.
            assert Fraction(plan.bound) <= cost, section.key
            assert not plan.proven or Fraction(plan.cost) == cost, section.key


def money(value: Any) -> Decimal:
    assert isinstance(value, str), f"money is text in JSON: {value!r}"
    return Decimal(value)


@pytest.mark.parametrize("name", NAMES)
def test_quote_lines_add_up_to_the_printed_total(shop: Any, tmp_path: Path, name: str) -> None:
    database, numbers = shop
    quote = shopquote("quote", numbers[name], "--db", database, "--out", tmp_path)
    for line in quote["lines"]:
        assert money(line["amount"]) == money(line["unit_price"]) * Decimal(str(line["quantity"]))
    assert sum(money(line["amount"]) for line in quote["lines"]) == money(quote["net"])
    assert money(quote["net"]) + money(quote["tax"]) == money(quote["total"])
    estimate = quote["estimate"]
    categories = ("material", "labour", "consumables", "bought", "outside", "overhead", "contingency")
    assert sum(money(estimate[category]) for category in categories) == money(estimate["cost"])
    assert money(estimate["cost"]) < money(quote["net"])
    assert estimate["minutes"] and all(minutes > 0 for minutes in estimate["minutes"].values())
    assert [entry["sets"] for entry in quote["breaks"]] == job_file(name)["job"].get("breaks", [])
    assert all(Path(file).is_file() for file in quote["files"])


@pytest.mark.parametrize("name", NAMES)
def test_unit_price_never_rises_with_the_quantity(shop: Any, tmp_path: Path, name: str) -> None:
    database, numbers = shop
    breaks = shopquote("quote", numbers[name], "--db", database, "--out", tmp_path)["breaks"]
    prices = [money(entry["unit_price"]) for entry in breaks]
    totals = [money(entry["total"]) for entry in breaks]
    assert prices == sorted(prices, reverse=True)
    assert totals == sorted(totals)


def test_a_lifting_hook_gets_no_load_rating_and_a_caution(shop: Any, tmp_path: Path) -> None:
    database, numbers = shop
    quote = shopquote("quote", numbers["gate_lifting_hooks"], "--db", database, "--out", tmp_path)
    said = " ".join(quote["cautions"]).lower()
    assert "load" in said and "rating" in said and "not" in said


def test_a_hand_rail_defers_to_local_code_and_a_licensed_designer(shop: Any, tmp_path: Path) -> None:
    database, numbers = shop
    quote = shopquote("quote", numbers["stair_hand_rail"], "--db", database, "--out", tmp_path)
    said = " ".join(quote["cautions"]).lower()
    assert "code" in said and "licensed" in said


def test_nothing_in_the_samples_is_about_a_real_firm_and_prices_say_that_they_are_invented() -> None:
    for path in (*FOLDER.glob("*.toml"), *FOLDER.glob("logged/*.toml")):
        assert "invented" in path.read_text(encoding="utf-8"), path.name


PLAN = {"bars", "bars_used", "cost", "bound", "gap", "proven", "seconds"}
BAR = {"stock_mm", "count", "pieces", "offcut_mm", "kept"}


def has(value: dict[str, Any], keys: str | set[str]) -> None:
    wanted = set(keys.split()) if isinstance(keys, str) else keys
    assert wanted <= set(value), f"lacks {wanted - set(value)}"


def has_plan(plan: dict[str, Any]) -> None:
    has(plan, PLAN)
    for bar in plan["bars"]:
        has(bar, BAR)
        assert all({"mark", "length_mm", "count"} <= set(piece) for piece in bar["pieces"])


def test_json_has_the_keys_that_programs_read(tmp_path: Path) -> None:
    """From a cut list to a review, in a shop of its own."""
    database = ("--db", tmp_path / "shop.db")
    out = ("--out", tmp_path / "papers")
    assert RUNNER.invoke(app, ["setup", "--yes", "--db", str(tmp_path / "shop.db")]).exit_code == 0
    cut_list = tmp_path / "list.csv"
    cut_list.write_text("mark,length,count\nA,1200,7\nB,450,12\n", encoding="utf-8")
    has_plan(shopquote("cut", cut_list, "--stock", "6000:11.40", "--rack", "1850", "--kerf", "1.6"))

    parts = shopquote("part", FOLDER / "shelf_brackets.toml")["parts"]
    for part in parts:
        has(part, "mark developed_mm cut_mm bend_marks_mm bends mass_kg area_m2 envelope_mm problems")
        for bend in part["bends"]:
            has(bend, "angle inside_radius_mm over_bend_to moment_nm hits")

    (added,) = shopquote("job", "add", FOLDER / "shelf_brackets.toml", *database)["jobs"]
    has(added, "job title state")
    job = added["job"]
    for material in shopquote("takeoff", job, *database)["materials"]:
        has(material, "bar grade pieces net_mm bought_mm mass_kg from_rack plan")
        has_plan(material["plan"])

    quote = shopquote("quote", job, *database, *out)
    has(quote, "job revision currency lines net tax total valid_until breaks estimate files cautions")
    has(quote["lines"][0], "text quantity unit_price amount")
    has(quote["breaks"][0], "sets unit_price total")
    has(quote["estimate"], "material labour consumables bought outside overhead cost margin_pct minutes")
    (listed,) = shopquote("job", "list", *database)["jobs"]
    has(listed, "job title state customer sets due price")
    assert listed["price"] == quote["net"]

    ordered = shopquote("order", job, *database, *out)
    has(ordered, "orders from_rack files")
    for order in ordered["orders"]:
        has(order, "number supplier lines total")
        has(order["lines"][0], "bar grade length_mm count unit_price amount")
        assert sum(money(line["amount"]) for line in order["lines"]) <= money(order["total"])

    shopquote("log", job, "--operation", "sawing", "--minutes", 30, *database)
    shopquote("close", job, *database)
    review = shopquote("review", job, *database, *out)
    has(review, "jobs totals suggestions files")
    (reviewed,) = review["jobs"]
    has(reviewed, "job price cost_estimated cost_actual margin_estimated_pct margin_actual_pct categories")
    for category in reviewed["categories"].values():
        has(category, "estimated actual")
    assert sum(money(row["actual"]) for row in reviewed["categories"].values()) == money(
        reviewed["cost_actual"]
    )
