"""Keep joints that are no welds.

Schema 0016, after 0015. Jobs on file have none.
"""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "job_joints",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("dia", sa.BigInteger(), nullable=True),
        sa.Column("dia_text", sa.Text(), nullable=True),
        sa.Column("grip", sa.BigInteger(), nullable=True),
        sa.Column("grip_text", sa.Text(), nullable=True),
        sa.Column("joins", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint('"count" >= 1', name=op.f("ck_job_joints_count_least")),
        sa.CheckConstraint('"dia" > 0', name=op.f("ck_job_joints_dia_above_zero")),
        sa.CheckConstraint('"grip" > 0', name=op.f("ck_job_joints_grip_above_zero")),
        sa.CheckConstraint(
            "\"kind\" IN ('rivet', 'screw', 'pin', 'halved', 'tenon', 'collar', 'forge weld')",
            name=op.f("ck_job_joints_kind_word"),
        ),
        sa.ForeignKeyConstraint(
            ["job_revision_id"],
            ["job_revisions.id"],
            name=op.f("fk_job_joints_job_revision_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_joints")),
        sa.UniqueConstraint(
            "job_revision_id", "position", name=op.f("uq_job_joints_job_revision_id_position")
        ),
    )


def downgrade() -> None:
    op.drop_table("job_joints")
