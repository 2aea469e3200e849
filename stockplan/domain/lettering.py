"""Letters for what is counted: A, B, … Z, AA, AB, …, as spreadsheets call their columns."""

from __future__ import annotations


def letters(number: int) -> str:
    """Give the letters of a number.

    Parameters
    ----------
    number
        Counted from 0.
    """
    text = ""
    while number >= 0:
        number, letter = divmod(number, 26)
        text = chr(ord("A") + letter) + text
        number -= 1
    return text
