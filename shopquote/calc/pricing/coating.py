"""Paint and powder for an area. Square metres, micrometres, litres, kilograms."""


def paint_coverage_m2_l(solids_pct: float, film_um: float, transfer_pct: float = 100.0) -> float:
    """Area that one litre covers in one coat: 10 x solids / film x transfer.

    Source: one litre at 1 um covers 1000 m2 of solids (arithmetic).

    >>> paint_coverage_m2_l(50, 50)
    10.0
    """
    return 10 * solids_pct / film_um * transfer_pct / 100


def powder_kg_m2(density_kg_l: float, film_um: float, transfer_pct: float) -> float:
    """Powder used for a square metre."""
    return density_kg_l * film_um / 1000 / (transfer_pct / 100)
