"""Say in which language papers go to a customer or supplier, and keep reasons off orders.

Schema 0034, after 0033. Of those on file nobody said a language: they get the shop's own as before. What was
noted on orders stays there, for nobody can tell a note to the supplier from a reason of the shop's.
"""

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0033"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in ("customers", "suppliers"):
        op.add_column(table, sa.Column("locale", sa.Text(), server_default="", nullable=False))
    op.add_column("orders", sa.Column("reason", sa.Text(), server_default="", nullable=False))


def downgrade() -> None:
    for table, column in (("orders", "reason"), ("suppliers", "locale"), ("customers", "locale")):
        with op.batch_alter_table(table) as changed:
            changed.drop_column(column)
