"""Check a certificate without a solver, without floats, and without the planner's code.

Why a passed certificate proves its plan cheapest:
- Bars: the plan's bars fit, keep the limits, cut every piece, and cost what is said.
- Tree: each split divides all plans in two by a number of bars (of a kind, of a
  stock, of all), or by the number of bars that hold a pair of pieces; so every
  plan belongs to an end of the tree.
- Bound: give each piece a price. A plan costs the prices of its pieces plus, for each bar,
  its cost less the prices of what is cut from it. The least of that for a kind
  of bar comes from a table over its length; the least over all allowed numbers of bars
  from simple arithmetic. So the bound holds for any prices, wherever they came from.
- List: where a pattern's cost less its prices exceeds the least of its kind by more than the gap,
  no cheaper plan uses it; all others are listed here anew.
An end is closed when its bound is more than the plan's cost less the step by which costs
differ: the common divisor of all costs, steps of credit among them.
Arrays hold whole numbers of 64 bits and are refused where a sum could pass that.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.takeoff.certificate_counts import Counts, CountsCheck, Refused
from shopquote.calc.takeoff.certificate_counts import need as _need
from shopquote.calc.takeoff.certificate_counts import whole as _whole

Table = npt.NDArray[np.int64]

IMPOSSIBLE = 1 << 300
LARGEST = 1 << 61
MOST_LISTED = 1_000_000
MOST_GROWN = 20_000_000
MOST_CELLS = 20_000_000
NOT_A_CERTIFICATE = (
    KeyError, TypeError, ValueError, IndexError, RecursionError, AttributeError, OverflowError,
)  # fmt: skip


@dataclass(slots=True)
class _Range:
    """Least and most bars: of each kind, each stock, and all."""

    kind: list[tuple[int, int]]
    stock: list[tuple[int, int]]
    total: tuple[int, int]

    def parts(self, split: Sequence[Any]) -> tuple["_Range", "_Range"]:
        """At most `below` of something, and more than `below`."""
        level, at, below = split
        _need(isinstance(below, int) and isinstance(at, int), "a split is not whole numbers")
        halves = []
        for less in (True, False):
            half = _Range(list(self.kind), list(self.stock), self.total)
            old = half.total if level == "total" else getattr(half, _level(level))[at]
            new = (old[0], min(old[1], below)) if less else (max(old[0], below + 1), old[1])
            if level == "total":
                half.total = new
            else:
                getattr(half, level)[at] = new
            halves.append(half)
        return halves[0], halves[1]


@dataclass(slots=True)
class _Listed:
    """Patterns of the listed kinds: rows of counts, kind and cost of each."""

    rows: Table
    kinds: Table
    costs: Table


def faults_of_certificate(certificate: dict[str, Any]) -> list[str]:
    """What is wrong with a certificate; an empty list when it proves its plan cheapest."""
    try:
        _check(certificate)
    except Refused as refused:
        return [str(refused)]
    except NOT_A_CERTIFICATE as error:
        return [f"the certificate is not complete: {error!r}"]
    return []


def _check(certificate: dict[str, Any]) -> None:
    _need(certificate["format"] == 1, "unknown format")
    content = {key: value for key, value in certificate.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    _need(
        hashlib.sha256(text.encode("ascii")).hexdigest() == certificate["digest"],
        "the digest is not that of the content: something was changed",
    )
    problems = [_Problem(data) for data in certificate["problems"]]
    cost = certificate["cost"]
    _need(isinstance(cost, int), "the cost is not a whole number")
    problems[certificate["chosen"]].check_plan(certificate["plan"], cost)
    for number, (problem, data) in enumerate(zip(problems, certificate["problems"], strict=True)):
        _need(
            (problem.demands == problems[0].demands) and (problem.sizes == problems[0].sizes),
            f"problem {number} asks for other pieces",
        )
        problem.check_tree(data["tree"], cost - problem.grid)


class _Problem:
    """The problem as the certificate states it."""

    def __init__(self, data: dict[str, Any]) -> None:
        self.sizes = _whole(data["sizes"], 1)
        self.demands = _whole(data["demands"], 1)
        self.blocks = _whole(data["blocks"], -1)
        self.openings = _whole(data["openings"], 0)
        self.fine = _whole([data["fine"]], 1)[0]
        self.kinds: list[dict[str, Any]] = data["kinds"]
        _need(len(self.sizes) == len(self.demands) == len(self.blocks) > 0, "lists of pieces differ")
        _need(all(block < len(self.openings) for block in self.blocks), "a block has no opening")
        for kind in self.kinds:
            _whole([kind["capacity"], kind["cost"], kind["limit"], kind["stock"], *kind["credit"]], 0)
            _need(kind["credit"][2] > 0 and kind["capacity"] <= 10_000_000, "a kind of bar is out of range")
            may = kind["allowed"]
            _need(may is None or len(may) == len(self.sizes), "a mask differs in length")
        self.stocks = 1 + max(kind["stock"] for kind in self.kinds)
        limits: dict[int, set[int]] = {}
        for kind in self.kinds:
            limits.setdefault(kind["stock"], set()).add(kind["limit"])
        _need(
            all(len(limits.get(s, ())) == 1 for s in range(self.stocks)), "kinds of a stock differ in limit"
        )
        self.limits = [next(iter(limits[s])) for s in range(self.stocks)]
        self.credited = any(kind["credit"][0] or kind["credit"][1] for kind in self.kinds)
        steps = [kind["credit"][3] for kind in self.kinds if kind["credit"][0] or kind["credit"][1]]
        self.grid = max(1, gcd(*(kind["cost"] for kind in self.kinds), *steps))
        self._credits = [self._credit_row(kind) for kind in self.kinds]

    # ---- the plan -----------------------------------------------------------------------

    def used(self, counts: Sequence[int]) -> int:
        """Units that a pattern takes."""
        opened = {self.blocks[i] for i, n in enumerate(counts) if n and self.blocks[i] >= 0}
        return sum(n * w for n, w in zip(counts, self.sizes, strict=True)) + sum(
            self.openings[b] for b in opened
        )

    def credit(self, kind: dict[str, Any], slack: int) -> int:
        """Credit of one bar with this much slack, never more than the bar costs."""
        slope, base, over, step = kind["credit"]
        return int(min(kind["cost"], (slack * slope + base) // over * step))

    def check_plan(self, plan: Sequence[Any], cost: int) -> None:
        """Bars fit, limits hold, every piece is cut once, the cost is right."""
        cut = [0] * len(self.sizes)
        bars = [0] * self.stocks
        total = 0
        for number, counts, times in plan:
            kind = self.kinds[number]
            counts = _whole(counts, 0)
            _whole([times], 1)
            slack = kind["capacity"] - self.used(counts)
            _need(slack >= 0, "a bar of the plan holds more than its length")
            may = kind["allowed"]
            _need(
                may is None or all(may[i] for i, n in enumerate(counts) if n),
                "a piece is cut from another heat",
            )
            total += times * (kind["cost"] - self.credit(kind, slack))
            bars[kind["stock"]] += times
            cut = [c + times * n for c, n in zip(cut, counts, strict=True)]
        _need(cut == self.demands, "the plan does not cut the pieces asked for")
        _need(all(n <= limit for n, limit in zip(bars, self.limits, strict=True)), "the plan breaks a limit")
        _need(total == cost, f"the plan costs {total}, not {cost}")

    # ---- the tree -----------------------------------------------------------------------

    def check_tree(self, tree: dict[str, Any], target: int) -> None:
        """Every end of the tree is closed."""
        pieces = sum(self.demands)
        start = _Range(
            [(0, kind["limit"]) for kind in self.kinds],
            [(0, limit) for limit in self.limits],
            (0, min(pieces, sum(self.limits))),
        )
        waiting: list[tuple[dict[str, Any], _Range]] = [(tree, start)]
        while waiting:
            node, bars = waiting.pop()
            if "split" in node:
                less, more = bars.parts(node["split"])
                waiting += [(node["less"], less), (node["more"], more)]
            elif "cuts" in node:
                waiting += self._check_purchases(node, bars, target)
            elif "counts" in node:
                self._check_counts(node, bars, target)
            elif "listed" in node:
                self._check_list(node, bars, target)
            else:
                _need(self._closes(self._floor(node["prices"], bars), target), "an end of the tree is open")

    def _check_purchases(
        self, node: dict[str, Any], bars: _Range, target: int
    ) -> list[tuple[dict[str, Any], _Range]]:
        """Every number of bars of each stock is struck out, or left to a box.

        A plan with n bars costs at least the worth of its pieces plus the sum of n * (least reduced
        cost of a bar), at any prices. Struck out is what then costs more than the target, or more than
        its bars do (where nothing is credited), or is shorter in all than the pieces.
        """
        costs = [min(k["cost"] for k in self.kinds if k["stock"] == s) for s in range(self.stocks)]
        paid = [s for s in range(self.stocks) if costs[s]]
        free = [s for s in range(self.stocks) if not costs[s]]
        _need(0 < len(paid) <= 4, "too many stocks cost money")
        boxes = [(_whole(box["stocks"][0], 0), _whole(box["stocks"][1], 0)) for box in node["boxes"]]
        for low, high in boxes:
            _need(len(low) == len(high) == self.stocks, "a box has another number of stocks")
            _need(all(low[s] == 0 and high[s] >= self.limits[s] for s in free), "a box leaves out free bars")
        goal = target * self.fine
        cuts = [self._cut(prices, paid, free) for prices in node["cuts"]]
        tops = [self.limits[s] for s in paid]
        for base, least in cuts:
            if min(least) >= 0:
                tops = [
                    min(t, max(-1, (goal - base) // r)) if r else t for t, r in zip(tops, least, strict=True)
                ]
        if not self.credited:
            tops = [min(top, target // costs[s]) for top, s in zip(tops, paid, strict=True)]
        if min(tops) < 0:
            return []
        _need(int(np.prod([top + 1.0 for top in tops])) <= 40_000_000, "too many purchases to check")
        largest = max(
            max(map(abs, [base, *least])) for base, least in [*cuts, (goal, [max(costs) * self.fine])]
        )
        _need(largest * (1 + sum(tops)) < LARGEST, "prices are too large")
        room = [max(k["capacity"] for k in self.kinds if k["stock"] == s) for s in range(self.stocks)]
        length = sum(w * d for w, d in zip(self.sizes, self.demands, strict=True))
        length -= sum(room[s] * self.limits[s] for s in free)
        rest = np.meshgrid(*(np.arange(top + 1) for top in tops[1:]), indexing="ij")
        shape = rest[0].shape if rest else (1,)
        for first in range(tops[0] + 1):
            counts = [np.full(shape, first, np.int64), *rest]
            alive = sum(room[s] * n for s, n in zip(paid, counts, strict=True)) >= length
            ceiling: Any = goal
            if not self.credited:
                cost = sum(costs[s] * self.fine * n for s, n in zip(paid, counts, strict=True))
                ceiling = np.minimum(goal, cost)
                alive &= cost <= goal
            for base, least in cuts:
                alive &= base + sum(r * n for r, n in zip(least, counts, strict=True)) <= ceiling
            for low, high in boxes:
                inside = np.ones(shape, np.bool_)
                for s, n in zip(paid, counts, strict=True):
                    inside &= (n >= low[s]) & (n <= high[s])
                alive &= ~inside
            _need(not alive.any(), "a cheaper purchase is not struck out")
        open_boxes = []
        for box, (low, high) in zip(node["boxes"], boxes, strict=True):
            stock = [(max(a, p), min(b, q)) for (a, b), p, q in zip(bars.stock, low, high, strict=True)]
            open_boxes.append((box["tree"], _Range(list(bars.kind), stock, bars.total)))
        return open_boxes

    def _cut(self, prices: Sequence[int], paid: Sequence[int], free: Sequence[int]) -> tuple[int, list[int]]:
        """What all purchases cost at least: a base and a part for each bar of a stock."""
        whole = _whole(prices, 0)
        reduced = self._reduced(whole)

        def least(stock: int) -> int:
            return min(r for r, kind in zip(reduced, self.kinds, strict=True) if kind["stock"] == stock)

        base = sum(p * d for p, d in zip(whole, self.demands, strict=True))
        base += sum(min(0, least(s)) * self.limits[s] for s in free)
        return base, [least(s) for s in paid]

    def _closes(self, value: int, target: int) -> bool:
        """Whether a bound in fine units is above the target once it is a real cost."""
        cost = -(-value // self.fine)
        return -(-cost // self.grid) * self.grid > target

    def _floor(self, prices: Sequence[int], bars: _Range) -> int:
        prices = _whole(prices, 0)
        total = sum(p * d for p, d in zip(prices, self.demands, strict=True))
        return total + self._least(self._reduced(prices), bars)

    def _least(self, reduced: Sequence[int], bars: _Range) -> int:
        """Least of sum(n * reduced) with the numbers of bars in their ranges.

        One bar at a time, cheapest first: needed ones, then gainful ones, then those missing in all.
        """
        if any(low > high for low, high in [*bars.kind, *bars.stock, bars.total]):
            return IMPOSSIBLE
        taken = [low for low, _ in bars.kind]
        stock = [0] * self.stocks
        for k, n in enumerate(taken):
            stock[self.kinds[k]["stock"]] += n
        order = sorted(range(len(reduced)), key=lambda k: reduced[k])
        for k in order:
            s = self.kinds[k]["stock"]
            more = max(0, min(bars.kind[k][1] - taken[k], bars.stock[s][0] - stock[s]))
            taken[k] += more
            stock[s] += more
        for k in order:
            s = self.kinds[k]["stock"]
            goal = bars.total[1] if reduced[k] < 0 else bars.total[0]
            more = max(0, min(bars.kind[k][1] - taken[k], bars.stock[s][1] - stock[s], goal - sum(taken)))
            taken[k] += more
            stock[s] += more
        for s, (low, high) in enumerate(bars.stock):
            if not low <= stock[s] <= high:
                return IMPOSSIBLE
        if not bars.total[0] <= sum(taken) <= bars.total[1]:
            return IMPOSSIBLE
        return sum(n * r for n, r in zip(taken, reduced, strict=True))

    # ---- tables over the length of a bar ------------------------------------------------

    def _credit_row(self, kind: dict[str, Any]) -> Table | None:
        if not (kind["credit"][0] or kind["credit"][1]):
            return None
        row = [self.credit(kind, kind["capacity"] - u) * self.fine for u in range(kind["capacity"] + 1)]
        _need(max(row) < LARGEST, "a credit is too large")
        return np.array(row, np.int64)

    def _reduced(self, prices: Sequence[int], only: Sequence[int] | None = None) -> list[int]:
        """Least of cost - credit - prices over all that a bar of each kind can hold."""
        out = [0] * len(self.kinds)
        wanted = range(len(self.kinds)) if only is None else only
        tables: dict[tuple[int, ...], Table] = {}
        for k in wanted:
            kind = self.kinds[k]
            may = tuple(kind["allowed"]) if kind["allowed"] is not None else ()
            if may not in tables:
                same = [j for j in wanted if (tuple(self.kinds[j]["allowed"] or ()) == may)]
                tables[may] = self._fill(prices, may, max(self.kinds[j]["capacity"] for j in same))
            best = tables[may][: kind["capacity"] + 1]
            credit = self._credits[k]
            gain = int(best[-1]) if credit is None else int((best + credit).max())
            out[k] = kind["cost"] * self.fine - gain
        return out

    def _fill(self, prices: Sequence[int], may: tuple[int, ...], capacity: int) -> Table:
        """`table[u]`: the dearest pieces that fit in u units, each at most as often as asked for."""
        most = sum(
            max(0, p) * min(d, capacity // w)
            for p, d, w in zip(prices, self.demands, self.sizes, strict=True)
        )
        _need(most < LARGEST, "prices are too large")
        table = np.zeros(capacity + 1, np.int64)
        for block in [-1, *range(len(self.openings))]:
            opening = self.openings[block] if block >= 0 else 0
            if opening > capacity:
                continue
            inside = table[: capacity + 1 - opening].copy()
            for i, price in enumerate(prices):
                if self.blocks[i] == block and price > 0 and (not may or may[i]):
                    self._add_piece(inside, i, price)
            np.maximum(table[opening:], inside, out=table[opening:])
        return table

    def _add_piece(self, table: Table, i: int, price: int) -> None:
        """Allow up to the asked number of a piece: packets of 1, 2, 4, … and the rest."""
        left, packet = min(self.demands[i], (len(table) - 1) // self.sizes[i]), 1
        while left:
            n = min(left, packet)
            shift = n * self.sizes[i]
            if shift < len(table):
                np.maximum(table[shift:], table[: len(table) - shift] + n * price, out=table[shift:])
            left, packet = left - n, packet * 2

    # ---- lists of patterns --------------------------------------------------------------

    def _list(self, node: dict[str, Any], bars: _Range, target: int) -> _Listed:
        """All patterns of the listed kinds that a plan within the target may cut, by all prices."""
        listed = _whole(node["listed"], 0)
        tests = []
        for prices in [node["prices"], *node["filters"]]:
            whole = _whole(prices, 0)
            reduced = self._reduced(whole)
            total = sum(p * d for p, d in zip(whole, self.demands, strict=True))
            gap = target * self.fine - total - self._least(reduced, bars)
            tests.append(
                (whole, [k["cost"] * self.fine - r - gap for k, r in zip(self.kinds, reduced, strict=True)])
            )
        none = np.zeros(0, np.int64)
        rows, kinds, costs = [np.zeros((0, len(self.sizes)), np.int64)], [none], [none]
        for k in listed:
            found = self._patterns(k, [(prices, least[k]) for prices, least in tests])
            rows.append(found)
            credit = self._credits[k]
            cost = np.full(len(found), self.kinds[k]["cost"] * self.fine, np.int64)
            costs.append(cost if credit is None else cost - credit[self._used(found)])
            kinds.append(np.full(len(found), k, np.int64))
        return _Listed(np.concatenate(rows), np.concatenate(kinds), np.concatenate(costs))

    def _check_counts(self, node: dict[str, Any], bars: _Range, target: int) -> None:
        """The counts of the listed patterns, as far as a plan may choose them."""
        listed = _whole(node["listed"], 0)
        _need(
            all(
                k in listed or not bars.kind[k][1] or not bars.stock[kind["stock"]][1]
                for k, kind in enumerate(self.kinds)
            ),
            "a kind of bar is not listed",
        )
        table = self._list(node, bars, target)
        own = len(table.kinds)
        table = self._with_moved(node, table)
        number = len(table.kinds)
        stocks = np.array([kind["stock"] for kind in self.kinds], np.int64)[table.kinds]
        columns = [table.rows]
        columns += [(table.kinds == k).astype(np.int64)[:, None] for k in range(len(self.kinds))]
        columns += [(stocks == s).astype(np.int64)[:, None] for s in range(self.stocks)]
        base = np.concatenate([*columns, np.ones((number, 1), np.int64)], axis=1)
        ranges = [*bars.kind, *bars.stock, bars.total]
        least = np.array([*self.demands, *(low for low, _ in ranges)], np.int64)
        most = np.array([*self.demands, *(high for _, high in ranges)], np.int64)
        high = np.where(base > 0, most // np.maximum(base, 1), max(1, int(most.max()))).min(
            axis=1, initial=int(most.max())
        )
        high[own:] = 0  # not among those that a cheaper plan may cut
        names = self._names(table)
        check = CountsCheck(base, table.costs, names, len(self.sizes))
        check.check(node, Counts(np.zeros(number, np.int64), high, least, most), target * self.fine)

    @staticmethod
    def _names(table: _Listed) -> list[tuple[int, ...]]:
        return [(int(k), *(int(n) for n in row)) for k, row in zip(table.kinds, table.rows, strict=True)]

    def _with_moved(self, node: dict[str, Any], table: _Listed) -> _Listed:
        """The list and, after it, the patterns that only its cuts speak of."""
        known = set(self._names(table))
        rows, kinds, costs = [table.rows], list(table.kinds), list(table.costs)
        for cut in node["roundings"]:
            for _, _, *name in cut["moved"]:
                k, *counts = _whole(name, 0)
                if (k, *counts) in known:
                    continue
                known.add((k, *counts))
                kind, slack = self.kinds[k], self.kinds[k]["capacity"] - self.used(counts)
                _need(
                    len(counts) == len(self.sizes) and slack >= 0,
                    "a cut speaks of a pattern that does not fit",
                )
                rows.append(np.array([counts], np.int64))
                kinds.append(k)
                costs.append((kind["cost"] - self.credit(kind, slack)) * self.fine)
        return _Listed(np.concatenate(rows), np.array(kinds, np.int64), np.array(costs, np.int64))

    def _check_list(self, node: dict[str, Any], bars: _Range, target: int) -> None:
        listed = _whole(node["listed"], 0)
        table = self._list(node, bars, target)
        waiting: list[Any] = [(node["tree"], bars, [], np.arange(len(table.kinds)))]
        while waiting:
            here, inside, pairs, open_rows = waiting.pop()
            value, excess = self._list_floor(here, listed, inside, pairs, table, open_rows)
            if self._closes(value, target):
                continue
            _need("less" in here, "an end of a list's tree is open")
            open_rows = open_rows[excess <= target * self.fine - value]
            if "pair" in here:
                first, second, below = _whole(here["pair"], 0)
                waiting.append((here["less"], inside, [*pairs, (first, second, 0, below)], open_rows))
                waiting.append((here["more"], inside, [*pairs, (first, second, below + 1, None)], open_rows))
            else:
                less, more = inside.parts(here["split"])
                waiting += [(here["less"], less, pairs, open_rows), (here["more"], more, pairs, open_rows)]

    def _list_floor(
        self,
        here: dict[str, Any],
        listed: Sequence[int],
        bars: _Range,
        pairs: Sequence[tuple[int, int, int, int | None]],
        table: _Listed,
        open_rows: npt.NDArray[np.intp],
    ) -> tuple[int, Table]:
        """Bound of a node of a list's tree, and by how much each open row exceeds the least of its kind."""
        prices, weights = _whole(here["prices"], -LARGEST), _whole(here["rules"], -LARGEST)
        _need(len(prices) == len(self.sizes) and len(weights) == len(pairs), "prices differ in number")
        most = max((abs(p) for p in [*prices, *weights]), default=0)
        longest = max(kind["capacity"] for kind in self.kinds) // min(self.sizes) + len(pairs)
        halves = [(_whole([-price], 0)[0], _whole(pieces, 0)) for price, pieces in here["halves"]]
        most += sum(price for price, _ in halves)
        _need(most * (longest + 1) < LARGEST, "prices are too large")
        rows, kinds = table.rows[open_rows], table.kinds[open_rows]
        reduced = table.costs[open_rows] - rows @ np.array(prices, np.int64)
        total = sum(p * d for p, d in zip(prices, self.demands, strict=True))
        barred = np.zeros(len(rows), np.bool_)
        for (first, second, low, high), weight in zip(pairs, weights, strict=True):
            _need(weight >= 0 or high is not None, "a rule without an upper end has a negative price")
            total += weight * (low if weight >= 0 else (high or 0))
            both = rows[:, first] >= 2 if first == second else (rows[:, first] > 0) & (rows[:, second] > 0)
            reduced = reduced - np.where(both, weight, 0)
            if high == 0:
                # Rows that hold the pair are not allowed at all here.
                barred |= both
            for one, other in ((first, second), (second, first)):
                if first != second and low >= self.demands[one]:
                    # No more bars than that hold the one piece at all, so none holds it without the other.
                    barred |= (rows[:, one] > 0) & (rows[:, other] == 0)
        for price, pieces in halves:
            # Halved and rounded down bar by bar, these pieces come to no more than rounded at once.
            total -= price * (sum(self.demands[i] for i in pieces) // 2)
            reduced = reduced + price * (rows[:, pieces].sum(axis=1) // 2)
        reduced = np.where(barred, LARGEST, reduced)
        others = [k for k in range(len(self.kinds)) if k not in listed]
        least = self._reduced(prices, others)
        inside = _Range(list(bars.kind), list(bars.stock), bars.total)
        for k in listed:
            mine = reduced[(kinds == k) & (reduced < LARGEST)]
            least[k] = int(mine.min()) if len(mine) else 0
            if not len(mine):
                inside.kind[k] = (inside.kind[k][0], 0)
        value = self._least(least, inside)
        excess = np.where(reduced >= LARGEST, LARGEST, reduced - np.array(least, np.int64)[kinds])
        for k in listed:
            # A plan with such a row has at least one bar of its kind.
            with_one = _Range(list(inside.kind), inside.stock, inside.total)
            with_one.kind[k] = (max(1, inside.kind[k][0]), inside.kind[k][1])
            more = min(LARGEST, self._least(least, with_one) - value)
            excess[kinds == k] = np.minimum(LARGEST, excess[kinds == k]) + more
        return total + value, excess

    def _patterns(self, k: int, tests: Sequence[tuple[Sequence[int], int]]) -> Table:
        """Every pattern of a kind that passes each test, as rows: it is worth `least` at the prices."""
        capacity, may = self.kinds[k]["capacity"], self.kinds[k]["allowed"]
        pieces = [i for i in range(len(self.sizes)) if may is None or may[i]]
        # The first tests weed while patterns grow, as many as memory allows; all of them do at the end.
        first = max(1, MOST_CELLS // ((capacity + 1) * max(1, len(pieces))))
        weeds = [(prices, least, self._rest(k, pieces, prices)) for prices, least in tests[:first]]
        used = np.zeros(1, np.int64)
        worths = [np.zeros(1, np.int64) for _ in weeds]
        opened = {block: np.zeros(1, np.bool_) for block in range(len(self.openings))}
        grown: list[tuple[int, npt.NDArray[np.intp], Table]] = []
        for place, i in enumerate(pieces):
            most = min(self.demands[i], capacity // self.sizes[i])
            _need(len(used) * (most + 1) <= MOST_GROWN, "too many patterns to check")
            times = np.tile(np.arange(most + 1), len(used))
            parent = np.repeat(np.arange(len(used)), most + 1)
            more = used[parent] + times * self.sizes[i]
            if self.blocks[i] >= 0:
                closed = ~opened[self.blocks[i]][parent]
                more = more + np.where(closed & (times > 0), self.openings[self.blocks[i]], 0)
            keep = np.nonzero(more <= capacity)[0]
            for (prices, least, rest), worth in zip(weeds, worths, strict=True):
                reach = worth[parent[keep]] + times[keep] * prices[i] + rest[place][more[keep]]
                keep = keep[reach >= least]
            _need(len(keep) <= MOST_LISTED, "too many patterns to check")
            parent, times, used = parent[keep], times[keep], more[keep]
            worths = [w[parent] + times * prices[i] for (prices, _, _), w in zip(weeds, worths, strict=True)]
            opened = {b: o[parent] | ((times > 0) & (self.blocks[i] == b)) for b, o in opened.items()}
            grown.append((i, parent, times))
        rows = np.zeros((len(used), len(self.sizes)), np.int64)
        at = np.arange(len(used))
        for i, parent, times in reversed(grown):
            rows[:, i] = times[at]
            at = parent[at]
        rows = rows[rows.any(axis=1)]
        credit = self._credits[k]
        for prices, least in tests:
            worth = rows @ np.array(prices, np.int64)
            if credit is not None:
                worth = worth + credit[self._used(rows)]
            rows = rows[worth >= least]
        return rows

    def _rest(self, k: int, pieces: Sequence[int], prices: Sequence[int]) -> list[Table]:
        """`rest[p][u]`: the most that the pieces after place p and the credit add to u units already used."""
        credit = self._credits[k]
        rest = [np.zeros(self.kinds[k]["capacity"] + 1, np.int64) if credit is None else credit]
        for i in pieces[:0:-1]:
            table = rest[-1][::-1].copy()
            if prices[i] > 0:
                self._add_piece(table, i, prices[i])
            rest.append(table[::-1].copy())
        return rest[::-1]

    def _used(self, rows: Table) -> Table:
        """Units that each row takes."""
        used: Table = rows @ np.array(self.sizes, np.int64)
        for block, opening in enumerate(self.openings):
            members = [i for i, b in enumerate(self.blocks) if b == block]
            used = used + np.where(rows[:, members].any(axis=1), opening, 0)
        return used


def _level(level: str) -> str:
    _need(level in ("kind", "stock"), f"unknown level {level!r}")
    return level
