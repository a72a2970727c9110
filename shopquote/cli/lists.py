"""The shop's own lists: `list`, `set`, `import` and `export` for each, `remove` and `retire` for some."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.list_lines import LIST_LINES
from shopquote.cli.options import (
    DbOption,
    GoodRowsOption,
    JsonOption,
    ReplaceOption,
    argument,
    flag,
    option,
    print_json,
    reading,
    tell_left_out,
    writing,
)
from shopquote.cli.rate import work_out
from shopquote.services.shop.clock import now

# An example of `set` for each list, shown in its help.
EXAMPLES = {
    "stock": 'set "Quillmoor Bar Yard (invented)" "round 12" S275 "6 m" price=1.22 basis=kg',
    "suppliers": 'set "Tarnside Section Supply (invented)" delivery_charge=20',
    "customers": 'set "Orla Fennimore" email=orla@home.example',
    "rates": "set rate.welding 54 since=2026-04-01",
    "benders": 'set "hand bender, bench" largest_moment_nm=280',
    "people": 'set Ebba 38 days=5 operations="welding, fit-up"',
    "days-off": 'set 2026-12-24 2027-01-03 note="closed"',
    "bend-tests": 'set 2026-03-02 "round 12" S275 "24 mm" 90 flat_length=295.1 leg_1=160 leg_2=160',
    "k-rules": 'set "fixed K" k=0.42 grade=S275 section_kind=flat source="our own strip"',
    "grades": "set S275 min_radius_ratio=1.5",
    "saws": 'set "band saw" kerf="1.3 mm"',
    "taxes": "set VAT 20 default=yes",
    "house": "set minimum_order 90",
}

# The lists with `retire` and with `remove`; a test compares both with the lists of the services.
RETIRABLE = ("stock", "benders", "customers", "suppliers", "grades", "saws", "taxes")
REMOVABLE = (*RETIRABLE, "rates", "people", "days-off", "bend-tests", "k-rules")

FindOption = Annotated[str, option("--find", "WORDS", "Only entries that contain these words.")]
AllOption = Annotated[bool, flag("--all", "Also past and future prices and rates.")]
PreviewOption = Annotated[bool, flag("--preview", "Show what would change; store nothing.")]


def register(app: typer.Typer) -> None:
    """Add a group for each list to the root."""
    for name, help_line in LIST_LINES.items():
        app.add_typer(_group(name, help_line, EXAMPLES[name]), name=name)


def _group(name: str, help_line: str, example: str) -> typer.Typer:
    group = typer.Typer(no_args_is_help=True, help=help_line)
    group.command("list", help=f"Show the list. {help_line}")(_list_command(name))
    group.command("set", help=f"Add or change one entry: shopquote {name} {example}")(_set_command(name))
    group.command("import", help="Add and change entries from a CSV or xlsx file: all of its rows, or none.")(
        _import_command(name)
    )
    group.command("export", help="Write the whole list to a CSV or xlsx file that can be imported again.")(
        _export_command(name)
    )
    if name == "rates":
        group.command("work-out")(work_out)
    if name in REMOVABLE:
        group.command("remove", help="Remove an entry that nothing on file refers to.")(_remove_command(name))
    if name in RETIRABLE:
        group.command("retire", help="Retire an entry: old papers keep it, nothing new uses it.")(
            _retire_command(name)
        )
    return group


def _list_command(name: str) -> Callable[..., None]:
    def show(
        find: FindOption = "", every: AllOption = False, db: DbOption = None, as_json: JsonOption = False
    ) -> None:
        from shopquote.outputs.tables.list_tables import show_list
        from shopquote.services.shop.lists import read_list

        with reading(db) as session:
            table = read_list(session, name, on=None if every else now().date(), find=find)
        show_list(table, as_json=as_json)

    return show


def _set_command(name: str) -> Callable[..., None]:
    def set_words(
        words: Annotated[
            list[str],
            argument(
                "NAME... COLUMN=VALUE...",
                "The entry's name, then the columns to set; `list` shows both.",
            ),
        ],
        db: DbOption = None,
        as_json: JsonOption = False,
    ) -> None:
        from shopquote.outputs.tables.list_tables import show_set
        from shopquote.services.shop.lists import set_entry

        with writing(db) as session:
            done, table = set_entry(session, name, words, on=now().date())
        show_set(done, table, as_json=as_json)

    return set_words


def _remove_command(name: str) -> Callable[..., None]:
    def remove_words(
        words: Annotated[
            list[str],
            argument(
                "NAME... COLUMN=VALUE...",
                "The entry's name, with as many columns as it takes to tell it from others.",
            ),
        ],
        db: DbOption = None,
        as_json: JsonOption = False,
    ) -> None:
        from shopquote.outputs.tables.list_tables import show_set
        from shopquote.services.shop.list_removals import remove_entry

        with writing(db) as session:
            table = remove_entry(session, name, words, on=now().date())
        show_set("removed", table, as_json=as_json)

    return remove_words


def _retire_command(name: str) -> Callable[..., None]:
    def retire_words(
        words: Annotated[list[str], argument("NAME...", "The entry's name, as `list` shows it.")],
        db: DbOption = None,
        as_json: JsonOption = False,
    ) -> None:
        from shopquote.outputs.tables.list_tables import show_set
        from shopquote.services.shop.list_removals import retire_entry

        with writing(db) as session:
            done, table = retire_entry(session, name, words, on=now().date())
        show_set(done, table, as_json=as_json)

    return retire_words


def _import_command(name: str) -> Callable[..., None]:
    def import_file(
        file: Annotated[Path, argument("FILE", "A .csv or .xlsx file; its first row names the columns.")],
        preview: PreviewOption = False,
        good_rows: GoodRowsOption = False,
        db: DbOption = None,
        as_json: JsonOption = False,
    ) -> None:
        from shopquote.outputs.tables.list_tables import show_imported
        from shopquote.reading.table_files import read_table
        from shopquote.services.shop.lists import import_list

        table = read_table(file)
        with writing(db) as session:
            result = import_list(session, name, table, on=now().date(), good_rows=good_rows)
            if preview:
                session.rollback()
        show_imported(name, result, preview=preview, as_json=as_json)
        if not as_json:
            tell_left_out(result.left_out)

    return import_file


def _export_command(name: str) -> Callable[..., None]:
    def export(
        file: Annotated[Path, argument("FILE", "File to write; ends in .csv or .xlsx.")],
        db: DbOption = None,
        replace: ReplaceOption = False,
        as_json: JsonOption = False,
    ) -> None:
        from shopquote.outputs.books.list_files import write_table
        from shopquote.outputs.tables.show import print_files
        from shopquote.services.shop.lists import find_list, read_list

        with reading(db) as session:
            table = read_list(session, name)
        headings = [column.name for column in table.columns]
        path = write_table(file, find_list(name).title, headings, table.cells())
        if as_json:
            print_json({"files": [path], "rows": len(table.entries)})
        else:
            print_files([path])

    return export
