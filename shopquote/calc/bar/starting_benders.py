"""The benders of a new shop, which it is to replace by its own.

They are invented, of sizes common in small shops: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from shopquote.calc.bar.benders import Bender, Former
from shopquote.calc.units import NM_PER_INCH, Length, Unit


def _mm(value: float | str) -> Length:
    return Length.from_mm(value)


# Formers for radii of inch drawings that no metric former is close to.
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
        formers=_formers(8, 10, 12, 16, 20, 24, 25, 28, 30, 32, 36, 40, 50, 60, 75, 100),
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
        name="bending pins and scroll formers",
        largest_moment_nm=300.0,
        opening=_mm(12),
        width=_mm(40),
        lever=_mm(900),
        formers=_formers(4, 5, 6, 8, 10, 12, 14, 15, 16, 18, 20, 25, 30, 40, 50),
        smallest_leg=_mm(6),
        smallest_between=_mm(4),
        largest_angle=320.0,
        arc_step=_mm(4),
        works_by="wipe",
        both_ways=True,
        note="invented; a plate of pins in the vise; common practice, no source",
    ),
    Bender(
        name="sheet folder to 3 mm",
        largest_moment_nm=2000.0,
        opening=_mm(3),
        width=_mm(1250),
        lever=_mm(2500),
        formers=_formers(1, 2, 3, 4, 5, 6, 8, 10),
        smallest_leg=_mm(10),
        smallest_between=_mm(10),
        largest_angle=135.0,
        works_by="wipe",
        note="invented; common practice, no source",
    ),
    Bender(
        name="bench bender, geared, to 16 mm",
        largest_moment_nm=620.0,
        opening=_mm(25),
        width=_mm(60),
        lever=_mm(2500),
        formers=_formers(8, 10, 12, 14, 15, 16, 18, 20, 24, 25, 30, 32, 36, 40, 48, 50, 60, 75, 100),
        smallest_leg=_mm(20),
        smallest_between=_mm(18),
        largest_angle=200.0,
        clear_radius=_mm(18),
        bench_radius=_mm(120),
        pins=(_mm(16), _mm(20), _mm(25)),
        arc_step=_mm(10),
        works_by="wipe",
        note="invented; its lever counts the gears; common practice, no source",
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
    Bender(
        name="draw bender, powered, for tube and bar",
        largest_moment_nm=4500.0,
        opening=_mm(61),
        width=_mm(61),
        lever=Length(0),
        formers=_formers(30, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 100, 110, 120, 130, 150, 160, 180),
        smallest_leg=_mm(60),
        smallest_between=_mm(40),
        largest_angle=195.0,
        works_by="draw",
        clear_radius=_mm(40),
        arc_step=_mm(20),
        powered=True,
        note="invented; tube at two and a half to four diameters; common practice, no source",
    ),
    Bender(
        name="jenny, swaging and beading rolls",
        largest_moment_nm=12.0,
        opening=_mm(2),
        width=_mm(60),
        lever=Length(0),
        formers=(),
        smallest_leg=_mm(0),
        smallest_between=_mm(0),
        largest_angle=360.0,
        works_by="rolls",
        powered=True,
        rolls_to=_mm(25),
        note="invented; for edges of sheet and thin wire; common practice, no source",
    ),
    Bender(
        name="wire jig and pliers",
        largest_moment_nm=20.0,
        opening=_mm(5),
        width=_mm(8),
        lever=_mm(300),
        formers=_formers(1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20),
        smallest_leg=_mm(3),
        smallest_between=_mm(0),
        largest_angle=330.0,
        arc_step=_mm(3),
        works_by="wipe",
        both_ways=True,
        note="invented; pins on a plate, one bend beside the next; common practice, no source",
    ),
    Bender(
        name="ring roller, three rolls",
        largest_moment_nm=4200.0,
        opening=_mm(60),
        width=_mm(60),
        lever=Length(0),
        formers=(),
        smallest_leg=_mm(0),
        smallest_between=_mm(0),
        largest_angle=360.0,
        works_by="rolls",
        powered=True,
        rolls_to=_mm(125),
        note="invented; common practice, no source",
    ),
)

# Radii of inch formers as they are sold: common practice, no source. Thirty-seconds are of wire.
_THIRTY_SECONDS = (
    *(1, 2, 3, 4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 24, 28, 32, 36, 40, 44, 48, 56, 64),
    *(72, 80, 88, 96, 104, 112, 128, 144, 160, 176, 192, 208, 224, 256),
)
_INCH_RADII = tuple(Fraction(size, 32) for size in _THIRTY_SECONDS)
_IN_NAMES = {"to 3 mm": "to 1/8 in", "to 16 mm": "to 5/8 in"}
_SIZES = (
    "opening", "width", "lever", "smallest_leg", "smallest_between", "clear_radius", "bench_radius",
    "arc_step", "rolls_to",
)  # fmt: skip


def starting_benders(unit: Unit) -> tuple[Bender, ...]:
    """The benders that a new shop starts from, in sizes of its unit and the same order.

    In inches formers have the nearest usual radius, and other sizes are rounded by `_rounded`.
    """
    return STARTING_BENDERS if unit == "mm" else tuple(map(_in_inches, STARTING_BENDERS))


def _in_inches(bender: Bender) -> Bender:
    name = bender.name
    for metric, inches in _IN_NAMES.items():
        name = name.replace(metric, inches)
    radii = sorted({_nearest(former.radius, _INCH_RADII) for former in bender.formers})
    sizes: dict[str, Any] = {size: _rounded(getattr(bender, size)) for size in _SIZES}
    formers = tuple(Former(Length.from_inches(radius), f"former r {_mixed(radius)} in") for radius in radii)
    pins = tuple(Length.from_inches(_nearest(pin, _INCH_RADII)) for pin in bender.pins)
    return replace(bender, name=name, formers=formers, pins=pins, **sizes)


def _nearest(length: Length, steps: Sequence[Fraction]) -> Fraction:
    return min(steps, key=lambda step: abs(Length.from_inches(step).nm - length.nm))


def _rounded(length: Length | None) -> Length | None:
    """To the nearest inch beyond a foot, the nearest eighth beyond half an inch, else the nearest 1/16."""
    if length is None:
        return None
    inches = Fraction(length.nm, NM_PER_INCH)
    step = Fraction(1) if inches > 12 else Fraction(1, 8) if inches > Fraction(1, 2) else Fraction(1, 16)
    return Length.from_inches(round(inches / step) * step)


def _mixed(inches: Fraction) -> str:
    whole, part = divmod(inches, 1)
    return "-".join(filter(None, (str(whole) if whole else "", str(part) if part else "")))
