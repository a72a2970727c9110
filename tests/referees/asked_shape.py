"""The shape that words ask for, walked in small steps; shares no code with the program.

Legs are tangent lengths. Points of the bar's centre line, mm, from the origin along x.
"""

import re
from functools import lru_cache

import numpy as np

STEP_MM = 1.0


STRAIGHT = ("leg", "twist", "taper")


def walked(shape, centroids_mm):
    """Points of the centre line (n, 3) and the direction (radians round x) of the first curve's inner side.

    `centroids_mm`: of each curve, from its inner face to the centre line.
    """
    centroids = iter(centroids_mm)
    point, frame = np.zeros(3), np.eye(3)  # rows: along, inner, aside
    points, first = [point], None
    for word in shape.split(";"):
        name, numbers = word.split()[0], [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", word)]
        if name == "turn":
            frame = _turning(np.radians(numbers[0]), 0.0) @ frame
            continue
        centroid_mm = 0.0 if name in STRAIGHT else next(centroids)
        stretches = _stretches(name, numbers, word, centroid_mm)
        if len(points) == 1 and name in ("eye", "hook"):
            stretches = stretches[::-1]
        if first is None and name not in STRAIGHT:
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
    if name in STRAIGHT:
        return [(numbers[1 if name == "twist" else 0], 0.0, 0.0)]
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
    if name == "collar":
        half, high = [(numbers[0] / 2, 0.0, 0.0)], [(numbers[1], 0.0, 0.0)]
        corner = _turned_by(90, centroid)
        return half + corner + high + corner + half + half + corner + high + corner + half
    if name in ("eye", "hook", "corner", "joggle", "ellipse"):
        return _by_hand(name, numbers, word, centroid)
    assert name in ("scroll", "volute")
    start, finish, turns = numbers
    if name == "volute":
        # r' = b r: its curvature is that of a circle of r sqrt(1 + b^2).
        edges = np.geomspace(start, finish, 1501)
        b = np.log(finish / start) / (2 * np.pi * abs(turns))
        length = np.abs(np.diff(edges)) * np.sqrt(1 + b * b) / abs(b)
        curvature = np.sign(turns) / (np.sqrt(edges[1:] * edges[:-1]) * np.sqrt(1 + b * b))
        return list(zip(length, curvature, np.zeros(1500), strict=True))
    b = (finish - start) / (2 * np.pi * abs(turns))
    edges = np.linspace(0, 2 * np.pi * abs(turns), 1500)
    r = start + b * (edges[1:] + edges[:-1]) / 2
    speed = np.sqrt(r * r + b * b)
    curvature = np.sign(turns) * (r * r + 2 * b * b) / speed**3
    return list(zip(speed * np.diff(edges), curvature, np.zeros(len(r)), strict=True))


def _by_hand(name, numbers, word, centroid):
    """Curves whose angles follow from where their ends must meet, found by halving."""
    way, depth = -1 if "back" in word else 1, 2 * centroid
    if name == "corner":
        return _turned_by(numbers[0], centroid)
    if name == "hook":
        tip = [(numbers[1], 0.0, 0.0)] if len(numbers) > 1 else []
        return _turned_by(180 * way, numbers[0] / 2 + centroid) + tip
    if name == "joggle":
        radius, (offset, length) = depth + centroid, numbers[:2]

        def off(a):
            straight = (length - 2 * radius * np.sin(a)) / np.cos(a)
            return 2 * radius * (1 - np.cos(a)) + straight * np.sin(a) - offset

        angle = _halved(off, 0, np.pi / 2 - 0.01)
        straight = (length - 2 * radius * np.sin(angle)) / np.cos(angle)
        bent = _turned_by(np.degrees(angle), radius)
        return [*bent, (straight, 0.0, 0.0), *_turned_by(-np.degrees(angle), radius)]
    if name == "ellipse":
        a, b = numbers[0] / 2, numbers[1] / 2
        t = np.linspace(0, 2 * np.pi, 4001)
        middle = (t[1:] + t[:-1]) / 2
        speed = np.sqrt((a * np.cos(middle)) ** 2 + (b * np.sin(middle)) ** 2)
        curvature = 1 / (speed**3 / (a * b) + centroid)
        length = (speed + centroid * a * b / speed**2) * np.diff(t)
        return list(zip(length, curvature, np.zeros(len(t) - 1), strict=True))
    radius = numbers[0] / 2 + centroid
    if "centred" not in word:
        met = _halved(lambda a: radius - (radius + centroid) * np.cos(a) - centroid, 2 * np.pi, np.pi)
        return _turned_by(way * np.degrees(met), radius)
    neck = depth + centroid
    lean = _halved(lambda g: (neck + radius) * np.cos(g) - neck, np.pi / 2, 0)
    # From where the neck ends round to the bar's face, seen from the eye's centre.
    begun, ended = 1.5 * np.pi - lean, 3 * np.pi - np.arcsin(centroid / (radius + centroid))
    return _turned_by(-way * np.degrees(lean), neck) + _turned_by(way * np.degrees(ended - begun), radius)


def _halved(function, low, high):
    """Where a function that is below 0 at `low` and above it at `high` is 0."""
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) < 0 else (low, middle)
    return low


def _turned_by(angle, radius):
    return _even(np.radians(abs(angle)) * radius, np.sign(angle) / radius, 0.0)


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
