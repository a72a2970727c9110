"""Drawings as DXF: the part's own size in mm or in, every kind of line on a layer of its own.

Made with ezdxf (R2010); fixed dates and names, so that the same drawing gives the same file. Begin at `dxf`.
"""

import io
from math import tan

from ezdxf._options import options
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from shopquote.calc.drawing.model import Drawing, DrawnArc, Item, Line, Point
from shopquote.calc.units import Unit

# Standard DXF colour numbers; 7 is black on white and white on black.
LAYERS = {"part": 7, "centre": 1, "sizes": 3, "marks": 5, "holes": 6, "notes": 8}
_LINETYPES = {"chain": "CENTER", "dashed": "DASHED"}
_UNITS = {"mm": (4, 1.0), "in": (1, 1 / 25.4)}  # DXF header variable $INSUNITS, and one mm in it


def dxf(drawing: Drawing, unit: Unit) -> str:
    """The drawing as the text of a DXF file, at the part's own size."""
    options.write_fixed_meta_data_for_testing = True  # so that the file has no date and no random name
    code, one_mm = _UNITS[unit]
    document: Document = new("R2010", setup=["linetypes"], units=code)
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    space = document.modelspace()
    factor = one_mm / drawing.scale
    for item in drawing.items:
        _add(space, item, factor)
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def _add(space: Modelspace, item: Item, factor: float) -> None:
    looks = {"layer": item.layer}
    if isinstance(item, Line):
        if item.fill == "white":  # paper between break marks has no meaning at full size
            return
        pen = looks | {"linetype": _LINETYPES.get(item.pen, "CONTINUOUS")}
        points = [_at(point, factor) for point in item.points]
        if item.fill == "black":
            space.add_solid([*points[:2], points[-1], points[-1]], looks)
        elif item.curve:
            # A bulge is the tangent of a quarter of an arc's sweep (DXF reference, LWPOLYLINE).
            bent = [(*_at(p, factor), tan(sweep / 4)) for p, _, sweep in item.arcs()]
            space.add_lwpolyline([*bent, (*points[-1], 0.0)], format="xyb", dxfattribs=pen)
        else:
            space.add_lwpolyline(points, close=item.closed, dxfattribs=pen)
    elif isinstance(item, DrawnArc):
        pen = looks | {"linetype": _LINETYPES.get(item.pen, "CONTINUOUS")}
        centre, radius = _at(item.centre, factor), item.radius * factor
        if abs(item.sweep) >= 360:
            space.add_circle(centre, radius, pen)
        else:
            start, end = sorted((item.start, item.start + item.sweep))
            space.add_arc(centre, radius, start, end, dxfattribs=pen)
    else:
        text = space.add_text(
            item.text, height=item.size * 0.7 * factor, rotation=item.angle, dxfattribs=looks
        )
        text.set_placement(_at(item.at, factor), align=TextEntityAlignment.MIDDLE_CENTER)


def _at(point: Point, factor: float) -> Point:
    return point[0] * factor, point[1] * factor
