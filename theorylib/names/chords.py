"""Chord symbols: the reader and the printer both derive from the one vocabulary in `qualities`.

Conventions (common practice, no source, unless the tests name one)
-------------------------------------------------------------------
- A natural 11th takes the place of a major 3rd (C11 is 1 5 b7 9 11); a minor 3rd stays (Cm11).
- A 13th chord carries the 9th and leaves the 11th out. A b13 leaves the 5th in; b5 and #5 replace it.
- "alt" sounds 1 3 #5 b7 #9, the guitar's usual voicing of it; the altered scale holds the rest.
- The 4th and 2nd of sus chords are written 11 and 9, as degrees are everywhere in this project.
- The longest root wins: "Cb5" is C flat's power chord, "C(b5)" the flat-five triad. "C7(b9,#11)" and "C7b9#11"
  are the same chord. On a triad a 9, 11 or 13 is an addition, so "C(#11)" is "Cadd#11".
- In use, the fifth of any altered dominant is optional; harmony says so where it matters.
- Guide tones tell a chord's kind: the 3rd and the 7th, or the 6th of a sixth chord. Where there is no 3rd, the 4th
  of a sus or 11th chord (the 2nd of a sus2) stands for it; where both sound, the 3rd it is. A triad has its 3rd alone,
  since a perfect 5th is the same in major and minor; the altered 5th of a diminished or augmented triad tells its kind
  and counts, and so does that of a diminished seventh. A power chord has none. A 9th, an 11th beside a 3rd and a 13th
  are colours.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from ..errors import ChordError, as_text, closest, shown
from .qualities import PRETTY, QUALITIES
from .spelling import NOTE_NAMES, Interval, NoteName, plain, pretty_accidentals
from .suffixes import Meaning, degrees_of, read_body, read_suffix

_ROOT = re.compile(r"[A-G](?:##|bb|#|b)?")
_BASS = re.compile(r"/\s*([A-G](?:##|bb|#|b)?)$")
# Offered when a symbol is misspelled.
_EVERYDAY = ("m7b5", "7b9", "7#9", "7b5", "7#5", "7#11", "maj7#11", "min7", "M7")
_NO_CHORD_WORDS = {"N.C.", "NC", "N.C", "n.c.", "n.c", "nc"}
_A_SYMBOL = "a root from A to G, then a quality"
_USED_FOR_TWO = {"2": ("sus2", "add9"), "4": ("sus4", "add11")}
# German roots that English has not, and the English ones; a lone B is left out, which both have and mean otherwise.
_GERMAN = {
    german: name
    for name in map(NoteName.at, range(-7, 13))
    if (german := NOTE_NAMES["german"](name)) != name and german != "B"
}
_GERMAN_ROOT = re.compile("|".join(sorted(_GERMAN, key=len, reverse=True)))


@dataclass(frozen=True, slots=True)
class Tone:
    """One note of a chord: its spelled name, its degree over the root and the interval that degree stands for."""

    name: NoteName
    degree: str
    interval: Interval


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord to ask for its tones and degrees; `Chord.parse("Am7/G")` reads a symbol.

    `root` is None for no chord; `bass` is None unless a slash names another bass.

    >>> Chord.parse("Dm7b5").names, Chord.parse("E7#9").degrees
    (('D', 'F', 'Ab', 'C'), ('1', '3', '5', 'b7', '#9'))
    """

    root: NoteName | None
    quality: str = ""
    alterations: tuple[str, ...] = ()
    additions: tuple[str, ...] = ()
    omissions: tuple[str, ...] = ()
    bass: NoteName | None = None

    def __post_init__(self) -> None:
        for name in (self.root, self.bass):
            if name is not None and type(name) is not NoteName:
                raise ChordError(
                    f"“{shown(name)}” is no note name",
                    value=name,
                    expected=f"a NoteName, or for a symbol Chord.parse({shown(name)!r})",
                )

    @classmethod
    def parse(cls, text: str) -> Chord:
        """Read a chord symbol; raises ChordError naming what could not be read and the nearest symbol that can."""
        return _parse(as_text(text, "chord symbol", _A_SYMBOL, ChordError))

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The chord's notes from the root up, the slash bass not among them (see `bass`)."""
        return _tones(self)

    @property
    def degrees(self) -> tuple[str, ...]:
        return (
            degrees_of(self.quality, self.alterations, self.additions, self.omissions)
            if self.root
            else ()
        )

    @property
    def guide_degrees(self) -> tuple[str, ...]:
        """The degrees that tell the chord's kind, the 3rd (or what stands for it) first; see the conventions above.

        >>> Chord.parse("Dm9").guide_degrees, Chord.parse("C6").guide_degrees, Chord.parse("G7sus4").guide_degrees
        (('b3', 'b7'), ('3', '6'), ('11', 'b7'))
        """
        return _guide_degrees(self.degrees, self.quality)

    @property
    def names(self) -> tuple[NoteName, ...]:
        if self.root is None:
            return ()
        steps, root = (
            _steps(self.quality, self.alterations, self.additions, self.omissions),
            self.root.fifths,
        )
        return tuple([NoteName.at(root + fifths) for _, _, fifths in steps])

    @property
    def pitch_classes(self) -> frozenset[int]:
        """0 to 11, the bass included."""
        bass = () if self.bass is None else (self.bass.pitch_class,)
        return frozenset(tone.name.pitch_class for tone in self.tones).union(bass)

    @property
    def suffix(self) -> str:
        """The canonical symbol without root and bass."""
        changes = "".join(self.alterations)
        if changes and not self.quality:
            changes = f"({changes})"
        additions = "".join(f"add{degree}" for degree in self.additions)
        omissions = "".join(f"no{degree}" for degree in self.omissions)
        return self.quality + changes + additions + omissions

    @property
    def pretty_suffix(self) -> str:
        """The suffix as people read it: ♯ ♭ ø ° +."""
        suffix = self.suffix
        for plain_word, sign in PRETTY:
            if suffix.startswith(plain_word):
                suffix = sign + suffix[len(plain_word) :]
                break
        return re.sub(r"(#+|b+)(?=\d)", lambda match: pretty_accidentals(match[0]), suffix)

    @property
    def is_dominant(self) -> bool:
        """True where a major 3rd (or a sus 4th in its place) meets a minor 7th."""
        degrees = self.degrees
        has_third = "3" in degrees or "11" in degrees
        return has_third and "b7" in degrees and "b3" not in degrees

    @property
    def is_minor(self) -> bool:
        return "b3" in self.degrees

    def up(self, interval: Interval) -> Chord:
        """The chord moved by a spelled interval."""
        if self.root is None:
            return self
        return replace(
            self,
            root=self.root.up(interval),
            bass=None if self.bass is None else self.bass.up(interval),
        )

    def without_bass(self) -> Chord:
        return replace(self, bass=None)

    def __str__(self) -> str:
        if self.root is None:
            return "N.C."
        return self.root + self.suffix + (f"/{self.bass}" if self.bass else "")

    @property
    def pretty(self) -> str:
        if self.root is None:
            return "N.C."
        return self.root.pretty + self.pretty_suffix + (f"/{self.bass.pretty}" if self.bass else "")


