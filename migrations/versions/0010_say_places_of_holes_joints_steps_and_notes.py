"""Say places of holes, joints, steps and notes.

Schema 0010, after 0009. Jobs on file say nothing of these: their holes have a size and a count but
no place, each bead is a joint of its own in one pass, and nothing is noted.
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

TEXT = ("text", "")
LIST = ("list", "[]")
NO = ("bool", sa.false())
SIZE = ("size", None)
WHOLE = ("whole", None)

NEW = {
    "job_revisions": {"description": TEXT, "note": TEXT, "drawing": TEXT, "enquiry": TEXT},
    "parts": {
        "end_a_work": TEXT, "end_b_work": TEXT, "drawing": TEXT, "note": TEXT, "heats": WHOLE, "hold": SIZE,
        "splice": NO, "width": SIZE,
    },
    "part_holes": {
        "thread": TEXT, "leg": ("whole", "1"), "at": LIST, "across": LIST, "slot": SIZE, "deep": SIZE,
        "along": NO, "reamed": NO, "drifted": NO, "counterbore": SIZE, "walls": ("whole", "0"),
        "pattern": TEXT, "note": TEXT,
    },
    "welds": {"joins": LIST, "joints": WHOLE, "passes": ("whole", "1")},
}  # fmt: skip
CHECKS = {
    "parts": ("heats_least >= 0", "hold_above_zero > 0", "width_above_zero > 0"),
    "part_holes": (
        "slot_above_zero > 0",
        "deep_above_zero > 0",
        "counterbore_above_zero > 0",
        "leg_least >= 1",
    ),
    "welds": ("joints_least >= 1", "passes_least >= 1"),
}
TYPES = {
    "text": sa.Text(), "list": sa.JSON(), "bool": sa.Boolean(), "size": sa.BigInteger(), "whole": sa.Integer(),
}  # fmt: skip


def _columns(name: str, kind: str, default: object) -> list[sa.Column]:
    column = sa.Column(name, TYPES[kind], server_default=default, nullable=default is None)
    return [column, sa.Column(f"{name}_text", sa.Text(), nullable=True)] if kind == "size" else [column]


def _check(table: str, told: str) -> tuple[str, str]:
    name, compared = told.split(" ", 1)
    column = name.removesuffix("_least").removesuffix("_above_zero")
    return op.f(f"ck_{table}_{name}"), f'"{column}" {compared}'


def upgrade() -> None:
    # SQLite would write added columns behind one another; made anew the table reads as the models say.
    anew = "always" if op.get_bind().dialect.name == "sqlite" else "never"
    for table, columns in NEW.items():
        with op.batch_alter_table(table, recreate=anew) as changed:
            for name, (kind, default) in columns.items():
                for column in _columns(name, kind, default):
                    changed.add_column(column)
            if table == "part_holes":
                changed.alter_column("dia", existing_type=sa.BigInteger(), nullable=True)
                changed.alter_column("dia_text", existing_type=sa.Text(), nullable=True)
            for told in CHECKS.get(table, ()):
                changed.create_check_constraint(*_check(table, told))
    op.create_table(
        "job_steps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("operation", sa.Text(), nullable=False),
        sa.Column("marks", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_revision_id"],
            ["job_revisions.id"],
            name=op.f("fk_job_steps_job_revision_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_steps")),
        sa.UniqueConstraint(
            "job_revision_id", "position", name=op.f("uq_job_steps_job_revision_id_position")
        ),
    )
    op.create_table(
        "job_templates",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("replaces", sa.JSON(), nullable=False),
        sa.CheckConstraint('"cost" >= 0', name=op.f("ck_job_templates_cost_least")),
        sa.CheckConstraint('"minutes" >= 0', name=op.f("ck_job_templates_minutes_least")),
        sa.ForeignKeyConstraint(
            ["job_revision_id"],
            ["job_revisions.id"],
            name=op.f("fk_job_templates_job_revision_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_templates")),
        sa.UniqueConstraint(
            "job_revision_id", "position", name=op.f("uq_job_templates_job_revision_id_position")
        ),
    )


def downgrade() -> None:
    op.drop_table("job_templates")
    op.drop_table("job_steps")
    op.execute(
        "DELETE FROM part_holes WHERE dia IS NULL"
    )  # threads by name: the older schema has no word for them
    for table, columns in NEW.items():
        with op.batch_alter_table(table) as changed:
            for told in CHECKS.get(table, ()):
                changed.drop_constraint(_check(table, told)[0], type_="check")
            if table == "part_holes":
                changed.alter_column("dia", existing_type=sa.BigInteger(), nullable=False)
                changed.alter_column("dia_text", existing_type=sa.Text(), nullable=False)
            for name, (kind, default) in columns.items():
                for column in _columns(name, kind, default):
                    changed.drop_column(column.name)
