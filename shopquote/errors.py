"""Every error that a person can cause or cure, under one base.

    ShopquoteError                exit
    |-- InputError                  3   a file, row or value cannot be used
    |   `-- Misread                     one typed value, with what was found and expected
    |       |-- TwoReadings             it may mean two values
    |       `-- OtherCurrency           an amount with another currency's sign
    |-- NotFoundError               4   a job, bar, customer or rate is not on file
    |-- CannotMakeError             5   radius too tight, piece longer than any stock
    `-- DatabaseError               6   schema version differs, locked, unreachable

Exit code 2 belongs to the command line's own words, 1 to a fault of the program.
The layer that knows the facts writes the message: what is wrong, where, what to do.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import ClassVar

# A longer word is not a misspelt key or name, and the comparison's time grows with its length.
LONGEST_WORD = 60
# A mistake repeated at more marks than this names the first ones and counts the rest.
MOST_MARKS = 12
_ROW = re.compile(r"(?P<what>(?:row|line)?) ?(?P<number>\d+)")


class ShopquoteError(Exception):
    """Base of all errors shown to a person without a traceback."""

    exit_code: ClassVar[int] = 1

    def __init__(self, message: str, *, hint: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return self.message if self.hint is None else f"{self.message}\n{self.hint}"


@dataclass(frozen=True)
class Fault:
    """One mistake in an input: where it stands, what was found, what was expected.

    The place goes from the outside in: file, table, mark or row, key. `nearest` is the known word that was
    most likely meant. `message`, where given, is a whole sentence that replaces "found ..., expected ...".

    >>> print(Fault("hooks.toml", "part", "A", "dims", "'outsid'", "one of outside, inside", "outside"))
    hooks.toml: part A, dims: found 'outsid', expected one of outside, inside; did you mean 'outside'?
    """

    file: str
    table: str
    mark: str
    key: str
    found: str
    expected: str
    nearest: str | None = None
    message: str | None = None

    @property
    def place(self) -> str:
        """Where in the file: table and row, then key."""
        row = " ".join(word for word in (self.table, self.mark) if word)
        return ", ".join(word for word in (row, self.key) if word)

    def __str__(self) -> str:
        where = ": ".join(word for word in (self.file, self.place) if word)
        return f"{where}: {self.said}"

    @property
    def said(self) -> str:
        """The mistake without its place, for a form that shows it beside the field."""
        if self.message is not None:
            unsaid = self.nearest is not None and self.nearest not in self.message
            return f"{self.message} Did you mean {self.nearest!r}?" if unsaid else self.message
        text = f"found {self.found}, expected {self.expected}"
        return f"{text}; did you mean {self.nearest!r}?" if self.nearest else text


def told_together(faults: Iterable[Fault]) -> list[str]:
    """One line for each mistake; the same mistake in several rows is one line that lists the rows.

    >>> rows = [Fault("a.csv", "", f"row {n}", "grade", "'S27'", "S275") for n in (2, 3, 4, 9)]
    >>> print(*told_together(rows))
    a.csv: rows 2 to 4, 9, grade: found 'S27', expected S275
    """
    alike: dict[Fault, list[str]] = {}
    for fault in faults:
        alike.setdefault(replace(fault, mark=""), []).append(fault.mark)
    return [str(replace(fault, mark=_marks(list(dict.fromkeys(marks))))) for fault, marks in alike.items()]


def fault_lines(faults: Iterable[Fault]) -> str:
    """The lines of `told_together` as one text, indented to stand under a heading."""
    return "\n".join("  " + line.replace("\n", "\n    ") for line in told_together(faults))


def _marks(marks: Sequence[str]) -> str:
    """Row numbers as ranges, "rows 2 to 4, 9"; of other marks the first `MOST_MARKS` and how many more."""
    if len(marks) == 1:
        return marks[0]
    rows = [row for mark in marks if (row := _ROW.fullmatch(mark))]
    if len(rows) < len(marks) or len({row["what"] for row in rows}) > 1:
        more = f" and {len(marks) - MOST_MARKS} more" if len(marks) > MOST_MARKS else ""
        return ", ".join(marks[:MOST_MARKS]) + more
    runs: list[list[int]] = []
    for number in sorted(int(row["number"]) for row in rows):
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)
    return f"{rows[0]['what']}s {told}" if rows[0]["what"] else told


class InputError(ShopquoteError):
    """A file, row or value cannot be used.

    `faults` are the mistakes of a file one by one; `cut_short`: reading stopped, so there may be more.
    """

    exit_code = 3

    def __init__(
        self, message: str, *, hint: str | None = None, faults: Sequence[Fault] = (), cut_short: bool = False
    ) -> None:
        super().__init__(message, hint=hint)
        self.faults = tuple(faults)
        self.cut_short = cut_short

    @classmethod
    def from_faults(
        cls, faults: Sequence[Fault], *, after: str = "nothing was stored", cut_short: bool = False
    ) -> "InputError":
        """One error that lists all the mistakes of an input.

        `after` says what did not happen because of them.
        """
        head = counted(len(faults), "mistake")
        head += " and more" if cut_short else ""
        head += f"; {after}." if after else ":"
        return cls(f"{head}\n{fault_lines(faults)}", faults=faults, cut_short=cut_short)


class Misread(InputError):
    """A typed value that cannot be used: `found` as shown, `expected` in words, the `nearest` known word.

    `told` is the reader's own whole message, None where "found, expected" says it all.
    """

    def __init__(
        self, found: str, expected: str, nearest: str | None = None, *, message: str | None = None
    ) -> None:
        super().__init__(message or f"{found} cannot be used; expected {expected}.")
        self.found, self.expected, self.nearest, self.told = found, expected, nearest, message


class TwoReadings(Misread):
    """A typed value that may mean two values, such as 1,250; the message names both."""

    def __init__(self, found: str, one: str, other: str) -> None:
        super().__init__(
            found,
            f"{one} or {other}, written so that it means only one of them",
            message=f"{found} may mean {one} or {other}; write the one that is meant.",
        )


class OtherCurrency(Misread):
    """An amount with the sign of a currency other than the shop's; the message names both."""

    def __init__(self, found: str, sign: str, currency: str) -> None:
        super().__init__(found, f"an amount in {currency}, not in {sign}")


class NotFoundError(ShopquoteError):
    """Something named is not on file."""

    exit_code = 4


class CannotMakeError(ShopquoteError):
    """The input is understood but cannot be made: a bend too tight, a part too long or too strong.

    `faults` lists each part with its file, where several are refused together.
    """

    exit_code = 5

    def __init__(self, message: str, *, hint: str | None = None, faults: Sequence[Fault] = ()) -> None:
        super().__init__(message, hint=hint)
        self.faults = tuple(faults)


class DatabaseError(ShopquoteError):
    """The database cannot be used as it is."""

    exit_code = 6


def counted(count: int, thing: str, things: str = "") -> str:
    """A count with its noun in the singular or plural.

    >>> counted(1, "piece"), counted(2, "entry", "entries")
    ('1 piece', '2 entries')
    """
    return f"{count} {thing if count == 1 else things or f'{thing}s'}"


def nearest_word(word: str, known: Iterable[str]) -> str | None:
    """The known word that a misspelt one most likely meant, or None.

    >>> nearest_word("outsid", ["outside", "inside", "centre"])
    'outside'
    """
    if len(word) > LONGEST_WORD:
        return None
    words = list(known)
    lowered = {known_word.lower(): known_word for known_word in words}
    matches = get_close_matches(word.lower(), list(lowered), n=1, cutoff=0.6)
    return lowered[matches[0]] if matches else None
