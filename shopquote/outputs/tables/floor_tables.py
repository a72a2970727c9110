"""What stands on the floor sheets: the columns that the workbook and JSON share, and the JSON."""

from decimal import Decimal

from shopquote.calc.bar.part_answer import shown_pulls
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import iso_weld_size
from shopquote.calc.pricing.weld_pulls import SHRINKAGE, SHRINKAGE_SOURCE
from shopquote.outputs.looks import COUNT, DEGREES, FIGURE, MARK, MINUTES, SIZE, WORDS, Look, Setting
from shopquote.outputs.table import JSON, SHEET, Column, Editable, json_rows
from shopquote.services.floor.floor_sheet import (
    BendPart,
    FloorBend,
    FloorHole,
    FloorPart,
    FloorSheet,
    FloorWeld,
    SawBar,
    SawnPiece,
    WorkedEnds,
)

PARTS: tuple[Column[FloorPart], ...] = (
    Column("Mark", lambda part: part.mark, width=9, strong=True),
    Column("Name", lambda part: part.name, width=26),
    Column("Pieces", lambda part: part.count, COUNT, 9),
    Column("Bar", lambda part: part.bar, width=22),
    Column("Grade", lambda part: part.grade, width=20),
    Column("Cut {unit}", lambda part: part.cut, SIZE, 14),
)
PLANNED: tuple[Column[tuple[str, Decimal]], ...] = (
    Column("Operation", lambda row: row[0], span=2),
    Column("Planned minutes", lambda row: row[1], MINUTES, 9),
)

# --- the saw --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SawRow:
    """One setting of the stop, or what is left at the end: `bar` stands in a bar's first row only."""

    bar: SawBar | None
    cut: SawnPiece | None
    left: str = ""
    tick: bool = True


def saw_rows(bar: SawBar, setting: Setting) -> list[SawRow]:
    """The rows of one bar: its cuts, then what is left and whether it is kept."""
    rows = [SawRow(bar if index == 0 else None, cut) for index, cut in enumerate(bar.cuts)]
    left = SIZE.text(bar.offcut, setting)
    text = f"left {left}: keep" if bar.kept else f"left {left}: scrap" if bar.offcut else "nothing left"
    if bar.sawn:
        text = "sawn by the supplier: check its length, no cut"
    return [*rows, SawRow(None if rows else bar, None, text, bar.kept)]


def bars_words(bar: SawBar) -> str:
    """Numbers of the bars in the order of sawing."""
    return f"{bar.first}" if bar.count == 1 else f"{bar.first} to {bar.last}"


SAW: tuple[Column[SawRow], ...] = (
    Column("Bar", lambda row: row.bar and bars_words(row.bar), width=9, strong=True),
    Column("Section", lambda row: row.bar and row.bar.bar, width=18),
    Column("Grade", lambda row: row.bar and (row.bar.grade_in_full or row.bar.grade), width=19),
    Column("Length {unit}", lambda row: row.bar and row.bar.length, SIZE, 11),
    Column("From", lambda row: row.bar and row.bar.source, width=22),
    Column("Place", lambda row: row.bar and row.bar.place, width=10),
    Column("Heat", lambda row: row.bar and row.bar.heat, width=10),
    Column("Mark", lambda row: row.cut and row.cut.mark, width=9, strong=True),
    Column("Pieces per bar", lambda row: row.cut and row.cut.count, COUNT, 9),
    Column("Cut {unit}", lambda row: row.cut and row.cut.length, SIZE, 12, strong=True),
    Column("Ends, rest", lambda row: row.left or (row.cut and row.cut.ends), width=22),
    Column("Done", lambda row: Editable(None) if row.tick else None, width=6),
)
CUTS: tuple[Column[SawnPiece], ...] = (
    Column("mark", lambda cut: cut.mark),
    Column("count", lambda cut: cut.count),
    Column("length_mm", lambda cut: cut.length),
    Column("ends", lambda cut: cut.ends),
)
SAW_BARS: tuple[Column[SawBar], ...] = (
    Column("bars", lambda bar: [bar.first, bar.last]),
    Column("bar", lambda bar: bar.bar),
    Column("grade", lambda bar: bar.grade),
    Column("length_mm", lambda bar: bar.length),
    Column("from", lambda bar: bar.source),
    Column("piece", lambda bar: bar.piece or None),
    Column("place", lambda bar: bar.place),
    Column("heat", lambda bar: bar.heat),
    Column("cuts", lambda bar: json_rows(CUTS, bar.cuts)),
    Column("offcut_mm", lambda bar: bar.offcut),
    Column("kept", lambda bar: bar.kept),
    Column("sawn_by_supplier", lambda bar: bar.sawn),
)

