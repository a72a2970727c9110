"""Kinds of field (`FieldKind`) that are lengths: one, several, and the ends of a piece.

Each keeps the text as typed beside its value.
"""

import re
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from shopquote.calc.bar.end_words import EXPECTED_END, End, parse_end
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import EXPECTED_LENGTH, Measure, Unit
from shopquote.errors import Misread, TwoReadings
from shopquote.reading import kinds
from shopquote.reading.job_kinds import Asked, FieldKind, as_text, quoted
from shopquote.reading.kinds import Kind
from shopquote.reading.rows import Row, short

# Texts that can stand bare in TOML; TOML allows no leading zeros and no point without digits on both sides.
_PLAIN_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)
_INTEGER = re.compile(r"-?[0-9]{1,12}", re.ASCII)


@dataclass(frozen=True)
class Size(FieldKind):
    """A length above zero, as a `Measure` or None."""

    kind: Kind[Measure] = kinds.MEASURE

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Measure | None:
        """The length; None where an optional one is missing."""
        if default is None and not row.has(key):
            return None
        return row.measure(key, asked.unit, self.kind)

    def toml(self, value: Any) -> str:
        """A bare number where it was typed as one, else text in quotes."""
        return _measure(value)

    def cells(self, value: Any) -> tuple[Any, ...]:
        """A number cell where it shows the same text, so that a spreadsheet can add it up.

        Else a text cell.
        """
        return (None if value is None else _number_or_text(value.text),)

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """The length and, in the column `<key>_text`, the text as typed."""
        text, length = (None, None) if value is None else (value.text, value.length)
        return {key: length, f"{key}_text": text}

    def load(self, key: str, row: Any, unit: Unit) -> Measure | None:
        """The length with its text."""
        length, text = getattr(row, key), getattr(row, f"{key}_text")
        # The stored length counts; the text is not read again, whatever it would mean by today's rules.
        return None if length is None or text is None else Measure(text, length)

    def shown(self, value: Any) -> str:
        """As typed."""
        return "" if value is None else str(value.text)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """The text as typed, and the length beside it."""
        return {
            key: None if value is None else value.text,
            f"{key}_mm": None if value is None else value.length,
        }


@dataclass(frozen=True)
class WeldSize(Size):
    """A weld's size by `kinds.WELD_SIZE`.

    Of a fillet or tack the leg or the throat, of others a plain length.
    """

    kind: Kind[Measure] = kinds.WELD_SIZE

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> Measure | None:
        """The leg's length with the text as typed; a throat or named leg of a groove or plug is a fault."""
        found = super().read(row, key, asked, default)
        weld = str(row.get("kind") or "").strip().lower()
        # Throat and leg are sizes of a fillet's triangle, which grooves and plugs do not have.
        if found is not None and found.text[0] in "az" and weld in ("groove", "plug"):
            told = f"of a {weld} a plain length: a is a fillet's throat, z its leg"
            row.fault(key, short(row.get(key)), told)
        return found


