"""The tables as `records.mapping` maps them are those that SQLAlchemy's own scan makes of the classes."""

import subprocess
import sys

import pytest
from sqlalchemy.orm import registry

from shopquote.records.base import Base
from shopquote.records.mapping import map_class

# In a process of its own: a class can be mapped only once.
TOLD = """
import sys
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import DeclarativeBase, configure_mappers
from sqlalchemy.schema import CreateTable
from shopquote.records import mapping
if sys.argv[1] == "scanned":
    mapping.map_class = lambda cls, *_: DeclarativeBase.__init_subclass__.__func__(cls)
from shopquote.records.tables import metadata
from shopquote.records.base import Base
configure_mappers()
for table in metadata.sorted_tables:
    for dialect in (sqlite.dialect(), postgresql.dialect()):
        print(CreateTable(table).compile(dialect=dialect))
    for column in table.columns:
        default = column.default
        made = default and (default.arg.__qualname__ if default.is_callable else default.arg)
        print(table.name, column.name, repr(column.type), made, column.unique, column.index, column.key)
    print(sorted(map(repr, table.indexes)))
for mapper in sorted(Base.registry.mappers, key=lambda mapper: mapper.class_.__name__):
    print(mapper.class_.__name__, sorted(a.key for a in mapper.attrs), sorted(mapper.validators))
    for link in sorted(mapper.relationships, key=lambda link: link.key):
        print(link.key, link.mapper.class_.__name__, link.uselist, link.direction, link.collection_class,
              sorted(link.cascade), link.order_by, link.back_populates, link.lazy, link.primaryjoin)
"""


def told(how: str) -> str:
    done = subprocess.run((sys.executable, "-c", TOLD, how), capture_output=True, text=True, check=True)
    return done.stdout


def test_tables_are_those_of_the_declarative_scan() -> None:
    mapped = told("mapped")
    assert "PartRow" in mapped and "ix_jobs_state_created_on" in mapped
    assert mapped == told("scanned")


def test_a_form_that_is_not_known_is_refused_by_name() -> None:
    class Odd:
        __tablename__ = "odd"
        __annotations__ = Base.__annotations__ | {"length": Base.__annotations__["id"]}
        length = 7

    with pytest.raises(TypeError, match="length"):
        map_class(Odd, Base, registry(), Base.type_annotation_map)
