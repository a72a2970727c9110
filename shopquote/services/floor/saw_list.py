"""Which bars a job is sawn from and what is cut from each, in the order of sawing.

Begin at `bar_groups`, then `saw_list`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.ends import Mitres, mitre_words
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.takeoff.cut_plan import BarCut, Piece, RackBar, SawSettings, offcut_after
from shopquote.calc.takeoff.takeoff import Group, bands_of
from shopquote.calc.takeoff.whole_sheets import Band
from shopquote.calc.units import Length, Unit, show_length
from shopquote.records.jobs import Job
from shopquote.records.rack import RackPiece
from shopquote.services.buying.available_bars import groups_of, rack_bars, sheets_of
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.needs import JobBar, bars_for_job, load_length, part_for, used_length
from shopquote.services.buying.purchase import plan_purchase
from shopquote.services.buying.purchase_materials import materials_of
from shopquote.services.buying.purchase_ways import Units
from shopquote.services.buying.wanted import Wanted
from shopquote.services.floor.floor_sheet import SawBar, SawnPiece
from shopquote.services.rack.rack_on_file import walk_key
from shopquote.services.shop.shop_on_file import saw_settings, shop_unit


@dataclass(frozen=True, slots=True)
class BarGroup:
    """Bars of one section and grade with their cuts; `sawn` has the names of bars that the supplier cut.

    `bands`: how strips are cut from a wider sheet, by mark.
    """

    section: Section
    grade: Grade
    bars: tuple[BarCut, ...]
    sawn: frozenset[str]
    bands: tuple[Band, ...] = ()


def bar_groups(
    session: Session,
    job: Job,
    spec: JobSpec,
    answers: Mapping[str, PartAnswer],
    on: date,
    seconds: float | None,
) -> list[BarGroup]:
    """Bars with the cuts planned when they were ordered or promised; where those do not fit, planned now."""
    saw = saw_settings(session)
    held = bars_for_job(session, job.number)
    items = [(answers[part.mark], part, spec.quantity(part), job.number) for part in spec.parts]
    found: dict[tuple[str, str], tuple[BarCut, ...]] = {}
    still_open = []
    gathered = groups_of(session, items, held)
    for section, grade, pieces in gathered:
        # The plan that was ordered by, if it still fits: bars of these lengths were bought for these cuts.
        bars = _as_planned(_bars_of(held, section, grade), pieces, job.number, saw)
        if bars is None:
            still_open.append((section, grade, pieces))
        else:
            found[section.key, grade.name] = bars
    if still_open:
        found |= _planned_now(session, job, spec, held, still_open, on, seconds)
    groups = []
    bands = bands_of(items, sheets_of(session, items, held))
    for section, grade, _ in gathered:
        own = _bars_of(held, section, grade)
        sawn = {
            name for bar in own if bar.cut for name in (bar.code, bar.name, bar.name.rsplit(" bar ", 1)[0])
        }
        bars = found[section.key, grade.name]
        own_bands = tuple(
            band
            for band in bands
            if band.sheet.key == section.key and answers[band.mark].grade.name == grade.name
        )
        groups.append(BarGroup(section, grade, bars, frozenset(name for name in sawn if name), own_bands))
    return groups


def _bars_of(held: Sequence[JobBar], section: Section, grade: Grade) -> list[JobBar]:
    return [bar for bar in held if (bar.section_key, bar.grade) == (section.key, grade.name)]


def _as_planned(
    own: Sequence[JobBar], pieces: Sequence[Piece], number: str, saw: SawSettings
) -> tuple[BarCut, ...] | None:
    """The cuts that the bars were ordered for; None if with what is sawn they are not the job's pieces.

    None too if a bar arrived too short for its cuts.
    """
    # Used bars are sawn already; the sheet shows what is still to be done.
    live = [bar for bar in own if bar.state != "used"]
    left = {(piece.mark, piece.length): piece.count for piece in pieces}
    for bar in live:
        for owner, mark, length, count in bar.load:
            if owner == number:
                left[mark, length] = left.get((mark, length), 0) - count
    if not live or any(count < 0 for count in left.values()) or not _were_sawn(own, left, saw):
        return None
    if any(load_length(bar.load, saw, sawn=bar.cut) > bar.length for bar in live):
        return None
    return _alike([_cut_as_loaded(bar, number, saw) for bar in live], live)


def _were_sawn(own: Sequence[JobBar], left: Mapping[tuple[str, Length], int], saw: SawSettings) -> bool:
    """Whether the pieces that no bar is kept for can have been sawn from the used ones: none need be left."""
    needed = sum((length + saw.kerf).nm * count for (_, length), count in left.items())
    used = sum(used_length(bar, saw).nm * bar.count for bar in own if bar.state == "used")
    return needed <= used


def _alike(cuts: Sequence[BarCut], bars: Sequence[JobBar]) -> tuple[BarCut, ...]:
    """Bars of one order line with equal cuts as one row; bars with a rack code stay single."""
    rows: dict[object, BarCut] = {}
    for cut, bar in zip(cuts, bars, strict=True):
        line = bar.name.rsplit(" bar ", 1)[0]
        key = bar.code or (line, cut.stock, cut.pieces)
        held = rows.get(key)
        rows[key] = cut if held is None else replace(held, count=held.count + 1, rack_piece=line)
    return tuple(rows.values())


def _cut_as_loaded(bar: JobBar, number: str, saw: SawSettings) -> BarCut:
    pieces = tuple(
        (mark if owner == number else f"{owner} {mark}", length, count, owner)
        for owner, mark, length, count in bar.load
    )
    count = sum(count for _, _, count, _ in pieces)
    net = sum((length * count for _, length, count, _ in pieces), Length(0))
    # A piece sawn by the supplier has no kerf or trim of ours.
    kerf, trim = (Length(0), Length(0)) if bar.cut else (saw.kerf * (count - 1), saw.trim)
    before = max(bar.length - net - kerf - trim, Length(0))
    left = before if bar.cut else offcut_after(before, saw.kerf)
    kerf += before - left
    kept = saw.keep_min is not None and left >= saw.keep_min and bool(left)
    name = bar.code or bar.name
    return BarCut(bar.length, 1, pieces, kerf, trim, left, kept, rack_piece=name)


def _planned_now(
    session: Session,
    job: Job,
    spec: JobSpec,
    held: Sequence[JobBar],
    groups: Sequence[Group],
    on: date,
    seconds: float | None,
) -> dict[tuple[str, str], tuple[BarCut, ...]]:
    """Bars with cuts by (section key, grade), as `order` would buy them today beyond what the job has.

    Whole bars bought beyond the need are left out, as nothing is sawn from them.
    """
    saw, numbers = saw_settings(session), (job.number,)
    wanted, by_name = [], {}
    for section, grade, pieces in groups:
        whole = _whole_bars(_bars_of(held, section, grade), saw)
        by_name.update({name: bar for bar in whole for name in _bar_names(bar)})
        # The job's own bars if it has any, else the free rack.
        rack = _left_for(whole, numbers, saw) if whole else rack_bars(session, section, grade, numbers)
        own, free = (tuple(bar for bar in rack if bar.own is mine) for mine in (True, False))
        wanted.append(Wanted(section, grade, pieces, own, free))
    plan = plan_purchase(
        BooksOnFile(session), wanted, saw, on=on, units=Units(spec.units, shop_unit(session)),
        seconds=seconds, guess=True,
    )  # fmt: skip
    return {
        (material.section.key, material.grade.name): tuple(
            _with_the_others(bar, by_name.get(bar.rack_piece or ""), job.number, saw)
            for bar in material.plan.bars
            if _is_to_saw(bar, by_name.get(bar.rack_piece or ""))
        )
        for material in materials_of(plan, wanted, saw)
    }


def _whole_bars(held: Sequence[JobBar], saw: SawSettings) -> list[JobBar]:
    """Bars that the supplier did not saw, with the length that each has for pieces."""
    return [replace(bar, length=used_length(bar, saw)) for bar in held if not bar.cut]


def _is_to_saw(bar: BarCut, held: JobBar | None) -> bool:
    """Whether pieces are still sawn from a bar: not from one bought beyond the need, nor from a used one."""
    return bool(bar.pieces) and (held is None or held.state != "used")


def _left_for(whole: Sequence[JobBar], numbers: tuple[str, ...], saw: SawSettings) -> list[RackBar]:
    """The jobs' own bars, each with the length that other jobs leave."""
    left = ((bar, part_for(bar, numbers, saw)) for bar in whole)
    return [
        RackBar(name, length, bar.heat, own=True)
        for bar, length in left
        if length.nm > 0
        for name in _bar_names(bar)
    ]


