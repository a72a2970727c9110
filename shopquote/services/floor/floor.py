"""The floor sheets of one job: what to saw from which bar, where to bend, what to weld and drill.

Begin at `floor_sheet`; it reads an open session and writes nothing. The tabs that
the shop fills in are described here (`TABS`), because `services.sheet` reads them back.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.answers import BendAnswer, OrderStep, PartAnswer, setting_words
from shopquote.calc.bar.bend_answers import on_piece
from shopquote.calc.bar.ends import Mitres, mitre_words
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import MOST_ENDS, JobSpec, PartSpec, Use
from shopquote.calc.pricing.cautions import BY_USE, HOLLOW
from shopquote.calc.pricing.weld_checks import SHRINKAGE
from shopquote.calc.takeoff.answers import BarCut, Piece, RackBar, SawSettings, leftover
from shopquote.calc.takeoff.takeoff import Item, group_pieces, take_off
from shopquote.calc.units import Length, Unit
from shopquote.reading.job_fields import HOLE, WELD, Table
from shopquote.reading.job_kinds import number_text
from shopquote.records.jobs import Job
from shopquote.records.quotes import Quote, QuoteMinutes
from shopquote.records.rack import RackPiece
from shopquote.services.buying.needs import JobBar, bars_for_job, load_length, part_for
from shopquote.services.buying.takeoff import rack_bars, stock_bars
from shopquote.services.jobs.jobs import load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.quotes.counted import chosen_quotes
from shopquote.services.rack.rack import walk_key
from shopquote.services.shop.on_file import bending_shop, saw_settings, the_shop

# Common practice, no source: the usual words on a shop's own sheets.
CRACK_CAUTION = (
    "Bar bent below its smallest radius may crack: look at the outer face; dress sheared edges, burr inside. "
    "Do not lengthen the handle of a bender."
)
WELD_CAUTION = (
    "Welding and cutting: extract the fume, strip zinc and other coatings first, keep a fire watch. Follow "
    "the local rules for hot work."
)


@dataclass(frozen=True, slots=True)
class Cut:
    """Pieces of one mark from one bar, at one setting of the stop. `ends` is empty when both are square."""

    mark: str
    count: int
    length: Length
    ends: str


@dataclass(frozen=True, slots=True)
class SawBar:
    """Bars `first` to `last` of the sawing order, cut alike. `source` is where they come from.

    `piece` is the rack piece's code, empty for other bars. `offcut` is what is
    left before the last kerf; it is kept or scrap. `sawn`: the supplier cut it to length.
    """

    first: int
    last: int
    section_key: str
    bar: str
    grade: str
    length: Length
    source: str
    piece: str
    place: str
    heat: str
    cuts: tuple[Cut, ...]
    offcut: Length
    kept: bool
    sawn: bool = False

    @property
    def count(self) -> int:
        """Bars cut so."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend at the bender: where the bar is marked, what former, how far to pull.

    `number` counts along the bar; `before` says what is done with the bar first.
    Small bends have their own `marks`, `pulls` and `formers`, the bar turned by `turn` degrees between them.
    `setting` tells how the bar is set for this bender: what the mark is, what is clamped,
    where a stop stands.
    `between` is the least and most that it may take, in words.
    """

    number: int
    before: str
    mark: Length
    mark_at: str
    angle: float
    over_bend_to: float
    inside_radius: Length
    former: Length | None
    bender: str
    hits: int
    marks: tuple[Length, ...]
    source: str
    between: str = ""
    pulls: tuple[float, ...] = ()
    formers: tuple[Length, ...] = ()
    turn: float = 0.0
    setting: str = ""
    stop: Length | None = None
    stop_end: str = ""

    @property
    def pulled_alike(self) -> bool:
        """Whether all small bends are pulled to one angle, to half a degree as on the sheet."""
        return len({round(pull * 2) for pull in self.pulls}) < 2


@dataclass(frozen=True, slots=True)
class BendPart:
    """A bent part with its bends in order, marks from the datum stated on the sheet.

    One that is only twisted or forged has no bends: its words say what to do.
    """

    mark: str
    name: str
    count: int
    bar: str
    grade: str
    cut: Length
    shape: str
    line_mm: tuple[tuple[float, float, float], ...]
    bends: tuple[Bend, ...]
    order_note: str
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FloorPart:
    """A part to make: how many pieces in the whole job, of which bar, sawn how long."""

    mark: str
    name: str
    count: int
    bar: str
    grade: str
    cut: Length


@dataclass(frozen=True, slots=True)
class FloorWeld:
    """Welds of one kind in the whole job; sizes as typed."""

    kind: str
    leg: str
    length: str
    count: int
    process: str
    note: str


@dataclass(frozen=True, slots=True)
class FloorHole:
    """Holes of one size in a part: per piece and in the whole job, and what else is done to them."""

    mark: str
    dia: str
    each: int
    total: int
    works: str


@dataclass(frozen=True, slots=True)
class WorkedEnds:
    """Ends turned or threaded: of each piece, and in the whole job."""

    work: str
    bar: str
    mark: str
    each: int
    total: int


@dataclass(frozen=True, slots=True)
class FloorSheet:
    """Everything that the floor sheets of a job show; money is nowhere on them.

    `spec` and `answers` are the job and its parts by mark, for drawings.
    """

    job: str
    revision: int
    serial: str
    made_on: date
    shop: str
    paper: str
    title: str
    customer: str
    sets: int
    due: date | None
    unit: Unit
    use: Use
    datum: str
    cautions: tuple[str, ...]
    parts: tuple[FloorPart, ...]
    saw: tuple[SawBar, ...]
    bends: tuple[BendPart, ...]
    welds: tuple[FloorWeld, ...]
    holes: tuple[FloorHole, ...]
    worked_ends: tuple[WorkedEnds, ...]
    bought: tuple[tuple[str, int], ...]
    outside: tuple[str, ...]
    finish: str
    minutes: tuple[tuple[str, Decimal], ...]
    spec: JobSpec
    answers: Mapping[str, PartAnswer]
    making: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab that the shop fills in: its name, columns and how many empty rows it has.

    Sheets printed before a column was thought of lack those named in `newer`; they are still read.
    """

    name: str
    columns: tuple[str, ...]
    shaded: tuple[str, ...]
    spare: int
    newer: tuple[str, ...] = ()


