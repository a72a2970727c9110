"""Pipe by its nominal size: outside diameter and wall by EN 10255 or ASME B36.10.

Walls of EN 10255 from a tube maker's page to DN 50; from DN 8 on they are those of BS 1387 in an open
library (CalebBell/fluids, fluids/piping.py), which a tube maker says EN 10255 kept
(scribd.com/document/332052927). Of ASME B36.10M by open tables of pipe. Masses per metre agree with them.
Begin at `pipe_sizes`.
"""

import re

from shopquote.errors import InputError

# Nominal size (DN): outside diameter, wall of the medium and of the heavy series, mm: EN 10255.
EN_10255: dict[str, tuple[float, float, float]] = {
    "6": (10.2, 2.0, 2.6), "8": (13.5, 2.3, 2.9), "10": (17.2, 2.3, 2.9), "15": (21.3, 2.6, 3.2),
    "20": (26.9, 2.6, 3.2), "25": (33.7, 3.2, 4.0), "32": (42.4, 3.2, 4.0), "40": (48.3, 3.2, 4.0),
    "50": (60.3, 3.6, 4.5), "65": (76.1, 3.6, 4.5), "80": (88.9, 4.0, 5.0), "100": (114.3, 4.5, 5.4),
}  # fmt: skip
# Nominal size in inches: outside diameter, wall of schedule 40 and 80, mm: ASME B36.10M.
ASME_B36: dict[str, tuple[float, float, float]] = {
    "1/4": (13.7, 2.24, 3.02), "3/8": (17.1, 2.31, 3.20), "1/2": (21.3, 2.77, 3.73),
    "3/4": (26.7, 2.87, 3.91), "1": (33.4, 3.38, 4.55), "1-1/4": (42.2, 3.56, 4.85),
    "1-1/2": (48.3, 3.68, 5.08), "2": (60.3, 3.91, 5.54), "2-1/2": (73.0, 5.16, 7.01),
    "3": (88.9, 5.49, 7.62), "4": (114.3, 6.02, 8.56),
}  # fmt: skip
TYPED = "pipe 25 medium, pipe DN25 heavy, pipe 1 in sch 40"

_EN = re.compile(r"(?:dn\s*)?(\d+)\s*(medium|heavy)?", re.IGNORECASE)
_ASME = re.compile(
    r"(\d+(?:[ -]\d+/\d+)?|\d+/\d+)\s*(?:in|inch|\"|nps)?\s*sch(?:edule)?\.?\s*(40|80)", re.IGNORECASE
)


def wall_unsaid(text: str) -> tuple[str, str] | None:
    """The two pipes that a nominal size without a series may mean; None where the series is given.

    >>> wall_unsaid("pipe DN25")
    ('pipe 25 medium (33.7 x 3.2 mm)', 'pipe 25 heavy (33.7 x 4 mm)')
    """
    size = re.fullmatch(r"\s*pipe\s*(?:dn\s*)?(\d+)\s*", text, re.IGNORECASE)
    if size is None or size[1] not in EN_10255:
        return None
    outside, medium, heavy = EN_10255[size[1]]
    return (
        f"pipe {size[1]} medium ({outside:g} x {medium:g} mm)",
        f"pipe {size[1]} heavy ({outside:g} x {heavy:g} mm)",
    )


def by_its_sizes(text: str) -> str | None:
    """The tube or box meant by "pipe" with two or three sizes instead of a nominal one; else None.

    >>> by_its_sizes("Pipe 42.4 x 3.2"), by_its_sizes("pipe 60 x 40 x 3"), by_its_sizes("pipe 42.4")
    ('tube 42.4 x 3.2', 'box 60 x 40 x 3', None)
    """
    named = re.fullmatch(r"\s*pipe\s+(.*\S)\s*", text, re.IGNORECASE)
    sizes = re.split(r"\s*[x×]\s*", named[1], flags=re.IGNORECASE) if named else []
    if named is None or not all(re.match(r"[\d.]", size) for size in sizes):
        return None
    kind = {2: "tube", 3: "box"}.get(len(sizes))
    return kind and f"{kind} {named[1]}"


def pipe_sizes(text: str) -> tuple[float, float]:
    """Outside diameter and wall in mm from the text behind the word "pipe".

    Raises:
        InputError: no table here has it; the message names the known sizes.

    >>> pipe_sizes("25 medium"), pipe_sizes("1-1/4 in sch 40")
    ((33.7, 3.2), (42.2, 3.56))
    """
    typed = text.strip()
    if (match := _ASME.fullmatch(typed)) and (size := ASME_B36.get(match[1].replace(" ", "-"))):
        return size[0], size[1 if match[2] == "40" else 2]
    if (match := _EN.fullmatch(typed)) and (size := EN_10255.get(match[1])):
        return size[0], size[2 if (match[2] or "").lower() == "heavy" else 1]
    # Where it has real sizes, the reader offers the right bar as the nearest word, so only the rule is said
    # here.
    told = "" if by_its_sizes(f"pipe {typed}") else "; by its sizes it is a 'tube D x wall'"
    raise InputError(
        f"Pipe {typed[:60]!r} is in no table; expected {TYPED}{told}.",
        hint=f"EN 10255: DN {', '.join(EN_10255)}. ASME B36.10: {', '.join(ASME_B36)} in, sch 40 or 80.",
    )
