"""Give grades a range of strength and their standard.

Schema 0008, after 0007. Grades on file have no usual and most strength: these are worked out from the
least. Those that a new shop begins with, and that the shop has not made its own, get their standard.
"""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

STRENGTHS = ("yield_usual_mpa", "yield_most_mpa", "tensile_usual_mpa", "tensile_most_mpa")
PAPERS = ("paper", "paper_hollow")
STANDARDS = (
    ("S235", "EN 10025-2 S235JR", "EN 10219-1 S235JRH"),
    ("S275", "EN 10025-2 S275JR", "EN 10219-1 S275J0H"),
    ("S355", "EN 10025-2 S355J2", "EN 10219-1 S355J2H"),
    ("A36", "ASTM A36", "ASTM A500 Grade B"),
    ("1018 CD", "ASTM A108 1018 cold drawn", ""),
    ("1045 HR", "ASTM A576 1045 hot rolled", ""),
    ("12L14", "ASTM A108 12L14", ""),
    ("4140 annealed", "ASTM A29 4140 annealed", ""),
    ("4140 normalised", "ASTM A29 4140 normalised", ""),
    ("O1 annealed", "ASTM A681 O1 annealed", ""),
    ("B500B", "EN 10080 B500B", ""),
    ("304", "EN 10088-3 1.4301", "EN 10296-2 1.4301"),
    ("316", "EN 10088-3 1.4401", "EN 10296-2 1.4401"),
    ("303", "EN 10088-3 1.4305", ""),
    ("6061-T6", "ASTM B221 6061-T6", ""),
    ("6061-O", "ASTM B221 6061-O", ""),
    ("6082-T6", "EN 755-2 EN AW-6082 T6", ""),
    ("6060-T66", "EN 755-2 EN AW-6060 T66", ""),
    ("C360", "ASTM B16 C36000", ""),
    ("C260 annealed", "ASTM B927 C26000 annealed", ""),
    ("C110 annealed", "ASTM B187 C11000 annealed", ""),
    ("Ti grade 2", "ASTM B348 Grade 2", ""),
    ("Ti-6Al-4V", "ASTM B348 Grade 5", ""),
)


def upgrade() -> None:
    # SQLite writes added columns on one line; a table made anew reads like the models' own.
    anew = "always" if op.get_bind().dialect.name == "sqlite" else "auto"
    with op.batch_alter_table("grades", recreate=anew) as grades:
        for name in STRENGTHS:
            grades.add_column(sa.Column(name, sa.BigInteger(), nullable=True))
        for name in PAPERS:
            grades.add_column(sa.Column(name, sa.Text(), server_default="", nullable=False))
    grades_on_file = sa.table(
        "grades",
        sa.column("name", sa.Text),
        sa.column("own", sa.Boolean),
        *(sa.column(name, sa.Text) for name in PAPERS),
    )
    for name, paper, hollow in STANDARDS:
        op.execute(
            grades_on_file.update()
            .where(grades_on_file.c.name == name, grades_on_file.c.own.is_(False))
            .values(paper=paper, paper_hollow=hollow)
        )


def downgrade() -> None:
    with op.batch_alter_table("grades") as grades:
        for name in (*STRENGTHS, *PAPERS):
            grades.drop_column(name)
