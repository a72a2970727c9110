"""A delivery note as a PDF to sign, and as text, in the language of the shop's papers. It holds no price.

The document pack is another PDF: the note, the heats of its parts, and the certificates of just these
heats. Begin at `write_delivery_note`.
"""

from collections.abc import Sequence
from itertools import repeat
from pathlib import Path
from typing import Any

from shopquote.calc.address import lines_of
from shopquote.calc.numbers import shown
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.looks import Setting
from shopquote.outputs.papers.joined import as_pdf, joined, pages_in
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.quote_words import Voice, voice_of
from shopquote.outputs.tables.delivery_tables import total_mass, weighed
from shopquote.services.floor.delivery_note import DeliveryNote
from shopquote.services.floor.document_pack import DocumentPack, PackHeat


def write_delivery_note(note: DeliveryNote, folder: Path, pack: DocumentPack | None = None) -> list[Path]:
    """Write the PDF and the text into a folder, and the document pack where one is asked for.

    Raises:
        InputError: the folder cannot be written, or a certificate's file cannot be read.
    """
    name = f"{_voice(note)['delivery_note']} {note.name} {note.day}"
    paper = typeset("order", delivery_data(note))
    written = [
        put_file(folder / safe_file_name(name, ".pdf"), paper),
        put_file(folder / safe_file_name(name, ".txt"), delivery_text(note).encode()),
    ]
    if pack is not None:
        pages = safe_file_name(f"Documents {note.name} {note.day}", ".pdf")
        written.append(put_file(folder / pages, pack_paper(note, paper, pack)))
    return written


def delivery_data(note: DeliveryNote) -> dict[str, Any]:
    """The template's data for a note: all that the customer sees, laid out like an order."""
    voice = _voice(note)
    names = (
        "mark",
        "what",
        "bar",
        "count",
        "each_mass",
        "total_mass",
        *(["to_follow"] if note.is_part else []),
    )
    mass, lines = Setting("", note.units).words["mass"], weighed(note, note.units)
    return _sheet(note, f"{voice['delivery_note']} {note.name}") | {
        "facts": [list(fact) for fact in _facts(note, voice)],
        "wide": [voice["what"]],
        "lines": {
            "head": [voice[name].format(mass=mass) for name in names],
            "align": ["left"] * 3 + ["right"] * (len(names) - 3),
            "rows": [
                [row.line.mark, row.line.what, voice.bar(row.line.bar), voice.figure(row.line.count)]
                + ["" if mass is None else voice.digits(f"{mass:f}") for mass in (row.each, row.total)]
                + ([voice.figure(row.line.left)] if note.is_part else [])
                for row in lines
            ],
        },
        "sums": [[voice["mass_in_all"], f"{voice.digits(f'{total_mass(lines):f}')} {mass}"]],
        "closing": [f"{voice['received']}: " + "_" * 40],
    }


def delivery_text(note: DeliveryNote) -> str:
    """The note as plain text."""
    data, voice = delivery_data(note), _voice(note)
    lines = [data["title"], "", *(f"{name}: {value}" for name, value in data["facts"])]
    lines[2:2] = [f"{voice['to']}: {note.customer.name}"]
    lines += ["", *map(_text_row, data["lines"]["rows"], repeat(data["lines"]["head"]))]
    lines += ["", *(f"{name}: {value}" for name, value in data["sums"]), "", voice["received"], ""]
    return shown("\n".join([*lines, note.shop.name, *data["from"]]) + "\n")


def _text_row(row: Sequence[str], head: Sequence[str]) -> str:
    """A line as text: "A, peg, round 12 S275, 4 x, 0.4 kg each, 1.5 kg"."""
    mark, what, bar, count, each, total, *left = row
    weighed = [f"{each} {head[4]}", f"{total} {head[4].split()[0]}"] if each else []
    follow = [f"{head[6]}: {count}" for count in left]
    return ", ".join(filter(None, [mark, what, bar, f"{count} x", *weighed, *follow]))


def pack_paper(note: DeliveryNote, paper: bytes, pack: DocumentPack) -> bytes:
    """The note, the trace list and the certificates as one PDF."""
    certificates = [(file.name, as_pdf(file.content, file.name)) for file in pack.files]
    counts = [pages_in(content, name) for name, content in certificates]
    # The trace list names page numbers of this file, so its own length must be known first.
    first = pages_in(paper, "") + 1
    trace = typeset("order", trace_data(note, pack, _first_pages(first, counts)))
    if (longer := pages_in(trace, "")) > 1:
        trace = typeset("order", trace_data(note, pack, _first_pages(first + longer - 1, counts)))
    title = f"{_voice(note)['delivery_note']} {note.name}"
    return joined([("", paper), ("", trace), *certificates], title=title, author=note.shop.name)


