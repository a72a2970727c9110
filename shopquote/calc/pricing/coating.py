"""Paint, powder and zinc for an area. Square metres, micrometres, litres, kilograms."""

# Mean g/m2 of hot-dip zinc on steel that is not spun: above 6 mm, above 3 mm, from 1.5 mm, thinner
# (85, 70, 55 and 45 um). Source: ISO 1461, two public reproductions of the table that agree.
ZINC_G_M2 = (610, 505, 395, 325)


def paint_coverage_m2_l(solids_pct: float, film_um: float, transfer_pct: float = 100.0) -> float:
    """Area that one litre covers in one coat: 10 x solids / film x transfer.

    Source: one litre at 1 um covers 1000 m2 of solids (arithmetic).

    >>> paint_coverage_m2_l(50, 50)
    10.0
    """
    return 10 * solids_pct / film_um * transfer_pct / 100


def paint_coverage_ft2_gal(solids_pct: float, film_mils: float, transfer_pct: float = 100.0) -> float:
    """The same in square feet a US gallon and thousandths of an inch.

    Source: 1604 x solids x transfer / mils, Ron Joseph, paintcenter.org.
    """
    return 1604 * solids_pct / 100 * transfer_pct / 100 / film_mils


def powder_kg_m2(density_kg_l: float, film_um: float, transfer_pct: float) -> float:
    """Powder used for a square metre."""
    return density_kg_l * film_um / 1000 / (transfer_pct / 100)


def zinc_g_m2(thickness_mm: float) -> int:
    """Mean mass of hot-dip zinc by steel thickness.

    Source: ISO 1461.

    >>> zinc_g_m2(12), zinc_g_m2(6), zinc_g_m2(1.5), zinc_g_m2(1.2)
    (610, 505, 395, 325)
    """
    if thickness_mm > 6:
        return ZINC_G_M2[0]
    if thickness_mm > 3:
        return ZINC_G_M2[1]
    return ZINC_G_M2[2] if thickness_mm >= 1.5 else ZINC_G_M2[3]
