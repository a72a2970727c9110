"""Kinds of text: free text, names, codes, addresses, yes or no, words of a fixed list, pairs, JSON facts."""

import csv
import io
import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlsplit

from shopquote.calc.address import is_mail_address
from shopquote.calc.numbers import is_obeyed
from shopquote.calc.spelling import folded
from shopquote.errors import Misread, nearest_word
from shopquote.reading.cells import Cell, cell_text
from shopquote.reading.kinds.kind import Kind, Notation, is_nothing, misread, read_typed

# What fits a line of a paper, a page of notes, a label; in characters.
LONGEST_NAME = 200
LONGEST_NOTE = 4000
LONGEST_CODE = 60

# Yes and no in English and in the other languages that quotes are written in.
YES = frozenset({"yes", "y", "true", "1", "x", "ja", "oui", "sí", "si"})
NO = frozenset({"no", "n", "false", "0", "", "nein", "non"})

_PARTS_WORDS = re.compile(r"[\s_\-]+")


def _same(value: Any, _notation: Notation) -> Cell:
    cell: Cell = value
    return cell


def clean_text(value: object, longest: int, expected: str, *, lines: bool = True) -> str:
    """A cell's text with plain line feeds and no white space around it; on one line unless `lines`.

    Raises:
        Misread: longer than `longest` characters, or control characters in it.
    """
    text = cell_text(value).replace("\r\n", "\n").replace("\r", "\n").strip()
    if len(text) > longest:
        raise Misread(f"{len(text)} characters", expected)
    if any(unprintable(letter) for letter in text if not (lines and letter in "\n\t")):
        raise misread(value, "a text without control characters" + ("" if lines else " or line breaks"))
    return text


def text(longest: int, *, least: int = 0, lines: bool = False) -> Kind[str]:
    """The kind of a text of `least` to `longest` characters, on one line unless `lines`."""
    expected = (
        f"a text of {least} to {longest} characters" if least else f"text of at most {longest} characters"
    )

    def read(value: object, _notation: Notation) -> str:
        found = clean_text(value, longest, expected, lines=lines)
        if len(found) < least:
            raise misread(value, expected)
        return found

    return Kind(expected, read, _same)


def unprintable(letter: str) -> bool:
    """Whether a character is refused in texts.

    Control characters, unusual line breaks, changes of writing direction, and what no spreadsheet can hold.
    """
    return (
        unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")
        or letter in "\ufffe\uffff"
        or is_obeyed(letter)
    )


EXPECTED_NAME = f"a name of 1 to {LONGEST_NAME} characters, on one line"


def _read_name(value: object, _notation: Notation) -> str:
    name = clean_text(value, LONGEST_NAME, EXPECTED_NAME, lines=False)
    if not name:
        raise misread(value, EXPECTED_NAME)
    return name


def name_key(name: str) -> str:
    """The key of a name: names with equal keys are one. Case, accents (`folded`) and spacing do not matter.

    >>> name_key(" Tarnside  Section supply ") == name_key("TARNSIDE section Supply")
    True
    """
    return " ".join(folded(name).split())


NAME: Kind[str] = Kind(EXPECTED_NAME, _read_name, _same, key=name_key)

TEXT: Kind[str] = text(LONGEST_NOTE, lines=True)


def names(most: int, longest: int) -> Kind[tuple[str, ...]]:
    """The kind of up to `most` short texts: a list, or one text separated by semicolons.

    A text that itself holds a semicolon stands in quotes.
    """
    one = text(longest, least=1)
    expected = f'up to {most} texts, such as ["A", "B"]'

    def read(value: object, notation: Notation) -> tuple[str, ...]:
        items = value if isinstance(value, list | tuple) else names_parted(cell_text(value))
        if len(items) > most or not all(isinstance(item, str) for item in items):
            raise misread(value, expected)
        try:
            return tuple(one.read(item, notation) for item in items)
        except Misread as error:
            raise misread(value, expected) from error

    return Kind(expected, read, lambda value, _: names_joined(value))


