"""Shapes of phrases by style: a rhythm of two bars and the degrees that it walks, as a player would sing it.

Column format of ROWS: style; level; role; name; rhythm; contour. All shapes are made for this project; that a style
speaks so is common practice, no source.

The rhythm is lengths in beats, rests with a minus, a bar of four beats on each side of the bar line. The contour has a
token for each note:

    1 … 7    the chord's own tone of that number, else that of its scale     b3 b5   the blue notes of the chord
    >  <     the note of the scale above the next goal, the half step below   =       the note before again
    4^5      struck on the 4, bent up to the 5                                b3^     curled up a quarter tone
    h3       hammered or pulled from the note before, where one string has both
    1'  1,   the next such note above, below; without a sign the nearest      1~      with vibrato

A call stays open, an answer comes home: its last note is a root or a 3rd. Both end on a beat and hold it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal, get_args

from ..errors import DrillError, one_of
from ..levels import LEVELS, Level

CALL, ANSWER = "call", "answer"
BAR_BEATS = 4
Style = Literal["groove", "blues", "minor blues", "rock", "modern"]
STYLES: tuple[Style, ...] = get_args(Style)
_TOKEN = re.compile(r"(h?)(b?[1-7]|[<>=])(?:\^([1-7]?))?([',]?)(~?)")

ROWS = """
groove; beginner; call; two knocks; 1 1 -2 | 1 1 -2; 1 3 1 5
groove; beginner; call; late and short; -1 1 1 -1 | -1 1 1 -1; 5 3 5 7
groove; beginner; answer; down the stairs; 1 1 1 -1 | 2 -2; 5 3 2 1~
groove; beginner; answer; wait for it; -2 1 1 | 2 -2; 5 5 3~
groove; intermediate; call; stop and go; 1/2 1/2 -1 1/2 1/2 -1 | 1/2 1/2 -1 1 -1; 1 3 5 3 1 3 5
groove; intermediate; call; offbeat figure; -1/2 1/2 1/2 1/2 1 -1 | -1/2 1/2 1/2 1/2 1 -1; 3 5 7 5 3 5 7 5
groove; intermediate; answer; from above; -1/2 1/2 1/2 1/2 1/2 1/2 1 | 3/2 -5/2; 1' 7 5 4 h3 1 1~
groove; intermediate; answer; aimed from below; 1/2 1/2 -1 1/2 1/2 -1/2 1/2 | 2 -2; 5 7 5 3 < 3~
groove; advanced; call; three against four; 3/4 -3/4 3/4 -3/4 1/2 -1/2 | 3/4 -3/4 1/2 1 -1; 1 3 5 7 3 5
groove; advanced; call; pushed figure; 1/4 1/4 1/2 -3 | -3/2 1/4 1/4 1 -1; 1' 6 5 1 6 5
groove; advanced; answer; both sides; -1/2 1/4 1/4 1/2 1/2 -1 1/2 1/2 | 2 -2; 7 1' 7 5 > < 1~
groove; advanced; answer; gaps in a run; 1/4 1/4 -1/4 1/4 1/4 -1/4 1/4 1/4 -1 1/2 1/2 | 2 -2; 1' 7 7 5 5 4 > < 3~
blues; beginner; call; two knocks; 1 1 -2 | 1 1 -2; 1 3 1 5
blues; beginner; call; up to the seventh; -1 1 1 1 | 2 -2; 1 3 5 7
blues; beginner; answer; home by thirds; -1 1 1 1 | 2 -2; 5 3 5 1~
blues; beginner; answer; knock and stay; 1 1 -2 | 3 -1; 5 3 1~
blues; intermediate; call; bend and wait; 1/2 1/2 1 -2 | -1 1/2 1/2 1 -1; 5 7 4^5 b3 h3 5
blues; intermediate; call; the same, late; 1/2 1/2 1 -2 | -1 1/2 1/2 1 -1; 1' 6 5 1 6 5
blues; intermediate; answer; down to the blue third; -1 1/2 1/2 1/2 1/2 1 | 2 -2; 1' 7 5 b3 h3 1~
blues; intermediate; answer; turn about the root; 1/2 1/2 1 -1 1/2 1/2 | 2 -2; 7 5 3 > < 1~
blues; advanced; call; pairs with a gap; 1/2 1/2 -1/2 1/2 1/2 -1/2 1/2 1/2 | -1/2 1/2 1 -2; 1' 7 7 5 5 4 b3 h3
blues; advanced; call; push to the root; -3/2 1/2 1/2 1/2 1 | 1/2 1/2 -1 1 -1; 3 5 6 7^1 7 5 4^5
blues; advanced; answer; through the blue fifth; -1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2 | 1 2 -1; 7 1' 7 5 b5 4 b3 h3 1~
blues; advanced; answer; curl and turn; 1/2 1 -1/2 1/2 1/2 1/2 1/2 | 2 -2; 5 b3^ 1 2 > < 3~
minor blues; beginner; call; long and low; 2 1 -1 | 1 1 -2; 1 3 1 5
minor blues; beginner; call; question of three; -1 1 1 1 | -1 1 1 1; 5 3 5 3 1 5
minor blues; beginner; answer; falling home; 1 1 1 -1 | 3 -1; 5 4 3 1~
minor blues; beginner; answer; two steps home; -2 1 1 | 2 -2; 3 5 1~
minor blues; intermediate; call; lean on the fourth; 1/2 1/2 3/2 -3/2 | -1 1/2 1/2 1 -1; 5 7 4^5 7 5 5
minor blues; intermediate; call; sigh and again; -1/2 1/2 1 -2 | -3/2 1/2 1 -1; 4 3 4 3
minor blues; intermediate; answer; down the minor five; -1/2 1/2 1/2 1/2 1/2 1/2 1 | 2 -2; 1' 7 5 4 h3 1 1~
minor blues; intermediate; answer; half step home; 1 1/2 1/2 -1 1/2 1/2 | 2 -2; 5 4 3 3 < 1~
minor blues; advanced; call; seventh to the root; -1/2 1/2 1/2 1/2 2 | -1 1/2 1/2 1 -1; 3 4 5 7^1 7 5 7
minor blues; advanced; call; gap after two; 1/2 1/2 -1 1/2 1/2 -1 | 1/2 1/2 -1 1 -1; 1' 7 7 5 5 4 5
minor blues; advanced; answer; ninth and home; -1 1/2 1/2 1/2 1/2 1/2 1/2 | 1 2 -1; 5 7 1' 2 1 7 5 1~
minor blues; advanced; answer; third from both sides; 1/2 1/2 1/2 1/2 -1 1/2 1/2 | 2 -2; 1' 7 5 4 > < 3~
rock; beginner; call; three and rest; 1 1 1 -1 | 1 1 1 -1; 1 3 1 1 3 5
rock; beginner; call; after the beat; -1 1 1 1 | 3 -1; 1 3 5 5
rock; beginner; answer; walk home; 1 1 1 1 | 2 -2; 5 3 2 1 1~
rock; beginner; answer; one long note; -2 1 1 | 3 -1; 5 3 1~
rock; intermediate; call; scream and fall; 1/2 1/2 1 -2 | 1/2 1/2 1 -2; 5 7 4^5 5 7 4^5
rock; intermediate; call; gallop and gap; 1/2 1/2 1/2 -1/2 1/2 1/2 1/2 -1/2 | 1 -3; 1 3 5 1 3 5 7
rock; intermediate; answer; box run; -1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2 | 2 -2; 1' 7 5 4 h5 4 h3 1~
rock; intermediate; answer; bend it home; 1/2 1/2 -1 1/2 1/2 1 | 2 -2; 5 4 3 4 7^1 1~
rock; advanced; call; threes over the beat; 1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2 | 1 -3; 1' 7 5 7 5 4 5 4 5
rock; advanced; call; half a beat late; -1/2 1/2 1/2 1/2 -2 | -1 1/2 1/2 1 -1; 1' 7 5 1 7 5
rock; advanced; answer; burst and land; 1/4 1/4 1/4 1/4 -1 1/4 1/4 1/4 1/4 -1 | 2 -2; 1' 7 5 4 7 5 4 h3 1~
rock; advanced; answer; above and below; 1/2 1/2 1/2 1/2 -1 1/2 1/2 | 3 -1; 7 1' 7 5 > < 1~
modern; beginner; call; open third; 1 1 -2 | 1 1 -2; 3 5 3 7
modern; beginner; call; rising question; -1 1 1 1 | 2 -2; 1 3 5 7
modern; beginner; answer; falling chord; 1 1 1 -1 | 2 -2; 7 5 3 1~
modern; beginner; answer; a breath, then home; -2 1 1 | 3 -1; 5 5 3~
modern; intermediate; call; ninth on top; -1/2 1/2 1/2 1/2 1 -1 | -1/2 1/2 1/2 1/2 1 -1; 3 5 7 2 3 5 7 5
modern; intermediate; call; two and silence; -1/2 1/2 3/2 -3/2 | -3/2 1/2 3/2 -1/2; 5 7 5 7
modern; intermediate; answer; scale into the third; 1/2 1/2 1/2 1/2 -1 1/2 1/2 | 2 -2; 7 6 5 4 2 < 3~
modern; intermediate; answer; chord upside down; -1 1/2 1/2 1/2 1/2 1 | 2 -2; 5 3 7, 1 2 3~
modern; advanced; call; fives in fours; 1/2 1/2 1/2 -1 1/2 1/2 1/2 | -1 1/2 1/2 1 -1; 1 2 3 2 3 5 3 5 7
modern; advanced; call; pushed again; -1/2 1/2 1/2 1/2 -2 | -1 1/2 1/2 1 -1; 3 7 5 3 7 5
modern; advanced; answer; late enclosure; -3/2 1/2 1/2 1/2 1/2 1/2 | 2 -2; 7 5 3 > < 1~
modern; advanced; answer; chain of goals; 1/2 1/2 1 1/2 1/2 1 | 2 -2; > < 5 > < 3 1~
"""


@dataclass(frozen=True, slots=True)
class Token:
    """A note of a contour: see the module's conventions. `goal` is what a bend reaches ("" is a curl), None without."""

    name: str
    goal: str | None = None
    way: str = ""
    vibrato: bool = False
    joined: bool = False


