"""Of rack pieces that all cost nothing, those that a job has already come first.

Begin at `own_first`.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from shopquote.calc.takeoff.cut_plan import BarCut, Piece, RackBar, SawSettings, offcut_after


def own_first(
    bars: Sequence[BarCut], rack: Sequence[RackBar], pieces: Sequence[Piece], saw: SawSettings
) -> tuple[BarCut, ...]:
    """The same plan, with free rack pieces replaced by idle ones of the jobs' own that hold the cuts.

    The free piece then stays for others, and what was promised is used; neither costs anything. The largest
    cuts choose first, and each takes the shortest piece that holds it. Pieces that must come from one heat
    stay with their heat.
    """
    by_name = {bar.piece: bar for bar in rack}
    idle = _idle(bars, rack)
    grouped = {(piece.owner, piece.mark) for piece in pieces if piece.heat_group is not None}
    found = list(bars)
    free = [i for i, bar in enumerate(bars) if _is_free(bar, by_name)]
    for i in sorted(free, key=lambda i: bars[i].stock - bars[i].spare, reverse=True):
        bar = bars[i]
        taken = bar.stock - bar.spare
        # None: any heat will do; an unknown heat is nobody else's.
        heat = by_name[bar.rack_piece or ""].heat if _in_group(bar, grouped) else None
        mine = next(
            (own for own in idle if own.length >= taken and (heat is None or own.heat == heat != "")), None
        )
        if mine is not None:
            idle.remove(mine)
            found[i] = _from(bar, mine, saw)
    return tuple(found)


def _idle(bars: Sequence[BarCut], rack: Sequence[RackBar]) -> list[RackBar]:
    """The jobs' own pieces that the plan does not cut, shortest first."""
    used = {bar.rack_piece for bar in bars}
    mine = (bar for bar in rack if bar.own and bar.piece not in used)
    return sorted(mine, key=lambda bar: (bar.length, bar.piece))


def _is_free(bar: BarCut, by_name: Mapping[str, RackBar]) -> bool:
    return bar.rack_piece is not None and bar.rack_piece in by_name and not by_name[bar.rack_piece].own


def _in_group(bar: BarCut, grouped: Collection[tuple[str, str]]) -> bool:
    return any((owner, mark) in grouped for mark, _, _, owner in bar.pieces)


def _from(bar: BarCut, mine: RackBar, saw: SawSettings) -> BarCut:
    spare = bar.spare + mine.length - bar.stock
    before = spare + saw.grip
    offcut = offcut_after(before, bar.end_kerf)
    kept = saw.keep_min is not None and offcut >= saw.keep_min and offcut.nm > 0
    between = bar.kerf - (bar.spare + saw.grip - bar.offcut)
    return replace(
        bar,
        stock=mine.length,
        spare=spare,
        kerf=between + before - offcut,
        offcut=offcut,
        kept=kept,
        rack_piece=mine.piece,
    )