def names_parted(text: str) -> list[str]:
    """The texts of one cell, separated by semicolons.

    A text beyond the limit of the CSV reader comes back whole, so that its length is reported.

    >>> names_parted('A; "B; C"')
    ['A', 'B; C']
    """
    if not text.strip():
        return []
    try:
        (found,) = csv.reader([" ".join(text.splitlines())], delimiter=";", skipinitialspace=True)
    except csv.Error:
        return [text]
    return [word.strip() for word in found]


def names_joined(names: Sequence[str]) -> str:
    """Texts as one text separated by semicolons, which `names_parted` takes apart again.

    >>> names_joined(["A", "B; C"])
    'A; "B; C"'
    """

    def quoted(word: str) -> str:
        held = io.StringIO()
        csv.writer(held, delimiter=";", lineterminator="").writerow([word])
        return held.getvalue()

    return "; ".join(map(quoted, names))


EXPECTED_CODE = f"a code of 1 to {LONGEST_CODE} characters"


def code_key(code: str) -> str:
    """A code or heat number in its stored form: in capitals, without spaces.

    >>> code_key(" ab\u201112 ")
    'AB-12'
    """
    return "".join(folded(code).split()).upper()


def _read_code(value: object, _notation: Notation) -> str:
    code = code_key(clean_text(value, LONGEST_CODE, EXPECTED_CODE))
    if not code:
        raise misread(value, EXPECTED_CODE)
    return code


# The code of a label or a mill, in its stored form.
CODE: Kind[str] = Kind(EXPECTED_CODE, _read_code, _same)


EXPECTED_ADDRESS = "an address such as http://192.168.1.20:8765, or nothing"


def _read_address(value: object, _notation: Notation) -> str:
    address = clean_text(value, LONGEST_NAME, EXPECTED_ADDRESS).rstrip("/")
    parts = urlsplit(address) if address.isascii() and len(address.split()) == 1 else None
    if address and (parts is None or parts.scheme not in ("http", "https") or not parts.hostname):
        raise misread(value, EXPECTED_ADDRESS)
    return address


# Address of the page on the shop's network, without a slash at its end; "" where there is none.
ADDRESS: Kind[str] = Kind(EXPECTED_ADDRESS, _read_address, _same)


EXPECTED_MAIL = "an address such as office@hammerwright.example, or nothing"


def _read_mail(value: object, _notation: Notation) -> str:
    address = clean_text(value, LONGEST_NAME, EXPECTED_MAIL)
    if address and not is_mail_address(address):
        raise misread(value, EXPECTED_MAIL)
    return address


MAIL: Kind[str] = Kind(EXPECTED_MAIL, _read_mail, _same)


def _read_heat(value: object, _notation: Notation) -> str:
    return code_key(clean_text(value, LONGEST_CODE, "a heat number, or nothing"))


HEAT: Kind[str] = Kind("a heat number, or nothing", _read_heat, _same)


def _read_yes_no(value: object, _notation: Notation) -> bool:
    if isinstance(value, bool):
        return value
    typed = cell_text(value).strip().casefold()
    if typed not in YES | NO:
        raise misread(value, "yes or no", nearest_word(typed, ("yes", "no")))
    return typed in YES


YES_NO: Kind[bool] = Kind("yes or no", _read_yes_no, _same)


def _word_key(word: str) -> str:
    """The key of a fixed word: "fit-up", "Fit up" and "FITUP" have the same."""
    return _PARTS_WORDS.sub("", folded(word))


