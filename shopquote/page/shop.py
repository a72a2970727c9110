"""The shop's own: its lists, devices, backups, price lists."""

import re
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.bar.usual_moments import USUAL_GRADE, usual_moments
from shopquote.calc.buying.prices import BASES
from shopquote.errors import Fault, InputError, NotFoundError, counted
from shopquote.outputs.books.list_files import write_table
from shopquote.outputs.tables.list_tables import list_table
from shopquote.outputs.tables.order_tables import price_list_lines, price_list_table
from shopquote.outputs.tables.setup_tables import dropped_lines
from shopquote.page.desk import desk
from shopquote.page.door import NAME_OF_THIS, guard
from shopquote.page.papers import download, needed_file, put_aside
from shopquote.reading.cells import cell_text
from shopquote.reading.table_files import read_table
from shopquote.services.buying.price_list import (
    named_columns,
    price_table,
    read_price_list,
    store_price_list,
)
from shopquote.services.buying.price_rows import PRICE_FORM
from shopquote.services.safe.backup import back_up, restore
from shopquote.services.safe.daily import warning_of_old_copy
from shopquote.services.shop.devices import list_devices, throw_out
from shopquote.services.shop.invented_entries import drop_invented, has_invented
from shopquote.services.shop.list_columns import ListTable
from shopquote.services.shop.list_removals import remove_cells
from shopquote.services.shop.lists import find_list, import_list, read_list, set_cells
from shopquote.services.shop.shop_lists import LISTS
from shopquote.services.shop.shop_on_file import bending_shop, count_typed, shop_unit

_DOTTED = re.compile(r"([^\s.]+)\.\S+")
rooms = Blueprint("shop", __name__)
# Rows shown; the rest of a longer list is found by words.
MOST_SHOWN = 500
BACKUP_NAME = "shop.backup"
LIST_ENDINGS = (".csv", ".xlsx")


@rooms.get("/shop")
def lists() -> str:
    """Show links to every list, the devices and the backup."""
    with desk().database.reading() as session:
        counts = {name: len(read_list(session, name).entries) for name in LISTS}
        invented = has_invented(session)
    age = warning_of_old_copy(desk().database)
    return render_template("shop/lists.html", lists=LISTS.values(), counts=counts, age=age, invented=invented)


@rooms.route("/shop/<name>", methods=["GET", "POST"])
def entries(name: str) -> str | Response | tuple[str, int]:
    """Show one list; set or remove an entry by its fields, or import a file."""
    held = desk()
    if request.method == "GET":
        return _entries(name, {}, "")
    if request.form.get("do") == "import":
        flash(_import(name, keep=request.form.get("preview") != "yes"))
        return redirect(url_for("shop.entries", name=name), 303)
    try:
        with held.writing() as session:
            told = _change(session, name)
    except (InputError, NotFoundError) as error:
        # Mistakes are shown at their fields, the others above them.
        columns, told_of = {column.name for column in find_list(name).columns}, getattr(error, "faults", ())
        at = {fault.key: fault.said for fault in told_of if fault.key in columns}
        every = at and len(at) == len(told_of)
        above = f"{counted(len(at), 'field')} cannot be used; nothing was stored." if every else error.message
        return _entries(name, _sent(name, "c"), above, at), 422
    flash(told)
    return redirect(url_for("shop.entries", name=name), 303)


def _entries(name: str, typed: dict[str, str], fault: str, faults: Mapping[str, str] | None = None) -> str:
    """Render the list and its form, filled with what was typed or with the entry that the address names."""
    held, shop_list = desk(), find_list(name)
    find, older = request.args.get("find", "").strip(), request.args.get("all")
    with held.database.reading() as session:
        table = read_list(session, name, on=None if older else held.now().date(), find=find)
        names = _known_names(session, table)
        shop = bending_shop(session) if name == "benders" else None
        unit = shop_unit(session)
        moments = usual_moments(shop.grades, unit) if shop else ()
    wanted = request.args.getlist("key")
    chosen = next((entry for entry in table.entries if wanted and _key_of(table, entry) == wanted), None)
    if chosen is not None and not typed:
        typed = _cells_of(table, chosen)

    def address(entry: Mapping[str, Any]) -> str:
        return url_for(
            "shop.entries", name=name, key=_key_of(table, entry), find=find or None, all=older,
            _anchor="entry",
        )  # fmt: skip

    return render_template(
        "shop/entries.html", list=shop_list, columns=table.columns, typed_in=find,
        rows=list_table(replace(table, entries=table.entries[:MOST_SHOWN])), address=address, typed=typed,
        was=_stands(table, typed) if fault else typed, names=names, fault=fault, faults=faults or {},
        more=len(table.entries) - MOST_SHOWN, moments=moments, unit=unit,
        usual_grade=USUAL_GRADE[unit], groups=_groups(table) if not find else (),
    )  # fmt: skip


