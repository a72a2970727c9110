"""Stored quotes of every format that ever was can be read and printed again to the cent."""

import json
from decimal import Decimal
from pathlib import Path

import pytest

from shopquote.calc.pricing.document import document_from_text, document_text
from shopquote.errors import InputError

# Written by the first version that stored quotes; it is never written anew.
FIRST = (Path(__file__).parent / "quote_format_1.json").read_text()


def test_a_quote_of_the_first_format_is_read_to_the_cent():
    document = document_from_text(FIRST)
    assert (document.name, document.job, document.revision) == ("Q-0001 revision 1", "J-0001", 1)
    assert (document.priced.net, document.priced.total) == (Decimal("699.40"), Decimal("839.28"))
    assert document.priced.cost == document.estimate.cost == Decimal("458.03")
    assert sum(line.amount for line in document.priced.lines) == document.priced.net
    assert [step.sets for step in document.priced.breaks] == [1, 4, 12]


def test_what_is_read_is_written_the_same():
    document = document_from_text(FIRST)
    assert document_from_text(document_text(document)) == document


def test_a_cut_plan_that_can_no_longer_be_read_does_not_stop_printing():
    held = json.loads(FIRST)
    held["quote"]["materials"] = [{"unknown": 1}]
    document = document_from_text(json.dumps(held))
    assert document.materials == ()
    assert document.priced == document_from_text(FIRST).priced


@pytest.mark.parametrize(
    "text", ["", "[]", '{"format": 99, "quote": {}}', '{"format": 1, "quote": {"job": "J"}}']
)
def test_what_is_no_quote_is_refused(text):
    with pytest.raises(InputError, match="stored"):
        document_from_text(text)
