"""What a proof says of the list, the bars and the saw, the model that follows, and how a proof is refused.

Uses nothing of the planner. All arithmetic is in whole numbers, but for the cosine and tangent of a mitre,
from which the saw's kerf and overlap are rounded to its step.
"""

from collections.abc import Sequence
from itertools import product
from math import cos, floor, gcd, radians, tan
from typing import Any

import numpy as np
import numpy.typing as npt

from shopquote.calc.frozen import dataclass

CENT = 10_000  # millionths of money
# A sum of two such numbers still fits the 64 bits of an array's cell.
LARGEST = 1 << 61
Table = npt.NDArray[np.int64]


class Refused(Exception):
    """The proof does not hold; the text says where."""


def need(holds: bool, text: str) -> None:
    """Refuse the proof unless it holds."""
    if not holds:
        raise Refused(text)


def whole(values: Sequence[Any], least: int) -> list[int]:
    """Whole numbers from `least` up, or refused."""
    for value in values:
        need(
            isinstance(value, int) and not isinstance(value, bool) and value >= least,
            "a number is not whole or in range",
        )
    return list(values)


@dataclass(frozen=True, slots=True)
class GivenSize:
    """Nanometres along the bar with kerf, the kerf, the nesting block and its opening, the heat group."""

    room: int
    kerf: int
    block: tuple[int, float] | None
    opening: int
    heat: str | None


