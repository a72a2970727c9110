"""The table of widths is the font's own."""

from importlib.resources import as_file, files

import pytest

from shopquote.calc.drawing.widths import _AT_WIDTH
from shopquote.outputs.papers.typeset import FONTS


def test_widths_are_those_of_the_font() -> None:
    ttf = pytest.importorskip("fontTools.ttLib")
    with as_file(files(FONTS[0]).joinpath(FONTS[1], "FiraSansCondensed-Medium.ttf")) as path:
        font = ttf.TTFont(str(path))
    names, widths, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    for width, characters in _AT_WIDTH.items():
        for character in characters:
            assert round(widths[names[ord(character)]][0] / em * 1000) == width, character
