"""Which finger presses what in a chord: rising fingers, the index as a barre, the last finger flat on thin strings.

Frets stand in a row from the thickest string to the thinnest: 0 is an open string, None one that is not played. All
rules are common practice, no source; `tests/theorylib/test_grips_data.py` compares them with an open set of fingerings.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

Frets = tuple[int | None, ...]
# What laying the index costs, in fingers standing one fret beside their own.
_BARRE_EFFORT = 1.5
_MOST_BESIDE = 2  # frets that a finger in first position may stand below its own
_FIRST_POSITION = 2  # up to this fret a hand beside open strings stays in first position


@dataclass(frozen=True, slots=True)
class Fingered:
    """A finger for each string (0 where nothing is pressed), the barre's ends as places in the row, and how many frets
    fingers stand beside their own."""

    fingers: tuple[int, ...]
    barre: tuple[int, int] | None
    beside: float

    @property
    def used(self) -> int:
        """How many fingers press."""
        return len(set(self.fingers) - {0})

    @property
    def flat(self) -> bool:
        """Whether another finger than the index presses several strings."""
        others = [finger for finger in self.fingers if finger > 1]
        return len(others) > len(set(others))


@lru_cache(maxsize=100_000)
def fingered(frets: Frets) -> Fingered | None:
    """The fingers that hold these frets with least effort; None where four do not."""
    pressed = sorted((fret, index) for index, fret in enumerate(frets) if fret)
    if not pressed:
        return Fingered((0,) * len(frets), None, 0.0)
    ways = [
        _one_each(frets, pressed),
        _with_barre(frets, pressed),
        _over_a_damped_string(frets, pressed),
    ]
    found = [way for way in ways if way is not None]
    return min(
        found, key=lambda way: way.beside + (_BARRE_EFFORT if way.barre else 0), default=None
    )


def _one_each(frets: Frets, pressed: list[tuple[int, int]]) -> Fingered | None:
    """A finger for each pressed string."""
    return _assigned(frets, pressed, (1, 2, 3, 4), _base(frets))


def _over_a_damped_string(frets: Frets, pressed: list[tuple[int, int]]) -> Fingered | None:
    """The bass with the 2nd finger, which damps the next string; what lies beyond it at the same fret with the others:
    one finger each for two strings, the 3rd laid flat for more."""
    bass, *others = sorted(pressed, key=lambda one: one[1])
    one_fret = {fret for fret, _ in others}
    is_so = len(others) > 1 and one_fret == {bass[0]} and frets[bass[1] + 1] is None
    if not is_so or 0 in frets or bass[0] == 1:  # at the first fret no room is left for the index behind the others
        return None
    two = len(others) == 2
    held = {bass[1]: 2} | {
        index: 3 + (number if two else 0) for number, (_, index) in enumerate(others)
    }
    return Fingered(tuple(held.get(index, 0) for index in range(len(frets))), None, 1.0)


def _with_barre(frets: Frets, pressed: list[tuple[int, int]]) -> Fingered | None:
    """The index flat at the lowest fret, the other fingers above it."""
    ends = barre_ends(frets)
    if ends is None:
        return None
    low = pressed[0][0]
    others = [(fret, index) for fret, index in pressed if fret > low]
    above = _assigned(frets, others, (2, 3, 4), low)
    if above is None:
        return None
    fingers = tuple(
        1 if fret == low else finger for fret, finger in zip(frets, above.fingers, strict=True)
    )
    return Fingered(fingers, ends, above.beside + (low - _base(frets)))


def barre_ends(frets: Frets) -> tuple[int, int] | None:
    """The places in the row where the lowest fret begins and ends, if one finger can lie from one to the other."""
    low = min(fret for fret in frets if fret)
    at_low = [index for index, fret in enumerate(frets) if fret == low]
    first, last = at_low[0], at_low[-1]
    crossed = frets[first : last + 1]
    lies = (
        first < last and 0 not in crossed and None not in crossed
    )  # it would sound a string that is damped
    return (first, last) if lies else None


def _base(frets: Frets) -> int:
    """The fret of the index: beside open strings the hand stays in first position as long as it can."""
    low = min(fret for fret in frets if fret)
    return 1 if 0 in frets and low <= _FIRST_POSITION else low


def _assigned(
    frets: Frets, pressed: list[tuple[int, int]], free: tuple[int, ...], base: int
) -> Fingered | None:
    """Rising fingers for the pressed strings, each as near its own fret as can be; of equals, the higher ones."""
    units: list[list[tuple[int, int]]] = [[one] for one in pressed]
    if len(units) > len(free):
        units = _last_one_flat(frets, units)
    if len(units) > len(free):
        return None
    best: tuple[float, tuple[int, ...]] | None = None
    for fingers in combinations(free, len(units)):
        if not _in_reach(units, fingers) or (base == 1 and _too_crowded(units, fingers)):
            continue
        effort = sum(
            abs(finger - (unit[0][0] - base + 1))
            for unit, finger in zip(units, fingers, strict=True)
        )
        # Combinations rise, so that the last of equals has the higher fingers.
        if best is None or effort <= best[0]:
            best = (effort, fingers)
    if best is None:
        return None
    by_index = {
        index: finger for unit, finger in zip(units, best[1], strict=True) for _, index in unit
    }
    return Fingered(tuple(by_index.get(index, 0) for index in range(len(frets))), None, best[0])


def _too_crowded(units: list[list[tuple[int, int]]], fingers: tuple[int, ...]) -> bool:
    """Whether a finger would stand more than two frets below its own: the hand cannot go back behind the nut."""
    return any(
        finger - unit[0][0] > _MOST_BESIDE for unit, finger in zip(units, fingers, strict=True)
    )


def _in_reach(units: list[list[tuple[int, int]]], fingers: tuple[int, ...]) -> bool:
    """Whether neighbouring fingers lie no further apart than their own frets and one more."""
    frets = [unit[0][0] for unit in units]
    pairs = pairwise(zip(frets, fingers, strict=True))
    return all(
        fret - low <= next_finger - finger + 1 for (low, finger), (fret, next_finger) in pairs
    )


def _last_one_flat(frets: Frets, units: list[list[tuple[int, int]]]) -> list[list[tuple[int, int]]]:
    """The units with those of the highest fret that lie side by side on the thinnest strings as one."""
    high = units[-1][0][0]
    played = [index for index, fret in enumerate(frets) if fret is not None]
    flat: list[tuple[int, int]] = []
    while played and frets[played[-1]] == high and (not flat or flat[0][1] == played[-1] + 1):
        flat.insert(0, (high, played.pop()))
    whole_hand = len(flat) == len(units)  # one fret alone is the index laid across: a barre
    if len(flat) < 2 or whole_hand:
        return units
    return [unit for unit in units if unit[0] not in flat] + [flat]
