"""Remove an entry of one of the shop's lists that nothing refers to, or retire one that is referred to.

Begin at `remove_entry` and `retire_entry`.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from shopquote.errors import Fault, InputError, NotFoundError
from shopquote.reading.cells import cell_text
from shopquote.services.shop.list_columns import ListTable, OpenList, ShopList, Values, comparable
from shopquote.services.shop.lists import cells_of_words, find_list, read_given, set_cells
from shopquote.services.shop.references import references


def remove_entry(session: Session, name: str, words: Sequence[str], *, on: date) -> ListTable:
    """Delete one entry; the words must match exactly one.

    Returns:
        The entry that is gone.

    Raises:
        InputError: a word cannot be used, the entry is referred to, or this list's entries cannot be removed.
        NotFoundError: no entry matches, or several do.
    """
    return remove_cells(session, name, cells_of_words(find_list(name), words), on=on)


def remove_cells(session: Session, name: str, cells: Mapping[str, str], *, on: date) -> ListTable:
    """Like `remove_entry`, from cells by column.

    Raises:
        InputError: a cell cannot be used, the entry is referred to, or this list's entries cannot be removed.
        NotFoundError: no entry matches, or several do.
    """
    shop_list = find_list(name)
    if not shop_list.removable:
        raise InputError(f"An entry of {name} is not removed: the program asks for each of them.")
    opened = shop_list.begin(session, on)
    given = _read_words(shop_list, cells, opened)
    found = [
        row
        for row in opened.rows.values()
        if all(comparable(shop_list.values_of(row)[column]) == given[column] for column in given)
    ]
    records = shop_list.records_of(found) if found else ()
    if len(records) != 1:
        how_many = f"{len(found)} entries have" if found else f"No {shop_list.one} has"
        raise NotFoundError(
            f"{how_many} these words; nothing was removed.",
            hint=f"See them with: shopquote {name} list; name one by COLUMN=VALUE.",
        )
    gone = ListTable(name, shop_list.columns, (shop_list.values_of(found[0]),), opened.notation)
    _refuse_if_used(session, shop_list, records[0], gone)
    session.delete(records[0])
    session.flush()
    return gone


def _refuse_if_used(session: Session, shop_list: ShopList, record: Any, entry: ListTable) -> None:
    """Refuse to delete an entry that something on file refers to.

    Raises:
        InputError: it must stay; the hint says how to retire it.
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
    """Keep an entry on old papers but let nothing new use it; `set ... retired=no` undoes it.

    Returns "retired" or "kept", and the entry as it is now.

    Raises:
        InputError: a word cannot be used, or this list's entries cannot be retired.
        NotFoundError: no entry has these words, or no list this name.
    """
    shop_list = find_list(name)
    if not shop_list.retirable:
        raise InputError(f"An entry of {name} is not retired.", hint=f"See: shopquote {name} remove --help")
    cells = cells_of_words(shop_list, words)
    opened = shop_list.begin(session, on)
    given: Values = {}
    faults: list[Fault] = []
    if all(column.name in cells for column in shop_list.columns if column.key):
        given = read_given(shop_list, opened, cells, faults, ("command line", name, ""))
    if not faults and (not given or shop_list.complete(opened, given)[0] is None):
        raise NotFoundError(
            f"No {shop_list.one} has these words; nothing was retired.", hint=f"See: shopquote {name} list"
        )
    done, table = set_cells(session, name, {**cells, "retired": "yes"}, on=on)
    return "retired" if done == "changed" else done, table


def _read_words(shop_list: ShopList, cells: Mapping[str, str], opened: OpenList) -> Values:
    """Comparable values of the given cells by column; an empty cell stands for the column's usual value.

    Raises:
        InputError: with every fault of the cells.
    """
    faults: list[Fault] = []
    given = read_given(shop_list, opened, cells, faults, ("command line", shop_list.name, ""))
    if faults:
        raise InputError.from_faults(faults)
    usual = shop_list.usual_values()
    return {name: usual[name] if value is None else comparable(value) for name, value in given.items()}
