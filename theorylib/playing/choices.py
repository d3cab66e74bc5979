"""Every way to take one onset of a line: the grips that its notes allow, each with its cost.

A note may ask for its string, its fret or its finger; a mark may ask for a fretted note or the picking hand. What is
left free is tried in every way that the position and the policy for open strings permit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal, get_args

from ..necks.positions import FIRST_OFFSET, FIRST_POSITION, LAST_OFFSET, NATURAL_FINGER
from ..necks.tunings import Place, Tuning
from .hand import MOST_DISPLACED, Grip, Hand, rising_fingers
from .lines import Note
from .marks import FRETTED, JOINING, TAPPED

OpenStrings = Literal["allow", "avoid", "never"]
OPEN_STRINGS: tuple[OpenStrings, ...] = get_args(OpenStrings)
ALLOW, AVOID, NEVER = OPEN_STRINGS
# The default within a position: open strings only where no fretted place lies in it; beside the nut they are allowed,
# as everybody plays there (common practice, no source).
SPARE = "spare"


@dataclass(frozen=True, slots=True)
class Want:
    """What one note asks for; equal wants share their choices."""

    midi: int
    string: int | None
    fret: int | None
    finger: int | None
    tapped: bool
    fretted: bool  # an open string cannot do what its marks ask
    sung: bool = False  # with vibrato, which the little finger does worst


def want_of(note: Note, may_join: bool) -> Want:
    """What a note asks for. A mark that joins asks nothing of the first note of a line: `may_join` is false there."""
    kinds = {mark.kind for mark in note.marks}
    asking = FRETTED if may_join else FRETTED - JOINING
    has_place = note.string is not None and note.fret is not None
    tapped = bool(kinds & TAPPED)
    # A finger counts only at the place it was given for, and the picking hand has none of the four.
    finger = note.finger if has_place and not tapped else None
    fretted = bool(kinds & asking)
    sung = "vibrato" in kinds and not tapped
    return Want(note.fretted_midi, note.string, note.fret, finger, tapped, fretted, sung)


class Choices:
    """Every grip for one onset, in order, with its cost, and the ways in which the search looks them up."""

    __slots__ = ("by_hand", "by_strings", "costs", "free", "grips")

    def __init__(
        self, hand: Hand, grips: Iterable[Grip], avoid_open: bool, sung: tuple[bool, ...] = ()
    ) -> None:
        costed = []
        for grip in grips:
            points = hand.hold_cost(grip, avoid_open, sung)
            if points is not None:
                costed.append((grip, points))
        costed.sort()
        self.grips = [grip for grip, _ in costed]
        self.costs = [points for _, points in costed]
        self.free = [grip.free for grip in self.grips]
        # Indexes of grips by hand position, and (hand position, index) by the strings they use.
        self.by_hand: dict[int, list[int]] = {}
        self.by_strings: dict[tuple[int, ...], list[tuple[int, int]]] = {}
        for index, grip in enumerate(self.grips):
            self.by_hand.setdefault(grip.hand, []).append(index)
            self.by_strings.setdefault(grip.strings, []).append((grip.hand, index))


@lru_cache(maxsize=4096)
def choices_for(
    hand: Hand, wants: tuple[Want, ...], position: int | None, open_strings: str
) -> Choices:
    """The grips for notes that sound together, in a position (None: anywhere), under a policy for open strings."""
    if open_strings == SPARE and position == FIRST_POSITION:
        return choices_for(hand, wants, position, ALLOW)
    if open_strings == SPARE:
        fretted = choices_for(hand, wants, position, NEVER)
        return fretted if fretted.grips else choices_for(hand, wants, position, ALLOW)
    grips = _grips(hand, wants, position, open_strings)
    return Choices(hand, grips, open_strings == AVOID, tuple(want.sung for want in wants))


def _grips(
    hand: Hand, wants: tuple[Want, ...], position: int | None, open_strings: str
) -> Iterator[Grip]:
    """Every way to place the wanted notes; what no hand can hold is left in and sorted out by its cost."""
    options = [_places(hand.tuning, want, open_strings) for want in wants]
    for places in product(*options):
        strings = tuple(place.string for place in places)
        frets = tuple(place.fret for place in places)
        if len(set(strings)) < len(strings):
            continue
        held = [fret for fret, want in zip(frets, wants, strict=True) if fret and not want.tapped]
        for at in _hands(hand, held, position):
            for used in _ways(wants, at, strings, frets, chord=len(held) > 1):
                yield Grip(at, strings, frets, used)


def _hands(hand: Hand, held: list[int], position: int | None) -> range:
    """The hand positions from which all held frets lie within reach."""
    low, high = 1, hand.frets
    if held:
        low, high = max(held) - LAST_OFFSET, min(held) - FIRST_OFFSET
    if position is None:
        return range(max(1, low), min(hand.frets, high) + 1)
    return range(position, position + 1) if low <= position <= high else range(0)


def _ways(
    wants: tuple[Want, ...],
    at: int,
    strings: tuple[int, ...],
    frets: tuple[int, ...],
    *,
    chord: bool,
) -> Iterable[tuple[int | None, ...]]:
    """The fingers that may take the frets from a hand position."""
    if len(wants) == 1:  # the usual case, kept quick
        fingers = _fingers(wants[0], frets[0] - at, chord=False) if frets[0] else (0,)
        return [(finger,) for finger in fingers]
    each = [
        _fingers(want, fret - at, chord=chord) if fret else (0,)
        for fret, want in zip(frets, wants, strict=True)
    ]
    return rising_fingers(each, frets, strings)


def _places(tuning: Tuning, want: Want, open_strings: str) -> list[Place]:
    return [place for place in tuning.places(want.midi) if _fits(place, want, open_strings)]


def _fits(place: Place, want: Want, open_strings: str) -> bool:
    other_string = want.string is not None and want.string != place.string
    other_fret = want.fret is not None and want.fret != place.fret
    if other_string or other_fret:
        return False
    if place.fret > 0:
        return True
    # An open string: never where a finger is needed on it; asked for by its fret, always.
    if want.fretted or want.tapped:
        return False
    return open_strings != NEVER or want.fret == 0


def _fingers(want: Want, offset: int, *, chord: bool) -> tuple[int | None, ...]:
    """The fingers for a fret so far above the hand position: its own, in a chord its neighbours as well."""
    if want.tapped:
        return (None,)
    natural = NATURAL_FINGER[offset]
    low, high = (max(1, natural - MOST_DISPLACED), min(4, natural + MOST_DISPLACED)) if chord else (natural, natural)
    return tuple(finger for finger in range(low, high + 1) if want.finger in (None, finger))
