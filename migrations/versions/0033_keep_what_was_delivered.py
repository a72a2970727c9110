"""Keep what was delivered of each job.

Schema 0033, after 0032. Of jobs on file nobody said what went out: nothing is on their notes yet.
"""

import sqlalchemy as sa
from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "job_deliveries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("delivered_on", sa.Date(), nullable=False),
        sa.CheckConstraint('"number" >= 1', name=op.f("ck_job_deliveries_number_least")),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_deliveries_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_deliveries")),
        sa.UniqueConstraint("job_id", "number", name=op.f("uq_job_deliveries_job_id_number")),
    )
    op.create_table(
        "job_delivery_lines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("delivery_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.CheckConstraint('"count" >= 1', name=op.f("ck_job_delivery_lines_count_least")),
        sa.ForeignKeyConstraint(
            ["delivery_id"], ["job_deliveries.id"], name=op.f("fk_job_delivery_lines_delivery_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_delivery_lines")),
    )
    with op.batch_alter_table("job_delivery_lines") as lines:
        lines.create_index(op.f("ix_job_delivery_lines_delivery_id"), ["delivery_id"], unique=False)


def downgrade() -> None:
    op.drop_table("job_delivery_lines")
    op.drop_table("job_deliveries")
