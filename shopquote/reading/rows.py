"""One row of a job's tables while it is read: values by key, and a fault for each mistake.

A row comes from a table of a TOML file, or from a tab of a workbook or form (`PlacedRow`).
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Protocol, TypeVar, cast

from shopquote.calc.units import EXPECTED_LENGTH, Measure, Unit
from shopquote.errors import Fault, InputError, Misread, OtherCurrency, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.kinds import Kind, Notation

# Reading stops at so many mistakes: such a file is no job, and a person reads only the first.
MOST_FAULTS = 1_000
LONGEST_TEXT = 200
# The notation of a job file's values other than amounts, whose currency the caller gives.
PORTABLE = Notation(portable=True)

Word = TypeVar("Word", bound=str)
Value = TypeVar("Value")


class HasText(Protocol):
    """A value with its text, such as a `Section` or a `Typed`."""

    @property
    def text(self) -> str:
        """As typed, or spelled out."""
        ...


Meant = TypeVar("Meant", bound=HasText)


class PlacedRow(dict[str, object]):
    """A row's values by key, with its place in a workbook or form and the headings by key.

    Mistakes at keys in `told` were reported already; no second fault is noted for them.
    """

    def __init__(
        self,
        values: Mapping[str, object],
        table: str,
        place: str,
        headings: Mapping[str, str],
        told: Iterable[str] = (),
    ) -> None:
        super().__init__(values)
        self.table = table
        self.place = place
        self.headings = headings
        self.told = frozenset(told)


class Row:
    """One row while it is read: values are asked for by key, and mistakes are added to `faults`.

    `values` is what the file has in the row's place; anything but a mapping is itself a fault, as is a key
    that is not in `keys`.
    """

    def __init__(
        self, faults: list[Fault], file: str, table: str, mark: str, values: object, keys: Sequence[str]
    ) -> None:
        self._faults, self._file = faults, file
        self._table, self._mark = table, mark
        self._headings: Mapping[str, str] = {}
        self._told: frozenset[str] = frozenset()
        if isinstance(values, PlacedRow):
            self._table, self._mark, self._headings = values.table, values.place, values.headings
            self._told = values.told
        self._values: Mapping[str, object] = values if isinstance(values, Mapping) else {}
        self._is_table = isinstance(values, Mapping)
        if isinstance(values, Mapping):
            for key in values:
                # Not ignored: a misspelt key would lose its value without a word.
                if key not in keys:
                    self.fault(key, short(key), f"one of the keys {', '.join(keys)}", nearest_word(key, keys))
        else:
            self.fault("", short(values), f"one table with the keys {', '.join(keys)}")

    def has(self, key: str) -> bool:
        """Whether the key has a value, be it one that was reported already."""
        return self._values.get(key) is not None or key in self._told

    def get(self, key: str) -> object:
        """The value as found in the file, or None."""
        return self._values.get(key)

    def fault(
        self, key: str, found: str, expected: str, nearest: str | None = None, message: str | None = None
    ) -> None:
        """Note one mistake in this row; the arguments are those of `Fault`.

        Raises:
            InputError: there are `MOST_FAULTS` mistakes already.
        """
        if key in self._told:
            return
        if len(self._faults) >= MOST_FAULTS:
            raise InputError.from_faults(self._faults, after="", cut_short=True)
        heading = self._headings.get(key, key)
        self._faults.append(
            Fault(self._file, self._table, self._mark, heading, found, expected, nearest, message)
        )

    def missing(self, key: str, expected: str) -> None:
        """Note that a needed key is missing, unless the row itself was a fault."""
        if self._is_table:
            self.fault(key, "nothing", expected)

    def text(self, key: str, kind: Kind[str], default: str | None = None, *, expected: str = "") -> str:
        """A text by its kind. Without a default it is needed; with one, white space alone gives the default.

        A TOML number where a text is expected is a fault.
        """
        value, expected = self.get(key), expected or kind.expected
        if value is None or (default is not None and isinstance(value, str) and not value.strip()):
            if default is None:
                self.missing(key, expected)
            return default or ""
        if not isinstance(value, str):
            self.fault(key, short(value), f'{expected}, in "quotes"')
            return ""
        try:
            return kind.read(value, Notation())
        except Misread as error:
            # Of a text that is too long its length is reported, not its beginning.
            found = error.found if error.found.endswith(" characters") else short(value)
            self.fault(key, found, expected if error.expected == kind.expected else error.expected)
            return ""

    def meant(self, key: str, text: str, kind: Kind[Meant], unit: Unit) -> str:
        """A text checked by `kind` and kept as text, since it is read again later.

        Short forms are spelled out.
        """
        try:
            return kind.read(text, Notation(unit)).text
        except Misread as error:
            self.fault(key, short(text), error.expected, error.nearest, message=error.message)
            return text

    def choice(self, key: str, words: Sequence[Word], default: Word | None = None) -> Word:
        """One of a few fixed words."""
        value = self.get(key)
        expected = f"one of {', '.join(words)}"
        if value is None:
            if default is None:
                self.missing(key, expected)
            return default or words[0]
        if not isinstance(value, str):
            self.fault(key, short(value), f'{expected}, in "quotes"')
            return words[0]
        found = self.value(key, kinds.word(words))
        return words[0] if found is None else cast(Word, found)

    def figure(
        self,
        key: str,
        kind: Kind[Value],
        expected: str,
        default: Value | None,
        instead: Value,
        notation: Notation,
    ) -> Value:
        """A number by its kind, with the words `expected` for faults.

        The default, None where the number is needed, is for a missing one. `instead` stands in after a fault,
        so that the rest of the file can be checked.
        """
        if self.get(key) is None:
            if default is None:
                self.missing(key, expected)
            return instead if default is None else default
        found = self.value(key, kind, expected, notation)
        return instead if found is None else found

    def flag(self, key: str) -> bool:
        """True or false; false where the key is missing."""
        value = self.get(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        # Only workbooks and forms have headings, and their cells say yes and no.
        self.fault(key, short(value), "yes or no" if self._headings else "true or false")
        return False

    def value(
        self, key: str, kind: Kind[Value], expected: str = "", notation: Notation = PORTABLE
    ) -> Value | None:
        """A value by its kind, or None after a fault; `expected` replaces the kind's own words in it."""
        value = self.get(key)
        try:
            return kind.read(value, notation)
        except (TwoReadings, OtherCurrency) as error:
            # These name the two readings or currencies, which `expected` does not know.
            self.fault(key, short(value), error.expected)
        except Misread as error:
            self.fault(key, short(value), expected or error.expected, error.nearest)
        return None

    def measure(self, key: str, unit: Unit, kind: Kind[Measure] = kinds.MEASURE) -> Measure:
        """A needed length above zero by its kind; a bare number is in `unit`. After a fault 1 stands in."""
        value = self.get(key)
        if value is None:
            self.missing(key, EXPECTED_LENGTH)
        else:
            try:
                measure = kind.read(value, Notation(unit))
            except TwoReadings as error:
                self.fault(key, short(value), error.expected)
            except Misread as error:
                # The kind names its limit with a unit, "above 0 mm", which is wrong in a job in inches.
                above = error.expected.startswith("a length above 0")
                found = error.found if isinstance(value, date) else short(value)
                self.fault(key, found, "a length above zero" if above else error.expected)
            else:
                return measure
        return Measure.parse("1", unit)


def short(value: object) -> str:
    """A TOML or cell value as a fault shows it: on one line, at most 70 characters."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**30 else "a number of over 30 digits"
    if isinstance(value, list | tuple):
        text = f"[{', '.join(short(item) for item in value[:8])}{', ...' if len(value) > 8 else ''}]"
    elif isinstance(value, str):
        text = repr(value)
    else:
        text = str(value)
    return text if len(text) <= 70 else text[:67] + "..."
