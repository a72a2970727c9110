"""A month on one page as a PDF: five sentences, three pictures, what to do next."""

from pathlib import Path
from typing import Any

from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.looks import Setting
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.tables.month_words import Month, Picture


def write_month_paper(month: Month, folder: Path, *, shop: str, paper: str, currency: str) -> Path:
    """Write the PDF into a folder and return its path.

    Raises:
        InputError: the folder cannot be written.
    """
    path = folder / safe_file_name(f"Review {month.title}", ".pdf")
    return put_file(path, typeset("month", month_data(month, shop=shop, paper=paper, currency=currency)))


def month_data(month: Month, *, shop: str, paper: str, currency: str) -> dict[str, Any]:
    """The template's data for a month."""
    return {
        "title": month.title,
        "shop": shop,
        "paper": paper,
        "language": "en",
        "footer": f"{shop} · Review {month.title} · for the shop only",
        "sentences": list(month.sentences),
        "to_do": list(month.to_do),
        "pictures": [_picture(picture, Setting(currency)) for picture in month.pictures if picture.bars],
    }


def _picture(picture: Picture, setting: Setting) -> dict[str, Any]:
    longest = max((abs(value) for bar in picture.bars for value in bar.values), default=0) or 1
    key = [f"{fill}: {head}" for fill, head in zip(("filled", "hollow"), picture.heads, strict=False)]
    key = key if len(picture.heads) > 1 else []
    if any(value < 0 for bar in picture.bars for value in bar.values):
        key.append("hatched: below zero")
    return {
        "title": picture.title,
        "key": ", ".join(key),
        "bars": [
            {
                "name": bar.name,
                "values": [
                    {
                        "text": picture.look.text(value, setting),
                        "share": round(float(abs(value) / longest), 4),
                        "below": value < 0,
                    }
                    for value in bar.values
                ],
            }
            for bar in picture.bars
        ],
    }
