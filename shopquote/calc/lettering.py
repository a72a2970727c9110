"""Letters that number things on papers, as spreadsheet columns are: straights, kinds of holes, rows."""


def counting_letter(place: int) -> str:
    """The letters of a place counted from 0: A to Z, then AA, AB and so on.

    >>> [counting_letter(place) for place in (0, 25, 26, 51, 52)]
    ['A', 'Z', 'AA', 'AZ', 'BA']
    """
    again, letter = divmod(place, 26)
    return (counting_letter(again - 1) if again else "") + chr(ord("A") + letter)
