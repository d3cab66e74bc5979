"""Spelled notes, intervals and pitches, exact on the line of fifths.

Conventions
-----------
A note name is a letter plus accidentals. Its place on the line of fifths is an integer: C is 0, G is 1, F is -1;
each sharp adds 7, each flat takes 7 away. An interval is (steps, semitones): letters moved and half steps moved,
so a perfect fifth is (4, 7) and an augmented ninth (8, 15). Degrees are written against the major scale
("b3", "#9"). Pitches are scientific: A4 is 440 Hz (ISO 16) and MIDI number 69 (MIDI 1.0); C4 is 60.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Literal

from ..errors import SpellingError, as_text, listed, one_of, shown

LETTERS_BY_FIFTHS = "FCGDAEB"
LETTERS = "CDEFGAB"
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)  # of C D E F G A B above C
# Of every name there is, its place on the line of fifths and its sound: asked more often than anything else.
_FIFTHS = {
    letter + sign * count: fifths - 1 + 7 * (count if sign == "#" else -count)
    for fifths, letter in enumerate(LETTERS_BY_FIFTHS)
    for sign in "#b"
    for count in range(5)
}
_PITCH_CLASSES = {name: fifths * 7 % 12 for name, fifths in _FIFTHS.items()}
# And how many semitones it lies above the C of its letter's octave: B# 12, Cb -1.
_ABOVE_C = {
    letter + sign * count: semitones + (count if sign == "#" else -count)
    for letter, semitones in zip(LETTERS, _SEMITONES, strict=True)
    for sign in "#b"
    for count in range(5)
}
_READ = str.maketrans(
    {"♯": "#", "♭": "b", "♮": None, "𝄪": "##", "𝄫": "bb", "＃": "#", "∆": "Δ", "△": "Δ"}
)
_NAME = re.compile(r"([A-G])(#{0,4}|b{0,4})")
_PITCH = re.compile(r"([A-G](?:#{0,4}|b{0,4}))(-?\d{1,2})")
_DEGREE = re.compile(r"(#{0,4}|b{0,4})(\d{1,2})")
_A_DEGREE = "a number 1 to 15 with # or b before it, such as b3 or #9"
_OVER_CHORDS = ("1", "2", "3", "4", "5", "6", "7", "9", "11", "13")  # common practice, no source
_INTERVAL = re.compile(r"(-?)(P|M|m|A{1,4}|d{1,4})(\d{1,2})")
A4_HZ = 440.0  # ISO 16
# Each name's place on the line of fifths: asked for so often that it is looked up.
_FIFTHS = {
    letter + sign * count: place - 1 + (7 * count if sign == "#" else -7 * count)
    for place, letter in enumerate(LETTERS_BY_FIFTHS)
    for sign in "#b"
    for count in range(5)
}


def plain(text: str) -> str:
    """`text` with ♯ ♭ 𝄪 𝄫 turned into the # and b that people type, and the triangles ∆ △ into Δ."""
    return text if text.isascii() else text.translate(_READ)


def pretty_accidentals(text: str) -> str:
    """`text` with # and b turned into ♯ and ♭, for a text that is all note name or degree (F♯♯, ♭♭7).

    Doubles stay two signs: the single signs 𝄪 and 𝄫 are in hardly any text font.
    """
    return text.replace("#", "♯").replace("b", "♭")


class NoteName(str):
    """A spelled note without octave, such as "F##": a string that knows its place on the line of fifths."""

    __slots__ = ()

    def __new__(cls, text: str) -> NoteName:
        if type(text) is cls:
            return text
        written = plain(
            as_text(text, "note name", "a letter A to G with up to four # or b", SpellingError)
        ).strip()
        if not _NAME.fullmatch(written):
            fixed = written[:1].upper() + written[1:]
            raise SpellingError(
                f"“{text}” is not a note name",
                value=text,
                expected="a letter A to G with up to four # or b",
                nearest=(fixed,) if _NAME.fullmatch(fixed) else (),
            )
        return super().__new__(cls, written)

    @classmethod
    def at(cls, fifths: int) -> NoteName:
        """The name `fifths` places up the line of fifths from C."""
        return _name_at(fifths)

    @property
    def letter(self) -> str:
        return self[0]

    @property
    def accidental(self) -> int:
        """Sharps counted up, flats down: 0 is natural."""
        return len(self) - 1 if self[1:2] == "#" else 1 - len(self)

    @property
    def fifths(self) -> int:
        return _FIFTHS[self]

    @property
    def pitch_class(self) -> int:
        """0 (C) to 11 (B)."""
        return _PITCH_CLASSES[self]

    def up(self, interval: Interval) -> NoteName:
        return _name_at(self.fifths + interval.fifths)

    def simple(self) -> NoteName:
        """The everyday name of the same sound: F## is G, E# is F, B### is D; C# and Db stay as they are."""
        if abs(self.accidental) <= 1 and self not in ("E#", "B#", "Fb", "Cb"):
            return self
        # Naturals are -1 to 5 on the line; 6 to 10 are F# to A#.
        nearest = (self.pitch_class * 7 + 1) % 12 - 1
        return _name_at(nearest if nearest <= 5 or self.accidental > 0 else nearest - 12)

    @property
    def pretty(self) -> str:
        """As people read it, in the language of `note_names`."""
        return NOTE_NAMES[_speaks["language"]](self)


