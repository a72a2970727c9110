"""The traveller, the paper that goes through the shop with a job: saw list with drawn bars, parts.

It has no money on it. `services.floor` computes everything; here it is put into words for the template
"traveller". Begin at `typeset_traveller`.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

from shopquote.calc.bar.part_answer import PartAnswer, works_words
from shopquote.calc.drawing.sawn import SawnPieces, draw_sawn
from shopquote.calc.drawing.weld_places import weld_place
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Unit, show_bar, show_length
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.looks import Setting
from shopquote.outputs.papers.paper_table import paper_table
from shopquote.outputs.papers.part_paper import part_data, saw_length, settings_said
from shopquote.outputs.papers.scan import scan_svg
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.floor_tables import WELDS
from shopquote.reading.kinds.documents import printed_code
from shopquote.services.floor.floor_sheet import FloorSheet, SawBar
from shopquote.services.floor.tabs import identity
from shopquote.services.jobs.drawn import PROJECTION_OF

BAR_WIDTH_MM = 118.0
TYPE_MM = 4.25  # a little over 12 pt


def write_traveller(sheet: FloorSheet, folder: Path) -> Path:
    """Write the traveller of a job into a folder, as a PDF.

    Raises:
        InputError: the folder or the file cannot be written.
    """
    name = safe_file_name(f"{sheet.job} traveller", ".pdf")
    return put_file(folder / name, typeset_traveller(sheet))


def typeset_traveller(sheet: FloorSheet) -> bytes:
    """The PDF of a job's traveller."""
    return typeset("traveller", traveller_data(sheet))


def traveller_data(sheet: FloorSheet) -> dict[str, Any]:
    """The template's data: the job, its pieces with boxes to tick, its bars, its parts."""
    projection = PROJECTION_OF[sheet.paper]
    said = settings_said(sheet.answers.values(), sheet.spec.units)
    drawn = [
        part_data(
            sheet.spec, part, sheet.answers[part.mark], projection, as_card=True, twins=len(twins), said=said
        )
        | {"code": code_of(sheet, part.mark), "twins": [_twin(sheet, twin) for twin in twins]}
        for part, *twins in _alike(sheet.spec)
    ]
    return {
        "title": f"{sheet.job} traveller",
        "shop": sheet.shop,
        "paper": sheet.paper,
        "language": "en",
        "footer": f"{identity(sheet)} – {sheet.title}",
        "job": f"{sheet.job} {sheet.title}",
        "head": sheet.title,
        "code": code_of(sheet),
        "facts": _facts(sheet),
        "cautions": list(sheet.cautions),
        "making": list(sheet.making),
        "remarks": [*sheet.remarks, *_benders(sheet, said)],
        "pieces": _pieces(sheet),
        "minutes": [[name, f"{minutes:.0f}"] for name, minutes in sheet.minutes],
        "welds": paper_table(WELDS, sheet.welds, Setting(unit=sheet.unit)),
        "bought": [[f"{count} x", name] for name, count in sheet.bought],
        "outside": list(sheet.outside),
        "finish": sheet.finish,
        "saw_title": "Saw list" if sheet.unit == "in" else "Saw list, lengths in mm",
        "bars": list(_bars(sheet)),
        "parts": drawn,
    }


def code_of(sheet: FloorSheet, mark: str = "") -> str:
    """A code to scan that names the job and the sheet, as SVG."""
    return scan_svg(printed_code(f"{sheet.job}/{mark}" if mark else sheet.job, sheet.page))


def _alike(job: JobSpec) -> list[list[PartSpec]]:
    """Groups of parts that differ only in mark, name and count; a part named by a weld is alone."""
    welded = {mark for weld in job.welds for mark in weld.joins}
    welded |= {place.mark for weld in job.welds for place in map(weld_place, weld.at) if place}
    groups: dict[object, list[PartSpec]] = {}
    for part in job.parts:
        bare = replace(part, mark=part.mark if part.mark in welded else "", name="", per_set=1)
        groups.setdefault(bare, []).append(part)
    return list(groups.values())


def _twin(sheet: FloorSheet, part: PartSpec) -> dict[str, str]:
    """What a shared sheet says about each further part."""
    count = f"{sheet.spec.quantity(part)} off"
    return {"mark": part.mark, "name": part.name, "count": count, "code": code_of(sheet, part.mark)}


def _facts(sheet: FloorSheet) -> list[list[str]]:
    due = f"{sheet.due:%Y-%m-%d}" if sheet.due else ""
    return [
        ["job", sheet.job],
        ["customer", sheet.customer],
        ["sets", str(sheet.sets)],
        ["due", due],
        ["printed", f"{sheet.made_on:%Y-%m-%d}"],
        ["revision", str(sheet.revision)],
        ["marks from", sheet.datum],
    ]


