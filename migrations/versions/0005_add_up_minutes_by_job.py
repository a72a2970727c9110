"""Add up minutes by job, operation and kind; cover the review's sums with indexes.

Schema 0005, after 0004. The sums of all jobs on file are made from their time entries.
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "minute_sums",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("operation", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("\"kind\" IN ('work', 'rework')", name=op.f("ck_minute_sums_kind_word")),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_minute_sums_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_minute_sums")),
        sa.UniqueConstraint("job_id", "operation", "kind", name=op.f("uq_minute_sums_job_id_operation_kind")),
    )
    op.execute(
        "INSERT INTO minute_sums (job_id, operation, kind, minutes, cost) "
        "SELECT job_id, operation, kind, SUM(minutes), SUM(cost) FROM time_entries "
        "WHERE minutes > 0 GROUP BY job_id, operation, kind ORDER BY job_id, operation, kind"
    )
    op.drop_index("ix_closing_lines_closing_id", "closing_lines")
    op.create_index(
        "ix_closing_lines_sums",
        "closing_lines",
        ["closing_id", "category", "estimated", "actual", "minutes_estimated", "minutes_actual"],
    )
    op.drop_index("ix_quote_minutes_quote_id_operation", "quote_minutes")
    op.create_index("ix_quote_minutes_sums", "quote_minutes", ["quote_id", "operation", "minutes", "cost"])
    op.create_index("ix_quotes_job_id_state_revision", "quotes", ["job_id", "state", "revision"])


def downgrade() -> None:
    op.drop_index("ix_quotes_job_id_state_revision", "quotes")
    op.drop_index("ix_quote_minutes_sums", "quote_minutes")
    op.create_index("ix_quote_minutes_quote_id_operation", "quote_minutes", ["quote_id", "operation"])
    op.drop_index("ix_closing_lines_sums", "closing_lines")
    op.create_index("ix_closing_lines_closing_id", "closing_lines", ["closing_id", "category", "operation"])
    op.drop_table("minute_sums")
