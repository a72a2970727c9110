"""Add up the minutes of each quote by operation.

Schema 0006, after 0005. The sums of all quotes on file are made from their minutes.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "quote_operations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("quote_id", sa.Integer(), nullable=False),
        sa.Column("operation", sa.Text(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["quote_id"], ["quotes.id"], name=op.f("fk_quote_operations_quote_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote_operations")),
        sa.UniqueConstraint("quote_id", "operation", name=op.f("uq_quote_operations_quote_id_operation")),
    )
    op.execute(
        "INSERT INTO quote_operations (quote_id, operation, minutes, cost) "
        "SELECT quote_id, operation, SUM(minutes), SUM(cost) FROM quote_minutes "
        "GROUP BY quote_id, operation ORDER BY quote_id, operation"
    )


def downgrade() -> None:
    op.drop_table("quote_operations")
