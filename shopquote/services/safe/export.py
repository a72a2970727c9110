"""Everything the shop has on file as open tables, and back: nobody is locked in.

An export is a zip: `description.json` (program, schema, and of every table its columns with the kind of
each), one CSV file a table in UTF-8, and `certificates/`. Lengths stand in millimetres, amounts and
numbers as decimals, days as 2026-03-02, moments in UTC, lists as JSON, pictures as base64; what is not
known is `\\N`. Read into a new database it gives the same export again, on either kind of database.
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
from shopquote.services.shop.driver_errors import told_plainly

DESCRIPTION = "description.json"
CERTIFICATES = "certificates/"
NOTHING = "\\N"
ROWS_AT_ONCE = 2000
# Bytes: more than any shop's records and certificates are known to come to.
LARGEST_EXPORT = 4_000_000_000
SAFE = "Nothing was changed."


@dataclass(frozen=True)
class Exported:
    """An export: where it is, rows by table, certificate files."""

    path: Path
    schema: str
    rows: dict[str, int]
    certificates: int


# How a stored value is written and read back, by the word that the description has for it.
_SCALES = {"length in mm": 6, "amount": 4, "number": 6}


def _stored_units(word: str, scale: int) -> int:
    """A decimal as the whole number that is stored of it."""
    return int(Decimal(word).scaleb(scale))


_READERS: dict[str, Callable[[str], Any]] = {
    "whole number": int,
    "text": lambda word: word[1:] if word.startswith("\\") else word,
    "yes or no": lambda word: word == "yes",
    "day": date.fromisoformat,
    "list": json.loads,
    "picture": base64.b64decode,
    **{kind: partial(_stored_units, scale=scale) for kind, scale in _SCALES.items()},
}


def kind_of(column: Column[Any]) -> str:
    """The word for what a column holds."""
    for kind, word in (
        (LengthColumn, "length in mm"), (MoneyColumn, "amount"), (NumberColumn, "number"),
        (JSON, "list"), (Boolean, "yes or no"), (Date, "day"), (LargeBinary, "picture"),
    ):  # fmt: skip
        if isinstance(column.type, kind):
            return word
    return "whole number" if isinstance(column.type, Integer) else "text"


def export_all(url: str | None, target: Path, *, at: datetime) -> Exported:
    """Write everything on file as open tables into one zip.

    Raises:
        DatabaseError: the database cannot be used, or a value in it cannot be read.
        InputError: the target may not be written over.
    """
    refuse_unless_free(target)
    with open_database(url) as database, set_aside(target.parent) as aside:
        packed = aside / target.name
        rows: dict[str, int] = {}
        tables: dict[str, Any] = {}
        certificates = sorted(path for path in database.certificates.rglob("*") if path.is_file())
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            with told_plainly(database.url), database.engine.execution_options(**READING).begin() as held:
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
                "program": "shopquote", "schema": newest_version(), "nothing": NOTHING,
                "made_at": at.isoformat(timespec="seconds"), "tables": tables,
            }  # fmt: skip
            archive.writestr(DESCRIPTION, json.dumps(note, indent=1))
        bring_in([packed], target.parent)
    return Exported(target, newest_version(), rows, len(certificates))


def _table_text(held: Connection, table: Table) -> tuple[bytes, int]:
    try:
        return _written(held, table)
    except (ValueError, TypeError, ArithmeticError) as error:
        raise DatabaseError(
            f"A value in the table {table.name} cannot be read: {error}.",
            hint="Nothing was written. See: shopquote db check",
        ) from error


def _written(held: Connection, table: Table) -> tuple[bytes, int]:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    # By itself the writer leaves a lone return bare, and its reader takes that for a row's end.
    whole = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow([column.name for column in table.c])
    kinds = [kind_of(column) for column in table.c]
    count = 0
    for row in held.execute(
        select(table).order_by(table.c.id), execution_options={"yield_per": ROWS_AT_ONCE}
    ):
        words = [_word(value, kind) for value, kind in zip(row, kinds, strict=True)]
        (whole if any("\r" in word for word in words) else writer).writerow(words)
        count += 1
    return out.getvalue().encode(), count


def _word(value: Any, kind: str) -> str:
    if value is None:
        return NOTHING
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
        return "\\" + value if value.startswith("\\") else value
    return value.isoformat() if isinstance(value, date) else str(value)


def import_all(source: Path, url: str | None) -> Exported:
    """Read an export into a database that is not there yet, or is empty; an older one is upgraded then.

    Raises:
        InputError: no export, or a table of it is not what was written, or breaks a rule of the records.
        DatabaseError: the database holds something already, or cannot be used.
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
            if path is not None:
                path.parent.mkdir(parents=True, exist_ok=True)
            try:
                rows = _fill(archive, where, schema, tables)
            except BaseException:
                if path is not None:  # a new file with half of the rows is nobody's
                    for tail in ("", "-wal", "-shm"):
                        path.with_name(path.name + tail).unlink(missing_ok=True)
                raise
            files = [name for name in archive.namelist() if name.startswith(CERTIFICATES)]
            for name in files:
                place = certificate_folder(where) / Path(name).name  # a name alone, never a path
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
        with told_plainly(where), engine.begin() as connection:
            there = MetaData()
            there.reflect(connection)
            if there.tables:
                raise DatabaseError("The database holds tables already.", hint="Import into an empty one.")
            make_tables(connection, schema)
            there.reflect(connection)
            rows = {}
            for table in there.sorted_tables:
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
    usual = csv.field_size_limit(100_000_000)  # a sealed paper with its logo stands in one cell
    try:
        return _put_all(connection, table, content, kinds)
    finally:
        # It holds for the whole process: what is read after an export keeps its usual bound.
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
    """As every door does: text that a terminal would obey is not taken; what was sealed stands as it is."""
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
            name: None if cell == NOTHING else _READERS[kinds[name]](cell)
            for name, cell in zip(names, cells, strict=True)
        }
