"""Let a saw say whether mitres nest.

Schema 0003, after 0002. Saws on file go on sawing mitred pieces one by one.
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("saws") as saws:
        saws.add_column(sa.Column("nest_mitres", sa.Boolean(), server_default=sa.false(), nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("saws") as saws:
        saws.drop_column("nest_mitres")