MINUTES_TAB = Tab(
    "Minutes",
    ("Operation", "Planned minutes", "Day", "Person", "Minutes", "Rework", "Reason or note"),
    ("Day", "Person", "Minutes", "Rework", "Reason or note"),
    12,
    newer=("Planned minutes",),
)
BARS_TAB = Tab(
    "Bars used",
    (
        "Bar",
        "Section",
        "Grade",
        "Length",
        "Rack piece",
        "Heat",
        "Planned",
        "Used",
        "Came back",
        "Cost",
        "Day",
        "Rework",
        "Reason or note",
    ),
    ("Used", "Came back", "Cost", "Day", "Rework", "Reason or note"),
    6,
    newer=("Cost",),
)
SCRAP_TAB = Tab(
    "Scrap", ("Mark", "Pieces", "Day", "Person", "Reason"), ("Mark", "Pieces", "Day", "Person", "Reason"), 8
)
TABS = (MINUTES_TAB, BARS_TAB, SCRAP_TAB)


def identity(sheet: FloorSheet) -> str:
    """The line that tells which job and which printed sheet a filled-in tab belongs to.

    `services.sheet` reads it back; the serial keeps one sheet's rows from counting twice.
    """
    return f"Job {sheet.job}, revision {sheet.revision}, sheet {sheet.serial}"


