r"""Export of everything in the database as open tables, so that a shop can leave this program; and import.

An export is a zip file: `description.json` (program, schema, and for every table its columns with the kind of
each), one UTF-8 CSV file per table, and `certificates/`. Lengths are in millimetres, amounts and numbers are
decimals, days read 2026-03-02, moments are in UTC, lists are JSON, pictures base64; an unknown value is
`\\N`, as in PostgreSQL's COPY. Imported into a new SQLite or PostgreSQL database, it exports to the same
tables again.
"""

import base64
import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Connection, Date, Integer, LargeBinary, MetaData, Table, select
from sqlalchemy import exc as sql_errors

from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import is_obeyed, plain_ends, shown
from shopquote.errors import DatabaseError, InputError
from shopquote.files import bring_in, refuse_unless_free, set_aside
from shopquote.reading.files import refuse_unless_file, refuse_zip_bomb
from shopquote.records.columns import LengthColumn, MoneyColumn, NumberColumn
from shopquote.records.engine import READING, count_on, make_engine
from shopquote.records.schema import make_tables, newest_version
from shopquote.records.tables import metadata
from shopquote.services.safe.backup import BROKEN_ZIP
from shopquote.services.safe.checks.texts import may_hold_typed_text
from shopquote.services.shop.database import open_database, refuse_newer_schema, upgrade_database
from shopquote.services.shop.database_places import certificate_folder, database_url, sqlite_path
from shopquote.services.shop.driver_errors import driver_errors_in_words

DESCRIPTION = "description.json"
CERTIFICATES = "certificates/"
UNKNOWN = "\\N"
# Rows in memory at a time, and in one INSERT.
ROWS_AT_ONCE = 2000
# Bytes: far above ten years of records with certificates; a larger file is refused before it is unpacked.
LARGEST_EXPORT = 4_000_000_000
SAFE = "Nothing was changed."


@dataclass(frozen=True)
class Exported:
    """An export that was written or read: path, schema version, rows by table, count of certificates."""

    path: Path
    schema: str
    rows: dict[str, int]
    certificates: int


# Decimal places with which a value is stored as a whole number, by the kind that the description names.
_SCALES = {"length in mm": 6, "amount": 4, "number": 6}


def _stored_units(word: str, scale: int) -> int:
    """A decimal as the whole number that is stored for it: 12.5 with 6 decimals is 12500000."""
    return int(Decimal(word).scaleb(scale))


_FROM_TEXT: dict[str, Callable[[str], Any]] = {
    "whole number": int,
    "text": lambda word: word[1:] if word.startswith("\\") else word,
    "yes or no": lambda word: word == "yes",
    "day": date.fromisoformat,
    "list": json.loads,
    "picture": base64.b64decode,
    **{kind: partial(_stored_units, scale=scale) for kind, scale in _SCALES.items()},
}


def kind_of(column: Column[Any]) -> str:
    """The kind of values in a column, in the word that the description uses."""
    for kind, word in (
        (LengthColumn, "length in mm"), (MoneyColumn, "amount"), (NumberColumn, "number"),
        (JSON, "list"), (Boolean, "yes or no"), (Date, "day"), (LargeBinary, "picture"),
    ):  # fmt: skip
        if isinstance(column.type, kind):
            return word
    return "whole number" if isinstance(column.type, Integer) else "text"


def export_all(url: str | None, target: Path, *, at: datetime) -> Exported:
    """Write every table and certificate into one zip file.

    Raises:
        DatabaseError: the database cannot be used, or a value in it cannot be read.
        InputError: the target exists and is not to be overwritten.
    """
    refuse_unless_free(target)
    with open_database(url) as database, set_aside(target.parent) as aside:
        packed = aside / target.name
        rows: dict[str, int] = {}
        tables: dict[str, Any] = {}
        certificates = sorted(path for path in database.certificates.rglob("*") if path.is_file())
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            with (
                driver_errors_in_words(database.url),
                database.engine.execution_options(**READING).begin() as held,
            ):
                for table in metadata.sorted_tables:
                    content, rows[table.name] = _table_text(held, table)
                    archive.writestr(f"{table.name}.csv", content)
                    tables[table.name] = {
                        "rows": rows[table.name],
                        "sha256": sha256(content).hexdigest(),
                        "columns": {column.name: kind_of(column) for column in table.c},
                    }
            for path in certificates:
                archive.write(path, CERTIFICATES + path.relative_to(database.certificates).as_posix())
            note = {
                "program": "shopquote", "schema": newest_version(), "nothing": UNKNOWN,
                "made_at": at.isoformat(timespec="seconds"), "tables": tables,
            }  # fmt: skip
            archive.writestr(DESCRIPTION, json.dumps(note, indent=1))
        bring_in([packed], target.parent)
    return Exported(target, newest_version(), rows, len(certificates))


def _table_text(held: Connection, table: Table) -> tuple[bytes, int]:
    try:
        return _csv_of(held, table)
    except (ValueError, TypeError, ArithmeticError) as error:
        raise DatabaseError(
            f"A value in the table {table.name} cannot be read: {error}.",
            hint="Nothing was written. See: shopquote db check",
        ) from error


def _csv_of(held: Connection, table: Table) -> tuple[bytes, int]:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    # The csv writer does not quote a lone carriage return, which the csv reader takes for the end of a row:
    # such rows are quoted throughout.
    whole = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow([column.name for column in table.c])
    kinds = [kind_of(column) for column in table.c]
    count = 0
    for row in held.execute(
        select(table).order_by(table.c.id), execution_options={"yield_per": ROWS_AT_ONCE}
    ):
        words = [_cell_of(value, kind) for value, kind in zip(row, kinds, strict=True)]
        (whole if any("\r" in word for word in words) else writer).writerow(words)
        count += 1
    return out.getvalue().encode(), count


