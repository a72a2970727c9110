"""Say what is done on site, and what carriage to outside work costs.

Schema 0025, after 0024. Jobs on file say nothing of a site; carriage stays at the shop's usual charge.
"""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "site_works",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_revision_id", sa.Integer(), nullable=False),
        sa.Column("hours", sa.BigInteger(), nullable=False),
        sa.Column("people", sa.Integer(), nullable=False),
        sa.Column("distance", sa.BigInteger(), nullable=False),
        sa.Column("journeys", sa.Integer(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.CheckConstraint('"cost" >= 0', name=op.f("ck_site_works_cost_least")),
        sa.CheckConstraint('"distance" >= 0', name=op.f("ck_site_works_distance_least")),
        sa.CheckConstraint('"hours" >= 0', name=op.f("ck_site_works_hours_least")),
        sa.CheckConstraint('"journeys" >= 1', name=op.f("ck_site_works_journeys_least")),
        sa.CheckConstraint('"people" >= 1', name=op.f("ck_site_works_people_least")),
        sa.ForeignKeyConstraint(
            ["job_revision_id"],
            ["job_revisions.id"],
            name=op.f("fk_site_works_job_revision_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_works")),
        sa.UniqueConstraint("job_revision_id", name=op.f("uq_site_works_job_revision_id")),
    )
    with op.batch_alter_table("outside_works") as held:
        held.add_column(sa.Column("carriage", sa.BigInteger(), nullable=True))
        held.create_check_constraint(op.f("ck_outside_works_carriage_least"), '"carriage" >= 0')


def downgrade() -> None:
    with op.batch_alter_table("outside_works") as held:
        held.drop_constraint(op.f("ck_outside_works_carriage_least"), type_="check")
        held.drop_column("carriage")
    op.drop_table("site_works")
