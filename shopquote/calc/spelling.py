"""What makes two typed texts one, whatever keyboard or program wrote them."""

import unicodedata

# One sign that office programs, phones and PDFs write in several ways. Dashes: hyphen, non-breaking hyphen,
# figure dash, en, em, bar, minus; apostrophes: the quotes that O'Neil gets as he is typed, accents, primes.
_ONE_SIGN = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"), "-") | dict.fromkeys(
    map(ord, "\u2018\u2019\u201b\u02bc\u00b4\u0060\u2032"), "'"
)


def folded(text: str) -> str:
    """A text without what does not tell two names apart; blanks stay as they are.

    Letter case, accents in one sign or two, full-width letters, kinds of dashes and apostrophes, and signs
    that nobody sees (a byte order mark, a soft hyphen, a space of no width) do not matter.

    >>> folded("Müller\u2011O\u2019Neil") == folded("MU\u0308LLER-O'NEIL")
    True
    """
    if text.isascii():
        return text.casefold().replace("`", "'")
    # Dashes and accents first: the compatible form of some is a blank with a sign after it.
    seen = "".join(letter for letter in text.translate(_ONE_SIGN) if unicodedata.category(letter) != "Cf")
    # Twice: small letters of a composed sign may come apart.
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", seen).casefold())