def _with_the_others(bar: BarCut, held: JobBar | None, number: str, saw: SawSettings) -> BarCut:
    """A bar shared with other jobs at its full length, with their cuts added."""
    load = () if held is None else held.load
    others = tuple(
        (f"{owner} {mark}", length, n, owner) for owner, mark, length, n in load if owner != number
    )
    # Whoever saws sets up the whole bar, so the sheet shows the other jobs' cuts too.
    if held is None or not others:
        return bar
    kerfs = saw.kerf * sum(count for _, _, count, _ in others)
    return replace(bar, stock=held.length, pieces=(*others, *bar.pieces), kerf=bar.kerf + kerfs)


def _bar_names(bar: JobBar) -> tuple[str, ...]:
    return (bar.code,) if bar.code is not None else bar.names()


def rack_pieces_of(session: Session, groups: Sequence[BarGroup]) -> dict[str, RackPiece]:
    """Rack pieces that the bars are cut from, by code."""
    codes = {bar.rack_piece for group in groups for bar in group.bars if bar.rack_piece}
    rows = session.scalars(select(RackPiece).where(RackPiece.code.in_(codes)))
    return {row.code: row for row in rows}


def saw_list(
    groups: Sequence[BarGroup],
    heads: Mapping[str, RackPiece],
    spec: JobSpec,
    answers: Mapping[str, PartAnswer],
) -> tuple[SawBar, ...]:
    """Bars in the order of sawing: section by section, within one by place in walking order.

    At one place bars with similar cuts follow each other, so that the stop stays. Sections come in the order
    of their first place; bars without a place come last.
    """
    ends = {part.mark: _ends(part, answers[part.mark], spec.units) for part in spec.parts}
    widths = {part.mark: None if part.width is None else part.width.length for part in spec.parts}
    texts = {parse_section(part.bar, spec.units, widths[part.mark]).key: part.bar for part in spec.parts}
    rows: list[SawBar] = []
    place = 1

    def order(bar: BarCut) -> tuple[object, ...]:
        return _sawing_order(bar, heads.get(bar.rack_piece or ""))

    for group in sorted(_still_to_saw(groups), key=lambda group: min(order(bar)[:2] for bar in group.bars)):
        for bar in sorted(group.bars, key=order):
            head = heads.get(bar.rack_piece or "")
            on = ends | {
                band.mark: "; ".join(filter(None, [band.after(spec.units), ends[band.mark]]))
                for band in group.bands
            }
            rows.append(
                SawBar(
                    first=place,
                    last=place + bar.count - 1,
                    section_key=group.section.key,
                    bar=texts.get(group.section.key, group.section.text),
                    grade=group.grade.name,
                    length=bar.stock,
                    source=_source(bar, head),
                    piece=head.code if head is not None else "",
                    place=head.place if head is not None else "",
                    heat=head.heat if head is not None else "",
                    cuts=_cuts(bar, on),
                    offcut=bar.offcut,
                    kept=bar.kept,
                    sawn=bar.sawn or bar.rack_piece in group.sawn,
                    grade_in_full=group.grade.paper_of(group.section),
                )
            )
            place += bar.count
    return tuple(rows)


