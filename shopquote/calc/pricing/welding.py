"""Mass of weld metal, filler to buy, and the smallest usual fillet for a thickness.

Millimetres, kilograms, minutes. The strength of a weld is never calculated.
"""

from math import pi, radians, tan

from shopquote.calc.job import WeldKind

# kg/m3: 490 lb/ft3 (Iowa DOT IM 452.02), as of the starting grades.
STEEL_DENSITY = 7850.0

# AWS D1.1 table 7.7 (2020), as reproduced in public: thickness up to mm, smallest fillet leg mm.
# A boundary belongs to the smaller class.
MINIMUM_FILLETS = ((6.35, 3.0), (12.7, 5.0), (19.05, 6.0), (float("inf"), 8.0))
MINIMUM_FILLET_SOURCE = "AWS D1.1:2020 table 7.7"


def weld_area_mm2(
    kind: WeldKind, leg_mm: float, *, groove_angle: float = 60.0, root_gap_mm: float = 2.0
) -> float:
    """Cross-section in mm2 of a fillet, tack or single-V groove, without reinforcement; angles in degrees.

    A fillet of equal legs is half a square. A groove of depth `leg_mm` is its V plus its root gap.

    Source: geometry.

    >>> weld_area_mm2("fillet", 5)
    12.5
    """
    if kind == "groove":
        return leg_mm**2 * tan(radians(groove_angle / 2)) + leg_mm * root_gap_mm
    if kind == "plug":
        return pi / 4 * leg_mm**2
    return leg_mm**2 / 2


def weld_mass_kg(area_mm2: float, length_mm: float, density_kg_m3: float, reinforcement_pct: float) -> float:
    """Mass of weld metal in kg: area x length x density, increased by the reinforcement in per cent."""
    return area_mm2 * length_mm * 1e-9 * density_kg_m3 * (1 + reinforcement_pct / 100)


def filler_bought_kg(deposited_kg: float, efficiency_pct: float, stub_loss_pct: float = 0.0) -> float:
    """Mass of wire or rod in kg to buy for a mass of weld metal, with loss by spatter and stubs.

    Source: ESAB filler metal handbook, P = W L / E; lesson 9 for the stub.

    >>> round(filler_bought_kg(1, 60, 100 * 2 / 12), 3)
    2.0
    """
    return deposited_kg / (efficiency_pct / 100) / (1 - stub_loss_pct / 100)


def minimum_fillet_mm(thickness_mm: float) -> float:
    """The smallest fillet leg in mm for a thickness in mm; never more than the thickness itself.

    Source: `MINIMUM_FILLET_SOURCE`.

    >>> minimum_fillet_mm(6), minimum_fillet_mm(10), minimum_fillet_mm(2)
    (3.0, 5.0, 2)
    """
    smallest = next(leg for limit, leg in MINIMUM_FILLETS if thickness_mm <= limit)
    return min(smallest, thickness_mm)
