"""Seal what is kept for ever.

Schema 0017, after 0016. Quotes, orders and closings on file get the digest of the text kept with each.
"""

from hashlib import sha256

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

SEALED = ("quotes", "orders", "closings")
AT_ONCE = 500


def upgrade() -> None:
    for name in SEALED:
        op.add_column(name, sa.Column("seal", sa.Text(), server_default="", nullable=False))
        _seal(sa.table(name, sa.column("id"), sa.column("snapshot"), sa.column("seal")))


def _seal(table: sa.TableClause) -> None:
    connection, last = op.get_bind(), 0
    while rows := connection.execute(
        sa.select(table.c.id, table.c.snapshot).where(table.c.id > last).order_by(table.c.id).limit(AT_ONCE)
    ).all():
        connection.execute(
            sa.update(table).where(table.c.id == sa.bindparam("row")).values(seal=sa.bindparam("digest")),
            [
                {"row": row, "digest": sha256(text.encode("utf-8", "surrogatepass")).hexdigest()}
                for row, text in rows
            ],
        )
        last = rows[-1][0]


def downgrade() -> None:
    for name in SEALED:
        op.drop_column(name, "seal")
