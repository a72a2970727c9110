"""Time to drill a hole, tap drill sizes. Millimetres, m/min, mm/rev, minutes."""

from math import pi, radians, tan

# Coarse threads: diameter, pitch, mm. Source: ISO 261, from memory.
COARSE_PITCH = {
    2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25, 10.0: 1.5, 12.0: 1.75, 14.0: 2.0,
    16.0: 2.0, 18.0: 2.5, 20.0: 2.5, 22.0: 2.5, 24.0: 3.0, 27.0: 3.0, 30.0: 3.5, 36.0: 4.0,
}  # fmt: skip
# Unified coarse threads: inches, threads per inch. Source: ASME B1.1, from memory.
_COARSE_INCH = (
    (1 / 4, 20),
    (5 / 16, 18),
    (3 / 8, 16),
    (7 / 16, 14),
    (1 / 2, 13),
    (5 / 8, 11),
    (3 / 4, 10),
    (1.0, 8),
)


def spindle_speed(speed_m_min: float, dia_mm: float) -> float:
    """Turns a minute at a cutting speed: 1000 V / (pi D).

    >>> round(spindle_speed(20, 20), 2)
    318.31
    """
    return 1000 * speed_m_min / (pi * dia_mm)


def point_approach(dia_mm: float, point_angle: float = 118) -> float:
    """Extra travel until the whole point cuts: D/2 tan(90 - angle/2), mm.

    Source: geometry of a cone. Some pages print tan(angle/2), which turns the cone round.

    >>> round(point_approach(20), 2)
    6.01
    """
    return dia_mm / 2 * tan(radians(90 - point_angle / 2))


def cut_path_m(dia_mm: float, depth_mm: float, feed_mm_rev: float, point_angle: float = 118) -> float:
    """Path of the drill's corner through one hole, m; over the cutting speed it gives minutes.

    minutes = (depth + approach) / (feed x turns) = pi D (depth + approach) / (1000 feed V).
    """
    travel = depth_mm + point_approach(dia_mm, point_angle)
    return pi * dia_mm * travel / (1000 * feed_mm_rev)


def feed_standard(dia_mm: float) -> str:
    """Name of the feed standard of a diameter."""
    for limit in (3, 6, 13, 25):
        if dia_mm <= limit + 0.5:
            return f"drill.feed.{limit}mm"
    return "drill.feed.over"


def tap_drill_mm(dia_mm: float) -> float:
    """Drill for a coarse thread: diameter less pitch; 0.85 of it where the thread is not a usual one.

    Source: common practice (about 75 % of thread), Machinery's Handbook from memory.

    >>> tap_drill_mm(8), tap_drill_mm(10)
    (6.75, 8.5)
    """
    for size, pitch in COARSE_PITCH.items():
        if abs(size - dia_mm) < 0.01:
            return size - pitch
    for inches, per_inch in _COARSE_INCH:
        if abs(inches * 25.4 - dia_mm) < 0.03:
            return (inches - 1 / per_inch) * 25.4
    return 0.85 * dia_mm
