"""How guitarists write a tuning: a name, pitches, or note names alone (“DADGBE”, “E A D G B E”), from low to high.

Note names alone say no octaves. Each string is then the next of its name above the one below it, and the whole lies
where it is nearest to the usual tuning of as many strings (common practice, no source). Four and five strings are a
bass only where they are tuned in fourths, the lowest perhaps a tone lower; of all others the octaves must be written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from ..errors import NeckError, closest, shown
from ..names.spelling import NoteName, Pitch, plain

# Named tunings, lowest string first (common practice, no source; the pitches of "standard" are checked in the tests).
NAMED_TUNINGS = {
    "standard": "E2 A2 D3 G3 B3 E4",
    "half step down": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
    "whole step down": "D2 G2 C3 F3 A3 D4",
    "two whole steps down": "C2 F2 Bb2 Eb3 G3 C4",
    "drop D": "D2 A2 D3 G3 B3 E4",
    "drop C#": "C#2 G#2 C#3 F#3 A#3 D#4",
    "drop C": "C2 G2 C3 F3 A3 D4",
    "drop B": "B1 F#2 B2 E3 G#3 C#4",
    "drop A": "A1 E2 A2 D3 F#3 B3",
    "double drop D": "D2 A2 D3 G3 B3 D4",
    "DADGAD": "D2 A2 D3 G3 A3 D4",
    "open D": "D2 A2 D3 F#3 A3 D4",
    "open Dm": "D2 A2 D3 F3 A3 D4",
    "open G": "D2 G2 D3 G3 B3 D4",
    "open Gm": "D2 G2 D3 G3 Bb3 D4",
    "open E": "E2 B2 E3 G#3 B3 E4",
    "open Em": "E2 B2 E3 G3 B3 E4",
    "open A": "E2 A2 E3 A3 C#4 E4",
    "open C": "C2 G2 C3 G3 C4 E4",
    "all fourths": "E2 A2 D3 G3 C4 F4",
    "baritone": "B1 E2 A2 D3 F#3 B3",
    "seven-string": "B1 E2 A2 D3 G3 B3 E4",
    "seven-string drop A": "A1 E2 A2 D3 G3 B3 E4",
    "eight-string": "F#1 B1 E2 A2 D3 G3 B3 E4",
    "eight-string drop E": "E1 B1 E2 A2 D3 G3 B3 E4",
    "nine-string": "C#1 F#1 B1 E2 A2 D3 G3 B3 E4",
    "bass": "E1 A1 D2 G2",
    "five-string bass": "B0 E1 A1 D2 G2",
    "six-string bass": "B0 E1 A1 D2 G2 C3",
}
# Other names, as `_folded` leaves them: the name in the table above.
_ALSO = {
    "e standard": "standard",
    "eb standard": "half step down",
    "d# standard": "half step down",
    "d standard": "whole step down",
    "c standard": "two whole steps down",
    "b standard": "baritone",
    "drop db": "drop C#",
    "open d minor": "open Dm",
    "open e minor": "open Em",
    "open g minor": "open Gm",
    "four string bass": "bass",
    "all 4ths": "all fourths",
    "fourths": "all fourths",
    "perfect fourths": "all fourths",
}
# Words that stand for others in a name.
_WORDS = {
    "dropped": "drop",
    "full": "whole",
    "1/2": "half",
    "½": "half",
    "semitone": "half step",
    "tone": "whole step",
    "4": "four",
    "5": "five",
    "6": "six",
    "7": "seven",
    "8": "eight",
    "9": "nine",
}
_USUAL = {
    6: "standard",
    7: "seven-string",
    8: "eight-string",
    9: "nine-string",
    4: "bass",
    5: "five-string bass",
}
# Semitones from the usual tuning within which a string is taken to be meant.
_LOWEST, _HIGHEST = -8, 5
_BASS_LOWEST, _BASS_HIGHEST = -6, 1
_FOURTH, _FIFTH = 5, 7
LONGEST = 80  # signs
EXPECTED = "4 to 9 pitches from low to high such as E2 A2 D3 G3 B3 E4, note names such as DADGBE, or a name"

_PITCHES = re.compile(r"(?:[A-G][#b]{0,2}[0-9]){4,9}")
_PITCH = re.compile(r"[A-G][#b]{0,2}[0-9]")
# A small letter is the thin string of the same name.
_NAMES = re.compile(r"(?:[A-G][#b]?|[ac-g][#b]?){4,9}")
_NAME = re.compile(r"[A-Ga-g][#b]?")
_SMALL = re.compile(r"(?:[a-g]#?){4,9}")  # dadgbe: no flats, for b is a note here
_SMALL_NAME = re.compile(r"[a-g]#?")


def opened(text: str) -> tuple[Pitch, ...]:
    """The open strings that a text names, lowest first; raises NeckError."""
    body = plain(text).strip()
    if len(body) > LONGEST:
        raise _refused(text)
    known = _by_name(body)
    if known:
        return _pitches(known)
    if _PITCHES.fullmatch(body):
        return tuple(map(Pitch.parse, _PITCH.findall(body)))
    names = _note_names(body)
    return _with_octaves(names, text) if names else _written(body, text)


def _by_name(body: str) -> str:
    """The pitches of a named tuning, whichever way its name is written; empty without one."""
    folded = _folded(body)
    name = _ALSO.get(folded)
    return NAMED_TUNINGS[name] if name else _FOLDED.get(folded, "")


def _folded(name: str) -> str:
    words = name.lower().replace("-", " ").split()
    while words[-1:] == ["tuning"] and len(words) > 1:
        words.pop()
    return " ".join(_WORDS.get(word, word) for word in words)


_FOLDED = {_folded(name): pitches for name, pitches in NAMED_TUNINGS.items()}


def _note_names(body: str) -> list[NoteName]:
    """The names of the strings where a text holds nothing else, run together or with spaces, commas or hyphens."""
    parts = re.split(r"[\s,\-–]+", body)
    if all(_NAME.fullmatch(part) for part in parts):
        found = parts
    else:
        run = "".join(parts)
        whole, one = (_SMALL, _SMALL_NAME) if run.islower() else (_NAMES, _NAME)
        found = one.findall(run) if whole.fullmatch(run) else []
    return [NoteName(name[0].upper() + name[1:]) for name in found]


def _with_octaves(names: Sequence[NoteName], text: str) -> tuple[Pitch, ...]:
    if len(names) not in _USUAL:
        raise NeckError(
            f"a neck has 4 to 9 strings, not {len(names)}", value=text, expected=EXPECTED
        )
    for known in map(_pitches, NAMED_TUNINGS.values()):
        if [pitch.name for pitch in known] == list(names):
            return known
    usual = _pitches(NAMED_TUNINGS[_USUAL[len(names)]])
    found = min(
        (_rising(names, octave) for octave in range(4)),
        key=lambda strings: _distance(strings, usual),
    )
    if not _is_likely(found, usual):
        raise NeckError(
            f"“{text}” does not say which octaves it means",
            value=text,
            expected="its pitches from low to high, such as E2 A2 D3 G3 B3 E4",
        )
    return found


def _rising(names: Sequence[NoteName], octave: int) -> tuple[Pitch, ...]:
    """The strings from the lowest in an octave, each the next of its name above the one below."""
    found = [Pitch(names[0], octave)]
    for name in names[1:]:
        above = (
            Pitch(name, number) for number in range(found[-1].octave - 1, found[-1].octave + 3)
        )
        found.append(next(pitch for pitch in above if pitch.midi > found[-1].midi))
    return tuple(found)


def _distance(strings: Sequence[Pitch], usual: Sequence[Pitch]) -> int:
    return sum(abs(one.midi - other.midi) for one, other in zip(strings, usual, strict=True))


def _is_likely(strings: Sequence[Pitch], usual: Sequence[Pitch]) -> bool:
    bass = len(strings) < 6
    low, high = (_BASS_LOWEST, _BASS_HIGHEST) if bass else (_LOWEST, _HIGHEST)
    steps = [upper.midi - lower.midi for lower, upper in pairwise(strings)]
    if bass and (set(steps[1:]) != {_FOURTH} or steps[0] not in (_FOURTH, _FIFTH)):
        return False
    within = all(
        low <= one.midi - other.midi <= high for one, other in zip(strings, usual, strict=True)
    )
    # Of two strings of one name side by side nobody knows whether they are in unison.
    return within and max(steps) < 12


def _written(body: str, text: str) -> tuple[Pitch, ...]:
    try:
        return _pitches(body)
    except ValueError as error:
        raise _refused(text) from error


def _refused(text: str) -> NeckError:
    german = text.replace("H", "B") if re.search(r"H(?![a-z])", text) else ""
    nearest = (german,) if german and _note_names(german) else closest(text, NAMED_TUNINGS)
    return NeckError(
        f"“{shown(text, LONGEST)}” is not a tuning", value=text, expected=EXPECTED, nearest=nearest
    )


def _pitches(text: str) -> tuple[Pitch, ...]:
    return tuple(Pitch.parse(word) for word in text.split())
