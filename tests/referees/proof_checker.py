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


def refuse(number):
    """Only whole numbers are reckoned with: mitres are texts."""
    raise Wrong(f"{number} is not whole")


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
    proof = json.loads(text, parse_float=refuse, parse_constant=refuse)
    need(proof["format"] == 4, "format")
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
        part, of = saw["percent"]
        need(saw["mitre_step"] > 0 and of > 0 and 0 <= part <= 100 * of, "saw")
        need(min(saw["kerf"], saw["trim"], saw["grip"], self.keep) >= 0, "saw")
        for bar in self.bars:
            need(bar["length"] > 0 and bar["price"] >= 0 and bar["tolerance"] >= 0, "a bar")
        for piece in self.pieces:
            need(piece["count"] > 0 and piece["length"] > 0, "a piece of no length or count")
            size = self.size_of(piece)
            demands[size] = demands.get(size, 0) + piece["count"]
        self.sizes, self.demands = [*demands], [*demands.values()]
        self.source = [bar["source"] for bar in self.bars]
        self.whole = [bar["length"] - saw["trim"] for bar in self.bars]
        self.room = [bar["length"] - saw["trim"] - saw["grip"] - bar["tolerance"] for bar in self.bars]
        most = sum(self.demands)
        self.limits = [most if bar["limit"] is None else min(bar["limit"], most) for bar in self.bars]

    def size_of(self, piece):
        saw, (one, two) = self.saw, (abs(float(mitre)) for mitre in piece["mitres"])
        steep, step, kerf, shared = max(one, two), saw["mitre_step"], saw["kerf"], 0
        need(one < 80 and two < 80 and piece["depth"] >= 0, "a mitre")
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
            need(times > 0 and min(held.values(), default=0) > 0, "an empty bar")
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
            impossible = any(self.too_large(*way) for way in heats.items())
            need(heats in modelled or impossible, "a choice of heats is left out")

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
        self.given, self.demands, self.heats, self.prices = (
            given,
            given.demands,
            data["heats"],
            data["prices"],
        )
        self.step, self.unit, self.fine, self.checked = data["step"], data["cost_unit"], data["fine"], set()
        self.sizes = [size.room // self.step for size in given.sizes]
        self.block = [size.block for size in given.sizes]
        self.opening = [size.opening // self.step for size in given.sizes]
        need(min(self.sizes) > 0 and self.fine > 0 and self.unit > 0, "step")
        self.kinds = [self.kind(*way) for way in data["kinds"]]
        kerfs = sorted({size.kerf for size in given.sizes})
        for b, kerf, kept in product(range(len(given.bars)), kerfs, (0, 1)):
            if given.limits[b] and [b, kerf, kept] not in data["kinds"]:
                way = self.kind(b, kerf, kept)
                covered = any(self.covers(kind, way) for kind in self.kinds)
                need(covered or not any(way.may), f"bar {b} is left out")
        self.limits = {kind.bar: given.limits[kind.bar] for kind in self.kinds}
        most = [given.limits[kind.bar] for kind in self.kinds] + [*self.limits.values()]
        most.append(min(sum(self.demands), sum(self.limits.values())))
        self.ends = dict(enumerate([*((n, n) for n in self.demands), *((0, n) for n in most)]))
        cents = [CENT] if any(kind.kept for kind in self.kinds) else []
        grid = gcd(*(given.bars[kind.bar]["price"] for kind in self.kinds), *cents) or self.unit
        need(grid % self.unit == 0, "cost unit")
        self.goal = (-(-bound // grid) - 1) * grid // self.unit * self.fine

    def kind(self, b, kerf, kept):
        """A way to cut bar b with this narrowest kerf, and the sizes that go into it."""
        given, source = self.given, self.given.source[b]
        room = min(given.room[b] + kerf, given.whole[b] - given.keep if kept else inf)
        units = range(room // self.step + 1)
        may = [
            size.kerf >= kerf and self.heats.get(size.heat, source) == source and w + opening in units
            for size, w, opening in zip(given.sizes, self.sizes, self.opening, strict=True)
        ]
        left = (given.whole[b] - used * self.step for used in units)
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
        prices, none = self.prices[number], [0] * len(self.sizes)
        for k, kind in enumerate(self.kinds if number not in self.checked else ()):
            bar = dot(prices, self.row(k, none))
            loads = self.loads(kind, [*prices, *none])
            need(all(kind.net[used] >= worth + bar for used, worth, *_ in loads), "a bar is worth too much")
        self.checked.add(number)

    def loads(self, kind, prices=None):
        """What a kind can hold: units, worth, counts, blocks; with prices, of those alike the dearest."""
        found = [(0, 0, (), frozenset())]
        for i, size in enumerate(self.sizes):
            grown = {}
            for used, worth, counts, opened in found:
                wider = opened | {self.block[i]}
                for n in range(self.demands[i] + 1 if kind.may[i] else 1):
                    blocks = wider if n else opened
                    more = used + n * size + (self.opening[i] if blocks > opened else 0)
                    if more >= len(kind.net):
                        break
                    load = more, worth + n * prices[i] if prices else 0, (*counts, n), blocks
                    key = (more, blocks) if prices else load[2]
                    if key not in grown or grown[key][1] < load[1]:
                        grown[key] = load
            found = grown.values()
        return found

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
            for used, _, pattern, _ in self.loads(kind):
                cost, row = kind.net[used], self.row(k, pattern)
                most = min(ends[at][1] // n for at, n in enumerate(row) if n)
                if any(pattern) and most > 0 and all(cost - dot(p, row) <= gap for p, gap in tests):
                    table[k, *pattern], counts[k, *pattern] = Pattern(cost, row), (0, most)
        return ends | counts, table

    def check_tree(self, tree):
        """No plan costs as little as the goal: each node is closed, or both of its parts are."""
        waiting = [(self.ends, None)]  # no ends: closed
        for node in tree:
            ends, table = waiting.pop()
            for step in node["steps"]:
                ends, table = (None, None) if ends is None else self.after(step, ends, table)
            if "of" in node:
                of, below = node["of"], node["below"]
                waiting += [part(of, below + 1, inf, ends, table), part(of, -inf, below, ends, table)]
            else:
                need(ends is None, "a node is open")
        need(not waiting, "a node is missing")

    def after(self, step, ends, table):
        """Ends and patterns after a step; none where no plan within the goal is left."""
        if isinstance(step, int):
            gap, reduced = self.gap(step, ends, table)
            if gap < 0:
                return None, None
            ends = narrowed(ends, gap, reduced)
            return ends, table and {name: x for name, x in table.items() if ends[name][1] > 0}
        if "list" in step:
            need(table is None, "a list below a list")
            return self.listed(step["list"], ends)
        need(table is not None, "a row of patterns before these are listed")
        parts, end = self.new_row(step, ends, table)
        ends = ends | {sum(isinstance(name, int) for name in ends): end}
        return ends, {name: x._replace(row=[*x.row, parts[name]]) for name, x in table.items()}

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


def part(of, low, high, ends, table):
    """Ends and patterns where a row or pattern is counted from low to high; none where it cannot be."""
    if ends is None:
        return None, None
    count = tuple(of) if isinstance(of, list) else of
    need(count in ends or (isinstance(count, tuple) and table is not None), "no such count")
    least, most = ends.get(count, (0, 0))  # what is not listed is not cut
    low, high = max(low, least), min(high, most)
    return (ends | {count: (low, high)}, table) if low <= high else (None, None)


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
    loose = [share if ends[at][0] < ends[at][1] else 0 for at, share in enumerate(shares)]
    missing = [part(share) if share > 0 else -part(-share) for share in loose]
    parts = {name: part(dot(shares, x.row)) - dot(missing, x.row) for name, x in table.items()}
    end = whole * (SHARES - rest) + least([-n for n in missing], ends)
    parts = {name: n * PARTS // (SHARES - rest) for name, n in parts.items()}
    return parts, (-inf, -(-end * PARTS // (SHARES - rest)))
