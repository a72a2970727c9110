"""A section as it lies in a bend: depth, centroid, second moment of area, moduli, elastic-plastic moment.

Millimetres, N mm and MPa. Stress is elastic-perfectly-plastic at a given flow stress. The closed form of a
kind is used where there is one and the section lies square; else quadrature over its outline. Begin at
`bend_section`.
"""

from functools import lru_cache

from shopquote.calc.bar.outline import Point, profile_of
from shopquote.calc.bar.plastic import Profile, integrate, numeric_moment
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis

# Tolerance in degrees from a whole quarter (or sixth) of a turn within which a section lies square.
SQUARE_ON = 1e-6

# Ratio of the elastic core's half depth to the depth below which a section is taken as fully plastic.
FULLY_PLASTIC = 1e-9


@dataclass(frozen=True)
class BendSection:
    """A section as it lies in a bend, with the values that bending needs.

    depth_mm in the plane of the bend, width_mm across it; centroid_mm from the inner face; second moment of
    area in mm4; plastic and elastic section moduli in mm3. `square_on` is false where the section is rolled
    so that none of its faces lies on the former.
    """

    section: Section
    axis: BendAxis
    roll: float
    depth_mm: float
    width_mm: float
    centroid_mm: float
    inertia_mm4: float
    plastic_mm3: float
    elastic_mm3: float
    square_on: bool

    @property
    def outer_mm(self) -> float:
        """Distance in mm of the outer fibre from the centroid."""
        return self.depth_mm - self.centroid_mm

    def moment_nmm(self, stress_mpa: float, e_mpa: float, radius_mm: float) -> float:
        """Moment in N mm that holds the bar at a centre-line radius.

        Fibres nearer to the neutral axis than c = stress x radius / E are elastic.
        """
        return stress_mpa * self.unit_moment_mm3(stress_mpa * radius_mm / e_mpa)

    def unit_moment_mm3(self, elastic_mm: float) -> float:
        """Moment over flow stress in mm3, with an elastic core of half depth `elastic_mm`.

        It is the plastic modulus at 0, and second moment of area / elastic_mm once the core fills the
        section.
        """
        closed = self.section.form.moment
        if closed is not None and self.square_on:
            return closed(self.width_mm, self.depth_mm, self.section.sizes_mm, elastic_mm)
        return numeric_moment(_rolled_profile(self.section, self.axis, self.roll), elastic_mm)


@lru_cache(maxsize=512)
def section_profile(section: Section, axis: BendAxis, roll: float = 0.0) -> Profile:
    """Width as a function of depth from the centroid, as the section lies in the bend; roll in degrees."""
    return profile_of(section.outline(axis), section.origin(axis), roll)


def _rolled_profile(section: Section, axis: BendAxis, roll: float) -> Profile:
    """The profile in a bend; an outline with its toes inside is mirrored, so it rolls the other way."""
    return section_profile(section, axis, -roll if section.toes_in else roll)


@lru_cache(maxsize=512)
def section_hull(section: Section, axis: BendAxis) -> tuple[tuple[float, float, float], ...]:
    """Circles (across, outward, radius) in mm about the centroid whose convex hull is the section's."""
    return section.outline(axis).hull(section.origin(axis))


@lru_cache(maxsize=512)
def section_corners(section: Section, axis: BendAxis) -> tuple[Point, ...]:
    """Corners (across, outward) in mm about the centroid for drawings, without corner radii."""
    outline = section.form.outline(section.sizes_mm, "sharp")
    if axis == "hard" and section.form.two_ways:
        outline = outline.turned_over()
    if section.toes_in:
        outline = outline.upside_down()
    x, y = section.origin(axis)
    return tuple((px - x, py - y) for edge in outline.outer for px, py in edge.points())


def lying(section: Section, axis: BendAxis, roll: float) -> tuple[BendAxis, float, bool]:
    """How a rolled section lies.

    The axis it is now bent about, the remaining roll, whether a face lies square.

    >>> from shopquote.calc.bar.sections import parse_section
    >>> lying(parse_section("flat 50 x 6", "mm"), "easy", 90.0)
    ('hard', 0.0, True)
    """
    step = section.form.step
    if not step:
        return axis, 0.0, True
    quarters = round(roll / step)
    left = roll - quarters * step
    other: BendAxis = "hard" if axis == "easy" else "easy"
    now = other if quarters % 2 and section.has_axes else axis
    if abs(left) <= SQUARE_ON:
        return now, 0.0, True
    return now, round(left, 9), False


@lru_cache(maxsize=2048)
def bend_section(section: Section, axis: BendAxis = "easy", roll: float = 0.0) -> BendSection:
    """A section as it lies in a bend, rolled by `roll` degrees against the bend axis."""
    given = axis, roll
    over = roll >= 180.0
    axis, left, square_on = lying(section, axis, roll - 180.0 if over else roll)
    if over and square_on:
        section = section.turned_over
    elif section.lopsided and not square_on:
        # Without symmetry no roll can be replaced by the other axis.
        axis, left = given
    depth, width, centroid = section.depth_mm(axis), section.width_mm(axis), section.centroid_mm(axis)
    profile = _rolled_profile(section, axis, left)
    if not square_on:
        across = _rolled_profile(section, axis, left + 90)
        depth, centroid = profile[-1].high - profile[0].low, -profile[0].low
        width = across[-1].high - across[0].low
    inertia = integrate(profile, lambda y: y * y)
    elastic = inertia / max(centroid, depth - centroid)
    made = BendSection(section, axis, left, depth, width, centroid, inertia, 0.0, elastic, square_on)
    plastic = made.unit_moment_mm3(FULLY_PLASTIC * depth)
    return BendSection(section, axis, left, depth, width, centroid, inertia, plastic, elastic, square_on)
