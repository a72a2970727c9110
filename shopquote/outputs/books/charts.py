"""Native charts of tables on worksheets; their data are the table's own cells, found by column."""

from collections.abc import Sequence
from typing import Any

from openpyxl.chart import BarChart, LineChart, Reference, ScatterChart, Series
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.outputs.books.sheet_table import Drawn
from shopquote.outputs.table import Column

# Quoted in a quiet tone, actual in the accent, margin in green.
QUIET_TONE, ACCENT_TONE, GOOD_TONE = "B8AE9E", "7A3B12", "5B7F4B"
HEIGHT: Any = 8.5  # centimetres
# With more rows than this, horizontal bars are easier to read than columns.
MOST_UPRIGHT = 6


def data_of(drawn: Drawn[Any], column: Column[Any], first: int = 0, most: int | None = None) -> Reference:
    """The cells of a column from row `first` of the table on, at most `most`."""
    start = drawn.first + first
    end = drawn.end if most is None else min(drawn.end, start + most - 1)
    place = drawn.place(column)
    return Reference(drawn.sheet, min_col=place, min_row=start, max_row=end)


def bars(
    drawn: Drawn[Any],
    names: Column[Any],
    values: Sequence[Column[Any]],
    title: str,
    *,
    tones: Sequence[str] = (QUIET_TONE, ACCENT_TONE),
    most: int | None = None,
    width: int = 17,
) -> BarChart | None:
    """A bar chart with a group of bars for each row and a colour for each column, named by its heading.

    None for a single row, of which a chart would say nothing.

    Args:
        drawn: the table.
        names: the column that names the bars.
        values: the columns of figures.
        title: over the chart.
        tones: a colour for each column of figures.
        most: rows shown at most.
        width: in centimetres.
    """
    count = len(drawn.table.rows) if most is None else min(most, len(drawn.table.rows))
    if count < 2:
        return None
    chart = BarChart()
    chart.type = "bar" if count > MOST_UPRIGHT else "col"
    chart.style, chart.title, chart.gapWidth = 10, title, 60
    chart.height, chart.width = HEIGHT, width
    for column, tone in zip(values, tones, strict=False):
        chart.add_data(data_of(drawn, column, most=most))
        series = chart.series[-1]
        series.tx = heading_of(drawn, column)
        series.graphicalProperties.solidFill = tone
        series.invertIfNegative = False
    chart.set_categories(data_of(drawn, names, most=most))
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"  # beside the chart, also where a figure is negative
    chart.y_axis.number_format = "#,##0"
    chart.legend = chart.legend if len(values) > 1 else None
    if chart.type == "bar":
        chart.x_axis.scaling.orientation = "maxMin"
    if len(values) == 1:
        chart.dataLabels = _figures()
    return chart


def lying(drawn: Drawn[Any], names: Column[Any], values: Column[Any], title: str) -> BarChart | None:
    """Horizontal bars, each labelled with its figure, so that no value axis is needed."""
    chart = bars(drawn, names, (values,), title, tones=(ACCENT_TONE,), width=18)
    if chart is not None:
        chart.type = "bar"
        chart.x_axis.scaling.orientation = "maxMin"
        chart.y_axis.majorGridlines = None
        chart.y_axis.delete = True
    return chart


def lines(
    drawn: Drawn[Any], names: Column[Any], values: Sequence[Column[Any]], title: str, *, newest: int
) -> LineChart | None:
    """A line for each column over the newest rows; None with fewer than two rows."""
    count = len(drawn.table.rows)
    if count < 2:
        return None
    first = max(0, count - newest)
    chart = LineChart()
    chart.title, chart.height, chart.width = title, HEIGHT, 22
    for column, tone in zip(values, (ACCENT_TONE, QUIET_TONE), strict=True):
        chart.add_data(data_of(drawn, column, first))
        series = chart.series[-1]
        series.graphicalProperties.line.solidFill = tone
        series.graphicalProperties.line.width = 28_000
        series.smooth = False
        series.tx = heading_of(drawn, column)
    chart.set_categories(data_of(drawn, names, first))
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.tickLblPos = "low"
    chart.y_axis.number_format = "0"
    return chart


def curve(
    drawn: Drawn[Any], across: Column[Any], up: Column[Any], title: str, units: tuple[str, str]
) -> ScatterChart | None:
    """One column plotted over another; None with fewer than two rows."""
    if len(drawn.table.rows) < 2:
        return None
    chart = ScatterChart()
    chart.title, chart.style, chart.legend = title, 10, None
    chart.x_axis.title, chart.y_axis.title = units
    chart.width, chart.height = 18, 8
    chart.x_axis.delete = chart.y_axis.delete = False
    series = Series(data_of(drawn, up), data_of(drawn, across))
    series.marker.symbol = "circle"
    series.smooth = False
    series.graphicalProperties.line.solidFill = ACCENT_TONE
    chart.series.append(series)
    return chart


def hang(sheet: Worksheet, chart: Any, row: int) -> None:
    """Anchor a chart at a row of a sheet, at the left edge."""
    if chart is not None:
        sheet.add_chart(chart, f"A{row}")


def heading_of(drawn: Drawn[Any], column: Column[Any]) -> SeriesLabel:
    """The cell with a column's heading, as the name of its series."""
    return SeriesLabel(strRef=StrRef(f"'{drawn.sheet.title}'!${drawn.letter(column)}${drawn.head}"))


def _figures() -> DataLabelList:
    labels = DataLabelList()
    labels.showVal = True
    labels.numFmt = "#,##0"
    for name in ("showSerName", "showCatName", "showLegendKey", "showPercent"):
        setattr(labels, name, False)
    return labels
