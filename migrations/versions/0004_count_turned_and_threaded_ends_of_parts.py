"""Count turned and threaded ends of parts.

Schema 0004, after 0003. No end of a part on file is turned or threaded: until now
that work was minutes given by hand, and they stay.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

COLUMNS = ("turned", "threaded")


def upgrade() -> None:
    with op.batch_alter_table("parts") as parts:
        for name in COLUMNS:
            parts.add_column(sa.Column(name, sa.Integer(), server_default="0", nullable=False))
            parts.create_check_constraint(op.f(f"ck_parts_{name}_least"), f'"{name}" >= 0')


def downgrade() -> None:
    with op.batch_alter_table("parts") as parts:
        for name in COLUMNS:
            parts.drop_constraint(op.f(f"ck_parts_{name}_least"), type_="check")
            parts.drop_column(name)
