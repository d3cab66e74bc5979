"""What the changes say for and against each home: the evidence by which `keys` finds the cheapest path of homes.

A run is one sound for as long as it lasts. For each run stand here what its explanation costs in every home, for which
tonics it speaks and how far, and what a change of home would cost at its place. `Costs` holds the figures, a judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from .functions import PRICES as FUNCTION_PRICES
from .functions import cadence, explain, share, stands_in
from .homes import BORROWED, GRADES, MODES, NAMES, Home, place_of
from .kinds import DOMINANT, HALF_DIMINISHED, MAJOR, MAJOR_7, MINOR, MINOR_6, POWER, PULLS, Sound

# Place of a run in the form: where it begins.
OPENS, SECTION, PHRASE, FOUR, BAR, MID, UNKNOWN = (
    "opens",
    "section",
    "phrase",
    "four",
    "bar",
    "mid bar",
    "unknown",
)
SIZE = len(MODES) * 12
NEVER = 1e9
_CADENCE = 0.35  # from here on what leads to a tonic counts as a cadence at the close
_SOUNDS_AS_TONIC = 0.3  # the least share of a tonic by which a home is no longer unseen


@dataclass(frozen=True, slots=True)
class Costs:
    """What speaks for and against homes beside the chords themselves, in one unit (a strange chord costs 1.4)."""

    change: float = 1.9
    at_section: float = -1.1  # a change there, added to `change`
    at_phrase: float = -0.6
    at_four: float = -0.3
    at_unknown: float = -0.65  # where nothing is known of the form, a change may come anywhere
    # ... with a ii-V or V to a chord of rest that is foreign to the home left.
    prepared: float = -0.3
    in_mid_bar: float = 0.7
    unseen: float = 1.6  # leaving a home whose tonic never sounded
    bar: float = 0.13  # a bar of tonic, up to eight
    opens: float = 0.8  # the tonic opens the changes
    section: float = 0.9  # ... a section
    phrase: float = 0.25  # ... eight bars
    four: float = 0.15  # ... four bars
    phrase_end: float = 0.2  # ... and ends eight bars
    closes: float = 0.6  # the tonic closes after a cadence
    bare_close: float = 0.3  # share of that without one
    weak: float = 0.45  # share of a cadence into mid bar
    seam: float = 0.5  # ending in another home than the changes began in
    absent: float = 0.6  # a tonic that never sounds; less where its V, or its ii and V, do
    no_second: float = 1.0  # a phrygian home without its bII
    no_fourth: float = 3.0  # a blues without a I7 that stays and a IV7 that rests
    # Share of a cadence from a plain triad to a minor sixth: as well I and iv6.
    m6_after_major: float = 0.3


COSTS = Costs()
_RESTS = frozenset({MAJOR, MAJOR_7, MINOR, MINOR_6})
_PLACE_GAIN = {OPENS: "opens", SECTION: "section", PHRASE: "phrase", FOUR: "four"}


class Run(NamedTuple):
    """One sound for as long as it lasts."""

    sound: Sound
    bars: float = 1.0
    place: str = UNKNOWN
    ends_phrase: bool = False
    near_end: bool = False  # begins in the last four bars
    allowed: frozenset[Home] | None = None  # the homes of a key that is stated here
    stated: bool = False  # another key is stated to begin here


class Around(NamedTuple):
    """A run's kind and its neighbours, counted from its root: the next and previous other sounds, round the loop."""

    kind: str
    inverted: bool
    before: Sound | None
    earlier: Sound | None
    after: Sound | None
    later: Sound | None


class Claim(NamedTuple):
    """A home (mode, distance of its tonic from the root) for which a run speaks as tonic, how far, and its cadence."""

    mode: int
    step: int
    share: float
    cadence: float


@lru_cache(maxsize=65536)
def _profile(around: Around) -> tuple[list[list[float]], list[Claim]]:
    """For a run on root 0: the cost of its explanation by mode and tonic, and the tonics for which it speaks."""
    costs, claims = [], []
    for number, mode in enumerate(MODES):
        explanations = [
            explain(mode, -tonic % 12, around.kind, around.after, around.later)
            for tonic in range(12)
        ]
        costs.append([explanation.cost for explanation in explanations])
        part = share(mode, around.kind, around.inverted, around.after, around.later)
        if part:
            claims.append(Claim(number, 0, part, part * _cadence_into(mode, around)))
        if mode != "major":
            continue
        for step in (4, 9):  # iii and vi may stand in for I
            if stands_in(step, around.kind, around.before):
                claims.append(Claim(number, -step % 12, FUNCTION_PRICES.stand_in, 0.0))
    return costs, claims


