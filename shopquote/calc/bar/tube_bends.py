"""Bends of hollow bar: thinning of the outer wall, flattening, wrinkling of the inner wall.

Float mm; D is the size in the plane of the bend, R the centre-line radius. Begin at `tube_bend`.
Sources: wall factor D / t, R / D, thinning and the bend difficulty rating by a public page of tube-bending
formulas; that a mandrel is usual above a wall factor of 20 by a public glossary of the trade; the bounds on
R / D beside them.
"""

from shopquote.calc.frozen import dataclass

# Difficulty rating up to which an empty tube bends with ordinary care, and rigidity factor: that page's rules
# of thumb.
EASY_RATING = 7.0
RIGIDITY = 2.0
# Least centre-line radius over size by wall factor D / t: bent empty or filled with sand, and with a mandrel.
# Empty: 2 D, 3 D and 4.5 D at walls of D / 20, D / 30 and D / 50 as a tube mill's handbook has them bent
# (table 38 of 2018); 1.5 D of thick walls since a tool maker's page has a mandrel at 1.5 D and below almost
# always. With a mandrel 1 D can be had, by a tube engineers' page; thinner walls than D / 20 with one, and
# all beyond D / 50: common practice, no source; the shop's bender decides.
LEAST_RATIOS: tuple[tuple[float, float, float], ...] = (
    (10.0, 1.5, 1.0),
    (20.0, 2.0, 1.0),
    (30.0, 3.0, 1.5),
    (50.0, 4.5, 2.0),
    (1e9, 6.0, 3.0),
)

# Flattening of an empty bend as a factor of D / R. 10 % at 2 D is the most that TEMA RCB-2.31 allows a
# U-tube (a tube maker's page); 4 % at 5 D is half the 8 % that US design criteria for ships' piping allow.
# One line goes through both.
FLATTENING = 0.20


@dataclass(frozen=True, slots=True)
class TubeBend:
    """One bend of a hollow bar.

    thinning: share of the outer wall lost; ovality: share of D by which it flattens if bent empty; rating:
    bend difficulty; empty_mm, mandrel_mm: least centre-line radii without and with a mandrel.
    """

    thinning: float
    ovality: float
    rating: float
    empty_mm: float
    mandrel_mm: float

    def wants(self, centre_mm: float) -> str:
        """What a bend needs: "", "sand", "mandrel", or "outside" where even a mandrel will not do."""
        if centre_mm < self.mandrel_mm - 1e-9:
            return "outside"
        if centre_mm < self.empty_mm - 1e-9:
            return "mandrel"
        return "sand" if self.rating > EASY_RATING else ""


def wall_thinning(centre_mm: float, depth_mm: float) -> float:
    """Share of the outer wall's thickness lost: (Ro - R) / Ro.

    >>> round(wall_thinning(66.2, 42.4), 3)
    0.243
    """
    return depth_mm / 2 / (centre_mm + depth_mm / 2)


def difficulty(angle: float, depth_mm: float, wall_mm: float, centre_mm: float) -> float:
    """Bend difficulty rating: (2 Kr + 0.2 D/t + A/180) / (R/D)."""
    return (2 * RIGIDITY + 0.2 * depth_mm / wall_mm + abs(angle) / 180) / (centre_mm / depth_mm)


def tube_bend(angle: float, depth_mm: float, wall_mm: float, centre_mm: float) -> TubeBend:
    """Thinning, flattening and least radii of one bend."""
    factor = depth_mm / wall_mm
    empty, mandrel = next((empty, mandrel) for most, empty, mandrel in LEAST_RATIOS if factor <= most)
    return TubeBend(
        wall_thinning(centre_mm, depth_mm), FLATTENING * depth_mm / centre_mm,
        difficulty(angle, depth_mm, wall_mm, centre_mm), empty * depth_mm, mandrel * depth_mm,
    )  # fmt: skip
