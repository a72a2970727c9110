"""A checker of proofs of cut plans, written from their description in DEVELOPERS.md alone.

It shares no code with the project, has no solver, and reckons in Python's whole numbers, so that nothing can
overflow. Plain and slow: made for small proofs. `bound_shown_by` gives the bound or raises `Wrong`.
"""

import hashlib
import json
from itertools import product
from math import cos, floor, gcd, inf, radians, tan

from tests.referees.proof_counts import Counts
from tests.referees.proof_words import Wrong, dot, need

__all__ = ["Wrong", "bound_shown_by"]

CENT = 10_000


def bound_shown_by(proof):
    """The bound that a proof shows for its list, in millionths of money or nanometres of bar."""
    text = json.dumps(
        {k: v for k, v in proof.items() if k != "digest"}, sort_keys=True, separators=(",", ":")
    )
    need(hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"], "digest")
    sizes, demands = sizes_of(proof)
    check_plan(proof)
    check_heats(proof, sizes, demands, [model["heats"] for model in proof["models"]])
    for data in proof["models"]:
        model = Model(proof, data, sizes, demands)
        model.tree(data["tree"], model.all_bars())
    return proof["bound"]


# ---- the list and the plan ------------------------------------------------------------------


def size_of(piece, saw):
    """(room with its kerf, kerf, nesting block, what opening the block takes, heat group)."""
    one, two = (abs(m) for m in piece["mitres"])
    steep, step, kerf, shared = max(one, two), saw["mitre_step"], saw["kerf"], 0
    if steep:
        kerf = -floor(-(kerf / cos(radians(steep)) - 1) // step) * step
        shared = floor(piece["depth"] * tan(radians(steep)) + 1) // step * step
    if not (saw["nests"] and one == two and shared and piece["length"] > 2 * shared):
        return (piece["length"] + kerf, kerf, None, 0, piece["heat"])
    return (piece["length"] + kerf - shared, kerf, (piece["depth"], steep), shared, piece["heat"])


def sizes_of(proof):
    sizes, demands = {}, {}
    for piece in proof["pieces"]:
        size = size_of(piece, proof["saw"])
        need(piece["count"] > 0 and piece["length"] > 0, "pieces")
        need(sizes.setdefault(piece["size"], size) == size, "sizes differ")
        demands[piece["size"]] = demands.get(piece["size"], 0) + piece["count"]
    return [sizes[i] for i in range(len(sizes))], [demands[i] for i in range(len(sizes))]


def whole_of(bar, saw):
    return bar["length"] - saw["trim"]


def room_of(bar, saw):
    return whole_of(bar, saw) - saw["grip"] - bar["tolerance"]


def credit_of(bar, saw, left):
    part, of = saw["percent"]
    if saw["keep"] is None or left < max(1, saw["keep"]):
        return 0
    return bar["price"] * part * left // (of * 100 * bar["length"] * CENT) * CENT


def check_plan(proof):
    saw, pieces, bars = proof["saw"], proof["pieces"], proof["bars"]
    cut, taken, cost, heats = [0] * len(pieces), [0] * len(bars), 0, {}
    for row in proof["plan"]:
        bar = bars[row["bar"]]
        held = [(size_of(pieces[at], saw), n) for at, n in row["pieces"]]
        used = sum(s[0] * n for s, n in held) + sum({s[2]: s[3] for s, _ in held if s[2]}.values())
        need(row["count"] > 0 and held and all(n > 0 for _, n in held), "counts")
        need(used - min(s[1] for s, _ in held) <= room_of(bar, saw), "a bar is too full")
        cost += row["count"] * (bar["price"] - credit_of(bar, saw, whole_of(bar, saw) - used))
        taken[row["bar"]] += row["count"]
        for at, n in row["pieces"]:
            cut[at] += n * row["count"]
            heats.setdefault(pieces[at]["heat"], set()).add(tuple(bar["source"]))
    need(cut == [piece["count"] for piece in pieces], "the plan does not cut the list")
    need(all(b["limit"] is None or n <= b["limit"] for n, b in zip(taken, bars, strict=True)), "limit")
    need(all(len(s) == 1 for heat, s in heats.items() if heat is not None), "heat")
    need(cost == proof["cost"] >= proof["bound"], "cost")


def check_heats(proof, sizes, demands, have):
    groups = sorted({s[4] for s in sizes if s[4] is not None})
    for choice in product(sorted({tuple(b["source"]) for b in proof["bars"]}), repeat=len(groups)):
        heats = dict(zip(groups, choice, strict=True))
        if any(all(tuple(model[g]) == heats[g] for g in groups) for model in have):
            continue
        impossible = False
        for group, source in heats.items():
            mine = [b for b in proof["bars"] if tuple(b["source"]) == source and b["limit"] != 0]
            wanted = [i for i, s in enumerate(sizes) if s[4] == group]
            longest = max(sizes[i][0] - sizes[i][1] + sizes[i][3] for i in wanted)
            impossible |= all(room_of(b, proof["saw"]) < longest for b in mine)
            if all(b["limit"] is not None for b in mine):
                kerf = max(sizes[i][1] for i in wanted)
                room = sum(b["limit"] * (room_of(b, proof["saw"]) + kerf) for b in mine)
                impossible |= sum(sizes[i][0] * demands[i] for i in wanted) > room
        need(impossible, "a choice of heats is left out")


# ---- a model --------------------------------------------------------------------------------


class Model:
    def __init__(self, proof, data, sizes, demands):
        self.saw, self.bars, self.sizes, self.demands = proof["saw"], proof["bars"], sizes, demands
        self.step, self.unit, self.fine = data["step"], data["cost_unit"], data["fine"]
        self.heats = {group: tuple(source) for group, source in data["heats"].items()}
        self.units = [s[0] // self.step for s in sizes]
        need(min(self.units) > 0 and self.fine > 0, "step")
        self.kinds = [self.kind(*way) for way in data["kinds"]]
        stocks = list(dict.fromkeys(way[0] for way in data["kinds"]))
        self.stock = [stocks.index(way[0]) for way in data["kinds"]]
        self.limits = [self.kinds[self.stock.index(s)]["limit"] for s in range(len(stocks))]
        for b, kerf, kept in product(range(len(self.bars)), sorted({s[1] for s in sizes}), (0, 1)):
            room = (whole_of(self.bars[b], self.saw) - (self.saw["keep"] or 0)) // self.step
            if kept and all(s[0] // self.step + s[3] // self.step > room for s in sizes):
                continue  # every piece leaves less than is kept
            way = self.kind(b, kerf, kept)
            if way and self.bars[b]["limit"] != 0 and [b, kerf, kept] not in data["kinds"]:
                need(any(self.covers(kind, way) for kind in self.kinds), f"bar {b} is left out")
        self.credited = any(kind["kept"] for kind in self.kinds)
        grid = gcd(*(kind["cost"] for kind in self.kinds), *([CENT // self.unit] if self.credited else []))
        self.grid = max(1, grid)
        self.target = -(-proof["bound"] // (self.unit * self.grid)) * self.grid - self.grid

    def kind(self, b, kerf, kept):
        """A way to cut bar b with this narrowest kerf; None where no piece fits."""
        bar, room = self.bars[b], room_of(self.bars[b], self.saw)
        mask = [
            s[1] >= kerf and self.heats.get(s[4], tuple(bar["source"])) == tuple(bar["source"])
            for s in self.sizes
        ]
        if not any(may and s[0] - s[1] + s[3] <= room for may, s in zip(mask, self.sizes, strict=True)):
            return None
        capacity = (room + kerf) // self.step
        if kept:
            if self.saw["keep"] is None or not bar["price"] or not self.saw["percent"][0]:
                return None
            capacity = min(whole_of(bar, self.saw) - self.saw["keep"], room + kerf) // self.step
        if capacity <= 0:
            return None
        need(bar["price"] % self.unit == 0 and (not kept or CENT % self.unit == 0), "cost unit")
        most = sum(self.demands)
        limit = most if bar["limit"] is None else min(most, bar["limit"])
        way = {"bar": b, "capacity": capacity, "mask": mask, "kept": kept, "limit": limit}
        way["cost"] = bar["price"] // self.unit
        # What the bar costs net, by the units used of it.
        left = (whole_of(bar, self.saw) - used * self.step for used in range(capacity + 1))
        way["net"] = [
            way["cost"] - (credit_of(bar, self.saw, rest) // self.unit if kept else 0) for rest in left
        ]
        return way

    def covers(self, kind, way):
        return (
            (kind["bar"] == way["bar"] or self.bars[kind["bar"]]["limit"] is None)
            and kind["capacity"] >= way["capacity"]
            and all(k or not w for k, w in zip(kind["mask"], way["mask"], strict=True))
            and all(k <= w for k, w in zip(kind["net"], way["net"], strict=False))
        )

    def all_bars(self):
        total = min(sum(self.demands), sum(self.limits))
        return {"kind": [(0, k["limit"]) for k in self.kinds], "stock": [(0, n) for n in self.limits],
                "total": [(0, total)]}  # fmt: skip

    # ---- bounds

    def best(self, prices, kind):
        """The dearest pieces within each number of units."""
        table = [0] * (kind["capacity"] + 1)
        for block in sorted({s[2] for s in self.sizes}, key=lambda b: (b is not None, str(b))):
            opening = next(s[3] for s in self.sizes if s[2] == block) // self.step
            inside = [table[u] for u in range(len(table) - opening)]
            for i, s in enumerate(self.sizes):
                for _ in range(min(self.demands[i], kind["capacity"] // self.units[i])):
                    if s[2] != block or not kind["mask"][i] or prices[i] <= 0:
                        break
                    for u in range(len(inside) - 1, self.units[i] - 1, -1):
                        inside[u] = max(inside[u], inside[u - self.units[i]] + prices[i])
            for u, value in enumerate(inside):
                table[u + opening] = max(table[u + opening], value)
        return table

    def reduced(self, prices):
        """For each kind, the least of what a bar costs net, less its pieces."""
        out = []
        for kind in self.kinds:
            net = kind["net"] if kind["kept"] else [kind["cost"]] * (kind["capacity"] + 1)
            out.append(min(n * self.fine - v for n, v in zip(net, self.best(prices, kind), strict=True)))
        return out

    def worth(self, prices):
        need(len(prices) == len(self.demands), "prices")
        return dot(prices, self.demands)

    def least(self, reduced, bars):
        """Least sum of bars * reduced cost within the numbers of bars; infinite where there are none."""
        if any(low > high for level in bars.values() for low, high in level):
            return inf
        n, (low, high) = [one[0] for one in bars["kind"]], bars["total"][0]
        of = lambda s: sum(m for m, t in zip(n, self.stock, strict=True) if t == s)  # noqa: E731
        order = sorted(range(len(n)), key=lambda k: reduced[k])
        for k in order:
            n[k] += max(
                0, min(bars["kind"][k][1] - n[k], bars["stock"][self.stock[k]][0] - of(self.stock[k]))
            )
        for k in order:
            room = (high if reduced[k] < 0 else low) - sum(n)
            more = min(bars["kind"][k][1] - n[k], bars["stock"][self.stock[k]][1] - of(self.stock[k]), room)
            n[k] += max(0, more)
        inside = all(a <= of(s) <= b for s, (a, b) in enumerate(bars["stock"])) and low <= sum(n) <= high
        return dot(n, reduced) if inside else inf

    def closes(self, value):
        """Whether a bound in fine units is above the target once it is a real cost."""
        if value == inf:
            return True
        cost = (value + self.fine - 1) // self.fine
        return (cost + self.grid - 1) // self.grid * self.grid > self.target

    def of_stock(self, least, figure):
        """The least or most of a figure over the kinds of each stock."""
        stocks = range(len(self.limits))
        return [least(f for f, t in zip(figure, self.stock, strict=True) if t == s) for s in stocks]

    # ---- the tree

    def tree(self, node, bars):
        if "split" in node:
            for side, part in zip(("less", "more"), parts(bars, node["split"]), strict=True):
                self.tree(node[side], part)
        elif "cuts" in node:
            self.purchases(node, bars)
        elif "counts" in node:
            Counts(self, node, bars)
        elif "listed" in node:
            table = self.listed(node, bars)
            self.list_tree(node["tree"], node["listed"], bars, [], table)
        else:
            need(min(node["prices"]) >= 0, "a price below 0")
            need(
                self.closes(self.worth(node["prices"]) + self.least(self.reduced(node["prices"]), bars)),
                "open end",
            )

    def purchases(self, node, bars):
        costs = self.of_stock(min, [kind["cost"] for kind in self.kinds])
        cuts = []
        for prices in node["cuts"]:
            need(min(prices) >= 0, "a price below 0")
            reduced = self.reduced(prices)
            least = self.of_stock(min, reduced)
            free = sum(min(0, least[s]) * self.limits[s] for s in range(len(costs)) if not costs[s])
            cuts.append((self.worth(prices) + free, [r if costs[s] else 0 for s, r in enumerate(least)]))
        goal = self.target * self.fine
        tops = [n if costs[s] else 0 for s, n in enumerate(self.limits)]
        for base, least in cuts:
            if min(least) >= 0:
                tops = [min(t, (goal - base) // r) if r else t for t, r in zip(tops, least, strict=True)]
        if not self.credited:
            tops = [min(t, self.target // c) if c else t for t, c in zip(tops, costs, strict=True)]
        room = self.of_stock(max, [kind["capacity"] for kind in self.kinds])
        length = dot(self.units, self.demands)
        length -= sum(room[s] * self.limits[s] for s in range(len(costs)) if not costs[s])
        for n in product(*(range(top + 1) for top in tops)):
            cost = dot(costs, n) * self.fine
            floors = [base + dot(least, n) for base, least in cuts]
            struck = max(floors) > goal or (not self.credited and (cost > goal or max(floors) > cost))
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
                all(
                    c or (a == 0 and b >= t) for a, b, c, t in zip(low, high, costs, self.limits, strict=True)
                ),
                "free bars",
            )
            stock = [(max(p, a), min(q, b)) for (p, q), a, b in zip(bars["stock"], low, high, strict=True)]
            self.tree(box["tree"], bars | {"stock": stock})

    # ---- lists of patterns

    def listed(self, node, bars):
        """(kind, pattern, cost in fine units) of all that a plan within the target may cut."""
        tests = []
        for prices in [node["prices"], *node["filters"]]:
            need(min(prices) >= 0, "a price below 0")
            reduced = self.reduced(prices)
            gap = self.target * self.fine - self.worth(prices) - self.least(reduced, bars)
            tests.append((prices, [r + gap for r in reduced]))
        found = []
        for k in node["listed"]:
            kind = self.kinds[k]
            for pattern, used in self.patterns(kind, [0] * len(self.units), 0, 0):
                cost = (kind["net"][used] if kind["kept"] else kind["cost"]) * self.fine
                if all(cost - dot(prices, pattern) <= most[k] for prices, most in tests):
                    found.append((k, pattern, cost))
        return found

    def patterns(self, kind, pattern, i, used):
        if i == len(pattern):
            if any(pattern):
                yield tuple(pattern), used
            return
        block, opening = self.sizes[i][2], self.sizes[i][3] // self.step
        open_already = (
            any(n and s[2] == block for n, s in zip(pattern[:i], self.sizes, strict=False)) or block is None
        )
        for n in range(self.demands[i] + 1 if kind["mask"][i] else 1):
            more = used + n * self.units[i] + (opening if n and not open_already else 0)
            if more > kind["capacity"]:
                break
            yield from self.patterns(kind, [*pattern[:i], n, *pattern[i + 1 :]], i + 1, more)

    def list_tree(self, node, listed, bars, pairs, table):
        prices, total = node["prices"], self.worth(node["prices"])
        rows = []
        for k, pattern, cost in table:
            value, barred = cost - dot(prices, pattern), False
            for (one, two, low, high), weight in zip(pairs, node["rules"], strict=True):
                both = pattern[one] >= 2 if one == two else bool(pattern[one] and pattern[two])
                value -= weight * both
                barred |= high == 0 and both
                for a, b in ((one, two), (two, one)):
                    barred |= one != two and low >= self.demands[a] and pattern[a] > 0 and not pattern[b]
            rows += [] if barred else [((k, pattern, cost), value)]
        for (_, _, low, high), weight in zip(pairs, node["rules"], strict=True):
            need(weight >= 0 or high is not None, "a rule without an end")
            total += weight * (low if weight >= 0 else high)
        reduced, inside = self.reduced(prices), list(bars["kind"])
        for k in listed:
            mine = [value for (kind, _, _), value in rows if kind == k]
            reduced[k] = min(mine, default=0)
            inside[k] = inside[k] if mine else (inside[k][0], 0)
        bars = bars | {"kind": inside}
        floor_cost = self.least(reduced, bars)
        if self.closes(total + floor_cost):
            return
        need("less" in node, "an end of a list is open")
        gap = self.target * self.fine - total
        open_rows = []
        for row, value in rows:
            with_one = [(max(1, a), b) if k == row[0] else (a, b) for k, (a, b) in enumerate(inside)]
            if value - reduced[row[0]] + self.least(reduced, bars | {"kind": with_one}) <= gap:
                open_rows.append(row)
        if "pair" in node:
            one, two, below = node["pair"]
            self.list_tree(node["less"], listed, bars, [*pairs, (one, two, 0, below)], open_rows)
            self.list_tree(node["more"], listed, bars, [*pairs, (one, two, below + 1, None)], open_rows)
        else:
            for side, part in zip(("less", "more"), parts(bars, node["split"]), strict=True):
                self.list_tree(node[side], listed, part, pairs, open_rows)


def parts(bars, split):
    level, at, below = split
    low, high = bars[level][at]
    change = lambda new: bars | {level: [*bars[level][:at], new, *bars[level][at + 1 :]]}  # noqa: E731
    return change((low, min(high, below))), change((max(low, below + 1), high))
