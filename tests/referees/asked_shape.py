"""The shape that words ask for, walked in small steps; shares no code with the program.

Legs are tangent lengths. Points of the bar's centre line, mm, from the origin along x.
"""

import re
from functools import lru_cache

import numpy as np

STEP_MM = 1.0


def walked(shape, centroid_mm):
    """Points of the centre line (n, 3) and the direction (radians round x) of the first curve's inner side.

    `centroid_mm`: from a bend's inner face to the centre line.
    """
    point, frame = np.zeros(3), np.eye(3)  # rows: along, inner, aside
    points, first = [point], None
    for word in shape.split(";"):
        name, numbers = word.split()[0], [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", word)]
        if name == "turn":
            frame = _turning(np.radians(numbers[0]), 0.0) @ frame
            continue
        stretches = _stretches(name, numbers, word, centroid_mm)
        if first is None and name not in ("leg", "twist"):
            sense = -1 if stretches[0][1] < 0 else 1
            first = np.arctan2(*(sense * frame[1][[2, 1]]))
        for length, curvature, torsion in stretches:
            # Half of the turning before the step and half after: the middle's direction leads it.
            half = _turning(torsion * length / 2, curvature * length / 2)
            frame = half @ frame
            point = point + frame[0] * (length * _chord(abs(curvature * length)))
            frame = half @ frame
            points.append(point)
    return np.array(points), first or 0.0


def _chord(turned):
    return np.sin(turned / 2) / (turned / 2) if turned > 1e-9 else 1.0


def _stretches(name, numbers, word, centroid):
    """(length, curvature, torsion) of small steps."""
    if name in ("leg", "twist"):
        return [(numbers[-1], 0.0, 0.0)]
    if name in ("bend", "arc"):
        radius = numbers[1] + centroid
        return _even(np.radians(abs(numbers[0])) * radius, np.sign(numbers[0]) / radius, 0.0)
    if name == "ring":
        radius = numbers[0] / 2 + centroid
        return _even(2 * np.pi * radius, 1 / radius, 0.0)
    if name == "helix":
        radius, rise = numbers[0] / 2 + centroid, numbers[1] / (2 * np.pi)
        square = radius**2 + rise**2
        return _even(2 * np.pi * numbers[2] * np.sqrt(square), radius / square, rise / square)
    assert name == "scroll"
    start, finish, turns = numbers
    b = (finish - start) / (2 * np.pi * abs(turns))
    edges = np.linspace(0, 2 * np.pi * abs(turns), 1500)
    r = start + b * (edges[1:] + edges[:-1]) / 2
    speed = np.sqrt(r * r + b * b)
    curvature = np.sign(turns) * (r * r + 2 * b * b) / speed**3
    return list(zip(speed * np.diff(edges), curvature, np.zeros(len(r)), strict=True))


def _even(length, curvature, torsion):
    count = int(np.ceil(length / STEP_MM))
    return [(length / count, curvature, torsion)] * count


@lru_cache(maxsize=8192)
def _turning(twist, bend):
    """What a turn about the bar and one about the side across it make of the frame's rows (Rodrigues)."""
    angle = np.hypot(twist, bend)
    if angle < 1e-15:
        return np.eye(3)
    x, z = twist / angle, bend / angle
    cross = np.array([[0, -z, 0], [z, 0, -x], [0, x, 0]])
    return (np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross).T


def furthest_off(points, line):
    """Largest distance of points to a polyline, mm."""
    starts, steps = line[:-1], np.diff(line, axis=0)
    squares = np.maximum((steps * steps).sum(axis=1), 1e-18)
    worst = 0.0
    for point in points:
        away = point - starts
        share = np.clip((away * steps).sum(axis=1) / squares, 0, 1)
        worst = max(worst, np.linalg.norm(away - share[:, None] * steps, axis=1).min())
    return worst
