"""Map the classes of the tables as SQLAlchemy's declarative scan does, for the few forms that ours have.

The scan looks for every form that a declaration may take, in a third of the time that loading all tables
takes. Ours are plain: `Mapped[type]` with or without `mapped_column`, and `Mapped[class]` or
`Mapped[list[class]]` with `relationship`. A test lets the scan map the same classes and compares.
"""

from collections.abc import Mapping
from types import NoneType
from typing import Any, get_args, get_origin

from sqlalchemy import Column, Table
from sqlalchemy.orm import MappedColumn, Relationship, registry
from sqlalchemy.types import TypeEngine

Types = Mapping[Any, TypeEngine[Any] | type[TypeEngine[Any]]]


def map_class(cls: type, base: type, classes: registry, types: Types) -> None:
    """Make the table of a class and map it.

    Args:
        cls: the class, which names its table and annotates each attribute.
        base: the class of which all tables have the columns, first.
        classes: where it is registered.
        types: what each Python type is stored as.

    Raises:
        TypeError: an attribute is declared in a form that is not known here.
    """
    columns: list[Column[Any]] = []
    links: dict[str, Relationship[Any]] = {}
    mixins = [mixin for mixin in cls.__bases__ if mixin is not base]
    for owner in (base, cls, *mixins):
        for name, note in vars(owner).get("__annotations__", {}).items():
            if get_origin(note) is None or get_origin(note).__name__ != "Mapped":
                continue
            (held,) = get_args(note)
            value = vars(owner).get(name)
            if isinstance(value, Relationship):
                links[name] = _link(value, held)
            else:
                columns.append(_column(name, held, value, types, shared=owner is not cls))
    more = vars(cls).get("__table_args__", ())
    table = Table(vars(cls)["__tablename__"], classes.metadata, *columns, *more)
    classes.map_imperatively(cls, table, properties=links)


def _column(name: str, held: Any, value: Any, types: Types, *, shared: bool) -> Column[Any]:
    """The column of an attribute; a shared declaration is copied for each table."""
    kind, nullable = _optional(held)
    if value is None:
        return Column(name, types[kind], nullable=nullable)
    if not isinstance(value, MappedColumn):
        raise TypeError(f"{name} is {value!r}: give it mapped_column() or relationship().")
    column: Column[Any] = value.column._copy() if shared else value.column
    column.key = column.name = name
    if not value._has_nullable and not column.primary_key:
        column.nullable = nullable
    if column.type._isnull and not column.foreign_keys:
        made = types[kind]
        column._set_type(made() if isinstance(made, type) else made)
    return column


def _link(value: Relationship[Any], held: Any) -> Relationship[Any]:
    """A relationship to the rows of a class, or to the one row."""
    kind, _ = _optional(held)
    if get_origin(kind) is list:
        value.collection_class = list
        (kind,) = get_args(kind)
    else:
        value.uselist = False
    value.argument = getattr(kind, "__forward_arg__", kind)
    return value


def _optional(held: Any) -> tuple[Any, bool]:
    """A type without its None, and whether it has one."""
    name = getattr(held, "__forward_arg__", None)
    if name is not None:
        return name.removesuffix(" | None"), name.endswith(" | None")
    kinds = get_args(held)
    if NoneType not in kinds:
        return held, False
    (kind,) = (kind for kind in kinds if kind is not NoneType)
    return kind, True
