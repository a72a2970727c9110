"""Let several jobs stand on one quote.

Schema 0024, after 0023. Quotes on file stand alone.
"""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "joint_quotes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.CheckConstraint('"revision" >= 1', name=op.f("ck_joint_quotes_revision_least")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_joint_quotes")),
        sa.UniqueConstraint("number", "revision", name=op.f("uq_joint_quotes_number_revision")),
    )
    op.create_table(
        "joint_quote_members",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("joint_quote_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("quote_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["joint_quote_id"],
            ["joint_quotes.id"],
            name=op.f("fk_joint_quote_members_joint_quote_id"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(["quote_id"], ["quotes.id"], name=op.f("fk_joint_quote_members_quote_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_joint_quote_members")),
        sa.UniqueConstraint(
            "joint_quote_id", "position", name=op.f("uq_joint_quote_members_joint_quote_id_position")
        ),
        sa.UniqueConstraint(
            "joint_quote_id", "quote_id", name=op.f("uq_joint_quote_members_joint_quote_id_quote_id")
        ),
    )
    with op.batch_alter_table("joint_quote_members", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_joint_quote_members_quote_id"), ["quote_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("joint_quote_members", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_joint_quote_members_quote_id"))

    op.drop_table("joint_quote_members")
    op.drop_table("joint_quotes")
