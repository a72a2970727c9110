"""Keep devices that were let in, drafts as typed, and entries from the floor.

Schema 0014, after 0013. New tables only; rows already there stay as they are.
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "devices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("let_in_at", sa.String(27), nullable=False),
        sa.Column("seen_at", sa.String(27), nullable=False),
        sa.Column("ends_at", sa.String(27), nullable=False),
        sa.CheckConstraint("\"role\" IN ('office', 'floor')", name=op.f("ck_devices_role_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_devices")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_devices_token_hash")),
    )
    op.create_table(
        "drafts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("word", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("fields", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.String(27), nullable=False),
        sa.Column("revises_id", sa.Integer(), nullable=True),
        sa.CheckConstraint('"version" >= 1', name=op.f("ck_drafts_version_least")),
        sa.ForeignKeyConstraint(
            ["revises_id"], ["jobs.id"], name=op.f("fk_drafts_revises_id"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drafts")),
        sa.UniqueConstraint("word", name=op.f("uq_drafts_word")),
    )
    op.create_index("ix_drafts_changed_at", "drafts", ["changed_at"])
    op.create_index(op.f("ix_drafts_revises_id"), "drafts", ["revises_id"])
    op.create_table(
        "floor_entries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("entered_at", sa.String(27), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("mended", sa.Text(), nullable=False),
        sa.Column("photo", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint(
            "\"kind\" IN ('start', 'stop', 'sawn', 'photo')", name=op.f("ck_floor_entries_kind_word")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_floor_entries_job_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_floor_entries")),
        sa.UniqueConstraint("key", name=op.f("uq_floor_entries_key")),
    )
    op.create_index(op.f("ix_floor_entries_job_id"), "floor_entries", ["job_id"])
    op.create_index("ix_floor_entries_person_entered_at", "floor_entries", ["person", "entered_at"])


def downgrade() -> None:
    op.drop_table("floor_entries")
    op.drop_table("drafts")
    op.drop_table("devices")
