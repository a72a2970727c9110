"""Read a supplier's own price list, whatever its columns, and store its prices.

Which column holds what is stated or recognised once and stored with the supplier. A list is read whole; if
any row has a fault, all are reported and nothing is stored. Prices apply from a day on, and earlier ones stay
on file. Begin at `read_price_list`, which changes nothing, and `store_price_list`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import KG_PER_LB, MASS_UNITS, ZERO, Unit
from shopquote.errors import Fault, InputError
from shopquote.reading.kinds.lengths import bar_as_typed
from shopquote.reading.table_files import FileTable, TableRow, find_headings, read_table
from shopquote.records.materials import StockItem, StockPrice
from shopquote.records.people import Supplier
from shopquote.services.buying.orders_on_file import find_supplier
from shopquote.services.buying.price_headings import (
    HEADING_ROW,
    HEADINGS_HINT,
    are_of_list,
    find_columns,
    kept_columns,
    may_be_headings,
    name_prices,
    taught_words,
    unit_of_list,
)
from shopquote.services.buying.price_rows import (
    MEANS,
    ListReading,
    PriceLine,
    is_on_request,
    read_line,
)
from shopquote.services.shop.shop_on_file import grades_on_file, shop_notation
from shopquote.services.shop.values import prices_in_force

# For words that the supplier alone uses: they are kept with its list.
TEACH_HINT = (
    'A word of the supplier\'s own is taught once and kept with it: --means "RND=round" --means 43A=S275; '
    'one that says nothing: --means "bright drawn=-"'
)


@dataclass(frozen=True, slots=True)
class PriceChange:
    """What storing a line would change; `kind` is new, dearer, cheaper, same or changed (basis, steps)."""

    line: PriceLine
    kind: str
    old: str
    new: str


@dataclass(frozen=True)
class PriceList:
    """A list as read: its column map, its lines, and items on file that it does not name (`missing`).

    `left_out` are numbers of rows that only head a group of bars; `on_request` of rows whose price must be
    asked for.
    """

    supplier: str
    columns: Mapping[str, str]
    changes: tuple[PriceChange, ...]
    missing: tuple[str, ...]
    left_out: tuple[int, ...] = ()
    heading_row: int = 1
    on_request: tuple[int, ...] = ()

    def count(self, kind: str) -> int:
        """Number of lines of a kind."""
        return sum(change.kind == kind for change in self.changes)


def read_price_list(
    session: Session,
    supplier: str,
    table: FileTable,
    *,
    on: date,
    columns: Mapping[str, str] | None = None,
    left_out: list[Fault] | None = None,
) -> PriceList:
    """Read a price list and find what it would change; stores nothing.

    Args:
        session: an open session.
        supplier: name on file.
        table: the file, read.
        on: day from which prices apply where the list states none.
        columns: which of its columns holds what, in place of what is stored with the supplier:
            `{"bar": "Shape + Size", "grade": "Quality", "basis": "=kg", "price from 500": "500 kg"}`.
        left_out: receives the faults of rows to leave out; None: any fault refuses the whole list.

    Raises:
        NotFoundError: no such supplier.
        InputError: columns that are not there, or all faults by row.
    """
    found = find_supplier(session, supplier)
    kept = kept_columns(table, found.column_map)
    mapping = find_columns(table, {**kept, **(columns or {})})
    notation = replace(shop_notation(session), currency=found.currency)
    unit = notation.unit
    notation = notation.within(unit_of_list(mapping, unit))
    reading = ListReading(table, mapping, notation, on, taught_words(mapping))
    grades = grades_on_file(session)
    rows = _sorted_rows(reading)
    lines = _joined([line for row in rows.items if (line := read_line(reading, row, grades))], reading)
    if left_out is not None:
        left_out += reading.faults
    if reading.faults and (left_out is None or not lines):
        fault = InputError.from_faults(reading.faults)
        fault.hint = TEACH_HINT if reading.strange_words else fault.hint
        raise fault
    if not lines:
        raise InputError(f"{table.path}: the list has no rows.")
    items = _items(session, found)
    return PriceList(
        found.name,
        mapping,
        tuple(_change(line, items.get(_key(line)), found.currency, unit) for line in lines),
        _not_listed(items, lines, unit),
        tuple(row.number for row in rows.headings),
        table.heading_row,
        tuple(row.number for row in rows.on_request),
    )


@dataclass(frozen=True, slots=True)
class _ListRows:
    """A list's rows by what they are: priced items, headings of groups, and items whose price must be asked
    for.
    """

    items: list[TableRow] = field(default_factory=list)
    headings: list[TableRow] = field(default_factory=list)
    on_request: list[TableRow] = field(default_factory=list)


def _sorted_rows(reading: ListReading) -> _ListRows:
    rows = _ListRows()
    for row in reading.table.rows:
        if reading.is_heading(row):
            rows.headings.append(row)
        elif is_on_request(reading, row):
            rows.on_request.append(row)
        else:
            rows.items.append(row)
    return rows


def _not_listed(
    items: Mapping[tuple[str, str, int], StockItem], lines: Sequence[PriceLine], unit: Unit
) -> tuple[str, ...]:
    """The supplier's items on file that the list does not name, in words."""
    listed = {_key(line) for line in lines}
    return tuple(
        f"{item.section_text} {item.grade} {bar_as_typed(item.length_text, item.length, unit)}"
        for key, item in sorted(items.items())
        if key not in listed
    )


