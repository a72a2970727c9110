"""Say how many days of use a copy is kept of.

Schema 0022, after 0021. Every shop keeps a fortnight's.
"""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("shop", sa.Column("backups_kept", sa.Integer(), server_default="14", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_column("backups_kept")