@dataclass(frozen=True, slots=True)
class CutKind:
    """A way to cut a bar: with a narrowest kerf, and with or without a rest that is kept and credited.

    A bar with `slack` units left earns (slack * slope + base) // over cents, in the model's cost unit.
    """

    bar: int
    capacity: int
    cost: int
    limit: int
    credit: tuple[int, int, int, int]
    allowed: tuple[bool, ...]

    @property
    def kept(self) -> bool:
        """Whether the rest is kept and credited."""
        return bool(self.credit[0] or self.credit[1])

    def credit_of(self, slack: int) -> int:
        """Credit of one bar with this much slack, never more than the bar costs."""
        slope, base, over, step = self.credit
        return min(self.cost, (slack * slope + base) // over * step)

    def credits(self) -> Table:
        """Credit by the units used."""
        slope, base, over, step = self.credit
        if self.capacity * slope + base < LARGEST and self.cost < LARGEST:
            slack = np.arange(self.capacity, -1, -1, dtype=np.int64)
            return np.asarray(np.minimum(self.cost, (slack * slope + base) // over * step), np.int64)
        row = [self.credit_of(self.capacity - used) for used in range(self.capacity + 1)]
        need(max(row) < LARGEST, "a credit is too large")
        return np.array(row, np.int64)


class Given:
    """The list, the bars and the saw of a proof."""

    def __init__(self, proof: dict[str, Any]) -> None:
        self.saw, self.bars, self.pieces = proof["saw"], proof["bars"], proof["pieces"]
        saw = self.saw
        whole([saw["kerf"], saw["trim"], saw["grip"], saw["keep"] or 0], 0)
        whole([saw["mitre_step"], saw["percent"][1]], 1)
        need(0 <= whole([saw["percent"][0]], 0)[0] <= 100 * saw["percent"][1], "the per cent is out of range")
        for bar in self.bars:
            whole([bar["price"], bar["tolerance"], bar["limit"] or 0], 0)
            whole([bar["length"]], 1)
            need(not bar["rack"] or (bar["limit"] == len(bar["rack"]) and not bar["price"]), "a rack bar")
        sizes: dict[int, GivenSize] = {}
        demands: dict[int, int] = {}
        for piece in self.pieces:
            at, size = whole([piece["size"]], 0)[0], self._size(piece)
            need(sizes.setdefault(at, size) == size, "pieces of one size differ")
            demands[at] = demands.get(at, 0) + whole([piece["count"]], 1)[0]
        need(sorted(sizes) == list(range(len(sizes))) and len(sizes) > 0, "sizes are not numbered")
        self.sizes = [sizes[at] for at in range(len(sizes))]
        self.demands = [demands[at] for at in range(len(sizes))]
        need(sum(self.demands) < LARGEST, "too many pieces")

    def _size(self, piece: dict[str, Any]) -> GivenSize:
        saw, (first, second) = self.saw, (abs(m) for m in piece["mitres"])
        length, step, steep = whole([piece["length"]], 1)[0], saw["mitre_step"], max(first, second)
        need(0 <= steep < 80, "a mitre is out of range")
        kerf, shared = saw["kerf"], 0
        if steep:
            kerf = -floor(-(kerf / cos(radians(steep)) - 1) // step) * step
            shared = floor(whole([piece["depth"]], 0)[0] * tan(radians(steep)) + 1) // step * step
        if not saw["nests"] or first != second or length <= 2 * shared or not shared:
            return GivenSize(length + kerf, kerf, None, 0, piece["heat"])
        return GivenSize(length + kerf - shared, kerf, (piece["depth"], steep), shared, piece["heat"])

    def whole_of(self, bar: dict[str, Any]) -> int:
        """Nanometres for pieces, kerfs and offcut."""
        return int(bar["length"] - self.saw["trim"])

    def room_of(self, bar: dict[str, Any]) -> int:
        """Nanometres for pieces and the kerfs between them."""
        return self.whole_of(bar) - int(self.saw["grip"]) - int(bar["tolerance"])

    # ---- the plan -----------------------------------------------------------------------

    def check_plan(self, plan: Sequence[Any], cost: int) -> None:
        """Bars hold their pieces as these are, limits and heats are kept, all is cut, the cost is right."""
        cut, taken, total = [0] * len(self.pieces), [0] * len(self.bars), 0
        heats: dict[str, set[tuple[str, ...]]] = {}
        for row in plan:
            bar, (count,) = self.bars[whole([row["bar"]], 0)[0]], whole([row["count"]], 1)
            load = [(whole([at], 0)[0], whole([n], 1)[0]) for at, n in row["pieces"]]
            need(bool(load), "a bar of the plan is empty")
            held = [(self._size(self.pieces[at]), n) for at, n in load]
            used = sum(size.room * n for size, n in held)
            used += sum({size.block: size.opening for size, _ in held if size.block}.values())
            spared = min(size.kerf for size, _ in held)
            need(used - spared <= self.room_of(bar), "a bar of the plan holds more than its length")
            for at, n in load:
                cut[at] += n * count
                if self.pieces[at]["heat"] is not None:
                    heats.setdefault(self.pieces[at]["heat"], set()).add(tuple(bar["source"]))
            taken[row["bar"]] += count
            total += count * (bar["price"] - self._credit(bar, self.whole_of(bar) - used))
        need(cut == [piece["count"] for piece in self.pieces], "the plan does not cut the pieces asked for")
        need(
            all(bar["limit"] is None or n <= bar["limit"] for n, bar in zip(taken, self.bars, strict=True)),
            "the plan breaks a limit",
        )
        need(all(len(sources) == 1 for sources in heats.values()), "a piece is cut from another heat")
        need(total == cost, f"the plan costs {total}, not {cost}")

    def _credit(self, bar: dict[str, Any], left: int) -> int:
        keep, (part, of) = self.saw["keep"], self.saw["percent"]
        if keep is None or left < keep or left <= 0:
            return 0
        return int(bar["price"] * part * left // (of * 100 * bar["length"] * CENT) * CENT)

    # ---- heats and kinds of bars --------------------------------------------------------

    def check_heats(self, models: Sequence[dict[str, Any]]) -> None:
        """Every way to give one-heat groups their heat has a model, or cannot hold them."""
        groups = sorted({size.heat for size in self.sizes if size.heat is not None})
        sources = sorted({tuple(bar["source"]) for bar in self.bars})
        have = [{g: tuple(s) for g, s in model["heats"].items()} for model in models]
        need(len(sources) ** len(groups) <= 100_000, "too many heats to check")
        for choice in product(sources, repeat=len(groups)):
            heats = dict(zip(groups, choice, strict=True))
            need(heats in have or not self._holds(heats), "a choice of heats has no model")

    def _holds(self, heats: dict[str, tuple[str, ...]]) -> bool:
        return all(self._group_fits(group, source) for group, source in heats.items())

    def _group_fits(self, group: str, source: tuple[str, ...]) -> bool:
        """Whether the longest piece of a group, and all of them, go into the bars of a source."""
        mine = [bar for bar in self.bars if tuple(bar["source"]) == source and bar["limit"] != 0]
        wanted = [i for i, size in enumerate(self.sizes) if size.heat == group]
        alone = max(self.sizes[i].room - self.sizes[i].kerf + self.sizes[i].opening for i in wanted)
        if not mine or alone > max(self.room_of(bar) for bar in mine):
            return False
        if any(bar["limit"] is None for bar in mine):
            return True
        widest = max(self.sizes[i].kerf for i in wanted)
        total = sum(bar["limit"] * max(0, self.room_of(bar) + widest) for bar in mine)
        return bool(sum(self.sizes[i].room * self.demands[i] for i in wanted) <= total)

    def kinds_of(self, model: dict[str, Any]) -> list[CutKind]:
        """The kinds of bars that a model speaks of; refused where they leave out what a plan could cut."""
        whole([model["step"], model["cost_unit"]], 1)
        for way in model["kinds"]:
            whole(way, 0)
        kinds = [self._kind(model, number, kerf, bool(kept)) for number, kerf, kept in model["kinds"]]
        found = [kind for kind in kinds if kind is not None]
        need(len(found) == len(kinds), "a kind of bar holds nothing")
        there = {tuple(way) for way in model["kinds"]}
        kerfs = sorted({size.kerf for size in self.sizes})
        for number, kerf, kept in product(range(len(self.bars)), kerfs, (0, 1)):
            if self.bars[number]["limit"] == 0 or (number, kerf, kept) in there:
                continue
            way = self._kind(model, number, kerf, bool(kept))
            need(
                way is None or any(self._covers(kind, way) for kind in found),
                f"bar {number} is left out, though it may be cheaper",
            )
        return found

    def _covers(self, kind: CutKind, way: CutKind) -> bool:
        """Whether the kind holds all that the other way does, never costs more, and does not run out."""
        if kind.bar != way.bar and self.bars[kind.bar]["limit"] is not None:
            return False
        if kind.capacity < way.capacity or any(
            w and not k for k, w in zip(kind.allowed, way.allowed, strict=True)
        ):
            return False
        theirs, mine = way.cost - way.credits(), kind.cost - kind.credits()
        # Where the kind has more room, as many units used leave more slack.
        return bool((mine[: way.capacity + 1] <= theirs).all())

    def _kind(self, model: dict[str, Any], number: int, kerf: int, kept: bool) -> CutKind | None:
        """A way to cut a bar with this narrowest kerf; None where it holds no piece, or credits nothing."""
        bar, total, step, unit = self.bars[number], sum(self.demands), model["step"], model["cost_unit"]
        allowed = self._allowed(model, bar, kerf)
        room, rest = self.room_of(bar) + kerf, self.whole_of(bar)
        keep = self.saw["keep"]
        if kept and (keep is None or not bar["price"] * self.saw["percent"][0]):
            return None
        capacity = (min(rest - keep, room) if kept else room) // step
        takes = (
            size.room // step + size.opening // step
            for may, size in zip(allowed, self.sizes, strict=True)
            if may
        )
        if capacity < min(takes, default=capacity + 1):
            return None
        need(capacity <= 10_000_000 and bar["price"] % unit == 0, "a kind of bar is out of range")
        need(not kept or CENT % unit == 0, "cents are no multiple of the cost unit")
        credit = self._slopes(bar, capacity, step, unit) if kept else (0, 0, 1, 0)
        limit = total if bar["limit"] is None else min(total, bar["limit"])
        return CutKind(number, capacity, bar["price"] // unit, limit, credit, allowed)

    def _allowed(self, model: dict[str, Any], bar: dict[str, Any], kerf: int) -> tuple[bool, ...]:
        """Which sizes come from a bar's heat, and take no less than this kerf."""
        source = tuple(bar["source"])
        sources = {group: tuple(heat) for group, heat in model["heats"].items()}
        return tuple(
            size.kerf >= kerf and (size.heat is None or sources[size.heat] == source) for size in self.sizes
        )

    def _slopes(self, bar: dict[str, Any], capacity: int, step: int, unit: int) -> tuple[int, int, int, int]:
        """What a bar's rest earns by the units left of its capacity: see `CutKind`."""
        part, of = self.saw["percent"]
        spare, top = self.whole_of(bar) - capacity * step, bar["price"] * part
        over = of * 100 * bar["length"] * CENT
        least = gcd(top * step, top * spare, over)
        return top * step // least, top * spare // least, over // least, CENT // unit
