"""A checker of proofs of cut plans, written from their description in DEVELOPERS.md alone.

It shares no code with the project, has no solver, and reckons in Python's whole numbers, so that nothing can
overflow. Plain and slow: made for small proofs. `bound_shown_by` gives the bound or raises `Wrong`.

Here are the list, the plan, and bounds by prices over divided numbers of bars, which most proofs are made of.
What proofs of a small gap add is in `proof_lists` (purchases struck out, listed patterns) and `proof_counts`.
"""

import hashlib
import json
from itertools import product
from math import cos, floor, gcd, inf, radians, tan

from tests.referees.proof_counts import Counts
from tests.referees.proof_lists import list_tree, listed, purchases
from tests.referees.proof_words import Wrong, dot, need, parts

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
            purchases(self, node, bars)
        elif "counts" in node:
            Counts(self, node, bars)
        elif "listed" in node:
            list_tree(self, node["tree"], node["listed"], bars, [], listed(self, node, bars))
        else:
            need(min(node["prices"]) >= 0, "a price below 0")
            need(
                self.closes(self.worth(node["prices"]) + self.least(self.reduced(node["prices"]), bars)),
                "open end",
            )
