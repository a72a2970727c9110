"""Join what is on file twice in two spellings.

Schema 0007, after 0006. Grades are one but for case, blanks and dashes, names of customers
and suppliers but for case and blanks, heats but for case and blanks. The oldest entry stays
and takes what the other had; of two rules for the same bars the one set last counts. What was
joined is told on the way (`told` of the connection). What orders and jobs say stays as it is.
"""

import unicodedata
from collections import defaultdict

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

# What people call the records whose grades and heats are spelt.
_CALLED = {
    "k_rules": "k-rules", "bend_tests": "bend-tests", "rack_pieces": "the rack",
    "received_bars": "deliveries", "certificates": "certificates",
}  # fmt: skip
_K_RULE = ("grade", "family", "section_kind", "former_radius")
_ITEM = ("supplier_id", "section_key", "grade", "length")
_TEST = (
    "made_on", "section_key", "grade", "bend_axis", "former_radius", "angle", "flat_length", "leg_1", "leg_2",
    "inside_radius", "over_bend",
)  # fmt: skip


def upgrade() -> None:
    join(op.get_bind(), _grade_key, _name_key, _heat_key, _taken)


def join(bind, grade_key, name_key, heat_key, taken) -> None:
    """Join what these keys make one; a later schema that makes more one calls it with its own.

    `taken(first, other)`: what the entry that stays takes of the other, and what is gone, in words.
    """
    _join_names(bind, "grades", grade_key, {}, taken)
    _rename_grades(bind, grade_key)
    _join_names(bind, "customers", name_key, {"jobs": "customer_id"}, taken)
    references = {"orders": "supplier_id", "outside_bills": "supplier_id"}
    _join_names(bind, "suppliers", name_key, references, taken)
    _join_rules(bind)
    _join_tests(bind)
    for table in ("rack_pieces", "received_bars", "certificates"):
        _spell_heats(bind, table, heat_key)


def downgrade() -> None:
    """Nothing: joined entries cannot be told apart again, and the tables are the same."""


def _grade_key(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _name_key(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def _heat_key(heat: str) -> str:
    return "".join(heat.split()).upper()


def _taken(first, other):
    return {column: value for column, value in other.items() if value and first[column] in ("", None)}, []


def _table(bind, name):
    return sa.Table(name, sa.MetaData(), autoload_with=bind)


def _rows(bind, table):
    return [dict(row) for row in bind.execute(sa.select(table).order_by(table.c.id)).mappings()]


def _tell(bind, text: str) -> None:
    bind.info.setdefault("told", []).append(text)


def _join_names(bind, name, key, references, taken) -> None:
    """Rows whose names are one: the oldest stays, with what only the others say."""
    table = _table(bind, name)
    groups = defaultdict(list)
    for row in _rows(bind, table):
        groups[key(row["name"]) or row["name"]].append(row)
    for first, *others in groups.values():
        for other in others:
            if name == "suppliers":
                _move_items(bind, other["id"], first["id"])
            for place, column in references.items():
                refers = _table(bind, place)
                where = refers.c[column] == other["id"]
                bind.execute(refers.update().where(where).values({column: first["id"]}))
            bind.execute(table.delete().where(table.c.id == other["id"]))
            new, gone = taken(first, other)
            if new:
                bind.execute(table.update().where(table.c.id == first["id"]).values(new))
                first.update(new)
            told = f"; gone: {', '.join(gone)}" if gone else ""
            _tell(bind, f"{name}: {other['name']!r} joined with {first['name']!r}{told}")


def _move_items(bind, old: int, new: int) -> None:
    items = _table(bind, "stock_items")
    for item in _rows(bind, items):
        if item["supplier_id"] == old:
            _put_item(bind, items, item, {"supplier_id": new})


def _rename_grades(bind, key) -> None:
    """Lists and the rack name a grade as the list of grades does."""
    names = {key(row["name"]): row["name"] for row in _rows(bind, _table(bind, "grades"))}
    for name in ("k_rules", "bend_tests", "rack_pieces"):
        table = _table(bind, name)
        for (typed,) in bind.execute(sa.select(table.c.grade).distinct()).all():
            known = names.get(key(typed), typed)
            if known != typed:
                bind.execute(table.update().where(table.c.grade == typed).values(grade=known))
                _tell(bind, f"{_CALLED[name]}: grade {typed!r} is now {known!r}")
    items = _table(bind, "stock_items")
    for item in _rows(bind, items):
        known = names.get(key(item["grade"]), item["grade"])
        if known != item["grade"]:
            _put_item(bind, items, item, {"grade": known})


def _put_item(bind, items, item, change) -> None:
    """Change what names a bar of a supplier; one that is there under that name takes its prices."""
    wanted = item | change
    where = sa.and_(*(items.c[name] == wanted[name] for name in _ITEM), items.c.id != item["id"])
    there = bind.execute(sa.select(items.c.id).where(where)).scalar()
    if there is None:
        bind.execute(items.update().where(items.c.id == item["id"]).values(change))
        return
    prices = _table(bind, "stock_prices")
    held = {
        (row["valid_from"], row["break_kg"]) for row in _rows(bind, prices) if row["stock_item_id"] == there
    }
    for row in _rows(bind, prices):
        if row["stock_item_id"] != item["id"]:
            continue
        this = prices.c.id == row["id"]
        if (row["valid_from"], row["break_kg"]) in held:
            bind.execute(prices.delete().where(this))
        else:
            bind.execute(prices.update().where(this).values(stock_item_id=there))
    lines = _table(bind, "order_lines")
    bind.execute(lines.update().where(lines.c.stock_item_id == item["id"]).values(stock_item_id=there))
    bind.execute(items.delete().where(items.c.id == item["id"]))
    _tell(bind, f"stock: {item['section_text']} {item['grade']} joined with the same bar of its supplier")


def _join_rules(bind) -> None:
    table = _table(bind, "k_rules")
    held = {}
    for row in _rows(bind, table):
        key = tuple(row[name] for name in _K_RULE)
        older = held.get(key)
        if older is not None:
            bind.execute(table.delete().where(table.c.id == older["id"]))
            of = row["grade"] or row["family"] or "all bars"
            _tell(bind, f"k-rules: two rules for {of}; the later, {row['rule']}, stays")
        held[key] = row


def _join_tests(bind) -> None:
    table = _table(bind, "bend_tests")
    held = {}
    for row in _rows(bind, table):
        first = held.setdefault(tuple(row[name] for name in _TEST), row)
        if first is row:
            continue
        bind.execute(table.delete().where(table.c.id == row["id"]))
        if row["note"] and row["note"] != first["note"]:
            first["note"] = "; ".join(note for note in (first["note"], row["note"]) if note)
            bind.execute(table.update().where(table.c.id == first["id"]).values(note=first["note"]))
        _tell(bind, f"bend-tests: {row['section_text']} {row['grade']} of {row['made_on']} was there twice")


def _spell_heats(bind, name, key) -> None:
    table = _table(bind, name)
    for (typed,) in bind.execute(sa.select(table.c.heat).distinct()).all():
        if typed and key(typed) != typed:
            bind.execute(table.update().where(table.c.heat == typed).values(heat=key(typed)))
            _tell(bind, f"{_CALLED[name]}: heat {typed!r} is now {key(typed)!r}")
