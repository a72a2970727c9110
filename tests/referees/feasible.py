"""Is a cut plan what was asked for? Plain arithmetic in nanometres; nothing of the planner is used."""

from collections import Counter
from decimal import Decimal
from fractions import Fraction
from math import cos, floor, radians, tan


def faults_of_plan(pieces, stocks, rack, saw, plan, step=100_000) -> list[str]:
    """Everything that is wrong with a plan; an empty list when it can be sawn and its figures hold.

    `step`: nanometres, 0.1 mm or 1/64 in; the kerf of a mitre is rounded up to it, what mitres share down.
    """
    faults: list[str] = []
    wanted = Counter()
    for piece in pieces:
        wanted[piece.mark, piece.owner, piece.length.nm] += piece.count
    got = Counter()
    bought = Counter()
    on_rack = {bar.piece: bar for bar in rack}
    taken = Counter()
    cost = Fraction(0)
    heats: dict[str, set] = {}
    spec = {(piece.mark, piece.owner, piece.length.nm): piece for piece in pieces}
    for number, bar in enumerate(plan.bars):
        where = f"bar {number + 1}"
        for mark, length, count, owner in bar.pieces:
            got[mark, owner, length.nm] += count * bar.count
            piece = spec.get((mark, owner, length.nm))
            if piece is not None and piece.heat_group:
                source = _source(bar, on_rack)
                heats.setdefault(piece.heat_group, set()).add(source)
        faults.extend(f"{where}: {fault}" for fault in _faults_of_bar(bar, spec, saw, step))
        if bar.rack_piece is not None:
            taken[bar.rack_piece] += bar.count
            if bar.rack_piece not in on_rack or on_rack[bar.rack_piece].length != bar.stock:
                faults.append(f"{where}: no rack piece {bar.rack_piece} of that length")
            continue
        bought[bar.stock.nm, bar.supplier, bar.price] += bar.count
        if plan.priced:
            credit = Fraction(0)
            if bar.kept:
                share = Fraction(saw.keep_percent) / 100 * Fraction(bar.offcut.nm, bar.stock.nm)
                credit = Fraction(floor(Fraction(bar.price) * share * 100), 100)  # whole cents
            cost += (Fraction(bar.price) - credit) * bar.count
        else:
            cost += Fraction(bar.stock.nm * bar.count, 1_000_000)
    if got != wanted:
        faults.append(f"pieces: asked {dict(wanted)}, cut {dict(got)}")
    for code, count in taken.items():
        if count > 1:
            faults.append(f"rack piece {code} is cut {count} times")
    faults.extend(_over_limit(bought, stocks))
    faults.extend(f"group {g} is cut from {len(s)} heats" for g, s in heats.items() if len(s) > 1)
    if abs(cost - Fraction(plan.cost)) > Fraction(1, 10**9):
        faults.append(f"cost is {plan.cost}, the bars come to {float(cost)}")
    if plan.bound > plan.cost:
        faults.append(f"bound {plan.bound} is above the cost {plan.cost}")
    return faults


def _source(bar, on_rack):
    if bar.rack_piece is None:
        return ("bought", bar.supplier, bar.stock.nm)
    heat = on_rack[bar.rack_piece].heat
    return ("heat", heat) if heat else ("piece", bar.rack_piece)


def _faults_of_bar(bar, spec, saw, step):
    net = number = 0
    steep: list[float] = []
    nested: dict[tuple, int] = {}
    for mark, length, count, owner in bar.pieces:
        if count < 1:
            yield f"{count} pieces of {mark}"
        net += length.nm * count
        number += count
        piece = spec.get((mark, owner, length.nm))
        first, second = piece.mitres if piece else (0.0, 0.0)
        steep.extend([max(abs(first), abs(second))] * count)
        shared = int(piece.depth.nm * tan(radians(abs(first))) + 1) // step * step if piece else 0
        if saw.nest_mitres and first and abs(first) == abs(second) and length.nm > 2 * shared > 0:
            nested[abs(first), shared] = nested.get((abs(first), shared), 0) + count
    if not number:
        yield "empty"
        return
    # A joint is as wide as the wider of its two kerfs; the steepest pieces come first in the bar.
    widths = [_kerf(saw, mitre, step) for mitre in sorted(steep, reverse=True)]
    kerfs = sum(widths[: number - 1])
    overlap = sum(shared * (count - 1) for (_, shared), count in nested.items())
    # What is left is freed by one more cut, the narrowest, which takes all of it where it is no wider.
    before = bar.stock.nm - bar.trim.nm - net - kerfs + bar.overlap.nm
    if before < saw.grip.nm:
        yield f"{before} is left for the grip"
    if bar.offcut.nm != max(0, before - widths[-1]):
        yield f"offcut is {bar.offcut.nm}, should be {max(0, before - widths[-1])}"
    if bar.kerf.nm != kerfs + before - bar.offcut.nm:
        yield f"kerf is {bar.kerf.nm}, should be {kerfs + before - bar.offcut.nm}"
    if bar.overlap.nm > overlap:
        yield f"overlap is {bar.overlap.nm}, at most {overlap} can nest"
    if net + bar.kerf.nm + bar.trim.nm + bar.offcut.nm - bar.overlap.nm != bar.stock.nm:
        yield "pieces + kerf + trim + offcut is not the bar"
    if bar.trim != saw.trim:
        yield "trim is not the saw's"
    keep = saw.keep_min is not None and bar.offcut.nm >= saw.keep_min.nm and bar.offcut.nm > 0
    if bar.kept != keep:
        yield f"kept is {bar.kept}"


def _kerf(saw, mitre, step):
    return saw.kerf.nm if not mitre else -int(-(saw.kerf.nm / cos(radians(mitre)) - 1) // step) * step


def _over_limit(bought, stocks):
    allowed: dict[tuple, int | None] = {}
    for stock in stocks:
        key = (stock.length.nm, stock.supplier, stock.price)
        before = allowed.get(key, 0)
        allowed[key] = None if stock.limit is None or before is None else before + stock.limit
    for key, count in bought.items():
        if key not in allowed:
            yield f"bar {key} is not on offer"
        elif allowed[key] is not None and count > allowed[key]:
            yield f"bar {key}: {count} bought, limit {allowed[key]}"


def to_cent(amount: Decimal) -> Decimal:
    """An amount to the cent, for comparing."""
    return Decimal(amount).quantize(Decimal("0.01"))
