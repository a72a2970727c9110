"""Say what a supplier charges for the certificate of an order.

Schema 0026, after 0025. Suppliers on file charge nothing for it.
"""

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("suppliers") as held:
        held.add_column(sa.Column("certificate_charge", sa.BigInteger(), server_default="0", nullable=False))
        held.create_check_constraint(
            op.f("ck_suppliers_certificate_charge_least"), '"certificate_charge" >= 0'
        )


def downgrade() -> None:
    with op.batch_alter_table("suppliers") as held:
        held.drop_constraint(op.f("ck_suppliers_certificate_charge_least"), type_="check")
        held.drop_column("certificate_charge")
