"""The neck: tunings, places and the real distances between frets.

Conventions: string 1 is the thinnest (highest); fret 0 is open, or the capo when there is one, and every other
fret is counted from there. A tuning is written from the lowest string to the highest, as players say it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from ..errors import NeckError, as_text, listed, shown
from ..limits import is_whole
from ..names.spelling import NoteName, Pitch, as_pitch
from .tuning_text import EXPECTED, NAMED_TUNINGS, opened

# 25.5 inches, a common electric-guitar scale length (common practice, no source).
SCALE_LENGTH_MM = 648.0


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a note is taken: string (1 is the thinnest) and fret (0 is open)."""

    string: int
    fret: int

    def __str__(self) -> str:
        return f"string {self.string} fret {self.fret}"


@dataclass(frozen=True, slots=True, repr=False)
class Tuning:
    """The neck that one plays on, where it is not the usual one: `Tuning.parse("drop D")`.

    The open strings, thinnest first, with capo, number of frets (counted from the nut) and scale length in mm.

    >>> str(Tuning.parse("drop D").pitch(6, 0)), Tuning.parse("drop D capo 2").capo
    ('D2', 2)
    """

    open_strings: tuple[Pitch, ...]
    capo: int = 0
    frets: int = 22
    scale_length_mm: float = SCALE_LENGTH_MM

    def __post_init__(self) -> None:
        expected = "pitches, thinnest string first; Tuning.parse reads a text"
        strings = listed(self.open_strings, "row of strings", expected, NeckError)
        if not all(isinstance(pitch, Pitch) for pitch in strings):
            raise NeckError(
                f"“{shown(self.open_strings)}” are no open strings",
                value=self.open_strings,
                expected=expected,
            )
        if not 4 <= len(self.open_strings) <= 9:
            raise NeckError(
                f"a neck has 4 to 9 strings, not {len(self.open_strings)}",
                value=len(self.open_strings),
            )
        if not is_whole(self.frets, 1, 36) or not is_whole(self.capo, 0, self.frets - 1):
            raise NeckError(
                f"capo {shown(self.capo)} on a neck of {shown(self.frets)} frets",
                value=self.capo,
                expected="a capo from 0 to below the last fret, at most 36 frets",
            )

    @classmethod
    def parse(cls, text: str, capo: int = 0, frets: int = 22) -> Tuning:
        """Read pitches or note names from lowest to highest ("E2 A2 D3 G3 B3 E4", "DADGBE") or a name ("drop D").

        A text may end in a capo ("drop D capo 2"). How note names alone are given octaves stands in tuning_text.
        """
        body, _, tail = as_text(text, "tuning", EXPECTED, NeckError).strip().partition(" capo ")
        if tail:
            if not re.fullmatch(r"\s*[0-9]{1,2}\s*", tail):
                raise NeckError(
                    f"“{tail}” is not a capo", value=tail, expected="a fret number, such as capo 2"
                )
            capo = int(tail)
        return cls(opened(body)[::-1], capo, frets)

    @property
    def name(self) -> str:
        """The tuning's name if it has one, else its pitches."""
        written = " ".join(str(pitch) for pitch in self.open_strings[::-1])
        return next(
            (name for name, pitches in NAMED_TUNINGS.items() if pitches == written), written
        )

    def __str__(self) -> str:
        written = " ".join(str(pitch) for pitch in self.open_strings[::-1])
        return written + (f" capo {self.capo}" if self.capo else "")

    def __repr__(self) -> str:
        """As it is typed: in a function's help it stands as a default."""
        said = self.name + (f" capo {self.capo}" if self.capo else "")
        same = Tuning.parse(said) == self
        more = "" if same else f", frets={self.frets}, scale_length_mm={self.scale_length_mm:g}"
        return f"Tuning.parse({said!r}{more})" if said != "standard" or not same else "STANDARD"

    @property
    def strings(self) -> range:
        """String numbers, thinnest first."""
        return range(1, len(self.open_strings) + 1)

    @property
    def last_fret(self) -> int:
        """The highest fret as counted from the capo."""
        return self.frets - self.capo

    def midi(self, string: int, fret: int) -> int:
        """MIDI number at a place; raises NeckError where there is none."""
        if string not in self.strings or fret not in range(self.last_fret + 1):
            raise NeckError(
                f"no string {shown(string)} fret {shown(fret)} on this neck",
                value=(string, fret),
                expected=f"strings 1 to {len(self.open_strings)}, frets 0 to {self.last_fret}",
            )
        return self.open_strings[string - 1].midi + self.capo + fret

    def pitch(self, string: int, fret: int, name: NoteName | None = None) -> Pitch:
        """The pitch at a place, spelled as `name` if given (it must sound the same), else simply."""
        return Pitch.of_midi(self.midi(string, fret), name)

    def places(self, pitch: Pitch | str | int) -> tuple[Place, ...]:
        """Every place that sounds `pitch` (a Pitch, its text or a MIDI number), thinnest string first."""
        return _places(self, pitch if is_whole(pitch, 0, 127) else as_pitch(pitch).midi)  # type: ignore[arg-type]

    @property
    def lowest_midi(self) -> int:
        return min(pitch.midi for pitch in self.open_strings) + self.capo

    @property
    def highest_midi(self) -> int:
        return max(pitch.midi for pitch in self.open_strings) + self.frets

    def with_capo(self, capo: int) -> Tuning:
        return replace(self, capo=capo)

    def fret_mm(self, fret: int) -> float:
        """Distance in mm from the nut to fret `fret` (counted from the capo): the scale length times 1 - 2^(-n/12).

        Equal temperament puts the nth fret there (the standard rule of fret placement).
        """
        octaves = (fret + self.capo) / 12
        return float(self.scale_length_mm * (1.0 - 2.0**-octaves))

    def span_mm(self, low_fret: int, high_fret: int) -> float:
        """Distance in mm between two frets, each pressed just behind its wire."""
        return abs(self.fret_mm(high_fret) - self.fret_mm(low_fret))


@lru_cache(maxsize=4096)
def _places(tuning: Tuning, midi: int) -> tuple[Place, ...]:
    return tuple(
        Place(string, midi - tuning.midi(string, 0))
        for string in tuning.strings
        if 0 <= midi - tuning.midi(string, 0) <= tuning.last_fret
    )


STANDARD = Tuning.parse("standard")


def as_tuning(value: Tuning | str) -> Tuning:
    return value if isinstance(value, Tuning) else Tuning.parse(value)


def as_strings(value: Iterable[int] | None, tuning: Tuning) -> tuple[int, ...]:
    """String numbers of a neck (None: all of them, thinnest first); raises NeckError."""
    expected = f"strings from 1 to {len(tuning.open_strings)}"
    if value is None:
        return tuple(tuning.strings)
    found = listed(value, "list of strings", expected, NeckError)
    wrong = [string for string in found if not is_whole(string, 1, len(tuning.open_strings))]
    if wrong or not found:
        raise NeckError(
            f"no string {shown(wrong[0])} on this neck" if wrong else "no strings",
            value=value,
            expected=expected,
        )
    return found


def as_fret(value: object, tuning: Tuning) -> int:
    """A fret of a neck, 0 for open; raises NeckError."""
    if is_whole(value, 0, tuning.last_fret):
        return value  # type: ignore[return-value]
    raise NeckError(
        f"no fret {shown(value)} on this neck",
        value=value,
        expected=f"a fret from 0 to {tuning.last_fret}",
    )
