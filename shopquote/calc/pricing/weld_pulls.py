"""Weld distortion: which way each weld pulls as it cools, by how much, and the usual cure, for the floor.

Amounts are for steel, by `SHRINKAGE_SOURCE`. That a joint closes toward the side that cools last is common
practice, no source. Begin at `weld_pulls`.
"""

from collections.abc import Iterator

from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.units import Length, Unit, show_length

# Transverse shrinkage in mm for each weld: fillet with a leg up to 3/4 of the plate, butt with a 60 degree V.
FILLET_ACROSS_MM = 0.8
BUTT_ACROSS_MM = (1.5, 3.0)
# Longitudinal shrinkage, mm per mm of weld.
FILLET_ALONG = 0.8 / 3000
BUTT_ALONG = 3.0 / 3000
# A weld along this share of a part's length bows it: common practice, no source.
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
    """Least and greatest transverse shrinkage of a weld, and longitudinal, in mm; 0 for tacks and plugs.

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
    """For the floor: how much and which way fillet and groove welds pull, and the cure; equal lines once."""
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
    """Which way the joint moves, and the cure, by the number of welds on it."""
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
    """A text for a weld long enough to bow the part that it runs along; "" otherwise."""
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