def _still_to_saw(groups: Sequence[BarGroup]) -> list[BarGroup]:
    return [group for group in groups if group.bars]


def _sawing_order(bar: BarCut, head: RackPiece | None) -> tuple[object, ...]:
    lengths = sorted((-length.nm for _, length, _, _ in bar.pieces))
    place = walk_key("" if head is None else head.place)
    # Rack bars first, as they can be sawn today; then bars on order, then bars to be bought.
    return (0 if head is not None else 1 if bar.rack_piece else 2, place, lengths, -bar.stock.nm)


def _source(bar: BarCut, head: RackPiece | None) -> str:
    if head is not None:
        return f"rack {head.code}"
    if bar.rack_piece:
        return bar.rack_piece  # the order line, for a bar on order
    return f"stock, {bar.supplier}" if bar.supplier else "stock"


def _cuts(bar: BarCut, ends: Mapping[str, str]) -> tuple[SawnPiece, ...]:
    # Longest first: a piece that is sawn wrong may still serve for a shorter one.
    pieces = sorted(bar.pieces, key=lambda piece: (-piece[1].nm, piece[0]))
    return tuple(SawnPiece(mark, count, length, ends.get(mark, "")) for mark, length, count, _ in pieces)


def _ends(part: PartSpec, answer: PartAnswer, unit: Unit) -> str:
    """How ends that are not square are sawn, what is done to them afterwards, and pieces welded together."""
    whole = _ends_of_whole(part, answer.mitres, unit)
    pieces = answer.sawn_as
    if len(pieces) == 1:
        return whole
    order = " + ".join(show_length(piece, unit, exact=True) for piece in pieces)
    return f"a piece of {order}, welded in this order; " + (f"whole: {whole}" if whole else "all ends square")


def _ends_of_whole(part: PartSpec, mitres: Mitres | None, unit: Unit) -> str:
    first, last = (str(end) for end in part.ends)
    sawn = f"{first} both ends" if first == last else f"{first} / {last}"
    if mitres is not None and mitres.hand != "one end":
        sawn = f"{sawn}: {mitre_words(mitres, Say(unit))}"
    later = part.worked_words
    return "; ".join([sawn, *later] if sawn != "square both ends" else later)
