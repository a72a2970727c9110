"""Referees for the plain problem: one bar length, fewest bars. Nothing of the planner is used."""

from itertools import pairwise
from time import monotonic

import numpy as np


def quiet():
    """HiGHS without its greeting, which 1.16 prints while it enables callbacks."""
    import highspy

    class Quiet(highspy.Highs):
        def enableCallbacks(self):
            self.silent()
            super().enableCallbacks()

    return Quiet()


def first_fit_rooms(sizes, demands, capacity):
    """First-fit decreasing: for each bar, how often each piece is cut from it."""
    room: list[int] = []
    cut: list[dict[int, int]] = []
    for size, i in sorted(((size, i) for i, size in enumerate(sizes)), reverse=True):
        for _ in range(demands[i]):
            at = next((at for at, left in enumerate(room) if left >= size), None)
            if at is None:
                at = len(room)
                room.append(capacity)
                cut.append({})
            room[at] -= size
            cut[at][i] = cut[at].get(i, 0) + 1
    return cut


def first_fit_decreasing(sizes, demands, capacity):
    """Bars that first-fit decreasing takes."""
    return len(first_fit_rooms(sizes, demands, capacity))


def fewest_by_cp_sat(sizes, demands, capacity, seconds):
    """(bars or None, lower bound, proven) by CP-SAT with one worker."""
    from ortools.sat.python import cp_model

    most = first_fit_decreasing(sizes, demands, capacity)
    least = -(-sum(w * d for w, d in zip(sizes, demands, strict=True)) // capacity)
    model = cp_model.CpModel()
    used = [model.NewBoolVar("") for _ in range(most)]
    cut = [
        [model.NewIntVar(0, min(d, capacity // w), "") for w, d in zip(sizes, demands, strict=True)]
        for _ in used
    ]
    for bar, row in zip(used, cut, strict=True):
        model.Add(sum(w * n for w, n in zip(sizes, row, strict=True)) <= capacity * bar)
    for i, demand in enumerate(demands):
        model.Add(sum(row[i] for row in cut) == demand)
    for one, two in pairwise(used):
        model.AddImplication(two, one)
    for bar in used[:least]:
        model.Add(bar == 1)
    for row, start in zip(cut, first_fit_rooms(sizes, demands, capacity), strict=True):
        for i, n in enumerate(row):
            model.AddHint(n, start.get(i, 0))
    model.Minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.Solve(model)
    bars = round(solver.ObjectiveValue()) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
    return bars, round(solver.BestObjectiveBound()), status == cp_model.OPTIMAL


def fewest_by_arc_flow(sizes, demands, capacity, seconds):
    """(bars or None, lower bound, proven) by HiGHS on the arc-flow model of a bar.

    A node is a place on the bar that longest-first cutting can reach; an arc cuts a
    piece there; a path from 0 to the end is a bar.
    """
    import highspy

    start = monotonic()
    order = sorted(range(len(sizes)), key=lambda i: -sizes[i])
    reach = np.zeros(capacity + 1, bool)
    reach[0] = True
    arcs: list[tuple[int, int, int]] = []
    for i in order:
        now = reach.copy()
        for _ in range(min(demands[i], capacity // sizes[i])):
            tails = np.nonzero(now[: capacity + 1 - sizes[i]])[0]
            fresh = np.zeros_like(reach)
            fresh[tails + sizes[i]] = True
            now = fresh & ~reach if not len(arcs) else fresh
            arcs += [(int(t), int(t) + sizes[i], i) for t in tails]
            reach |= fresh
            if monotonic() - start > seconds:
                return None, 0, False
    arcs = sorted(set(arcs))
    nodes = [int(n) for n in np.nonzero(reach)[0]]
    if capacity not in nodes:
        nodes.append(capacity)
    losses = list(pairwise(nodes))
    place = {node: at for at, node in enumerate(nodes)}
    columns = [(place[t], place[h], i) for t, h, i in arcs] + [(place[t], place[h], -1) for t, h in losses]
    count = len(columns) + 1
    rows = len(nodes) + len(sizes)
    entries: list[list[tuple[int, float]]] = [[] for _ in range(rows)]
    for at, (tail, head, piece) in enumerate(columns):
        entries[tail].append((at, -1.0))
        entries[head].append((at, 1.0))
        if piece >= 0:
            entries[len(nodes) + piece].append((at, 1.0))
    entries[0].append((count - 1, 1.0))
    entries[place[capacity]].append((count - 1, -1.0))
    solver = quiet()
    for name, value in (("threads", 1), ("parallel", "off")):
        solver.setOptionValue(name, value)
    solver.addVars(count, np.zeros(count), np.full(count, float(sum(demands))))
    solver.changeColCost(count - 1, 1.0)
    index = np.arange(count, dtype=np.int32)
    solver.changeColsIntegrality(count, index, np.full(count, 1, np.uint8))
    for row, items in enumerate(entries):
        low = 0.0 if row < len(nodes) else float(demands[row - len(nodes)])
        high = 0.0 if row < len(nodes) else float("inf")
        solver.addRow(
            low, high, len(items), np.array([c for c, _ in items], np.int32), np.array([v for _, v in items])
        )
    solver.setOptionValue("time_limit", max(0.1, seconds - (monotonic() - start)))
    solver.run()
    info = solver.getInfo()
    proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    bars = round(info.objective_function_value) if info.primal_solution_status == 2 else None
    bound = int(np.ceil(info.mip_dual_bound - 1e-6)) if np.isfinite(info.mip_dual_bound) else 0
    return bars, bound, proven
