"""The sections that the invented suppliers sell."""

from shopquote.calc.bar.pipes import ASME_B36
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.units import Unit

# Sizes commonly stocked (EN 10058, EN 10059, EN 10060 and inch bar): common practice, no source.
_METRIC_SIZES: dict[str, tuple[str, ...]] = {
    "round": (
        "3", "4", "5", "6", "8", "10", "12", "14", "16", "18", "20", "22", "25", "30", "32", "35", "40", "50",
        "60",
    ),
    "square": ("8", "10", "12", "14", "16", "20", "25", "30", "40"),
    "flat": (
        "12 x 3", "15 x 3", "16 x 5", "20 x 3", "20 x 4", "20 x 5", "20 x 6", "20 x 10", "25 x 3", "25 x 5",
        "25 x 6", "25 x 8", "25 x 10", "30 x 3", "30 x 5", "30 x 6", "30 x 8", "30 x 10", "40 x 3", "40 x 4",
        "40 x 5", "40 x 6", "40 x 8", "40 x 10", "40 x 12", "50 x 3", "50 x 4", "50 x 5", "50 x 6", "50 x 8",
        "50 x 10", "50 x 12", "60 x 5", "60 x 6", "60 x 8", "60 x 10", "60 x 12", "70 x 10", "80 x 5",
        "80 x 6", "80 x 8", "80 x 10", "80 x 12", "100 x 5", "100 x 6", "100 x 8", "100 x 10", "100 x 12",
        "120 x 10", "150 x 10",
    ),
    "hex": ("13", "17", "19", "24", "30"),
    "tube": (
        "21.3 x 2.6", "26.9 x 2.6", "33.7 x 2.6", "33.7 x 3.2", "42.4 x 2.6", "42.4 x 3.2",
        "48.3 x 3.2", "60.3 x 3.2", "76.1 x 3.2", "20 x 2", "25 x 2", "30 x 2",
    ),
    "box": (
        "20 x 20 x 2", "25 x 25 x 2", "30 x 30 x 2", "30 x 30 x 3", "40 x 40 x 2", "40 x 40 x 3",
        "40 x 20 x 2", "50 x 50 x 3", "50 x 30 x 3", "60 x 40 x 3", "60 x 60 x 3", "80 x 40 x 3",
        "80 x 80 x 4", "100 x 50 x 4", "100 x 100 x 4",
    ),
    "angle": (
        "20 x 20 x 3", "25 x 25 x 3", "30 x 30 x 3", "40 x 40 x 4", "40 x 40 x 5", "50 x 50 x 5",
        "60 x 60 x 6", "60 x 40 x 5", "80 x 80 x 8",
    ),
    "tee": ("30 x 30 x 4", "40 x 40 x 5", "50 x 50 x 6"),
    "channel": ("80 x 45 x 6 x 8", "100 x 50 x 6 x 8.5"),
    "half-round": ("20 x 10", "30 x 10"),
}  # fmt: skip
_RAILING = ("3/4", "1", "1-1/4", "1-1/2", "2")
_INCH_SIZES: dict[str, tuple[str, ...]] = {
    "round": ("1/4", "5/16", "3/8", "1/2", "5/8", "3/4", "7/8", "1", "1-1/4", "1-1/2"),
    "square": ("3/8", "1/2", "5/8", "3/4", "1"),
    "flat": (
        "1/2 x 1/8", "3/4 x 1/8", "3/4 x 3/16", "1 x 1/8", "1 x 3/16", "1 x 1/4", "1-1/4 x 1/4",
        "1-1/2 x 1/8",
        "1-1/2 x 3/16", "1-1/2 x 1/4", "1-1/2 x 3/8", "2 x 1/8", "2 x 3/16", "2 x 1/4", "2 x 3/8", "2 x 1/2",
        "3 x 1/4", "3 x 3/8", "4 x 1/4", "4 x 3/8",
    ),
    "tube": (
        "3/4 x 0.065", "1 x 0.065", "1 x 1/8", "1-1/4 x 1/8", "1-1/2 x 0.065", "1-1/2 x 1/8", "2 x 1/8",
        # Railing pipe, schedule 40: 3/4, 1, 1-1/4, 1-1/2 and 2 in.
        *(f"{wide} mm x {wall} mm" for wide, wall in (ASME_B36[size][:2] for size in _RAILING)),
    ),
    "box": ("1 x 1 x 1/8", "1-1/2 x 1-1/2 x 1/8", "2 x 2 x 1/8", "2 x 1 x 1/8"),
    "angle": ("1 x 1 x 1/8", "1-1/4 x 1-1/4 x 1/8", "1-1/2 x 1-1/2 x 1/8", "2 x 2 x 1/4"),
}  # fmt: skip


def stocked_sections(unit: Unit) -> tuple[Section, ...]:
    """The sections commonly stocked in sizes of millimetres or of inches."""
    listed = _METRIC_SIZES if unit == "mm" else _INCH_SIZES
    return tuple(parse_section(f"{kind} {size}", unit) for kind, sizes in listed.items() for size in sizes)
