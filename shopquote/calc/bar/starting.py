"""Sections, grades and benders that a new shop starts from; all of them are the shop's to change.

The benders are invented, of sizes common in small shops: common practice, no source.
"""

from shopquote.calc.bar.benders import Bender, BendingShop, Former
from shopquote.calc.bar.grades import STARTING_GRADES
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.units import Length, Unit

__all__ = ["STARTING_BENDERS", "STARTING_GRADES", "STARTING_SECTIONS", "starting_sections", "starting_shop"]

# Sizes commonly stocked (EN 10058, EN 10059, EN 10060 and inch bar): common practice, no source.
_METRIC = (
    *(f"round {size}" for size in (6, 8, 10, 12, 16, 20, 25, 30, 40)),
    *(f"square {size}" for size in (8, 10, 12, 16, 20, 25)),
    *(
        f"flat {size}"
        for size in (
            "20 x 5",
            "25 x 5",
            "25 x 6",
            "30 x 5",
            "40 x 5",
            "40 x 6",
            "40 x 8",
            "50 x 6",
            "50 x 8",
            "50 x 10",
            "60 x 10",
            "80 x 10",
        )
    ),
    *(f"hex {size}" for size in (13, 17, 19, 24)),
    *(f"tube {size}" for size in ("21.3 x 2.6", "26.9 x 2.6", "33.7 x 2.6", "42.4 x 2.6")),
    *(f"box {size}" for size in ("20 x 20 x 2", "30 x 30 x 2", "40 x 40 x 3", "50 x 30 x 3")),
    *(f"angle {size}" for size in ("25 x 25 x 3", "30 x 30 x 3", "40 x 40 x 4", "50 x 50 x 5")),
)
_INCH = (
    *(f"round {size}" for size in ("1/4", "5/16", "3/8", "1/2", "5/8", "3/4", "1")),
    *(f"square {size}" for size in ("3/8", "1/2", "5/8", "3/4", "1")),
    *(
        f"flat {size}"
        for size in (
            "3/4 x 1/8",
            "1 x 1/8",
            "1 x 3/16",
            "1 x 1/4",
            "1-1/2 x 1/4",
            "2 x 1/4",
            "2 x 3/8",
            "2 x 1/2",
        )
    ),
)


def starting_sections(unit: Unit) -> tuple[Section, ...]:
    """Sections commonly stocked, in the sizes of one unit."""
    return tuple(parse_section(text, unit) for text in (_METRIC if unit == "mm" else _INCH))


STARTING_SECTIONS: tuple[Section, ...] = (*starting_sections("mm"), *starting_sections("in"))


def _mm(value: float | str) -> Length:
    return Length.from_mm(value)


# Radii of inch drawings that no metric former comes near to.
_INCH_FORMERS = tuple(
    Former(Length.from_inches(radius), f"former r {name} in")
    for radius, name in (("3/4", "3/4"), ("3/2", "1-1/2"), ("5/2", "2-1/2"))
)


def _formers(*radii: float) -> tuple[Former, ...]:
    """Formers of these radii in millimetres and the usual inch ones, the smallest first."""
    metric = (Former(_mm(radius), f"former r {radius:g}") for radius in radii)
    return tuple(sorted((*metric, *_INCH_FORMERS), key=lambda former: former.radius))


STARTING_BENDERS: tuple[Bender, ...] = (
    Bender(
        name="hand bender, bench",
        largest_moment_nm=260.0,
        opening=_mm(20),
        width=_mm(50),
        lever=_mm(1000),
        formers=_formers(8, 10, 12, 16, 20, 24, 25, 30, 32, 36, 40, 50, 60, 75, 100),
        smallest_leg=_mm(15),
        smallest_between=_mm(15),
        largest_angle=200.0,
        clear_radius=_mm(15),
        bench_radius=_mm(120),
        pins=(_mm(12), _mm(16), _mm(20)),
        arc_step=_mm(8),
        works_by="wipe",
        note="invented; common practice, no source",
    ),
    Bender(
        name="floor bender, long arm",
        largest_moment_nm=1200.0,
        opening=_mm(50),
        width=_mm(80),
        lever=_mm(1600),
        formers=_formers(10, 12, 16, 20, 25, 30, 32, 35, 40, 48, 50, 60, 70, 75, 100, 125, 150),
        smallest_leg=_mm(40),
        smallest_between=_mm(30),
        largest_angle=190.0,
        clear_radius=_mm(25),
        bench_radius=_mm(150),
        pins=(_mm(20), _mm(25), _mm(30)),
        arc_step=_mm(15),
        works_by="wipe",
        note="invented; common practice, no source",
    ),
    Bender(
        name="hydraulic ram bender",
        largest_moment_nm=6000.0,
        opening=_mm(80),
        width=_mm(120),
        lever=Length(0),
        formers=_formers(20, 25, 30, 32, 35, 40, 50, 60, 75, 100, 150, 200),
        smallest_leg=_mm(100),
        smallest_between=_mm(80),
        largest_angle=110.0,
        works_by="ram",
        mark_at="centre",
        clear_radius=_mm(40),
        arc_step=_mm(20),
        powered=True,
        note="invented; common practice, no source",
    ),
)


def starting_shop() -> BendingShop:
    """The shop to calculate with where no database is on file."""
    return BendingShop(benders=STARTING_BENDERS, grades=STARTING_GRADES)
