"""Which way each weld of a job pulls as it cools, by how much, and the usual cure: cautions for the floor.

Source of the amounts: `SHRINKAGE_SOURCE`, steel. Which way: common practice, no source: a joint closes
toward the side that cools last. Begin at `weld_pulls`.
"""

from collections.abc import Iterator

from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.units import Length, Unit, show_length

# Fillet with a leg of up to 3/4 of the plate, and butt of a 60 degree V, mm across each bead.
FILLET_ACROSS_MM = 0.8
BUTT_ACROSS_MM = (1.5, 3.0)
# Along the bead, mm in each mm of it.
FILLET_ALONG = 0.8 / 3000
BUTT_ALONG = 3.0 / 3000
# A bead of this share of the part's length bows it: common practice, no source.
BOWS_FROM = 0.3
BOTH_SIDES = 2  # beads a joint
LEAST_TOLD_MM = 0.05

SHRINKAGE_SOURCE = "TWI, How much shall I allow for weld shrinkage?"
SHRINKAGE = (
    "Welds pull as they cool, toward the side that they are on (amounts are of steel; stainless and "
    "aluminium pull more). Tack every joint first, check square, weld from side to side in "
    "short runs, clamp what may twist."
)


def shrinkage_mm(weld: WeldSpec) -> tuple[float, float, float]:
    """Least and most that a bead shrinks across, and what it shrinks along, mm; nothing of tacks and plugs.

    >>> from shopquote.calc.units import Measure
    >>> shrinkage_mm(WeldSpec("fillet", Measure.parse("5", "mm"), Measure.parse("3 m", "mm"), 1, "MAG"))
    (0.8, 0.8, 0.8)
    """
    length = weld.length.length.mm_float
    if weld.kind == "fillet":
        return FILLET_ACROSS_MM, FILLET_ACROSS_MM, FILLET_ALONG * length
    if weld.kind == "groove":
        return (*BUTT_ACROSS_MM, BUTT_ALONG * length)
    return 0.0, 0.0, 0.0


def weld_pulls(job: JobSpec) -> Iterator[str]:
    """How much fillet and groove welds pull, which way, what to do against it: a line for those alike."""
    alike: dict[str, list[str]] = {}
    for number, weld in enumerate(job.welds, start=1):
        least, most, along = shrinkage_mm(weld)
        if most:
            marks = f", {' to '.join(weld.joins)}" if weld.joins else ""
            across = _shown(most, job.units) if least == most else _range(least, most, job.units)
            told = (
                f"about {across} across each bead{_along(along, job.units)}; "
                f"{_way(weld)}{_bow(weld, job.parts)}."
            )
            named = f"{number} ({weld.kind} {weld.leg.text} x {weld.length.text}{marks})"
            alike.setdefault(told, []).append(named)
    for told, welds in alike.items():
        yield f"{'Welds' if len(welds) > 1 else 'Weld'} {', '.join(welds)}: {told}"


def _way(weld: WeldSpec) -> str:
    """Which way the joint goes and the cure, by how many beads lie on it."""
    each = weld.count / (weld.joints or weld.count)
    if weld.kind == "groove":
        return (
            "the joint closes toward the wide side of the groove: set it open the other way, or weld both "
            "sides by turns"
        )
    if each >= BOTH_SIDES:
        return f"{each:g} beads a joint balance when they lie on opposite sides and are laid by turns"
    return (
        "one bead a joint closes it toward the bead and opens the far side: set it open by as much, clamp it "
        "until cold, or tack the far side"
    )


def _bow(weld: WeldSpec, parts: tuple[PartSpec, ...]) -> str:
    """Tells that a long bead bows the part that it runs along."""
    lengths = [
        part.length.length.mm_float
        for part in parts
        if part.length is not None and (not weld.joins or part.mark in weld.joins)
    ]
    if not lengths or weld.length.length.mm_float < BOWS_FROM * min(lengths):
        return ""
    return "; along the bar it bows hollow on the side of the bead: weld in short runs from the middle out"


def _along(along_mm: float, unit: Unit) -> str:
    return f" and {_shown(along_mm, unit)} along it" if along_mm >= LEAST_TOLD_MM else ""


def _shown(value_mm: float, unit: Unit) -> str:
    return f"{value_mm:.1f} mm" if unit == "mm" else show_length(Length.from_mm(f"{value_mm:.3f}"), unit)


def _range(least: float, most: float, unit: Unit) -> str:
    return f"{least:g} to {most:g} mm" if unit == "mm" else f"{_shown(least, unit)} to {_shown(most, unit)}"
