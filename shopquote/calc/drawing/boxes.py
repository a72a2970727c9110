"""Convex boxes around drawn items, and whether two of them overlap; millimetres on paper."""

from itertools import pairwise

from shopquote.calc.drawing.model import Point

Box = tuple[Point, ...]
Frame = tuple[float, float, float, float]  # left, bottom, right, top
# Tolerance within which a box counts as axis-parallel, for the rounding of its corners.
_UPRIGHT_MM = 1e-9


class BoxShape:
    """A convex box, its bounding frame, and its separating axes (none for an axis-parallel box).

    Each axis has the interval that the box covers along it. They are made on demand, since most pairs of
    boxes are decided by their frames.
    """

    __slots__ = ("_axes", "box", "frame")

    def __init__(self, box: Box) -> None:
        xs, ys = [x for x, _ in box], [y for _, y in box]
        self.box = box
        self.frame: Frame = min(xs), min(ys), max(xs), max(ys)
        self._axes: tuple[Frame, ...] | None = None

    @property
    def axes(self) -> tuple[Frame, ...]:
        """The box's axes, made when first asked for."""
        if self._axes is None:
            self._axes = _axes_of(self.box, self.frame)
        return self._axes


def overlap(a: Box, b: Box) -> bool:
    """Whether two convex boxes share more than an edge (separating axis theorem)."""
    return shapes_overlap(BoxShape(a), BoxShape(b))


def shapes_overlap(a: BoxShape, b: BoxShape) -> bool:
    """Like `overlap`, for boxes whose frames and axes are kept."""
    left, bottom, right, top = a.frame
    l2, b2, r2, t2 = b.frame
    # Touching is no overlap: neighbouring strokes of one line share an edge.
    if left >= r2 or l2 >= right or bottom >= t2 or b2 >= top:
        return False
    return not (_parted(a, b) or _parted(b, a))


def _parted(one: BoxShape, other: BoxShape) -> bool:
    for nx, ny, low, high in one.axes:
        far = [x * nx + y * ny for x, y in other.box]
        if high <= min(far) or max(far) <= low:
            return True
    return False


def _axes_of(box: Box, frame: Frame) -> tuple[Frame, ...]:
    left, bottom, right, top = frame
    if all(min(x - left, right - x) < _UPRIGHT_MM and min(y - bottom, top - y) < _UPRIGHT_MM for x, y in box):
        return ()
    edges = list(pairwise((*box, box[0])))
    if len(box) == 4:
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = box
        if abs(ax + cx - bx - dx) + abs(ay + cy - by - dy) < _UPRIGHT_MM:
            edges = edges[:2]  # sides of a strip are parallel
    axes = []
    for (x1, y1), (x2, y2) in edges:
        nx, ny = y2 - y1, x1 - x2
        own = [x * nx + y * ny for x, y in box]
        axes.append((nx, ny, min(own), max(own)))
    return tuple(axes)
