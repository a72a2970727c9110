"""Keep who works when.

Schema 0023, after 0022. Nobody is on file yet: the load of a shop assumes one person, and says so.
"""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "days_off",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("first", sa.Date(), nullable=False),
        sa.Column("last", sa.Date(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("last >= first", name=op.f("ck_days_off_in_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_days_off")),
        sa.UniqueConstraint("first", "person", name=op.f("uq_days_off_first_person")),
    )
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("hours", sa.BigInteger(), nullable=False),
        sa.Column("days", sa.Integer(), nullable=False),
        sa.Column("operations", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint('"days" >= 1', name=op.f("ck_people_days_least")),
        sa.CheckConstraint('"hours" >= 0', name=op.f("ck_people_hours_least")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
        sa.UniqueConstraint("name", name=op.f("uq_people_name")),
    )


def downgrade() -> None:
    op.drop_table("people")
    op.drop_table("days_off")