def _groups(table: ListTable) -> list[tuple[str, int]]:
    """The parts before the point of names such as bend.angle, with counts; empty if names have none."""
    names = [_DOTTED.fullmatch(str(entry.get("name", ""))) for entry in table.entries]
    counts = Counter(name[1] for name in names if name)
    # "J. Smith" has a point too, but J is no group.
    return sorted(counts.items()) if len(counts) > 1 and all(names) else []


def _key_of(table: ListTable, entry: Mapping[str, Any]) -> list[str]:
    """The columns that identify an entry; all of them where no column is its name (k-rules)."""
    keys = [column for column in table.columns if column.key] or table.columns
    return [cell_text(column.kind.show(entry[column.name], table.notation)) for column in keys]


def _cells_of(table: ListTable, entry: Mapping[str, Any]) -> dict[str, str]:
    """The cells of an entry by column, as text that can be typed again."""
    return {
        column.name: ""
        if entry[column.name] is None
        else cell_text(column.kind.show(entry[column.name], table.notation))
        for column in table.columns
    }


def _known_names(session: Any, table: ListTable) -> dict[str, list[Any]]:
    """For each column that refers to another list, the names on that list."""
    return {
        column.name: [row[0] for row in read_list(session, column.on_list).cells()]
        for column in table.columns
        if column.on_list in LISTS
    }


def _sent(name: str, what: str) -> dict[str, str]:
    """The sent fields by column: with `what` "c" as typed, with "was" as they stood when the form opened."""
    columns = find_list(name).columns
    return {column.name: request.form.get(f"{what}-{column.name}", "").strip() for column in columns}


def _change(session: Any, name: str) -> str:
    """Set or remove the entry in the form's fields; returns words for what was done."""
    today = desk().now().date()
    cells, was = _sent(name, "c"), _sent(name, "was")
    if request.form.get("do") == "remove":
        remove_cells(session, name, {column: text for column, text in cells.items() if text}, on=today)
        return "Removed."
    keys = {column.name for column in find_list(name).columns if column.key}
    # Unchanged cells are not set again; emptied ones are set to nothing.
    given = {
        column: text for column, text in cells.items() if text != was[column] or (text and column in keys)
    }
    if any(was.values()):  # an existing entry was opened
        _refuse_if_changed(session, name, cells, {column: was[column] for column in given})
    if given.keys() <= keys:
        # Saved without a change, on purpose: a starting value then counts as the shop's own.
        given |= {column.name: cells[column.name] for column in find_list(name).columns if column.required}
    done, _ = set_cells(session, name, given, on=today, door="this page")
    return {"added": "Added.", "changed": "Changed.", "kept": "It was so already."}[done]


def _refuse_if_changed(session: Any, name: str, cells: dict[str, str], was: dict[str, str]) -> None:
    """Refuse to overwrite what somebody else changed since the form was opened.

    Raises:
        InputError: one of these columns has changed; the message has its value now.
    """
    stands = _stands(read_list(session, name), cells)
    for column, text in was.items() if stands else ():
        if stands[column] != text:
            raise InputError(
                f"{column.replace('_', ' ')}: somebody changed it meanwhile from {text!r} to "
                f"{stands[column]!r}; nothing was stored. Keep it again if yours is right."
            )


def _stands(table: ListTable, cells: Mapping[str, str]) -> dict[str, str]:
    """The stored cells of the entry that these cells name; empty if there is none."""
    wanted = [cells[column.name] for column in table.columns if column.key]
    for entry in table.entries if wanted else ():
        if _key_of(table, entry) == wanted:
            return _cells_of(table, entry)
    return {}


def _import(name: str, *, keep: bool) -> str:
    held = desk()
    given = needed_file("file", "a .csv or .xlsx file", LIST_ENDINGS)
    with put_aside(given) as path, held.writing() as session:
        result = import_list(session, name, read_table(path), on=held.now().date())
        # A preview is an import that is rolled back, so that it finds every mistake.
        if not keep:
            session.rollback()
    words = f"{result.added} added, {result.changed} changed, {result.same} as they were"
    return words if keep else f"It would be {words}; nothing was stored."


@rooms.get("/shop/<name>/export")
def export(name: str) -> Response:
    """Download a list as a file that can be imported again."""
    with desk().database.reading() as session, tempfile.TemporaryDirectory() as folder:
        table = read_list(session, name)
        headings = [column.name for column in table.columns]
        path = write_table(Path(folder, f"{name}.csv"), find_list(name).title, headings, table.cells())
        return download(path)


