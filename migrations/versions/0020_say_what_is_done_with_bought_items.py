"""Say whether a bought item is fitted, screwed in or bagged.

Schema 0020, after 0019. Bought items of jobs on file were reckoned as fitted, and stay so.
"""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("bought_items") as held:
        held.add_column(sa.Column("fitting", sa.Text(), server_default="", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("bought_items") as held:
        held.drop_column("fitting")
