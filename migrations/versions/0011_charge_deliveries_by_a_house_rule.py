"""Charge deliveries and rack bars by a house rule.

Schema 0011, after 0010. Shops on file charge deliveries whole to the job and rack bars at today's price.
"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.add_column(sa.Column("rack_basis", sa.Text(), server_default="today", nullable=False))
        shop.add_column(sa.Column("inwards", sa.Text(), server_default="whole", nullable=False))
        shop.add_column(sa.Column("usual_inwards", sa.BigInteger(), server_default="0", nullable=False))
        shop.create_check_constraint(op.f("ck_shop_rack_basis_word"), "\"rack_basis\" IN ('today', 'cost')")
        shop.create_check_constraint(
            op.f("ck_shop_inwards_word"), "\"inwards\" IN ('whole', 'share', 'usual')"
        )


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_constraint(op.f("ck_shop_inwards_word"), type_="check")
        shop.drop_constraint(op.f("ck_shop_rack_basis_word"), type_="check")
        shop.drop_column("usual_inwards")
        shop.drop_column("inwards")
        shop.drop_column("rack_basis")
