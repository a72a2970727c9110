"""Keep what overhead costs a month.

Schema 0031, after 0030. A shop on file has not said it.
"""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("shop", sa.Column("overhead_per_month", sa.BigInteger(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_column("overhead_per_month")
