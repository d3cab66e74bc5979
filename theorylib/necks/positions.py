"""A position: where the fretting hand stands, and which frets its fingers own there. Everything that says it asks here.

Position p is the fret under the index finger. The four fingers own frets p to p + 3, one each; the index may stretch
one fret back and the little finger one fret on. Fret 0 is no finger's, but open strings sound in the first position.
Nut and last fret cut a position short. Common practice, no source.
"""

from __future__ import annotations

from ..errors import NeckError, VampError, shown
from ..limits import is_whole
from .tunings import Tuning

FIRST_POSITION = 1  # beside the nut, where open strings take the place of a fifth fret
POSITION_FRETS = 4  # one for each finger
STRETCH_FRETS = 1  # to either side, for a note that has no place under the fingers
# The last fret that is covered without a stretch, counted from the index.
SPAN_OFFSET = POSITION_FRETS - 1
# ... and those that are reached with one.
FIRST_OFFSET, LAST_OFFSET = -STRETCH_FRETS, SPAN_OFFSET + STRETCH_FRETS
# Frets above the position to the finger that takes them: index and little finger take the stretches.
NATURAL_FINGER = {
    offset: min(max(offset, 0), SPAN_OFFSET) + 1 for offset in range(FIRST_OFFSET, LAST_OFFSET + 1)
}


def is_position(value: object, tuning: Tuning) -> bool:
    """Is it a position of this neck: a fret from 1 to the last?"""
    return is_whole(value, 1, tuning.last_fret)


def as_position(value: object, tuning: Tuning, kind: type[VampError] = NeckError) -> int:
    """A position of a neck; raises `kind`."""
    if is_position(value, tuning):
        return value  # type: ignore[return-value]
    raise kind(
        f"no position {shown(value)} on this neck",
        value=value,
        expected=f"a fret from 1 to {tuning.last_fret}",
    )


def covered(position: int, tuning: Tuning) -> range:
    """The frets under the four fingers.

    >>> from .tunings import STANDARD
    >>> list(covered(5, STANDARD))
    [5, 6, 7, 8]
    """
    return range(position, min(position + SPAN_OFFSET, tuning.last_fret) + 1)


def reached(position: int, tuning: Tuning) -> range:
    """The same with the stretch to either side.

    >>> from .tunings import STANDARD
    >>> list(reached(5, STANDARD)), list(reached(1, STANDARD))
    ([4, 5, 6, 7, 8, 9], [1, 2, 3, 4, 5])
    """
    return range(max(1, position + FIRST_OFFSET), min(position + LAST_OFFSET, tuning.last_fret) + 1)


def open_strings(position: int, tuning: Tuning) -> tuple[int, ...]:
    """The strings that sound open in a position: all in the first, none in others.

    >>> from .tunings import STANDARD
    >>> open_strings(1, STANDARD), open_strings(2, STANDARD)
    ((1, 2, 3, 4, 5, 6), ())
    """
    return tuple(tuning.strings) if position == FIRST_POSITION else ()


def stretches(position: int, tuning: Tuning) -> tuple[int, ...]:
    """The frets that only a stretch reaches, the index's first."""
    return tuple(
        fret for fret in reached(position, tuning) if fret not in covered(position, tuning)
    )


def whole_positions(tuning: Tuning) -> range:
    """The positions whose frets, the stretch upward included, all lie on the neck."""
    return range(1, tuning.last_fret - LAST_OFFSET + 1)