def word(words: Sequence[str], meant: Mapping[str, str] | None = None) -> Kind[str]:
    """The kind of one of some fixed words; case, spaces and dashes do not matter.

    `meant` maps other names to the words, which are read too.
    """
    by_key = {_word_key(other): known for other, known in (meant or {}).items()}
    # The words themselves last, so that no other name takes the place of one.
    by_key |= {_word_key(known): known for known in words}
    expected = "one of " + ", ".join(words)

    def read(value: object, _notation: Notation) -> str:
        typed = " ".join(value.split()) if isinstance(value, str) else cell_text(value)
        found = by_key.get(_word_key(typed))
        if found is None:
            raise misread(value, expected, nearest_word(typed, words))
        return found

    return Kind(expected, read, _same)


def word_typed(what: str, known: Sequence[str], typed: str) -> str:
    """Read one of some fixed words, such as a state; the error's message begins with `what`, its name.

    Raises:
        InputError: it is none of them.
    """
    return read_typed(what, word(known), typed, Notation())


def words(known: Sequence[str]) -> Kind[tuple[str, ...]]:
    """The kind of several fixed words separated by commas or semicolons.

    The value is in the order of `known`.
    """
    one = word(known)
    expected = f"some of {', '.join(known)}, or nothing for all"

    def read(value: object, notation: Notation) -> tuple[str, ...]:
        typed = [text for text in cell_text(value).replace(";", ",").split(",") if text.strip()]
        try:
            found = {one.read(text.strip(), notation) for text in typed}
        except Misread as error:
            raise Misread(error.found, expected, error.nearest) from error
        return tuple(each for each in known if each in found)

    return Kind(expected, read, lambda value, _: ", ".join(value))


def _read_pairs(value: object, _notation: Notation) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for line in clean_text(value, LONGEST_NOTE, PAIRS.expected).split("\n"):
        if not line.strip():
            continue
        # With its space, so that a name may hold a colon.
        name, colon, text = line.partition(": ")
        if not colon or not name.strip() or name.strip() in pairs:
            raise misread(line, PAIRS.expected)
        pairs[name.strip()] = text.strip()
    return pairs


def _show_pairs(value: Mapping[str, str], _notation: Notation) -> Cell:
    return "\n".join(f"{name}: {text}" for name, text in value.items())


PAIRS: Kind[dict[str, str]] = Kind("lines of NAME: TEXT", _read_pairs, _show_pairs)


def _read_facts(value: object, _notation: Notation) -> dict[str, Any]:
    text = cell_text(value).strip()
    try:
        facts = json.loads(text) if text else {}
    except (ValueError, RecursionError) as error:  # RecursionError: lists nested thousands deep
        raise misread(value, FACTS.expected) from error
    if not isinstance(facts, dict):
        raise misread(value, FACTS.expected)
    return facts


def _show_facts(value: Mapping[str, Any] | None, _notation: Notation) -> Cell:
    return json.dumps(value, ensure_ascii=False, sort_keys=True) if value else None


FACTS: Kind[dict[str, Any]] = Kind('facts as JSON, such as {"a": "b"}, or nothing', _read_facts, _show_facts)


def _read_currency(value: object, _notation: Notation) -> str:
    code = cell_text(value).strip().upper()
    if len(code) != 3 or not code.isascii() or not code.isalpha():
        raise misread(value, CURRENCY.expected)
    return code


CURRENCY: Kind[str] = Kind("three letters such as EUR", _read_currency, _same)


def _read_locale(value: object, _notation: Notation) -> str:
    from babel import Locale, UnknownLocaleError

    typed = cell_text(value).strip()
    try:
        Locale.parse(typed.replace("-", "_"))
    except (UnknownLocaleError, ValueError) as error:
        raise misread(value, LOCALE.expected) from error
    return typed


LOCALE: Kind[str] = Kind(
    "a language and country such as en_GB, en_US, de_DE, fr_FR, es_ES", _read_locale, _same
)

# The locale of papers to one customer or supplier; "" means the shop's.
OWN_LOCALE: Kind[str] = Kind(
    "a language and country such as de_DE, or nothing for the shop's own",
    lambda value, notation: "" if is_nothing(value) else LOCALE.read(value, notation),
    _same,
)
