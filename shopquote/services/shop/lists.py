"""Read, change and import entries of the shop's lists; `list_removals` removes and retires them.

A column's name is its heading in files, its key in JSON and its word on the command line. The lists are in
`shop_lists`; begin at `read_list` and `set_entry`.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.frozen import dataclass
from shopquote.calc.spelling import folded
from shopquote.errors import Fault, InputError, Misread, NotFoundError, nearest_word
from shopquote.reading.cells import Cell, cell_text
from shopquote.reading.forms import FormColumn
from shopquote.reading.kinds import Notation, Typed, fault_of
from shopquote.reading.table_files import FileTable
from shopquote.services.shop.list_columns import (
    Key,
    ListTable,
    OpenList,
    ShopList,
    Values,
    short_text,
)
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import notation_of, the_shop

# Faults reported of one file: with more, its columns are wrong and the rest would repeat the same.
MOST_FAULTS = 200

# Where a fault is: file, table, and mark or row.
Place = tuple[str, str, str]


@dataclass(frozen=True)
class Imported:
    """Numbers of entries that an import added, changed and left as they were; faults of rows it left out."""

    added: int
    changed: int
    same: int
    left_out: tuple[Fault, ...] = ()


def find_list(name: str) -> ShopList:
    """The list with this name.

    Raises:
        NotFoundError: there is none; the message names the nearest.
    """
    found = LISTS.get(name)
    if found is None:
        near = nearest_word(name, LISTS)
        raise NotFoundError(f"There is no list {name!r}.", hint=f"Did you mean {near!r}?" if near else None)
    return found


def read_list(session: Session, name: str, *, on: date | None = None, find: str = "") -> ListTable:
    """A list as it stands; `on` keeps what applies on that day, `find` entries that contain all its words.

    Raises:
        NotFoundError: no list has this name.
        DatabaseError: the shop was never set up.
    """
    shop_list = find_list(name)
    notation = notation_of(the_shop(session))
    entries = tuple(shop_list.entries(session, on))
    if find:
        words = folded(find).split()
        entries = tuple(entry for entry in entries if _has_words(shop_list, entry, words, notation))
    return ListTable(name, shop_list.columns, entries, notation)


def set_entry(session: Session, name: str, words: Sequence[str], *, on: date) -> tuple[str, ListTable]:
    """Add or change one entry from words such as `Orla email=orla@home.example`.

    Values of the key columns come first, in their order; then COLUMN=VALUE. Columns not named keep their
    value.

    Returns:
        "added", "changed" or "kept", and the entry as it is now.

    Raises:
        InputError: a word cannot be used; nothing was stored.
        NotFoundError: no list has this name.
    """
    return set_cells(session, name, cells_of_words(find_list(name), words), on=on)


def set_cells(
    session: Session, name: str, cells: Mapping[str, str], *, on: date, door: str = "command line"
) -> tuple[str, ListTable]:
    """Like `set_entry`, from cells by column; `door` says in messages where they were typed.

    Raises:
        InputError: a cell cannot be used; nothing was stored.
        NotFoundError: no list has this name.
    """
    shop_list = find_list(name)
    opened = shop_list.begin(session, on)
    opened.single = True
    faults: list[Fault] = []
    entry = _read_cells(shop_list, opened, cells, faults, (door, name, ""))
    if entry is None:
        raise InputError.from_faults(faults)
    done, row = _store(shop_list, opened, *entry)
    session.flush()
    return done, ListTable(name, shop_list.columns, (shop_list.values_of(row),), opened.notation)


def read_given(
    shop_list: ShopList, opened: OpenList, cells: Mapping[str, str], faults: list[Fault], place: Place
) -> Values:
    """Values of the columns that have a cell; names take their spelling on file. Faults are added to
    `faults`.
    """
    given: Values = {}
    for column in shop_list.columns:
        text = cells.get(column.name)
        if text is None:
            continue
        try:
            value = shop_list.kind(opened, given, column).read(text, shop_list.notation(opened, given))
            given[column.name] = opened.in_words_on_file(column, value)
        except Misread as error:
            if not shop_list.stands_so(opened, given, column, text):
                faults.append(fault_of(error, *place, column.name))
    # One spelling per name, also among new entries of one file: the first one met.
    if name := given.get("name"):
        given["name"] = shop_list.own_names(opened).setdefault(shop_list.columns[0].kind.key(name), name)
    return given


def import_list(
    session: Session, name: str, table: FileTable, *, on: date, good_rows: bool = False
) -> Imported:
    """Add and change entries from a file; entries that it does not name stay as they are.

    Args:
        session: open and writing; the caller commits.
        name: one of `LISTS`.
        table: the file's rows; columns that it lacks keep their values.
        on: the day from which a price or rate without a day of its own applies.
        good_rows: leave out rows with a fault, return their faults, and store the others.

    Raises:
        InputError: with every fault of the rows or headings; the caller stores nothing.
        NotFoundError: no list has this name.
    """
    shop_list = find_list(name)
    faults: list[Fault] = []
    headings = _match_headings(shop_list, table, faults)
    if faults and good_rows:
        raise InputError.from_faults(faults[:MOST_FAULTS])
    opened = shop_list.begin(session, on)
    entries_known = all(column.name in headings.values() for column in shop_list.columns if column.key)
    read = _read_rows(shop_list, opened, table, headings, faults, good_rows) if entries_known else []
    if faults and not (good_rows and read):
        raise InputError.from_faults(faults[:MOST_FAULTS])
    done = [_store(shop_list, opened, *entry)[0] for entry in read]
    session.flush()
    return Imported(done.count("added"), done.count("changed"), done.count("kept"), tuple(faults))


def _read_rows(
    shop_list: ShopList,
    opened: OpenList,
    table: FileTable,
    headings: Mapping[str, str],
    faults: list[Fault],
    good_rows: bool,
) -> list[tuple[Any, Values]]:
    """The entries of a file's rows; a second row with the same key is a fault. Stops at `MOST_FAULTS`."""
    read: list[tuple[Any, Values]] = []
    first_row: dict[Key, int] = {}
    for row in table.rows:
        cells = {headings[name]: text for name, text in row.cells.items() if name in headings}
        mark = f"row {row.number}"
        entry = _read_cells(shop_list, opened, cells, faults, (str(table.path), shop_list.name, mark))
        if entry is not None:
            first = first_row.setdefault(shop_list.key_of(entry[1]), row.number)
            if first == row.number:
                read.append(entry)
            else:
                found = f"the same {shop_list.one} as row {first}"
                faults.append(Fault(str(table.path), shop_list.name, mark, "", found, "one row for each"))
        if len(faults) >= MOST_FAULTS and not good_rows:
            break
    return read