def _cadence_into(mode: str, around: Around) -> float:
    found = cadence(mode, around.before, around.earlier)
    # A plain triad before a minor sixth: V to i6, or as well I to iv6.
    either_way = (
        around.kind == MINOR_6 and around.before is not None and around.before.kind == MAJOR
    )
    return found * COSTS.m6_after_major if either_way else found


def neighbours(runs: Sequence[Run]) -> list[Around]:
    """Each run with its neighbours; a sound that goes on over a section's start has the neighbours of the whole."""
    blocks: list[Sound] = []
    block_of = []
    for run in runs:
        if not blocks or blocks[-1] != run.sound:
            blocks.append(run.sound)
        block_of.append(len(blocks) - 1)
    if len(blocks) > 2 and blocks[0] == blocks[-1]:  # round the loop it is one
        blocks.pop()
    count = len(blocks)
    found = []
    for index, run in zip(block_of, runs, strict=True):
        root, kind, inverted = run.sound
        if count == 1:
            found.append(Around(kind, inverted, None, None, None, None))
            continue
        before, earlier, after, later = (
            blocks[(index + far) % count].over(root) for far in (-1, -2, 1, 2)
        )
        found.append(Around(kind, inverted, before, earlier, after, later))
    return found


def entry_costs(runs: Sequence[Run], around: Sequence[Around]) -> list[float]:
    """What each home costs to enter: its mode, a tonic that never sounds, and what a phrygian or a blues must have."""
    absent = _absent_tonics(runs, around)
    seconds = _roots(runs, frozenset({MAJOR, MAJOR_7, POWER, DOMINANT}))
    blues_tonics = _blues_tonics(runs, around)
    found = []
    for mode, about in MODES.items():
        for tonic in range(12):
            cost = about.cost + COSTS.absent * absent[mode][tonic]
            lowered_second = (tonic + 1) % 12
            if mode.startswith("phrygian") and lowered_second not in seconds:
                cost += COSTS.no_second
            if mode == "blues" and tonic not in blues_tonics:
                cost += COSTS.no_fourth
            found.append(cost)
    return found


def _roots(runs: Sequence[Run], kinds: frozenset[str]) -> set[int]:
    return {run.sound.root for run in runs if run.sound.kind in kinds}


def _absent_tonics(runs: Sequence[Run], around: Sequence[Around]) -> dict[str, list[float]]:
    """By mode and tonic: 0 where the tonic sounds, 1 where nothing points to it, less where its V or its ii does."""
    kinds_of = [run.sound.kind for run in runs]
    dominants = _roots(runs, frozenset({DOMINANT}))
    second_and_fifth = {
        (run.sound.root + 10) % 12  # the ii lies a tone above its tonic
        for run, near in zip(runs, around, strict=True)
        if run.sound.kind in (MINOR, MINOR_6, HALF_DIMINISHED) and _falls_to_dominant(near)
    }
    pointed_at = [
        0.2 if tonic in second_and_fifth else 0.5 if (tonic + 7) % 12 in dominants else 1.0
        for tonic in range(12)
    ]
    found = {}
    for mode, about in MODES.items():
        of_tonic = frozenset(kind for kind in kinds_of if about.tonics.get(kind, 0.0) >= 0.5)
        sounding = _roots(runs, of_tonic)
        found[mode] = [0.0 if tonic in sounding else pointed_at[tonic] for tonic in range(12)]
    return found


def _falls_to_dominant(near: Around) -> bool:
    return near.after is not None and near.after.root == 5 and near.after.kind == DOMINANT


def _blues_tonics(runs: Sequence[Run], around: Sequence[Around]) -> set[int]:
    """The tonics that have what makes a blues: a I7 that is no V of what follows, and a IV7 that rests."""
    staying, resting = set(), set()
    last = len(runs) - 1
    for number, (run, near) in enumerate(zip(runs, around, strict=True)):
        if run.sound.kind != DOMINANT or near.after is None:
            continue
        falls_a_fifth = near.after.root == 5
        if not falls_a_fifth or near.after.kind == DOMINANT:
            staying.add(run.sound.root)
        # A last IV7 leads back to the top, it does not rest.
        turns_round = number == last and len(runs) > 4
        if not falls_a_fifth and not turns_round:
            resting.add(run.sound.root)
    return {tonic for tonic in staying if (tonic + 5) % 12 in resting}


def last_cadence(runs: Sequence[Run], around: Sequence[Around]) -> int:
    """The last run near the end that a V leads to: there the changes close, whatever turns them round after it."""
    for number in range(len(runs) - 1, -1, -1):
        run, before = runs[number], around[number].before
        is_last = number == len(runs) - 1
        if not is_last and not run.near_end:
            break
        after_its_fifth = before is not None and before.root == 7 and before.kind in PULLS
        if after_its_fifth and run.sound.kind not in PULLS:
            return number
    return len(runs) - 1