@rooms.route("/shop/prices", methods=["GET", "POST"])
def prices() -> str | tuple[str, int]:
    """Read a supplier's price list, whatever its columns: first a preview, then store it."""
    held, form = desk(), request.form
    with held.database.reading() as session:
        suppliers = [entry["name"] for entry in read_list(session, "suppliers").entries]
    if request.method == "GET":
        return _price_page(suppliers)
    given = needed_file("file", "the supplier's price list", LIST_ENDINGS)
    keep, new = form.get("do") == "store", form.get("new_supplier", "").strip()
    supplier = new or form.get("supplier", "")
    headings: tuple[str, ...] = ()
    left_out: list[Fault] | None = [] if form.get("good_rows") == "yes" else None
    try:
        if not supplier:
            raise InputError("Whose list is it? Name the supplier.")
        columns = named_columns([*form.get("columns", "").splitlines(), *_chosen_columns()])
        with put_aside(given) as path, held.writing() if keep else held.database.trial() as session:
            if new and new not in suppliers:
                delivery = form.get("delivery_charge", "").strip()
                cells = {"name": new, **({"delivery_charge": delivery} if delivery else {})}
                set_cells(session, "suppliers", cells, on=held.now().date(), door="page")
            typed = form.get("heading_row", "").strip()
            row = count_typed(session, "Heading row", typed or None)
            sheet = form.get("sheet", "").strip() or None
            table = price_table(session, supplier, path, sheet=sheet, heading_row=row, columns=columns)
            headings = table.headings
            read = read_price_list(
                session, supplier, table, on=held.now().date(), columns=columns, left_out=left_out
            )
            if keep:
                store_price_list(session, read)
                suppliers = sorted({*suppliers, read.supplier})
    except InputError as error:
        # Offer its own headings as choices, so that nobody has to type them.
        return _price_page(suppliers, headings, fault=error), 422
    return _price_page(
        suppliers, headings if _chosen_columns() else (), read=read, stored=keep,
        changes=price_list_table(read), told=price_list_lines(read), left_out=left_out,
    )  # fmt: skip


def _price_page(suppliers: Sequence[str], headings: Sequence[str] = (), **told: Any) -> str:
    words = [column.name for column in PRICE_FORM.columns if column.needed]
    fault = told.get("fault")
    unnamed = [
        one.key for one in getattr(fault, "faults", ()) if one.table == "headings" and one.key in words
    ]
    return render_template(
        "shop/prices.html", suppliers=suppliers, form=request.form, headings=headings, words=words,
        bases=BASES, unnamed=unnamed, **told,
    )  # fmt: skip


def _chosen_columns() -> list[str]:
    """The chosen headings, as the option --column takes them."""
    chosen = ((column.name, request.form.get(f"col-{column.name}", "")) for column in PRICE_FORM.columns)
    return [f"{word}={place}" for word, place in chosen if place]


@rooms.post("/backup")
def backup() -> Response:
    """Download a backup of the whole database."""
    held = desk()
    with tempfile.TemporaryDirectory() as folder:
        back_up(held.url, Path(folder, BACKUP_NAME), at=held.now())
        return download(Path(folder, BACKUP_NAME))


@rooms.post("/restore")
def put_back() -> Response:
    """Restore a backup; the present database is kept aside, and this browser is let in again."""
    held = desk()
    given = needed_file("backup", "a backup")
    if request.form.get("replace") != "yes":
        raise InputError("Nothing was changed: say that it takes the place of what is here.")
    with put_aside(given) as path, held.replacing():
        done = restore(path, held.url or held.database.name, replace=True)
    told = [f"{done.rows:,} rows and {done.certificates} certificates are back."]
    if done.kept is not None:
        told.append(f"What was here is kept as {done.kept.name}.")
    if done.faults:
        told.append(f"The check finds {done.faults} faults in it: shopquote db check.")
    flash(" ".join(told))
    # The backup has the devices of its own day, so this browser may not be among them.
    return guard().open_for("office", NAME_OF_THIS, url_for("shop.lists"))


@rooms.post("/invented")
def drop() -> Response:
    """Remove every invented supplier, bar and bender, so that no figure rests on one."""
    with desk().writing() as session:
        dropped = drop_invented(session)
    flash(" ".join(dropped_lines(dropped)))
    return redirect(url_for("shop.lists"), 303)


@rooms.get("/devices")
def devices() -> str:
    """List the devices that are let in, with buttons for codes for others."""
    return _devices("", "")


@rooms.post("/devices")
def let_in() -> str | Response:
    """Make a new code, or remove a device."""
    held = desk()
    if request.form.get("do") == "throw-out":
        with held.writing() as session:
            throw_out(session, request.form.get("device", 0, int))
        return redirect(url_for("shop.devices"), 303)
    role = "office" if request.form.get("role") == "office" else "floor"
    return _devices(guard().codes.new_code(role), role)


def _devices(code: str, role: str) -> str:
    held = desk()
    with held.database.reading() as session:
        found = list_devices(session, at=held.now())
    return render_template("devices.html", devices=found, code=code, role=role, addresses=held.addresses)
