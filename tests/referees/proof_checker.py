"""A checker of proofs of cut plans, written from their description in DEVELOPERS.md alone.

It shares no code with the project, has no solver, and reckons in Python's whole numbers, so that nothing
can overflow. Plain and slow: made for small proofs. `bound_shown_by` gives the bound or raises `Wrong`, or
what Python raises where something is missing.
"""

import hashlib
import json
from collections import namedtuple
from itertools import product
from math import cos, floor, gcd, inf, radians, tan

CENT, SHARES, PARTS, NEVER = 10_000, 1 << 34, 1 << 14, 1 << 99
Size = namedtuple("Size", "room kerf block opening heat")
Kind = namedtuple("Kind", "bar may net kept")  # net: cost less credit by units used, in the unit of prices
Pattern = namedtuple("Pattern", "cost row")


class Wrong(Exception):
    """The proof is refused."""


def need(holds, text):
    if not holds:
        raise Wrong(text)


def numbers(value):
    """Every number in a part of a proof, but for mitres; true and false count as one, but for `nests`."""
    if isinstance(value, dict):
        value = [part for key, part in value.items() if key not in ("mitres", "nests")]
    if isinstance(value, list):
        for part in value:
            yield from numbers(part)
    elif value is not None and not isinstance(value, str):
        yield value


def dot(prices, row):
    """The sum of price times part in the row; rows without a price have none."""
    return sum(price * part for price, part in zip(prices, row, strict=False))


def least(prices, ends):
    """The least that rows between their ends are worth."""
    return sum(price * ends[at][price < 0] for at, price in enumerate(prices) if price)


