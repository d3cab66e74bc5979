"""Key finding: the fewest and nearest homes that explain a line of chords, by dynamic programming.

The model
---------
- Observation: a run, that is one sound (see kinds) for as long as it lasts, with its place in the form (Place words).
- State: a home (see homes), and whether its tonic has sounded since the home began.
- Cost of a run in a home: its cheapest explanation (see functions), more for a longer run, at most double.
- Gain: where a tonic stands. Length, opening, section and phrase starts, the close, and the cadence before it.
- Change of home: CHANGE, less at a section or phrase start, more in mid bar. A home that is left before its tonic
  sounded costs UNSEEN, so that a cadence inside another key stays a tonicisation.
- The changes are a loop: the last chord leads to the first. A chart that does not open on its tonic, or whose last
  chord is a ii or V that leads to the first, begins and ends in one home if that costs little more (SEAM).
- A change is cheaper at a strong place, or with the ii or V that leads to one, and where a ii-V or V brings a chord of
  rest that is foreign to the home left (PREPARED).

The path of least cost is exact and takes time in proportion to the number of chords. Sources in theory: keys are
established by their tonic in strong places and by cadences (any textbook); hypermeter in fours and eights is the norm
of song forms. From memory, no single source. The figures are a judgement; `tests/bench` reports how well they read.
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
    "opens", "section", "phrase", "four", "bar", "mid bar", "unknown")
SIZE = len(MODES) * 12
_NEVER = 1e9


@dataclass(frozen=True, slots=True)
class Costs:
    """What speaks for and against homes beside the chords themselves, in one unit (a strange chord costs 1.4)."""

    change: float = 1.9
    at_section: float = -1.1     # a change there, added to `change`
    at_phrase: float = -0.6
    at_four: float = -0.3
    at_unknown: float = -0.65    # where nothing is known of the form, a change may come anywhere
    prepared: float = -0.3       # ... with a ii-V or V to a chord of rest that is foreign to the home left
    in_mid_bar: float = 0.7
    unseen: float = 1.6          # leaving a home whose tonic never sounded
    bar: float = 0.13            # a bar of tonic, up to eight
    opens: float = 0.8           # the tonic opens the changes
    section: float = 0.9         # ... a section
    phrase: float = 0.25         # ... eight bars
    four: float = 0.15           # ... four bars
    phrase_end: float = 0.2     # ... and ends eight bars
    closes: float = 0.6          # the tonic closes after a cadence
    bare_close: float = .3     # share of that without one
    weak: float = 0.45           # share of a cadence into mid bar
    seam: float = 0.5            # ending in another home than the changes began in
    absent: float = 0.6          # a tonic that never sounds; less where its V, or its ii and V, do
    no_second: float = 1.0       # a phrygian home without its bII
    no_fourth: float = 3.0       # a blues without a I7 that stays and a IV7 that rests
    m6_after_major: float = 0.3  # share of a cadence from a plain triad to a minor sixth: as well I and iv6


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


def find_homes(runs: Sequence[Run]) -> list[Home]:
    """The home of each run on the path of least cost."""
    path, _ = _best_path(runs)
    return [Home(state % 12, NAMES[state // 12]) for state in path]


def cost_of(runs: Sequence[Run], home: Home) -> float:
    """What it costs to read all runs in one home."""
    alone = frozenset([home])
    return _best_path([run._replace(allowed=alone, stated=False) for run in runs])[1]


def _best_path(runs: Sequence[Run]) -> tuple[list[int], float]:
    path, cost = _search(runs)
    if path[0] == path[-1] or any(run.allowed for run in runs):
        return path, cost
    opens_at_home = runs[0].sound.root == path[0] % 12
    if opens_at_home and not _leads_on(_neighbours(runs)[-1]):
        return path, cost
    returning, dearer = _search(runs, path[0] if opens_at_home else path[-1])
    return (returning, dearer) if dearer < cost + COSTS.seam else (path, cost)


# -- what a run says -------------------------------------------------------------------------------------------------
@lru_cache(maxsize=65536)
def _profile(around: Around) -> tuple[list[list[float]], list[Claim]]:
    """For a run on root 0: the cost of its explanation by mode and tonic, and the tonics for which it speaks."""
    costs, claims = [], []
    for number, mode in enumerate(MODES):
        costs.append([explain(mode, -tonic % 12, around.kind, around.after, around.later).cost
                      for tonic in range(12)])
        part = share(mode, around.kind, around.inverted, around.after, around.later)
        if part:
            claims.append(Claim(number, 0, part, part * _cadence_into(mode, around)))
        if mode == "major":
            claims += [Claim(number, -step % 12, FUNCTION_PRICES.stand_in, 0.0) for step in (4, 9)
                       if stands_in(step, around.kind, around.before)]
    return costs, claims


def _cadence_into(mode: str, around: Around) -> float:
    found = cadence(mode, around.before, around.earlier)
    either_way = around.kind == MINOR_6 and around.before is not None and around.before.kind == MAJOR
    return found * COSTS.m6_after_major if either_way else found


def _neighbours(runs: Sequence[Run]) -> list[Around]:
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
        root = run.sound.root
        near = [blocks[(index + far) % count].over(root) if count > 1 else None for far in (-1, -2, 1, 2)]
        found.append(Around(run.sound.kind, run.sound.inverted, *near))
    return found


def _priors(runs: Sequence[Run], around: Sequence[Around]) -> list[float]:
    """What each home costs to enter: its mode, a tonic that never sounds, and what a phrygian or a blues must have."""
    sounding = {(mode, run.sound.root) for run in runs for mode, about in MODES.items()
                if about.tonics.get(run.sound.kind, 0.0) >= 0.5}
    seconds = {run.sound.root for run in runs if run.sound.kind in (MAJOR, MAJOR_7, POWER, DOMINANT)}
    dominants = {run.sound.root for run in runs if run.sound.kind == DOMINANT}
    after = [(run.sound.root, near.after) for run, near in zip(runs, around, strict=True)
             if run.sound.kind == DOMINANT and near.after]
    staying = {root for root, next_one in after if next_one.root != 5 or next_one.kind == DOMINANT}
    within = zip(runs[:-1] if len(runs) > 4 else runs, around, strict=False)  # a last IV7 turns round, it does not rest
    resting = {run.sound.root for run, near in within if run.sound.kind == DOMINANT and near.after
               and near.after.root != 5}
    pointed_at = {(run.sound.root + 10) % 12 for run, near in zip(runs, around, strict=True)
                  if run.sound.kind in (MINOR, MINOR_6, HALF_DIMINISHED) and near.after is not None
                  and (near.after.root, near.after.kind) == (5, DOMINANT)}
    found = []
    for mode, about in MODES.items():
        for tonic in range(12):
            cost = about.cost
            if (mode, tonic) not in sounding:
                hinted = 0.2 if tonic in pointed_at else 0.5 if (tonic + 7) % 12 in dominants else 1.0
                cost += COSTS.absent * hinted
            if mode.startswith("phrygian") and (tonic + 1) % 12 not in seconds:
                cost += COSTS.no_second
            if mode == "blues" and not (tonic in staying and (tonic + 5) % 12 in resting):
                cost += COSTS.no_fourth
            found.append(cost)
    return found


# -- the search ------------------------------------------------------------------------------------------------------
def _search(runs: Sequence[Run], begin: int | None = None) -> tuple[list[int], float]:
    """(state of each run, cost) of the cheapest path.

    With `begin` the path starts in that state and ends in it, or on the way back to it.

    Two rows of costs go along: of homes whose tonic is still to come (`unseen`), and of those whose tonic has sounded.
    """
    around = _neighbours(runs)
    priors = _priors(runs, around)
    closing = _last_cadence(runs, around)
    changes = _change_costs(runs, around)
    unseen = seen = [_NEVER] * SIZE
    steps: list[_Step] = []
    for number, (run, near) in enumerate(zip(runs, around, strict=True)):
        local, here = _local(runs, number, near, closing)
        if number == 0:
            begun = [prior + cost if begin in (None, state) else _NEVER
                     for state, (prior, cost) in enumerate(zip(priors, local, strict=True))]
            unseen = [_NEVER if state in here else begun[state] for state in range(SIZE)]
            seen = [begun[state] if state in here else _NEVER for state in range(SIZE)]
            continue
        rest = _prepared_rest(runs, around, number)
        step = _Step(unseen, seen, changes[number], run.stated, None if rest is None else _foreign(rest))
        unseen, seen = step.take(priors, local, here)
        steps.append(step)
    return _trace(unseen, seen, steps, begin)


def _last_cadence(runs: Sequence[Run], around: Sequence[Around]) -> int:
    """The last run near the end that a V leads to: there the changes close, whatever turns them round after it."""
    for number in range(len(runs) - 1, -1, -1):
        run, before = runs[number], around[number].before
        if number < len(runs) - 1 and not run.near_end:
            break
        if before is not None and before.root == 7 and before.kind in PULLS and run.sound.kind not in PULLS:
            return number
    return len(runs) - 1


def _change_costs(runs: Sequence[Run], around: Sequence[Around]) -> list[float]:
    """What a change of home costs at each run: by its place, or by the place to which its ii or V leads."""
    found = [_by_place(run.place) for run in runs]
    if len(runs) > 1 and _leads_on(around[-1]):  # over the seam
        found[-1] = min(found[-1], _by_place(SECTION))
    for number in range(len(runs) - 2, -1, -1):
        if not _leads_on(around[number]) or runs[number + 1].sound == runs[number].sound:
            continue
        found[number] = min(found[number], found[number + 1])
    return [0.0 if run.stated else cost for run, cost in zip(runs, found, strict=True)]


def _prepared_rest(runs: Sequence[Run], around: Sequence[Around], number: int) -> Sound | None:
    """The chord of rest to which a ii leads by its V, or a V that had no ii."""
    far = 1 if around[number].kind in PULLS else 2
    if number + far >= len(runs) or not all(_leads_on(around[number + step]) for step in range(far)):
        return None
    has_second = far == 1 and number > 0 and _leads_on(around[number - 1]) and around[number - 1].kind not in PULLS
    rest = runs[number + far].sound
    if has_second or rest.kind not in _RESTS or _leads_on(around[number + far]):
        return None
    return rest


@lru_cache(maxsize=1024)
def _foreign(rest: Sound) -> tuple[float, ...]:
    """For each home what leaving it for a prepared chord of rest saves: where that chord is not its own or usual."""
    return tuple(COSTS.prepared if place_of(mode, rest.kind, (rest.root - tonic) % 12).cost >= GRADES[BORROWED] else 0.0
                 for mode in MODES for tonic in range(12))


def _leads_on(around: Around) -> bool:
    """Is it a V, or the ii of a V, that goes down a fifth?"""
    after = around.after
    if after is None or after.root != 5:
        return False
    return around.kind in PULLS or (around.kind in (MINOR, HALF_DIMINISHED) and after.kind in PULLS)


def _by_place(place: str) -> float:
    costs = COSTS
    by_place = {SECTION: costs.at_section, PHRASE: costs.at_phrase, FOUR: costs.at_four, MID: costs.in_mid_bar,
                UNKNOWN: costs.at_unknown}
    return costs.change + by_place.get(place, 0.0)


def _local(runs: Sequence[Run], number: int, near: Around, closing: int) -> tuple[list[float], set[int]]:
    """(cost of the run in every state, the states whose tonic it sounds)."""
    run = runs[number]
    root, bars = run.sound.root, run.bars
    rows, claims = _profile(near)
    weight = min(2.0, 0.5 + 0.5 * bars)
    local = [cost * weight for row in rows for cost in (row[-root:] + row[:-root] if root else row)]
    goes_on = len(runs) > 1 and runs[number - 1].sound == run.sound
    reach = 0.0 if goes_on or number == 0 else COSTS.weak if run.place == MID else 1.0
    stands = COSTS.bar * min(bars, 8.0) + getattr(COSTS, _PLACE_GAIN.get(run.place, ""), 0.0)
    here = set()
    for mode, step, part, strength in claims:
        state = mode * 12 + (root + step) % 12
        led = strength * reach
        gain = led + part * stands
        if number == closing and led > 0.35:
            gain += part * COSTS.closes
        elif number == len(runs) - 1 and not step:
            gain += part * COSTS.closes * COSTS.bare_close
        elif run.ends_phrase:
            gain += part * COSTS.phrase_end
        local[state] -= gain
        if part >= 0.3:
            here.add(state)
    if run.allowed is not None:
        open_states = {NAMES.index(mode) * 12 + tonic for tonic, mode in run.allowed}
        local = [cost if state in open_states else cost + _NEVER / 1e3 for state, cost in enumerate(local)]
    return local, here


class _Step:
    """One move of the search: from the costs before a run to those after it, with the way each state was reached."""

    def __init__(self, unseen: list[float], seen: list[float], change: float, stated: bool,
                 saved: Sequence[float] | None = None) -> None:
        self.unseen, self.seen = unseen, seen
        early = 0.0 if stated else COSTS.unseen
        self.leave = [min(was_seen, not_yet + early) for was_seen, not_yet in zip(seen, unseen, strict=True)]
        self.early = early
        ways = self.leave if saved is None else [cost + less for cost, less in zip(self.leave, saved, strict=True)]
        self.source = min(range(SIZE), key=ways.__getitem__)
        self.enter = ways[self.source] + change  # the best way in from another home
        self.from_unseen, self.from_seen = [0] * SIZE, [0] * SIZE

    def take(self, priors: list[float], local: list[float], here: set[int]) -> tuple[list[float], list[float]]:
        """The new rows. The way is kept: state + 1 where another home was left, 0 or -1 where the home stays."""
        unseen, seen = [_NEVER] * SIZE, [_NEVER] * SIZE
        source = self.source
        for state in range(SIZE):
            enter = self.enter + priors[state]
            not_yet, was_seen = self.unseen[state], self.seen[state]
            if state in here:
                stay = min(not_yet, was_seen)
                if enter < stay:
                    seen[state], self.from_seen[state] = enter + local[state], source + 1
                else:
                    seen[state] = stay + local[state]
                    self.from_seen[state] = -1 if was_seen <= not_yet else 0
                continue
            seen[state], self.from_seen[state] = was_seen + local[state], -1
            if enter < not_yet:
                unseen[state], self.from_unseen[state] = enter + local[state], source + 1
            else:
                unseen[state] = not_yet + local[state]
        return unseen, seen

    def left_seen(self, state: int) -> bool:
        return self.seen[state] <= self.unseen[state] + self.early


def _trace(unseen: list[float], seen: list[float], steps: Sequence[_Step], again: int | None,
           ) -> tuple[list[int], float]:
    """The states from first to last, back along the cheapest way; the tonic of `again` sounds when the loop begins."""
    early = [0.0 if state == again else COSTS.unseen for state in range(SIZE)]
    ends = [min(was_seen, not_yet + more) for was_seen, not_yet, more in zip(seen, unseen, early, strict=True)]
    state = min(range(SIZE), key=ends.__getitem__) if again is None else again
    cost = ends[state]
    has_sounded = seen[state] <= unseen[state] + early[state]
    path = [state]
    for step in reversed(steps):
        came = step.from_seen[state] if has_sounded else step.from_unseen[state]
        if came > 0:
            state = came - 1
            has_sounded = step.left_seen(state)
        else:
            has_sounded = came == -1
        path.append(state)
    return path[::-1], cost
