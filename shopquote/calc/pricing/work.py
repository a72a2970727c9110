"""The work content of a job, counted in units of the standards, per set and per job.

`job_work` counts once; `calc/pricing/estimate.py` turns the counts into minutes for any number of sets. A
`WorkItem` is a number of units of one standard: set-ups, cuts, square centimetres sawn, bends, metres of
weld.
"""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from math import gcd

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.hole_patterns import pattern_problems
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.job import JobSpec
from shopquote.calc.pricing.around import around_minutes
from shopquote.calc.pricing.end_minutes import end_minutes, shaped_by_hand
from shopquote.calc.pricing.forge_minutes import forge_minutes, hot_bends, part_heats
from shopquote.calc.pricing.hand_minutes import hand_minutes, in_bender
from shopquote.calc.pricing.hole_minutes import hole_minutes
from shopquote.calc.pricing.joint_minutes import joint_heats, joint_minutes
from shopquote.calc.pricing.runs import LEAST_RUN, handled
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.weld_checks import weld_problems
from shopquote.calc.pricing.weld_minutes import used_in_welding, weld_metres, weld_minutes
from shopquote.calc.pricing.work_items import JobWork, Pairs, UsedUp, WorkItem

CLAMP_AND_CUT = "saw.cut-handling"
# Kinds of bend whose radius changes along them.
SPIRALS = ("scroll", "volute")
# By `BoughtSpec.fitting`: what is done with a bought item, and its standard.
_FITTED = {
    "fitted": ("fit a bought item", "assembly.item"),
    "screwed": ("screw a bought item in", "assembly.screwed"),
    "bagged": ("bag a bought item", "assembly.bagged"),
}


def job_work(job: JobSpec, parts: Mapping[str, PartAnswer], book: StandardsBook) -> JobWork:
    """Count the work of a job from its parts, welds, bought items and finish.

    Args:
        job: what is asked for.
        parts: the calculated part by mark.
        book: the shop's standards, looked up for those of a grade family or process.
    """
    pairs = [(part, parts[part.mark]) for part in job.parts]
    mass = sum(part.per_set * answer.mass_kg for part, answer in pairs)
    area = sum(part.per_set * answer.area_m2 for part, answer in pairs)
    items = [
        *_sawing(pairs, book),
        *_bending(pairs),
        *hand_minutes(pairs),
        *_splicing(pairs),
        *_twisting(pairs),
        *forge_minutes(job, pairs, book),
        *hole_minutes(pairs, book),
        *end_minutes(pairs),
        *joint_minutes(job),
        *weld_minutes(job, pairs, book),
        *_grinding(job, pairs, book),
        *_finishing(job, area),
        *_by_hand(job),
        *_packing(job, mass),
        *around_minutes(job),
    ]
    items = [*_without_replaced(job, items), *_jigs(job)]
    used = [
        *_used_on_parts(job, pairs),
        *used_in_welding(job, pairs, book),
        UsedUp("grinding discs on welds", "grind.disc-cost", "m", _dressed_metres(job, book)),
        *_used_in_finish(job, area, book),
    ]
    used.append(UsedUp("packing material", "packing.material", "kg", mass))
    used = [use for use in used if use.per_set > 0 and use.standard in book]
    return JobWork(tuple(items), tuple(used), mass, area, tuple(_notes(job, pairs, book)))


def bars_at_once(section: Section, book: StandardsBook) -> int:
    """Number of bars of a section that are sawn in one stroke: the shop's bundle, if its vice holds it."""
    side_by_side = book.value("saw.bundle-width") / Decimal(repr(section.depth_mm("easy")))
    return max(1, int(min(book.value("saw.bundle"), side_by_side)))


