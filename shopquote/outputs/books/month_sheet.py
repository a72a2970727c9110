"""The first sheet of a review's workbook: five sentences, what to do next, three pictures."""

from shopquote.outputs.books.book import Book, put_first, put_line, set_page
from shopquote.outputs.books.charts import bars, hang
from shopquote.outputs.books.sheet_table import draw, widen
from shopquote.outputs.books.style import HEADING, TITLE, WRAPPED
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.month_words import Month, Picture, PictureBar

CHART_ROWS, CHART_HEIGHT = 11, 5.2  # rows below its table, centimetres
_NAME: Column[PictureBar] = Column("Name", lambda bar: bar.name, width=38)


def month_sheet(book: Book, month: Month, setting: Setting, *, paper: str, footer: str) -> None:
    """Draw a month on a sheet of its own."""
    page = book.add("In short")
    widest = max((len(picture.heads) for picture in month.pictures), default=1)
    blank: list[Column[PictureBar]] = [_NAME]
    blank += [Column(f"Figure {place}", lambda bar: bar, width=18) for place in range(widest + 1)]
    widen(page, blank)
    put_line(page, 1, len(blank), month.title, TITLE, fit=False)
    page.row_dimensions[1].height = 26
    row = 2
    for text in month.sentences:
        row += 1
        put_line(page, row, len(blank), text, WRAPPED)
    if month.to_do:
        row += 2
        put_first(page, row, "What to do next", HEADING)
        for text in month.to_do:
            row += 1
            put_line(page, row, len(blank), text, WRAPPED)
    for picture in month.pictures:
        if picture.bars:
            row += 2
            put_first(page, row, picture.title, HEADING)
            columns = [_NAME, *(_figures(picture, at) for at in range(len(picture.heads)))]
            drawn = draw(page, Table(columns, picture.bars, setting=setting), row + 1)
            chart = bars(drawn, _NAME, columns[1:], picture.title, width=18)
            row = drawn.below
            if chart is not None:
                # Three of them, their tables and the sentences are one page; the heading names it.
                chart.height, chart.title = CHART_HEIGHT, None
                hang(page, chart, row + 1)
                row += CHART_ROWS
    set_page(page, paper=paper, footer=footer, last_row=row + 1, one_page=True)


def _figures(picture: Picture, at: int) -> Column[PictureBar]:
    return Column(picture.heads[at], lambda bar: bar.values[at], picture.look, 18)
