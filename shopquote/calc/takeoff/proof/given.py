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


@dataclass(frozen=True, slots=True)
class GivenSize:
    """Nanometres along the bar with kerf, the kerf, the nesting block and its opening, the heat group."""

    room: int
    kerf: int
    block: tuple[int, float] | None
    opening: int
    heat: str | None

    @property
    def alone(self) -> int:
        """Nanometres that one piece takes of a bar by itself."""
        return self.room - self.kerf + self.opening


@dataclass(frozen=True, slots=True)
class CutKind:
    """A way to cut a bar: with a narrowest kerf, and with or without a rest that is kept and credited.

    `credit`: of a bar whose rest is kept, by the units used. Costs are in the model's cost unit.
    """

    bar: int
    capacity: int
    cost: int
    limit: int
    allowed: tuple[bool, ...]
    credit: Table | None

    def net(self, capacity: int) -> Table:
        """Cost less credit, by the units used up to a capacity."""
        return np.asarray(self.cost - (0 if self.credit is None else self.credit[: capacity + 1]), np.int64)


class Given:
    """The list, the bars and the saw of a proof."""

    def __init__(self, proof: dict[str, Any]) -> None:
        self.saw, self.bars, self.pieces = proof["saw"], proof["bars"], proof["pieces"]
        part, of = self.saw["percent"]
        holds = self.saw["mitre_step"] > 0 and of > 0 and 0 <= part <= 100 * of
        least = min(self.saw["kerf"], self.saw["trim"], self.saw["grip"], self.saw["keep"] or 0)
        need(holds and least >= 0, "the saw is out of range")
        for bar in self.bars:
            need(bar["length"] > 0 <= min(bar["price"], bar["tolerance"]), "a bar is out of range")
        demands: dict[GivenSize, int] = {}
        for piece in self.pieces:
            need(piece["length"] > 0 and piece["count"] > 0, "a piece has no length or count")
            size = self._size(piece)
            demands[size] = demands.get(size, 0) + piece["count"]
        self.sizes, self.demands = list(demands), list(demands.values())
        total = sum(self.demands)
        need(0 < total < LARGEST, "no pieces, or too many")
        # No plan takes more bars than pieces.
        self.limits = [total if bar["limit"] is None else min(total, bar["limit"]) for bar in self.bars]

    def _size(self, piece: dict[str, Any]) -> GivenSize:
        saw, (first, second) = self.saw, (abs(float(m)) for m in piece["mitres"])
        length, step, steep = piece["length"], saw["mitre_step"], max(first, second)
        need(first < 80 > second and piece["depth"] >= 0, "a mitre is out of range")
        kerf, shared = saw["kerf"], 0
        if steep:
            kerf = -floor(-(kerf / cos(radians(steep)) - 1) // step) * step
            shared = floor(piece["depth"] * tan(radians(steep)) + 1) // step * step
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
        heats: dict[str, set[str]] = {}
        for row in plan:
            bar, count = self.bars[row["bar"]], row["count"]
            held = [(self._size(self.pieces[at]), n) for at, n in row["pieces"]]
            need(count > 0 < min((n for _, n in held), default=0), "a bar of the plan is empty")
            used = sum(size.room * n for size, n in held)
            used += sum({size.block: size.opening for size, _ in held if size.block}.values())
            spared = min(size.kerf for size, _ in held)
            need(used - spared <= self.room_of(bar), "a bar of the plan holds more than its length")
            for at, n in row["pieces"]:
                cut[at] += n * count
                if self.pieces[at]["heat"] is not None:
                    heats.setdefault(self.pieces[at]["heat"], set()).add(bar["source"])
            taken[row["bar"]] += count
            total += count * (bar["price"] - self._credit(bar, self.whole_of(bar) - used))
        need(cut == [piece["count"] for piece in self.pieces], "the plan does not cut the pieces asked for")
        need(
            all(bar["limit"] is None or n <= bar["limit"] for n, bar in zip(taken, self.bars, strict=True)),
            "the plan breaks a limit",
        )
        need(all(len(sources) == 1 for sources in heats.values()), "a piece is cut from another heat")
        need(total == cost, f"the plan costs {total}, not {cost}")

    def _rate(self, bar: dict[str, Any]) -> tuple[int, int]:
        """An offcut earns left * top // over cents: its part of the bar's price, at the per cent credited."""
        part, of = self.saw["percent"]
        top, over = bar["price"] * part, of * 100 * bar["length"] * CENT
        shared = gcd(top, over)
        return top // shared, over // shared

    def _credit(self, bar: dict[str, Any], left: int) -> int:
        """What an offcut earns, in millionths of money."""
        top, over = self._rate(bar)
        keep = self.saw["keep"]
        return 0 if keep is None or left < max(1, keep) else left * top // over * CENT

    # ---- heats and kinds of bars --------------------------------------------------------

    def check_heats(self, models: Sequence[dict[str, Any]]) -> None:
        """Every way to give one-heat groups their heat has a model, or cannot hold them."""
        groups = sorted({size.heat for size in self.sizes if size.heat is not None})
        sources = sorted({bar["source"] for bar in self.bars})
        have = [model["heats"] for model in models]
        need(len(sources) ** len(groups) <= 100_000, "too many heats to check")
        large = {(g, s) for g in groups for s in sources if self._too_large(g, s)}
        for choice in product(sources, repeat=len(groups)):
            heats = dict(zip(groups, choice, strict=True))
            need(heats in have or not large.isdisjoint(heats.items()), "a choice of heats has no model")

    def _too_large(self, group: str, source: str) -> bool:
        """Whether a group's pieces, from some length on, take more than the bars that hold one of them."""
        mine = [(size, n) for size, n in zip(self.sizes, self.demands, strict=True) if size.heat == group]
        widest = max(size.kerf for size, _ in mine)
        rooms = [
            (self.room_of(bar), limit)
            for bar, limit in zip(self.bars, self.limits, strict=True)
            if bar["source"] == source
        ]
        for least in {size.alone for size, _ in mine}:
            wanted = sum(size.room * n for size, n in mine if size.alone >= least)
            if wanted > sum(limit * (room + widest) for room, limit in rooms if room >= least):
                return True
        return False

    def kinds_of(self, model: dict[str, Any]) -> list[CutKind]:
        """The kinds of bars that a model speaks of; refused where they leave out what a plan could cut."""
        kinds = [self._kind(model, number, kerf, bool(kept)) for number, kerf, kept in model["kinds"]]
        there = {tuple(way) for way in model["kinds"]}
        kerfs = sorted({size.kerf for size in self.sizes})
        for number, kerf, kept in product(range(len(self.bars)), kerfs, (0, 1)):
            if self.limits[number] and (number, kerf, kept) not in there:
                way = self._kind(model, number, kerf, bool(kept))
                covered = not any(way.allowed) or any(self._covers(kind, way) for kind in kinds)
                need(covered, f"bar {number} is left out, though it may be cheaper")
        return kinds

    def _covers(self, kind: CutKind, way: CutKind) -> bool:
        """Whether the kind holds all that the other way does, never costs more, and does not run out."""
        if kind.bar != way.bar and self.bars[kind.bar]["limit"] is not None:
            return False
        if kind.capacity < way.capacity or any(
            w and not k for k, w in zip(kind.allowed, way.allowed, strict=True)
        ):
            return False
        # Where the kind has more room, as many units used leave more slack.
        return bool(np.all(kind.net(way.capacity) <= way.net(way.capacity)))

    def _kind(self, model: dict[str, Any], number: int, kerf: int, kept: bool) -> CutKind:
        """A way to cut a bar with this narrowest kerf, and the sizes that go into it."""
        bar, step, unit, keep = self.bars[number], model["step"], model["cost_unit"], self.saw["keep"]
        room = self.room_of(bar) + kerf
        if kept:
            room = -1 if keep is None else min(self.whole_of(bar) - keep, room)
        capacity = room // step
        allowed = tuple(
            size.kerf >= kerf
            and model["heats"].get(size.heat, bar["source"]) == bar["source"]
            and size.room // step + size.opening // step <= capacity
            for size in self.sizes
        )
        used = any(allowed)
        need(
            not used or (capacity <= 10_000_000 and bar["price"] % unit == 0), "a kind of bar is out of range"
        )
        credit = self._credits(bar, capacity, step, unit) if kept and used else None
        return CutKind(number, capacity, bar["price"] // unit, self.limits[number], allowed, credit)

    def _credits(self, bar: dict[str, Any], capacity: int, step: int, unit: int) -> Table:
        """What a kept rest earns by the units used, in cost units."""
        need(CENT % unit == 0, "cents are no multiple of the cost unit")
        top, over = self._rate(bar)
        left = self.whole_of(bar) - step * np.arange(capacity + 1, dtype=np.int64)
        if max(top * self.whole_of(bar), over) < LARGEST:
            return np.asarray(left * top // over * (CENT // unit), np.int64)
        return np.array([int(nm) * top // over * (CENT // unit) for nm in left], np.int64)