# --- the bender -----------------------------------------------------------------------------------


def small_bends(bend: FloorBend, setting: Setting) -> list[tuple[str, str, str]]:
    """Mark, pull and former of each small bend; pull and former empty where they do not change."""
    marks = [MARK.text(mark, setting) for mark in bend.marks]
    same = [""] * len(marks)
    pulls = same if bend.pulled_alike else [f"{pull}°" for pull in shown_pulls(bend.pulls)]
    changes = len(set(bend.formers)) > 1
    formers = [f"r {MARK.text(former, setting)}" for former in bend.formers] if changes else same
    return list(zip(marks, pulls, formers, strict=True))


def _small_bends(bend: FloorBend, setting: Setting) -> str:
    """Where each small bend is marked; its own angle and former where these change along the curve."""
    places = [
        f"{mark}{pull and f' to {pull}'}{former and f' on {former}'}"
        for mark, pull, former in small_bends(bend, setting)
    ]
    each = ", each pulled to this angle" if bend.pulled_alike else ""
    turn = f", the bar turned {DEGREES.text(abs(bend.turn), setting)} between them" if bend.turn else ""
    return f"{bend.hits} small bends{each}, {bend.mark_at} of each at {', '.join(places)}{turn}"


def _note(bend: FloorBend, setting: Setting) -> str:
    small = [_small_bends(bend, setting)] if bend.hits > 1 and not bend.unmade else []
    return "; ".join([*small, making_note(bend)])


def making_note(bend: FloorBend) -> str:
    """What a person at the bender must know besides marks and pulls: setting, way, source."""
    notes = []
    if bend.setting:
        notes.append(bend.setting)
    if bend.told:
        return "; ".join([*notes, bend.told])
    if bend.hot:
        return "; ".join([*notes, "hot: bend it to the angle, it springs back hardly"])
    if bend.unmade:
        return "; ".join([*notes, "no bender on file makes it"])
    if bend.rolled:
        return "; ".join([*notes, bend.rolled, bend.source.partition(":")[0]])
    notes.append(f"pull-to: {bend.source.partition(':')[0]}{bend.between and ', ' + bend.between}")
    if not bend.bender:
        notes.append("no bender on file makes it")
    return "; ".join(notes)


def _pull_text(bend: FloorBend, setting: Setting) -> str:
    if bend.hot:
        return "hot"
    if bend.unmade:
        return "no bender"
    if bend.rolled or not bend.pulled_alike:
        return "see note"
    if bend.pulls:
        return f"{shown_pulls(bend.pulls)[0]}°"
    return DEGREES.text(bend.over_bend_to, setting)


_NOTE = Look(_note, lambda bend, setting: None, figure=False)
_PULL = Look(_pull_text, lambda bend, setting: None)
BENDS: tuple[Column[FloorBend], ...] = (
    Column("Bend", lambda bend: bend.number, COUNT, 7, strong=True),
    Column("First", lambda bend: bend.before, width=16, key="before"),
    Column("Mark at {unit}", lambda bend: bend.mark, MARK, 11, "mark_mm", strong=True),
    Column("Mark is", lambda bend: f"{bend.mark_at} of bend", FIGURE, 12, on=SHEET),
    Column("mark_at", lambda bend: bend.mark_at, on=JSON),
    Column("Angle", lambda bend: bend.angle, DEGREES, 9),
    Column("Pull to", lambda bend: bend, _PULL, 9, on=SHEET, strong=True),
    Column("over_bend_to", lambda bend: bend.over_bend_to, on=JSON),
    Column("Inside radius {unit}", lambda bend: bend.inside_radius, MARK, 10, "inside_radius_mm"),
    Column("Former radius {unit}", lambda bend: bend.former, MARK, 10, "former_radius_mm"),
    Column("Bender", lambda bend: bend.bender or None, width=18),
    Column("hits", lambda bend: bend.hits, on=JSON),
    Column("hit_marks_mm", lambda bend: bend.marks, WORDS, on=JSON),
    Column("hit_over_bends", lambda bend: [round(pull, 4) for pull in bend.pulls], WORDS, on=JSON),
    Column("setting", lambda bend: bend.setting, on=JSON),
    Column("stop_mm", lambda bend: bend.stop, on=JSON),
    Column("stop_end", lambda bend: bend.stop_end or None, on=JSON),
    Column("hot", lambda bend: bend.hot, on=JSON),
    Column("unmade", lambda bend: bend.unmade, on=JSON),
    Column("told", lambda bend: bend.told or None, on=JSON),
    Column("Note", lambda bend: bend, _NOTE, 30, on=SHEET),
    Column("Done", lambda bend: Editable(None), width=6, on=SHEET),
)

