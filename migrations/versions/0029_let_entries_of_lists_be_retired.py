"""Let entries of the shop's lists be retired: old papers keep them, nothing new uses them.

Schema 0029, after 0028. Whatever is on file is in use.
"""

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None

TABLES = ("customers", "suppliers", "grades", "stock_items", "benders", "saws", "tax_rates")


def upgrade() -> None:
    for table in TABLES:
        with op.batch_alter_table(table) as held:
            held.add_column(sa.Column("retired", sa.Boolean(), server_default=sa.false(), nullable=False))


def downgrade() -> None:
    for table in TABLES:
        with op.batch_alter_table(table) as held:
            held.drop_column("retired")