def price_table(
    session: Session,
    supplier: str,
    path: Path,
    *,
    sheet: str | None = None,
    heading_row: int | None = None,
    columns: Mapping[str, str] | None = None,
) -> FileTable:
    """A supplier's list as a table, with the heading row given or found.

    Found is, in this order: a row with the headings named now or used by the supplier's last list; a row that
    names prices; the row where the last list had them; the first row that is no line of a letterhead.

    Raises:
        NotFoundError: no such supplier.
        InputError: the file cannot be read.
    """
    kept = find_supplier(session, supplier).column_map
    if heading_row is not None:
        return read_table(path, sheet=sheet, heading_row=heading_row)
    plain = _whole_headings(columns or {}) or _whole_headings(kept)
    found, row = find_headings(path, plain.issubset, sheet=sheet) if plain else (sheet, None)
    if row is None:
        found, row = find_headings(path, name_prices, sheet=sheet)
    if row is None and HEADING_ROW in kept:
        row = int(kept[HEADING_ROW])
    if row is None:
        found, row = find_headings(path, may_be_headings, sheet=sheet)
    try:
        return read_table(path, sheet=found, heading_row=row or 1)
    except InputError as error:
        if not error.faults and error.hint:
            error.hint = f"{error.hint} {HEADINGS_HINT}"
        raise


def _whole_headings(columns: Mapping[str, str]) -> set[str]:
    """Headings that single columns are found by: no fixed values (=kg) and no joined columns."""
    named = (text for word, text in columns.items() if word != HEADING_ROW and not word.startswith(MEANS))
    return {text for text in named if not text.startswith("=") and "+" not in text}


def store_price_list(session: Session, price_list: PriceList) -> None:
    """Store the items and prices of a list that was read, and its column map with the supplier.

    Raises:
        NotFoundError: no such supplier.
    """
    supplier = find_supplier(session, price_list.supplier)
    items = _items(session, supplier)
    for change in price_list.changes:
        _store(session, supplier, items.get(_key(change.line)), change.line)
    # Kept, so that the supplier's next list is read without asking again.
    supplier.column_map = dict(price_list.columns)
    if price_list.heading_row > 1:
        supplier.column_map[HEADING_ROW] = str(price_list.heading_row)
    session.flush()


def keep_words(
    session: Session,
    supplier: str,
    words: Mapping[str, str],
    faults: Sequence[Fault],
    table: FileTable | None,
) -> list[str]:
    """Store named columns and taught words although rows of the list cannot be read.

    A meaning that occurs in a fault may be the mistake: it is not stored. Nor are columns, where those on
    file are of another list: a list that failed must not displace one that was read.

    Args:
        session: open and writing; the caller commits.
        supplier: its name.
        words: as `usable_columns` and `taught` return them.
        faults: of the list.
        table: the list; None where it could not be read at all, and no columns are named.

    Returns:
        What was stored, as `RND=round`, columns first.

    Raises:
        NotFoundError: no such supplier.
    """
    found = [fault.found.casefold() for fault in faults]
    held = find_supplier(session, supplier)
    same = table is not None and are_of_list(table, held.column_map)
    sound = {
        word: ours
        for word, ours in words.items()
        if (not any(ours.casefold() in text for text in found) if word.startswith(MEANS) else same)
    }
    held.column_map = {**held.column_map, **sound}
    session.flush()
    columns = {word: ours for word, ours in sound.items() if not word.startswith(MEANS)}
    return [f"{word}={ours}" for word, ours in (*columns.items(), *taught_words(sound).items())]


