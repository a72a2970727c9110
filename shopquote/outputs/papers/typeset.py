"""Typeset a paper: a template of ours and plain data in, PDF or PNG out.

Typst does the work, with the fonts that come with the program and no others, so that a paper is the same on
every machine and the same data gives the same bytes. Begin at `typeset`.
"""

import json
from collections.abc import Mapping
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Literal

from shopquote.calc.numbers import shown

# Letters as the template knows them; a paper that names another family fails.
FONTS = ("fontpkg_fira_sans_condensed", "files")
TEMPLATES = Path(__file__).parent / "templates"

PngOrPdf = Literal["pdf", "png"]


def typeset(template: str, data: Mapping[str, Any], kind: PngOrPdf = "pdf", *, ppi: float = 144) -> bytes:
    """Typeset one paper from a template, such as "parts"; as PNG, its first page.

    `data` is what the template reads: texts, numbers, lists and mappings of them, drawings as SVG. `ppi`:
    pixels an inch of a PNG.

    Raises:
        RuntimeError: the template fails with this data, or needs a font that is not there.
    """
    pages = typeset_pages(template, data, kind, ppi=ppi)
    return pages[0]


def font_file(name: str) -> bytes:
    """The bytes of a font that comes with the program.

    >>> font_file("FiraSansCondensed-Medium.ttf")[:4] == bytes([0, 1, 0, 0])
    True
    """
    return files(FONTS[0]).joinpath(FONTS[1], name).read_bytes()


def typeset_pages(
    template: str, data: Mapping[str, Any], kind: PngOrPdf = "pdf", *, ppi: float = 144
) -> list[bytes]:
    """Like `typeset`, all pages of a PNG, of so many pixels an inch.

    Raises:
        RuntimeError: as of `typeset`.
    """
    import typst

    with as_file(files(FONTS[0]).joinpath(FONTS[1])) as fonts:
        made, warnings = typst.compile_with_warnings(
            str(TEMPLATES / f"{template}.typ"),
            format=kind,
            ppi=ppi,
            root=str(TEMPLATES),
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(_showable(data), ensure_ascii=False)},
        )
    if warnings:
        raise RuntimeError(f"{template}: {'; '.join(str(warning) for warning in warnings)}")
    return list(made) if isinstance(made, list) else [made]


def _showable(data: Any) -> Any:
    """The data with control characters of older records, which Typst refuses, made visible."""
    if isinstance(data, str):
        return shown(data)
    if isinstance(data, Mapping):
        return {key: _showable(value) for key, value in data.items()}
    return [_showable(one) for one in data] if isinstance(data, list | tuple) else data
