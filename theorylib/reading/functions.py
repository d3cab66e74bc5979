"""What a chord does in a home: its cheapest explanation, what leads to a tonic, and how far a chord can be one.

One explanation feeds everything: key finding adds its cost, `roles` puts it into words, `chordscales` chooses by it.
A chord is either in the stock of its home (see homes) or works towards the next chord:

- applied: a dominant a fifth above what follows; its aim is a degree of the home
- substitute: a dominant a semitone above what follows (the tritone substitute)
- related: the minor or half-diminished ii before either of these
- passing: a diminished chord a semitone beside, or on the root of, what follows

Sources in theory: applied dominants, related ii, tritone substitutes and common-tone diminished chords as textbooks of
jazz harmony teach them; cadences by strength (authentic, plagal, backdoor, leading-tone, modal), from memory, no single
source. All distances are semitones above the tonic or above the chord's own root; `after` and `later` are the next two
other chords, `before` and `earlier` the two that came before, counted from the root of the chord at hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from .homes import MODES, place_of
from .kinds import (
    AUGMENTED,
    DIMINISHED,
    DOMINANT,
    HALF_DIMINISHED,
    MAJOR,
    MAJOR_7,
    MINOR,
    MINOR_6,
    POWER,
    PULLS,
    SUSPENDED,
    Sound,
)

APPLIED, SUBSTITUTE, PASSING = "applied", "substitute", "passing"
RELATED, RELATED_TO_SUBSTITUTE = "related", "related to a substitute"
FUNCTIONS = frozenset({APPLIED, SUBSTITUTE, PASSING, RELATED, RELATED_TO_SUBSTITUTE})
_FIFTH_DOWN, _SEMITONE_DOWN, _SEMITONE_UP = 5, 11, 1


@dataclass(frozen=True, slots=True)
class Prices:
    """What an explanation by function costs, and how strongly a chord speaks for a tonic (common practice, judged)."""

    applied: float = 0.2
    triad: float = 0.15  # more, where the applied chord is no seventh
    substitute: float = 0.3
    related: float = 0.15  # on top of what its dominant costs
    to_substitute: float = 0.1  # more, where that dominant is a tritone substitute
    passing: float = 0.12
    passing_aim: float = 0.3  # share of what the aim of a passing chord costs
    aim: float = 0.8  # share of what the aim itself costs in the home, at most
    # what leads to a tonic
    authentic: float = 0.7  # V7
    plain: float = 0.35  # a V triad
    tritone: float = 0.35
    backdoor: float = 0.3
    leading: float = 0.4  # vii°
    modal: float = 0.2  # bVII, in a phrygian home bII
    plagal: float = 0.1
    # how far a chord is the tonic
    stand_in: float = 0.5  # iii or vi where V led us to expect I
    inverted: float = 0.4
    leads_on: float = 0.2  # a ii or a V that goes where it leads is no tonic
    by_fifths: float = 0.7  # a minor chord in a chain of fifths


PRICES = Prices()
# A V7 is less a modal home's own than a major or minor one's.
_OF_DOMINANT = {
    "mixolydian": 0.4,
    "blues": 0.6,
    "dorian": 0.7,
    "phrygian": 0.5,
    "lydian": 0.6,
    "phrygian dominant": 0.4,
}
# What a chord on the fifth degree says for the tonic, by its kind: with its 7th (or a 4th or #5 that pulls) the most.
_OF_FIFTH = {
    DOMINANT: PRICES.authentic,
    SUSPENDED: PRICES.authentic,
    AUGMENTED: PRICES.authentic,
    MAJOR: PRICES.plain,
    POWER: PRICES.plain * 0.6,
}
_FLAT_II, _IV, _V, _FLAT_VII, _VII = 1, 5, 7, 10, 11  # semitones above the tonic


class Explanation(NamedTuple):
    """Why a chord may stand in a home: a grade of the stock or a function, and for a function the degree it aims at."""

    cost: float
    name: str
    aim: int = 0


def explain(
    mode: str, step: int, kind: str, after: Sound | None, later: Sound | None = None
) -> Explanation:
    """The cheapest explanation of a chord `step` semitones above the tonic."""
    place = place_of(mode, kind, step)
    stock = Explanation(place.cost, place.grade)
    if after is None or place.cost == 0:
        return stock
    function = purpose(mode, step, kind, after, later)
    return stock if function is None or stock.cost < function.cost else function


def purpose(
    mode: str, step: int, kind: str, after: Sound, later: Sound | None
) -> Explanation | None:
    """What the chord does towards the next ones, whatever its place in the stock; None where it does nothing."""
    if kind in (DOMINANT, SUSPENDED, MAJOR, AUGMENTED):
        return _as_dominant(mode, step, kind, after)
    if kind == DIMINISHED:
        return _as_passing(mode, step, after)
    if kind in (MINOR, HALF_DIMINISHED):
        return _as_related(mode, step, after, later)
    return None


def _as_dominant(mode: str, step: int, kind: str, after: Sound) -> Explanation | None:
    """A dominant that falls a fifth, or a semitone in its place."""
    aim = (step + after.root) % 12
    reaching = PRICES.aim * min(1.0, place_of(mode, after.kind, aim).cost)
    if after.root == _FIFTH_DOWN:
        no_seventh = 0 if kind in PULLS else PRICES.triad
        return Explanation(PRICES.applied + no_seventh + reaching, APPLIED, aim)
    if after.root == _SEMITONE_DOWN and kind == DOMINANT:
        return Explanation(PRICES.substitute + reaching, SUBSTITUTE, aim)
    return None


def _as_passing(mode: str, step: int, after: Sound) -> Explanation | None:
    """A diminished chord that slides into the next one, or shares its root."""
    if after.root not in (_SEMITONE_UP, _SEMITONE_DOWN, 0):
        return None
    aim = (step + after.root) % 12
    reaching = PRICES.passing_aim * place_of(mode, after.kind, aim).cost
    return Explanation(PRICES.passing + reaching, PASSING, aim)


def _as_related(mode: str, step: int, after: Sound, later: Sound | None) -> Explanation | None:
    """The ii before a dominant or before its tritone substitute: it is worth what that dominant is worth."""
    leads_on = after.root in (_FIFTH_DOWN, _SEMITONE_DOWN) and after.kind in PULLS
    if not leads_on:
        return None
    aim = (step + after.root) % 12
    onward = None if later is None else later.over(after.root)
    dominant = explain(mode, aim, after.kind, onward)
    by_semitone = after.root == _SEMITONE_DOWN
    to_substitute = PRICES.to_substitute if by_semitone else 0.0
    cost = PRICES.related + to_substitute + dominant.cost
    does = None if onward is None else purpose(mode, aim, after.kind, onward, None)
    if does is not None and does.name == SUBSTITUTE:
        return Explanation(cost, RELATED_TO_SUBSTITUTE, does.aim)
    # The V before it promises the chord a fifth below, whether or not it comes.
    promised = dominant.aim if by_semitone else (aim + _FIFTH_DOWN) % 12
    return Explanation(cost, RELATED, promised)


def cadence(mode: str, before: Sound | None, earlier: Sound | None) -> float:
    """What the chords before a tonic say for it; both counted from the tonic."""
    if before is None:
        return 0.0
    if before.root == _V:
        return _OF_FIFTH.get(before.kind, 0.0) * _OF_DOMINANT.get(mode, 1.0)
    if before.root == _FLAT_II:
        if before.kind == DOMINANT:
            return PRICES.tritone
        is_phrygian = mode.startswith("phrygian") and before.kind in (MAJOR, MAJOR_7, POWER)
        return PRICES.modal if is_phrygian else 0.0
    if before.root == _FLAT_VII:
        if before.kind == DOMINANT:
            return PRICES.backdoor
        return PRICES.modal if before.kind in (MAJOR, POWER) else 0.0
    if before.root == _VII and before.kind == DIMINISHED:
        # Between bVII and I it only fills the tone.
        passing_up = earlier is not None and earlier.root == _FLAT_VII
        return 0.0 if passing_up else PRICES.leading
    is_fourth = before.root == _IV and before.kind in (MAJOR, MAJOR_7, MINOR, MINOR_6)
    if is_fourth and MODES[mode].side == "major":
        return PRICES.plagal
    return 0.0


def share(mode: str, kind: str, inverted: bool, after: Sound | None, later: Sound | None) -> float:
    """How far the chord is heard as the tonic of its own root, 0 to 1: less where it leads on as a ii or a V."""
    found = MODES[mode].tonics.get(kind, 0.0)
    if inverted:
        found *= PRICES.inverted
    if not found or after is None or after.root != _FIFTH_DOWN:
        return found
    if kind in PULLS and after.kind == MAJOR_7:  # a V to its I
        found *= PRICES.leads_on
    if later is None:
        return found
    onward = later.over(after.root)
    falls_again = onward.root == _FIFTH_DOWN
    if kind == MINOR and MODES[mode].side == "minor":
        if after.kind in PULLS and _resolves(onward):  # a ii to its V
            found *= PRICES.leads_on
        elif after.kind == MINOR and falls_again and onward.kind in (MINOR, DOMINANT, SUSPENDED):
            found *= PRICES.by_fifths
    elif kind == DOMINANT and after.kind in PULLS and falls_again:  # a V of V
        found *= PRICES.leads_on
    return found


def _resolves(onward: Sound) -> bool:
    """Does a dominant keep its promise: stay (a suspension that falls), go down a fifth, or to iii or vi instead?"""
    stays_or_falls = onward.root in (0, _FIFTH_DOWN)
    deceives = onward.root in (2, 9) and onward.kind == MINOR
    return stays_or_falls or deceives


def stands_in(step: int, kind: str, before: Sound | None) -> bool:
    """Is a chord `step` above the tonic iii or vi after the V, where I was expected? `before` counts from its root."""
    is_third_or_sixth = kind == MINOR and step in (4, 9)
    if before is None or not is_third_or_sixth or before.kind not in PULLS:
        return False
    return (before.root + step) % 12 == _V
