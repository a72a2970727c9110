"""The list of benders, each with its formers in one cell."""

import re
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Length, show_length, spread_unit
from shopquote.errors import InputError, TwoReadings
from shopquote.reading import kinds
from shopquote.reading.cells import Cell, cell_text
from shopquote.reading.kinds import Kind, Notation, found_text
from shopquote.records.benders import BenderRow, FormerRow
from shopquote.services.shop.list_columns import OpenList, ShopList, Values

# Help for the columns: what an owner can read off the bender, its maker's sheet or the bars bent on it.
BENDER_ASKS = {
    "largest_moment_nm": "N m (or lb-ft, with the unit) that frame, pins and arm stand, as its maker says; "
    "if not known, what the thickest bar needs that it bends without strain, see the list above",
    "opening": "the deepest bar that it takes, in the plane of the bend",
    "width": "the widest bar that it takes, across that plane: along the pin",
    "lever": "pivot to hand; 0 for one with a motor or a pump",
    "formers": "inside radii: 8, 12, 15, 20; or formers parted by ; each with its radius, deepest bar, name",
    "largest_angle": "the farthest that it pulls: more than 180 for a hook, which springs back",
    "works_by": "draw: the former turns and draws the bar in; wipe: an arm wipes it round; ram: pushed "
    "between two rests; rolls",
    "powered": "yes with a motor or a pump",
    "rolls_to": "smallest inside radius that it rolls; empty for one without rolls",
}


class BenderList(ShopList):
    """Benders; the formers of each are one cell (`FORMERS`), stored as rows of their own."""

    def entries(self, session: Session, on: date | None) -> Iterator[Values]:
        """Every entry as values by column, in stored order; with `on`, only what applies on that day."""
        rows = select(BenderRow).options(selectinload(BenderRow.formers)).order_by(BenderRow.id)
        yield from (self.values_of(row) for row in session.scalars(rows))

    def values_of(self, row: Any) -> Values:
        """A row's values by column."""
        values = {
            column.name: getattr(row, column.name)
            for column in self.columns
            if column.name not in ("formers", "pins")
        }
        formers = tuple(_Former(former.radius, former.name, former.largest) for former in row.formers)
        return values | {"formers": formers, "pins": tuple(Length(nm) for nm in row.pins)}

    def complete(self, opened: OpenList, given: Values) -> tuple[Any | None, Values]:
        """The row on file with the given key (None: a new entry), and its values with `given` over them.

        A bender that becomes a ram gets `mark_at` centre unless `given` says otherwise: it presses the bar
        there.
        """
        row, values = super().complete(opened, given)
        if (
            given.get("works_by") == "ram"
            and "mark_at" not in given
            and (row is None or row.works_by != "ram")
        ):
            values |= {"mark_at": "centre"}
        return row, values

    def add(self, opened: OpenList, values: Values) -> Any:
        """Add the row of a new entry to the session and return it."""
        row = BenderRow(**{n: v for n, v in values.items() if n not in ("formers", "pins")})
        self._put_lists(row, values)
        opened.session.add(row)
        return row

    def change(self, opened: OpenList, row: Any, values: Values) -> None:
        """Set the values of an entry on its row."""
        for name, value in values.items():
            if name not in ("formers", "pins"):
                setattr(row, name, value)
        self._put_lists(row, values)

    def check(self, opened: OpenList, values: Values) -> Iterator[tuple[str, str, str, str | None]]:
        """Faults between columns or against other lists: (column, found, expected, nearest word or None)."""
        names = [former.key for former in values["formers"]]
        if len(set(names)) < len(names):
            yield "formers", "two formers of the same radius and name", "each once", None

    def _put_lists(self, row: Any, values: Values) -> None:
        row.pins = [pin.nm for pin in values["pins"]]
        # Formers that stay keep their rows: SQLAlchemy inserts before it deletes, so a new row of the same
        # radius and name would break the table's unique constraint.
        wanted = {one.key: one for one in values["formers"]}
        for former in list(row.formers):
            one = wanted.pop(_Former(former.radius, former.name, None).key, None)
            if one is None:
                row.formers.remove(former)
            else:
                former.largest = one.largest
        for one in wanted.values():
            row.formers.append(FormerRow(radius=one.radius, name=one.name, largest=one.largest))
        row.formers.sort(key=lambda former: (former.radius.nm, former.name))


@dataclass(frozen=True)
class _Former:
    radius: Length
    name: str
    largest: Length | None

    @property
    def key(self) -> tuple[int, str]:
        """Formers with the same radius (nanometres) and the same name, in any letter case, are one former."""
        return self.radius.nm, kinds.name_key(self.name)


_RADIUS = kinds.length()
_DEEPEST = kinds.length(above=True).or_nothing


def _read_formers(value: object, notation: Notation) -> tuple[_Former, ...]:
    text = cell_text(value)
    radii = _plain_radii(text, notation)
    if radii:
        return tuple(_Former(radius, "", None) for radius in sorted(radii))
    found = [_read_former(part, notation) for part in text.split(";") if part.strip()]
    return tuple(sorted(found, key=lambda former: (former.radius.nm, former.name)))


def _plain_radii(text: str, notation: Notation) -> list[Length]:
    """Radii of a plain list such as 8, 12, 15, 20; empty where the formers are given in full, parted by ;."""
    words = re.split(r",(?=\s)", text)
    # One comma without a blank may be a decimal's; two cannot.
    if len(words) == 1 and text.count(",") > 1:
        words = text.split(",")
    if ";" in text or len(words) < 2:
        return []
    try:
        return [_RADIUS.read(word.strip(), notation) for word in spread_unit(words)]
    except InputError:
        return []


def _read_former(text: str, notation: Notation) -> _Former:
    # A comma before a blank parts; without blanks every comma does, save that 24,20 may be decimals.
    spaced = re.split(r",(?=\s|$)", text.strip(), maxsplit=2)
    parts = spaced if len(spaced) > 1 else text.strip().split(",", 2)
    radius, largest, name = (part.strip() for part in [*parts, "", ""][:3])
    if len(parts) == 2 and spaced == [text.strip()]:
        raise TwoReadings(found_text(text), f"{radius}, {largest}", f"{radius}.{largest}")
    return _Former(_RADIUS.read(radius, notation), name, _DEEPEST.read(largest, notation))


def _show_formers(value: Sequence[_Former], notation: Notation) -> Cell:
    shown = "; ".join(
        ", ".join(
            (_RADIUS.text(former.radius, notation), _DEEPEST.text(former.largest, notation), former.name)
        ).rstrip(", ")
        for former in sorted(value, key=lambda former: (former.radius.nm, former.name))
    )
    # One former with its deepest bar would read as two radii.
    return shown + ";" if len(value) == 1 and "," in shown else shown


def _brief_formers(value: Sequence[_Former], notation: Notation) -> Cell:
    if not value:
        return "none"
    least, most = (pick(former.radius for former in value) for pick in (min, max))
    unit = notation.unit
    return f"{len(value)}, r {show_length(least, unit, exact=True)} to {show_length(most, unit, exact=True)}"


FORMERS: Kind[tuple[_Former, ...]] = Kind(
    "radii such as 8, 12, 15, 20, or formers parted by ;, each RADIUS, DEEPEST BAR (or nothing), NAME",
    _read_formers,
    _show_formers,
    brief=_brief_formers,
)
