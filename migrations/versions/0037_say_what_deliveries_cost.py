"""Say what deliveries cost: of the bars that a job used, and of the cost of a quote.

Schema 0037, after 0036. Of bars on file nobody said it. A quote's stands in its kept text, among the other
costs of material: by the words of what suppliers charge, or as the usual charge.
"""

import json
from decimal import Decimal

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None

# Money is kept in ten-thousandths.
_STEPS = 10_000
_USUAL = "usual charge for deliveries"


def upgrade() -> None:
    with op.batch_alter_table("bar_uses") as uses:
        uses.add_column(sa.Column("delivery", sa.BigInteger(), nullable=True))
    with op.batch_alter_table("quotes") as quotes:
        quotes.add_column(sa.Column("deliveries", sa.BigInteger(), server_default="0", nullable=False))
    table = sa.table("quotes", *(sa.column(name) for name in ("id", "snapshot", "deliveries")))
    bind = op.get_bind()
    for number in bind.execute(sa.select(table.c.id).order_by(table.c.id)).scalars().all():
        # One at a time: the texts of all of a shop's quotes may be more than the memory.
        text = bind.execute(sa.select(table.c.snapshot).where(table.c.id == number)).scalar_one()
        charged = _deliveries(text)
        if charged:
            bind.execute(table.update().where(table.c.id == number).values(deliveries=charged))


def downgrade() -> None:
    with op.batch_alter_table("quotes") as quotes:
        quotes.drop_column("deliveries")
    with op.batch_alter_table("bar_uses") as uses:
        uses.drop_column("delivery")


def _deliveries(text: str) -> int:
    """In stored steps; 0 of a text that is not a quote's, as of one that came without its document."""
    try:
        held = json.loads(text)
        quote = held.get("quote", held)
        texts = {_USUAL, *(charge["text"] for charge in quote.get("charges", ()))}
        costs = [cost for cost in quote["estimate"]["costs"] if cost["category"] == "material"]
        return int(sum(Decimal(cost["amount"]) for cost in costs if cost["text"] in texts) * _STEPS)
    except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError):
        return 0
