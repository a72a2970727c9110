"""The part of the checker of proofs that is about purchases and listed patterns; see `proof_checker`."""

from itertools import product

from tests.referees.proof_words import dot, need, parts


def purchases(model, node, bars):
    costs = model.of_stock(min, [kind["cost"] for kind in model.kinds])
    cuts = []
    for prices in node["cuts"]:
        need(min(prices) >= 0, "a price below 0")
        reduced = model.reduced(prices)
        least = model.of_stock(min, reduced)
        free = sum(min(0, least[s]) * model.limits[s] for s in range(len(costs)) if not costs[s])
        cuts.append((model.worth(prices) + free, [r if costs[s] else 0 for s, r in enumerate(least)]))
    goal = model.target * model.fine
    tops = [n if costs[s] else 0 for s, n in enumerate(model.limits)]
    for base, least in cuts:
        if min(least) >= 0:
            tops = [min(t, (goal - base) // r) if r else t for t, r in zip(tops, least, strict=True)]
    if not model.credited:
        tops = [min(t, model.target // c) if c else t for t, c in zip(tops, costs, strict=True)]
    room = model.of_stock(max, [kind["capacity"] for kind in model.kinds])
    length = dot(model.units, model.demands)
    length -= sum(room[s] * model.limits[s] for s in range(len(costs)) if not costs[s])
    for n in product(*(range(top + 1) for top in tops)):
        cost = dot(costs, n) * model.fine
        floors = [base + dot(least, n) for base, least in cuts]
        struck = max(floors) > goal or (not model.credited and (cost > goal or max(floors) > cost))
        struck |= dot(room, n) < length
        boxed = any(
            all(
                a <= m <= b or not c
                for a, m, b, c in zip(box["stocks"][0], n, box["stocks"][1], costs, strict=True)
            )
            for box in node["boxes"]
        )
        need(struck or boxed, f"purchase {n} is not struck out")
    for box in node["boxes"]:
        low, high = box["stocks"]
        need(
            all(c or (a == 0 and b >= t) for a, b, c, t in zip(low, high, costs, model.limits, strict=True)),
            "free bars",
        )
        stock = [(max(p, a), min(q, b)) for (p, q), a, b in zip(bars["stock"], low, high, strict=True)]
        model.tree(box["tree"], bars | {"stock": stock})


def listed(model, node, bars):
    """(kind, pattern, cost in fine units) of all that a plan within the target may cut."""
    tests = []
    for prices in [node["prices"], *node["filters"]]:
        need(min(prices) >= 0, "a price below 0")
        reduced = model.reduced(prices)
        gap = model.target * model.fine - model.worth(prices) - model.least(reduced, bars)
        tests.append((prices, [r + gap for r in reduced]))
    found = []
    for k in node["listed"]:
        kind = model.kinds[k]
        for pattern, used in patterns(model, kind, [0] * len(model.units), 0, 0):
            cost = (kind["net"][used] if kind["kept"] else kind["cost"]) * model.fine
            if all(cost - dot(prices, pattern) <= most[k] for prices, most in tests):
                found.append((k, pattern, cost))
    return found


def patterns(model, kind, pattern, i, used):
    if i == len(pattern):
        if any(pattern):
            yield tuple(pattern), used
        return
    block, opening = model.sizes[i][2], model.sizes[i][3] // model.step
    open_already = (
        any(n and s[2] == block for n, s in zip(pattern[:i], model.sizes, strict=False)) or block is None
    )
    for n in range(model.demands[i] + 1 if kind["mask"][i] else 1):
        more = used + n * model.units[i] + (opening if n and not open_already else 0)
        if more > kind["capacity"]:
            break
        yield from patterns(model, kind, [*pattern[:i], n, *pattern[i + 1 :]], i + 1, more)


def list_tree(model, node, listed, bars, pairs, table):
    prices, total = node["prices"], model.worth(node["prices"])
    rows = []
    for k, pattern, cost in table:
        value, barred = cost - dot(prices, pattern), False
        for (one, two, low, high), weight in zip(pairs, node["rules"], strict=True):
            both = pattern[one] >= 2 if one == two else bool(pattern[one] and pattern[two])
            value -= weight * both
            barred |= high == 0 and both
            for a, b in ((one, two), (two, one)):
                barred |= one != two and low >= model.demands[a] and pattern[a] > 0 and not pattern[b]
        rows += [] if barred else [((k, pattern, cost), value)]
    for (_, _, low, high), weight in zip(pairs, node["rules"], strict=True):
        need(weight >= 0 or high is not None, "a rule without an end")
        total += weight * (low if weight >= 0 else high)
    reduced, inside = model.reduced(prices), list(bars["kind"])
    for k in listed:
        mine = [value for (kind, _, _), value in rows if kind == k]
        reduced[k] = min(mine, default=0)
        inside[k] = inside[k] if mine else (inside[k][0], 0)
    bars = bars | {"kind": inside}
    floor_cost = model.least(reduced, bars)
    if model.closes(total + floor_cost):
        return
    need("less" in node, "an end of a list is open")
    gap = model.target * model.fine - total
    open_rows = []
    for row, value in rows:
        with_one = [(max(1, a), b) if k == row[0] else (a, b) for k, (a, b) in enumerate(inside)]
        if value - reduced[row[0]] + model.least(reduced, bars | {"kind": with_one}) <= gap:
            open_rows.append(row)
    if "pair" in node:
        one, two, below = node["pair"]
        list_tree(model, node["less"], listed, bars, [*pairs, (one, two, 0, below)], open_rows)
        list_tree(model, node["more"], listed, bars, [*pairs, (one, two, below + 1, None)], open_rows)
    else:
        for side, part in zip(("less", "more"), parts(bars, node["split"]), strict=True):
            list_tree(model, node[side], listed, part, pairs, open_rows)
