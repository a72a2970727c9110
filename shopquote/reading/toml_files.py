"""TOML as people type it: every mistake of syntax with its line and the likely cure.

The library's reader stops at the first mistake. Where that mistake is confined to one line, the line is taken
out and the rest is parsed again, so that one run reports them all. Begin at `parse_toml`.
"""

import re
import tomllib
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import quoted
from shopquote.errors import Fault, InputError

# Each mistake costs another parse of the file; a file with more mistakes was never TOML.
MOST_FAULTS = 30

_LINE_OF = re.compile(r"at line (\d+)")
# A key with its value on one line, which can be taken out without affecting other lines.
_PAIR = re.compile(r"\s*(?P<key>[A-Za-z0-9_.-]+|\"[^\"]*\")\s*(?P<sign>[=:])\s*(?P<value>.*?)\s*", re.DOTALL)
_BAD_WORDS = {
    "yes": "true",
    "no": "false",
    "True": "true",
    "False": "false",
    "TRUE": "true",
    "FALSE": "false",
}


@dataclass(frozen=True)
class _Slip:
    """A mistake confined to one line: the likely cure, and the line to parse instead to find the others."""

    cure: str
    instead: str = ""


def parse_toml(text: str, name: str) -> dict[str, object]:
    """The tables of a TOML text, decimals as `Decimal`; `name` is the file's, for messages.

    Raises:
        InputError: not TOML; `.faults` has each mistake with its line.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    faults: list[Fault] = []
    last = 0
    while True:
        try:
            document = tomllib.loads("\n".join(lines), parse_float=Decimal)
        except tomllib.TOMLDecodeError as error:
            number = _line_number(error, lines)
            # At or before the last mended line there is no progress: give up rather than loop.
            slip = None if number <= last else _slip(lines[number - 1], str(error))
            if slip is None and faults:
                break  # it may only be a consequence of a mistake reported already
            expected = slip.cure if slip is not None else f"TOML: {error}"
            faults.append(Fault(name, f"line {number}", "", "", _found(lines[number - 1]), expected))
            if slip is None or len(faults) >= MOST_FAULTS:
                break
            last, lines[number - 1] = number, slip.instead
            continue
        if not faults:
            return document
        break
    raise InputError.from_faults(faults, after="")


def _found(line: str) -> str:
    return quoted(line) if line.strip() else "the end of the text"


def _line_number(error: tomllib.TOMLDecodeError, lines: list[str]) -> int:
    found = _LINE_OF.search(str(error))
    number = int(found[1]) if found is not None else len(lines)
    # tomllib may point to the empty line after the one that it cannot read.
    while number > 1 and not lines[min(number, len(lines)) - 1].strip():
        number -= 1
    return max(1, min(number, len(lines)))


def _slip(line: str, reason: str) -> _Slip | None:
    """The mistake of a line, where the line alone shows it; else None."""
    bare = line.strip()
    if any(mark in bare for mark in "\u201c\u201d\u2018\u201e"):
        return _Slip('straight quotes: " in place of \u201c and \u201d')
    if bare.startswith("["):
        return (
            None
            if _balanced(bare)
            else _Slip(f"a heading with its brackets closed: {_closed(bare)}", _closed(bare))
        )
    pair = _PAIR.fullmatch(_without_comment(line))
    if pair is None:
        return None if "=" in bare else _Slip("a line such as key = value, or # before a remark")
    key, value = pair["key"], pair["value"]
    if "overwrite" in reason or "twice" in reason:
        return _Slip(f"the key {key} once in its table")
    if pair["sign"] == ":":
        return _Slip(f"= in place of the colon: {key} = {_as_text(value)}")
    return _slip_of_value(key, value)


def _slip_of_value(key: str, value: str) -> _Slip | None:
    if not value:
        return _Slip(f"a value behind {key} =")
    if value in _BAD_WORDS:
        return _Slip(f"true or false in small letters: {key} = {_BAD_WORDS[value]}")
    if value.startswith(('"""', "'''", "[", "{")):
        return None  # the value may go on in the lines below
    if value[0] in "\"'":
        return _slip_of_quotes(key, value)
    if re.fullmatch(r"\d+,\d+", value):
        # 1,250 may be either number; any other comma can only be a decimal one.
        point, whole = value.replace(",", "."), value.replace(",", "")
        cure = f"{point} or {whole}" if re.fullmatch(r"[1-9]\d{0,2},\d{3}", value) else point
        return _Slip(f"a number without a comma: {key} = {cure}")
    if re.fullmatch(r"\d{1,2}\.\d{1,2}\.\d{4}", value):
        day, month, year = value.split(".")
        return _Slip(f"a day as year, month, day: {key} = {year}-{int(month):02d}-{int(day):02d}")
    return _Slip(f"text in quotes: {key} = {_as_text(value)}")


def _slip_of_quotes(key: str, value: str) -> _Slip | None:
    mark = value[0]
    inner = value[1:-1] if value.endswith(mark) and len(value) > 1 else value[1:]
    if value.count(mark) == 1:
        return _Slip(f"the closing quote: {key} = {value}{mark}")
    if mark in inner.replace("\\" + mark, ""):
        return _Slip(f'\\" for an inch mark or quote inside quotes: {key} = {_as_text(inner)}')
    return _Slip(f'no backslash but \\\\ or \\": {key} = {_as_text(inner)}') if "\\" in value else None


def _as_text(value: str) -> str:
    plain = value.strip("\"'") if value[:1] in "\"'" else value
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _balanced(heading: str) -> bool:
    return heading.count("[") == heading.count("]")


def _closed(heading: str) -> str:
    inner = heading.strip("[] ")
    marks = 2 if heading.startswith("[[") or heading.endswith("]]") else 1
    return f"{'[' * marks}{inner}{']' * marks}"


def _without_comment(line: str) -> str:
    """A line without its comment; a # inside quotes is kept."""
    quoted_part = re.match(r"[^#\"']*(?:\"[^\"]*\"|'[^']*')?[^#\"']*", line)
    end = quoted_part.end() if quoted_part is not None else 0
    return line[:end] if line[end : end + 1] == "#" else line
