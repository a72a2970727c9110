"""The part of the checker of proofs that is about the list, the bars and the plan; see `proof_checker`."""

from collections import namedtuple
from itertools import product
from math import cos, floor, radians, tan

CENT = 10_000
Size = namedtuple("Size", "room kerf block opening heat")


class Wrong(Exception):
    """The proof does not hold."""


def need(holds, text):
    if not holds:
        raise Wrong(text)


def whole(numbers):
    need(all(type(n) is int and n >= 0 for n in numbers), "a number is not whole, or below 0")


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
        self.whole = [bar["length"] - self.saw["trim"] for bar in self.bars]
        off = [self.saw["grip"] + bar["tolerance"] for bar in self.bars]
        self.room = [whole - lost for whole, lost in zip(self.whole, off, strict=True)]

    def size_of(self, piece):
        saw, (one, two) = self.saw, (abs(mitre) for mitre in piece["mitres"])
        steep, step, kerf, shared = max(one, two), saw["mitre_step"], saw["kerf"], 0
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
        room = sum(self.bars[b]["limit"] * (self.room[b] + kerf) for b in bars)
        return sum(size.room * d for size, d in mine) > room
