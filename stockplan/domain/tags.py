"""Tags the program gives: short enough to read aloud, with a last letter that tells a misread one from a sound one.

A tag is one letter for what it lies as, a number and a check letter: `C-402K` is read 'C, four oh two, K'. The check
letter is that of ISO/IEC 7064, MOD 37,36, over the first letter and the digits: every single character misread is
noticed, and nearly every two exchanged. Numbers whose check character is a digit, or a letter that a wet pen makes
look like another (0 O D Q, 1 I L, 2 Z, 5 S, 6 G, 8 B, U V), are passed over, so that a tag always ends in one of
`CHECK_LETTERS`. Tags that people made up themselves stay as they are; nothing here is asked of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from stockplan.domain.stock import StockForm

CHECK_LETTERS = "ACEFHJKMNPRTVWXY"
LETTERS = {StockForm.ROLL: "R", StockForm.PART_ROLL: "P", StockForm.OFFCUT: "C"}
LEAST_DIGITS = 3
ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MADE = re.compile(r"\s*([A-Z])[-\s]*(\d{3,})[-\s]*([A-Z])\s*", re.ASCII | re.IGNORECASE)


def check_character(text: str, alphabet: str = ALPHANUMERIC) -> str:
    """Work out the check character of a text by a hybrid system of ISO/IEC 7064:2003.

    Parameters
    ----------
    text
        Characters of the alphabet; at least one.
    alphabet
        Of M characters, for the system MOD M+1,M; default the 36 of MOD 37,36.

    Raises
    ------
    ValueError
        When the text is empty or holds another character.
    """
    size = len(alphabet)
    carried = size
    if not text or not set(text) <= set(alphabet):
        raise ValueError(f"{text!r} must be characters of {alphabet}")
    for character in text:
        carried = ((carried + alphabet.index(character)) % size or size) * 2 % (size + 1)
    return alphabet[(1 - carried) % size]


def new_tags(taken: Iterable[str], count: int, form: StockForm = StockForm.OFFCUT) -> tuple[str, ...]:
    """Make tags that follow the highest number given so far; a number is never given twice.

    Parameters
    ----------
    taken
        Every tag ever used, those of things long gone among them; tags of another form or make do no harm.
    count
        How many; 0 or more.
    form
        What they are for; default an offcut.
    """
    letter = LETTERS[form]
    used = {tag.strip().upper() for tag in taken}
    numbers = (int(match[2]) for tag in used if (match := _MADE.fullmatch(tag)) and match[1] == letter)
    number = max(numbers, default=0)
    made: list[str] = []
    while len(made) < count:
        number += 1
        tag = f"{letter}-{number:0{LEAST_DIGITS}}"
        check = check_character(letter + tag[2:])
        if check in CHECK_LETTERS and tag + check not in used:
            made.append(tag + check)
    return tuple(made)


def tidied(typed: str) -> str:
    """Write a tag as it was given: `c 402k` becomes `C-402K`; anything of another make only loses blanks at its ends.

    Parameters
    ----------
    typed
        As a person typed or read it out. Look for the tag exactly as typed first: people make up tags of their own.
    """
    match = _MADE.fullmatch(typed)
    return f"{match[1]}-{match[2]}{match[3]}".upper() if match else typed.strip()


def is_misread(tag: str) -> bool:
    """Whether a tag looks like one given here, but its last letter does not fit the rest.

    Parameters
    ----------
    tag
        A tag that was not found. It may also be one that a person made up.
    """
    match = _MADE.fullmatch(tag)
    return match is not None and check_character((match[1] + match[2]).upper()) != match[3].upper()
