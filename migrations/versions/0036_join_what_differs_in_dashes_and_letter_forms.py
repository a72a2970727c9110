"""Join what lists and logs spell in two ways by kinds of dashes, apostrophes and letters.

Schema 0036, after 0035. Names, grades and heats are one too where they differ in the kind of a dash or
an apostrophe, in accents of one sign or two, in full-width letters, or in signs that nobody sees. They are joined
and told as schemas 0007 and 0035 did; so are the people of the shop, with their days off.
"""

import unicodedata

import sqlalchemy as sa
from alembic import context, op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None

_DASHES = "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
_APOSTROPHES = "\u2018\u2019\u201b\u02bc\u00b4\u0060\u2032"
_ONE_SIGN = str.maketrans(_DASHES + _APOSTROPHES, "-" * len(_DASHES) + "'" * len(_APOSTROPHES))


def upgrade() -> None:
    bind = op.get_bind()
    lists, names = (context.script.get_revision(number).module for number in ("0007", "0035"))
    lists.join(bind, _grade_key, _name_key, _heat_key, names.taken)
    names.join_names(bind, "people", _name_key)
    # Before days off are spelt: the same days of one person stand once.
    _join_days_off(bind)
    names.join(bind, _name_key)


def downgrade() -> None:
    """Nothing: joined entries cannot be told apart again, and the tables are the same."""


def _folded(text: str) -> str:
    seen = "".join(letter for letter in text.translate(_ONE_SIGN) if unicodedata.category(letter) != "Cf")
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", seen).casefold())


def _name_key(name: str) -> str:
    return " ".join(_folded(name).split())


def _grade_key(name: str) -> str:
    return "".join(letter for letter in _folded(name) if letter.isalnum())


def _heat_key(heat: str) -> str:
    return "".join(_folded(heat).split()).upper()


def _join_days_off(bind) -> None:
    table = sa.Table("days_off", sa.MetaData(), autoload_with=bind)
    people = sa.Table("people", sa.MetaData(), autoload_with=bind)
    known = {_name_key(name): name for name in bind.execute(sa.select(people.c.name)).scalars()}
    rows = bind.execute(sa.select(table.c.id, table.c.first, table.c.person).order_by(table.c.id)).all()
    spelt = [(number, first, person, known.get(_name_key(person), person)) for number, first, person in rows]
    held = set()
    # Those spelt right come first: another must not take their place.
    for number, first, person, name in sorted(spelt, key=lambda row: row[2] != row[3]):
        this = table.c.id == number
        if (first, name) in held:
            bind.execute(table.delete().where(this))
            bind.info.setdefault("told", []).append(f"days-off: {person!r} from {first} joined with {name!r}")
        elif name != person:
            bind.execute(table.update().where(this).values(person=name))
        held.add((first, name))