def floor_sheet(session: Session, number: str, *, at: datetime, seconds: float | None = None) -> FloorSheet:
    """Work out the floor sheets of a job's newest revision.

    Bars that the job has (on the rack for it, on order, cut for it) are sawn first;
    what they do not cover is planned over the free rack and stock lengths.

    Raises:
        NotFoundError: no such job.
        CannotMakeError: a part cannot be made, or a piece is longer than any bar.
    """
    loaded = load_job(session, number)
    job, spec = loaded.job, loaded.spec
    shop = bending_shop(session)
    row = the_shop(session)
    answers = work_out_parts(spec, shop)
    groups = _groups(session, job, spec, answers, at.date(), seconds)
    heads = _rack_heads(session, groups)
    return FloorSheet(
        job.number, loaded.revision.revision, f"{at:%Y%m%d-%H%M%S}", at.date(), row.name, row.paper,
        spec.title, spec.customer, spec.sets, spec.due, spec.units, spec.use, shop.datum,
        _cautions(spec, answers),
        tuple(
            FloorPart(part.mark, part.name, spec.quantity(part), part.bar, part.grade, answers[part.mark].cut)
            for part in spec.parts
        ),
        _saw_list(groups, heads, spec, answers), _bend_list(spec, answers), _welds(spec), _holes(spec),
        _worked_ends(spec),
        tuple((item.name, item.per_set * spec.sets) for item in spec.bought),
        tuple(work.name for work in spec.outside), _finish(spec), planned_minutes(session, job),
        spec, answers,
        _making(spec), _remarks(spec),
    )  # fmt: skip


def planned_minutes(session: Session, job: Job) -> tuple[tuple[str, Decimal], ...]:
    """Minutes by operation that the job's quote holds, in the order of the work; empty without a quote."""
    from shopquote.calc.job import OPERATIONS

    chosen = chosen_quotes()
    query = (
        select(QuoteMinutes.operation, QuoteMinutes.minutes)
        .join(Quote, Quote.id == QuoteMinutes.quote_id)
        .join(chosen, chosen.c.quote_id == Quote.id)
        .where(chosen.c.job_id == job.id)
    )
    total: dict[str, Decimal] = {}
    for operation, minutes in session.execute(query):
        total[operation] = total.get(operation, Decimal(0)) + minutes
    return tuple((name, total[name]) for name in OPERATIONS if name in total)


@dataclass(frozen=True, slots=True)
class _Group:
    """Bars of one section and grade with what is cut from them; `sawn` bars come cut by the supplier."""

    section: Section
    grade: Grade
    bars: tuple[BarCut, ...]
    sawn: frozenset[str]


def _groups(
    session: Session,
    job: Job,
    spec: JobSpec,
    answers: Mapping[str, PartAnswer],
    on: date,
    seconds: float | None,
) -> list[_Group]:
    """Bars as they were planned when they were ordered or promised, else planned now."""
    saw = saw_settings(session)
    held = bars_for_job(session, job.number)
    items = [(answers[part.mark], part, spec.quantity(part), job.number) for part in spec.parts]
    groups = []
    for section, grade, pieces in group_pieces(items):
        own = [bar for bar in held if (bar.section_key, bar.grade) == (section.key, grade.name)]
        bars = _as_planned(own, pieces, job.number, saw)
        if bars is None:
            keys = {piece.mark for piece in pieces}
            wanted = [item for item in items if item[0].mark in keys]
            bars = _planned_now(session, job, spec, own, wanted, on, seconds)
        sawn = {
            name for bar in own if bar.cut for name in (bar.code, bar.name, bar.name.rsplit(" bar ", 1)[0])
        }
        groups.append(_Group(section, grade, bars, frozenset(name for name in sawn if name)))
    return groups


def _as_planned(
    own: Sequence[JobBar], pieces: Sequence[Piece], number: str, saw: SawSettings
) -> tuple[BarCut, ...] | None:
    """The cuts that the bars were ordered for; None when they are not exactly the job's pieces of today.

    None too where a bar came shorter than it was ordered and does not hold them.
    """
    live = [bar for bar in own if bar.state != "used"]
    found: dict[tuple[str, Length], int] = {}
    for bar in live:
        for owner, mark, length, count in bar.load:
            if owner == number:
                found[mark, length] = found.get((mark, length), 0) + count
    if not live or found != {(piece.mark, piece.length): piece.count for piece in pieces}:
        return None
    if any(load_length(bar.load, saw, sawn=bar.cut) > bar.length for bar in live):
        return None
    return _alike([_cut_as_loaded(bar, number, saw) for bar in live], live)


