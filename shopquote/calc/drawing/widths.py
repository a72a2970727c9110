"""Character widths of the drawings' typeface, so that texts can be placed before they are typeset.

Fira Sans Condensed Medium (SIL Open Font Licence 1.1), thousandths of the type's height; a test reads them
again from the font. A character that is not here counts as a wide one.
"""

from functools import lru_cache

_AT_WIDTH = {
    215: "'",
    221: "  ",
    222: "’",
    223: ",",
    226: ".:;·",
    229: "!",
    257: "ij",
    268: "I",
    270: "l",
    283: "J",
    292: "[]{}",
    296: "()",
    301: "`",
    318: "f",
    342: "t",
    345: "|",
    359: "r",
    371: "-",
    406: '"',
    408: "z",
    409: "1",
    413: "*",
    415: "7”“",
    433: "cs",
    434: "?",
    441: "F",
    455: "2",
    456: "L",
    457: "x",
    459: "~",
    461: "v",
    462: "<=>×",
    463: "3",
    465: "y",
    468: "/\\",
    469: "°",
    470: "+±",
    471: "_",
    475: "–",
    476: "5E",
    480: "T",
    481: "Z",
    482: "£",
    486: "g",
    489: "k",
    490: "$",
    491: "#",
    495: "aä",
    499: "^",
    500: "4",
    501: "9eéè",
    507: "S",
    510: "6",
    512: "X",
    515: "8",
    517: "C",
    518: "V",
    521: "uü",
    523: "Y",
    525: "hn",
    529: "€",
    532: "oøö",
    533: "0",
    534: "P",
    535: "A",
    539: "bp",
    542: "dq",
    544: "ß",
    554: "B",
    555: "R",
    561: "K",
    582: "G",
    589: "D",
    590: "U",
    605: "N",
    606: "H",
    628: "OQØ",
    673: "w",
    678: "&",
    682: "…",
    717: "M",
    722: "—",
    762: "W",
    767: "m",
    772: "%",
    900: "→",
    924: "@",
}
# Width of characters that are not in the table: too much space is better than overlapping texts.
_WIDE = 640
_WIDTHS = {character: width for width, characters in _AT_WIDTH.items() for character in characters}


def text_width(text: str, size: float) -> float:
    """Width of a text in the drawings' typeface, in the unit of `size`.

    >>> round(text_width("0", 10), 2)
    5.33
    """
    return _units(text) * size / 1000


@lru_cache(maxsize=4096)
def _units(text: str) -> int:
    return sum(_WIDTHS.get(character, _WIDE) for character in text)