def bound_shown_by(proof):
    """The bound that a proof shows for its list, in millionths of money or nanometres of bar."""
    content = {key: value for key, value in proof.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    need(hashlib.sha256(text.encode("ascii")).hexdigest() == proof["digest"], "digest")
    need(proof["format"] == 3, "format")
    need(all(type(n) is int for n in numbers(proof)), "a number is not whole")
    need(all(n >= 0 for n in numbers(content | {"models": []})), "a number is below 0")
    given = Given(proof)
    given.check_plan(proof)
    given.check_heats([model["heats"] for model in proof["models"]])
    for data in proof["models"]:
        Model(given, data, proof["bound"]).check_tree(data["tree"])
    return proof["bound"]


class Given:
    """Pieces, bars and saw as they are, in nanometres."""

    def __init__(self, proof):
        self.saw, self.bars, self.pieces = proof["saw"], proof["bars"], proof["pieces"]
        saw, demands = self.saw, {}
        self.keep = NEVER if saw["keep"] is None else saw["keep"]
        need(saw["mitre_step"] > 0 and saw["percent"][0] <= 100 * saw["percent"][1] != 0, "saw")
        for bar in self.bars:
            need(bar["length"] > 0, "a bar of no length")
            need(not bar["rack"] or (bar["limit"] == len(bar["rack"]) and not bar["price"]), "rack")
        for piece in self.pieces:
            need(piece["count"] > 0 and piece["length"] > 0, "a piece of no length or count")
            size = self.size_of(piece)
            demands[size] = demands.get(size, 0) + piece["count"]
        self.sizes, self.demands = [*demands], [*demands.values()]
        self.source = [tuple(bar["source"]) for bar in self.bars]
        self.whole = [bar["length"] - saw["trim"] for bar in self.bars]
        self.room = [bar["length"] - saw["trim"] - saw["grip"] - bar["tolerance"] for bar in self.bars]
        most = sum(self.demands)
        self.limits = [most if bar["limit"] is None else min(bar["limit"], most) for bar in self.bars]

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
        if left < max(1, self.keep):
            return 0
        return bar["price"] * part * left // (of * 100 * bar["length"] * CENT) * CENT

    def check_plan(self, proof):
        cut, taken, cost, heats = [0] * len(self.pieces), [0] * len(self.bars), 0, {}
        for row in proof["plan"]:
            b, times, held = row["bar"], row["count"], {}
            for at, n in row["pieces"]:
                size = self.size_of(self.pieces[at])
                held[size] = held.get(size, 0) + n
                cut[at] += n * times
                heats.setdefault(size.heat, set()).add(self.source[b])
            need(held and min(held.values()) > 0, "an empty bar")
            used = sum(s.room * n for s, n in held.items()) + sum({s.block: s.opening for s in held}.values())
            need(used - min(s.kerf for s in held) <= self.room[b], "a bar is too full")
            cost += times * (self.bars[b]["price"] - self.credit(b, self.whole[b] - used))
            taken[b] += times
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
        """Pieces of a group, from some length on, that take more than the bars which hold one of them."""
        mine = [(s.room - s.kerf + s.opening, s, d) for s, d in zip(self.sizes, self.demands, strict=True)]
        mine = [(alone, size, d) for alone, size, d in mine if size.heat == group]
        kerf = max(size.kerf for _, size, _ in mine)
        for least, _, _ in mine:
            wanted = sum(size.room * d for alone, size, d in mine if alone >= least)
            bars = (b for b, room in enumerate(self.room) if self.source[b] == source and room >= least)
            if wanted > sum(self.limits[b] * (self.room[b] + kerf) for b in bars):
                return True
        return False


class Model:
    """Sizes and kinds of bars in whole units, and what plans cost at least."""

    def __init__(self, given, data, bound):
        self.given, self.demands, self.fine, self.checked = given, given.demands, data["fine"], set()
        self.step, self.unit, self.prices = data["step"], data["cost_unit"], data["prices"]
        self.heats = {group: tuple(source) for group, source in data["heats"].items()}
        self.sizes = [size.room // self.step for size in given.sizes]
        self.block = [size.block for size in given.sizes]
        self.opening = [size.opening // self.step for size in given.sizes]
        need(min(self.sizes) > 0 and self.fine > 0 and self.unit > 0, "step")
        self.kinds = [self.kind(*way) for way in data["kinds"]]
        need(None not in self.kinds, "a kind holds nothing")
        kerfs = sorted({size.kerf for size in given.sizes})
        for b, kerf, kept in product(range(len(given.bars)), kerfs, (0, 1)):
            if given.limits[b] and [b, kerf, kept] not in data["kinds"]:
                way = self.kind(b, kerf, kept)
                need(not way or any(self.covers(kind, way) for kind in self.kinds), f"bar {b} is left out")
        self.limits = {kind.bar: given.limits[kind.bar] for kind in self.kinds}
        most = [given.limits[kind.bar] for kind in self.kinds] + [*self.limits.values()]
        most.append(min(sum(self.demands), sum(self.limits.values())))
        self.ends = dict(enumerate([*((n, n) for n in self.demands), *((0, n) for n in most)]))
        cents = [CENT] if any(kind.kept for kind in self.kinds) else []
        grid = gcd(*(given.bars[kind.bar]["price"] for kind in self.kinds), *cents) or self.unit
        need(grid % self.unit == 0, "cost unit")
        self.goal = (-(-bound // grid) - 1) * grid // self.unit * self.fine

    def kind(self, b, kerf, kept):
        """A way to cut bar b with this narrowest kerf; None where no piece fits, or nothing is credited."""
        given, source = self.given, self.given.source[b]
        may = [size.kerf >= kerf and self.heats.get(size.heat, source) == source for size in given.sizes]
        room = min(given.room[b] + kerf, given.whole[b] - given.keep if kept else inf)
        needed = (w + o for w, o, m in zip(self.sizes, self.opening, may, strict=True) if m)
        credited = given.bars[b]["price"] * given.saw["percent"][0]
        if room // self.step < min(needed, default=inf) or (kept and not credited):
            return None
        left = (given.whole[b] - used * self.step for used in range(room // self.step + 1))
        net = [given.bars[b]["price"] - (given.credit(b, rest) if kept else 0) for rest in left]
        return Kind(b, may, [cost * self.fine // self.unit for cost in net], kept)

    def covers(self, kind, way):
        """Whether a kind does not run out before the way does, holds as much, and costs no more."""
        return (
            (kind.bar == way.bar or self.given.bars[kind.bar]["limit"] is None)
            and all(k or not w for k, w in zip(kind.may, way.may, strict=True))
            and len(kind.net) >= len(way.net)
            and all(k <= w for k, w in zip(kind.net, way.net, strict=False))
        )

    def check_prices(self, number):
        """No bar is worth more than it costs by a set of prices, whatever it holds."""
        none, prices = [0] * len(self.sizes), self.prices[number]
        for k, kind in enumerate(self.kinds if number not in self.checked else ()):
            worth = dot(prices, self.row(k, none))
            need(self.reduced(kind, [*prices, *none]) >= worth, "a bar is worth more than it costs")
        self.checked.add(number)

    def reduced(self, kind, prices):
        """The least of what a bar of a kind costs net, less the prices of its pieces."""
        table = [0] * len(kind.net)  # the most that pieces in so many units are worth
        for block in dict.fromkeys(self.block):
            mine = [i for i, other in enumerate(self.block) if other == block]
            inside = table[: max(0, len(table) - self.opening[mine[0]])]
            for i in mine:
                most = min(self.demands[i], len(table) // self.sizes[i])
                for _ in range(most if kind.may[i] and prices[i] > 0 else 0):
                    for u in range(len(inside) - 1, self.sizes[i] - 1, -1):
                        inside[u] = max(inside[u], inside[u - self.sizes[i]] + prices[i])
            for u, value in enumerate(inside, self.opening[mine[0]]):
                table[u] = max(table[u], value)
        return min(cost - value for cost, value in zip(kind.net, table, strict=True))

    def row(self, k, pattern):
        """How much a bar of a kind that is cut so adds to each row."""
        kinds = [int(other == k) for other in range(len(self.kinds))]
        return [*pattern, *kinds, *(int(b == self.kinds[k].bar) for b in self.limits), 1]

    def gap(self, number, ends, table):
        """From the least that plans cost by a set of prices to the goal; reduced costs of the patterns."""
        prices = self.prices[number]
        gap = self.goal - least(prices, ends)
        need(gap < inf, "a price above 0 of a row without a least")
        if table is None:
            self.check_prices(number)
            return gap, {}
        reduced = {name: x.cost - dot(prices, x.row) for name, x in table.items()}
        return gap - sum(r * ends[name][r < 0] for name, r in reduced.items()), reduced

    def listed(self, filters, ends):
        """All patterns that a plan within the goal can cut by each set of prices, and how often."""
        tests = [(self.prices[number], self.gap(number, ends, None)[0]) for number in filters]
        table, counts = {}, {}
        for k, kind in enumerate(self.kinds):
            for pattern, used in self.patterns(kind, (), 0):
                cost, row = kind.net[used], self.row(k, pattern)
                most = min(ends[at][1] // n for at, n in enumerate(row) if n)
                if any(pattern) and most > 0 and all(cost - dot(p, row) <= gap for p, gap in tests):
                    table[k, *pattern], counts[k, *pattern] = Pattern(cost, row), (0, most)
        return table, ends | counts

    def patterns(self, kind, pattern, used):
        """All that a kind can hold, with the units used, piece by piece."""
        i = len(pattern)
        if i == len(self.sizes):
            yield pattern, used
            return
        opened = any(n and self.block[j] == self.block[i] for j, n in enumerate(pattern))
        for n in range(self.demands[i] + 1 if kind.may[i] else 1):
            more = used + n * self.sizes[i] + (self.opening[i] if n and not opened else 0)
            if more >= len(kind.net):
                break
            yield from self.patterns(kind, (*pattern, n), more)

    def check_tree(self, tree):
        """No plan costs as little as the goal: each node is closed, or both of its parts are."""
        waiting, seen = [(0, self.ends, None)], set()
        while waiting:
            at, ends, table = waiting.pop()
            need(at not in seen, "a node is a part of two")
            seen.add(at)
            if any(low > high for low, high in ends.values()):
                continue
            node = tree[at]
            closed, ends, table = self.after(node.get("steps", []), ends, table)
            if closed:
                continue
            need("of" in node, "a node is open")
            count = tuple(node["of"]) if isinstance(node["of"], list) else node["of"]
            need(count in ends or (isinstance(count, tuple) and table is not None), "no such count")
            (low, high), below = ends.get(count, (0, 0)), node["below"]  # what is not listed is not cut
            for side, part in (("less", (low, min(high, below))), ("more", (max(low, below + 1), high))):
                need(node[side] > at, "a node comes before the one that it is a part of")
                waiting.append((node[side], ends | {count: part}, table))

    def after(self, steps, ends, table):
        """Whether the steps of a node leave no plan within the goal; ends and patterns after them."""
        for step in steps:
            if isinstance(step, int):
                gap, reduced = self.gap(step, ends, table)
                if gap < 0:
                    return True, ends, table
                ends = narrowed(ends, gap, reduced)
                table = table and {name: x for name, x in table.items() if ends[name][1] > 0}
            elif "list" in step:
                need(table is None, "a list below a list")
                table, ends = self.listed(step["list"], ends)
            else:
                need(table is not None, "a row of patterns before these are listed")
                parts, end = self.new_row(step, ends, table)
                ends = ends | {sum(isinstance(name, int) for name in ends): end}
                table = {name: x._replace(row=[*x.row, parts[name]]) for name, x in table.items()}
        return False, ends, table

    def new_row(self, step, ends, table):
        """What each pattern counts in a new row, and the ends of the row."""
        if "shares" in step:
            return rounded(step["shares"], ends, table)
        if "pattern" in step:
            one, (low, high) = tuple(step["pattern"]), step["ends"]
            least_cut, most_cut = ends.get(one, (0, 0))
            need(low <= least_cut and most_cut <= high, "a pattern is cut less or more often than that")
            return {name: int(name == one) for name in table}, (low, high)
        i, j = step["pair"]
        both = {name: x.row[i] > 1 if i == j else x.row[i] > 0 < x.row[j] for name, x in table.items()}
        return {name: int(holds) for name, holds in both.items()}, (0, ends[len(self.ends) - 1][1])


def narrowed(ends, gap, reduced):
    """Ends of counts such that none alone costs more than the gap."""
    ends = dict(ends)
    for name, r in reduced.items():
        low, high = ends[name]
        if r > 0:
            ends[name] = low, min(high, low + gap // r)
        if r < 0:
            ends[name] = max(low, high - gap // -r), high
    return ends


def rounded(shares, ends, table):
    """Parts and ends of a row that whole counts keep: shares of rows, added up and rounded."""
    end = -least([-share for share in shares], ends)
    need(end < inf, "a share below 0 of a row without a least")
    whole, rest = divmod(end, SHARES)

    def part(share):
        """F of a share, times 1 - f."""
        return share // SHARES * (SHARES - rest) + max(0, share % SHARES - rest)

    # What is missing at the end of a row counts by its share without the sign.
    missing = [part(share) if share > 0 else -part(-share) for share in shares]
    missing = [n if ends[at][0] < ends[at][1] else 0 for at, n in enumerate(missing)]
    parts = {name: part(dot(shares, x.row)) - dot(missing, x.row) for name, x in table.items()}
    end = whole * (SHARES - rest) + least([-n for n in missing], ends)
    parts = {name: n * PARTS // (SHARES - rest) for name, n in parts.items()}
    return parts, (-inf, -(-end * PARTS // (SHARES - rest)))
