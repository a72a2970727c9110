"""Say how short bars may come, and what rack bars without a cost are worth.

Schema 0012, after 0011. Bars on file are as long as they say; rack bars count at the whole price of new bar.
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

WHOLE = "100000000"  # 100 in millionths, as numbers are stored


def upgrade() -> None:
    with op.batch_alter_table("stock_items") as stock:
        stock.add_column(sa.Column("tolerance", sa.BigInteger(), server_default="0", nullable=False))
        stock.create_check_constraint(
            op.f("ck_stock_items_tolerance_below_length"), '"tolerance" >= 0 AND "tolerance" < "length"'
        )
    with op.batch_alter_table("shop") as shop:
        shop.add_column(sa.Column("rack_worth_pct", sa.BigInteger(), server_default=WHOLE, nullable=False))
        shop.create_check_constraint(op.f("ck_shop_rack_worth_pct_least"), '"rack_worth_pct" >= 0')


def downgrade() -> None:
    with op.batch_alter_table("shop") as shop:
        shop.drop_constraint(op.f("ck_shop_rack_worth_pct_least"), type_="check")
        shop.drop_column("rack_worth_pct")
    with op.batch_alter_table("stock_items") as stock:
        stock.drop_constraint(op.f("ck_stock_items_tolerance_below_length"), type_="check")
        stock.drop_column("tolerance")