def _alike(cuts: Sequence[BarCut], bars: Sequence[JobBar]) -> tuple[BarCut, ...]:
    """Bars still on order that are cut alike in one row; bars with a code of their own stay apart."""
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
    kerf, trim = (Length(0), Length(0)) if bar.cut else (saw.kerf * (count - 1), saw.trim)
    before = max(bar.length - net - kerf - trim, Length(0))
    left = before if bar.cut else leftover(before, saw.kerf)
    kerf += before - left
    kept = saw.keep_min is not None and left >= saw.keep_min and bool(left)
    name = bar.code or bar.name
    return BarCut(bar.length, 1, pieces, kerf, trim, left, kept, rack_piece=name)


def _planned_now(
    session: Session,
    job: Job,
    spec: JobSpec,
    own: Sequence[JobBar],
    items: Sequence[Item],
    on: date,
    seconds: float | None,
) -> tuple[BarCut, ...]:
    whole = [bar for bar in own if not bar.cut]
    saw, numbers = saw_settings(session), (job.number,)

    def mine(section: Section, grade: Grade) -> list[RackBar]:
        if whole:
            return [
                RackBar(name, part_for(bar, numbers, saw), bar.heat, own=True)
                for bar in whole
                for name in _bar_names(bar)
                if part_for(bar, numbers, saw).nm > 0
            ]
        return rack_bars(session, section, grade, [job.number])

    materials = take_off(
        items, lambda section, grade: stock_bars(session, section, grade, on), mine, saw, spec.units,
        seconds=seconds,
    )  # fmt: skip
    held = {name: bar for bar in whole for name in _bar_names(bar)}
    return tuple(
        _with_the_others(bar, held.get(bar.rack_piece or ""), job.number, saw)
        for material in materials
        for bar in material.plan.bars
    )


def _with_the_others(bar: BarCut, held: JobBar | None, number: str, saw: SawSettings) -> BarCut:
    """A bar that other jobs share, whole again and with what is cut from it for them."""
    load = () if held is None else held.load
    others = tuple(
        (f"{owner} {mark}", length, n, owner) for owner, mark, length, n in load if owner != number
    )
    if held is None or not others:
        return bar
    kerfs = saw.kerf * sum(count for _, _, count, _ in others)
    return replace(bar, stock=held.length, pieces=(*others, *bar.pieces), kerf=bar.kerf + kerfs)


def _bar_names(bar: JobBar) -> tuple[str, ...]:
    return (bar.code,) if bar.code is not None else bar.names()


def _rack_heads(session: Session, groups: Sequence[_Group]) -> dict[str, RackPiece]:
    codes = {bar.rack_piece for group in groups for bar in group.bars if bar.rack_piece}
    rows = session.scalars(select(RackPiece).where(RackPiece.code.in_(codes)))
    return {row.code: row for row in rows}


def _saw_list(
    groups: Sequence[_Group],
    heads: Mapping[str, RackPiece],
    spec: JobSpec,
    answers: Mapping[str, PartAnswer],
) -> tuple[SawBar, ...]:
    """Bars in the order of sawing: section by section, within it from place to place as one walks by them.

    At one place like cuts come after each other, so that the stop stays. Sections come in the order of their
    first place; what lies nowhere yet comes last.
    """
    ends = {part.mark: _ends(part, answers[part.mark].mitres, spec.units) for part in spec.parts}
    texts = {parse_section(part.bar, spec.units).key: part.bar for part in spec.parts}
    rows: list[SawBar] = []
    place = 1

    def order(bar: BarCut) -> tuple[object, ...]:
        return _sawing_order(bar, heads.get(bar.rack_piece or ""))

    for group in sorted(groups, key=lambda group: min(order(bar)[:2] for bar in group.bars)):
        for bar in sorted(group.bars, key=order):
            head = heads.get(bar.rack_piece or "")
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
                    cuts=_cuts(bar, ends),
                    offcut=bar.offcut,
                    kept=bar.kept,
                    sawn=bar.rack_piece in group.sawn,
                )
            )
            place += bar.count
    return tuple(rows)


