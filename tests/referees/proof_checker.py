"""A checker of proofs of cut plans, written from their description in DEVELOPERS.md alone.

It shares no code with the project, has no solver, and reckons in Python's whole numbers, so that nothing
can overflow. Plain and slow: made for small proofs. `bound_shown_by` gives the bound or raises `Wrong`.
"""

import hashlib
import json
from collections import namedtuple
from itertools import product
from math import cos, floor, gcd, inf, radians, tan

CENT, SHARES, PARTS = 10_000, 1 << 34, 1 << 14
Size = namedtuple("Size", "room kerf block opening heat")
Kind = namedtuple("Kind", "bar capacity may cost net kept limit")
Pattern = namedtuple("Pattern", "cost row low high")


class Wrong(Exception):
    """The proof is refused."""


def need(holds, text):
    if not holds:
        raise Wrong(text)


def whole(numbers):
    need(all(type(n) is int and n >= 0 for n in numbers), "a number is not whole, or below 0")


def exact(value):
    """No number of a model or its tree is a fraction."""
    need(type(value) is not float, "a number is not whole")
    for part in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        exact(part)


def dot(one, other):
    return sum(a * b for a, b in zip(one, other, strict=True))


def bound_shown_by(proof):
    """The bound that a proof shows for its list, in millionths of money or nanometres of bar."""
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"], "digest")
    need(proof["format"] == 2, "format")
    given = Given(proof)
    given.check_plan(proof)
    given.check_heats([model["heats"] for model in proof["models"]])
    exact(proof["models"])
    for data in proof["models"]:
        model = Model(given, data, proof["bound"])
        model.walk(data["tree"], model.ends)
    return proof["bound"]