def named_columns(words: Sequence[str]) -> dict[str, str]:
    """Columns by word, from pairs such as `grade=Quality`.

    Raises:
        InputError: not such a pair.
    """
    columns = {}
    for word in words:
        name, equals, place = word.partition("=")
        if not equals or not name.strip() or not place.strip():
            raise InputError(f"Column {word!r}: expected WORD=HEADING, such as grade=Quality.")
        columns[name.strip()] = place.strip()
    return columns


# --- rows -----------------------------------------------------------------------------------------


def _joined(lines: Sequence[PriceLine], reading: ListReading) -> list[PriceLine]:
    """Rows of one bar with several mass breaks as one line; a bar named twice for one mass is a fault."""
    by_bar: dict[tuple[str, str, int], PriceLine] = {}
    for line in lines:
        key = _key(line)
        first = by_bar.get(key)
        if first is None:
            by_bar[key] = line
            continue
        clash = {kg for kg, _ in first.steps} & {kg for kg, _ in line.steps}
        if clash or first.basis != line.basis or first.valid_from != line.valid_from:
            reading.faults.append(
                Fault(
                    reading.table.path.name, "", f"row {line.row}", "bar",
                    f"{line.bar} {line.grade} {line.length.text} again", f"once (it is in row {first.row})",
                )
            )  # fmt: skip
            continue
        steps = tuple(sorted((*first.steps, *line.steps)))
        by_bar[key] = replace(first, steps=steps)
    return list(by_bar.values())


# --- on file --------------------------------------------------------------------------------------


def _key(line: PriceLine) -> tuple[str, str, int]:
    return (line.section.key, line.grade, line.length.length.nm)


def _items(session: Session, supplier: Supplier) -> dict[tuple[str, str, int], StockItem]:
    query = (
        select(StockItem).where(StockItem.supplier_id == supplier.id).options(selectinload(StockItem.prices))
    )
    return {(item.section_key, item.grade, item.length.nm): item for item in session.scalars(query)}


def _change(line: PriceLine, item: StockItem | None, currency: str, unit: Unit) -> PriceChange:
    new = _words(line.steps, line.basis, currency, unit)
    if item is None:
        return PriceChange(line, "new", "", new)
    held = prices_in_force(item.prices, line.valid_from)
    if not held:
        return PriceChange(line, "new", "", new)
    steps = tuple((price.break_kg, price.price) for price in held)
    basis = held[0].basis
    old = _words(steps, basis, currency, unit)
    if basis != line.basis:
        return PriceChange(line, "changed", old, new)
    if steps == line.steps:
        return PriceChange(line, "same", old, new)
    first, last = steps[0][1], line.steps[0][1]
    kind = "dearer" if last > first else "cheaper" if last < first else "changed"
    return PriceChange(line, kind, old, new)


def _words(steps: Sequence[tuple[Decimal, Decimal]], basis: str, currency: str, unit: Unit) -> str:
    """Prices with the masses that they begin at, in the shop's own unit.

    >>> _words([(Decimal(0), Decimal("0.92")), (Decimal("907.185"), Decimal("0.80"))], "lb", "USD", "in")
    '0.92, 0.8 from 2000 lb USD a lb'
    """
    parts = []
    for from_kg, price in steps:
        mass = from_kg if unit == "mm" else (from_kg / KG_PER_LB).quantize(Decimal("0.1"))
        begins = f" from {mass.normalize():f} {MASS_UNITS[unit]}" if from_kg else ""
        parts.append(f"{price.normalize():f}{begins}")
    return f"{', '.join(parts)} {currency} a {basis}"


def _store(session: Session, supplier: Supplier, item: StockItem | None, line: PriceLine) -> None:
    if item is None:
        item = StockItem(
            supplier_id=supplier.id, section_key=line.section.key, section_text=line.bar,
            grade=line.grade, length=line.length.length, length_text=line.length.text,
        )  # fmt: skip
        session.add(item)
    for name in ("bundle", "limit", "tolerance"):
        if getattr(line, name) is not None:
            setattr(item, name, getattr(line, name))
    for name in ("standard", "condition", "note"):
        setattr(item, name, getattr(line, name) or getattr(item, name) or "")
    item.tolerance = item.tolerance or ZERO
    same_day = [price for price in item.prices if price.valid_from == line.valid_from]
    for price in same_day:
        item.prices.remove(price)
    if same_day:
        session.flush()  # SQLAlchemy inserts before it deletes: a step of the same day would be there twice
    for from_kg, amount in line.steps:
        item.prices.append(
            StockPrice(price=amount, basis=line.basis, break_kg=from_kg, valid_from=line.valid_from)
        )
