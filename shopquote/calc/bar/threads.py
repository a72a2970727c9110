"""Threads of tapped holes and the drill that each needs: metric, unified and parallel pipe threads.

`find_thread` reads a thread as it is typed ("M8", "M10 x 1", "1/4-20 UNC", "#10-24", "G 1/2", "M12 LH");
`threads_drilled` goes the other way, from a drill to the threads that it serves. Diameters are
`Length`, exact in either unit.

Sources: ISO 261 and 262 (diameter and pitch), ASME B1.1 (unified), ISO 228-1 (pipe), each by public
copies of its table; drills by ISO 2306 and the 75 % of public tap drill charts, which agree.
"""

import re
from dataclasses import replace
from functools import cache
from typing import Literal

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.errors import InputError, nearest_word

Series = Literal["metric coarse", "metric fine", "UNC", "UNF", "pipe"]

# A drill serves a thread whose drill differs by at most the larger of these: half the step of metric drill
# sets, or the share by which inch and metric drills for one thread differ.
SAME_DRILL = Length.from_mm("0.05")
SAME_DRILL_SHARE = 0.005
_SOURCES: dict[Series, str] = {
    "metric coarse": "ISO 261, drill by ISO 2306 (public charts)",
    "metric fine": "ISO 262, drill by ISO 2306 (public charts)",
    "UNC": "ASME B1.1, drill for 75 % of thread (public charts)",
    "UNF": "ASME B1.1, drill for 75 % of thread (public charts)",
    "pipe": "ISO 228-1, drill by public charts",
}

