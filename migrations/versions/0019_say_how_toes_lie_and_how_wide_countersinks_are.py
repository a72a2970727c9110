"""Say how the toes of a bent angle lie and how wide a countersink is.

Schema 0019, after 0018. Angles on file stand toes out, as they were reckoned; countersinks are twice their hole.
"""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("parts") as held:
        held.add_column(sa.Column("toes", sa.Text(), server_default="out", nullable=False))
        held.create_check_constraint(op.f("ck_parts_toes_word"), "\"toes\" IN ('out', 'in')")
    with op.batch_alter_table("part_holes") as held:
        held.add_column(sa.Column("countersink", sa.BigInteger(), nullable=True))
        held.add_column(sa.Column("countersink_text", sa.Text(), nullable=True))
        held.create_check_constraint(op.f("ck_part_holes_countersink_above_zero"), '"countersink" > 0')


def downgrade() -> None:
    with op.batch_alter_table("part_holes") as held:
        held.drop_constraint(op.f("ck_part_holes_countersink_above_zero"), type_="check")
        held.drop_column("countersink_text")
        held.drop_column("countersink")
    with op.batch_alter_table("parts") as held:
        held.drop_constraint(op.f("ck_parts_toes_word"), type_="check")
        held.drop_column("toes")
