"""Work on welds, by process and metal: fit-up, tacks, arc time, cleaning; wire and gas used.

Arc time follows from the mass of weld metal, or from the greatest travel speed by hand where that takes
longer.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from math import ceil, pi

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.welding import STEEL_DENSITY, filler_bought_kg, weld_area_mm2, weld_mass_kg
from shopquote.calc.pricing.work_items import Pairs, UsedUp, WorkItem

LONG_PIECE = "weld.long-piece"
LONG_FROM = "weld.long-from"
# Assemblies from this number of pieces on are frames, which must be held square; two pieces are a bracket.
LEAST_OF_A_FRAME = 3


def weld_minutes(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    """The work of all welds: fit-up per joint, tacks by the joint's length, welds by process and metal.

    Tacks that hold a joint for welding are counted with that weld; tack welds listed in the job join pieces
    of their own.
    """
    if not job.welds:
        return
    beads = [weld for weld in job.welds if weld.kind != "tack"]
    joints = sum(joints_of(weld, job) for weld in beads)
    tacks = sum(weld.count for weld in job.welds if weld.kind == "tack")
    held = sum(joints_of(weld, job) * _tacks_in(weld, book) for weld in beads)
    processes = {weld.process for weld in job.welds}
    fitted = sum(joints_of(weld, job) * _handled(weld, pairs, book) for weld in job.welds)
    yield WorkItem("fit-up", "fit up a joint", "weld.fit-up", "run", fitted)
    yield WorkItem("fit-up", "tack", "weld.tack", "run", tacks + held)
    framed = _framed_metres(job, pairs, book)
    yield WorkItem("fit-up", "square a frame and straighten it once welded", "weld.square", "run", framed)
    yield WorkItem("welding", "set up to weld", "weld.job-set-up", "set-up", per_job=len(processes))
    if joints:
        yield WorkItem("welding", "turn the work", "weld.turn", "run", joints)
    for weld in beads:
        metal, density = _metal(weld, pairs)
        # The share of a welder's time in which the arc burns.
        factor = book.divisor(f"weld.operating-factor.{weld.process}") / 100
        standard, units = _arc(weld, metal, density, book)
        what = f"{'lay down' if 'deposition' in standard else 'travel along'} {weld.process} weld metal"
        yield WorkItem("welding", what, standard, "run", units / factor, how="over")
        cleaning = book.of_metal(f"weld.clean.{weld.process}", metal)
        metres = passes_of(weld, book) * weld_metres(weld)
        yield WorkItem("welding", f"clean {weld.process} welds", cleaning, "run", metres)


def joints_of(weld: WeldSpec, job: JobSpec) -> int:
    """Number of joints to be fitted up in a set: as the job says, else one for each weld.

    Limited by the pieces: two pieces meet in one joint, even if it is welded on both sides.
    """
    if weld.joints:
        return weld.joints
    # Pieces in one assembly, rounded up where they are not shared out evenly.
    in_one = {part.mark: ceil(part.per_set / job.assemblies) for part in job.parts}
    named = [in_one.get(mark, 1) for mark in sorted(set(weld.joins))]
    if len(named) == 2:
        pairs_of_pieces = named[0] * named[1] * job.assemblies
    else:
        pieces = sum(named or in_one.values())
        pairs_of_pieces = pieces * (pieces - 1) // 2 * job.assemblies
    return min(weld.count, pairs_of_pieces) if pairs_of_pieces else weld.count


def _handled(weld: WeldSpec, pairs: Pairs, book: StandardsBook) -> float:
    """Factor of fit-up time for long pieces, which take longer to measure, hold and square.

    Where a weld names what it joins, its shorter piece counts; else the share of long pieces in the job.
    """
    longer = float(book.value(LONG_PIECE)) - 1
    long = {part.mark: _is_long(answer, book) for part, answer in pairs}
    named = {mark for mark in weld.joins if mark in long}
    if len(named) > 1:
        return 1 + longer * all(long[mark] for mark in named)
    of = [(part.per_set, long[part.mark]) for part, _ in pairs if part.mark in named or not named]
    pieces = sum(count for count, _ in of)
    return 1 + longer * sum(count for count, is_long in of if is_long) / pieces if pieces else 1.0


def _framed_metres(job: JobSpec, pairs: Pairs, book: StandardsBook) -> float:
    """Total length in m of long pieces in a set's frames."""
    if sum(part.per_set for part in job.parts) < LEAST_OF_A_FRAME * job.assemblies:
        return 0.0
    return sum(part.per_set * answer.cut.mm_float / 1000 for part, answer in pairs if _is_long(answer, book))


