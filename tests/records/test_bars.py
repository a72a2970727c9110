"""What is asked of bars by the names of tables holds to the classes of these tables."""

import pytest

from shopquote.records.bars import OF_JOBS, RACK
from shopquote.records.orders import OrderLineJob
from shopquote.records.rack import BarUse, RackPiece, RackPieceJob

OF_BARS = (RackPiece, RackPieceJob, OrderLineJob, BarUse)


@pytest.mark.parametrize("name", RACK.c.keys())
def test_a_named_column_is_as_the_class_has_it(name):
    named, held = RACK.c[name].type, RackPiece.__table__.c[name].type
    assert RACK.name == RackPiece.__tablename__
    if type(named).__name__ != "NullType":  # texts are handed on as they are
        assert type(named) is type(held)
    else:
        assert held.python_type is str


def test_every_column_by_which_a_bar_is_a_jobs_is_asked():
    held = {
        (row.__tablename__, column.name)
        for row in OF_BARS
        for column in row.__table__.columns
        if any(key.column.table.name == "jobs" for key in column.foreign_keys)
    }
    assert {(column.table.name, column.name) for column in OF_JOBS} == held
