import json
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.outputs.looks import FIGURE
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.show import (
    json_text,
    print_error,
    print_facts,
    print_files,
    print_table,
)

COLUMNS = (Column("Title", lambda row: row[0]), Column("Price", lambda row: row[1], FIGURE))


def test_json_gives_money_as_text_lengths_in_millimetres_and_days_in_iso_form():
    answer = {
        "price": Decimal("1E+3"),
        "cost": Decimal("0.40"),
        "cut": Length.from_mm("450.1"),
        "leg": Measure.parse("1", "in"),
        "whole": Length.from_mm(6000),
        "due": date(2027, 3, 1),
        "at": datetime(2027, 3, 1, 9, 30, tzinfo=UTC),
        "file": Path("quotes/Q-0001.xlsx"),
        "name": "Bäckerei 鉄",
    }
    text = json_text(answer)
    assert text.isascii()
    assert json.loads(text) == {
        "price": "1000",
        "cost": "0.40",
        "cut": 450.1,
        "leg": 25.4,
        "whole": 6000,
        "due": "2027-03-01",
        "at": "2027-03-01T09:30:00+00:00",
        "file": str(Path("quotes/Q-0001.xlsx")),
        "name": "Bäckerei 鉄",
    }
    assert '"whole": 6000,' in text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN"), Decimal("Infinity")])
def test_json_refuses_what_is_no_number(value):
    with pytest.raises(ValueError, match=r"JSON|form in JSON"):
        json_text({"value": value})


def test_json_refuses_what_it_does_not_know():
    with pytest.raises(TypeError, match="object has no form in JSON"):
        json_text({"value": object()})


def test_customers_text_is_never_markup_in_a_table(capsys):
    print_table(Table(COLUMNS, [("[red]x[/red] :wave: [/]", "1.00")]))
    print_facts([("[b]Name[/b]", "[link=x]y")])
    shown = capsys.readouterr().out
    assert "[red]x[/red] :wave: [/]" in shown
    assert "[b]Name[/b]" in shown and "[link=x]y" in shown


def test_a_figure_is_never_broken_over_two_lines(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    print_table(Table(COLUMNS, [("A very long title that has to give way to the figure", "1,234,567.89")]))
    assert "1,234,567.89" in capsys.readouterr().out


def test_a_terminal_too_narrow_for_a_table_gets_a_line_for_each_value(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "24")
    columns = (*COLUMNS, Column("Cost", lambda row: row[1], FIGURE))
    print_table(Table(columns, [("hook", "1,234,567.89")], "Prices"))
    shown = capsys.readouterr().out.split()
    assert shown == ["Prices", "Title", "hook", "Price", "1,234,567.89", "Cost", "1,234,567.89"]


def test_a_path_is_never_broken_over_two_lines(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "20")
    path = Path("a" * 50) / "quote.xlsx"
    print_files([path])
    assert capsys.readouterr().out == f"Wrote {path}\n"


def test_an_error_is_told_on_stderr_with_what_to_do(capsys):
    print_error(InputError("Sets are 0.", hint="Write 1 or more."))
    shown = capsys.readouterr()
    assert (shown.out, shown.err) == ("", "shopquote: Sets are 0.\nWrite 1 or more.\n")
