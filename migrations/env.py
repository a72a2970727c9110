"""Runs the migrations on the connection it is given; `shopquote.records.schema` builds the settings."""

from alembic import context
from sqlalchemy.types import TypeDecorator

from shopquote.records.tables import metadata


def render_item(kind, item, autogen_context):
    """A migration names plain types: it must still run when our own types have changed."""
    if kind == "type" and isinstance(item, TypeDecorator):
        length = getattr(item.impl_instance, "length", None)
        name = type(item.impl_instance).__name__
        return f"sa.{name}({length})" if length else f"sa.{name}()"
    return False


def run() -> None:
    connection = context.config.attributes["connection"]
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_item=render_item,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


run()
