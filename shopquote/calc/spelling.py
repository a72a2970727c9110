"""When two typed texts count as the same name, whatever keyboard or program wrote them."""

import unicodedata

# Characters that office programs, phones and PDFs write in several ways. Dashes: hyphen, non-breaking hyphen,
# figure dash, en, em, bar, minus; apostrophes: the quotes that programs make of the one in O'Neil, accents,
# primes.
_ONE_SIGN = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212"), "-") | dict.fromkeys(
    map(ord, "\u2018\u2019\u201b\u02bc\u00b4\u0060\u2032"), "'"
)


def folded(text: str) -> str:
    """A text reduced to what tells two names apart, to be compared; spaces are kept as they are.

    Made equal are: letter case, composed and decomposed accents, full-width letters, kinds of dash and
    apostrophe. Invisible characters (byte order mark, soft hyphen, zero-width space) are dropped.

    >>> folded("Müller\u2011O\u2019Neil") == folded("MU\u0308LLER-O'NEIL")
    True
    """
    if text.isascii():
        return text.casefold().replace("`", "'")
    # Dashes and accents first: NFKC makes a space and a combining character of some.
    seen = "".join(letter for letter in text.translate(_ONE_SIGN) if unicodedata.category(letter) != "Cf")
    # Normalised twice: lower-casing may decompose a composed letter again.
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", seen).casefold())
