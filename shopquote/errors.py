"""Every error that a person can cause or cure, under one base.

    ShopquoteError                exit
    |-- InputError                  3   a file, row or value cannot be used
    |   `-- Misread                     one typed value, with what was found and expected
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

# A longer one is no slip of the pen, and comparing it would take time for nothing.
LONGEST_WORD = 60
# Of a mistake of more marks than these the rest is counted: who mends the first knows the cure.
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

    The place is read from the outside in: file, table, mark or row, key. `message`
    is the whole sentence of a reader that knows better than found and expected.

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
        """The mistake without its place, for where the place is seen."""
        if self.message is not None:
            unsaid = self.nearest is not None and self.nearest not in self.message
            return f"{self.message} Did you mean {self.nearest!r}?" if unsaid else self.message
        text = f"found {self.found}, expected {self.expected}"
        return f"{text}; did you mean {self.nearest!r}?" if self.nearest else text


def told_together(faults: Iterable[Fault]) -> list[str]:
    """A line for each mistake; one that stands in several rows alike is told once, with its rows.

    >>> rows = [Fault("a.csv", "", f"row {n}", "grade", "'S27'", "S275") for n in (2, 3, 4, 9)]
    >>> print(*told_together(rows))
    a.csv: rows 2 to 4, 9, grade: found 'S27', expected S275
    """
    alike: dict[Fault, list[str]] = {}
    for fault in faults:
        alike.setdefault(replace(fault, mark=""), []).append(fault.mark)
    return [str(replace(fault, mark=_marks(list(dict.fromkeys(marks))))) for fault, marks in alike.items()]


def fault_lines(faults: Iterable[Fault]) -> str:
    """The mistakes set in under a heading."""
    return "\n".join("  " + line.replace("\n", "\n    ") for line in told_together(faults))


def _marks(marks: Sequence[str]) -> str:
    """Marks of rows in one text: numbers that follow one another as from and to, of names the first."""
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
    """A file, row or value cannot be used. `cut_short`: there may be more faults than are told."""

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
        """One error for all the mistakes of an input, a line each; `after` says what did not happen."""
        head = counted(len(faults), "mistake")
        head += " and more" if cut_short else ""
        head += f"; {after}." if after else ":"
        return cls(f"{head}\n{fault_lines(faults)}", faults=faults, cut_short=cut_short)


class Misread(InputError):
    """A typed value that cannot be used: `found` as shown, `expected` in words, the nearest right word.

    `told`: a message of its own, which says more than the two.
    """

    def __init__(
        self, found: str, expected: str, nearest: str | None = None, *, message: str | None = None
    ) -> None:
        super().__init__(message or f"{found} cannot be used; expected {expected}.")
        self.found, self.expected, self.nearest, self.told = found, expected, nearest, message


class TwoReadings(Misread):
    """A typed value that may mean two values; both are named."""

    def __init__(self, found: str, one: str, other: str) -> None:
        super().__init__(
            found,
            f"{one} or {other}, written so that it means only one of them",
            message=f"{found} may mean {one} or {other}; write the one that is meant.",
        )


class OtherCurrency(Misread):
    """An amount with the sign of another currency than the one that counts there; both are named."""

    def __init__(self, found: str, sign: str, currency: str) -> None:
        super().__init__(found, f"an amount in {currency}, not in {sign}")


class NotFoundError(ShopquoteError):
    """Something named is not on file."""

    exit_code = 4


class CannotMakeError(ShopquoteError):
    """It is understood and cannot be made: too tight, too long, too strong. `faults`: each with its file."""

    exit_code = 5

    def __init__(self, message: str, *, hint: str | None = None, faults: Sequence[Fault] = ()) -> None:
        super().__init__(message, hint=hint)
        self.faults = tuple(faults)


class DatabaseError(ShopquoteError):
    """The database cannot be used as it is."""

    exit_code = 6


def counted(count: int, thing: str, things: str = "") -> str:
    """A count with what is counted, one or several of it.

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