def _english(name: NoteName) -> str:
    return name[0] + pretty_accidentals(name[1:])


def _german(name: NoteName) -> str:
    """H for B and B for Bb; -is for each sharp and -es for each flat, run together after A and E."""
    if name == "Bb":
        return "B"
    letter = "H" if name[0] == "B" else name[0]
    flats = "es" * -name.accidental
    return letter + "is" * name.accidental + (flats[1:] if letter in "AE" else flats)


def _solfege(name: NoteName) -> str:
    return _SYLLABLES[name[0]] + pretty_accidentals(name[1:])


_SYLLABLES = {"C": "Do", "D": "Re", "E": "Mi", "F": "Fa", "G": "Sol", "A": "La", "B": "Si"}
# The languages in which `pretty` names notes; checked in the tests against music21's own German and Italian names.
NoteLanguage = Literal["english", "german", "solfege"]
NOTE_NAMES: dict[NoteLanguage, Callable[[NoteName], str]] = {
    "english": _english,
    "german": _german,
    "solfege": _solfege,
}
# Of the process: cells of one notebook may run in contexts of their own.
_speaks: dict[str, NoteLanguage] = {"language": "english"}


@contextmanager
def note_names(language: str) -> Iterator[None]:
    """Within it every `pretty` names notes in a language of NOTE_NAMES; reading and `str` stay as they are."""
    known = one_of(language, NOTE_NAMES, "language of note names here", SpellingError)
    before = _speaks["language"]
    _speaks["language"] = known
    try:
        yield
    finally:
        _speaks["language"] = before


@cache
def _name_at(fifths: int) -> NoteName:
    accidental, letter = divmod(fifths + 1, 7)
    return NoteName(
        LETTERS_BY_FIFTHS[letter] + ("#" * accidental if accidental > 0 else "b" * -accidental)
    )