@dataclass(frozen=True, slots=True)
class Idiom:
    """A shape of two bars: `rhythm` holds (onset, length) of each note in beats, `contour` what each of them is."""

    style: Style
    level: Level
    role: str
    name: str
    rhythm: tuple[tuple[Fraction, Fraction], ...]
    contour: tuple[Token, ...]

    @property
    def shortest_beats(self) -> Fraction:
        return min(length for _, length in self.rhythm)


@cache
def idioms() -> tuple[Idiom, ...]:
    """All rows, read."""
    return tuple(_idiom(row) for row in ROWS.strip().splitlines())


def idioms_of(style: Style, role: str, level: Level) -> tuple[Idiom, ...]:
    """The shapes of a style and a role that a level plays; raises DrillError for an unknown word.

    >>> [one.name for one in idioms_of("blues", "answer", "beginner")]
    ['home by thirds', 'knock and stay']
    """
    one_of(style, STYLES, "style", DrillError)
    one_of(role, (CALL, ANSWER), "role", DrillError)
    one_of(level, LEVELS, "level", DrillError)
    return tuple(one for one in idioms() if (one.style, one.role, one.level) == (style, role, level))


def _idiom(row: str) -> Idiom:
    style, level, role, name, rhythm, contour = (part.strip() for part in row.split(";"))
    known = one_of(style, STYLES, "style", DrillError), one_of(level, LEVELS, "level", DrillError)
    return Idiom(*known, role, name, _rhythm(rhythm), _contour(contour))


def _rhythm(text: str) -> tuple[tuple[Fraction, Fraction], ...]:
    found = []
    now = Fraction(0)
    for word in text.replace("|", " ").split():
        length = Fraction(word)
        if length > 0:
            found.append((now, length))
        now += abs(length)
    return tuple(found)


def _contour(text: str) -> tuple[Token, ...]:
    return tuple(_token(word) for word in text.split())


def _token(word: str) -> Token:
    match = _TOKEN.fullmatch(word)
    assert match is not None, word  # a row of ours
    joined, name, goal, way, vibrato = match.groups()
    return Token(name, goal, way, bool(vibrato), bool(joined))
