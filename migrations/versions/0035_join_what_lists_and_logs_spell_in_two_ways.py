"""Join what lists and logs spell in two ways, of the names that were not joined before.

Schema 0035, after 0034. Benders, saws, taxes, own standards and formers of one bender are one but for case and
blanks. The oldest entry stays and takes what the other had; where both say something else, what goes is told.
Of two values of a standard from the same day the one set last counts. Places on the rack, who worked and who
sent a bill are spelt as their list does, else as typed first. What was joined is told on the way (`told` of
the connection).
"""

import unicodedata
from collections import defaultdict
from decimal import Decimal

import sqlalchemy as sa
from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None

# Lists whose entries bear a name, as people call them.
_LISTS = {"benders": "benders", "saws": "saws", "tax_rates": "taxes"}
# What is spelt alike: the list that says how, if any, and the columns, the first typed being the example.
_SPELT = (
    (None, (("rack_pieces", "place"),)),
    ("people", (("time_entries", "person"), ("scrap_notes", "person"), ("floor_entries", "person"))),
    ("suppliers", (("outside_bills", "supplier"),)),
)
# What people call the records that are spelt.
_CALLED = {
    "rack_pieces": "the rack",
    "time_entries": "logged minutes",
    "scrap_notes": "scrapped pieces",
    "floor_entries": "entries of the floor",
    "outside_bills": "bills",
}
_NO_DIFFERENCE = {"id", "name", "bender_id"}


def upgrade() -> None:
    join(op.get_bind(), _key)


def join(bind, key) -> None:
    """Join and spell what this key of names makes one; a later schema calls it with its own."""
    for name in _LISTS:
        join_names(bind, name, key)
    _join_standards(bind, key)
    for listed, columns in _SPELT:
        spell(bind, listed, columns, key)


def downgrade() -> None:
    """Nothing: joined entries cannot be told apart again, and the tables are the same."""


def _key(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def _table(bind, name):
    return sa.Table(name, sa.MetaData(), autoload_with=bind)


def _rows(bind, table):
    return [dict(row) for row in bind.execute(sa.select(table).order_by(table.c.id)).mappings()]


def _change(bind, table, row, values) -> None:
    bind.execute(table.update().where(table.c.id == row["id"]).values(values))
    row.update(values)


def _tell(bind, text: str) -> None:
    bind.info.setdefault("told", []).append(text)


def join_names(bind, name, key) -> None:
    table = _table(bind, name)
    groups = defaultdict(list)
    for row in _rows(bind, table):
        groups[key(row["name"])].append(row)
    if name == "benders":
        # Before the benders go: what belongs to one goes with it.
        _join_formers(bind, {row["id"]: rows[0]["id"] for rows in groups.values() for row in rows[1:]}, key)
    for first, *others in groups.values():
        for other in others:
            bind.execute(table.delete().where(table.c.id == other["id"]))
            new, gone = taken(first, other)
            if new:
                _change(bind, table, first, new)
            _tell(
                bind,
                f"{_LISTS.get(name, name)}: {other['name']!r} joined with {first['name']!r}{_told(gone)}",
            )


def taken(first, other):
    """What the first entry takes of the other, and in words what the other said differently."""
    new, gone = {}, []
    for column, value in other.items():
        if column == "is_default":
            if value and not first[column]:
                new[column] = True
        elif column == "retired":
            if first[column] and not value:
                new[column] = False
        elif column not in _NO_DIFFERENCE and value not in ("", None, first[column]):
            if first[column] in ("", None):
                new[column] = value
            else:
                gone.append(f"{column} {_shown(value)}, {_shown(first[column])} stays")
    return new, gone


def _told(gone) -> str:
    return f"; gone: {', '.join(gone)}" if gone else ""


def _shown(value) -> str:
    """A stored value in words: lengths in mm and numbers are kept in millionths."""
    if isinstance(value, list):
        return " and ".join(map(_shown, value))
    if isinstance(value, bool) or not isinstance(value, int):
        return f"{value}"
    return f"{Decimal(value).scaleb(-6).normalize():f}"


def _join_formers(bind, bender_of, key) -> None:
    """Formers go to the bender that theirs is joined with; those that one bender has twice are one."""
    table = _table(bind, "formers")
    # Those that stay where they are come first: a moved one must not take the place of one of the same name.
    rows = sorted(_rows(bind, table), key=lambda row: bender_of.get(row["bender_id"], 0))
    held = {}
    for row in rows:
        bender = bender_of.get(row["bender_id"], row["bender_id"])
        first = held.setdefault((bender, row["radius"], key(row["name"])), row)
        if first is row:
            if bender != row["bender_id"]:
                _change(bind, table, row, {"bender_id": bender})
            continue
        bind.execute(table.delete().where(table.c.id == row["id"]))
        new, gone = taken(first, row)
        if new:
            _change(bind, table, first, new)
        what = f"of {_shown(row['radius'])} mm: {row['name']!r} joined with {first['name']!r}"
        _tell(bind, f"formers {what}{_told(gone)}")


def _join_standards(bind, key) -> None:
    table = _table(bind, "standards")
    names, held = {}, {}
    for row in _rows(bind, table):
        name = names.setdefault(key(row["name"]), row["name"])
        older = held.get((name, row["since"]))
        if older is not None:
            bind.execute(table.delete().where(table.c.id == older["id"]))
            values = f"{_shown(row['value'])} stays, {_shown(older['value'])} is gone"
            _tell(bind, f"rates: two values of {name} from {row['since']}; the later, {values}")
        held[name, row["since"]] = row
        if row["name"] != name:
            _tell(bind, f"rates: {row['name']!r} joined with {name!r}")
            _change(bind, table, row, {"name": name})


def spell(bind, listed, columns, key) -> None:
    known = {key(row["name"]): row["name"] for row in _rows(bind, _table(bind, listed))} if listed else {}
    for name, column in columns:
        table = _table(bind, name)
        spelt = table.c[column]
        first = sa.func.min(table.c.id)
        for (typed,) in bind.execute(sa.select(spelt).group_by(spelt).order_by(first)).all():
            word = known.setdefault(key(typed), typed.strip()) if typed else typed
            if word != typed:
                bind.execute(table.update().where(spelt == typed).values({column: word}))
                _tell(bind, f"{_CALLED[name]}: {column} {typed!r} is now {word!r}")
