"""Hold quotes to their sum and exchange rates above zero.

Schema 0002, after 0001. SQLite builds both tables anew and copies their rows.
"""

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("quotes") as quotes:
        quotes.create_check_constraint(op.f("ck_quotes_total_adds_up"), "net + tax = total")
    with op.batch_alter_table("suppliers") as suppliers:
        suppliers.create_check_constraint(
            op.f("ck_suppliers_exchange_rate_above_zero"), '"exchange_rate" > 0'
        )


def downgrade() -> None:
    with op.batch_alter_table("suppliers") as suppliers:
        suppliers.drop_constraint(op.f("ck_suppliers_exchange_rate_above_zero"), type_="check")
    with op.batch_alter_table("quotes") as quotes:
        quotes.drop_constraint(op.f("ck_quotes_total_adds_up"), type_="check")