def _store(shop_list: ShopList, opened: OpenList, row: Any, values: Values) -> tuple[str, Any]:
    """Store an entry, and return "added", "changed" or "kept" with its row.

    Compared as shown, not as values: the same length typed in another unit is no change.
    """
    if row is None:
        row = shop_list.add(opened, values)
        opened.rows[shop_list.key_of(values)] = row
        shop_list.finish(opened, values, row)
        return "added", row
    old = shop_list.values_of(row)
    if _shown(shop_list, old, opened.notation) == _shown(shop_list, values, opened.notation):
        return "kept", row
    shop_list.change(opened, row, values)
    shop_list.finish(opened, values, row)
    return "changed", row


def _read_cells(
    shop_list: ShopList, opened: OpenList, cells: Mapping[str, str], faults: list[Fault], place: Place
) -> tuple[Any, Values] | None:
    """The entry's row (None if new) and the values of all columns, or None if a cell has a fault.

    A column without a cell keeps its value on file; a new entry takes the usual one.
    """
    before = len(faults)
    for column in shop_list.columns:
        if column.key and column.name not in cells:
            faults.append(Fault(*place, column.name, "nothing", column.kind.expected))
    given = read_given(shop_list, opened, cells, faults, place)
    if len(faults) > before:
        return None
    row, values = shop_list.complete(opened, given)
    for column in shop_list.columns:
        if column.required and row is None and column.name not in given:
            faults.append(Fault(*place, column.name, "nothing", column.kind.expected))
    if len(faults) > before:
        return None  # `check` compares columns with one another, so it needs all of them
    for name, found, expected, nearest in shop_list.check(opened, values):
        faults.append(Fault(*place, name, found, expected, nearest))
    return (row, values) if len(faults) == before else None


