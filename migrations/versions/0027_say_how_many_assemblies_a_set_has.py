"""Say how many like assemblies a set has.

Schema 0027, after 0026. Sets of jobs on file were timed as one assembly, and stay so.
"""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("job_revisions") as held:
        held.add_column(sa.Column("assemblies", sa.Integer(), server_default="1", nullable=False))
        held.create_check_constraint(op.f("ck_job_revisions_assemblies_least"), '"assemblies" >= 1')


def downgrade() -> None:
    with op.batch_alter_table("job_revisions") as held:
        held.drop_constraint(op.f("ck_job_revisions_assemblies_least"), type_="check")
        held.drop_column("assemblies")
