"""Parts longer than a bar: the pieces from which they are welded together. Begin at `parted`.

A part that may be spliced is divided into equal pieces, so that no weld is near an end. A weld that would be
in a bend, a twist or a hole is moved to the nearest straight.
"""

from collections.abc import Iterable, Sequence
from itertools import accumulate
from math import ceil

from shopquote.calc.bar.benders import BendingShop, LongestBar
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part_answer import HoleMark, Problem
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.units import Length, Unit, parse_length

# The usual stock where no list is at hand: bars of 6 m or 20 ft, sheets of 2.5 m or 10 ft, less the trim and
# grip of a small saw: common practice, no source.
_BARS = {"mm": ("6000", "5940"), "in": ("240", "237-5/8")}
_SHEETS = {"mm": ("2500", "2440"), "in": ("120", "117-5/8")}

# Distance of a weld from a bend, a twist or a hole: in bar sizes, and the least in mm. Common practice, no
# source.
CLEAR_SIZES, CLEAR_MM = 2.0, 20.0
# How many more pieces than the least number are tried to keep welds out of bends.
MORE_PIECES = 2


def longest_bars(
    sold: Iterable[tuple[str, str, Length, Length]], lost: Length
) -> dict[tuple[str, str], LongestBar]:
    """The longest bar, and the longest piece from it, by section key and grade.

    `sold`: (key, grade, length, tolerance) of bars on sale; `lost`: trim and grip of the saw.
    """
    found: dict[tuple[str, str], LongestBar] = {}
    for key, grade, length, tolerance in sold:
        room = Length(max(0, length.nm - tolerance.nm - lost.nm))
        if (key, grade) not in found or room > found[key, grade].room:
            found[key, grade] = LongestBar(length, room)
    return found


def longest_for(section: Section, grade: Grade, shop: BendingShop, unit: Unit) -> LongestBar:
    """The longest bar of a section: as sold, else as its kind is sold, else the usual one."""
    own = shop.longest.get((section.key, grade.name))
    if own is not None:
        return own
    # A size on no list is assumed to be sold no longer than any size of its kind.
    alike = [(key, bar) for key, bar in shop.longest.items() if key[0].split(" ", 1)[0] == section.kind]
    same = [bar for (_, name), bar in alike if name == grade.name] or [bar for _, bar in alike]
    if same:
        return min(same, key=lambda bar: bar.room)
    length, room = (_SHEETS if section.form.by_width else _BARS)[unit]
    return LongestBar(parse_length(length, unit), parse_length(room, unit))


