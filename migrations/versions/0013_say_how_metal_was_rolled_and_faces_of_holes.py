"""Say how metal was rolled, which face a hole is drilled from and what work outside coats with.

Schema 0013, after 0012. Parts on file are of bar, rolled along; holes go through the widest face; whether
work outside dips in zinc is read from its name, as before.
"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

NEW = (("outside_works", "coating", ""), ("part_holes", "face", ""), ("parts", "rolled", "along"))


def upgrade() -> None:
    for table, column, default in NEW:
        with op.batch_alter_table(table) as held:
            held.add_column(sa.Column(column, sa.Text(), server_default=default, nullable=False))
            if column == "rolled":
                held.create_check_constraint(
                    op.f("ck_parts_rolled_word"), "\"rolled\" IN ('along', 'across')"
                )


def downgrade() -> None:
    for table, column, _ in reversed(NEW):
        with op.batch_alter_table(table) as held:
            if column == "rolled":
                held.drop_constraint(op.f("ck_parts_rolled_word"), type_="check")
            held.drop_column(column)
