"""All tables at once: import this where the whole schema is wanted."""

from shopquote.records import (
    benders,
    closings,
    history,
    jobs,
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
    "history",
    "jobs",
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
