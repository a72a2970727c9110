"""The part of the checker of proofs that is about counts of listed patterns; see `proof_checker`."""

from math import inf

from tests.referees.proof_given import need

SHARES, PARTS, FINER = 1 << 20, 1 << 14, 1 << 14


def dot(one, other):
    return sum(a * b for a, b in zip(one, other, strict=True))


class Counts:
    """How often each listed pattern is cut; rows with ends: sizes, kinds, stocks, all bars, then cuts."""

    def __init__(self, model, node, bars):
        for k, (_, most) in enumerate(bars["kind"]):
            bought = most and bars["stock"][model.stock[k]][1]
            need(k in node["listed"] or not bought, "a kind is not listed")
        self.ends = [*((d, d) for d in model.demands), *bars["kind"], *bars["stock"], *bars["total"]]
        self.number, self.pieces = len(self.ends), len(model.demands)
        self.goal = model.target * model.fine * FINER
        self.row, self.cost, count = {}, {}, {}
        for k, pattern, cost in model.patterns_of(node, bars):
            name = self.add(model, k, pattern, cost)
            most = min(high // a for a, (_, high) in zip(self.row[name], self.ends, strict=True) if a)
            count[name] = (0, most)
        for k, *pattern in (way[2:] for cut in node["roundings"] for way in cut["moved"]):
            if (k, *pattern) not in count:  # a cut may speak of patterns that no plan cuts any more
                fitting = dict(model.patterns(model.kinds[k], (), 0))
                cost = model.kinds[k].net[fitting[tuple(pattern)]] * model.fine
                count[self.add(model, k, pattern, cost)] = (0, 0)
        cuts = iter(node["roundings"])
        for prices in node["rounds"]:
            while len(self.ends) < len(prices):
                self.round(next(cuts), count)
            value, reduced = self.value(prices, count, self.ends)
            if value > self.goal:
                return
            count = narrowed(count, self.goal - value, reduced)
        for cut in cuts:
            self.round(cut, count)
        self.walk(node["counts"], count, self.ends)

    def add(self, model, k, pattern, cost):
        """A pattern's part in each row; its name."""
        kinds = [int(k == other) for other in range(len(model.kinds))]
        stocks = [int(model.stock[k] == s) for s in range(len(model.limits))]
        self.row[k, *pattern], self.cost[k, *pattern] = [*pattern, *kinds, *stocks, 1], cost * FINER
        return (k, *pattern)

    def value(self, prices, count, ends):
        """What plans with these counts cost at least, and the reduced cost of each pattern."""
        need(self.number <= len(prices) <= len(ends) and all(p <= 0 for p in prices[self.number :]), "prices")
        used = [(r, p) for r, p in enumerate(prices) if p]
        reduced = {n: self.cost[n] - sum(p * row[r] for r, p in used) for n, row in self.row.items()}
        value = sum(p * ends[r][p < 0] for r, p in used)
        return value + sum(r * count[n][r < 0] for n, r in reduced.items()), reduced

    def round(self, cut, count):
        """Add the row that a rounded sum of the rows before it gives."""
        known, scale = self.number + len(cut["cuts"]), SHARES * PARTS
        need(len(cut["rows"]) == self.number and known <= len(self.ends), "rows of a cut")
        shares = [*(PARTS * u for u in cut["rows"]), *cut["cuts"]]
        ends = [low if r in cut["low"] else high for r, (low, high) in enumerate(self.ends[:known])]
        sums = {n: dot(shares, row[:known]) for n, row in self.row.items()}
        moved = {tuple(name): (start, -1 if down else 1) for start, down, *name in cut["moved"]}
        for n, (start, turn) in moved.items():
            need(
                count[n][1] <= start if turn < 0 else count[n][0] >= start, "a count is reckoned from no end"
            )
        end = dot(shares, ends) - sum(sums[n] * start for n, (start, _) in moved.items())
        whole, rest = divmod(end, scale)
        need(rest > 0, "a cut without a fraction")

        def rounded(a):
            return a // scale * (scale - rest) + max(0, a % scale - rest)

        slack = [min(0, u) for u in shares]
        for r, (low, high) in enumerate(self.ends[: self.number]):
            away = -1 if r in cut["low"] else 1
            slack[r] = away * rounded(away * shares[r]) if low < high else 0
        end = whole * (scale - rest) - dot(ends, slack)
        for n, row in self.row.items():
            start, turn = moved.get(n, (0, 1))
            mine = turn * rounded(turn * sums[n])
            end += mine * start
            row.append((mine - dot(slack, row[:known])) * PARTS // (scale - rest))
        self.ends.append((-inf, -(-end * PARTS // (scale - rest))))

    def walk(self, node, count, ends):
        """Every end of a tree over the counts is closed."""
        if any(low > high for low, high in [*count.values(), *ends]):
            return
        value, reduced = self.value(node["prices"], count, ends)
        if value > self.goal:
            return
        count = narrowed(count, self.goal - value, reduced)
        if any(low > high for low, high in count.values()):
            return
        need("less" in node, "an end of the counts is open")
        name = (node["bar"], *node["pieces"]) if "bar" in node else None
        need(name or node["row"] >= self.pieces, "a demand is divided")
        at, below = node.get("row"), node["below"]
        low, high = ends[at] if name is None else count.get(name, (0, 0))
        for side, new in (("less", (low, min(high, below))), ("more", (max(low, below + 1), high))):
            if name is None:
                self.walk(node[side], count, [*ends[:at], new, *ends[at + 1 :]])
            elif name in count or side == "less":  # more of what no plan cuts is nothing
                self.walk(node[side], count | ({name: new} if name in count else {}), ends)


def narrowed(count, gap, reduced):
    """Counts from least to most, without those that would cost more than the gap."""
    return {
        n: (max(low, high - gap // -r) if r < 0 else low, min(high, low + gap // r) if r > 0 else high)
        for n, (low, high) in count.items()
        for r in (reduced[n],)
    }
