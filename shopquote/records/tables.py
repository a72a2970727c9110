"""All tables at once: import this where the whole schema is needed, as to create or copy a database."""

from shopquote.records import (
    benders,
    closings,
    crew,
    history,
    jobs,
    joint_quotes,
    logs,
    materials,
    orders,
    page,
    people,
    quotes,
    rack,
    shop,
    standards,
)
from shopquote.records.base import Base

metadata = Base.metadata

__all__ = [
    "benders",
    "closings",
    "crew",
    "history",
    "jobs",
    "joint_quotes",
    "logs",
    "materials",
    "metadata",
    "orders",
    "page",
    "people",
    "quotes",
    "rack",
    "shop",
    "standards",
]
