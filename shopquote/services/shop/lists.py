"""The shop's own lists: read one, set one entry, import a file.

A column's name is its heading in files, its key in JSON and its word on the command
line. The lists are in `shop_lists`.
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
    Shelf,
    ShopList,
    Values,
    comparable,
    short_text,
)
from shopquote.services.shop.references import references
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import notation_of, the_shop

MOST_FAULTS = 200  # a file with so many has the wrong columns: the rest would say the same

# File, table, and mark or row of a fault.
Place = tuple[str, str, str]


@dataclass(frozen=True)
class Imported:
    """What an import did: entries added, changed, and left as they were; mistakes of rows left out."""

    added: int
    changed: int
    same: int
    left_out: tuple[Fault, ...] = ()


def find_list(name: str) -> ShopList:
    """The list of a name.

    Raises:
        NotFoundError: there is none; the nearest is told.
    """
    found = LISTS.get(name)
    if found is None:
        near = nearest_word(name, LISTS)
        raise NotFoundError(f"There is no list {name!r}.", hint=f"Did you mean {near!r}?" if near else None)
    return found


def read_list(session: Session, name: str, *, on: date | None = None, find: str = "") -> ListTable:
    """A list as it stands; with `on` what counts on that day, with `find` entries with those words.

    Raises:
        DatabaseError: the shop was never set up, so that no list holds anything.
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

    The words that name the entry come first, in the order of the key columns; then
    COLUMN=VALUE. What is not given stays as it is.

    Returns:
        "added", "changed" or "kept", and the entry as it is now.

    Raises:
        InputError: a word cannot be used; nothing was stored.
    """
    return set_cells(session, name, _cells_of_words(find_list(name), words), on=on)


def set_cells(
    session: Session, name: str, cells: Mapping[str, str], *, on: date, door: str = "command line"
) -> tuple[str, ListTable]:
    """Add or change one entry from its cells by column; `door` is where they were typed. See `set_entry`."""
    shop_list = find_list(name)
    shelf = shop_list.begin(session, on)
    faults: list[Fault] = []
    entry = _read_cells(shop_list, shelf, cells, faults, (door, name, ""))
    if entry is None:
        raise InputError.from_faults(faults)
    done, row = _store(shop_list, shelf, *entry)
    session.flush()
    return done, ListTable(name, shop_list.columns, (shop_list.values_of(row),), shelf.notation)


def remove_entry(session: Session, name: str, words: Sequence[str], *, on: date) -> ListTable:
    """Take one entry off a list; the words say which, as many of them as it takes.

    Returns:
        The entry that is gone.

    Raises:
        InputError: a word cannot be used, or entries of this list stay.
        NotFoundError: no entry has these words, or several have.
    """
    return remove_cells(session, name, _cells_of_words(find_list(name), words), on=on)


def remove_cells(session: Session, name: str, cells: Mapping[str, str], *, on: date) -> ListTable:
    """Take off the one entry that has these cells; `NotFoundError` and `InputError` as of `remove_entry`."""
    shop_list = find_list(name)
    if not shop_list.removable:
        raise InputError(f"An entry of {name} is not removed: the program asks for each of them.")
    shelf = shop_list.begin(session, on)
    given = _read_words(shop_list, cells, shelf)
    found = [
        row
        for row in shelf.rows.values()
        if all(comparable(shop_list.values_of(row)[column]) == given[column] for column in given)
    ]
    records = shop_list.records_of(found) if found else ()
    if len(records) != 1:
        how_many = f"{len(found)} entries have" if found else f"No {shop_list.one} has"
        raise NotFoundError(
            f"{how_many} these words; nothing was removed.",
            hint=f"See them with: shopquote {name} list; name one by COLUMN=VALUE.",
        )
    gone = ListTable(name, shop_list.columns, (shop_list.values_of(found[0]),), shelf.notation)
    _refuse_if_used(session, shop_list, records[0], gone)
    session.delete(records[0])
    session.flush()
    return gone


def _refuse_if_used(session: Session, shop_list: ShopList, record: Any, entry: ListTable) -> None:
    """Refuse to take off what something on file refers to.

    Raises:
        InputError: it must stay; how to retire it is told.
    """
    if why := shop_list.why_kept(record):
        raise InputError(f"This {shop_list.one} is not removed: {why}.")
    users = references(session, record, shop_list.named_in)
    if not users:
        return
    cells = zip(shop_list.columns, next(iter(entry.cells())), strict=True)
    words = " ".join(f'"{cell_text(cell)}"' for column, cell in cells if column.key)
    hint = f"Retired, old papers keep it and nothing new uses it: shopquote {shop_list.name} retire {words}"
    raise InputError(
        f"This {shop_list.one} is not removed: it stands in {', '.join(users)}.",
        hint=hint if shop_list.retirable else None,
    )


def retire_entry(session: Session, name: str, words: Sequence[str], *, on: date) -> tuple[str, ListTable]:
    """Let nothing new use an entry; papers on file keep it. `set ... retired=no` brings it back.

    Returns "retired" or "kept", and the entry as it is now.

    Raises:
        InputError: a word cannot be used, or entries of this list are removed instead.
        NotFoundError: no entry has these words.
    """
    shop_list = find_list(name)
    if not shop_list.retirable:
        raise InputError(f"An entry of {name} is not retired.", hint=f"See: shopquote {name} remove --help")
    cells = _cells_of_words(shop_list, words)
    shelf = shop_list.begin(session, on)
    given: Values = {}
    faults: list[Fault] = []
    if all(column.name in cells for column in shop_list.columns if column.key):
        given = _read_given(shop_list, shelf, cells, faults, ("command line", name, ""))
    if not faults and (not given or shop_list.complete(shelf, given)[0] is None):
        raise NotFoundError(
            f"No {shop_list.one} has these words; nothing was retired.", hint=f"See: shopquote {name} list"
        )
    done, table = set_cells(session, name, {**cells, "retired": "yes"}, on=on)
    return "retired" if done == "changed" else done, table


def _read_words(shop_list: ShopList, cells: Mapping[str, str], shelf: Shelf) -> Values:
    """The values of cells by column, comparable; a mistake ends in one message."""
    faults: list[Fault] = []
    given = _read_given(shop_list, shelf, cells, faults, ("command line", shop_list.name, ""))
    if faults:
        raise InputError.from_faults(faults)
    usual = shop_list.usual_values()
    return {name: usual[name] if value is None else comparable(value) for name, value in given.items()}


def _read_given(
    shop_list: ShopList, shelf: Shelf, cells: Mapping[str, str], faults: list[Fault], place: Place
) -> Values:
    """The values of the columns that have a cell, names in the words that are on file."""
    given: Values = {}
    for column in shop_list.columns:
        text = cells.get(column.name)
        if text is None:
            continue
        try:
            given[column.name] = shelf.in_words_on_file(column, column.kind.read(text, shelf.notation))
        except Misread as error:
            if not shop_list.stands_so(shelf, given, column, text):
                faults.append(fault_of(error, *place, column.name))
    if name := given.get("name"):  # One spelling for a name, also among new entries of one file.
        given["name"] = shop_list.own_names(shelf).setdefault(shop_list.columns[0].kind.key(name), name)
    return given


def import_list(
    session: Session, name: str, table: FileTable, *, on: date, good_rows: bool = False
) -> Imported:
    """Add and change entries from a file; entries that it does not name stay as they are.

    Args:
        session: open and writing; the caller commits.
        name: one of `LISTS`.
        table: the file's rows; it may lack columns, which then stay as they are.
        on: the day that a price or rate without a day counts from.
        good_rows: rows with a mistake are left out and told, and the others stored.

    Raises:
        InputError: with every fault of every row, or of the headings; the caller stores nothing.
    """
    shop_list = find_list(name)
    faults: list[Fault] = []
    headings = _match_headings(shop_list, table, faults)
    if faults and good_rows:
        raise InputError.from_faults(faults[:MOST_FAULTS])
    shelf = shop_list.begin(session, on)
    entries_known = all(column.name in headings.values() for column in shop_list.columns if column.key)
    read = _read_rows(shop_list, shelf, table, headings, faults, good_rows) if entries_known else []
    if faults and not (good_rows and read):
        raise InputError.from_faults(faults[:MOST_FAULTS])
    done = [_store(shop_list, shelf, *entry)[0] for entry in read]
    session.flush()
    return Imported(done.count("added"), done.count("changed"), done.count("kept"), tuple(faults))


def _read_rows(
    shop_list: ShopList,
    shelf: Shelf,
    table: FileTable,
    headings: Mapping[str, str],
    faults: list[Fault],
    good_rows: bool,
) -> list[tuple[Any, Values]]:
    """The entries of a file's rows, each once; reading ends early where enough mistakes are told."""
    read: list[tuple[Any, Values]] = []
    first_row: dict[Key, int] = {}
    for row in table.rows:
        cells = {headings[name]: text for name, text in row.cells.items() if name in headings}
        mark = f"row {row.number}"
        entry = _read_cells(shop_list, shelf, cells, faults, (str(table.path), shop_list.name, mark))
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


