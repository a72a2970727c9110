"""Bars, and bands of sheet, drawn to scale as one line of a terminal."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from shopquote.calc.takeoff.cut_plan import BarCut
from shopquote.calc.units import Length, Unit, show_bar, show_length

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

NARROWEST = 30
WIDEST = 110
# Piece, kerf, kept offcut and scrap differ in their strokes, so that colour is not needed.
STROKES = {"piece": "─", "kerf": "│", "kept": "·", "scrap": "╱", "trim": "▒", "end": "┃"}
PLAIN_STROKES = {"piece": "-", "kerf": "|", "kept": ".", "scrap": "/", "trim": "#", "end": "|"}
PIECE_COLOURS = ("cyan", "green", "yellow", "magenta", "blue")


def shower(unit: Unit) -> Callable[[Length], str]:
    """A function that shows lengths as on a saw list: to 0.1 mm, or 1/64 in."""

    def show(length: Length) -> str:
        if unit == "in":
            return show_length(_to_64ths(length), "in", exact=True)
        return f"{round(length.mm, 1).normalize():f} mm"

    return show


def bar_shower(unit: Unit) -> Callable[[Length], str]:
    """A function that shows whole bars, to 0.1 mm or 1/64 in: those of an inch shop by the foot."""

    def show(length: Length) -> str:
        return shower(unit)(length) if unit == "mm" else show_bar(_to_64ths(length), unit)

    return show


def _to_64ths(length: Length) -> Length:
    return Length.from_inches(round(length.inches * 64) / 64)


class PieceWords:
    """Names and lengths of pieces: by mark, and by job too if several are planned together.

    `unit` is that of the bars. `jobs` maps job numbers to their units, in which their pieces are shown; empty
    for a plain list.
    """

    def __init__(self, unit: Unit, jobs: Mapping[str, Unit] = {}) -> None:
        self.unit, self._jobs = unit, jobs
        self._colours: dict[tuple[str, str], str] = {}

    def length(self, length: Length, owner: str) -> str:
        """A piece's length."""
        return shower(self._jobs.get(owner, self.unit))(length)

    def name(self, mark: str, owner: str) -> str:
        """A piece's mark, with its job where there are several."""
        return f"{mark} of {owner}" if len(self._jobs) > 1 else mark

    def colour(self, mark: str, owner: str) -> str:
        """The colour of a part's pieces; parts take the colours in turn."""
        return self._colours.setdefault((owner, mark), PIECE_COLOURS[len(self._colours) % len(PIECE_COLOURS)])


def picture(bar: BarCut, width: int, strokes: dict[str, str], words: PieceWords) -> "Text":
    """A bar as one line of text: trim, pieces with their marks between kerf strokes, offcut."""
    from rich.text import Text

    show = shower(words.unit)
    parts: list[tuple[int, str, tuple[str, ...], str]] = []
    if bar.trim:
        parts.append((bar.trim.nm, "trim", (), "dim"))
    for mark, length, count, owner in bar.pieces:
        size = words.length(length, owner).removesuffix(" mm").removesuffix(" in")
        name = words.name(mark, owner)
        marks = (f" {name} {size} ", f" {name} ", f" {mark} ", mark)
        parts.extend([(length.nm, "piece", marks, words.colour(mark, owner))] * count)
    if bar.offcut:
        word, kind, look = ("keep", "kept", "bold") if bar.kept else ("scrap", "scrap", "dim")
        parts.append((bar.offcut.nm, kind, (f" {word} {show(bar.offcut)} ", f" {word} "), look))
    text = Text(no_wrap=True, overflow="crop")
    at = 0
    whole = max(1, sum(part[0] for part in parts))
    width -= 2
    text.append(strokes["end"])
    passed = 0
    for number, (part_nm, kind, labels, style) in enumerate(parts):
        passed += part_nm
        end = passed * width // whole
        room = max(0, end - at)
        joint = number > 0 and parts[number - 1][1] == "piece" and room > 0
        if joint:
            text.append(strokes["kerf"])
            room -= 1
        label = next((label for label in labels if len(label) <= room), "")
        text.append(label.center(room, strokes[kind]), style=style)
        at = max(at, end)
    text.append(strokes["end"])
    return text


def pen_of(screen: "Console") -> tuple[dict[str, str], int]:
    """The strokes that a terminal can show, and the width of a picture in characters."""
    return STROKES if _draws(screen) else PLAIN_STROKES, max(NARROWEST, min(WIDEST, screen.width - 1))


def _draws(screen: "Console") -> bool:
    """Whether the terminal's encoding has the strokes."""
    try:
        # A Windows console may lack box-drawing characters; a pipe may have no encoding.
        "".join(STROKES.values()).encode(screen.encoding or "ascii")
    except (LookupError, UnicodeEncodeError):
        return False
    return True
