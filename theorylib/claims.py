"""Claims in a teacher's own words ("Dm7b5 over E7 gives b7 b9 3 b13"), read and judged.

A marked claim stands between {= and =} in a lesson's prose and reads as plain text there. FORMS is the one vocabulary:
each sentence that can be judged, with the function that judges it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from .chords import Chord
from .chordscales import function_of
from .errors import VampError
from .harmony import numeral
from .neck import STANDARD, Tuning
from .scales import Scale
from .spelling import Interval, NoteName, plain

MARKED = re.compile(r"\{=\s*(.+?)\s*=\}", re.DOTALL)
_DEGREES = r"(?:bb|[b#])?(?:1[0-3]|[1-9])(?:(?:,? and |,? )(?:bb|[b#])?(?:1[0-3]|[1-9]))+"
_CHORD = r"[A-G][#b]*[A-Za-z0-9#+°øΔ/()]*"
# A degree list beside a chord, unmarked: offered as a claim.
UNMARKED = re.compile(rf"\b({_CHORD}) over ({_CHORD}) gives ({_DEGREES})(?![\w#])")


class ClaimError(VampError):
    """A marked claim that no form reads."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What became of a claim: `problem` says what is false, `right` is the sentence that would be true."""

    claim: str
    problem: str = ""
    right: str = ""

    @property
    def true(self) -> bool:
        return not self.problem


def judge(claim: str, tuning: Tuning = STANDARD) -> Verdict:
    """Is the claim true? Raises ClaimError (or the error of a name inside it) when it cannot be read."""
    written = " ".join(plain(claim).replace("*", "").split()).rstrip(".")
    for pattern, _, check in FORMS:
        match = re.fullmatch(pattern, written)
        if match:
            problem, right = check(tuning, *match.groups())
            return Verdict(claim, problem, right)
    raise ClaimError(f"“{claim}” is no claim that can be judged", value=claim,
                     expected="; ".join(words for _, words, _ in FORMS))


def marked(text: str) -> Iterator[tuple[int, str]]:
    """(line from 1, claim) of each marked claim."""
    for match in MARKED.finditer(text):
        yield text.count("\n", 0, match.start()) + 1, match[1]


def unmarked(text: str) -> Iterator[tuple[int, str]]:
    """(line from 1, words) of each degree list beside a chord that could be marked as a claim."""
    written = plain(text).replace("*", "")
    inside = [match.span() for match in MARKED.finditer(written)]
    for match in UNMARKED.finditer(written):
        if not any(start <= match.start() < end for start, end in inside):
            yield written.count("\n", 0, match.start()) + 1, match[0]


def without_marks(text: str) -> str:
    """The prose as people read it: claims stay, their marks go."""
    return MARKED.sub(lambda match: match[1], text)


# -- the forms -------------------------------------------------------------------------------------------------------
def _words(listed: str) -> list[str]:
    return listed.replace(",", " ").replace(" and ", " ").split()


def _semitones(degree: str) -> int:
    return Interval.of_degree(degree).semitones % 12


def _over(_: Tuning, above: str, below: str, listed: str) -> tuple[str, str]:
    arpeggio, chord = Chord.parse(above), Chord.parse(below)
    if chord.root is None or arpeggio.root is None:
        return f"{below if chord.root is None else above} sounds nothing", ""
    right = [function_of(chord, (tone.name.pitch_class - chord.root.pitch_class) % 12) for tone in arpeggio.tones]
    wanted = {(tone.name.pitch_class - chord.root.pitch_class) % 12 for tone in arpeggio.tones}
    return _compared({_semitones(word) for word in _words(listed)}, wanted, listed,
                     f"{above} over {below} gives {' '.join(right)}")


def _mode(_: Tuning, mode: str, number: str, parent: str) -> tuple[str, str]:
    scale, of = Scale.parse(mode), Scale.parse(parent)
    right = f"{scale} is mode {scale.parent_degree} of {scale.parent}"
    true = int(number) == scale.parent_degree and scale.parent.names == of.names
    return ("", "") if true else (f"{mode} is not mode {number} of {parent}", right)


def _holds(_: Tuning, whose: str, listed: str) -> tuple[str, str]:
    if " " in whose.strip():  # "G major" is a scale, "Gmaj7" a chord
        scale = Scale.parse(whose)
        tones = list(zip(scale.degrees, scale.names, strict=True))
    else:
        tones = [(tone.degree, tone.name) for tone in Chord.parse(whose).tones]
    words = _words(listed)
    if words[0].lstrip("#b").isdigit():
        root = tones[0][1].pitch_class
        wanted = {(name.pitch_class - root) % 12 for _, name in tones}
        return _compared({_semitones(word) for word in words}, wanted, listed,
                         f"{whose} has {' '.join(degree for degree, _ in tones)}")
    names = [name for _, name in tones]
    return _compared({NoteName(word) for word in words}, set(names), listed, f"{whose} has {' '.join(names)}")


def _is_degree(_: Tuning, note: str, degree: str, whose: str) -> tuple[str, str]:
    chord = Chord.parse(whose)
    if chord.root is None:
        return f"{whose} has no root", ""
    right = NoteName(chord.root).up(Interval.of_degree(degree))
    return ("", "") if NoteName(note) == right else (f"{note} is not the {degree} of {whose}",
                                                     f"{right} is the {degree} of {whose}")


def _at_place(tuning: Tuning, string: str, fret: str, bend: str | None, note: str) -> tuple[str, str]:
    sounding = tuning.midi(int(string), int(fret)) + int(bend or 0)
    if NoteName(note).pitch_class == sounding % 12:
        return "", ""
    place = f"string {string} fret {fret}" + (f" bent {bend}" if bend else "")
    return f"{place} is not {note}", f"{place} is {NoteName.at((sounding * 7 + 5) % 12 - 5)}"


def _numeral(_: Tuning, symbol: str, roman: str, key: str) -> tuple[str, str]:
    right = numeral(Chord.parse(symbol), Scale.parse(key))
    return ("", "") if plain(right) == roman else (f"{symbol} is not {roman} in {key}", f"{symbol} is {right} in {key}")


def _compared(given: set[int] | set[NoteName], wanted: set[int] | set[NoteName], listed: str,
              right: str) -> tuple[str, str]:
    return ("", "") if given == wanted else (f"“{listed}” is not what sounds", right)


_Check = Callable[..., tuple[str, str]]
FORMS: tuple[tuple[str, str, _Check], ...] = (
    (r"(\S+) over (\S+) gives (.+)", "Dm7b5 over E7 gives b7 b9 3 b13", _over),
    (r"([A-G][#b]*) is the ([#b]*\d+) of (\S+)", "Bb is the b3 of Gm7", _is_degree),
    (r"(.+?) is (?:the )?(?:mode )?(\d)(?:st|nd|rd|th)?(?: mode)? of (.+)", "A dorian is mode 2 of G major", _mode),
    (r"string (\d) fret (\d+)(?: bent (\d))? is ([A-G][#b]*)", "string 2 fret 10 bent 2 is B", _at_place),
    (r"(\S+) is (\S+) in (.+)", "G7 is V7 in C major", _numeral),
    (r"(.+?) (?:has|sounds) (.+)", "E7#9 has E G# B D F##", _holds),
)
