"""Say how each bender works, and how a scroll's small bends are shared out.

Schema 0009, after 0008. Until now the mark lay on the swinging side of every bend, as at a
former that turns and draws the bar in, so benders keep the marks that their sheets showed: those marked at
the centre push with a ram, those with rolls and no former are rolls, all others draw.
"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

WORKS_BY = "\"works_by\" IN ('draw', 'wipe', 'ram', 'rolls')"
SHARINGS = "\"small_bends\" IN ('equal steps', 'equal angles')"


def upgrade() -> None:
    with op.batch_alter_table("benders") as benders:
        benders.add_column(sa.Column("works_by", sa.Text(), server_default="draw", nullable=False))
        benders.create_check_constraint(op.f("ck_benders_works_by_word"), WORKS_BY)
    op.execute("UPDATE benders SET works_by = 'ram' WHERE mark_at = 'centre'")
    op.execute(
        "UPDATE benders SET works_by = 'rolls' WHERE rolls_to IS NOT NULL AND id NOT IN "
        "(SELECT bender_id FROM formers)"
    )
    with op.batch_alter_table("shop") as shop:
        shop.add_column(sa.Column("small_bends", sa.Text(), server_default="equal steps", nullable=False))
        shop.add_column(sa.Column("formers_along", sa.Boolean(), server_default=sa.false(), nullable=False))
        shop.create_check_constraint(op.f("ck_shop_small_bends_word"), SHARINGS)


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_constraint(op.f("ck_shop_small_bends_word"), type_="check")
        shop.drop_column("formers_along")
        shop.drop_column("small_bends")
    with op.batch_alter_table("benders") as benders:
        benders.drop_constraint(op.f("ck_benders_works_by_word"), type_="check")
        benders.drop_column("works_by")
