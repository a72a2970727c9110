"""Price bars by the pound.

Schema 0038, after 0037. A price by the pound was read as one by 100 lb; such prices on file stay as they are.
"""

import sqlalchemy as sa
from alembic import op

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None

_BEFORE = "\"basis\" IN ('bar', 'kg', 'cwt', 'm', 'ft')"
_NOW = "\"basis\" IN ('bar', 'kg', 'lb', 'cwt', 'm', 'ft')"
_TABLES = ("stock_prices", "order_lines")


def upgrade() -> None:
    _hold_to(_NOW)


def downgrade() -> None:
    for name in _TABLES:
        table = sa.table(name, sa.column("basis"), sa.column("price"))
        by_100 = {"basis": "cwt", "price": table.c.price * 100}
        op.execute(table.update().where(table.c.basis == "lb").values(by_100))
    _hold_to(_BEFORE)


def _hold_to(words: str) -> None:
    for name in _TABLES:
        constraint = op.f(f"ck_{name}_basis_word")
        with op.batch_alter_table(name) as table:
            table.drop_constraint(constraint, type_="check")
            table.create_check_constraint(constraint, words)
