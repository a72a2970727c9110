"""Keep what customers paid, and when invoices are due.

Schema 0030, after 0029. Of invoices on file nobody said when they are due, nor that they were paid.
"""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "payments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("invoice_id", sa.Integer(), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint('"amount" > 0', name=op.f("ck_payments_amount_above_zero")),
        sa.ForeignKeyConstraint(["invoice_id"], ["invoices.id"], name=op.f("fk_payments_invoice_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payments")),
    )
    with op.batch_alter_table("payments") as payments:
        payments.create_index(op.f("ix_payments_invoice_id"), ["invoice_id"], unique=False)
    op.add_column("invoices", sa.Column("due_on", sa.Date(), nullable=True))
    op.add_column("shop", sa.Column("payment_days", sa.Integer(), nullable=True))


def downgrade() -> None:
    # First: SQLite makes the table of invoices anew, which payments would refer to meanwhile.
    op.drop_table("payments")
    with op.batch_alter_table("shop") as shop:
        shop.drop_column("payment_days")
    with op.batch_alter_table("invoices") as invoices:
        invoices.drop_column("due_on")
