"""The checker of certificates passes true ones and refuses every tampered one."""

import copy
import json
from decimal import Decimal

import pytest

from shopquote.calc.takeoff import certificate_check, certificate_counts
from shopquote.calc.takeoff.answers import Piece, RackBar, SawSettings, StockBar
from shopquote.calc.takeoff.certificate import digest_of
from shopquote.calc.takeoff.certificate_check import faults_of_certificate
from shopquote.calc.takeoff.plan import plan_cuts
from shopquote.calc.units import Length

mm = Length.from_mm


def certificate(percent=0, lengths=(700, 820, 1130, 1490, 2060)):
    pieces = [Piece(f"P{i}", mm(length), 3 + i) for i, length in enumerate(lengths)]
    stocks = [StockBar(mm(6000), Decimal("24.60")), StockBar(mm(3000), Decimal("13.10"), 4)]
    saw = SawSettings(mm("1.6"), mm(5), mm(0), mm(300), Decimal(percent))
    plan = plan_cuts(pieces, stocks, [RackBar("R", mm(2000))], saw)
    assert plan.proven and plan.certificate is not None
    return plan.certificate


@pytest.mark.parametrize("percent", [0, 40])
def test_a_true_certificate_passes_also_after_json(percent):
    made = certificate(percent)
    assert faults_of_certificate(json.loads(json.dumps(made))) == []


def test_the_checker_uses_no_solver_and_nothing_of_the_planner():
    for module in (certificate_check, certificate_counts):
        source = module.__loader__.get_source(module.__name__)
        imports = [line for line in source.splitlines() if line.startswith(("import ", "from "))]
        imports = [line for line in imports if "takeoff.certificate_counts import" not in line]
        assert not [line for line in imports if "highspy" in line or "shopquote" in line]
        assert "float" not in source.split('"""', 2)[2]


def places(value, path=()):
    """Every whole number in a certificate, by its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*path, key))
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            yield from places(inner, (*path, at))
    elif isinstance(value, int) and not isinstance(value, bool):
        yield path


def sealed(made):
    """The certificate with a digest that fits its content, so that only its sense is judged."""
    content = {key: value for key, value in made.items() if key != "digest"}
    return content | {"digest": digest_of(content)}


@pytest.mark.parametrize("percent", [0, 40])
def test_any_one_number_changed_is_refused(percent):
    made = certificate(percent)
    for path in places(made):
        assert faults_of_certificate(changed(made, path, 1)) != []


def changed(made, path, by):
    other = copy.deepcopy(made)
    inner = other
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] += by
    return other


@pytest.mark.parametrize("percent", [0, 40])
def test_a_changed_number_of_the_plan_or_its_cost_is_refused(percent):
    made = certificate(percent)
    paths = [path for path in places(made) if path[0] in ("plan", "cost")]
    assert len(paths) > 10
    for path in paths:
        if path[0] == "plan" and path[2] == 0:
            continue  # another kind of bar may be a plan of another cost: tested below
        for by in (1, -1):
            assert faults_of_certificate(sealed(changed(made, path, by))), path


def test_a_cheaper_kind_of_bar_than_was_used_is_refused():
    made = certificate()
    for number, (kind, _, _) in enumerate(made["plan"]):
        for other in range(len(made["problems"][0]["kinds"])):
            if other != kind:
                wrong = copy.deepcopy(made)
                wrong["plan"][number][0] = other
                assert faults_of_certificate(sealed(wrong))


@pytest.mark.parametrize("divisor", [2, 1_000_000])
def test_lowered_prices_are_refused(divisor):
    # Two of these fit in a bar of 6000 and waste a third of it, so that length alone proves nothing.
    made = certificate(lengths=(2100, 2150, 2200, 2250))

    def lower(node):
        if isinstance(node, dict):
            for key, inner in node.items():
                if key == "prices":
                    node[key] = [price // divisor for price in inner]
                elif key == "cuts":
                    node[key] = [[price // divisor for price in cut] for cut in inner]
                else:
                    lower(inner)

    lower(made["problems"][0]["tree"])
    assert faults_of_certificate(sealed(made)) != []


def value_at(made, path):
    for key in path:
        made = made[key]
    return made


@pytest.mark.parametrize(
    "wreck",
    [
        lambda c: c.pop("problems"),
        lambda c: c.pop("cost"),
        lambda c: c.update(format=2),
        lambda c: c.update(problems=[]),
        lambda c: c["problems"][0].update(tree={}),
        lambda c: c["problems"][0].update(tree={"prices": [1.5]}),
        lambda c: c["problems"][0].update(fine=0),
        lambda c: c["problems"][0]["demands"].append(1),
        lambda c: c["problems"][0]["kinds"].pop(0),
        lambda c: c.update(plan=[]),
        lambda c: c.update(cost=str(c["cost"])),
    ],
)
def test_an_incomplete_certificate_is_refused_without_an_exception(wreck):
    made = certificate()
    wreck(made)
    assert faults_of_certificate(sealed(made)) != []


def test_a_dearer_plan_is_not_certified():
    made = certificate(lengths=(1000, 1500))
    kinds = made["problems"][0]["kinds"]
    # Put one bar's pieces on the dearest kind that holds them, and say so honestly.
    for number, (kind, _, count) in enumerate(made["plan"]):
        for other, bar in enumerate(kinds):
            if bar["cost"] > kinds[kind]["cost"] and bar["capacity"] >= kinds[kind]["capacity"]:
                made["plan"][number][0] = other
                made["cost"] += count * (bar["cost"] - kinds[kind]["cost"])
                assert faults_of_certificate(sealed(made)) != []
                return
    pytest.fail("no dearer kind to move to")
