import json
from contextlib import redirect_stdout
from datetime import UTC, date, datetime
from decimal import Decimal
from importlib.metadata import version
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich import box
from rich.console import Console
from rich.table import Table as RichTable

from shopquote.calc.units import Length, Measure
from shopquote.errors import InputError
from shopquote.outputs.looks import FIGURE
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.show import (
    fitting_widths,
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


PIECES = ("a", "bar", "12.5", "-", ", ", " ", "  ", "\n", "ü", "鉄", "bent-on-the-bench")
WORDS = st.lists(st.sampled_from(PIECES), max_size=12).map("".join)
FIGURES = st.sampled_from(["1.00", "1,234,567.89", "", "30.00 %"])


def by_rich(heads, figures, widths, rows, width):
    """What the library makes of the same cells: it is what our lines are laid out after."""
    drawn = RichTable(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for head, figure, room in zip(heads, figures, widths, strict=True):
        drawn.add_column(head, justify="right" if figure else "left", overflow="fold", width=room)
    for row in rows:
        drawn.add_row(*row)
    out = StringIO()
    Console(file=out, width=width, markup=False, emoji=False, highlight=False).print(drawn)
    return out.getvalue()


# The lowest version allowed leaves a blank more between two columns.
@pytest.mark.skipif(version("rich").startswith("13."), reason="laid out as newer versions lay tables out")
@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(WORDS, FIGURES), min_size=1, max_size=4), st.integers(20, 60))
def test_a_table_lies_as_the_library_for_terminals_lays_it_out(rows, width):
    heads, figures = ["Title of it", "Price"], [False, True]
    widths = fitting_widths(figures, heads, rows, width)
    if widths is None:
        return
    columns = (Column("Title of it", lambda row: row[0]), COLUMNS[1])
    out = StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.setenv("COLUMNS", str(width))
        print_table(Table(columns, rows))
    assert out.getvalue() == by_rich(heads, figures, widths, rows, width)


def test_what_is_no_terminal_gets_no_looks_and_a_terminal_does(capsys, monkeypatch):
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    table = Table(COLUMNS, [("hook", "1.00")], "Prices")
    print_table(table)
    plain = capsys.readouterr().out
    assert "\x1b" not in plain
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    print_table(table)
    seen = capsys.readouterr().out
    assert "\x1b[1mPrices\x1b[0m" in seen and seen.count("\x1b[1m") == 2
    assert seen.replace("\x1b[1m", "").replace("\x1b[0m", "") == plain
