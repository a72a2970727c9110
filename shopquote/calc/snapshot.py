"""Records that never change, such as issued quotes, orders and closings: dataclasses as JSON text and back.

Decimal and dates become text, `Length` whole nanometres. On reading, a field that the text lacks takes its
default and one that the class no longer has is ignored, so that a newer program reads old snapshots.
Begin at `Snapshot`.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from hashlib import sha256
from types import NoneType, UnionType
from typing import Any, Generic, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length
from shopquote.errors import InputError

Made = TypeVar("Made")


FORMAT = 1


def seal_of(text: str) -> str:
    """The SHA-256 of a stored text in hexadecimal, kept beside it so that a later change is noticed."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


Content = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Snapshot(Generic[Made]):
    """How one class is stored as text: `{"format": 1, "order": {...}}`.

    Attributes:
        word: the key of the content, also used in messages.
        made: the class.
        older: translates the content of a text from before `format` was written into today's fields.
        asides: fields that no paper prints, with a value for each to use where the stored one cannot be read.
    """

    word: str
    made: type[Made]
    older: Callable[[Content], Content] | None = None
    asides: Content | None = None

    def text(self, value: Made) -> str:
        """The value as JSON text; equal values give equal texts, so that seals can be compared."""
        # No spaces, and one fixed form, for the seal is made of this text.
        return json.dumps({"format": FORMAT, self.word: to_plain(value)}, separators=(",", ":"))

    def read(self, text: str) -> Made:
        """The value back from its text, to the cent.

        Raises:
            InputError: the text is not a snapshot of this kind, of a format that is known.
        """
        content = self._content(text)
        try:
            return from_plain(self.made, content)
        except InputError:
            if not self.asides:
                raise
            # What is printed must be readable, even if a field that no paper prints is not.
            return from_plain(self.made, {**content, **self.asides})

    def _content(self, text: str) -> Content:
        try:
            held = json.loads(text)
        except (ValueError, RecursionError) as error:
            # Not JSON, a number of thousands of digits, or lists nested as deep.
            raise InputError(f"A stored {self.word} cannot be read: {error}.") from error
        if isinstance(held, dict) and held.get("format") == FORMAT and isinstance(held.get(self.word), dict):
            content: Content = held[self.word]
            return content
        if isinstance(held, dict) and "format" not in held and self.older is not None:
            try:
                return self.older(held)
            except (KeyError, TypeError) as error:
                raise InputError(f"A stored {self.word} cannot be read: {error} is missing.") from error
        raise InputError(f"A stored {self.word} cannot be read: its format is not known to this program.")


def to_plain(value: Any) -> Any:
    """A value made of dataclasses as dicts, lists, text and numbers, ready for JSON.

    Raises:
        TypeError: something in it has no plain form.

    >>> to_plain((Decimal("1.20"), Length(5)))
    ['1.20', 5]
    """
    if isinstance(value, str | int | float | NoneType):
        return value
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Length):
        return value.nm
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): to_plain(item) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return {name: to_plain(getattr(value, name)) for name in _field_types(type(value))}
    raise TypeError(f"{type(value).__name__} has no plain form")


def from_plain(kind: type[Made], value: Any) -> Made:
    """A dataclass made again from the output of `to_plain`.

    Raises:
        InputError: the value does not fit the class.
    """
    try:
        made: Made = _read(kind, value)
    except (TypeError, ValueError, KeyError, AttributeError, ArithmeticError) as error:
        raise InputError(f"A stored {kind.__name__} cannot be read: {error}.") from error
    return made


@cache
def _field_types(kind: type) -> dict[str, Any]:
    """Types of the fields that `__init__` takes, by name."""
    hints = get_type_hints(kind)
    return {field.name: hints[field.name] for field in fields(kind) if field.init}


# How to make a value of these classes from its plain form; text, whole numbers and flags need nothing.
_SIMPLE: dict[Any, Callable[[Any], Any]] = {
    Length: Length, Decimal: Decimal, date: date.fromisoformat, float: float,
}  # fmt: skip


def _read(kind: Any, value: Any) -> Any:
    return _reader(kind)(value)


@cache
def _reader(kind: Any) -> Callable[[Any], Any]:
    """The function that reads values of a type.

    Cached, for a quote holds thousands of values of few types.
    """
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        inner = _reader(next(option for option in get_args(kind) if option is not NoneType))
        return lambda value: None if value is None else inner(value)
    if origin is tuple:
        return _tuple_reader(get_args(kind))
    if origin is not None and origin is not Literal and issubclass(origin, Mapping):
        held = _reader(get_args(kind)[1])
        return lambda value: {key: held(item) for key, item in value.items()}
    if kind not in _SIMPLE and is_dataclass(kind):
        return lambda value: kind(**_fields_read(kind, value))  # type: ignore[operator]
    return _SIMPLE.get(kind, _as_it_stands)


def _as_it_stands(value: Any) -> Any:
    return value


@cache
def _field_readers(kind: Any) -> dict[str, Callable[[Any], Any]]:
    return {name: _reader(held) for name, held in _field_types(kind).items()}


def _fields_read(kind: Any, value: Content) -> dict[str, Any]:
    readers = _field_readers(kind)
    return {name: readers[name](item) for name, item in value.items() if name in readers}


def _tuple_reader(types: tuple[Any, ...]) -> Callable[[Any], tuple[Any, ...]]:
    if len(types) == 2 and types[1] is Ellipsis:
        inner = _reader(types[0])
        return tuple if inner is _as_it_stands else lambda value: tuple(inner(item) for item in value)
    readers = [_reader(kind) for kind in types]
    return lambda value: tuple(read(item) for read, item in zip(readers, value, strict=True))
