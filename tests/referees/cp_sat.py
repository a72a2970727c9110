"""The cheapest cutting by CP-SAT, one bar at a time: for small jobs, and for side by side times.

A model of its own: a bar is a row of counts, used or not; nothing of the planner is used.
"""

from fractions import Fraction
from math import cos, gcd, lcm, radians, tan

from ortools.sat.python import cp_model


def cheapest(pieces, stocks, rack, saw, *, seconds=30.0):
    """(cost, proven) as a Fraction of money, or of mm without prices; (None, proven) if there is no plan."""
    model = cp_model.CpModel()
    priced = any(stock.price is not None for stock in stocks)
    total = sum(piece.count for piece in pieces)
    rows = [_room(piece, saw) for piece in pieces]
    bars = []  # (length nm, price, source, group of interchangeable bars)
    for number, stock in enumerate(stocks):
        limit = total if stock.limit is None else min(total, stock.limit)
        source = ("bought", stock.supplier, stock.length.nm)
        bars += [(stock.length.nm, stock.price, source, ("stock", number))] * limit
    for bar in rack:
        source = ("heat", bar.heat) if bar.heat else ("piece", bar.piece)
        bars.append((bar.length.nm, None, source, ("rack", bar.piece)))
    step = gcd(*(size for room, _, *rest in rows for size in (room, *rest)))
    grain = gcd(step, *(bar[0] for bar in bars), saw.trim.nm, saw.grip.nm)
    if saw.keep_min is not None:
        grain = gcd(grain, saw.keep_min.nm)
    percent = Fraction(saw.keep_percent) if priced and saw.keep_min is not None else Fraction(0)
    unit = lcm(*(bar[0] // grain for bar in bars)) * 100 * percent.denominator * 10_000
    groups = sorted({piece.heat_group for piece in pieces if piece.heat_group})
    sources = sorted({bar[2] for bar in bars}, key=str)
    chosen = {(g, s): model.NewBoolVar("") for g in groups for s in sources}
    for group in groups:
        model.AddExactlyOne(chosen[group, s] for s in sources)
    counts = []
    terms = []
    before = None
    for length, price, source, alike in bars:
        used = model.NewBoolVar("")
        row = [model.NewIntVar(0, piece.count, "") for piece in pieces]
        counts.append(row)
        room = (length - saw.trim.nm - saw.grip.nm) // grain
        spent = sum(n * (r // grain) for n, (r, _, _, _) in zip(row, rows, strict=True))
        # The narrowest kerf in the bar is spared: after the last piece nothing is sawn.
        spared = model.NewIntVar(0, max(kerf for *_, kerf in rows) // grain, "")
        for n, (*_, kerf) in zip(row, rows, strict=True):
            here = model.NewBoolVar("")
            model.Add(n == 0).OnlyEnforceIf(here.Not())
            model.Add(spared <= kerf // grain).OnlyEnforceIf(here)
        spent -= spared
        for block in {b for _, b, _, _ in rows if b is not None}:
            opened = model.NewBoolVar("")
            members = [n for n, (_, b, _, _) in zip(row, rows, strict=True) if b == block]
            for n in members:
                model.Add(n == 0).OnlyEnforceIf(opened.Not())
            spent += opened * (next(s for _, b, s, _ in rows if b == block) // grain)
        if room < 0:
            model.Add(used == 0)
            room = 0
        model.Add(spent <= room)
        for n, piece in zip(row, pieces, strict=True):
            model.Add(n == 0).OnlyEnforceIf(used.Not())
            if piece.heat_group:
                model.Add(n == 0).OnlyEnforceIf(chosen[piece.heat_group, source].Not())
        if before is not None and before[0] == alike:
            model.AddImplication(used, before[1])
        before = (alike, used)
        if source[0] != "bought":
            continue
        if not priced:
            terms.append(used * length)
            continue
        terms.append(used * int(Fraction(price) * unit))
        if percent:
            kept = model.NewBoolVar("")
            worth = model.NewIntVar(0, length // grain, "")
            left = room - spent - spared + saw.grip.nm // grain  # the cut that frees it takes its kerf
            model.Add(left >= saw.keep_min.nm // grain).OnlyEnforceIf(kept)
            model.Add(worth == 0).OnlyEnforceIf(kept.Not())
            model.Add(worth <= left).OnlyEnforceIf(kept)
            model.AddImplication(kept, used)
            rate = Fraction(price) * percent / 100 / (length // grain)
            cents = model.NewIntVar(0, int(rate * (length // grain) * 100), "")  # whole cents are credited
            model.Add(cents * (unit // 100) <= worth * int(rate * unit))
            terms.append(-cents * (unit // 100))
    for i, piece in enumerate(pieces):
        model.Add(sum(row[i] for row in counts) == piece.count)
    model.Minimize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = seconds  # work counted, not the clock
    status = solver.Solve(model)
    if status == cp_model.INFEASIBLE:
        return None, True
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, False
    value = Fraction(round(solver.ObjectiveValue()))
    cost = value / unit if priced else value / 1_000_000
    return cost, status == cp_model.OPTIMAL


def _room(piece, saw):
    """Room of a piece with its kerf, its nesting block, what neighbours in the block share, and the kerf."""
    first, second = piece.mitres
    steep = max(abs(first), abs(second))
    kerf = saw.kerf.nm if not steep else -int(-(saw.kerf.nm / cos(radians(steep)) - 1) // 100_000) * 100_000
    shared = int(piece.depth.nm * tan(radians(steep)) + 1) // 100_000 * 100_000 if steep else 0
    nests = saw.nest_mitres and abs(first) == abs(second) and piece.length.nm > 2 * shared > 0
    if not nests:
        return piece.length.nm + kerf, None, 0, kerf
    return piece.length.nm + kerf - shared, (piece.depth.nm, steep), shared, kerf