def _cell_of(value: Any, kind: str) -> str:
    if value is None:
        return UNKNOWN
    if kind == "list":
        return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    if kind == "yes or no":
        return "yes" if value else "no"
    if kind == "picture":
        return base64.b64encode(value).decode("ascii")
    if kind == "length in mm":
        return f"{value.mm.normalize():f}"
    if kind in _SCALES:
        return f"{value.normalize():f}"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, str):
        # Doubled, so that a text `\N` is not read back as an unknown value.
        return "\\" + value if value.startswith("\\") else value
    return value.isoformat() if isinstance(value, date) else str(value)


def import_all(source: Path, url: str | None) -> Exported:
    """Read an export into a database that does not exist yet or is empty, and upgrade it to this schema.

    Raises:
        InputError: no export, or a table was changed since it was exported, or breaks a rule of the records.
        DatabaseError: the database is not empty, or cannot be used.
    """
    refuse_unless_file(source, LARGEST_EXPORT)
    where = database_url(url)
    path = sqlite_path(where)
    if path is not None and path.exists():
        raise DatabaseError(
            f"There is a database at {path} already.", hint="Import into a new one: --db NEW.db"
        )
    try:
        with zipfile.ZipFile(source) as archive:
            refuse_zip_bomb(archive, source, DESCRIPTION)
            note = json.loads(archive.read(DESCRIPTION))
            schema, tables = str(note["schema"]), dict(note["tables"])
            refuse_newer_schema(schema, str(source))
            files = [name for name in archive.namelist() if name.startswith(CERTIFICATES)]
            for name in files:
                archive.read(name)  # a damaged one must be found before the first row is stored
            if path is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
            try:
                rows = _fill(archive, where, schema, tables)
            # Also when the person stops it with Ctrl-C.
            except BaseException:
                if path is not None:  # a file with some of the rows must not pass for the whole
                    for tail in ("", "-wal", "-shm"):
                        path.with_name(path.name + tail).unlink(missing_ok=True)
                raise
            for name in files:
                # The bare file name: a path in a hostile zip must not lead out of the folder.
                place = certificate_folder(where) / Path(name).name
                place.parent.mkdir(parents=True, exist_ok=True)
                if not place.exists():
                    place.write_bytes(archive.read(name))
    except (*BROKEN_ZIP, ArithmeticError, csv.Error) as error:
        raise InputError(f"{source} is not an export of shopquote, or is damaged.", hint=SAFE) from error
    upgrade_database(url)
    return Exported(source, schema, rows, len(files))


def _fill(archive: zipfile.ZipFile, where: Any, schema: str, tables: dict[str, Any]) -> dict[str, int]:
    engine = make_engine(where)
    try:
        with driver_errors_in_words(where), engine.begin() as connection:
            there = MetaData()
            there.reflect(connection)
            if there.tables:
                raise DatabaseError("The database holds tables already.", hint="Import into an empty one.")
            # In the schema of the export: its rows fit that one, and the upgrade afterwards moves them on.
            make_tables(connection, schema)
            there.reflect(connection)
            rows = {}
            for table in there.sorted_tables:
                # Exports of older versions lack tables that came later.
                if table.name not in tables:
                    continue
                content = archive.read(f"{table.name}.csv")
                if sha256(content).hexdigest() != tables[table.name]["sha256"]:
                    raise InputError(
                        f"{table.name}.csv is not as it was exported: it was changed since.", hint=SAFE
                    )
                try:
                    rows[table.name] = _put_rows(connection, table, content, tables[table.name]["columns"])
                except (sql_errors.IntegrityError, sql_errors.DataError) as error:
                    raise InputError(
                        f"{table.name}.csv holds a row that breaks a rule of the records: {error.orig}.",
                        hint=f"Mend the database that it is of: shopquote db check. {SAFE}",
                    ) from error
            return rows
    finally:
        engine.dispose()


def _put_rows(connection: Connection, table: Table, content: bytes, kinds: dict[str, str]) -> int:
    usual = csv.field_size_limit(100_000_000)  # a quote's snapshot with the shop's logo is one cell
    try:
        return _put_all(connection, table, content, kinds)
    finally:
        # The limit is global to the process: files read after the import keep their usual one.
        csv.field_size_limit(usual)


def _put_all(connection: Connection, table: Table, content: bytes, kinds: dict[str, str]) -> int:
    count = 0
    block: list[dict[str, Any]] = []
    for row in _rows(content, kinds):
        _refuse_obeyed(table, row)
        block.append(row)
        count += 1
        if len(block) == ROWS_AT_ONCE:
            connection.execute(table.insert(), block)
            block = []
    if block:
        connection.execute(table.insert(), block)
    if connection.dialect.name == "postgresql":
        count_on(connection, table.name)
    return count


def _refuse_obeyed(table: Table, row: dict[str, Any]) -> None:
    """Refuse control characters as all other input does, but not in snapshots, which are kept as sealed."""
    for name, value in row.items():
        if not isinstance(value, str) or not may_hold_typed_text(table.c[name]):
            continue
        if is_obeyed(plain_ends(value)):
            raise InputError(
                f"{table.name}.csv, row {row.get('id')}, {name}: {shown(value)[:60]} "
                "holds control characters.",
                hint=f"Mend the database that it is of: shopquote db check --cure. {SAFE}",
            )


def _rows(content: bytes, kinds: dict[str, str]) -> Iterator[dict[str, Any]]:
    reader = csv.reader(io.StringIO(content.decode("utf-8"), newline=""))
    names = next(reader)
    for cells in reader:
        yield {
            name: None if cell == UNKNOWN else _FROM_TEXT[kinds[name]](cell)
            for name, cell in zip(names, cells, strict=True)
        }
