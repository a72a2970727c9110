"""Writes the drawings of parts: one PDF for all, or an SVG, PNG or DXF for each part."""

from collections.abc import Iterator
from pathlib import Path

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.drawing.full_size import draw_full_size
from shopquote.calc.drawing.outline import is_flat
from shopquote.calc.drawing.part import captioned, convention, draw_part
from shopquote.calc.drawing.printed import with_printed
from shopquote.calc.drawing.saddle import draw_saddles
from shopquote.calc.drawing.sawn_face import draw_sawn_faces
from shopquote.calc.drawing.weld_places import placed_welds
from shopquote.calc.job import PartSpec
from shopquote.files import bring_in, set_aside
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.drawings.dxf import dxf
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.papers.full_size_paper import typeset_full_size
from shopquote.outputs.papers.part_paper import typeset_parts
from shopquote.outputs.papers.typeset import typeset
from shopquote.services.jobs.drawn import PartsToDraw

Named = tuple[str, bytes]


def write_drawings(found: PartsToDraw, folder: Path, kind: str, *, full_size: bool = False) -> list[Path]:
    """Write the drawings into a folder and return the files; `kind` is pdf, svg, png or dxf.

    Raises:
        InputError: the folder or a file cannot be written.
        CannotMakeError: a part that bends in space was asked for at full size.
    """
    files = list(_full_size(found) if full_size else _drawn(found, kind))
    with set_aside(folder) as aside:
        for name, content in files:
            (aside / name).write_bytes(content)
        return bring_in([aside / name for name, _ in files], folder)


def _drawn(found: PartsToDraw, kind: str) -> Iterator[Named]:
    about = found.number or found.job.title
    if kind == "pdf":
        pages = typeset_parts(
            found.job, found.parts, number=found.number, shop=found.shop_name, paper=found.paper,
            projection=found.projection,
        )  # fmt: skip
        yield safe_file_name(f"{about} parts", ".pdf"), pages[0]
        return
    for part, answer in found.parts:
        name = f"{about} {part.mark}"
        if kind == "dxf":
            yield from _dxf_files(found, part, answer, name)
            continue
        welds = placed_welds(found.job, part)
        drawn = draw_part(part, answer, found.job.units, projection=found.projection, welds=welds)
        finished = captioned(drawn.finished, convention(part, drawn))
        picture = svg(finished, title=f"{about}, part {part.mark}, {part.name}")
        if kind == "svg":
            yield safe_file_name(name, ".svg"), picture.encode()
        else:
            data = {"svg": picture, "title": name, "shop": found.shop_name}
            yield safe_file_name(name, ".png"), typeset("drawing", data, "png")


def _dxf_files(found: PartsToDraw, part: PartSpec, answer: PartAnswer, name: str) -> Iterator[Named]:
    """DXF of the finished part, straight bar and mitres' faces; not shortened, since others measure them."""
    welds = placed_welds(found.job, part)
    drawn = draw_part(part, answer, found.job.units, projection=found.projection, breaks=False, welds=welds)
    yield (
        safe_file_name(name, ".dxf"),
        dxf(with_printed(drawn, part, found.job.units), found.job.units).encode(),
    )
    yield safe_file_name(f"{name} straight", ".dxf"), dxf(drawn.straight, found.job.units).encode()
    if (faces := draw_sawn_faces(part, answer)) is not None:
        yield safe_file_name(f"{name} sawn faces", ".dxf"), dxf(faces, found.job.units).encode()


def _full_size(found: PartsToDraw) -> Iterator[Named]:
    about = found.number or found.job.title
    for part, answer in found.parts:
        drawn = [
            (f"{about} {part.mark} saddle, {which}", drawing)
            for which, drawing in draw_saddles(part, answer, found.job.units)
        ]
        # Of a part that bends in space only its saddle templates are flat.
        if not drawn or is_flat(answer.runs):
            drawn.insert(0, (f"{about} {part.mark} full size", draw_full_size(part, answer, found.job.units)))
        for name, drawing in drawn:
            sheets = typeset_full_size(drawing, name, part.name, found.paper, answer.shape_notes)
            yield safe_file_name(name, ".pdf"), sheets
