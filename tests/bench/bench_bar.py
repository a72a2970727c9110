"""How fast bent parts are developed, marked and tried on benders.

Run by hand: `python tests/bench/bench_bar.py`. 10,000 parts of 12 bends on 8 benders, against a plain
loop that finds the same lengths by numeric integration of the arc along each bend. Then the marks and angles
of 10,000 parts of 12 bends are bent in the simulation (`rebend`). Seconds are the processor's.
"""

import sys
from dataclasses import replace
from math import cos, hypot, pi, radians, sin, tan
from random import Random
from time import perf_counter, process_time

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.neutral_axis import k_of_bend
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.shape_words import Bend, Leg
from shopquote.calc.bar.springback import flow_stress, outer_strain, spring_of
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.bar.survey import PlainPart, Survey, survey
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Length, Measure
from shopquote.services.shop.starting import starting_shop
from tests.referees.rebend import Pull, finish_of, let_go_all, rebend

PARTS, BENDS, BENDERS, LIMIT_SECONDS = 10_000, 12, 8, 0.3
REBEND_LIMIT_SECONDS = 5.0
SLOW_PARTS, ALONE_PARTS = 200, 200
ARC_STEPS = 90  # points along each bend in the plain loop


def eight_benders() -> BendingShop:
    shop = starting_shop()
    benders = [
        replace(bender, name=f"{bender.name} {size}", largest_moment_nm=bender.largest_moment_nm * size)
        for size in (1, 1.5, 2)
        for bender in shop.benders
    ]
    return replace(shop, benders=tuple(benders[:BENDERS]))


def many_parts(count: int, random: Random) -> list[PlainPart]:
    sections = [
        parse_section(bar, "mm") for bar in ("round 8", "round 10", "round 12", "square 12", "flat 25 x 5")
    ]
    grades = [STARTING_GRADES[name] for name in ("S275", "S355", "304")]
    radii = [Measure(f"{r}", Length.from_mm(r)) for r in (16, 20, 24, 25, 30, 40, 50, 60)]
    legs = [Measure(f"{leg}", Length.from_mm(leg)) for leg in range(180, 700, 7)]
    parts = []
    for _ in range(count):
        words: list[object] = [Leg(random.choice(legs))]
        for _ in range(BENDS):
            angle = random.uniform(5, 135) * random.choice((-1, 1))
            words += [Bend(angle, random.choice(radii)), Leg(random.choice(legs))]
        parts.append(PlainPart(random.choice(sections), random.choice(grades), tuple(words)))  # type: ignore[arg-type]
    return parts


def by_integration(part: PlainPart) -> float:
    """Developed length of one part, mm, each bend walked point by point."""
    depth = part.section.depth_mm(part.bend_axis)
    total = 0.0
    for word in part.words:
        if isinstance(word, Leg):
            total += word.length.length.mm_float
        elif isinstance(word, Bend):
            radius = word.radius.length.mm_float
            factor = tan(radians(abs(word.angle)) / 2) if abs(word.angle) <= 90 else 1.0
            total -= 2 * factor * (radius + depth)
            total += _walked(radians(abs(word.angle)), radius + depth / 2)
    return total


def _walked(angle: float, radius: float) -> float:
    length, x, y = 0.0, radius, 0.0
    for step in range(1, ARC_STEPS + 1):
        turn = angle * step / ARC_STEPS
        nx, ny = radius * cos(turn), radius * sin(turn)
        length += hypot(nx - x, ny - y)
        x, y = nx, ny
    return length