def _sawing_order(bar: BarCut, head: RackPiece | None) -> tuple[object, ...]:
    lengths = sorted((-length.nm for _, length, _, _ in bar.pieces))
    place = walk_key("" if head is None else head.place)
    return (0 if head is not None else 1 if bar.rack_piece else 2, place, lengths, -bar.stock.nm)


def _source(bar: BarCut, head: RackPiece | None) -> str:
    if head is not None:
        return f"rack {head.code}"
    if bar.rack_piece:
        return bar.rack_piece  # on order, or cut already: its own words say where
    return f"stock, {bar.supplier}" if bar.supplier else "stock"


def _cuts(bar: BarCut, ends: Mapping[str, str]) -> tuple[Cut, ...]:
    pieces = sorted(bar.pieces, key=lambda piece: (-piece[1].nm, piece[0]))
    return tuple(Cut(mark, count, length, ends.get(mark, "")) for mark, length, count, _ in pieces)


def _ends(part: PartSpec, mitres: Mitres | None, unit: Unit) -> str:
    """How the ends are sawn unless square, and what is done to them afterwards."""
    first, last = (str(end) for end in part.ends)
    sawn = f"{first} both ends" if first == last else f"{first} / {last}"
    if mitres is not None and mitres.hand != "one end":
        sawn = f"{sawn}: {mitre_words(mitres, Say(unit))}"
    later = [f"{'both ends' if ends == MOST_ENDS else 'one end'} {work}" for work, ends in part.worked_ends]
    return "; ".join([sawn, *later] if sawn != "square both ends" else later)