@dataclass(frozen=True, slots=True)
class Interval:
    """A spelled distance upward (or, negative, downward): letters moved and half steps moved."""

    steps: int
    semitones: int

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read "P5", "m3", "A4", "d7", "-M2" (downward)."""
        written = as_text(text, "interval", "a quality P M m A d and a number", SpellingError)
        match = _INTERVAL.fullmatch(written.strip())
        if not match or match[3] == "0":
            raise SpellingError(
                f"“{text}” is not an interval",
                value=text,
                expected="a quality P M m A d and a number",
            )
        sign, quality, number = match[1], match[2], int(match[3])
        octave, step = divmod(number - 1, 7)
        perfect = step in (0, 3, 4)
        if (quality == "P") != perfect and quality in "PMm":
            raise SpellingError(
                f"“{text}” is not an interval",
                value=text,
                expected="P with 1 4 5 8, M or m with 2 3 6 7",
            )
        size = {"P": 0, "M": 0, "m": -1}.get(quality)
        if size is None:
            size = len(quality) if quality[0] == "A" else -len(quality) - (not perfect)
        found = cls(step + 7 * octave, _SEMITONES[step] + 12 * octave + size)
        return -found if sign else found

    @classmethod
    def of_degree(cls, degree: str) -> Interval:
        """The interval from the tonic or root up to `degree`: "#9" is (8, 15), "b3" is (2, 3)."""
        return _degree_interval(plain(as_text(degree, "degree", _A_DEGREE, SpellingError)))

    @classmethod
    def of_fifths(cls, fifths: int) -> Interval:
        """So many places up the line of fifths, without octaves: 2 is a major second, -1 a perfect fourth."""
        return cls(4 * fifths, 7 * fifths).simple

    @property
    def fifths(self) -> int:
        """Moves along the line of fifths (octaves fall away)."""
        return 7 * self.semitones - 12 * self.steps

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    @property
    def simple(self) -> Interval:
        """Within the octave above."""
        octaves = self.steps // 7
        return Interval(self.steps - 7 * octaves, self.semitones - 12 * octaves)

    def __str__(self) -> str:
        if self.steps < 0:
            return f"-{-self}"
        octave, step = divmod(self.steps, 7)
        size = self.semitones - 12 * octave - _SEMITONES[step]
        perfect = step in (0, 3, 4)
        if size > 0:
            quality = "A" * size
        elif size == 0:
            quality = "P" if perfect else "M"
        else:
            quality = "m" if (size == -1 and not perfect) else "d" * (-size - (not perfect))
        return f"{quality}{self.steps + 1}"


@cache
def _degree_interval(degree: str) -> Interval:
    match = _DEGREE.fullmatch(degree)
    if not match or not 1 <= int(match[2]) <= 15:
        raise SpellingError(f"“{degree}” is not a degree", value=degree, expected=_A_DEGREE)
    octave, step = divmod(int(match[2]) - 1, 7)
    accidental = len(match[1]) if match[1][:1] == "#" else -len(match[1])
    return Interval(step + 7 * octave, _SEMITONES[step] + 12 * octave + accidental)


def as_degrees(value: Iterable[str] | str) -> tuple[str, ...]:
    """Degrees over a chord, each once, from a list or a text ("1 b3 9"); raises SpellingError.

    >>> as_degrees("1 ♭3 9 1")
    ('1', 'b3', '9')
    """
    written = value.split() if isinstance(value, str) else value
    words = listed(written, "list of degrees", "such as 1 b3 9", SpellingError)
    return tuple(dict.fromkeys(_over_a_chord(word) for word in words))


def _over_a_chord(degree: str) -> str:
    """A degree as it is counted over a chord: an octave, a tenth, a twelfth or a 14th is its note within the octave."""
    interval = Interval.of_degree(degree)
    written = plain(degree)
    sign = written.rstrip("0123456789")
    number = written[len(sign) :]
    if number not in _OVER_CHORDS:
        raise SpellingError(
            f"“{shown(degree)}” is no degree over a chord",
            value=degree,
            expected="1 to 7, 9, 11 or 13 with # or b before it",
            nearest=(f"{sign}{interval.simple.steps + 1}",),
        )
    return written


@cache
def degree_of(fifths: int, *, tension: bool = False) -> str:
    """The degree that stands `fifths` along the line from the root: 1 to 7, or 9 11 13 for 2 4 6 with `tension`."""
    name = _name_at(fifths)
    number = LETTERS.index(name[0]) + 1
    if tension and number in (2, 4, 6):
        number += 7
    return name[1:] + str(number)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled, sounding pitch: name and scientific octave (the octave of the letter: B#3 sounds as C4)."""

    name: NoteName
    octave: int

    def __post_init__(self) -> None:
        if type(self.name) is not NoteName:
            object.__setattr__(self, "name", NoteName(self.name))
        if type(self.octave) is not int:
            raise SpellingError(
                f"“{shown(self.octave)}” is no octave",
                value=self.octave,
                expected="a whole number such as 4",
            )

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read "A2", "F##4", "Bb-1"."""
        written = as_text(text, "pitch", "a note name and an octave such as A2", SpellingError)
        match = _PITCH.fullmatch(plain(written).strip())
        if not match:
            raise SpellingError(
                f"“{text}” is not a pitch",
                value=text,
                expected="a note name and an octave such as A2",
            )
        return cls(NoteName(match[1]), int(match[2]))

    @classmethod
    def of_midi(cls, midi: int, name: NoteName | None = None) -> Pitch:
        """The pitch at MIDI number `midi`, spelled as `name` if given (it must sound the same), else simply."""
        chosen = _name_at((midi * 7 + 5) % 12 - 5) if name is None else name
        octave, rest = divmod(midi - _ABOVE_C[chosen], 12)
        if rest:
            raise SpellingError(f"{chosen} does not sound MIDI note {midi}", value=str(chosen))
        return cls(chosen, octave - 1)

    @property
    def midi(self) -> int:
        return 12 * (self.octave + 1) + _ABOVE_C[self.name]

    @property
    def hz(self) -> float:
        octaves = (self.midi - 69) / 12
        return float(A4_HZ * 2.0**octaves)

    def up(self, interval: Interval) -> Pitch:
        name = self.name.up(interval)
        step = LETTERS.index(self.name[0]) + interval.steps
        return Pitch(name, self.octave + step // 7)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    @property
    def pretty(self) -> str:
        return f"{self.name.pretty}{self.octave}"


def as_pitch(value: Pitch | str) -> Pitch:
    return value if isinstance(value, Pitch) else Pitch.parse(value)
