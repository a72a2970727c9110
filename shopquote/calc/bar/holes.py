"""Volume of metal that holes remove, and the depth that is drilled.

Millimetres. A hole goes through the smaller size of the bar, through both walls of a hollow one, through one
leg of an angle. A countersink is 90 degrees to twice the diameter: common practice, no source.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from math import cos, pi, radians, sin, tan

from shopquote.calc.bar.moment import section_profile
from shopquote.calc.bar.part_answer import Problem
from shopquote.calc.bar.plastic import width_at
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.threads import find_thread, thread_of_size, threads_drilled
from shopquote.calc.job import BendAxis, HoleSpec
from shopquote.errors import CannotMakeError, InputError


def drilled(holes: Sequence[HoleSpec]) -> list[str]:
    """Holes in words with equal ones counted together, such as "4 x dia 9", in the order of the job."""
    counts: Counter[str] = Counter()
    for hole in holes:
        counts[" ".join([hole.size, *hole.works])] += hole.count
    return [f"{count} x {words}" for words, count in counts.items()]


def thread_problems(holes: Sequence[HoleSpec]) -> list[Problem]:
    """Tapped holes whose drill fits no thread."""
    found = []
    for hole in holes:
        if hole.dia is None or not hole.tapped or threads_drilled(hole.dia.length):
            continue
        meant = thread_of_size(hole.dia.length)
        cure = (
            f'{meant.name} is drilled {meant.drill_text}: write thread = "{meant.name}"'
            if meant
            else 'write the thread, such as thread = "M8"'
        )
        text = f"Hole {hole.dia.text}, tapped: that is the drill, and it fits no usual thread; {cure}."
        found.append(Problem("no-thread", text))
    return found


def hole_volume_mm3(
    section: Section, hole: HoleSpec, where: str, say: Say, axis: BendAxis = "easy", length_mm: float = 0.0
) -> float:
    """Volume in mm3 of one hole, in a bar that is bent about `axis`.

    `length_mm` is the bar's, for one along it.

    A slot's length is over its ends. A blind hole's depth is to its shoulder, with the drill's cone beyond. A
    counterbore is as deep as the hole's diameter, for the head of a socket screw.

    Raises:
        CannotMakeError: it leaves no metal, or its slot, depth or counterbore contradicts the hole.
    """
    if hole.drifted:
        # A drift pushes the metal aside and removes none.
        return 0.0
    dia = drill_mm(hole, where)
    if hole.along:
        return _along_mm3(section, hole, dia, where, say, length_mm)
    face = face_width_mm(section, hole, axis)
    _refuse_too_wide(dia, face, where, say)
    depth = hole_depth_mm(section, hole, axis)
    taken = _drilled_mm3(section, hole, dia, depth, where, say)
    if hole.is_countersunk:
        taken += _countersink_mm3(dia, depth, _sunk_to(hole, dia, face, where, say))
    if hole.counterbore is not None:
        bore = hole.counterbore.length.mm_float
        _refuse_too_wide(bore, face, where, say)
        if bore <= dia:
            raise CannotMakeError(
                f"{where}: a counterbore of {say(bore)} is no wider than its hole, {say(dia)}."
            )
        taken += pi / 4 * (bore * bore - dia * dia) * min(dia, depth)
    return taken


def _refuse_too_wide(dia: float, face: float, where: str, say: Say) -> None:
    if dia <= 0 or dia >= face:
        raise CannotMakeError(
            f"{where}: a hole of {say(dia)} leaves no metal in a bar {say(face)} wide.",
            hint=f"Make it smaller than {say(face)}, or use a wider bar.",
        )


def _drilled_mm3(section: Section, hole: HoleSpec, dia: float, depth: float, where: str, say: Say) -> float:
    """Volume in mm3 of a hole across the bar, through or blind, round or slotted."""
    longer = 0.0
    if hole.slot is not None:
        longer = hole.slot.length.mm_float - dia
        if longer <= 0:
            raise CannotMakeError(
                f"{where}: a slot of {say(longer + dia)} is no longer than its hole, {say(dia)} wide."
            )
    if hole.deep is not None:
        deep = hole.deep.length.mm_float
        if deep >= depth - 1e-9:
            raise CannotMakeError(
                f"{where}: a hole {say(deep)} deep goes through its bar, {say(depth)}.",
                hint="Leave deep out.",
            )
        return _blind_mm3(dia, deep) + longer * dia * deep
    if section.form.drilled == "wall" or (hole.face and section.form.two_ways and not section.is_hollow):
        return (pi / 4 * dia * dia + longer * dia) * depth
    walls = 0.5 if hole.walls == 1 and section.is_hollow else 1.0
    metal = _metal_beside_axis(section)
    return walls * (through_hole_mm3(metal, dia) + longer * _across_mm2(metal, dia))


def _along_mm3(section: Section, hole: HoleSpec, dia: float, where: str, say: Say, length_mm: float) -> float:
    """Volume in mm3 of a hole in the end of the bar, to its depth or through the whole length."""
    if section.is_hollow or dia >= min(section.sizes_mm):
        raise CannotMakeError(
            f"{where}: a hole of {say(dia)} along the bar finds no metal round it in a {section.kind}.",
            hint="Leave along out, or use a thicker solid bar.",
        )
    if hole.deep is None:
        return pi / 4 * dia * dia * length_mm
    deep = hole.deep.length.mm_float
    if deep >= length_mm:
        raise CannotMakeError(f"{where}: a hole {say(deep)} deep along a piece of {say(length_mm)}.")
    return _blind_mm3(dia, deep)


def _blind_mm3(dia: float, deep: float) -> float:
    """Volume in mm3 of a blind hole: a cylinder, and the cone of a usual 118 degree drill.

    >>> round(_blind_mm3(10, 20) - pi / 4 * 100 * 20, 3) == round(pi / 12 * 100 * 5 / tan(radians(59)), 3)
    True
    """
    return pi / 4 * dia * dia * (deep + dia / 2 / tan(radians(59)) / 3)


def _across_mm2(metal: Callable[[float], float], dia: float) -> float:
    """Area in mm2 of metal across the straight part of a slot."""
    steps = 200
    return sum(metal(dia * ((step + 0.5) / steps - 0.5)) for step in range(steps)) * dia / steps


def _metal_beside_axis(section: Section) -> Callable[[float], float]:
    """The depth of metal in mm through the bar, as a function of the distance from the middle of the face."""
    # Rolled back by a quarter, what lay across runs downwards and widths are depths.
    profile = section_profile(section, "easy", -90.0)
    return lambda beside: width_at(profile, -beside)


def drill_mm(hole: HoleSpec, where: str = "Hole") -> float:
    """Diameter in mm of a hole's drill: of a thread by its standard, else `dia` as typed.

    Raises:
        InputError: no standard here has the thread.
    """
    if hole.dia is not None:
        return hole.dia.length.mm_float
    try:
        return find_thread(hole.thread).drill.mm_float
    except InputError as error:
        raise InputError(f"{where}: {error.message}") from None


def hole_depth_mm(section: Section, hole: HoleSpec | None = None, axis: BendAxis = "easy") -> float:
    """Depth of metal in mm that a drill goes through: the bar, both walls of a hollow one, or one leg.

    For a solid bar with a given face: its size perpendicular to that face, as it lies in the bend.
    """
    if hole is None or not section.form.two_ways or section.is_hollow or section.form.drilled == "wall":
        depth = section.form.drill_depth(section.sizes_mm)
        return depth / 2 if hole is not None and hole.walls == 1 and section.is_hollow else depth
    if not hole.face:
        return section.form.drill_depth(section.sizes_mm)
    return section.width_mm(axis) if hole.face in _SIDES else section.depth_mm(axis)


_SIDES = ("left", "right")


def face_width_mm(section: Section, hole: HoleSpec, axis: BendAxis = "easy") -> float:
    """Width in mm across the bar of the face drilled; the wider face where none is given."""
    depth, width = section.depth_mm(axis), section.width_mm(axis)
    if not hole.face:
        return max(depth, width)
    return depth if hole.face in _SIDES else width


def through_hole_mm3(metal: Callable[[float], float], dia_mm: float) -> float:
    """Volume in mm3 of a round hole perpendicular through a bar.

    `metal` gives the bar's depth at a distance beside its axis. The integral over the hole of its chord along
    the bar times that depth.

    >>> from math import sqrt
    >>> round(through_hole_mm3(lambda x: 2 * sqrt(25 - x * x), 10), 6) == round(2 / 3 * 10**3, 6)
    True
    """
    half = dia_mm / 2
    steps = 400
    total = 0.0
    # Midpoint rule in an angle instead of the distance: the square roots become smooth, so it converges fast.
    for step in range(steps):
        angle = pi * (step + 0.5) / steps - pi / 2
        chord = 2 * half * cos(angle)
        total += chord * metal(half * sin(angle)) * half * cos(angle)
    return total * pi / steps


def _sunk_to(hole: HoleSpec, dia: float, face: float, where: str, say: Say) -> float:
    """Diameter in mm of a countersink at the face: as given, else twice the hole's."""
    if hole.countersink is None:
        return 2 * dia
    wide = hole.countersink.length.mm_float
    _refuse_too_wide(wide, face, where, say)
    if wide <= dia:
        raise CannotMakeError(f"{where}: a countersink of {say(wide)} is no wider than its hole, {say(dia)}.")
    return wide


def _countersink_mm3(dia: float, depth: float, sunk_to: float) -> float:
    """Volume in mm3 of a 90 degree countersink beyond the hole itself; no deeper than the bar.

    >>> round(_countersink_mm3(6, 20, 12), 3) == round(pi * 3 / 3 * (36 + 18 + 9) - pi * 9 * 3, 3)
    True
    """
    sunk = min((sunk_to - dia) / 2, depth)
    wide, narrow = dia / 2 + sunk, dia / 2
    return pi * sunk / 3 * (wide * wide + wide * narrow + narrow * narrow) - pi * narrow * narrow * sunk
