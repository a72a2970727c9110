"""A checker of proofs of cut plans, written from their description in DEVELOPERS.md alone.

It shares no code with the project, has no solver, and reckons in Python's whole numbers, so that nothing
can overflow. Plain and slow: made for small proofs. `bound_shown_by` gives the bound or raises `Wrong`.
It goes in the description's order: the list and the plan (`proof_given`), then here a model, bounds by
prices, the tree and listed patterns, and last counts of them (`proof_counts`).
"""

import hashlib
import json
from collections import namedtuple
from itertools import product
from math import gcd, inf

from tests.referees.proof_counts import Counts, dot
from tests.referees.proof_given import CENT, Given, Wrong, need

__all__ = ["Wrong", "bound_shown_by"]

Kind = namedtuple("Kind", "bar capacity may cost net kept limit")


def bound_shown_by(proof):
    """The bound that a proof shows for its list, in millionths of money or nanometres of bar."""
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"], "digest")
    need(proof["format"] == 1, "format")
    given = Given(proof)
    given.check_plan(proof)
    given.check_heats([model["heats"] for model in proof["models"]])
    for data in proof["models"]:
        model = Model(given, data, proof["bound"])
        model.walk(data["tree"], model.all_bars(), (), [], [])
    return proof["bound"]


class Model:
    """Sizes and kinds of bars in whole units, and what plans cost at least."""

    def __init__(self, given, data, bound):
        self.given, self.demands, self.fine = given, given.demands, data["fine"]
        self.step, self.unit = data["step"], data["cost_unit"]
        self.heats = {group: tuple(source) for group, source in data["heats"].items()}
        self.sizes = [size.room // self.step for size in given.sizes]
        self.block = [size.block for size in given.sizes]
        self.opening = [size.opening // self.step for size in given.sizes]
        need(min(self.sizes) > 0 and self.fine > 0, "step")
        self.kinds = [self.kind(*way) for way in data["kinds"]]
        need(None not in self.kinds, "a kind holds nothing")
        order = list(dict.fromkeys(kind.bar for kind in self.kinds))
        self.stock = [order.index(kind.bar) for kind in self.kinds]
        self.limits = [next(kind.limit for kind in self.kinds if kind.bar == bar) for bar in order]
        for b, kerf, kept in product(range(len(given.bars)), sorted({s.kerf for s in given.sizes}), (0, 1)):
            way = self.kind(b, kerf, kept) if given.bars[b]["limit"] != 0 else None
            short = (given.whole[b] - (given.saw["keep"] or 0)) // self.step if kept else inf
            if all(size + opening > short for size, opening in zip(self.sizes, self.opening, strict=True)):
                continue  # every piece leaves less than is kept
            if way and [b, kerf, kept] not in data["kinds"]:
                need(any(self.covers(kind, way) for kind in self.kinds), f"bar {b} is left out")
        total = min(sum(self.demands), sum(self.limits))
        self.most = {"kind": [k.limit for k in self.kinds], "stock": self.limits, "total": [total]}
        self.credited = any(kind.kept for kind in self.kinds)
        self.grid = max(1, gcd(*(kind.cost for kind in self.kinds), *([CENT // self.unit] * self.credited)))
        self.target = -(-bound // (self.unit * self.grid)) * self.grid - self.grid

    def kind(self, b, kerf, kept):
        """A way to cut bar b with this narrowest kerf; None where no piece fits, or nothing is credited."""
        given, bar = self.given, self.given.bars[b]
        room, whole, keep = given.room[b], given.whole[b], given.saw["keep"]
        source = given.source[b]
        may = [size.kerf >= kerf and self.heats.get(size.heat, source) == source for size in given.sizes]
        mine = [size for size, allowed in zip(given.sizes, may, strict=True) if allowed]
        capacity = (room + kerf) // self.step
        if kept and keep is not None:
            capacity = min(whole - keep, room + kerf) // self.step
        if kept and (keep is None or not bar["price"] * given.saw["percent"][0]):
            return None
        if capacity <= 0 or all(size.room - size.kerf + size.opening > room for size in mine):
            return None
        need(bar["price"] % self.unit == 0 and (not kept or CENT % self.unit == 0), "cost unit")
        limit = sum(self.demands) if bar["limit"] is None else min(bar["limit"], sum(self.demands))
        left = (whole - used * self.step for used in range(capacity + 1))
        net = [(bar["price"] - (given.credit(b, rest) if kept else 0)) // self.unit for rest in left]
        return Kind(b, capacity, may, bar["price"] // self.unit, net, bool(kept), limit)

    def covers(self, kind, way):
        return (
            (kind.bar == way.bar or self.given.bars[kind.bar]["limit"] is None)
            and kind.capacity >= way.capacity
            and all(k or not w for k, w in zip(kind.may, way.may, strict=True))
            and all(k <= w for k, w in zip(kind.net, way.net, strict=False))
        )

    def all_bars(self):
        """Least and most bars: of each kind, of each stock, in all."""
        return {level: [(0, most) for most in limits] for level, limits in self.most.items()}

    def by_stock(self, pick, figures):
        """The least or most of a figure over the kinds of each stock."""
        stocks = range(len(self.limits))
        return [pick(f for f, at in zip(figures, self.stock, strict=True) if at == s) for s in stocks]

    def reduced(self, prices):
        """For each kind, the least of what a bar costs net, less the prices of its pieces."""
        out = []
        for kind in self.kinds:
            table = [0] * (kind.capacity + 1)
            for block in dict.fromkeys(self.block):
                mine = [i for i, other in enumerate(self.block) if other == block]
                inside = table[: max(0, len(table) - self.opening[mine[0]])]
                for i in mine:
                    most = min(self.demands[i], kind.capacity // self.sizes[i])
                    for _ in range(most if kind.may[i] and prices[i] > 0 else 0):
                        for u in range(len(inside) - 1, self.sizes[i] - 1, -1):
                            inside[u] = max(inside[u], inside[u - self.sizes[i]] + prices[i])
                for u, value in enumerate(inside, self.opening[mine[0]]):
                    table[u] = max(table[u], value)
            out.append(min(n * self.fine - value for n, value in zip(kind.net, table, strict=True)))
        return out

    def least(self, reduced, bars):
        """Least sum of bars * reduced within the numbers of bars; infinite where these are impossible."""
        if any(low > high for level in bars.values() for low, high in level):
            return inf
        n, (low, high) = [low for low, _ in bars["kind"]], bars["total"][0]
        order = sorted(range(len(n)), key=lambda k: reduced[k])
        for end in (0, 1):  # cheapest first: what each stock needs, then what is gainful or missing in all
            for k in order:
                room = bars["stock"][self.stock[k]][end] - self.by_stock(sum, n)[self.stock[k]]
                if end:
                    room = min(room, (high if reduced[k] < 0 else low) - sum(n))
                n[k] += max(0, min(bars["kind"][k][1] - n[k], room))
        inside = all(a <= m <= b for m, (a, b) in zip(self.by_stock(sum, n), bars["stock"], strict=True))
        return dot(n, reduced) if inside and low <= sum(n) <= high else inf

    def closes(self, value):
        """Whether a bound in fine units is above the target once it is a real cost."""
        return value == inf or -(-value // (self.fine * self.grid)) * self.grid > self.target

    # ---- the tree

    def walk(self, node, bars, listed, table, pairs):
        """Every end below a node is closed, where bars and pairs of sizes in one bar are so many."""
        if "cuts" in node:
            return self.purchases(node, bars)
        if "counts" in node:
            return Counts(self, node, bars)
        if "listed" in node:
            return self.walk(node["tree"], bars, node["listed"], self.patterns_of(node, bars), [])
        if "prices" in node:
            value, bars, table = self.bound(node, bars, listed, table, pairs)
            if self.closes(value):
                return None
        need("less" in node, "an end is open")
        if "pair" in node:
            one, two, below = node["pair"]
            sides = [(bars, [*pairs, (one, two, 0, below)]), (bars, [*pairs, (one, two, below + 1, None)])]
        else:
            sides = [(part, pairs) for part in parts(bars, *node["split"])]
        for side, (part, ruled) in zip(("less", "more"), sides, strict=True):
            self.walk(node[side], part, listed, table, ruled)
        return None

    def bound(self, node, bars, listed, table, pairs):
        """What a plan costs at least by a node's prices; the bars and listed patterns that are left in it."""
        total, rows = dot(node["prices"], self.demands), []
        rules = list(zip(pairs, node.get("rules", []), strict=True))
        for (_, _, low, high), weight in rules:
            need(weight >= 0 or high is not None, "a rule without an end")
            total += weight * (low if weight >= 0 else high)
        for row in table:
            excess, barred = row[2] - dot(node["prices"], row[1]), False
            for (one, two, low, high), weight in rules:
                both = row[1][one] >= 2 if one == two else bool(row[1][one] and row[1][two])
                excess -= weight * both
                barred |= both and high == 0
                for a, b in ((one, two), (two, one)) if one != two else ():
                    barred |= low >= self.demands[a] and row[1][a] > 0 and not row[1][b]
            rows += [] if barred else [(row, excess)]
        reduced, kinds = self.reduced(node["prices"]), list(bars["kind"])
        for k in listed:
            mine = [excess for row, excess in rows if row[0] == k]
            reduced[k], kinds[k] = (min(mine), kinds[k]) if mine else (0, (kinds[k][0], 0))
        bars = bars | {"kind": kinds}
        goal = self.target * self.fine - total
        left = []
        for row, excess in rows:
            low, high = kinds[row[0]]
            one_of_it = bars | {"kind": [*kinds[: row[0]], (max(1, low), high), *kinds[row[0] + 1 :]]}
            if excess - reduced[row[0]] + self.least(reduced, one_of_it) <= goal:
                left.append(row)
        return total + self.least(reduced, bars), bars, left

    def purchases(self, node, bars):
        """Every number of bars of each stock is struck out or lies in a box, and every box is closed."""
        costs = self.by_stock(min, [kind.cost for kind in self.kinds])
        room = self.by_stock(max, [kind.capacity for kind in self.kinds])
        free = [limit if not cost else 0 for limit, cost in zip(self.limits, costs, strict=True)]
        goal, cuts = self.target * self.fine, []
        tops = [limit if cost else 0 for limit, cost in zip(self.limits, costs, strict=True)]
        for prices in node["cuts"]:
            least = self.by_stock(min, self.reduced(prices))
            base = dot(prices, self.demands) + sum(min(0, r) * n for r, n in zip(least, free, strict=True))
            least = [r if cost else 0 for r, cost in zip(least, costs, strict=True)]
            cuts.append((base, least))
            if min(least) >= 0:
                tops = [min(t, (goal - base) // r) if r else t for t, r in zip(tops, least, strict=True)]
        if not self.credited:
            tops = [min(t, self.target // cost) if cost else t for t, cost in zip(tops, costs, strict=True)]
        length = dot(self.sizes, self.demands) - dot(room, free)
        for n in product(*(range(top + 1) for top in tops)):
            cost, most = dot(costs, n) * self.fine, max(base + dot(least, n) for base, least in cuts)
            struck = most > goal or dot(room, n) < length
            struck |= not self.credited and (cost > goal or most > cost)
            held = (inside(n, *box["stocks"], costs) for box in node["boxes"])
            need(struck or any(held), f"purchase {n} is not struck out")
        for box in node["boxes"]:
            low, high = box["stocks"]
            need(all(a == 0 and b >= n for a, b, n in zip(low, high, free, strict=True) if n), "free bars")
            stock = [(max(p, a), min(q, b)) for (p, q), a, b in zip(bars["stock"], low, high, strict=True)]
            self.walk(box["tree"], bars | {"stock": stock}, (), [], [])

    def patterns_of(self, node, bars):
        """(kind, pattern, cost in fine units) of all of the listed kinds that a plan may cut."""
        tests = []
        for prices in [node["prices"], *node["filters"]]:
            reduced = self.reduced(prices)
            gap = self.target * self.fine - dot(prices, self.demands) - self.least(reduced, bars)
            tests.append((prices, [r + gap for r in reduced]))
        found = []
        for k in node["listed"]:
            for pattern, used in self.patterns(self.kinds[k], (), 0):
                cost = self.kinds[k].net[used] * self.fine
                if any(pattern) and all(cost - dot(prices, pattern) <= most[k] for prices, most in tests):
                    found.append((k, pattern, cost))
        return found

    def patterns(self, kind, pattern, used):
        """All that a kind can hold, with the units used, piece by piece."""
        i = len(pattern)
        if i == len(self.sizes):
            yield pattern, used
            return
        opened = self.opening[i] and any(n and self.block[j] == self.block[i] for j, n in enumerate(pattern))
        for n in range(self.demands[i] + 1 if kind.may[i] else 1):
            more = used + n * self.sizes[i] + (self.opening[i] if n and not opened else 0)
            if more > kind.capacity:
                break
            yield from self.patterns(kind, (*pattern, n), more)


def parts(bars, level, at, below):
    """Numbers of bars divided in two: at most `below` of something, or more."""
    low, high = bars[level][at]
    for new in ((low, min(high, below)), (max(low, below + 1), high)):
        yield bars | {level: [*bars[level][:at], new, *bars[level][at + 1 :]]}


def inside(n, low, high, costs):
    return all(a <= m <= b or not c for a, m, b, c in zip(low, n, high, costs, strict=True))
