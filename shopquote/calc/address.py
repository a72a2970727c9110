"""Names and addresses as printed on papers, and the check of an e-mail address."""

import re
from collections.abc import Sequence

from shopquote.calc.frozen import dataclass

_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s.]+")


@dataclass(frozen=True, slots=True)
class Address:
    """A shop, customer or supplier as printed on a paper; `address` has its lines."""

    name: str
    address: str = ""
    email: str = ""
    phone: str = ""
    tax_number: str = ""


def is_mail_address(text: str) -> bool:
    """Whether a text has the form of an e-mail address; only its server knows whether it exists.

    >>> is_mail_address("office@hammerwright.example"), is_mail_address("office at hammerwright")
    (True, False)
    """
    return _MAIL.fullmatch(text) is not None


def lines_of(texts: Sequence[str]) -> list[str]:
    """The lines of several texts, blank ones left out.

    >>> lines_of(["4 Alder Lane\\nNether Tarn", ""])
    ['4 Alder Lane', 'Nether Tarn']
    """
    return [line.strip() for text in texts for line in text.splitlines() if line.strip()]
