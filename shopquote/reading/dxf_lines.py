"""Lines, arcs and polylines of a DXF drawing, as pieces of a bar's centre line in millimetres.

Begin at `read_dxf`. The file is read with ezdxf; damage and other kinds of curve are refused.
"""

import re
from collections.abc import Iterator
from math import isfinite
from pathlib import Path
from typing import Any

from shopquote.calc.drawing.model import Point
from shopquote.calc.drawing.pieces import ChainPiece
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Unit
from shopquote.errors import InputError, nearest_word
from shopquote.reading.files import bytes_of

# Millimetres of one drawing unit, by the header variable $INSUNITS: inch, foot, mm, cm, m. 0 means unknown.
MM_PER_UNIT = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n")
READ = ("LINE", "ARC", "LWPOLYLINE", "POLYLINE", "CIRCLE")
LARGEST_FILE = 20_000_000  # bytes
# What ezdxf reads in a second or two; drawings of a bar have some thousand lines of text.
MOST_TEXT_LINES = 200_000
MOST_ENTITIES = 20_000
MOST_PIECES = 2_000
CENTRE_LAYER = "centre"  # layer of the centre line in drawings that this program writes
NOTES_LAYER = "notes"  # layer on which it writes the words of the shape


@dataclass(frozen=True, slots=True)
class Circle:
    """A whole circle, which may be a hole or a ring; centre and diameter in mm."""

    centre: Point
    diameter: float


@dataclass(frozen=True, slots=True)
class DrawnLines:
    """What was read: the pieces of one layer's lines and arcs, and its circles, in the order of the file.

    `notes` are the texts of the layer `NOTES_LAYER`.
    """

    layer: str
    pieces: tuple[ChainPiece, ...]
    circles: tuple[Circle, ...]
    notes: tuple[str, ...] = ()


def read_dxf(path: Path, unit: Unit, *, layer: str | None = None) -> DrawnLines:
    """Read the lines of one layer of a drawing.

    Without `layer`, `CENTRE_LAYER` is read, or else the only layer with lines. `unit` is used where the
    drawing does not give its own.

    Raises:
        InputError: no DXF, too large, no such layer, several to choose from, or a curve of another kind.
    """
    document = _opened(path)
    # ezdxf assumes metres where a file gives no unit, so look whether the file itself has one.
    said = document.header.get("$INSUNITS", 0) if b"$INSUNITS" in path.read_bytes() else 0
    one = MM_PER_UNIT.get(said, 25.4 if unit == "in" else 1.0)
    space = document.modelspace()
    layers = list(dict.fromkeys(_layer_of(entity) for entity in space if entity.dxftype() in READ))
    wanted = _layer(path, layers, layer)
    pieces: list[ChainPiece] = []
    circles: list[Circle] = []
    for entity in space:
        if _layer_of(entity) != wanted:
            continue
        if entity.dxftype() in ("SPLINE", "ELLIPSE"):
            raise InputError(
                f"{path}: layer {wanted!r} has a {entity.dxftype().lower()}; lines and arcs can be read.",
                hint="Turn it into arcs in the drawing program.",
            )
        try:
            for plain in _plain(entity):
                if plain.dxftype() == "CIRCLE":
                    centre = _middle(plain) * one
                    circle = Circle((centre.x, centre.y), 2 * plain.dxf.radius * one)
                    _refuse_endless(*circle.centre, circle.diameter)
                    circles.append(circle)
                else:
                    piece = _piece(plain, one)
                    _refuse_endless(*piece.p, *piece.q, piece.sweep)
                    pieces.append(piece)
                if len(pieces) > MOST_PIECES:
                    raise InputError(
                        f"{path}: layer {wanted!r} has over {MOST_PIECES} lines; a bar has fewer."
                    )
        except (ValueError, TypeError, AttributeError, ArithmeticError, _dxf_error()) as error:
            kind = entity.dxftype().lower()
            raise InputError(
                f"{path}: a {kind} of layer {wanted!r} is not whole: {str(error)[:80]}."
            ) from error
    notes = (str(entity.dxf.get("text", "")) for entity in space.query("TEXT") if _is_note(entity))
    return DrawnLines(wanted, tuple(pieces), tuple(circles), tuple(notes))


def _dxf_error() -> type[Exception]:
    from ezdxf.lldxf.const import DXFError

    return DXFError


def _layer_of(entity: Any) -> str:
    """The layer of an entity; by the DXF reference one without a layer is on layer 0."""
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"


def _is_note(entity: Any) -> bool:
    return _layer_of(entity).casefold() == NOTES_LAYER


def _opened(path: Path) -> Any:
    import ezdxf

    hint = "Save only the bar's line."
    content = bytes_of(path, LARGEST_FILE, hint=hint)
    # A binary DXF has no lines to count; two bytes for each is a low estimate of its size.
    lines = content.count(b"\n") if b"\0" not in content[:64] else len(content) // 2
    if lines > MOST_TEXT_LINES or len(_ENTITY.findall(content)) > MOST_ENTITIES:
        raise InputError(
            f"{path} is too large to be read: over {MOST_TEXT_LINES:,} lines or {MOST_ENTITIES:,} entities.",
            hint=hint,
        )
    try:
        return ezdxf.readfile(path)  # type: ignore[attr-defined]
    except Exception as error:  # ezdxf does not document what it raises on damage; StopIteration was seen
        raise InputError(f"{path} is no DXF drawing that can be read: {str(error)[:80]}.") from error


def _layer(path: Path, layers: list[str], asked: str | None) -> str:
    by_name = {name.casefold(): name for name in layers}
    if asked is not None:
        if asked.casefold() in by_name:
            return by_name[asked.casefold()]
        near = nearest_word(asked, layers)
        meant = f" Did you mean {near!r}?" if near else ""
        raise InputError(f"{path}: no lines on a layer {asked!r}.{meant}", hint=_choice(layers))
    if CENTRE_LAYER in by_name:
        return by_name[CENTRE_LAYER]
    if len(layers) != 1:
        raise InputError(
            f"{path}: {'several layers have' if layers else 'no layer has'} lines.", hint=_choice(layers)
        )
    return layers[0]


def _choice(layers: list[str]) -> str:
    return f"Name one with --layer: {', '.join(layers[:20])}." if layers else "Draw the bar's line first."


def _plain(entity: Any) -> Iterator[Any]:
    """The lines, arcs and circles of an entity: a polyline is split into its lines and arcs."""
    if entity.dxftype() in ("LWPOLYLINE", "POLYLINE"):
        yield from entity.virtual_entities()
    elif entity.dxftype() in READ:
        yield entity


def _refuse_endless(*values: float) -> None:
    """Raise ValueError for infinite values and NaN, which broken programs write."""
    if not all(map(isfinite, values)):
        raise ValueError("a number in it is none")


def _piece(entity: Any, one: float) -> ChainPiece:
    if entity.dxftype() == "LINE":
        start, end = entity.dxf.start * one, entity.dxf.end * one
        return ChainPiece((start.x, start.y), (end.x, end.y))
    centre, start, end = _middle(entity) * one, entity.start_point * one, entity.end_point * one
    middle = (centre.x, centre.y)
    sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360 or 360.0
    if entity.dxf.extrusion.z < 0:
        sweep = -sweep  # a mirrored arc is seen from below (DXF reference, object coordinates)
    return ChainPiece((start.x, start.y), (end.x, end.y), middle, sweep)


def _middle(entity: Any) -> Any:
    """The centre of an arc or circle in the drawing's coordinates, not those of the object."""
    return entity.ocs().to_wcs(entity.dxf.center)