def trace_data(note: DeliveryNote, pack: DocumentPack, pages: Sequence[int]) -> dict[str, Any]:
    """Which heat each bar of the job was of, and on which page its certificate begins."""
    voice = _voice(note)
    names = ("mark", "bar", "heat", "certificate")
    return _sheet(note, f"{voice['trace_list']} {note.job}") | {
        "facts": [list(fact) for fact in _facts(note, voice)],
        "wide": [voice["certificate"]],
        "lines": {
            "head": [voice[name] for name in names],
            "align": ["left"] * 4,
            "rows": [
                [
                    ", ".join(heat.marks), voice.bar(f"{heat.bar} {heat.grade}"),
                    heat.heat or voice["no_heat"], _certified(heat, pages, voice),
                ]
                for heat in pack.heats
            ]
            + _not_logged(note, pack, voice),
        },
        "sums": [],
        "closing": [
            *_lacking_heats(note, pack, voice),
            " ".join([voice["trace_note"], *([voice["trace_pages"]] if pack.files else [])]),
        ],
    }  # fmt: skip


def _not_logged(note: DeliveryNote, pack: DocumentPack, voice: Voice) -> list[list[str]]:
    """A row for the parts without a logged bar, so that nobody takes them for parts of a heat above."""
    told = {mark for heat in pack.heats for mark in heat.marks}
    left = [line.mark for line in note.lines if line.mark and line.mark not in told]
    # A bar whose parts were never said may have given any of them.
    if not left or any(not heat.marks for heat in pack.heats):
        return []
    return [[", ".join(left), "", voice["no_heat"], voice["no_certificate"]]]


def lacking(note: DeliveryNote, pack: DocumentPack) -> list[str]:
    """What the pack lacks, as sentences in English for the shop; empty if it is complete."""
    return _lacking(note, pack, voice_of("en_GB", ""))


def _lacking(note: DeliveryNote, pack: DocumentPack, voice: Voice) -> list[str]:
    """A sentence for each heat without a certificate, and what `_lacking_heats` says."""
    return [
        voice["lacks_certificate"].format(
            bar=voice.bar(f"{heat.bar} {heat.grade}"), heat=heat.heat or voice["no_heat"]
        )
        for heat in pack.heats
        if not heat.files
    ] + _lacking_heats(note, pack, voice)


def _lacking_heats(note: DeliveryNote, pack: DocumentPack, voice: Voice) -> list[str]:
    """A sentence for each mark of which too few pieces are logged."""
    told = []
    # A bar whose parts were never said may have given any of them.
    if all(heat.pieces for heat in pack.heats):
        for line in note.lines:
            logged = sum(heat.pieces.get(line.mark, 0) for heat in pack.heats)
            if line.mark and logged < line.gone:
                told.append(voice["lacks_pieces"].format(mark=line.mark, some=logged, all=line.gone))
    else:
        told.append(voice["lacks_parts"])
    return told


def _first_pages(first: int, counts: Sequence[int]) -> list[int]:
    """The page on which each certificate begins; `first` is the page after the trace list's first."""
    return [first + 1 + sum(counts[:at]) for at in range(len(counts))]


def _certified(heat: PackHeat, pages: Sequence[int], voice: Voice) -> str:
    if not heat.files:
        return voice["no_certificate"]
    told = (voice["certificate_at"].format(kind=kind, page=pages[at]).strip() for kind, at in heat.files)
    return ", ".join(told)


def _sheet(note: DeliveryNote, heading: str) -> dict[str, Any]:
    shop, customer, voice = note.shop, note.customer, _voice(note)
    return {
        "title": heading,
        "shop": shop.name,
        "paper": note.paper,
        "language": voice.locale[:2],
        "to_word": voice["to"],
        "footer": f"{shop.name} · {heading}",
        "from": lines_of([shop.address, shop.email, shop.phone]),
        "to": lines_of([customer.name, customer.address, customer.email, customer.phone]),
    }


def _facts(note: DeliveryNote, voice: Voice) -> list[tuple[str, str]]:
    """Facts of the note: job, day, how much of the order, the customer's reference."""
    facts = [
        (voice["job"], f"{note.job}, {note.title}"),
        (voice["day"], voice.day(note.day)),
    ]
    if note.sets is not None:
        facts.append((voice["sets"], voice["of"].format(some=note.sets, all=note.ordered)))
    finish = voice.words.get(note.finish, note.finish)
    return facts + [fact for fact in ((voice["finish"], finish), (voice["enquiry"], note.enquiry)) if fact[1]]


def _voice(note: DeliveryNote) -> Voice:
    return voice_of(note.locale, "")