def _match_headings(shop_list: ShopList, table: FileTable, faults: list[Fault]) -> dict[str, str]:
    """Column names by heading as typed, whatever its case, blanks and underscores; faults go to `faults`."""
    matched: dict[str, str] = {}
    meant: dict[str, str | None] = {}
    for heading in table.headings:
        column = shop_list.form.named(heading)
        name = "" if column is None else column.name
        if not name:
            names = shop_list.form.headings
            found = f"a column {short_text(heading)}"
            nearest = nearest_word(heading, names)
            faults.append(_heading_fault(shop_list, table, "", found, "only " + ", ".join(names), nearest))
            meant[heading] = nearest
        elif name in matched.values():
            faults.append(_heading_fault(shop_list, table, name, "two such columns", "one"))
        else:
            matched[heading] = name
    for heading, near in meant.items():
        # The file is refused for this heading; reading its column by the nearest name tells faults below it
        # too.
        if near is not None and near not in matched.values():
            matched[heading] = near
    for column in shop_list.columns:
        if column.key and column.name not in matched.values():
            faults.append(
                _heading_fault(shop_list, table, column.name, "no such column", column.kind.expected)
            )
    return matched


def _heading_fault(
    shop_list: ShopList, table: FileTable, name: str, found: str, expected: str, nearest: str | None = None
) -> Fault:
    return Fault(str(table.path), shop_list.name, "first row", name, found, expected, nearest)


def cells_of_words(shop_list: ShopList, words: Sequence[str]) -> dict[str, str]:
    """Cells by column, from words COLUMN=VALUE and from plain words in the order of `placed` or the key
    columns.
    """
    keys = [column.name for column in shop_list.columns if column.key]
    cells: dict[str, str] = {}
    plain: list[str] = []
    for word in words:
        name, equals, text = word.partition("=")
        if equals and (column := shop_list.form.named(name)):
            cells[column.name] = text
        # A name may contain an equals sign: until all key columns have a word, this is one of theirs.
        elif equals and len(plain) >= len(keys):
            raise _no_such_column(shop_list, name, shop_list.form.headings)
        else:
            plain.append(word)
    return cells | _placed(shop_list, keys, plain, cells)


def _placed(
    shop_list: ShopList, keys: Sequence[str], plain: Sequence[str], cells: Mapping[str, str]
) -> dict[str, str]:
    order = shop_list.placed or keys
    places = [name for name in order if name not in cells]
    if len(plain) > len(places):
        raise InputError(
            f"{short_text(plain[len(places)])} cannot be placed.",
            hint=f"The words are: {' '.join(map(str.upper, order))} COLUMN=VALUE ...; with blanks in quotes.",
        )
    return dict(zip(places, plain, strict=False))


def _no_such_column(shop_list: ShopList, name: str, names: Sequence[str]) -> InputError:
    near = nearest_word(name, names)
    return InputError(
        f"{name!r} is not a column of {shop_list.name}; expected one of {', '.join(names)}.",
        hint=f"Did you mean {near!r}?" if near else None,
    )


def _has_words(shop_list: ShopList, entry: Values, words: Sequence[str], notation: Notation) -> bool:
    text = folded(" ".join(_searched(column, entry[column.name], notation) for column in shop_list.columns))
    return all(word in text for word in words)


def _searched(column: FormColumn, value: Any, notation: Notation) -> str:
    # Searched as typed: formatting every length and bar of a price list would take seconds.
    if isinstance(value, Typed) and value.text:
        return value.text
    return cell_text(column.kind.show(value, notation))


def _shown(shop_list: ShopList, values: Values, notation: Notation) -> list[Cell]:
    return [column.kind.show(values[column.name], notation) for column in shop_list.columns]
