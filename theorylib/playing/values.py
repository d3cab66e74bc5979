"""Note values as letters: w h q e s t, dots, tuplets and ties; one table from which reader and printer derive.

w is a whole note, h a half, q a quarter, e an eighth, s a sixteenth, t a thirty-second. A dot or two lengthens it; a
number after it makes it one of a tuplet: e3 is an eighth of a triplet, s5 a sixteenth of five in the time of four.
h~e is a half tied to an eighth. What no letter writes is “=5/7”: so many quarter-note beats. Lengths are exact
quarter-note beats. Common practice, no source.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, get_args

from ..errors import LineError, VampError, shown
from ..limits import MOST_BARS, exact

Rhythm = Literal["even", "spacing"]  # of what bears no values: notes of one length, or as the columns stand
RHYTHMS: tuple[Rhythm, ...] = get_args(Rhythm)
EVEN, SPACING = RHYTHMS
LETTERS = {"w": Fraction(4), "h": Fraction(2), "q": Fraction(1), "e": Fraction(1, 2), "s": Fraction(1, 4),
           "t": Fraction(1, 8)}
TUPLETS = {3: 2, 5: 4, 6: 4, 7: 4, 9: 8}  # so many in the time of so many
_DOTS = (Fraction(1), Fraction(3, 2), Fraction(7, 4))
EXPECTED = "w h q e s or t, with dots (q.), of a tuplet (e3) or tied (h~e)"
_MOST_TIED = 4
_ONE = re.compile(r"([whqest])(\.{0,2})([35679]?)")
ONE_VALUE = r"[whqest]\.{0,2}[35679]?"
VALUE = rf"(?:{ONE_VALUE}(?:~{ONE_VALUE})*|=\d{{1,10}}(?:/\d{{1,10}})?)"  # for the readers' own patterns


def _written() -> dict[Fraction, str]:
    """Every length that one letter writes, the plainest way: no tuplet before a tuplet, few dots before many."""
    found: dict[Fraction, str] = {}
    for parts, time in {1: 1, **TUPLETS}.items():
        for dots, more in enumerate(_DOTS):
            for letter, length in LETTERS.items():
                said = letter + "." * dots + (str(parts) if parts > 1 else "")
                found.setdefault(length * more * time / parts, said)
    return found


_WRITTEN = _written()
_PLAIN_LENGTHS = sorted((length for length in _WRITTEN if length.denominator & (length.denominator - 1) == 0),
                        reverse=True)


def value_text(beats: Fraction) -> str:
    """A length in beats as letters, tied where one does not do, else as an exact number.

    >>> value_text(Fraction(3, 2)), value_text(Fraction(1, 3)), value_text(Fraction(5, 2)), value_text(Fraction(1, 11))
    ('q.', 'e3', 'h~e', '=1/11')
    """
    if beats in _WRITTEN:
        return _WRITTEN[beats]
    parts: list[str] = []
    left = beats
    while left and len(parts) < _MOST_TIED:
        length = next((one for one in _PLAIN_LENGTHS if one <= left), None)
        if length is None:
            break
        parts.append(_WRITTEN[length])
        left -= length
    return f"={beats}" if left else "~".join(parts)


def read_value(text: str) -> Fraction:
    """The length in beats that letters write; raises LineError.

    >>> read_value("q."), read_value("e3"), read_value("h~e")
    (Fraction(3, 2), Fraction(1, 3), Fraction(5, 2))
    """
    if text.startswith("="):
        try:
            beats = exact(text[1:], "length in beats")
        except VampError as error:
            raise LineError(error.message, value=text, expected=error.expected) from error
        if not 0 < beats <= MOST_BARS:
            raise LineError(f"a length of {shown(beats)} beats", value=text, expected="more than 0 beats")
        return beats
    return sum((_one(part) for part in text.split("~")), Fraction(0))


def _one(text: str) -> Fraction:
    match = _ONE.fullmatch(text)
    if match is None:
        raise LineError(f"“{shown(text)}” is no note value", value=text, expected=EXPECTED)
    length = LETTERS[match[1]] * _DOTS[len(match[2])]
    return length * TUPLETS[int(match[3])] / int(match[3]) if match[3] else length