def _is_long(answer: PartAnswer, book: StandardsBook) -> bool:
    return answer.cut.mm_float > float(book.value(LONG_FROM))


def passes_of(weld: WeldSpec, book: StandardsBook) -> int:
    """Number of passes of a weld: as the job says, or enough of the largest leg that one pass lays down."""
    if weld.kind == "plug":
        return weld.passes
    most = book.divisor("weld.pass-leg")
    # Less a hair, so that rounding adds no pass to a weld of exactly the largest leg.
    return max(weld.passes, ceil(_area_mm2(weld, book) / (most**2 / 2) - 1e-9))


def weld_metres(weld: WeldSpec) -> float:
    """Length in metres to clean or dress; for a plug its rim."""
    each = pi * weld.leg.length.mm_float if weld.kind == "plug" else weld.length.length.mm_float
    return weld.count * each / 1000


def used_in_welding(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[UsedUp]:
    """Consumables: wire or rod by the mass of weld metal, gas by arc time, each by group of metal."""
    laid: dict[tuple[str, str], float] = defaultdict(float)
    gas: dict[str, float] = defaultdict(float)
    for weld in job.welds:
        metal, density = _metal(weld, pairs)
        price = book.of_metal(f"weld.filler-price.{weld.process}", metal)
        laid[weld.process, price] += _deposited_kg(weld, density, book)
        flow = book.of_metal(f"weld.gas-flow.{weld.process}", metal)
        if flow in book:
            standard, units = _arc(weld, metal, density, book)
            gas[weld.process] += units / book.divisor(standard) * float(book.value(flow)) / 1000
    for (process, price), kg in sorted(laid.items()):
        stub = book.value(f"weld.stub-loss.{process}") if f"weld.stub-loss.{process}" in book else 0
        filler = filler_bought_kg(kg, book.divisor(f"weld.efficiency.{process}"), float(stub))
        yield UsedUp(f"{process} wire or rod", price, "kg", filler)
    for process, cubic_metres in sorted(gas.items()):
        yield UsedUp(f"{process} gas", "weld.gas-price", "m3", cubic_metres)


def _tacks_in(weld: WeldSpec, book: StandardsBook) -> int:
    """Number of tacks that hold one joint: a minimum, and more for a long one."""
    spaced = ceil(weld.length.length.mm_float / book.divisor("weld.tack-spacing"))
    return max(int(book.value("weld.tacks")), spaced + 1 if spaced > 1 else 0)


def _metal(weld: WeldSpec, pairs: Pairs) -> tuple[str, float]:
    """Group and density (kg/m3) of the weld metal: of the grade with the most mass among the parts joined."""
    joined: Pairs = [pair for pair in pairs if pair[0].mark in weld.joins] or pairs
    masses: Counter[tuple[str, float]] = Counter()
    for part, answer in joined:
        masses[answer.grade.family, answer.grade.density_kg_m3] += _mass_g(part, answer)
    return masses.most_common(1)[0][0] if masses else ("mild", STEEL_DENSITY)


def _mass_g(part: PartSpec, answer: PartAnswer) -> int:
    # Whole grams, so that equal masses are equal and the first typed wins a tie.
    return round(1000 * part.per_set * answer.mass_kg)


def _arc(weld: WeldSpec, metal: str, density: float, book: StandardsBook) -> tuple[str, float]:
    """The standard that limits the arc, and its units in a set.

    By deposition rate, in kg x 60; or by travel speed, in mm, where that takes longer.
    """
    deposition = book.of_metal(f"weld.deposition.{weld.process}", metal)
    travel = book.of_metal(f"weld.travel.{weld.process}", metal)
    kg = _deposited_kg(weld, density, book)
    mm = 0.0 if weld.kind == "plug" else passes_of(weld, book) * weld_metres(weld) * 1000
    # The deposition rate is per hour, the travel speed per minute.
    by_metal, by_travel = kg * 60 / book.divisor(deposition), mm / book.divisor(travel)
    return (travel, mm) if by_travel > by_metal else (deposition, kg * 60)


def _area_mm2(weld: WeldSpec, book: StandardsBook) -> float:
    return weld_area_mm2(
        weld.kind,
        weld.leg.length.mm_float,
        groove_angle=float(book.value("weld.groove-angle")),
        root_gap_mm=float(book.value("weld.root-gap")),
    )


def _deposited_kg(weld: WeldSpec, density: float, book: StandardsBook) -> float:
    """Mass of weld metal in a set in kg, for all welds of this kind."""
    reinforcement = float(book.value("weld.reinforcement"))
    length = weld.length.length.mm_float
    return weld.count * weld_mass_kg(_area_mm2(weld, book), length, density, reinforcement)