def _store(shop_list: ShopList, shelf: Shelf, row: Any, values: Values) -> tuple[str, Any]:
    if row is None:
        row = shop_list.add(shelf, values)
        shelf.rows[shop_list.key_of(values)] = row
        shop_list.finish(shelf, values, row)
        return "added", row
    old = shop_list.values_of(row)
    if _shown(shop_list, old, shelf.notation) == _shown(shop_list, values, shelf.notation):
        return "kept", row
    shop_list.change(shelf, row, values)
    shop_list.finish(shelf, values, row)
    return "changed", row


def _read_cells(
    shop_list: ShopList, shelf: Shelf, cells: Mapping[str, str], faults: list[Fault], place: Place
) -> tuple[Any, Values] | None:
    """The entry's row, or None, and the values of all its columns: given, else on file, else usual."""
    before = len(faults)
    for column in shop_list.columns:
        if column.key and column.name not in cells:
            faults.append(Fault(*place, column.name, "nothing", column.kind.expected))
    given = _read_given(shop_list, shelf, cells, faults, place)
    if len(faults) > before:
        return None
    row, values = shop_list.complete(shelf, given)
    for column in shop_list.columns:
        if column.required and row is None and column.name not in given:
            faults.append(Fault(*place, column.name, "nothing", column.kind.expected))
    if len(faults) > before:
        return None  # what holds between columns is looked at when all of them are there
    for name, found, expected, nearest in shop_list.check(shelf, values):
        faults.append(Fault(*place, name, found, expected, nearest))
    return (row, values) if len(faults) == before else None


def _match_headings(shop_list: ShopList, table: FileTable, faults: list[Fault]) -> dict[str, str]:
    """Heading as typed -> column's name; case, blanks and lines do not matter."""
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
        # Nothing will be stored; the cells below are read as what was meant, to tell their mistakes too.
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


def _cells_of_words(shop_list: ShopList, words: Sequence[str]) -> dict[str, str]:
    """Cells by column: of COLUMN=VALUE words, and of plain ones in the order of the key columns."""
    keys = [column.name for column in shop_list.columns if column.key]
    cells: dict[str, str] = {}
    plain: list[str] = []
    for word in words:
        name, equals, text = word.partition("=")
        if equals and (column := shop_list.form.named(name)):
            cells[column.name] = text
        # A name may hold an equals sign: while words that name the entry are lacking, it is one of them.
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
    # What was typed is at hand; working out how it is shown would cost a long list seconds.
    if isinstance(value, Typed) and value.text:
        return value.text
    return cell_text(column.kind.show(value, notation))


def _shown(shop_list: ShopList, values: Values, notation: Notation) -> list[Cell]:
    return [column.kind.show(values[column.name], notation) for column in shop_list.columns]
