"""Keep what was taken back, and what a closing took as quoted.

Schema 0015, after 0014. Closings on file say nothing of what they took as quoted; their snapshots do.
"""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "struck_entries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("order_id", sa.Integer(), nullable=True),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=True),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("struck_at", sa.String(27), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_struck_entries_job_id")),
        sa.ForeignKeyConstraint(["order_id"], ["orders.id"], name=op.f("fk_struck_entries_order_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_struck_entries")),
    )
    op.create_index("ix_struck_entries_job_id", "struck_entries", ["job_id"])
    op.create_index("ix_struck_entries_order_id", "struck_entries", ["order_id"])
    with op.batch_alter_table("closings") as held:
        held.add_column(sa.Column("assumed", sa.Text(), server_default="", nullable=False))
    with op.batch_alter_table("closings") as held:
        held.alter_column("assumed", server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("closings") as held:
        held.drop_column("assumed")
    op.drop_table("struck_entries")