def parted(
    cut: Length, room: Length, step: Length, closed: Sequence[tuple[float, float]] = ()
) -> tuple[Length, ...]:
    """The lengths to saw for one part, in order from its start; they add up to `cut`.

    Args:
        cut: length of the whole part.
        room: longest piece that one bar gives.
        step: the planning unit; all pieces but the last are multiples of it.
        closed: intervals of the straight bar in mm that welds avoid where possible.

    >>> cut, room, tenth = (Length.from_mm(text) for text in ("9170", "5940", "0.1"))
    >>> [piece.mm_float for piece in parted(cut, room, tenth)]
    [4585.0, 4585.0]
    >>> [piece.mm_float for piece in parted(cut, room, tenth, [(4500, 4700)])]
    [4500.0, 4670.0]
    """
    if cut <= room or room < step:
        return (cut,)
    # A bar sold in the other unit need not be a whole number of steps long.
    room = Length(room.nm // step.nm * step.nm)
    fewest = ceil(cut.nm / room.nm)
    for count in range(fewest, fewest + MORE_PIECES):
        welds = _welds(cut, room, step, count, closed)
        if welds is not None:
            return _between(welds, cut)
    welds = _welds(cut, room, step, fewest, ())
    assert welds is not None  # equal pieces always fit
    return _between(welds, cut)


def _between(welds: Sequence[int], cut: Length) -> tuple[Length, ...]:
    return tuple(Length(end - begin) for begin, end in zip((0, *welds), (*welds, cut.nm), strict=True))


def _welds(
    cut: Length, room: Length, step: Length, count: int, closed: Sequence[tuple[float, float]]
) -> list[int] | None:
    """Positions of the welds in nm from the start; None where one cannot avoid a closed interval."""
    each = ceil(cut.nm / count / step.nm) * step.nm
    walls = [(round(begin * 1e6), round(end * 1e6)) for begin, end in closed]
    welds: list[int] = []
    for place in range(1, count):
        before = welds[-1] if welds else 0
        least = max(before + step.nm, cut.nm - (count - place) * room.nm)
        most = min(before + room.nm, cut.nm - (count - place) * step.nm)
        wished = min(max(place * each, least), most)
        tries = [
            wished,
            *(begin // step.nm * step.nm for begin, _ in walls),
            *(-(-end // step.nm) * step.nm for _, end in walls),
        ]
        fit = [
            at for at in tries if least <= at <= most and not any(begin < at < end for begin, end in walls)
        ]
        if not fit:
            return None
        welds.append(min(fit, key=lambda at: (abs(at - wished), at)))
    return welds


def closed_to_welds(
    runs: Sequence[Run], holes: Sequence[HoleMark], section: Section
) -> list[tuple[float, float]]:
    """Intervals of the straight bar in mm where no weld should be: bends, twists, points, holes."""
    clear = max(CLEAR_MM, CLEAR_SIZES * section.depth_mm("easy"))
    found = [
        (begins - clear, ends + clear)
        for run, ends in zip(runs, accumulate(run.flat_mm for run in runs), strict=True)
        if run.kind != "straight" and (begins := ends - run.flat_mm) < ends
    ]
    return [*found, *((hole.at.mm_float - clear, hole.at.mm_float + clear) for hole in holes)]


def splice_problems(
    pieces: Sequence[Length], bar: LongestBar, may_splice: bool, runs: Sequence[Run], say: Say, *, sheet: bool
) -> list[Problem]:
    """Problems of a part longer than the longest bar or sheet."""
    cut = Length(sum(piece.nm for piece in pieces))
    stock = f"{'sheet' if sheet else 'bar'} of {say(bar.length.mm_float)}"
    if cut <= bar.room:
        if may_splice:
            return [Problem("splice-unused", f"it fits a {stock}, so it is cut in one piece.")]
        return []
    if not may_splice:
        return [
            Problem(
                "longer-than-bars",
                f"{say.up(cut.mm_float)} is more than a {stock} gives ({say.down(bar.room.mm_float)}): "
                "put longer ones on file, or write splice = true where a weld is allowed.",
            )
        ]
    welds = list(accumulate(piece.mm_float for piece in pieces[:-1]))
    where = " and ".join(_weld_told(at, runs, say) for at in welds)
    alike = len({piece.nm for piece in pieces}) == 1
    sizes = [say(piece.mm_float) for piece in pieces]
    told = f"{len(pieces)} pieces of {sizes[0]}" if alike else f"{len(pieces)} pieces, {', '.join(sizes)}"
    text = (
        f"sawn as {told}, welded {where}, then worked as one. "
        "Whether a weld is allowed there is for whoever answers for the part."
    )
    return [Problem("spliced", text)]


def _weld_told(at_mm: float, runs: Sequence[Run], say: Say) -> str:
    place, ends = f"{say(at_mm)} from the start", 0.0
    for number, run in enumerate(runs):
        begins, ends = ends, ends + run.flat_mm
        if run.is_curve and begins < at_mm < ends:
            if all(other.is_curve for other in (*runs[:number], *runs[number + 1 :])):
                return f"{place}, in the curve: dress it flush before it is bent"
            return f"{place}, in a bend; choose other legs, or weld and dress it after bending"
    return place