def change_costs(runs: Sequence[Run], around: Sequence[Around]) -> list[float]:
    """What a change of home costs at each run: by its place, or by the place to which its ii or V leads."""
    found = [_by_place(run.place) for run in runs]
    if len(runs) > 1 and leads_on(around[-1]):  # over the seam
        found[-1] = min(found[-1], _by_place(SECTION))
    # From the end, so that a ii takes what its V took from the place that it leads to.
    for number in range(len(runs) - 2, -1, -1):
        goes_on = runs[number + 1].sound == runs[number].sound
        if leads_on(around[number]) and not goes_on:
            found[number] = min(found[number], found[number + 1])
    return [0.0 if run.stated else cost for run, cost in zip(runs, found, strict=True)]


def prepared_rest(runs: Sequence[Run], around: Sequence[Around], number: int) -> Sound | None:
    """The chord of rest to which a ii leads by its V, or a V that had no ii."""
    is_fifth = around[number].kind in PULLS
    goal = number + (1 if is_fifth else 2)
    if goal >= len(runs) or not all(map(leads_on, around[number:goal])):
        return None
    before = around[number - 1] if number else None
    has_second = is_fifth and before is not None and leads_on(before) and before.kind not in PULLS
    if has_second:  # the change was possible there
        return None
    rest = runs[goal].sound
    comes_to_rest = rest.kind in _RESTS and not leads_on(around[goal])
    return rest if comes_to_rest else None


@lru_cache(maxsize=1024)
def foreign(rest: Sound) -> tuple[float, ...]:
    """For each home what leaving it for a prepared chord of rest saves: where that chord is not its own or usual."""
    found = []
    for mode in MODES:
        for tonic in range(12):
            place = place_of(mode, rest.kind, (rest.root - tonic) % 12)
            is_foreign = place.cost >= GRADES[BORROWED]
            found.append(COSTS.prepared if is_foreign else 0.0)
    return tuple(found)


def leads_on(around: Around) -> bool:
    """Is it a V, or the ii of a V, that goes down a fifth?"""
    after = around.after
    if after is None or after.root != 5:
        return False
    is_fifth = around.kind in PULLS
    is_second = around.kind in (MINOR, HALF_DIMINISHED) and after.kind in PULLS
    return is_fifth or is_second


def _by_place(place: str) -> float:
    by_place = {
        SECTION: COSTS.at_section,
        PHRASE: COSTS.at_phrase,
        FOUR: COSTS.at_four,
        MID: COSTS.in_mid_bar,
        UNKNOWN: COSTS.at_unknown,
    }
    return COSTS.change + by_place.get(place, 0.0)


def costs_here(
    runs: Sequence[Run], number: int, near: Around, closing: int
) -> tuple[list[float], set[int]]:
    """(cost of the run in every state, the states whose tonic it sounds)."""
    run = runs[number]
    root, bars = run.sound.root, run.bars
    rows, claims = _profile(near)
    weight = min(2.0, 0.5 + 0.5 * bars)  # a longer chord weighs more, at most double
    local = [cost * weight for row in rows for cost in (row[-root:] + row[:-root] if root else row)]
    reach = _cadence_reach(runs, number)
    stands = COSTS.bar * min(bars, 8.0) + getattr(COSTS, _PLACE_GAIN.get(run.place, ""), 0.0)
    is_last = number == len(runs) - 1
    here = set()
    for mode, step, part, strength in claims:
        state = mode * 12 + (root + step) % 12
        led = strength * reach
        gain = led + part * stands
        closes_with_cadence = number == closing and led > _CADENCE
        if closes_with_cadence:
            gain += part * COSTS.closes
        elif is_last and not step:
            gain += part * COSTS.closes * COSTS.bare_close
        elif run.ends_phrase:
            gain += part * COSTS.phrase_end
        local[state] -= gain
        if part >= _SOUNDS_AS_TONIC:
            here.add(state)
    if run.allowed is not None:
        allowed = {NAMES.index(mode) * 12 + tonic for tonic, mode in run.allowed}
        for state in set(range(SIZE)) - allowed:
            local[state] += NEVER / 1e3
    return local, here


def _cadence_reach(runs: Sequence[Run], number: int) -> float:
    """How much of a cadence into a run counts: nothing at the start or where its sound goes on, less in mid bar."""
    run = runs[number]
    goes_on = len(runs) > 1 and runs[number - 1].sound == run.sound
    if goes_on or number == 0:
        return 0.0
    return COSTS.weak if run.place == MID else 1.0