def _bend_list(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[BendPart, ...]:
    rows = []
    for part in spec.parts:
        answer = answers[part.mark]
        if not (answer.bends or answer.twists or answer.forge_heats):
            continue
        problems = tuple(problem.message for problem in answer.problems)
        rows.append(
            BendPart(
                part.mark, part.name, spec.quantity(part), part.bar, part.grade, answer.cut, part.shape or "",
                answer.centreline_mm, _in_order(answer, spec.units), answer.order_note, problems,
            )
        )  # fmt: skip
    return tuple(rows)


def _in_order(answer: PartAnswer, unit: Unit) -> tuple[Bend, ...]:
    """The bends in the order of bending where one was found, else along the bar."""
    if not answer.bend_order:
        turned = ["turn the bar to the new plane" if bend.is_3d else "" for bend in answer.bends]
        return tuple(
            _bend(number, bend, before, unit, answer)
            for number, (bend, before) in enumerate(zip(answer.bends, turned, strict=True), 1)
        )
    return tuple(
        _bend(step.bend, answer.bends[step.bend - 1], _before(step), unit, answer)
        for step in answer.bend_order
    )


def _before(step: OrderStep) -> str:
    words = ["turn end for end"] if step.swap else []
    if step.roll_words:
        words.append(step.roll_words)
    if step.way:
        words.append(f"to the {step.way}")
    return ", ".join(words)


def _bend(number: int, bend: BendAnswer, before: str, unit: Unit, answer: PartAnswer) -> Bend:
    mark = bend.bender_mark if bend.bender_mark is not None else bend.mark.start
    small = bend.hits > 1
    marks = [on_piece(place, answer.datum, answer.cut, unit) for place in (mark, *bend.hit_bender_marks)]
    return Bend(
        number,
        before,
        marks[0],
        bend.bender_mark_at,
        bend.angle,
        bend.hit_over_bend if small else bend.over_bend_to,
        bend.inside_radius,
        bend.former_radius,
        bend.bender or "",
        bend.hits,
        tuple(marks[1:]),
        bend.over_bend_source,
        bend.pull_range,
        bend.hit_over_bends,
        bend.hit_formers,
        bend.hit_turn,
        "" if bend.bender is None else setting_words(bend, unit),
        bend.stop,
        bend.stop_end,
    )


def _welds(spec: JobSpec) -> tuple[FloorWeld, ...]:
    return tuple(
        FloorWeld(
            weld.kind, weld.leg.text, weld.length.text, weld.count * spec.sets, weld.process,
            _and_also(WELD, weld, ("kind", "leg", "length", "count", "process", "note"), weld.note),
        )
        for weld in spec.welds
    )  # fmt: skip


def _holes(spec: JobSpec) -> tuple[FloorHole, ...]:
    rows = []
    for part in spec.parts:
        for hole in part.holes:
            total = hole.count * spec.quantity(part)
            size = hole.thread if hole.dia is None else hole.dia.text
            said = (*_SAID_OF_HOLES, *(() if hole.at else ("leg",)))
            works = _and_also(HOLE, hole, said, ", ".join(hole.works), hole.note)
            rows.append(FloorHole(part.mark, size, hole.count, total, works))
    return tuple(rows)


_SAID_OF_HOLES = (
    "dia", "thread", "count", "tapped", "countersunk", "along", "reamed", "drifted", "walls", "note",
)  # fmt: skip


def _and_also(table: Table, row: object, said: Sequence[str], *words: str) -> str:
    """Words, then what else a row says by its headings: "tapped, at 20; 50, across 0"."""
    also = [
        f"{field.heading.lower()} {field.kind.shown(value)}"
        for field, value in table.written(row)
        if field.key not in said
    ]
    return ", ".join([*filter(None, words), *also])


def _worked_ends(spec: JobSpec) -> tuple[WorkedEnds, ...]:
    """Each bar once, as it is set up; an end in the words of the job, or only turned and threaded."""
    rows = []
    for part in spec.parts:
        said = Counter(str(form) for end in part.ends for form in end.forms)
        counted = (("turned", part.turned), ("threaded", part.threaded))
        works = [*said.items(), *((work, ends) for work, ends in counted if ends)]
        rows += [WorkedEnds(work, part.bar, part.mark, n, n * spec.quantity(part)) for work, n in works]
    return tuple(sorted(rows, key=lambda row: (not row.work.startswith("turn"), row.bar)))


def _making(spec: JobSpec) -> tuple[str, ...]:
    """The order of making, step by step, then the jigs to make first."""
    steps = [
        f"{number}. {f'{step.operation}: ' if step.operation else ''}{step.text}"
        + (f" ({', '.join(step.marks)})" if step.marks else "")
        for number, step in enumerate(spec.steps, 1)
    ]
    jigs = [f"Make first: {jig.name}, {number_text(jig.minutes)} min" for jig in spec.templates]
    return (*jigs, *steps)


def _remarks(spec: JobSpec) -> tuple[str, ...]:
    """Notes and drawings of the job and its parts, and what is held longer and sawn off."""
    told = [(f"Drawing {spec.drawing}" if spec.drawing else ""), spec.note]
    for part in spec.parts:
        words = [f"drawing {part.drawing}" if part.drawing else "", part.note]
        if part.hold is not None:
            words.append(f"cut {part.hold.text} longer to hold at the finish end; saw it off after bending")
        if any(words):
            told.append(f"{part.mark}: {'; '.join(filter(None, words))}")
    return tuple(filter(None, told))


def _finish(spec: JobSpec) -> str:
    if spec.finish is None or spec.finish.kind == "none":
        return ""
    coats = f", {spec.finish.coats} coats" if spec.finish.coats > 1 else ""
    return f"{spec.finish.kind}{coats}"


def _cautions(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[str, ...]:
    words = list(BY_USE[spec.use])
    hot = bool(spec.welds) or any("galvan" in work.name.lower() for work in spec.outside)
    if hot and any(answer.section.is_hollow for answer in answers.values()):
        words.append(HOLLOW)
    if spec.welds:
        words.append(SHRINKAGE)
    for answer in answers.values():
        words += answer.cautions
    if any(answer.bends for answer in answers.values()):
        words.append(CRACK_CAUTION)
    if spec.welds:
        words.append(WELD_CAUTION)
    return tuple(dict.fromkeys(words))
