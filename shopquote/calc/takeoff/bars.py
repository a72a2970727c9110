"""A solution in whole units as bars with marks and exact lengths, and those with hardly anything to spare.

Begin at `bars_cut`.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import floor

from shopquote.calc.takeoff.cut_job import MONEY_PARTS, Bar, CutJob, CutSize, size_of
from shopquote.calc.takeoff.cut_plan import BarCut, Piece, RackBar, offcut_after
from shopquote.calc.takeoff.problem import CREDIT_STEP, Pattern, Solution, held
from shopquote.calc.takeoff.sheet import Sheet
from shopquote.calc.units import Length
from shopquote.errors import counted

# A bar, how many are cut so, and its pieces.
Load = tuple[Bar, int, list[tuple[Piece, int]]]
# Pieces of one size that are still to be handed out: the piece and how many.
_Waiting = dict[CutSize, list[tuple[Piece, int]]]


def bars_cut(
    job: CutJob, sheet: Sheet, solution: Solution, pieces: Sequence[Piece]
) -> tuple[tuple[BarCut, ...], list[Load]] | None:
    """Bars with marks, and what they were made from: pieces alike are handed out in the order of the list.

    None when a bar does not hold its pieces as they are: possible only where sizes were rounded down.
    """
    waiting: _Waiting = {}
    for piece in pieces:
        waiting.setdefault(size_of(piece, job.saw, job.unit), []).append((piece, piece.count))
    racks = {id(bar): list(bar.rack) for bar in sheet.bars}
    # Bought bars first, by kind; of one kind those with most of the longest piece first.
    ordered = sorted(solution.bars, key=lambda bar: bar[1], reverse=True)
    ordered.sort(key=lambda bar: (sheet.bars[bar[0]].stock is None, bar[0]))
    found: list[BarCut] = []
    loads: list[Load] = []
    for kind, pattern, count in ordered:
        bar = sheet.bars[kind]
        while count:
            taken, times = _hand_out(sheet, pattern, count, waiting)
            loads.append((bar, times, [(piece, part) for _, piece, part in taken]))
            if bar.stock is None:
                found.extend(_bar_cut(job, bar, taken, 1, racks[id(bar)].pop(0)) for _ in range(times))
            else:
                found.append(_bar_cut(job, bar, taken, times, None))
            count -= times
    return None if any(bar.spare.nm < 0 for bar in found) else (tuple(found), loads)


def cost_of(bars: Sequence[BarCut], priced: bool) -> int:
    """What bars cost less credits: millionths of money, or nanometres without prices."""
    if not priced:
        return sum(bar.stock.nm * bar.count for bar in bars if bar.rack_piece is None)
    total = sum((((bar.price or Decimal(0)) - bar.credit) * bar.count for bar in bars), start=Decimal(0))
    return int(total * MONEY_PARTS)


def _hand_out(
    sheet: Sheet, pattern: Pattern, count: int, waiting: _Waiting
) -> tuple[list[tuple[CutSize, Piece, int]], int]:
    """Pieces for one bar with their sizes, and how many bars in a row get the very same."""
    taken: list[tuple[CutSize, Piece, int]] = []
    times = count
    for i, wanted in held(pattern):
        for piece, left in waiting[sheet.sizes[i]]:
            part = min(wanted, left)
            taken.append((sheet.sizes[i], piece, part))
            times = min(times, left // part)  # equal bars only while every mark lasts
            wanted -= part
            if not wanted:
                break
    for size, piece, part in taken:
        rest = [(p, left - part * times if p is piece else left) for p, left in waiting[size]]
        waiting[size] = [(p, left) for p, left in rest if left]
    return taken, times


def _bar_cut(
    job: CutJob, bar: Bar, taken: Sequence[tuple[CutSize, Piece, int]], count: int, rack: RackBar | None
) -> BarCut:
    saw = job.saw
    net = sum(piece.length.nm * n for _, piece, n in taken)
    steep = sorted(((max(map(abs, piece.mitres)), size.kerf, n) for size, piece, n in taken), reverse=True)
    kerfs = [kerf for _, kerf, n in steep for _ in range(n)]
    overlap = _overlap([(size, n) for size, _, n in taken])
    # The narrowest kerf comes last: between pieces there are all but one, and it frees what is left.
    before = bar.whole(saw) - net - sum(kerfs[:-1]) + overlap
    offcut = offcut_after(Length(max(0, before)), Length(kerfs[-1]))
    kept = saw.keep_min is not None and offcut >= saw.keep_min and offcut.nm > 0
    cut = BarCut(
        stock=bar.length,
        count=count,
        pieces=tuple((piece.mark, piece.length, n, piece.owner) for _, piece, n in taken),
        kerf=Length(sum(kerfs[:-1]) + before - offcut.nm),
        trim=saw.trim,
        offcut=offcut,
        kept=kept,
        rack_piece=rack.piece if rack else None,
        credit=_credit(job, bar, offcut) if kept else Decimal(0),
        overlap=Length(overlap),
        spare=Length(before - (bar.whole(saw) - bar.room(saw))),
        end_kerf=Length(kerfs[-1]),
    )
    if bar.stock is None:
        return cut
    stock = bar.stock
    return replace(cut, supplier=stock.supplier, price=stock.price, tolerance=stock.tolerance)


def _overlap(sizes: Sequence[tuple[CutSize, int]]) -> int:
    """Nanometres that nested mitres of one bar share: all pieces of a block but one."""
    overlap = 0
    for block in sorted({size.block for size, _ in sizes if size.block is not None}):
        mates = [(size, n) for size, n in sizes if size.block == block]
        overlap += mates[0][0].opening * (sum(n for _, n in mates) - 1)
    return overlap


def _credit(job: CutJob, bar: Bar, offcut: Length) -> Decimal:
    """What a kept offcut earns, in whole cents."""
    price = bar.stock.price if bar.stock else None
    if not price or not job.credits:
        return Decimal(0)
    worth = Fraction(price) * Fraction(job.saw.keep_percent) / 100 * offcut.nm / bar.length.nm
    return Decimal(floor(worth * MONEY_PARTS / CREDIT_STEP) * CREDIT_STEP) / MONEY_PARTS


# Common practice, no source: a merchant's "6 m" is 6000 mm give or take more than this.
TIGHT = Length.from_mm(1)


def tight_words(bars: Sequence[BarCut], show: Callable[[Length], str]) -> str:
    """What a person must know of bought bars with hardly anything to spare; empty where there are none.

    A bar whose tolerance was told holds its pieces even when it comes as short as that.
    """
    tight = [
        bar
        for bar in bars
        if bar.rack_piece is None and bar.pieces and not bar.sawn and not bar.tolerance and bar.spare < TIGHT
    ]
    if not tight:
        return ""
    which = counted(sum(bar.count for bar in tight), "bar")
    lengths = ", ".join(sorted({show(bar.stock) for bar in tight}))
    return (
        f"{which} must be all of {lengths}: less than {show(TIGHT)} to spare. "
        "Measure before sawing, or say how much shorter bars may come"
    )
