"""Say where a weld sits.

Schema 0028, after 0027. Welds on file have no place: their symbols stand beside the drawing, as before.
"""

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("welds", schema=None) as batch_op:
        batch_op.add_column(sa.Column("at", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("welds", schema=None) as batch_op:
        batch_op.drop_column("at")