@dataclass(frozen=True)
class Sizes(FieldKind):
    """One to `most` lengths above zero.

    `signed` ones may be zero or negative, as offsets from a centre line.
    """

    most: int
    signed: bool = False

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[Measure, ...]:
        """The lengths; empty where the key is missing.

        Those that cannot be read are left out, with a fault.
        """
        value = row.get(key)
        if value is None:
            return ()
        items = value if isinstance(value, list) else [value]
        if not 1 <= len(items) <= self.most:
            row.fault(key, f"{len(items)} lengths", f"1 to {self.most} lengths, such as [30, 80]")
            return ()
        found = []
        for item in items:
            try:
                found.append(self._measure(item, asked.unit))
            except TwoReadings as error:
                row.fault(key, short(item), error.expected)
            except Misread:
                above = "" if self.signed else " above zero"
                row.fault(key, short(item), f"{EXPECTED_LENGTH},{above} or several such as [30, 80]")
        return tuple(found)

    def _measure(self, value: Any, unit: Unit) -> Measure:
        return (kinds.SIGNED_MEASURE if self.signed else kinds.MEASURE).read(value, kinds.Notation(unit))

    def toml(self, value: Any) -> str:
        """One length, or a TOML list."""
        texts = [_measure(item) for item in value]
        return texts[0] if len(texts) == 1 else f"[{', '.join(texts)}]"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """One cell with the lengths separated by semicolons; a single length as `Size` writes it."""
        return (_number_or_text(value[0].text) if len(value) == 1 else self.shown(value) or None,)

    def typed(self, cells: Sequence[Any]) -> Any:
        """The texts of the lengths in one cell, as a list; a single one by itself."""
        text = as_text(cells[0])
        if not isinstance(text, str):
            return text
        # A comma separates lengths only before white space: 12,5 is one length with decimals.
        words = [word.strip() for word in re.split(r";|,(?=\s)", text)]
        return words[0] if len(words) == 1 else words

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """A JSON list of the texts as typed."""
        return {key: [item.text for item in value]}

    def load(self, key: str, row: Any, unit: Unit) -> tuple[Measure, ...]:
        """The lengths, read again from their texts."""
        return tuple(kinds.signed_on_file(text, unit) for text in getattr(row, key))

    def shown(self, value: Any) -> str:
        """As typed, separated by semicolons."""
        return "; ".join(item.text for item in value)

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """The texts as typed, and the lengths beside them."""
        return {key: [item.text for item in value], f"{key}_mm": [item.length for item in value]}


@dataclass(frozen=True)
class Ends(FieldKind):
    """The first and last end of a piece: two cells of a workbook, a list of two in a job file."""

    def read(self, row: Row, key: str, asked: Asked, default: Any) -> tuple[End, End]:
        """First and last end; square where the key is missing or after a fault."""
        value = row.get(key)
        if value is None:
            return (End(), End())
        try:
            first, last = value if isinstance(value, list) and len(value) == 2 else ("", "")
            notation = kinds.Notation(asked.unit)
            return kinds.END.read(first, notation), kinds.END.read(last, notation)
        except Misread as error:
            why = f". {error.told}" if first and error.told else ""
            row.fault(key, short(value), f"two ends, each such as {EXPECTED_END}{why}", error.nearest)
        return (End(), End())

    def toml(self, value: Any) -> str:
        """A list of two."""
        return f"[{', '.join(quoted(str(end)) for end in value)}]"

    def cells(self, value: Any) -> tuple[Any, ...]:
        """First and last end."""
        return tuple(str(end) for end in value)

    def typed(self, cells: Sequence[Any]) -> Any:
        """A list of two texts; a blank end is square."""
        if all(cell is None for cell in cells):
            return None
        return ["square" if cell is None else as_text(cell) for cell in cells]

    def store(self, key: str, value: Any) -> dict[str, Any]:
        """Kind, mitre angle and further work of each end, in columns of their own."""
        held: dict[str, Any] = {}
        for name, end in zip(("end_a", "end_b"), value, strict=True):
            work = " + ".join(map(str, end.forms))
            held |= {name: end.kind, f"{name}_mitre": end.mitre, f"{name}_work": work}
        return held

    def load(self, key: str, row: Any, unit: Unit) -> tuple[End, End]:
        """First and last end, made from their columns."""
        first, last = (
            End(
                getattr(row, name),
                getattr(row, f"{name}_mitre"),
                parse_end(work, unit).forms if (work := getattr(row, f"{name}_work")) else (),
            )
            for name in ("end_a", "end_b")
        )
        return first, last

    def shown(self, value: Any) -> str:
        """First and last end."""
        return " and ".join(map(str, value))

    def json(self, key: str, value: Any) -> dict[str, Any]:
        """A list of two texts."""
        return {key: [str(end) for end in value]}


def _measure(measure: Measure) -> str:
    return measure.text if _PLAIN_NUMBER.fullmatch(measure.text) else quoted(measure.text)


def _number_or_text(text: str) -> int | float | str:
    if _INTEGER.fullmatch(text) and str(int(text)) == text:
        return int(text)
    with suppress(ValueError):
        # Only if it shows the same digits: 12.50 as a number cell would come back as 12.5.
        if repr(float(text)) == text:
            return float(text)
    return text