class Given:
    """Pieces, bars and saw as they are, in nanometres."""

    def __init__(self, proof):
        self.saw, self.bars, self.pieces = proof["saw"], proof["bars"], proof["pieces"]
        saw, sizes, demands = self.saw, {}, {}
        whole([saw["kerf"], saw["trim"], saw["grip"], saw["keep"] or 0, *saw["percent"]])
        need(saw["mitre_step"] > 0 and saw["percent"][0] <= 100 * saw["percent"][1] != 0, "saw")
        for bar in self.bars:
            whole([bar["length"], bar["price"], bar["tolerance"], bar["limit"] or 0])
            need(not bar["rack"] or (bar["limit"] == len(bar["rack"]) and not bar["price"]), "rack")
        for piece in self.pieces:
            size = self.size_of(piece)
            whole([piece["count"] - 1, piece["length"] - 1, piece["depth"]])
            need(sizes.setdefault(piece["size"], size) == size, "sizes differ")
            demands[piece["size"]] = demands.get(piece["size"], 0) + piece["count"]
        self.sizes = [sizes[i] for i in range(len(sizes))]
        self.demands = [demands[i] for i in range(len(sizes))]
        self.source = [tuple(bar["source"]) for bar in self.bars]
        self.whole = [bar["length"] - saw["trim"] for bar in self.bars]
        self.room = [bar["length"] - saw["trim"] - saw["grip"] - bar["tolerance"] for bar in self.bars]

    def size_of(self, piece):
        saw, (one, two) = self.saw, (abs(mitre) for mitre in piece["mitres"])
        steep, step, kerf, shared = max(one, two), saw["mitre_step"], saw["kerf"], 0
        need(steep < 80, "a mitre")
        if steep:
            kerf = -floor(-(kerf / cos(radians(steep)) - 1) // step) * step
            shared = floor(piece["depth"] * tan(radians(steep)) + 1) // step * step
        if saw["nests"] and one == two and 0 < 2 * shared < piece["length"]:
            return Size(piece["length"] + kerf - shared, kerf, (piece["depth"], steep), shared, piece["heat"])
        return Size(piece["length"] + kerf, kerf, None, 0, piece["heat"])

    def credit(self, b, left):
        bar, (part, of) = self.bars[b], self.saw["percent"]
        if self.saw["keep"] is None or left < max(1, self.saw["keep"]):
            return 0
        return bar["price"] * part * left // (of * 100 * bar["length"] * CENT) * CENT

    def check_plan(self, proof):
        cut, taken, cost, heats = [0] * len(self.pieces), [0] * len(self.bars), 0, {}
        for row in proof["plan"]:
            b, times = row["bar"], row["count"]
            whole([b, times - 1, *(n for load in row["pieces"] for n in load)])
            held = [(self.size_of(self.pieces[at]), n) for at, n in row["pieces"]]
            need(held and all(n for _, n in held), "an empty bar")
            used = sum(s.room * n for s, n in held) + sum({s.block: s.opening for s, _ in held}.values())
            need(used - min(s.kerf for s, _ in held) <= self.room[b], "a bar is too full")
            cost += times * (self.bars[b]["price"] - self.credit(b, self.whole[b] - used))
            taken[b] += times
            for at, n in row["pieces"]:
                cut[at] += n * times
                heats.setdefault(self.pieces[at]["heat"], set()).add(self.source[b])
        need(cut == [piece["count"] for piece in self.pieces], "the plan does not cut the list")
        for n, bar in zip(taken, self.bars, strict=True):
            need(bar["limit"] is None or n <= bar["limit"], "limit")
        need(all(len(sources) == 1 for heat, sources in heats.items() if heat is not None), "heat")
        need(cost == proof["cost"] >= proof["bound"], "cost")

    def check_heats(self, modelled):
        """Every way to give the groups a source has a model, or a group does not go into its bars."""
        groups = sorted({size.heat for size in self.sizes if size.heat is not None})
        for choice in product(sorted(set(self.source)), repeat=len(groups)):
            heats = dict(zip(groups, choice, strict=True))
            known = any(all(tuple(model[group]) == heats[group] for group in groups) for model in modelled)
            need(known or any(self.too_large(*way) for way in heats.items()), "a choice of heats is left out")

    def too_large(self, group, source):
        bars = [b for b, bar in enumerate(self.bars) if self.source[b] == source and bar["limit"] != 0]
        mine = [(size, d) for size, d in zip(self.sizes, self.demands, strict=True) if size.heat == group]
        if max(s.room - s.kerf + s.opening for s, _ in mine) > max((self.room[b] for b in bars), default=-1):
            return True
        if any(self.bars[b]["limit"] is None for b in bars):
            return False
        kerf = max(size.kerf for size, _ in mine)
        room = sum(self.bars[b]["limit"] * max(0, self.room[b] + kerf) for b in bars)
        return sum(size.room * d for size, d in mine) > room


class Model:
    """Sizes and kinds of bars in whole units, and what plans cost at least."""

    def __init__(self, given, data, bound):
        self.given, self.demands, self.fine = given, given.demands, data["fine"]
        self.step, self.unit = data["step"], data["cost_unit"]
        self.heats = {group: tuple(source) for group, source in data["heats"].items()}
        self.sizes = [size.room // self.step for size in given.sizes]
        self.block = [size.block for size in given.sizes]
        self.opening = [size.opening // self.step for size in given.sizes]
        need(min(self.sizes) > 0 and self.fine > 0 and self.unit > 0, "step")
        self.kinds = [self.kind(*way) for way in data["kinds"]]
        need(None not in self.kinds, "a kind holds nothing")
        kerfs = sorted({size.kerf for size in given.sizes})
        for b, kerf, kept in product(range(len(given.bars)), kerfs, (0, 1)):
            if given.bars[b]["limit"] != 0 and [b, kerf, kept] not in data["kinds"]:
                way = self.kind(b, kerf, kept)
                need(not way or any(self.covers(kind, way) for kind in self.kinds), f"bar {b} is left out")
        self.limits = {kind.bar: kind.limit for kind in self.kinds}
        most = [*(kind.limit for kind in self.kinds), *self.limits.values()]
        most.append(min(sum(self.demands), sum(self.limits.values())))
        self.ends = [*((n, n) for n in self.demands), *((0, n) for n in most)]
        self.stocks = slice(len(self.ends) - 1 - len(self.limits), len(self.ends) - 1)
        cents = [CENT // self.unit] if any(kind.kept for kind in self.kinds) else []
        grid = max(1, gcd(*(kind.cost for kind in self.kinds), *cents))
        self.goal = (-(-bound // (self.unit * grid)) - 1) * grid * self.fine

    def kind(self, b, kerf, kept):
        """A way to cut bar b with this narrowest kerf; None where no piece fits, or nothing is credited."""
        given, bar, keep = self.given, self.given.bars[b], self.given.saw["keep"]
        source = given.source[b]
        may = [size.kerf >= kerf and self.heats.get(size.heat, source) == source for size in given.sizes]
        capacity = (given.room[b] + kerf) // self.step
        if kept and (keep is None or not bar["price"] * given.saw["percent"][0]):
            return None
        if kept:
            capacity = min(given.whole[b] - keep, given.room[b] + kerf) // self.step
        least = (w + o for w, o, m in zip(self.sizes, self.opening, may, strict=True) if m)
        if capacity < min(least, default=inf):
            return None
        need(bar["price"] % self.unit == 0 and (not kept or CENT % self.unit == 0), "cost unit")
        limit = sum(self.demands) if bar["limit"] is None else min(bar["limit"], sum(self.demands))
        left = (given.whole[b] - used * self.step for used in range(capacity + 1))
        net = [(bar["price"] - (given.credit(b, rest) if kept else 0)) // self.unit for rest in left]
        return Kind(b, capacity, may, bar["price"] // self.unit, net, bool(kept), limit)

    def covers(self, kind, way):
        return (
            (kind.bar == way.bar or self.given.bars[kind.bar]["limit"] is None)
            and kind.capacity >= way.capacity
            and all(k or not w for k, w in zip(kind.may, way.may, strict=True))
            and all(k <= w for k, w in zip(kind.net, way.net, strict=False))
        )

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

    def by_stock(self, figures):
        """The least figure of the kinds of each stock."""
        kinds = [*zip(self.kinds, figures, strict=True)]
        return [min(figure for kind, figure in kinds if kind.bar == b) for b in self.limits]

    def counts(self, k):
        """Where a bar of a kind counts, of the rows after those of the sizes."""
        stocks = [int(b == self.kinds[k].bar) for b in self.limits]
        return [*(int(other == k) for other in range(len(self.kinds))), *stocks, 1]

    def gap(self, prices, ends, table):
        """From the least that plans cost by prices of the rows to the goal; reduced costs of the patterns."""
        need(len(prices) == len(ends), "prices differ in number")
        gap, reduced, m = self.goal - worth(prices, ends), {}, len(self.sizes)
        for k, least in enumerate(self.reduced(prices[:m]) if table is None else ()):
            need(least >= dot(prices[m:], self.counts(k)), "a bar is worth more than it costs")
        for name, x in (table or {}).items():
            reduced[name] = x.cost - dot(prices, x.row)
            gap -= reduced[name] * (x.high if reduced[name] < 0 else x.low)
        return gap, reduced

    def listed(self, filters, ends):
        """All patterns that a plan within the goal can cut, by each of these prices."""
        tests, table = [(prices, self.gap(prices, ends, None)[0]) for prices in filters], {}
        for k, kind in enumerate(self.kinds):
            for pattern, used in self.patterns(kind, (), 0):
                cost, row = kind.net[used] * self.fine, [*pattern, *self.counts(k)]
                most = min(high // a for a, (_, high) in zip(row, ends, strict=True) if a)
                if any(pattern) and most and all(cost - dot(prices, row) <= gap for prices, gap in tests):
                    table[k, *pattern] = Pattern(cost, row, 0, most)
        return table

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

    def strike(self, sets, boxes, ends):
        """Every number of bars of each stock costs more than the goal by some prices, or lies in a box."""
        if any(base + worth(least, ends) > self.goal for base, least in sets):
            return
        if any([*map(within, ends, box)] == ends for box in boxes):
            return
        costs = self.by_stock([kind.cost for kind in self.kinds])
        widths = [cost * (high - low) for cost, (low, high) in zip(costs, ends, strict=True)]
        at = widths.index(max(widths))
        need(widths[at] > 0, "a purchase is not struck out")
        middle = sum(ends[at]) // 2
        for part in ((ends[at][0], middle), (middle + 1, ends[at][1])):
            self.strike(sets, boxes, [*ends[:at], part, *ends[at + 1 :]])

    def walk(self, node, ends, table=None):
        """No plan within the goal has rows between these ends and cuts the listed patterns so often."""
        if any(low > high for low, high in [*ends, *((x.low, x.high) for x in (table or {}).values())]):
            return
        need(table is None or not {"purchases", "list"} & {*node}, "below a list")
        if "purchases" in node:
            leasts = [self.by_stock(self.reduced(prices)) for prices in node["purchases"]]
            sets = [*zip([dot(prices, self.demands) for prices in node["purchases"]], leasts, strict=True)]
            self.strike(sets, [box["stocks"] for box in node["boxes"]], ends[self.stocks])
            for box in node["boxes"]:
                stocks = [*map(within, ends[self.stocks], box["stocks"])]
                self.walk(box["tree"], [*ends[: self.stocks.start], *stocks, ends[-1]])
            return
        table = self.listed(node["list"], ends) if "list" in node else table
        for step in [*node.get("rounds", []), node]:
            for cut in step.get("cuts", []):
                ends, table = rounded(cut["shares"], cut["bounds"], ends, table)
            if "prices" in step:
                gap, reduced = self.gap(step["prices"], ends, table)
                if gap < 0:
                    return
                table = table and narrowed(table, gap, reduced)
        need("less" in node, "an end is open")
        at, name = node.get("row", len(ends)), tuple(node.get("pattern", ()))
        if "pair" in node:
            i, j = node["pair"]
            ends = [*ends, (0, ends[len(self.ends) - 1][1])]
            both = {n: x.row[i] > 1 if i == j else x.row[i] > 0 < x.row[j] for n, x in table.items()}
            table = {n: x._replace(row=[*x.row, int(both[n])]) for n, x in table.items()}
        for side, part in (("less", (-inf, node["below"])), ("more", (node["below"] + 1, inf))):
            if not name:
                self.walk(node[side], [*ends[:at], within(ends[at], part), *ends[at + 1 :]], table)
            elif name in table:
                low, high = within(table[name][2:], part)
                self.walk(node[side], ends, table | {name: table[name]._replace(low=low, high=high)})
            elif side == "less":  # more of what no plan cuts is nothing
                self.walk(node[side], ends, table)


def worth(prices, ends):
    """The least sum of price * row, with each row between its ends."""
    return sum(price * end[price < 0] for price, end in zip(prices, ends, strict=True) if price)


def within(ends, part):
    return max(ends[0], part[0]), min(ends[1], part[1])


def narrowed(table, gap, reduced):
    """The patterns that are cut at all, as often as that costs no more than the gap."""
    out = {}
    for name, x in table.items():
        more = gap // abs(reduced[name]) if reduced[name] else x.high
        ends = (x.high - more, x.high) if reduced[name] < 0 else (x.low, x.low + more)
        low, high = within(x[2:], ends)
        out |= {name: x._replace(low=low, high=high)} if high else {}
    return out


def rounded(shares, bounds, ends, table):
    """One row more: a rounded sum of rows and bounds of counts, those with a share below 0 at their least."""
    need(len(shares) == len(ends), "shares differ in number")
    sums, end = {name: dot(shares, x.row) for name, x in table.items()}, -worth([-u for u in shares], ends)
    for share, start, *name in bounds:
        low, high = table[tuple(name)][2:] if tuple(name) in table else (0, 0)
        need(high <= start if share > 0 else low >= start, "a bound that a count passes")
        sums[tuple(name)] = sums.get(tuple(name), 0) + share
        end += share * start
    whole, rest = divmod(end, SHARES)
    need(type(whole) is int, "a cut without an end")

    def missing(share):
        part = abs(share) // SHARES * (SHARES - rest) + max(0, abs(share) % SHARES - rest)
        return part if share > 0 else -part

    slack = [missing(u) if low < high else 0 for u, (low, high) in zip(shares, ends, strict=True)]
    end = whole * (SHARES - rest) + worth([-u for u in slack], ends)
    end -= sum(missing(share) * start for share, start, *_ in bounds)
    ended, out = {}, {}
    for share, _, *name in bounds:
        ended[tuple(name)] = ended.get(tuple(name), 0) + missing(share)
    for name, x in table.items():
        part = sums[name] // SHARES * (SHARES - rest) + max(0, sums[name] % SHARES - rest)
        part -= dot(slack, x.row) + ended.get(name, 0)
        out[name] = x._replace(row=[*x.row, part * PARTS // (SHARES - rest)])
    return [*ends, (-inf, -(-end * PARTS // (SHARES - rest)))], out