def _benders(sheet: FloorSheet, said: Mapping[str, str]) -> list[str]:
    """How each bender works and is set, said once for all small parts' cards."""
    told, stops = set(), False
    for bend in (bend for answer in sheet.answers.values() for bend in answer.bends):
        if bend.bender:
            words = dict.fromkeys((works_words(bend), said.get(bend.bender, "")))
            told.add(f"{bend.bender}: {'; '.join(filter(None, words))}")
            stops = stops or bend.stop is not None
    where = "small parts for which no stop is given: set it at the bend's mark, from the same end"
    return [*sorted(told), *([where] if stops else [])]


def _is_welded(sheet: FloorSheet, answer: PartAnswer) -> bool:
    """Whether a part is welded: to others, spliced from pieces, or at a closed fold."""
    folded = any(run.by == "notch" for run in answer.runs)
    return bool(sheet.welds) or folded or len(answer.sawn_as) > 1


def _pieces(sheet: FloorSheet) -> list[dict[str, Any]]:
    """A row for each part, with a box for each operation it goes through."""
    rows = []
    for part in sheet.spec.parts:
        answer = sheet.answers[part.mark]
        rows.append(
            {
                "cells": [
                    part.mark,
                    part.name,
                    str(sheet.spec.quantity(part)),
                    f"{part.bar} {answer.grade_in_full}",
                    saw_length(answer.cut, sheet.unit),
                ],
                "meets": [True, bool(answer.bends), bool(part.holes), _is_welded(sheet, answer)],
            }
        )
    return rows


def _bars(sheet: FloorSheet) -> Iterator[dict[str, Any]]:
    """Every bar, grouped under its material and source; a rack piece has its own source."""
    last: list[str] = []
    own = {part.mark for part in sheet.spec.parts}
    for bar in _together(sheet.saw):
        source = _source(bar, sheet.unit)
        head = [f"{bar.bar}, {bar.grade_in_full or bar.grade}", "" if bar.piece else source]
        one = _bar(bar, sheet.unit, own) | {"head": head if head != last else []}
        yield one | {"cuts": [source, *one["cuts"]]} if bar.piece else one
        last = head


def _together(saw: Sequence[SawBar]) -> Iterator[SawBar]:
    """Join consecutive rack pieces that differ only in their codes."""

    def alike(bar: SawBar) -> SawBar:
        return replace(bar, first=0, last=0, piece="", source="") if bar.piece else bar

    return (_as_one(list(bars)) for _, bars in groupby(saw, alike))


def _as_one(bars: Sequence[SawBar]) -> SawBar:
    first = bars[0]
    codes = [bar.piece for bar in bars]
    source = first.source.replace(first.piece, ", ".join(codes)) if len(bars) > 1 else first.source
    return replace(first, last=bars[-1].last, source=source)


def _bare(length: str) -> str:
    """A length without its mm, which the heading has."""
    return length.removesuffix(" mm")


def _source(bar: SawBar, unit: Unit) -> str:
    length = f"{show_bar(bar.length, unit)} bar" if unit == "in" else f"{bar.length.mm_float:.0f} mm bar"
    return ", ".join(filter(None, [bar.source, length, bar.place, bar.heat and f"heat {bar.heat}"]))


def _bar(bar: SawBar, unit: Unit, own: Collection[str]) -> dict[str, Any]:
    cuts = [SawnPieces(cut.mark, cut.count, cut.length) for cut in bar.cuts]
    end = _bare(show_length(bar.offcut, unit))
    rest = f"left {end}: {'keep for the rack' if bar.kept else 'scrap'}" if bar.offcut.nm > 0 else ""
    picture = draw_sawn(
        bar.length, cuts, bar.offcut, kept=bar.kept, width=BAR_WIDTH_MM, size=TYPE_MM
    )  # fmt: skip
    told = [
        f"{cut.count} x {cut.mark} at {_bare(saw_length(cut.length, unit))} {cut.ends}".strip()
        for cut in bar.cuts
    ]
    worked = [f"{cut.mark}: {cut.ends}" for cut in bar.cuts if cut.ends]
    return {
        "times": f"{bar.count} x",
        "numbers": f"bar {bar.first}" if bar.count == 1 else f"bars {bar.first} to {bar.last}",
        "picture": svg(picture),
        # Sawn by the supplier, so the floor must not saw it again; work on its ends is still to do.
        "cuts": told if not bar.sawn else ["comes cut to length", *worked],
        "rest": "; ".join(filter(None, [_shared(bar, own), rest if not bar.sawn else ""])),
    }


def _shared(bar: SawBar, own: Collection[str]) -> str:
    """Other jobs whose pieces are cut from the same bar; their sheets show it too."""
    # A piece of another job has that job's number before its mark.
    others = sorted({cut.mark.partition(" ")[0] for cut in bar.cuts if cut.mark not in own})
    return f"shared with {', '.join(others)}: sawn once" if others else ""
