"""Keep who did what.

Schema 0021, after 0020. What was done before has no entry. The database itself refuses to change or take
out entries.
"""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None

REFUSAL = "entries of the history are never changed"


def upgrade() -> None:
    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("door", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("job", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.CheckConstraint("\"door\" IN ('command', 'page')", name=op.f("ck_history_door_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
    )
    op.create_index("ix_history_job", "history", ["job"])
    if op.get_bind().dialect.name == "sqlite":
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER history_no_{deed.lower()} BEFORE {deed} ON history "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
    else:
        op.execute(
            "CREATE OR REPLACE FUNCTION refuse_history() RETURNS trigger AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$ LANGUAGE plpgsql"
        )
        op.execute(
            "CREATE TRIGGER history_is_kept BEFORE UPDATE OR DELETE ON history "
            "FOR EACH ROW EXECUTE FUNCTION refuse_history()"
        )


def downgrade() -> None:
    op.drop_table("history")
