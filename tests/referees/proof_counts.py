"""The part of the checker of proofs that is about counts of listed patterns; see `proof_checker`."""

from tests.referees.proof_lists import listed, patterns
from tests.referees.proof_words import dot, need

SHARES, PARTS, FINER = 1 << 20, 1 << 14, 1 << 14


class Counts:
    """Rows are the demands, then the numbers of bars; columns the listed patterns."""

    def __init__(self, model, node, bars):
        for k, (_, high) in enumerate(bars["kind"]):
            need(
                k in node["listed"] or not high or not bars["stock"][model.stock[k]][1],
                "a kind is not listed",
            )
        table = listed(model, node, bars)
        own = {(k, *pattern): cost for k, pattern, cost in table}
        for cut in node["roundings"]:
            for _, _, k, *pattern in cut["moved"]:
                fits = dict(patterns(model, model.kinds[k], [0] * len(model.units), 0, 0))
                kind = model.kinds[k]
                used = fits[tuple(pattern)]
                own.setdefault(
                    (k, *pattern), (kind["net"][used] if kind["kept"] else kind["cost"]) * model.fine
                )
        kinds, stocks = range(len(model.kinds)), range(len(model.limits))
        self.base = {
            name: [
                *name[1:],
                *(int(name[0] == k) for k in kinds),
                *(int(model.stock[name[0]] == s) for s in stocks),
                1,
            ]
            for name in own
        }
        ranges = [*((d, d) for d in model.demands), *bars["kind"], *bars["stock"], *bars["total"]]
        self.cost = {name: cost * FINER for name, cost in own.items()}
        self.pieces, self.goal, self.cuts = len(model.demands), model.target * model.fine * FINER, []
        chosen = {(k, *pattern) for k, pattern, _ in table}
        high = {
            name: min(b // a for a, (_, b) in zip(self.base[name], ranges, strict=True) if a) for name in own
        }
        count = {name: (0, high[name] if name in chosen else 0) for name in own}
        made = node["roundings"]
        for prices in node["rounds"]:
            while len(self.cuts) < len(prices) - len(ranges):
                self.cuts.append(self.rounded(made[len(self.cuts)], count, ranges))
            value, reduced = self.value(prices, count, ranges)
            if value > self.goal:
                return
            count = self.narrowed(count, self.goal - value, reduced)
        while len(self.cuts) < len(made):
            self.cuts.append(self.rounded(made[len(self.cuts)], count, ranges))
        self.tree(node["counts"], count, ranges)

    def value(self, prices, count, ranges):
        mine, others = prices[: len(ranges)], prices[len(ranges) :]
        need(all(p <= 0 for p in others) and len(others) <= len(self.cuts), "prices of cuts")
        reduced = {
            name: self.cost[name]
            - dot(mine, self.base[name])
            - sum(p * cut[0][name] for p, cut in zip(others, self.cuts, strict=False))
            for name in self.base
        }
        total = sum(p * (low if p >= 0 else high) for p, (low, high) in zip(mine, ranges, strict=True))
        total += sum(p * cut[1] for p, cut in zip(others, self.cuts, strict=False))
        return total + sum(r * count[n][0 if r >= 0 else 1] for n, r in reduced.items()), reduced

    @staticmethod
    def narrowed(count, gap, reduced):
        out = {}
        for name, (low, high) in count.items():
            r = reduced[name]
            out[name] = (
                (low, min(high, low + gap // r))
                if r > 0
                else (max(low, high - gap // -r), high)
                if r < 0
                else (low, high)
            )
        return out

    def rounded(self, cut, count, ranges):
        """(coefficients, end) of a rounded sum of rows and cuts: see DEVELOPERS.md."""
        scale, rows, others = SHARES * PARTS, cut["rows"], cut["cuts"]
        need(len(rows) == len(ranges) and len(others) <= len(self.cuts), "rows of a cut")
        moved = {tuple(name): (start, down) for start, down, *name in cut["moved"]}
        for name, (start, down) in moved.items():
            need(count[name][1] <= start if down else count[name][0] >= start, "a moved count")
        ends = [low if r in cut["low"] else high for r, (low, high) in enumerate(ranges)]
        sums = {
            n: PARTS * dot(rows, self.base[n])
            + sum(u * c[0][n] for u, c in zip(others, self.cuts, strict=False))
            for n in self.base
        }
        end = PARTS * dot(rows, ends)
        end += sum(u * c[1] for u, c in zip(others, self.cuts, strict=False))
        end -= sum(sums[n] * start for n, (start, _) in moved.items())
        whole, rest = divmod(end, scale)
        need(rest > 0, "a cut without a fraction")

        def f(a):
            return a // scale * (scale - rest) + max(0, a % scale - rest)

        away = [-1 if r in cut["low"] else 1 for r in range(len(rows))]
        slack = [
            w * f(u * w * PARTS) if low < high else 0
            for u, w, (low, high) in zip(rows, away, ranges, strict=True)
        ]
        turn = {n: -1 if n in moved and moved[n][1] else 1 for n in self.base}
        coefficient = {n: f(sums[n] * turn[n]) * turn[n] for n in self.base}
        bound = whole * (scale - rest) + sum(coefficient[n] * start for n, (start, _) in moved.items())
        bound -= dot(ends, slack)
        bound -= sum(c[1] * min(0, u) for u, c in zip(others, self.cuts, strict=False))
        for n in self.base:
            coefficient[n] -= dot(self.base[n], slack)
            coefficient[n] -= sum(c[0][n] * min(0, u) for u, c in zip(others, self.cuts, strict=False))
        coefficient = {n: c * PARTS // (scale - rest) for n, c in coefficient.items()}
        return coefficient, -(-bound * PARTS // (scale - rest))

    def tree(self, node, count, ranges):
        empty = any(low > high for low, high in [*count.values(), *ranges])
        if empty:
            return
        value, reduced = self.value(node["prices"], count, ranges)
        count = self.narrowed(count, self.goal - value, reduced) if value <= self.goal else count
        if value > self.goal or any(low > high for low, high in count.values()):
            return
        need("less" in node, "an end of the counts is open")
        below = node["below"]
        if "row" in node:
            at = node["row"]
            need(at >= self.pieces, "a demand is divided")
            low, high = ranges[at]
            for side, new in (("less", (low, min(high, below))), ("more", (max(low, below + 1), high))):
                self.tree(node[side], count, [*ranges[:at], new, *ranges[at + 1 :]])
            return
        name = (node["bar"], *node["pieces"])
        low, high = count.get(name, (0, 0))
        for side, new in (("less", (low, min(high, below))), ("more", (max(low, below + 1), high))):
            if side == "less" or name in count:
                self.tree(node[side], count | ({name: new} if name in count else {}), ranges)
