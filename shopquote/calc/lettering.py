"""Letters that tell things apart on papers: straights, kinds of holes, rows of sheets."""


def counting_letter(place: int) -> str:
    """The letter of the place counted from 0; after Z two letters, so that no two places share one.

    >>> [counting_letter(place) for place in (0, 25, 26, 51, 52)]
    ['A', 'Z', 'AA', 'AZ', 'BA']
    """
    again, letter = divmod(place, 26)
    return (counting_letter(again - 1) if again else "") + chr(ord("A") + letter)