EXPECTED_THREAD = (
    'a thread such as "M8", "M10 x 1", "1/4-20 UNC", "#10-24" or "G 1/2", left-hand with LH behind it'
)
# Marks of a left-hand thread: LH by ISO 965-1, and what else people write.
_LEFT_HAND = re.compile(r"\s*-?\s*(?:lh|left[-\s]?hand)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread: its usual name, outside diameter, pitch, and its tapping drill.

    `drill_text` is the drill's name: "6.8 mm", "#7", "F", "31/64 in".
    """

    name: str
    series: Series
    dia: Length
    pitch_mm: float
    drill: Length
    drill_text: str

    @property
    def source(self) -> str:
        """Source of diameter, pitch and drill."""
        return _SOURCES[self.series]


# Diameter, pitch, drill in mm.
_METRIC_COARSE = (
    ("2", "0.4", "1.6"), ("2.5", "0.45", "2.05"), ("3", "0.5", "2.5"), ("3.5", "0.6", "2.9"),
    ("4", "0.7", "3.3"), ("5", "0.8", "4.2"), ("6", "1", "5"), ("7", "1", "6"), ("8", "1.25", "6.8"),
    ("10", "1.5", "8.5"), ("12", "1.75", "10.2"), ("14", "2", "12"), ("16", "2", "14"), ("18", "2.5", "15.5"),
    ("20", "2.5", "17.5"), ("22", "2.5", "19.5"), ("24", "3", "21"), ("27", "3", "24"), ("30", "3.5", "26.5"),
    ("33", "3.5", "29.5"), ("36", "4", "32"), ("42", "4.5", "37.5"),
)  # fmt: skip
_METRIC_FINE = (
    ("6", "0.75", "5.2"), ("8", "0.75", "7.2"), ("8", "1", "7"), ("10", "0.75", "9.2"),
    ("10", "1", "9"), ("10", "1.25", "8.8"), ("12", "1", "11"), ("12", "1.25", "10.8"), ("12", "1.5", "10.5"),
    ("14", "1", "13"), ("14", "1.5", "12.5"), ("16", "1", "15"), ("16", "1.5", "14.5"),
    ("18", "1.5", "16.5"), ("18", "2", "16"),
    ("20", "1", "19"), ("20", "1.5", "18.5"), ("20", "2", "18"), ("22", "1.5", "20.5"), ("22", "2", "20"),
    ("24", "1.5", "22.5"), ("24", "2", "22"), ("27", "1.5", "25.5"), ("27", "2", "25"), ("30", "1.5", "28.5"),
    ("30", "2", "28"), ("33", "1.5", "31.5"), ("33", "2", "31"), ("36", "1.5", "34.5"), ("36", "2", "34"),
    ("36", "3", "33"), ("42", "3", "39"),
)  # fmt: skip
# Size, threads per inch, drill's name, drill in inches.
_COARSE = (
    ("#1", 64, "#53", "0.0595"), ("#2", 56, "#50", "0.0700"), ("#3", 48, "#47", "0.0785"),
    ("#4", 40, "#43", "0.0890"), ("#5", 40, "#38", "0.1015"), ("#6", 32, "#36", "0.1065"),
    ("#8", 32, "#29", "0.1360"), ("#10", 24, "#25", "0.1495"), ("#12", 24, "#16", "0.1770"),
    ("1/4", 20, "#7", "0.2010"), ("5/16", 18, "F", "0.2570"), ("3/8", 16, "5/16 in", "5/16"),
    ("7/16", 14, "U", "0.3680"), ("1/2", 13, "27/64 in", "27/64"), ("9/16", 12, "31/64 in", "31/64"),
    ("5/8", 11, "17/32 in", "17/32"), ("3/4", 10, "21/32 in", "21/32"), ("7/8", 9, "49/64 in", "49/64"),
    ("1", 8, "7/8 in", "7/8"), ("1-1/8", 7, "63/64 in", "63/64"), ("1-1/4", 7, "1-7/64 in", "71/64"),
    ("1-3/8", 6, "1-7/32 in", "39/32"), ("1-1/2", 6, "1-11/32 in", "43/32"),
)  # fmt: skip
_FINE = (
    ("#0", 80, "3/64 in", "3/64"), ("#1", 72, "#53", "0.0595"), ("#2", 64, "#50", "0.0700"),
    ("#3", 56, "#45", "0.0820"), ("#4", 48, "#42", "0.0935"), ("#5", 44, "#37", "0.1040"),
    ("#6", 40, "#33", "0.1130"), ("#8", 36, "#29", "0.1360"), ("#10", 32, "#21", "0.1590"),
    ("#12", 28, "#14", "0.1820"), ("1/4", 28, "#3", "0.2130"), ("5/16", 24, "I", "0.2720"),
    ("3/8", 24, "Q", "0.3320"), ("7/16", 20, "25/64 in", "25/64"), ("1/2", 20, "29/64 in", "29/64"),
    ("9/16", 18, "33/64 in", "33/64"), ("5/8", 18, "37/64 in", "37/64"), ("3/4", 16, "11/16 in", "11/16"),
    ("7/8", 14, "13/16 in", "13/16"), ("1", 12, "59/64 in", "59/64"), ("1-1/8", 12, "1-3/64 in", "67/64"),
    ("1-1/4", 12, "1-11/64 in", "75/64"), ("1-3/8", 12, "1-19/64 in", "83/64"),
    ("1-1/2", 12, "1-27/64 in", "91/64"),
)  # fmt: skip
# Size, threads per inch, outside diameter mm, drill mm.
_PIPE = (
    ("1/8", 28, "9.728", "8.8"), ("1/4", 19, "13.157", "11.8"), ("3/8", 19, "16.662", "15.25"),
    ("1/2", 14, "20.955", "19"), ("5/8", 14, "22.911", "21"), ("3/4", 14, "26.441", "24.5"),
    ("7/8", 14, "30.201", "28.25"), ("1", 11, "33.249", "30.75"), ("1-1/4", 11, "41.910", "39.5"),
    ("1-1/2", 11, "47.803", "45.5"), ("2", 11, "59.614", "57"),
)  # fmt: skip


def _unified_dia(size: str) -> Length:
    """Diameter of a unified thread; a screw number is 0.060 in + 0.013 in a number (ASME B1.1)."""
    if size.startswith("#"):
        return Length(1_524_000 + 330_200 * int(size[1:]))
    whole, _dash, part = size.rpartition("-")
    return Length(25_400_000 * int(whole or 0) + Length.from_inches(part).nm)


@cache
def all_threads() -> dict[str, Thread]:
    """Every thread by its name: coarse ones before fine ones, metric before inch."""
    made = []
    for dia, pitch, drill in _METRIC_COARSE:
        made.append(_metric(f"M{dia}", "metric coarse", dia, pitch, drill))
    for dia, pitch, drill in _METRIC_FINE:
        made.append(_metric(f"M{dia} x {pitch}", "metric fine", dia, pitch, drill))
    tables: tuple[tuple[Series, tuple[tuple[str, int, str, str], ...]], ...] = (
        ("UNC", _COARSE),
        ("UNF", _FINE),
    )
    for series, table in tables:
        for size, per_inch, text, inches in table:
            name, drill_dia = f"{size}-{per_inch} {series}", Length.from_inches(inches)
            made.append(Thread(name, series, _unified_dia(size), 25.4 / per_inch, drill_dia, text))
    for size, per_inch, outside, drill in _PIPE:
        drill_dia = Length.from_mm(drill)
        made.append(
            Thread(f"G {size}", "pipe", Length.from_mm(outside), 25.4 / per_inch, drill_dia, f"{drill} mm")
        )
    return {thread.name: thread for thread in made}


def _metric(name: str, series: Series, dia: str, pitch: str, drill: str) -> Thread:
    return Thread(name, series, Length.from_mm(dia), float(pitch), Length.from_mm(drill), f"{drill} mm")


_METRIC_TEXT = re.compile(r"m\s*(\d+(?:\.\d+)?)(?:\s*[x×*]\s*(\d*\.?\d+))?", re.IGNORECASE)
_PIPE_TEXT = re.compile(r"(?:g|bspp)\s*(\d+(?:[-\s]\d+/\d+|/\d+)?)", re.IGNORECASE)
_UNIFIED_TEXT = re.compile(
    r"(?P<size>(?:#|no\.?\s*)\d+|\d+(?:[-\s]\d+/\d+|/\d+)?)\s*(?:in|\")?(?:\s*-\s*(?P<pitch>\d+))?"
    r"\s*(?P<series>unc|unf)?",
    re.IGNORECASE,
)


def find_thread(text: str) -> Thread:
    """The thread of a typed text; case, spaces, and x or × do not matter.

    The pitch may be left out for a coarse thread, the series where the pitch determines it.

    Raises:
        InputError: there is no such thread; the message names the nearest.

    A left-hand thread has the diameter, pitch and drill of its right-hand twin, and a die of its own.

    >>> find_thread("M12-LH").name
    'M12 LH'
    >>> find_thread("M8").drill_text, find_thread("1/4-20").drill_text, find_thread("g1/2").drill_text
    ('6.8 mm', '#7', '19 mm')
    """
    typed = " ".join(text.split())
    threads = all_threads()
    hand = next((found for found in _LEFT_HAND.finditer(typed) if found.end() == len(typed)), None)
    if hand is not None:
        right = find_thread(typed[: hand.start()])
        if not right.name.endswith("LH"):
            return replace(right, name=f"{right.name} LH")
    for name in _names(typed):
        if name in threads:
            return threads[name]
    sizes = [name for name in threads if name.rpartition("-")[0] == typed]
    near = " or ".join(map(repr, sizes)) or repr(nearest_word(typed, threads) or "")
    meant = f" Did you mean {near}?" if near != "''" else ""
    raise InputError(f"{typed[:40]!r} is not a thread that is known; expected {EXPECTED_THREAD}.{meant}")


def _names(typed: str) -> list[str]:
    """The usual names of threads that a typed text may mean."""
    if found := _METRIC_TEXT.fullmatch(typed):
        dia, pitch = f"{float(found[1]):g}", found[2]
        fine = [] if pitch is None else [f"M{dia} x {float(pitch):g}"]
        coarse = all_threads().get(f"M{dia}")
        is_coarse = coarse is not None and (pitch is None or float(pitch) == coarse.pitch_mm)
        return [f"M{dia}"] if is_coarse else fine
    if found := _PIPE_TEXT.fullmatch(typed):
        return ["G " + found[1].replace(" ", "-")]
    if found := _UNIFIED_TEXT.fullmatch(typed):
        size = re.sub(r"no\.?\s*", "#", found["size"].lower()).replace(" ", "-")
        series = [found["series"].upper()] if found["series"] else ["UNC", "UNF"]
        if found["pitch"]:
            return [f"{size}-{found['pitch']} {one}" for one in series]
        # "3/8 UNC": the pitch follows from the series; a size alone could be either.
        return [name for name in all_threads() if found["series"] and _is_size(name, size, series[0])]
    return []


def _is_size(name: str, size: str, series: str) -> bool:
    return name.rpartition("-")[0] == size and name.endswith(series)


def threads_drilled(dia: Length) -> tuple[Thread, ...]:
    """Threads that a drill of this diameter serves, the nearest first.

    >>> [thread.name for thread in threads_drilled(Length.from_mm("6.8"))]
    ['M8']
    >>> threads_drilled(Length.from_mm("7.3"))
    ()
    """
    near = max(SAME_DRILL.nm, SAME_DRILL_SHARE * dia.nm)
    found = [thread for thread in all_threads().values() if abs(thread.drill.nm - dia.nm) <= near]
    return tuple(sorted(found, key=lambda thread: abs(thread.drill.nm - dia.nm)))


def thread_of_size(dia: Length) -> Thread | None:
    """The coarse thread of this outside diameter, which may have been typed instead of the drill's.

    >>> thread_of_size(Length.from_mm(8)).name
    'M8'
    """
    for thread in all_threads().values():
        if thread.series in ("metric coarse", "UNC") and abs(thread.dia.nm - dia.nm) <= 10_000:
            return thread
    return None