def rebent(parts: list[PlainPart], found: Survey, shop: BendingShop) -> tuple[float, float]:
    """Seconds to bend all parts, and how far their ends lie from where plain geometry puts them."""
    pulls = []
    at = 0
    for part in parts:
        bar, own = bend_section(part.section, part.bend_axis), []
        for bend in (word for word in part.words if isinstance(word, Bend)):
            inside = bend.radius.length.mm_float
            stress = flow_stress(part.grade, outer_strain(inside + bar.centroid_mm, bar.outer_mm))
            held = spring_of(bar, part.grade, inside + bar.centroid_mm).held_mm - bar.centroid_mm
            k = k_of_bend(part.section, part.grade, bar.axis, bend.radius.length, shop).k
            own.append(
                Pull(
                    found.start_nm[at] / 1e6, "start", 0.0, "start", 0.0 if bend.angle > 0 else pi,
                    radians(abs(bend.angle)) * (inside + bar.centroid_mm) / (held + bar.centroid_mm),
                    held, bar, k, stress, part.grade.e_mpa,
                )
            )  # fmt: skip
            at += 1
        pulls.append(own)
    started = process_time()
    bent = let_go_all(pulls)
    points, lines = rebend(bent)
    ends = finish_of(bent, points, lines, found.developed_nm / 1e6)
    taken = process_time() - started
    off = max(
        hypot(ends[n, 0] - x, ends[n, 1] - y) for n in range(0, PARTS, 50) for x, y in [_asked_end(parts[n])]
    )
    return taken, off


def _asked_end(part: PlainPart) -> tuple[float, float]:
    """The far end of a plane part by its tangent lengths and angles: plain geometry."""
    depth = part.section.depth_mm(part.bend_axis)
    bends = [word for word in part.words if isinstance(word, Bend)]
    legs = [word.length.length.mm_float for word in part.words if isinstance(word, Leg)]
    setback = [
        (tan(radians(abs(b.angle)) / 2) if abs(b.angle) <= 90 else 1.0) * (b.radius.length.mm_float + depth)
        for b in bends
    ]
    x, y, lean = legs[0] - setback[0], 0.0, 0.0
    for number, bend in enumerate(bends):
        turned, radius = radians(bend.angle), bend.radius.length.mm_float + depth / 2
        chord = 2 * radius * sin(abs(turned) / 2)
        x, y = x + chord * cos(lean + turned / 2), y + chord * sin(lean + turned / 2)
        lean += turned
        after = setback[number + 1] if number + 1 < len(bends) else 0.0
        straight = legs[number + 1] - setback[number] - after
        x, y = x + straight * cos(lean), y + straight * sin(lean)
    return x, y


def main() -> int:
    random = Random(1)
    shop, parts = eight_benders(), many_parts(PARTS, random)
    survey(parts[:50], shop)  # numpy's own start-up is not what is measured
    started = process_time()
    found = survey(parts, shop)
    taken = process_time() - started
    made = int((found.chosen >= 0).sum())
    started = perf_counter()
    walked = [by_integration(part) for part in parts[:SLOW_PARTS]]
    slow = (perf_counter() - started) * PARTS / SLOW_PARTS
    rounds = [
        abs(length - found.developed_nm[number] / 1e6)
        for number, length in enumerate(walked)
        if parts[number].section.kind != "flat"
    ]
    started = perf_counter()
    for part in parts[:ALONE_PARTS]:
        shape = "; ".join(
            f"leg {w.length.text}" if isinstance(w, Leg) else f"bend {w.angle:.6f} r {w.radius.text}"  # type: ignore[union-attr]
            for w in part.words
        )
        spec = PartSpec("A", "a", 1, part.section.key, part.grade.name, shape=shape)
        try:
            analyse_part(spec, "mm", shop)
        except Exception as error:  # a random part may run into itself; it is timed all the same
            if "runs into itself" not in str(error):
                raise
    alone = (perf_counter() - started) / ALONE_PARTS
    print(f"{PARTS} parts of {BENDS} bends on {BENDERS} benders: {taken:.3f} s (limit {LIMIT_SECONDS} s)")
    print(f"  {made} of {len(found.chosen)} bends have a bender")
    print(f"plain loop, arcs by numeric integration, lengths only: {slow:.2f} s; ratio {slow / taken:.1f}")
    print(f"  largest difference in length {max(rounds):.4f} mm (chords are shorter than arcs)")
    print(f"one part alone, order, envelope and collisions included: {alone * 1000:.2f} ms")
    bent_in, off = rebent(parts, found, shop)
    print(f"{PARTS} parts of {BENDS} bends re-bent: {bent_in:.2f} s (limit {REBEND_LIMIT_SECONDS} s)")
    print(f"  far ends within {off:.4f} mm of plain geometry")
    return 0 if taken <= LIMIT_SECONDS and bent_in <= REBEND_LIMIT_SECONDS else 1


if __name__ == "__main__":
    sys.exit(main())
