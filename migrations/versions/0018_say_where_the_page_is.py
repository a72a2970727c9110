"""Say where the shop's page is found, for printed codes.

Schema 0018, after 0017. No shop has said it: codes hold what they held.
"""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("shop", sa.Column("page_address", sa.Text(), server_default="", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_column("page_address")
