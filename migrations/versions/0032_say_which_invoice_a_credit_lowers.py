"""Say which invoice a credit lowers.

Schema 0032, after 0031. A credit on file lowers the invoice of its job with its own number, else the only
one that the job has; of the others nobody knows.
"""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None

_OF_ITS_NUMBER = "paper.number = invoices.number"
_ONLY = (
    "NOT EXISTS (SELECT 1 FROM invoices AS other WHERE other.job_id = paper.job_id "
    "AND other.kind = 'invoice' AND other.id <> paper.id)"
)


def upgrade() -> None:
    with op.batch_alter_table("invoices") as invoices:
        invoices.add_column(sa.Column("lowers_id", sa.Integer(), nullable=True))
        invoices.create_foreign_key(op.f("fk_invoices_lowers_id"), "invoices", ["lowers_id"], ["id"])
        invoices.create_index(op.f("ix_invoices_lowers_id"), ["lowers_id"], unique=False)
    for which in (_OF_ITS_NUMBER, _ONLY):
        # Rows are copied in the order of their ids, so that none refers to a later one.
        op.execute(
            "UPDATE invoices SET lowers_id = (SELECT paper.id FROM invoices AS paper "
            "WHERE paper.kind = 'invoice' AND paper.job_id = invoices.job_id AND paper.id < invoices.id "
            f"AND {which}) WHERE kind = 'credit' AND lowers_id IS NULL"
        )


def downgrade() -> None:
    with op.batch_alter_table("invoices") as invoices:
        invoices.drop_index(op.f("ix_invoices_lowers_id"))
        invoices.drop_constraint(op.f("fk_invoices_lowers_id"), type_="foreignkey")
        invoices.drop_column("lowers_id")
