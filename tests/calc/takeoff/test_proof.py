"""Proofs begin from the list and the bars as given; true ones pass both checkers, tampered ones neither."""

import copy
import json
import random
from decimal import Decimal
from pathlib import Path

import pytest

import shopquote.calc.takeoff.proof
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.master import Master
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.takeoff.proof.check import faults_of_proof
from shopquote.calc.takeoff.proof.write import sealed
from shopquote.calc.takeoff.work import A_SECOND
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError
from tests.bench.bench_cut import CREDIT_SAW, SHOP_SAW, shop_job
from tests.referees.proof_checker import Wrong, bound_shown_by

mm = Length.from_mm
CHECKER = ("check", "given", "model", "lists", "patterns")


BARS = (StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"), 4))


def proof(percent=0, lengths=(700, 820, 1130, 1490, 2060), stocks=BARS):
    pieces = [Piece(f"P{i}", mm(length), 3 + i) for i, length in enumerate(lengths)]
    saw = SawSettings(mm(2), mm(5), mm(0), mm(300), Decimal(percent))
    plan = plan_cuts(pieces, stocks, [RackBar("R", mm(2000))], saw)
    assert plan.proven and plan.proof is not None
    return plan.proof


@pytest.mark.parametrize("percent", [0, 40])
def test_a_true_proof_passes_both_checkers_also_after_json(percent):
    made = proof(percent)
    assert faults_of_proof(json.loads(json.dumps(made))) == []
    assert bound_shown_by(json.loads(json.dumps(made))) == made["cost"]


def small_job(seed):
    """Odd prices, limits, credits, mitres, rack bars and heats, small enough for the plain checker."""
    draw = random.Random(seed)
    mitred, heats = draw.random() < 0.3, draw.random() < 0.2
    pieces = [
        Piece(
            f"P{i}",
            mm(draw.randint(8, 60) * 10),
            draw.randint(1, 9),
            (45.0, 45.0) if mitred and draw.random() < 0.5 else (0.0, 0.0),
            draw.choice([None, "g"]) if heats else None,
            depth=mm(20),
        )
        for i in range(draw.randint(2, 5))
    ]
    stocks = [
        StockBar(mm(length), Decimal(draw.randint(100, 900)) / draw.choice([100, 1000]), limit)
        for length, limit in zip(
            draw.sample([600, 900, 1000, 1200], 2), draw.choices([None, 2, 5], k=2), strict=True
        )
    ]
    stocks.append(StockBar(mm(1250), Decimal(draw.randint(500, 1500)) / 100))
    rack = [RackBar(f"R{i}", mm(draw.randint(20, 100) * 10)) for i in range(draw.randint(0, 2))]
    keep, percent = mm(draw.choice([50, 200])), Decimal(draw.choice([0, 0, 50, 100, 33]))
    return pieces, stocks, rack, SawSettings(mm(draw.choice([0, 2, 5])), mm(10), mm(0), keep, percent, mitred)


def three_to_a_bar(seed=2):
    """60 pieces that fill bars of 1000 by threes without a rest, proven by a list of patterns."""
    draw = random.Random(seed)
    lengths = []
    for _ in range(20):
        first = draw.randint(380, 490)
        second = draw.randint(250, (1000 - first) // 2)
        lengths += [first, second, 1000 - first - second]
    pieces = [Piece(str(length), mm(length), lengths.count(length)) for length in sorted(set(lengths))]
    return pieces, [StockBar(mm(1000), Decimal(1))], [], SawSettings(mm(0))


# Those from 1040 on are proven by counts of listed patterns.
@pytest.mark.parametrize("seed", [*range(1000, 1040), 1046, 1051, 1076])
def test_a_stranger_finds_the_same_bound_in_proofs_of_odd_jobs(seed):
    try:
        plan = plan_cuts(*small_job(seed))
    except CannotMakeError:
        return
    assert plan.proven and plan.proof is not None
    assert bound_shown_by(json.loads(json.dumps(plan.proof))) == int(plan.cost * 1_000_000)


def test_a_bar_thrown_out_must_be_argued():
    # The second stock is dearer and no longer: it is left out. Made cheaper afterwards, it may not be.
    pieces = [Piece("A", mm(900), 7), Piece("B", mm(700), 3)]
    stocks = [StockBar(mm(2000), Decimal(10)), StockBar(mm(2000), Decimal(11))]
    made = plan_cuts(pieces, stocks, [], SawSettings(mm(0))).proof
    assert made is not None and len(made["bars"]) == 2
    assert {bar for model in made["models"] for bar, _, _ in model["kinds"]} == {0}
    worse = copy.deepcopy(made)
    worse["bars"][1]["price"] = 9_000_000
    assert "left out" in faults_of_proof(sealed(worse))[0]
    with pytest.raises(Wrong, match="left out"):
        bound_shown_by(sealed(worse))


def test_a_bound_that_is_not_the_cost_has_its_proof_when_asked_for():
    draw = random.Random(5)
    pieces = [Piece(f"P{i}", mm(draw.randint(60, 2900)), draw.randint(1, 9)) for i in range(25)]
    stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"))]
    saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(50))
    plan = plan_cuts(pieces, stocks, [], saw, work=A_SECOND // 5, prove=True)
    assert not plan.proven and plan.proof is not None
    assert plan.proof["bound"] < plan.proof["cost"]
    assert faults_of_proof(plan.proof) == []


@pytest.mark.parametrize("seed, work", [(1002, 24), (1027, 6), (1067, 6), (1027, 10), (1150, 36)])
def test_the_bound_of_a_search_stopped_among_purchases_is_shown(seed, work):
    plan = plan_cuts(*small_job(seed), work=work * 1_000_000, prove=True)
    assert not plan.proven and plan.proof is not None
    assert bound_shown_by(json.loads(json.dumps(plan.proof))) == int(plan.bound * 1_000_000)


@pytest.mark.parametrize("seed, saw, seconds", [(992000, SHOP_SAW, 0.1), (992005, CREDIT_SAW, 0.2)])
def test_a_shop_job_stopped_among_purchases_has_a_proof(seed, saw, seconds):
    # Of 60 that were stopped early 5 stated a bound with none.
    assert plan_cuts(*shop_job(seed), saw, work=int(seconds * A_SECOND), prove=True).proof is not None


def test_the_checkers_use_no_solver_and_nothing_of_the_planner():
    folder = Path(shopquote.calc.takeoff.proof.__path__[0])
    for name in CHECKER:
        source = (folder / f"{name}.py").read_text(encoding="utf-8")
        imports = [line for line in source.splitlines() if line.startswith(("import ", "from "))]
        # Frozen values are the house's stand-in for dataclasses, and no part of the planner.
        ours = [line for line in imports if "shopquote" in line and "calc.frozen" not in line]
        assert all(
            f"takeoff.proof.{other} " in line for line in ours for other in [line.split(".")[-1].split()[0]]
        )
        assert {line.split(".")[-1].split()[0] for line in ours} <= set(CHECKER)
        assert "highspy" not in source
    other = (Path(__file__).parents[2] / "referees" / "proof_checker.py").read_text(encoding="utf-8")
    assert "shopquote" not in other and "numpy" not in other and "from tests" not in other


def places(value, path=()):
    """Every whole number in a proof, by its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*path, key))
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            yield from places(inner, (*path, at))
    elif isinstance(value, int) and not isinstance(value, bool):
        yield path


def changed(made, path, by):
    other = copy.deepcopy(made)
    inner = other
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] += by
    return other


@pytest.mark.parametrize("percent", [0, 40])
def test_any_one_number_changed_is_refused(percent):
    made = proof(percent)
    for path in places(made):
        assert faults_of_proof(changed(made, path, 1)) != []


@pytest.mark.parametrize("percent", [0, 40])
def test_a_changed_plan_cost_or_list_is_refused_though_its_digest_fits(percent):
    made = proof(percent)
    paths = [path for path in places(made) if path[0] in ("plan", "cost") or path[-1] == "count"]
    assert len(paths) > 10
    for path in paths:
        for by in (1, -1):
            assert faults_of_proof(sealed(changed(made, path, by))), path


def test_a_higher_bound_is_refused():
    made = proof()
    worse = sealed(made | {"bound": made["bound"] + 1, "cost": made["cost"] + 1})
    assert faults_of_proof(worse)
    with pytest.raises(Wrong):
        bound_shown_by(worse)


@pytest.mark.parametrize("divisor", [2, 1_000_000])
def test_lowered_prices_are_refused(divisor):
    # Two of these fit in a bar of 6000 and waste a third of it, so that length alone proves nothing.
    refused_where_lowered(proof(lengths=(2100, 2150, 2200, 2250), stocks=BARS[:1]), divisor)


def test_lowered_prices_that_strike_out_purchases_are_refused():
    refused_where_lowered(proof(lengths=(2100, 2150, 2200, 2250)), 1_000_000)


def test_purchases_are_struck_out_by_length_before_a_solver_is_asked(monkeypatch):
    monkeypatch.setattr(Master, "solve", lambda *_: pytest.fail("the solver was asked"))
    pieces = [Piece(f"P{i}", mm(length), 3 + i) for i, length in enumerate((600, 680, 740, 790, 850))]
    stocks = (StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("14.00")))
    plan = plan_cuts(pieces, stocks, [], SawSettings(mm(2), mm(5), mm(0)))
    # 18.96 m with kerfs: three bars of 6 m hold 17.97, and to these one of 3 m is the cheapest.
    assert plan.proven and plan.cost == Decimal("87.80")
    assert plan.proof is not None
    assert bound_shown_by(json.loads(json.dumps(plan.proof))) == plan.proof["cost"]


@pytest.mark.parametrize("job, how", [(three_to_a_bar(), "list"), (small_job(1051), "shares")])
def test_lowered_prices_of_lists_are_refused(job, how):
    made = plan_cuts(*job).proof
    assert made is not None and bound_shown_by(json.loads(json.dumps(made))) == made["cost"]
    assert f'"{how}"' in json.dumps(made["models"])
    refused_where_lowered(made, 1_000_000)


def refused_where_lowered(true, divisor):
    """Both checkers refuse a proof whose prices are a part of what they were."""
    made = json.loads(json.dumps(true))

    model = made["models"][0]
    model["prices"] = [[price // divisor for price in prices] for prices in model["prices"]]
    assert faults_of_proof(sealed(made)) != []
    with pytest.raises(Wrong):
        bound_shown_by(sealed(made))


@pytest.mark.parametrize(
    "wreck",
    [
        lambda c: c.pop("models"),
        lambda c: c.pop("cost"),
        lambda c: c.pop("bars"),
        lambda c: c.update(format=5),
        lambda c: c.update(models=[]),
        lambda c: c["models"][0].update(tree=[]),
        lambda c: c["models"][0].update(tree=[{}]),
        lambda c: c["models"][0].update(tree=[{"steps": []}]),
        lambda c: c["models"][0].update(prices=[[1.5]]),
        lambda c: c["models"][0].update(fine=0),
        lambda c: c["models"][0].update(step=0),
        lambda c: c["models"][0]["kinds"].pop(0),
        lambda c: c["pieces"].pop(0),
        lambda c: c["bars"].pop(0),
        lambda c: c.update(plan=[]),
        lambda c: c.update(cost=str(c["cost"])),
    ],
)
def test_an_incomplete_proof_is_refused_without_an_exception(wreck):
    made = copy.deepcopy(proof())
    wreck(made)
    assert faults_of_proof(sealed(made)) != []


@pytest.mark.parametrize(("part", "proven"), [(Decimal("0.7"), False), (Decimal("1.5"), True)])
def test_a_credited_bound_is_raised_cent_by_cent_and_shown(part, proven):
    # The linear program proves 2543.05; the cheapest plan costs two cents more, and dives find 2543.13.
    pieces, stocks, rack = shop_job(975_029)
    plan = plan_cuts(pieces, stocks, rack, CREDIT_SAW, work=int(part * A_SECOND), prove=True)
    assert Decimal("2543.05") <= plan.bound <= Decimal("2543.07") <= plan.cost
    assert plan.proven is proven and plan.proof is not None
    assert faults_of_proof(plan.proof) == []


@pytest.mark.parametrize("version", [1, 2, 3])
def test_a_proof_of_an_earlier_version_is_told_so(version):
    made = sealed(proof() | {"format": version})
    assert faults_of_proof(made) == ["it was written by an earlier version; write it again"]
