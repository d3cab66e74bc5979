"""Claims in a teacher's own words ("Dm7b5 over E7 gives b7 b9 3 b13"), read and judged.

A marked claim stands between {= and =} in a lesson's prose and reads as plain text there. FORMS is the one vocabulary:
each sentence that can be judged, with the function that judges it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from .errors import VampError
from .names.chords import Chord
from .names.scales import Scale
from .names.spelling import Interval, NoteName, plain
from .necks.tunings import STANDARD, Tuning
from .reading.chordscales import function_of
from .reading.numerals import numeral

OPENS, CLOSES = "{=", "=}"
_DEGREES = r"(?:bb|[b#])?(?:1[0-3]|[1-9])(?:(?:,? and |,? )(?:bb|[b#])?(?:1[0-3]|[1-9]))+"
# Two words around "over" and the degrees that follow. A word is taken whole or not at all, so that a long text is read
# in one go; whether both are chords is seen afterwards.
_UNMARKED = re.compile(rf"(?<!\S)(\S++) over (\S++) gives ({_DEGREES})(?![\w#])")
_CHORD = re.compile(r"[A-G][A-Za-z0-9#+°øΔ/()]*+")
_BEFORE_CHORD = "([{“\"'_-–—:;,."


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
    raise ClaimError(
        f"“{claim}” is no claim that can be judged",
        value=claim,
        expected="; ".join(words for _, words, _ in FORMS),
    )


def marked(text: str) -> Iterator[tuple[int, str]]:
    """(line from 1, claim) of each marked claim."""
    line, last = 1, 0
    for start, end in _spans(text):
        line, last = line + text.count("\n", last, start), start
        yield line, text[start + len(OPENS) : end - len(CLOSES)].strip()


def unmarked(text: str) -> Iterator[tuple[int, str]]:
    """(line from 1, words) of each degree list beside a chord that could be marked as a claim."""
    written = plain(text).replace("*", "")
    outside = list(written)
    for start, end in _spans(written):
        outside[start:end] = (" " if sign != "\n" else sign for sign in written[start:end])
    line, last = 1, 0
    for match in _UNMARKED.finditer("".join(outside)):
        above = match[1].lstrip(_BEFORE_CHORD)
        if _CHORD.fullmatch(above) and _CHORD.fullmatch(match[2]):
            line, last = line + written.count("\n", last, match.start()), match.start()
            yield line, f"{above} over {match[2]} gives {match[3]}"


def without_marks(text: str) -> str:
    """The prose as people read it: claims stay, their marks go."""
    parts, last = [], 0
    for start, end in _spans(text):
        parts += [text[last:start], text[start + len(OPENS) : end - len(CLOSES)].strip()]
        last = end
    return "".join([*parts, text[last:]])


def _spans(text: str) -> Iterator[tuple[int, int]]:
    """(start, end) of each marked claim, its marks included."""
    start = text.find(OPENS)
    while start >= 0:
        end = text.find(CLOSES, start + len(OPENS))
        if end < 0:
            return
        yield start, end + len(CLOSES)
        start = text.find(OPENS, end + len(CLOSES))


# -- the forms -------------------------------------------------------------------------------------------------------
def _words(listed: str) -> list[str]:
    words = listed.replace(",", " ").replace(" and ", " ").split()
    if not words:
        raise ClaimError(
            "the claim lists nothing", value=listed, expected="degrees such as b7 b9, or notes"
        )
    return words


def _sounding(symbol: str) -> Chord:
    """A chord that has notes to speak of; raises ClaimError for N.C."""
    chord = Chord.parse(symbol)
    if chord.root is None:
        raise ClaimError(f"{symbol} sounds nothing", value=symbol, expected="a chord with notes")
    return chord


def _semitones(degree: str) -> int:
    return Interval.of_degree(degree).semitones % 12


def _over(_: Tuning, above: str, below: str, listed: str) -> tuple[str, str]:
    arpeggio, chord = _sounding(above), _sounding(below)
    assert chord.root is not None
    right = [
        function_of(chord, (tone.name.pitch_class - chord.root.pitch_class) % 12)
        for tone in arpeggio.tones
    ]
    wanted = {(tone.name.pitch_class - chord.root.pitch_class) % 12 for tone in arpeggio.tones}
    return _compared(
        {_semitones(word) for word in _words(listed)},
        wanted,
        listed,
        f"{above} over {below} gives {' '.join(right)}",
    )


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
        tones = [(tone.degree, tone.name) for tone in _sounding(whose).tones]
    words = _words(listed)
    if words[0].lstrip("#b").isdigit():
        root = tones[0][1].pitch_class
        wanted = {(name.pitch_class - root) % 12 for _, name in tones}
        return _compared(
            {_semitones(word) for word in words},
            wanted,
            listed,
            f"{whose} has {' '.join(degree for degree, _ in tones)}",
        )
    names = [name for _, name in tones]
    return _compared(
        {NoteName(word) for word in words}, set(names), listed, f"{whose} has {' '.join(names)}"
    )


def _is_degree(_: Tuning, note: str, degree: str, whose: str) -> tuple[str, str]:
    chord = _sounding(whose)
    assert chord.root is not None
    right = NoteName(chord.root).up(Interval.of_degree(degree))
    return (
        ("", "")
        if NoteName(note) == right
        else (f"{note} is not the {degree} of {whose}", f"{right} is the {degree} of {whose}")
    )


def _at_place(
    tuning: Tuning, string: str, fret: str, bend: str | None, note: str
) -> tuple[str, str]:
    sounding = tuning.midi(int(string), int(fret)) + int(bend or 0)
    if NoteName(note).pitch_class == sounding % 12:
        return "", ""
    place = f"string {string} fret {fret}" + (f" bent {bend}" if bend else "")
    return f"{place} is not {note}", f"{place} is {NoteName.at((sounding * 7 + 5) % 12 - 5)}"


def _numeral(_: Tuning, symbol: str, roman: str, key: str) -> tuple[str, str]:
    right = numeral(_sounding(symbol), Scale.parse(key))
    return (
        ("", "")
        if plain(right) == roman
        else (f"{symbol} is not {roman} in {key}", f"{symbol} is {right} in {key}")
    )


def _compared(
    given: set[int] | set[NoteName], wanted: set[int] | set[NoteName], listed: str, right: str
) -> tuple[str, str]:
    return ("", "") if given == wanted else (f"“{listed}” is not what sounds", right)


_Check = Callable[..., tuple[str, str]]
FORMS: tuple[tuple[str, str, _Check], ...] = (
    (r"(\S+) over (\S+) gives (.+)", "Dm7b5 over E7 gives b7 b9 3 b13", _over),
    (r"([A-G][#b]*) is the ([#b]*\d{1,2}) of (\S+)", "Bb is the b3 of Gm7", _is_degree),
    (
        r"(.+?) is (?:the )?(?:mode )?(\d)(?:st|nd|rd|th)?(?: mode)? of (.+)",
        "A dorian is mode 2 of G major",
        _mode,
    ),
    (
        r"string (\d) fret (\d{1,3})(?: bent (\d))? is ([A-G][#b]*)",
        "string 2 fret 10 bent 2 is B",
        _at_place,
    ),
    (r"(\S+) is (\S+) in (.+)", "G7 is V7 in C major", _numeral),
    (r"(.+?) (?:has|sounds) (.+)", "E7#9 has E G# B D F##", _holds),
)
