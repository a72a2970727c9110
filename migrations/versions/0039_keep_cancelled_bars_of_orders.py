"""Keep how many bars of an order's line do not come any more.

Schema 0039, after 0038. Of an order that ended as received, the bars that had not come by then. Which delivery was
said to be the last is not known of older ones.
"""

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0038"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("order_lines") as table:
        table.add_column(sa.Column("cancelled", sa.Integer(), nullable=False, server_default="0"))
    orders = sa.table("orders", sa.column("id"), sa.column("state"))
    lines = sa.table("order_lines", *map(sa.column, ("order_id", "count", "received", "cancelled")))
    over = sa.select(orders.c.id).where(orders.c.state == "received")
    op.execute(
        lines.update()
        .where(lines.c.order_id.in_(over), lines.c.received < lines.c.count)
        .values(cancelled=lines.c.count - lines.c.received)
    )
    with op.batch_alter_table("order_lines") as table:
        table.alter_column("cancelled", server_default=None)
        table.create_check_constraint(op.f("ck_order_lines_cancelled_least"), '"cancelled" >= 0')
    with op.batch_alter_table("receipts") as table:
        table.add_column(sa.Column("last", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("receipts") as table:
        table.alter_column("last", server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("receipts") as table:
        table.drop_column("last")
    with op.batch_alter_table("order_lines") as table:
        table.drop_constraint(op.f("ck_order_lines_cancelled_least"), type_="check")
        table.drop_column("cancelled")
