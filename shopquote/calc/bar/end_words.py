"""The words that describe an end: how it is sawn, and what else is done to it, in order.

`parse_end` reads "mitre 45", "thread M12 x 40 + chamfer 2"; `str(End)` gives text that reads back to an equal
end. The effect of each word on length and metal is in `end_work`.
"""

from collections.abc import Callable
from decimal import Decimal
from typing import Literal

from shopquote.calc.bar.figures import degrees
from shopquote.calc.bar.threads import find_thread
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure, Unit, spread_unit
from shopquote.errors import InputError, Misread, nearest_word

EndKind = Literal["square", "mitre"]
EndWord = Literal[
    "thread",
    "turn",
    "chamfer",
    "round",
    "point",
    "saddle",
    "tenon",
    "flatten",
    "spread",
    "head",
    "fishtail",
    "scarf",
]
# Decimals of a mitre's angle; a thousandth of a degree moves the long point of a bar by some micrometres.
ANGLE_DIGITS = 3
MOST_FORMS = 6  # at one end

# Syntax of each word. Sizes joined by "x" are a cross size and a length; behind "to" is the size that is
# left.
FORMS: dict[str, str] = {
    "square": "square", "mitre": "mitre ANGLE", "thread": "thread THREAD x LENGTH",
    "turn": "turn DIA x LENGTH",
    "chamfer": "chamfer SIZE", "round": "round",
    "point": "point LENGTH to SIZE or WIDTH x THICKNESS", "saddle": "saddle DIA",
    "tenon": "tenon DIA x LENGTH", "flatten": "flatten LENGTH to THICKNESS",
    "spread": "spread LENGTH to WIDTH",
    "head": "head DIA x HEIGHT", "fishtail": "fishtail", "scarf": "scarf",
}  # fmt: skip
EXPECTED_END = '"square", "mitre 45", "thread M12 x 40", "turn 16 x 30 + chamfer 2"'
_JOIN = {
    "turn": " x ", "tenon": " x ", "head": " x ", "point": " to ", "flatten": " to ", "spread": " to ",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class EndForm:
    """One operation on an end besides sawing it.

    `sizes` are in the order of `FORMS`; of a thread its length, with `thread` as its name.
    """

    word: EndWord
    sizes: tuple[Measure, ...] = ()
    thread: str = ""

    def __str__(self) -> str:
        texts = [size.text for size in self.sizes]
        if self.word == "thread":
            return f"thread {self.thread} x {texts[0]}"
        if len(texts) == 3:  # a point of a width and a thickness
            texts = [texts[0], " x ".join(texts[1:])]
        return f"{self.word} {_JOIN.get(self.word, ' ').join(texts)}".strip()

    def mm(self, place: int) -> float:
        """One of its sizes in mm, by its index."""
        return self.sizes[place].length.mm_float


@dataclass(frozen=True, slots=True)
class End:
    """How one end of a piece is sawn, and what else is done to it, in order.

    `mitre` is the angle off square in degrees. "mitre 45" at both ends has the long points on one side, as in
    a frame; "mitre 45" with "mitre -45" has parallel cuts.
    """

    kind: EndKind = "square"
    mitre: Decimal = Decimal(0)
    forms: tuple[EndForm, ...] = ()

    def __str__(self) -> str:
        sawn = [] if self.kind == "square" else [f"mitre {self.mitre.normalize():f}"]
        return " + ".join([*sawn, *map(str, self.forms)]) or "square"

    def has(self, word: EndWord) -> bool:
        """Whether an operation is done to the end."""
        return any(form.word == word for form in self.forms)


def parse_end(text: str, unit: Unit) -> End:
    """Read an end; bare numbers are lengths in `unit`.

    Raises:
        InputError: a word is none of `FORMS`, a size is no length, or a mitre is not within 90 degrees.

    >>> str(parse_end("Thread M12 x 40+chamfer 2", "mm"))
    'thread M12 x 40 + chamfer 2'
    """
    kind: EndKind = "square"
    mitre = Decimal(0)
    forms: list[EndForm] = []
    for number, piece in enumerate(text.split("+")):
        words = piece.split()
        word = words[0].lower() if words else ""
        if word == "square" and len(words) == 1 and number == 0:
            continue
        if word == "mitre" and number == 0:
            kind, mitre = "mitre", _mitre(" ".join(words[1:]), text)
            continue
        if word in ("square", "mitre"):
            raise InputError(f"{word!r} comes first, before what else is done to the end.")
        forms.append(_form(word, " ".join(words[1:]), piece.strip(), unit))
    if len(forms) > MOST_FORMS:
        raise InputError(f"{len(forms)} things are done to one end; expected at most {MOST_FORMS}.")
    return End(kind, mitre, tuple(forms))


def nearest_end(text: str) -> str | None:
    """The syntax of the word nearest to a misspelt first word, or None."""
    words = text.split()
    near = nearest_word(words[0], FORMS) if words else None
    return None if near is None or near == words[0].lower() else " ".join((near, *words[1:]))


def _mitre(rest: str, text: str) -> Decimal:
    try:
        value = degrees(rest)
    except Misread:
        value = Decimal(0)
    decimals = f"{value:f}".partition(".")[2].rstrip("0")
    if not 0 < abs(value) < 90 or len(decimals) > ANGLE_DIGITS:
        raise InputError(f"{text!r} is no mitre; its angle off square is above 0 and below 90 degrees.")
    return value


def _form(word: str, rest: str, piece: str, unit: Unit) -> EndForm:
    reader = _READERS.get(word)
    if reader is None:
        near = nearest_word(word, FORMS)
        meant = f" Did you mean {near!r}?" if near else ""
        raise InputError(f"{piece!r} is nothing done to an end; expected {', '.join(FORMS.values())}.{meant}")
    try:
        return reader(rest, unit)
    except (InputError, ValueError) as error:
        told = f" {error.message}" if isinstance(error, InputError) else ""
        raise InputError(f"{piece!r} is not understood; expected {FORMS[word]}.{told}") from error


def _thread(rest: str, unit: Unit) -> EndForm:
    # The last "x" comes before the length: M12 x 1.25 x 40 is a fine thread 40 long.
    name, by, length = rest.rpartition("x")
    if not by or not name.strip():
        raise ValueError
    find_thread(name)
    return EndForm("thread", (_size(length, unit),), " ".join(name.split()))


def _plain(word: EndWord) -> Callable[[str, Unit], EndForm]:
    def read(rest: str, unit: Unit) -> EndForm:
        if rest:
            raise ValueError
        return EndForm(word)

    return read


def _one(word: EndWord) -> Callable[[str, Unit], EndForm]:
    def read(rest: str, unit: Unit) -> EndForm:
        return EndForm(word, (_size(rest, unit),))

    return read


def _two(word: EndWord) -> Callable[[str, Unit], EndForm]:
    def read(rest: str, unit: Unit) -> EndForm:
        first, between, second = rest.partition(_JOIN[word].strip())
        if not between:
            raise ValueError
        # A unit behind two sizes joined by "x" is that of both, as for bars: "turn 5/8 x 1 in".
        texts = spread_unit((first, second)) if between == "x" else (first, second)
        return EndForm(word, tuple(_size(text, unit) for text in texts))

    return read


def _point(rest: str, unit: Unit) -> EndForm:
    length, between, tip = rest.partition("to")
    width, by, thickness = tip.partition("x")
    if not between:
        raise ValueError
    if not by:
        return EndForm("point", (_size(length, unit), _size(tip, unit, least=0)))
    faces = (_size(face, unit) for face in spread_unit((width, thickness)))
    return EndForm("point", (_size(length, unit), *faces))


def _size(text: str, unit: Unit, least: int = 1) -> Measure:
    size = Measure.parse(text, unit)
    if size.length.nm < least:
        raise InputError(f"{text.strip()!r} must be above zero.")
    return size


_READERS: dict[str, Callable[[str, Unit], EndForm]] = {
    "thread": _thread,
    "round": _plain("round"),
    "fishtail": _plain("fishtail"),
    "scarf": _plain("scarf"),
    "point": _point,
    **{word: _one(word) for word in ("chamfer", "saddle")},
    **{word: _two(word) for word in ("turn", "tenon", "head", "flatten", "spread")},
}