# --- ends, welds, holes ---------------------------------------------------------------------------


ENDS: tuple[Column[WorkedEnds], ...] = (
    Column("Work", lambda ends: ends.work, width=14, strong=True),
    Column("Bar", lambda ends: ends.bar, width=22),
    Column("Mark", lambda ends: ends.mark, width=12, strong=True),
    Column("Ends per piece", lambda ends: ends.each, COUNT, 14, "ends_of_a_piece"),
    Column("Ends in the job", lambda ends: ends.total, COUNT, 14),
    Column("Done", lambda ends: Editable(None), width=6, on=SHEET),
)
WELDS: tuple[Column[FloorWeld], ...] = (
    Column("Kind", lambda weld: weld.kind, width=12, strong=True),
    Column("Leg", lambda weld: iso_weld_size(weld.kind, weld.leg), FIGURE, 14, on=SHEET),
    Column("leg", lambda weld: weld.leg, on=JSON),
    Column("Length", lambda weld: weld.length, FIGURE, 14),
    Column("Count", lambda weld: weld.count, COUNT),
    Column("Process", lambda weld: weld.process, width=14),
    Column("Note", lambda weld: weld.note, width=34),
    Column("Done", lambda weld: Editable(None), width=6, on=SHEET),
)
HOLES: tuple[Column[FloorHole], ...] = (
    Column("Diameter", lambda hole: hole.dia, FIGURE, 12, "dia", strong=True),
    Column("Drill", lambda hole: hole.drill or hole.dia, FIGURE, 12),
    Column("Mark", lambda hole: hole.mark, width=12, strong=True),
    Column("Letter", lambda hole: hole.letter, width=8),
    Column("Places on the straight bar", lambda hole: hole.places, width=34, key="places"),
    Column("Per piece", lambda hole: hole.each, COUNT, 14, "in_a_piece"),
    Column("In the job", lambda hole: hole.total, COUNT),
    Column("Besides", lambda hole: hole.works, span=2),
    Column("Done", lambda hole: Editable(None), width=6, on=SHEET),
)


def floor_json(sheet: FloorSheet) -> dict[str, object]:
    """The sheets as plain values: lengths in mm as numbers, minutes as text."""

    def bends(part: BendPart) -> list[dict[str, object]]:
        return json_rows(BENDS, part.bends)

    bend_list: tuple[Column[BendPart], ...] = (
        Column("mark", lambda part: part.mark),
        Column("count", lambda part: part.count),
        Column("cut_mm", lambda part: part.cut),
        Column("datum", lambda part: sheet.datum),
        Column("bends", bends),
        Column("forging", lambda part: part.forging),
        Column("problems", lambda part: part.problems),
    )
    return {
        "job": sheet.job,
        "revision": sheet.revision,
        "sheet": sheet.serial,
        "saw_list": json_rows(SAW_BARS, sheet.saw),
        "bend_list": json_rows(bend_list, sheet.bends),
        "welds": json_rows(WELDS, sheet.welds),
        "holes": json_rows(HOLES, sheet.holes),
        "worked_ends": json_rows(ENDS, sheet.worked_ends),
        "making": list(sheet.making),
        "notes": [*sheet.remarks, *sheet.part_remarks],
        "minutes": dict(sheet.minutes),
        "cautions": sheet.cautions,
        "sources": [SHRINKAGE_SOURCE] if SHRINKAGE in sheet.cautions else [],
    }
