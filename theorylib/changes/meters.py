"""Meter and feel: how a bar is counted and how its eighths or sixteenths fall."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, combinations, pairwise
from typing import Literal

from ..errors import ChartError, as_text, closest
from ..limits import METER_BEATS, METER_UNITS, whole

# feel: (grid note in quarter-note beats, swing ratio: first grid note over the second, 1 is straight).
# Common practice, no source. The ratio belongs to the grid note: eighths swing in "swing", sixteenths in "swing 16".
Feel = Literal[
    "straight 8", "straight 16", "swing", "swing 16", "shuffle", "half-time", "waltz", "ballad", "rock", "funk",
    "latin straight",
]
FEELS: dict[str, tuple[Fraction, Fraction]] = {
    "straight 8": (Fraction(1, 2), Fraction(1)),
    "straight 16": (Fraction(1, 4), Fraction(1)),
    "swing": (Fraction(1, 2), Fraction(2)),
    "swing 16": (Fraction(1, 4), Fraction(2)),
    "shuffle": (Fraction(1, 2), Fraction(2)),
    "half-time": (Fraction(1, 2), Fraction(1)),
    "waltz": (Fraction(1, 2), Fraction(1)),
    "ballad": (Fraction(1, 2), Fraction(1)),
    "rock": (Fraction(1, 2), Fraction(1)),
    "funk": (Fraction(1, 4), Fraction(1)),
    "latin straight": (Fraction(1, 2), Fraction(1)),
}
# Quarter notes a minute, and the ratio there.
EVENS_FROM, EVEN_AT, LEAST_SWING = 180, 300, Fraction(5, 4)
_OTHER_FEEL_NAMES = {
    "straight": "straight 8",
    "straight 8ths": "straight 8",
    "straight eighths": "straight 8",
    "straight 16ths": "straight 16",
    "straight sixteenths": "straight 16",
    "swing 8": "swing",
    "latin": "latin straight",
    "bossa": "latin straight",
    "bossa nova": "latin straight",
    "half time": "half-time",
}
# "7/8", or with the turn of its beats "7/8 (3+2+2)".
_METER = re.compile(r"(\d{1,2})\s*/\s*(1|2|4|8|16)(?:\s*\((\d{1,2}(?:\+\d{1,2}){1,15})\))?")
LONG_BEAT = 3  # notes of a dotted beat; a plain one has two


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature: `beats` notes of 1/`unit` a bar.

    `turn` is how an uneven bar falls into twos and threes, (3, 2, 2) for a 7/8 of that kind; empty for the usual way.
    """

    beats: int = 4
    unit: int = 4
    turn: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        whole(self.beats, METER_BEATS, "number of beats in a bar")
        if self.unit not in METER_UNITS:
            raise ChartError(
                f"a meter in notes of 1/{self.unit}",
                value=self.unit,
                expected=f"one of {', '.join(map(str, METER_UNITS))}",
            )
        if self.turn:
            self._check_turn()

    def __repr__(self) -> str:
        """As it is typed: in a function's help it stands as a default."""
        return f"Meter.parse({str(self)!r})"

    def _check_turn(self) -> None:
        """Hold that the turn fills the bar with twos and threes; the usual one is not kept."""
        usual = self._usual_turn()
        sizes = {LONG_BEAT - 1, LONG_BEAT}
        if not usual or sum(self.turn) != self.beats or not set(self.turn) <= sizes:
            raise ChartError(
                f"a bar of {self.beats}/{self.unit} in {'+'.join(map(str, self.turn))}",
                value=self.turn,
                expected=f"twos and threes such as {'+'.join(map(str, usual))}"
                if usual
                else "a turn in uneven bars alone, such as 7/8 (3+2+2)",
            )
        if self.turn == usual:
            object.__setattr__(self, "turn", ())

    @classmethod
    def parse(cls, text: str) -> Meter:
        written = as_text(text, "meter", "a time signature such as 4/4, 3/4 or 6/8", ChartError)
        match = _METER.fullmatch(written.strip())
        if not match or not METER_BEATS[0] <= int(match[1]) <= METER_BEATS[1]:
            raise ChartError(
                f"“{text}” is not a meter",
                value=text,
                expected="a time signature such as 4/4, 3/4 or 6/8",
            )
        turn = tuple(map(int, match[3].split("+"))) if match[3] else ()
        return cls(int(match[1]), int(match[2]), turn)

    @property
    def bar_beats(self) -> Fraction:
        """Length of a bar in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    @property
    def compound(self) -> bool:
        """True for 6/8, 9/8, 12/8: felt in dotted notes."""
        return self.unit >= 8 and self.beats > 3 and self.beats % 3 == 0

    @property
    def pulses(self) -> int:
        """How many pulses a bar is counted in: four for 4/4, two for 6/8."""
        return self.beats // 3 if self.compound else self.beats

    @property
    def pulse_beats(self) -> Fraction:
        """Length of one pulse in quarter notes."""
        return self.bar_beats / self.pulses

    @property
    def felt_beats(self) -> tuple[Fraction, ...]:
        """The beats that a player's foot taps, in quarter notes: an uneven bar in twos with a three at its end.

        >>> [str(beat) for beat in Meter(7, 8).felt_beats], [str(beat) for beat in Meter(6, 8).felt_beats]
        (['1', '1', '3/2'], ['3/2', '3/2'])
        """
        notes = self.turn or self._usual_turn()
        if not notes:
            return (self.pulse_beats,) * self.pulses
        return tuple(Fraction(4 * count, self.unit) for count in notes)

    @property
    def beat_onsets(self) -> tuple[Fraction, ...]:
        """Where each of the felt beats begins, in quarter notes from the start of the bar."""
        return tuple(accumulate(self.felt_beats[:-1], initial=Fraction(0)))

    @property
    def uneven(self) -> bool:
        """True where the felt beats differ in length: 5/8, 7/8, 11/8."""
        return len(set(self.felt_beats)) > 1

    def shared(self, count: int) -> tuple[Fraction, ...]:
        """How long each of `count` chords of a bar lasts, in quarter notes: as long as the others where that can be.

        In a bar with an odd number of felt beats each chord begins on one of them, as evenly as that goes, and of two
        ways as even the longer comes first: 3 + 2 in 5/4, 2 + 1 in 3/4, 4 + 3 eighths in 7/8 (common practice, no
        source).

        >>> [str(part) for part in Meter(5, 4).shared(2)], [str(part) for part in Meter(7, 8, (3, 2, 2)).shared(2)]
        (['3', '2'], ['3/2', '2'])
        """
        beats = self.felt_beats
        if len(beats) % 2 == 0 or not 1 < count <= len(beats):
            return (self.bar_beats / count,) * count
        inside = range(1, len(beats))
        ways = ((0, *cuts, len(beats)) for cuts in combinations(inside, count - 1))
        lengths = [
            tuple(sum(beats[one:two], Fraction(0)) for one, two in pairwise(way)) for way in ways
        ]
        return min(lengths, key=lambda way: (max(way) - min(way), [-part for part in way]))

    def _usual_turn(self) -> tuple[int, ...]:
        """Twos with a three at the end, for an odd bar of short notes that no threes fill; empty for others.

        Common practice, no source.
        """
        is_odd = self.unit >= 8 and self.beats >= 5 and self.beats % 2 == 1
        if not is_odd or self.compound:
            return ()
        return (2,) * ((self.beats - LONG_BEAT) // 2) + (LONG_BEAT,)

    def __str__(self) -> str:
        turned = f" ({'+'.join(map(str, self.turn))})" if self.turn else ""
        return f"{self.beats}/{self.unit}{turned}"


COMMON_TIME = Meter()


def read_feel(text: str) -> str:
    """The canonical name of a feel; raises ChartError with the nearest."""
    written = " ".join(text.lower().split())
    found = _OTHER_FEEL_NAMES.get(written, written)
    if found not in FEELS:
        raise ChartError(
            f"“{text}” is not a feel",
            value=text,
            expected=f"one of {', '.join(FEELS)}",
            nearest=closest(written, FEELS),
        )
    return found


def swing_ratio(feel: str, tempo: Fraction | int = 100) -> Fraction:
    """First over second grid note: 1 is straight, 2 is triplet swing.

    Swung eighths even out above 180 quarter notes a minute, down to 5/4 at 300; a shuffle stays at 2. That swing
    lessens with tempo was measured by Friberg and Sundström, Music Perception 19 (2002), from memory; the figures
    are common practice, no source.
    """
    ratio = FEELS[feel][1]
    if feel != "swing" or tempo <= EVENS_FROM:
        return ratio
    share = Fraction(min(tempo, EVEN_AT) - EVENS_FROM, EVEN_AT - EVENS_FROM)
    return (ratio + share * (LEAST_SWING - ratio)).limit_denominator(20)


def grid_beats(feel: str) -> Fraction:
    """The grid note that a feel's patterns are laid on, in quarter-note beats."""
    return FEELS[feel][0]