NO_CHORD = Chord(None)
_name = lru_cache(maxsize=128)(NoteName)


def as_chord(value: Chord | str) -> Chord:
    return value if isinstance(value, Chord) else Chord.parse(value)


@lru_cache(maxsize=4096)
def _parse(text: str) -> Chord:
    written = plain(text).strip()
    if written in _NO_CHORD_WORDS:
        return NO_CHORD
    root = _ROOT.match(written)
    if root is None:
        upper = written[:1].upper() + written[1:]
        raise ChordError(
            f"“{text}” is not a chord symbol",
            value=text,
            expected=_A_SYMBOL,
            nearest=(upper,) if _reads(upper) else _in_english(written),
        )
    bass = _BASS.search(written, root.end()) if "/" in written else None
    body = written[root.end() : bass.start() if bass else None]
    without_spaces = "".join(body.split())  # "C maj 7", "Cm add9"
    meaning = read_suffix(body.strip()) or read_suffix(without_spaces)
    if meaning is None:
        choices = [root[0] + name for name in (*QUALITIES, *_EVERYDAY)]
        nearest = _meant(root[0], body) or _in_english(written) or closest(root[0] + body, choices)
        raise ChordError(
            f"cannot read “{body}” in the chord “{text}”",
            value=text,
            expected="a quality such as m7, maj9, 7b9 or sus4",
            nearest=nearest,
        )
    names_another_bass = bass is not None and bass[1] != root[0]
    return Chord(_name(root[0]), *meaning, _name(bass[1]) if bass and names_another_bass else None)


def _meant(root: str, body: str) -> tuple[str, ...]:
    """What a symbol may mean that guitarists use for two chords."""
    return tuple(root + quality for quality in _USED_FOR_TWO.get(body.strip(), ()))


def _in_english(text: str) -> tuple[str, ...]:
    """A symbol with a German root, with the English one: only offered, since a German B is an English Bb."""
    german = _GERMAN_ROOT.match(text)
    symbol = _GERMAN[german[0]] + text[german.end() :] if german else ""
    return (symbol,) if symbol and _reads(symbol) else ()


def _reads(text: str) -> bool:
    root = _ROOT.match(text)
    return root is not None and read_body(_BASS.sub("", text[root.end() :])) is not None


@lru_cache(maxsize=1024)
def _guide_degrees(degrees: tuple[str, ...], quality: str) -> tuple[str, ...]:
    def found(*wanted: str) -> tuple[str, ...]:
        return tuple(degree for degree in degrees if degree in wanted)

    thirds = found("3", "b3") or found("11") or (found("9") if "sus2" in quality else ())
    sevenths = found("7", "b7", "bb7") or found("6")
    tells_by_fifth = not sevenths or sevenths == ("bb7",)
    return thirds + (found("b5", "#5") if tells_by_fifth else ()) + sevenths


@lru_cache(maxsize=4096)
def _tones(chord: Chord) -> tuple[Tone, ...]:
    if chord.root is None:
        return ()
    root = chord.root.fifths
    steps = _steps(chord.quality, chord.alterations, chord.additions, chord.omissions)
    return tuple(
        Tone(NoteName.at(root + fifths), degree, interval) for degree, interval, fifths in steps
    )


@lru_cache(maxsize=1024)
def _steps(*meaning: *Meaning) -> tuple[tuple[str, Interval, int], ...]:
    """The degrees of a chord on any root, each with its interval and that interval's moves along the line of fifths."""
    intervals = ((degree, Interval.of_degree(degree)) for degree in degrees_of(*meaning))
    return tuple((degree, interval, interval.fifths) for degree, interval in intervals)
