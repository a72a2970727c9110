"""Reads the shape of a bent part, such as "leg 300; bend 90 r 24; leg 600", into its words.

Bare lengths are in the job's unit, angles in degrees, turns in whole revolutions.
Begin at `parse_shape`; to add a word, give it a dataclass in `shape_words`, a line in
`_FORMS`, and its geometry in `word_runs`.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal

from shopquote.calc.bar.figures import degrees, figure
from shopquote.calc.bar.shape_words import (
    AT_ENDS,
    SIZES_OF,
    Arc,
    Bend,
    Collar,
    Corner,
    Ellipse,
    Eye,
    Fold,
    Helix,
    Hook,
    Joggle,
    Leg,
    Ring,
    Scroll,
    SizeOf,
    Taper,
    Turn,
    Twist,
    Volute,
    Word,
)
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import FRACTION_SIGNS, Measure, Unit, spread_unit
from shopquote.errors import Fault, InputError, Misread, TwoReadings, nearest_word

# Limits on what is read, so that a faulty file gives a message rather than a long wait.
MOST_WORDS = 400
LONGEST_SHAPE_TEXT = 20_000
LARGEST_ANGLE = 360.0
MOST_TURNS = 200.0
MOST_HITS = 10_000


@dataclass(frozen=True, slots=True)
class _Slot:
    """One value of a word: the keyword before it ("" for the first) and the kind of value."""

    keyword: str
    name: str
    kind: Literal["length", "length or 0", "angle", "turns", "signed turns", "count"]
    optional: bool = False


@dataclass(frozen=True, slots=True)
class _Form:
    make: type[Any]
    typed: str
    slots: tuple[_Slot, ...]
    flags: Mapping[str, tuple[str, Any]]


_OF: dict[str, tuple[str, Any]] = {word: ("of", word) for word in SIZES_OF}

_BACK: dict[str, tuple[str, Any]] = {"back": ("back", True)}

_FORMS: dict[str, _Form] = {
    "leg": _Form(Leg, "leg L", (_Slot("", "length", "length"),), {}),
    "bend": _Form(Bend, "bend ANGLE r R", (_Slot("", "angle", "angle"), _Slot("r", "radius", "length")), {}),
    "arc": _Form(
        Arc,
        "arc ANGLE r R",
        (
            _Slot("", "angle", "angle"),
            _Slot("r", "radius", "length"),
            _Slot("hits", "hits", "count", optional=True),
            _Slot("gap", "gap", "length", optional=True),
        ),
        {"rolled": ("rolled", True)},
    ),
    "turn": _Form(Turn, "turn ANGLE", (_Slot("", "angle", "angle"),), {}),
    "ring": _Form(
        Ring,
        "ring d D",
        (_Slot("d", "diameter", "length"), _Slot("lap", "lap", "length", optional=True)),
        _OF,
    ),
    "helix": _Form(
        Helix,
        "helix d D pitch P turns N",
        (
            _Slot("d", "diameter", "length"),
            _Slot("pitch", "pitch", "length"),
            _Slot("turns", "turns", "turns"),
        ),
        {**_OF, "wound": ("wound", True), "closed": ("closed", True)},
    ),
    "scroll": _Form(
        Scroll,
        "scroll from R1 to R2 turns N",
        (
            _Slot("from", "start", "length"),
            _Slot("to", "finish", "length"),
            _Slot("turns", "turns", "signed turns"),
        ),
        _OF,
    ),
    "volute": _Form(
        Volute,
        "volute from R1 to R2 turns N",
        (
            _Slot("from", "start", "length"),
            _Slot("to", "finish", "length"),
            _Slot("turns", "turns", "signed turns"),
        ),
        _OF,
    ),
    "collar": _Form(
        Collar, "collar W x H", (_Slot("", "width", "length"), _Slot("x", "height", "length")), {}
    ),
    "twist": _Form(
        Twist,
        "twist TURNS over L",
        (_Slot("", "turns", "signed turns"), _Slot("over", "length", "length")),
        {},
    ),
    "taper": _Form(
        Taper, "taper L to D", (_Slot("", "length", "length"), _Slot("to", "tip", "length or 0")), {}
    ),
    "eye": _Form(
        Eye, "eye d D", (_Slot("d", "diameter", "length"),), {"centred": ("centred", True), **_BACK}
    ),
    "hook": _Form(
        Hook,
        "hook d D tip L",
        (_Slot("d", "diameter", "length"), _Slot("tip", "tip", "length", optional=True)),
        _BACK,
    ),
    "corner": _Form(Corner, "corner ANGLE", (_Slot("", "angle", "angle"),), {}),
    "fold": _Form(Fold, "fold ANGLE", (_Slot("", "angle", "angle"),), {}),
    "joggle": _Form(
        Joggle,
        "joggle D over L",
        (
            _Slot("", "offset", "length"),
            _Slot("over", "length", "length"),
            _Slot("r", "radius", "length", optional=True),
        ),
        _BACK,
    ),
    "ellipse": _Form(
        Ellipse, "ellipse D1 x D2", (_Slot("", "along", "length"), _Slot("x", "across", "length")), _OF
    ),
}

SHAPE_WORDS: tuple[str, ...] = tuple(_FORMS)
EXPECTED_SHAPE = "; ".join(form.typed for form in _FORMS.values())

# Other words that are read, with the word or keyword that they stand for.
_OTHER_WORDS = {
    "radius": "r", "rad": "r", "dia": "d", "diameter": "d", "straight": "leg", "length": "leg",
    "rotate": "turn", "spiral": "scroll", "coil": "helix", "circle": "ring", "point": "taper",
    "curve": "arc", "center": "centre", "loop": "eye", "crank": "joggle", "offset": "joggle",
    "oval": "ellipse", "notch": "fold", "mitre": "fold", "centered": "centred", "wrap": "collar",
}  # fmt: skip
# To what sizes are measured that do not say it.
_USUAL_OF: dict[str, SizeOf] = {
    "ring": "inside", "helix": "inside", "scroll": "centre",
    "volute": "centre", "ellipse": "inside",
}  # fmt: skip


def told_in_full(text: str) -> str:
    """A shape as papers show it, where rings, coils and scrolls always say to what they are measured.

    >>> told_in_full("leg 120;  scroll from 60 to 20 turns 1.5; ring d 80 outside")
    'leg 120; scroll from 60 to 20 turns 1.5 centre; ring d 80 outside'
    """
    words = []
    for piece in text.split(";"):
        word = " ".join(piece.split())
        usual = _USUAL_OF.get(word.split(" ")[0].lower())
        said = {*SIZES_OF, "center"} & {part.lower() for part in word.split()}
        words.append(f"{word} {usual}" if usual and not said else word)
    return "; ".join(filter(None, words))


class _WordFault(Exception):
    """A fault of one word: found, expected, nearest; gathered by `parse_shape`."""

    def __init__(self, found: str, expected: str, nearest: str | None = None) -> None:
        super().__init__(found)
        self.found, self.expected, self.nearest = found, expected, nearest


def parse_shape(text: str, unit: Unit) -> tuple[Word, ...]:
    """Read a shape; bare lengths are in `unit`.

    Raises:
        InputError: lists every word that cannot be read, with its number, what was found and expected, and
            the nearest right word; also in `faults`.

    >>> [type(word).__name__ for word in parse_shape("leg 300; bend -90 r 24; leg 5 in", "mm")]
    ['Leg', 'Bend', 'Leg']
    """
    if len(text) > LONGEST_SHAPE_TEXT:
        raise _shape_error([_fault(0, f"{len(text)} characters", f"at most {LONGEST_SHAPE_TEXT}")])
    pieces = text.split(";")
    if pieces and not pieces[-1].strip():
        pieces.pop()
    if not pieces:
        raise _shape_error([_fault(0, "nothing", EXPECTED_SHAPE)])
    if len(pieces) > MOST_WORDS:
        raise _shape_error([_fault(0, f"{len(pieces)} words", f"at most {MOST_WORDS}")])
    words: list[Word] = []
    faults: list[Fault] = []
    for number, piece in enumerate(pieces, start=1):
        try:
            words.append(_parse_word(piece, unit))
        except _WordFault as fault:
            faults.append(_fault(number, fault.found, fault.expected, fault.nearest))
    faults.extend(_order_faults(words) if not faults else [])
    if faults:
        raise _shape_error(faults)
    return tuple(words)


def _parse_word(piece: str, unit: Unit) -> Word:
    match = re.match(r"\s*([^\W\d_]+)(.*)", piece, re.DOTALL)
    if match is None:
        found = repr(_short(piece.strip())) if piece.strip() else "nothing"
        raise _WordFault(found, "one of " + ", ".join(SHAPE_WORDS))
    name, rest = match[1].lower(), match[2]
    form = _FORMS.get(name)
    if form is None:
        near = _OTHER_WORDS.get(name) or nearest_word(name, SHAPE_WORDS)
        raise _WordFault(repr(_short(match[1])), "one of " + ", ".join(SHAPE_WORDS), near)
    flags, rest = _take_flags(form, rest)
    typed = _split_slots(form, rest, piece)
    if "x" in typed:  # a unit behind two sizes joined by "x" is that of both, as for bars: "ellipse 4 x 2 in"
        typed[""], typed["x"] = spread_unit((typed[""], typed["x"]))
    values: dict[str, Any] = {
        slot.name: _read(slot, typed[slot.keyword], unit) for slot in form.slots if slot.keyword in typed
    }
    made: Word = form.make(**values, **flags)
    return made


def _take_flags(form: _Form, rest: str) -> tuple[dict[str, Any], str]:
    flags: dict[str, Any] = {}
    for word, (name, value) in form.flags.items():
        shorter = re.sub(rf"(?<![A-Za-z]){word}(?![A-Za-z])", " ", rest, count=1, flags=re.IGNORECASE)
        if shorter != rest:
            if name in flags:
                raise _WordFault(f"{word!r} beside {flags[name]!r}", f"{form.typed!r} and one of them")
            flags[name], rest = value, shorter
    return flags, rest


def _split_slots(form: _Form, rest: str, piece: str) -> dict[str, str]:
    """Text of each value by its keyword, checked for order, repeated and unknown keywords."""
    keywords = [slot.keyword for slot in form.slots if slot.keyword]
    _refuse_strangers(form, rest, keywords)
    typed: dict[str, str] = {}
    parts = (
        re.split(rf"(?<![A-Za-z])({'|'.join(keywords)})(?![A-Za-z])", rest, flags=re.IGNORECASE)
        if keywords
        else [rest]
    )
    first = parts[0].strip()
    if form.slots[0].keyword == "":
        typed[""] = first
    elif first:
        raise _WordFault(repr(_short(piece.strip())), repr(form.typed))
    for keyword, value in zip(parts[1::2], parts[2::2], strict=True):
        if keyword.lower() in typed:
            raise _WordFault(f"{keyword.lower()!r} twice", repr(form.typed))
        typed[keyword.lower()] = value.strip()
    for slot in form.slots:
        if not typed.get(slot.keyword, "" if not slot.optional else "-"):
            raise _WordFault(repr(_short(piece.strip())), repr(form.typed))
    return typed


def _refuse_strangers(form: _Form, rest: str, keywords: Sequence[str]) -> None:
    known = {*keywords, *form.flags}
    units = {"mm", "cm", "m", "in", "inch", "inches", "ft", "foot", "feet", "deg", "degrees", "degree", "x"}
    for word in re.findall(rf"[^\W\d_{FRACTION_SIGNS}]+", rest):
        lowered = word.lower()
        if lowered not in known and lowered not in units:
            choices = [*known]
            near = _OTHER_WORDS.get(lowered)
            near = near if near in known else nearest_word(lowered, choices) if choices else None
            expected = repr(form.typed) if near else f"{form.typed!r}, its sizes in figures"
            raise _WordFault(repr(_short(word)), expected, near)


def _read(slot: _Slot, text: str, unit: Unit) -> Any:
    if slot.kind in ("length", "length or 0"):
        return _read_length(text, unit, zero_allowed=slot.kind == "length or 0")
    if slot.kind == "angle":
        return _read_angle(text)
    if slot.kind == "count":
        if not re.fullmatch(r"[0-9]{1,9}", text) or not 0 < int(text) <= MOST_HITS:
            raise _WordFault(repr(_short(text)), f"a whole number of hits, 1 to {MOST_HITS}")
        return int(text)
    turns = _read_number(figure, text, "a number of turns such as 2.5")
    lowest, which = (0.0, "above 0") if slot.kind == "turns" else (-MOST_TURNS, "other than 0")
    if turns == 0 or not lowest <= turns <= MOST_TURNS:
        raise _WordFault(f"{_short(text)!r} turns", f"turns {which}, at most {MOST_TURNS:g}")
    return turns


def _read_length(text: str, unit: Unit, *, zero_allowed: bool) -> Measure:
    if re.match(r"[-−–]\s*[\d.]", text):
        raise _WordFault(repr(_short(text)), "a length of 0 or more" if zero_allowed else "a length above 0")
    try:
        measure = Measure.parse(text, unit)
    except Misread as fault:
        raise _WordFault(repr(_short(text)), fault.expected) from None
    if not measure.length and not zero_allowed:
        raise _WordFault(repr(_short(text)), "a length above 0")
    return measure


def _read_angle(text: str) -> float:
    angle = _read_number(degrees, text, "an angle in degrees such as 90 or -45")
    if angle == 0 or abs(angle) > LARGEST_ANGLE:
        raise _WordFault(
            f"{_short(text)!r} degrees",
            f"an angle other than 0, from -{LARGEST_ANGLE:g} to {LARGEST_ANGLE:g} degrees",
        )
    return angle


def _read_number(read: Callable[[str], Decimal], text: str, expected: str) -> float:
    try:
        return float(read(text))
    except Misread as fault:
        told = fault.expected if isinstance(fault, TwoReadings) else expected
        raise _WordFault(repr(_short(text)), told) from None


def _order_faults(words: Sequence[Word]) -> list[Fault]:
    """Faults of words in places where they cannot be made."""
    faults = []
    last = len(words)
    if all(isinstance(word, Turn) for word in words):
        faults.append(_fault(1, "only turns", "a bar to turn: at least one leg, bend or curve"))
    for number, word in enumerate(words, start=1):
        for kind, name, expected in AT_ENDS:
            if isinstance(word, kind) and number not in (1, last):
                faults.append(_fault(number, f"{name!r} between other words", expected))
        faults += _word_faults(number, word, last)
    return faults


def _word_faults(number: int, word: Word, last: int) -> list[Fault]:
    """Faults of one word that do not depend on its neighbours."""
    faults = []
    if isinstance(word, Collar) and last > 1:
        faults.append(_fault(number, "'collar' beside other words", "a collar alone"))
    if isinstance(word, Helix) and word.closed and not word.wound:
        faults.append(_fault(number, "'closed' without 'wound'", "helix ... wound closed"))
    if isinstance(word, Fold) and not 0 < word.angle <= 120:
        faults.append(_fault(number, f"fold {word.angle:g}", "a fold above 0, at most 120 degrees"))
    if isinstance(word, Corner) and abs(word.angle) > 150:
        wanted = "at most 150 degrees; fold it back over a small radius (bend), or mitre and weld it"
        faults.append(_fault(number, f"corner {word.angle:g}", wanted))
    return faults


def _fault(number: int, found: str, expected: str, nearest: str | None = None) -> Fault:
    return Fault("", "part", "", f"shape, word {number}" if number else "shape", found, expected, nearest)


def _shape_error(faults: Sequence[Fault]) -> InputError:
    lines = []
    for fault in faults[:20]:
        text = f"{fault.key[:1].upper()}{fault.key[1:]}: found {fault.found}, expected {fault.expected}"
        lines.append(f"{text}; did you mean {fault.nearest!r}?" if fault.nearest else f"{text}.")
    if len(faults) > 20:
        lines.append(f"... and {len(faults) - 20} more.")
    return InputError("\n".join(lines), faults=faults)


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."