def _sawing(pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    # Bar handling depends on the cut plan, so `estimate_job` adds it.
    if not pairs:
        return
    lengths = {
        (answer.section.key, answer.grade.name, piece.nm) for _, answer in pairs for piece in answer.sawn_as
    }
    angles = {abs(end.mitre) for _, answer in pairs for end in answer.ends if end.mitre}
    yield WorkItem("sawing", "set up the saw", "saw.job-set-up", "set-up", per_job=1)
    yield WorkItem("sawing", "set the stop for a length", "saw.stop-change", "set-up", per_job=len(lengths))
    if angles:
        yield WorkItem("sawing", "set a mitre", "saw.mitre-change", "set-up", per_job=len(angles))
    for part, answer in pairs:
        # Neighbouring pieces share a cut, so each piece has half a cut at both of its ends.
        splices = len(answer.sawn_as) - 1
        area_cm2 = (sum(answer.end_cut_area_mm2) / 2 + splices * answer.section.area_mm2) / 100
        rate = book.of_family("saw.area-rate", answer.grade.family)
        # One clamping per cut here; `estimate_job`, which knows the plan, reduces it for bundles.
        cuts = part.per_set * len(answer.sawn_as)
        yield WorkItem("sawing", "clamp and cut", CLAMP_AND_CUT, "run", cuts, mark=part.mark)
        yield WorkItem(
            "sawing", f"saw through {answer.grade.family}", rate, "run", part.per_set * area_cm2,
            how="over", mark=part.mark,
        )  # fmt: skip


def _bending(pairs: Pairs) -> Iterator[WorkItem]:
    bent = [(part, answer) for part, answer in pairs if in_bender(answer)]
    if not bent:
        return
    sections = {answer.section.key for _, answer in bent}
    formers = set().union(*(_formers(answer) for _, answer in bent))
    yield WorkItem("bending", "set up for a bar size", "bend.bar-change", "set-up", per_job=len(sections))
    yield WorkItem("bending", "change the former", "bend.former-change", "set-up", per_job=len(formers))
    yield WorkItem(
        "bending", "bend and correct a first piece", "bend.first-piece", "set-up", per_job=len(bent)
    )
    for part, answer in bent:
        for what, standard, units in _bend_units(answer):
            if units:
                yield WorkItem("bending", what, standard, "run", part.per_set * units, mark=part.mark)


def _formers(answer: PartAnswer) -> set[tuple[str, str | None, int]]:
    """The set-ups of the benders for a part: bar size, bender, former."""
    return {
        (answer.section.key, bend.bender, (bend.former_radius or bend.inside_radius).nm)
        for bend in in_bender(answer)
    }


def _bend_units(answer: PartAnswer) -> tuple[tuple[str, str, float], ...]:
    """Units of the bending standards in one piece, which is taken in hand once for each former."""
    passes = len(_formers(answer))
    made = in_bender(answer)
    bends = len(made)
    quarter_turns = sum(abs(bend.angle) for bend in made) / 90
    small = sum(bend.hits for bend in made if bend.hits > 1)
    # Hits of spirals are counted apart: in a run a scroll former replaces them, while arcs go to the rolls.
    scrolled = sum(bend.hits for bend in made if bend.hits > 1 and bend.kind in SPIRALS)
    coiled = sum(bend.hits for bend in made if bend.hits > 1 and bend.kind == "helix")
    turns = sum(1 for bend in made if bend.is_3d)
    swaps = sum(1 for step in answer.bend_order if step.swap)
    return (
        ("take up and lay down a piece", "bend.piece-handling", passes),
        ("lift its mass", "bend.mass-handling", passes * answer.mass_kg),
        ("mark a bend", "bend.mark", bends),
        ("make a bend", "bend.base", bends),
        ("pull through the angle", "bend.angle", quarter_turns),
        ("pull the heavier bar", "bend.size", bends * answer.section.area_mm2 / 100),
        ("turn the bending plane", "bend.turn", turns),
        ("turn the bar end for end", "bend.swap", swaps),
        ("small bend of an arc", "bend.hit", small - scrolled - coiled),
        ("small bend of a scroll", "scroll.hit", scrolled),
        ("small bend of a coil", "coil.hit", coiled),
    )


def _splicing(pairs: Pairs) -> Iterator[WorkItem]:
    """Parts longer than a bar: each splice is fitted up, welded and dressed."""
    for part, answer in pairs:
        joints = part.per_set * (len(answer.sawn_as) - 1)
        if joints:
            # Sheet is welded along its width from one side, a bar all round.
            sheet = answer.section.form.by_width
            around = joints * (answer.section.width_mm() if sheet else answer.section.perimeter_mm) / 10
            yield WorkItem("fit-up", "line up a splice", "splice.fit-up", "run", joints, mark=part.mark)
            yield WorkItem("welding", "weld and dress splices", "splice.weld", "run", around, mark=part.mark)


def _twisting(pairs: Pairs) -> Iterator[WorkItem]:
    """Cold twists in the vise: a set-up for each bar size, then each twist and its turns."""
    twisted = [(part, answer) for part, answer in pairs if answer.twists]
    if twisted:
        sizes = {answer.section.key for _, answer in twisted}
        yield WorkItem("bending", "set up to twist a bar size", "twist.set-up", "set-up", per_job=len(sizes))
    for part, answer in twisted:
        turns = sum(abs(degrees) for _, degrees in answer.twists) / 360
        each = part.per_set
        yield WorkItem(
            "bending", "clamp and straighten", "twist.piece", "run", each * len(answer.twists), mark=part.mark
        )
        yield WorkItem("bending", "turn the wrench", "twist.turn", "run", each * turns, mark=part.mark)


def _grinding(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    for part, answer in pairs:
        # Shaping an end by hand dresses it too.
        sawn = sum(not shaped_by_hand(end) for end in (*part.ends, End(), End())[:2])
        edges = part.per_set * sawn * answer.section.perimeter_mm / 1000
        yield WorkItem("grinding", "dress sawn ends", "grind.edge", "run", edges, mark=part.mark)
    metres = _dressed_metres(job, book)
    if metres:
        yield WorkItem("grinding", "dress welds", "grind.weld", "run", metres)


def _dressed_metres(job: JobSpec, book: StandardsBook) -> float:
    metres = sum(weld_metres(weld) for weld in job.welds if weld.kind != "tack")
    return metres * float(book.value("grind.weld-share")) / 100


def _finishing(job: JobSpec, area: float) -> Iterator[WorkItem]:
    finish = job.finish
    if finish is None or finish.kind == "none":
        return
    # Assemblies are hung up for painting as one; loose pieces one by one.
    hung = job.assemblies if job.is_joined else sum(part.per_set for part in job.parts)
    yield WorkItem(
        "finishing", f"set up to {finish.kind}", f"finish.set-up.{finish.kind}", "set-up", per_job=1
    )
    yield WorkItem("finishing", "clean and prepare", "finish.prepare", "run", area)
    yield WorkItem("finishing", "hang and take down", "finish.hang", "run", hung)
    yield WorkItem(
        "finishing", f"{finish.kind}, each coat", f"finish.coat.{finish.kind}", "run", area * finish.coats
    )


def _without_replaced(job: JobSpec, items: Iterable[WorkItem]) -> Iterator[WorkItem]:
    """The items without the work that the job's jigs replace; handling may be left of it."""
    replaced = {name for jig in job.templates for name in jig.replaces}
    for item in items:
        if item.standard not in replaced or item.kind == "set-up":
            yield item
        elif left := handled(item):
            yield left


def _jigs(job: JobSpec) -> Iterator[WorkItem]:
    for jig in job.templates:
        yield WorkItem("fit-up", f"make the jig {jig.name}", "", "set-up", per_job=float(jig.minutes))


def _by_hand(job: JobSpec) -> Iterator[WorkItem]:
    for labour in job.labour:
        minutes = float(labour.minutes)
        if labour.per == "set":
            yield WorkItem(labour.operation, "minutes given by hand", "", "run", per_set=minutes)
        else:
            yield WorkItem(labour.operation, "minutes given by hand", "", "set-up", per_job=minutes)


def _packing(job: JobSpec, mass: float) -> Iterator[WorkItem]:
    for fitting, (what, standard) in _FITTED.items():
        if items := sum(bought.per_set for bought in job.bought if (bought.fitting or "fitted") == fitting):
            yield WorkItem("assembly", what, standard, "run", items)
    yield WorkItem("packing", "papers and packing", "packing.job", "set-up", per_job=1)
    if job.is_joined:
        yield WorkItem("packing", "pack a set", "packing.set", "run", job.assemblies)
    elif loose := sum(part.per_set for part in job.parts):
        yield WorkItem("packing", "lay a loose piece together", "packing.piece", "run", loose)
    if mass:
        yield WorkItem("packing", "lift and wrap", "packing.mass", "run", mass)


def _used_on_parts(job: JobSpec, pairs: Pairs) -> Iterator[UsedUp]:
    sawn = sum(part.per_set * sum(answer.end_cut_area_mm2) / 2 for part, answer in pairs) / 1e6
    yield UsedUp("saw blade", "saw.blade-cost", "m2", sawn)
    holes = [(part.per_set * hole.count, hole) for part, _ in pairs for hole in part.holes]
    yield UsedUp("drills", "drill.wear", "hole", sum(count for count, _ in holes))
    yield UsedUp("taps", "tap.wear", "hole", sum(count for count, hole in holes if hole.is_tapped))
    heats = joint_heats(job) + sum(part.per_set * part_heats(part, answer) for part, answer in pairs)
    yield UsedUp("forge fuel", "forge.fuel", "heat", heats)
    edges = sum(part.per_set * 2 * answer.section.perimeter_mm / 1000 for part, answer in pairs)
    yield UsedUp("grinding discs", "grind.disc-cost", "m", edges)


def _used_in_finish(job: JobSpec, area: float, book: StandardsBook) -> Iterator[UsedUp]:
    finish = job.finish
    if finish is None or finish.kind == "none":
        return
    film = book.divisor(f"finish.film.{finish.kind}")
    transfer = book.divisor(f"finish.transfer.{finish.kind}")
    if finish.kind == "powder":
        used = area * finish.coats * powder_kg_m2(float(book.value("finish.density.powder")), film, transfer)
        yield UsedUp("powder", "finish.price.powder", "kg", used)
        return
    solids = book.divisor(f"finish.solids.{finish.kind}")
    used = area * finish.coats / paint_coverage_m2_l(solids, film, transfer)
    yield UsedUp(finish.kind, f"finish.price.{finish.kind}", "L", used)


def _notes(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[str]:
    joined = [*(weld.count for weld in job.welds), *(joint.count for joint in job.joints)]
    alike = gcd(*(part.per_set for part, _ in pairs), *joined)
    # Many equal pieces may be one lattice or many assemblies; only the shop knows, so it is asked.
    if joined and job.assemblies == 1 and alike >= book.value(LEAST_RUN):
        yield f"A set is timed as one assembly; if it is {alike} alike, say in the job: assemblies = {alike}."
    for part, answer in pairs:
        if hot := hot_bends(answer):
            yield f"Part {part.mark}: {hot} of its bends cannot be made cold here; reckoned hot."
    answers = {part.mark: answer for part, answer in pairs}
    for mark, problem in pattern_problems(job):
        yield f"Part {mark}: {problem.message}"
    for weld, problem in weld_problems(job, answers):
        yield f"{weld}: {problem.message}"


"""Paint and powder for an area. Square metres, micrometres, litres, kilograms."""


def paint_coverage_m2_l(solids_pct: float, film_um: float, transfer_pct: float = 100.0) -> float:
    """Area in m2 that one litre of paint covers in one coat: 10 x solids / film x transfer.

    Source: one litre at 1 um covers 1000 m2 of solids (arithmetic).

    >>> paint_coverage_m2_l(50, 50)
    10.0
    """
    return 10 * solids_pct / film_um * transfer_pct / 100


def powder_kg_m2(density_kg_l: float, film_um: float, transfer_pct: float) -> float:
    """Powder used in kg per m2, for a film thickness in um and a transfer efficiency in per cent."""
    return density_kg_l * film_um / 1000 / (transfer_pct / 100)
