"""Who a paper is from or to."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Address:
    """Who quotes, asks, buys or sells, as printed."""

    name: str
    address: str = ""
    email: str = ""
    phone: str = ""
    tax_number: str = ""


def lines_of(texts: Sequence[str]) -> list[str]:
    """The lines of several texts, blank ones left out.

    >>> lines_of(["4 Alder Lane\\nNether Tarn", ""])
    ['4 Alder Lane', 'Nether Tarn']
    """
    return [line.strip() for text in texts for line in text.splitlines() if line.strip()]
