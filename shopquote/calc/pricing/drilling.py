"""Time to drill a hole. Millimetres, m/min, mm/rev, minutes."""

from math import pi, radians, tan


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
