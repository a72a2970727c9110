"""Drawings as SVG: what the page shows and what papers are typeset with.

Millimetres with y down, three decimals, so that the same drawing gives the same text. Begin at `svg`.
"""

from html import escape
from math import cos, hypot, radians, sin

from shopquote.calc.drawing.model import PEN_MM, Drawing, DrawnArc, DrawnText, Item, Line, Point

# The family of the condensed faces, as SVG and Typst know it; a browser without it takes another narrow face.
FONT = "Fira Sans, Arial Narrow, sans-serif"
MARGIN_MM = 1.0
# ISO 128-2: a centre line in long and short dashes; dashes for hidden and earlier outlines.
_DASHES = {"chain": "5 1 0.6 1", "dashed": "2 1"}
_FILLS = {"none": "none", "black": "currentColor", "white": "white", "grey": "#c8c8c8"}


def svg(drawing: Drawing, *, margin: float = MARGIN_MM, title: str = "") -> str:
    """The drawing as one SVG element, sized in mm, with a title for screen readers."""
    x, y = drawing.low[0] - margin, drawing.low[1] - margin
    return svg_window(drawing, x, y, drawing.width + 2 * margin, drawing.height + 2 * margin, title=title)


def svg_window(drawing: Drawing, left: float, bottom: float, w: float, h: float, *, title: str = "") -> str:
    """The part of a drawing within a window, in mm of paper; the rest is clipped."""
    x, y = left, -bottom - h
    named = f"<title>{escape(title)}</title>" if title else ""
    body = "".join(_item(item) for item in drawing.items)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{_n(x)} {_n(y)} {_n(w)} {_n(h)}" '
        f'width="{_n(w)}mm" height="{_n(h)}mm" color="black" role="img" overflow="hidden">{named}{body}</svg>'
    )


def _item(item: Item) -> str:
    if isinstance(item, Line) and item.curve:
        return _path(_curve(item), item)
    if isinstance(item, Line):
        return _path(f"M{' L'.join(_at(point) for point in item.points)}{' Z' if item.closed else ''}", item)
    if isinstance(item, DrawnArc):
        return _path(_arc(item), item)
    return _text(item)


def _path(steps: str, item: Line | DrawnArc) -> str:
    fill = _FILLS[item.fill] if isinstance(item, Line) else "none"
    width = PEN_MM[item.pen]
    dashes = f' stroke-dasharray="{_DASHES[item.pen]}"' if item.pen in _DASHES else ""
    stroke = f'stroke="currentColor" stroke-width="{width}"{dashes}' if width else 'stroke="none"'
    layer = f"{item.layer} paper" if isinstance(item, Line) and item.fill == "white" else item.layer
    return (
        f'<path class="{layer}" d="{steps}" fill="{fill}" {stroke} '
        'stroke-linejoin="round" stroke-linecap="round"/>'
    )


def _arc(arc: DrawnArc) -> str:
    """An arc in steps of at most a quarter turn, since one SVG arc cannot be a whole circle."""
    steps = max(1, -int(-abs(arc.sweep) // 90))
    points = [arc.at(arc.sweep * step / steps) for step in range(steps + 1)]
    way = 0 if arc.sweep > 0 else 1
    radius = _n(arc.radius)
    return f"M{_at(points[0])}" + "".join(f" A{radius} {radius} 0 0 {way} {_at(p)}" for p in points[1:])


def _curve(line: Line) -> str:
    steps = [f"M{_at(line.points[0])}"]
    for (x, y), end, sweep in line.arcs():
        half = abs(sin(sweep / 2))
        radius = hypot(end[0] - x, end[1] - y) / 2 / half if half > 1e-9 else 0.0
        steps.append(f"A{_n(radius)} {_n(radius)} 0 0 {0 if sweep > 0 else 1} {_at(end)}")
    return " ".join(steps)


def _text(text: DrawnText) -> str:
    # The middle of the letters is a third of their height above the baseline.
    angle = radians(text.angle)
    x = text.at[0] + sin(angle) * text.size * 0.35
    y = text.at[1] - cos(angle) * text.size * 0.35
    weight = 700 if text.bold else 500
    return (
        f'<text class="{text.layer}" transform="translate({_at((x, y))}) rotate({_n(-text.angle)})" '
        f'text-anchor="middle" font-family="{FONT}" font-stretch="condensed" font-weight="{weight}" '
        f'font-size="{_n(text.size)}" '
        f'fill="currentColor">{escape(text.text)}</text>'
    )


def _at(point: Point) -> str:
    return f"{_n(point[0])} {_n(-point[1])}"


def _n(value: float) -> str:
    shown = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if shown in ("-0", "") else shown
