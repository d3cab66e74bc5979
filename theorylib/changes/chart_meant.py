"""What a word in a chart that cannot be read may have meant: only ever offered, never taken for it."""

from __future__ import annotations

import re

from ..errors import VampError, closest
from ..names.chords import Chord

# Signs that other people write for rests, time or “to”.
NO_SIGNS = frozenset(("-", "–", "—", "_", ".", "..", "...", "…", "//", "*"))
SIGNS = "| between bars, a space between the chords of a bar, / for one more beat"
_HEADERS = {
    "time": "meter",
    "signature": "meter",
    "bpm": "tempo",
    "style": "feel",
    "groove": "feel",
    "name": "title",
}
_JOINED = re.compile(r"[-–—/>]")  # “Am7-D7”, “Am7/D7”
_METER = re.compile(r"\d{1,2}/\d{1,2}")
_SET = re.compile(r"([a-z]{3,9})=(\S{1,20})")  # tempo=120
_WORD = re.compile(r"[^\W\d_]{3,20}")


def meant_header(word: str, headers: tuple[str, ...]) -> tuple[str, ...]:
    """The header that a word may have meant; empty where it is like none."""
    return (_HEADERS[word],) if word in _HEADERS else closest(word, headers)


def meant(word: str, before: str) -> tuple[str, ...]:
    """What a word that is no chord may have meant, after the chord `before` (empty: it stands first in its bar)."""
    if before and _reads(before + word):
        return (before + word,)  # “C maj7”
    parts = _JOINED.split(word)
    if len(parts) > 1 and all(map(_reads, parts)):
        return (" | ".join(parts),)
    if _METER.fullmatch(word):
        return (f"a line “meter: {word}”",)
    named = _SET.fullmatch(word)
    if named:
        return (f"a line “{named[1]}: {named[2]}”",)
    return (f"[{word}] for the name of a section",) if not before and _WORD.fullmatch(word) else ()


def _reads(text: str) -> bool:
    try:
        return Chord.parse(text).root is not None
    except VampError:
        return False
