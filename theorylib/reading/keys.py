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

from .evidence import (
    COSTS,
    NEVER,
    SIZE,
    Run,
    change_costs,
    costs_here,
    entry_costs,
    foreign,
    last_cadence,
    leads_on,
    neighbours,
    prepared_rest,
)
from .homes import NAMES, Home


def find_homes(runs: Sequence[Run]) -> list[Home]:
    """The home of each run on the path of least cost."""
    path, _ = _best_path(runs)
    return [Home(state % 12, NAMES[state // 12]) for state in path]


def costs_of(runs: Sequence[Run]) -> list[float]:
    """What it costs to read all runs in one home, by state; what is stated or given of keys does not count.

    Where no home is left, nothing is to be searched: all homes are summed up in one go.
    """
    free = [run._replace(allowed=None, stated=False) for run in runs]
    around = neighbours(free)
    closing = last_cadence(free, around)
    sums = list(entry_costs(free, around))
    sounded: set[int] = set()
    for number, near in enumerate(around):
        local, here = costs_here(free, number, near, closing)
        sums = [so_far + cost for so_far, cost in zip(sums, local, strict=True)]
        sounded |= here
    return [cost + (0.0 if state in sounded else COSTS.unseen) for state, cost in enumerate(sums)]


def _best_path(runs: Sequence[Run]) -> tuple[list[int], float]:
    path, cost = _search(runs)
    key_is_given = any(run.allowed for run in runs)
    if path[0] == path[-1] or key_is_given:
        return path, cost
    opens_at_home = runs[0].sound.root == path[0] % 12
    leads_round = leads_on(neighbours(runs)[-1])
    if opens_at_home and not leads_round:
        return path, cost
    # The changes go round: one home for beginning and end, if that costs little more.
    returning, dearer = _search(runs, path[0] if opens_at_home else path[-1])
    return (returning, dearer) if dearer < cost + COSTS.seam else (path, cost)


def _search(runs: Sequence[Run], begin: int | None = None) -> tuple[list[int], float]:
    """(state of each run, cost) of the cheapest path.

    With `begin` the path starts in that state and ends in it, or on the way back to it.

    Two rows of costs go along: of homes whose tonic is still to come (`unseen`), and of those whose tonic has sounded.
    """
    around = neighbours(runs)
    priors = entry_costs(runs, around)
    closing = last_cadence(runs, around)
    changes = change_costs(runs, around)
    unseen, seen = [NEVER] * SIZE, [NEVER] * SIZE
    steps: list[_Step] = []
    for number, (run, near) in enumerate(zip(runs, around, strict=True)):
        local, here = costs_here(runs, number, near, closing)
        if number == 0:
            for state in range(SIZE) if begin is None else (begin,):
                row = seen if state in here else unseen
                row[state] = priors[state] + local[state]
            continue
        rest = prepared_rest(runs, around, number)
        step = _Step(
            unseen, seen, changes[number], run.stated, None if rest is None else foreign(rest)
        )
        unseen, seen = step.take(priors, local, here)
        steps.append(step)
    return _trace(unseen, seen, steps, begin)


class _Step:
    """One move of the search: from the costs before a run to those after it, with the way each state was reached."""

    def __init__(
        self,
        unseen: list[float],
        seen: list[float],
        change: float,
        stated: bool,
        saved: Sequence[float] | None = None,
    ) -> None:
        self.unseen, self.seen = unseen, seen
        # For leaving a home before its tonic has sounded.
        self.early = 0.0 if stated else COSTS.unseen
        ways = [
            min(was_seen, not_yet + self.early)
            for was_seen, not_yet in zip(seen, unseen, strict=True)
        ]
        if saved is not None:
            ways = [cost + less for cost, less in zip(ways, saved, strict=True)]
        # The best way in from another home: the same for every home that is entered, but for what entering it costs.
        self.source = min(range(SIZE), key=ways.__getitem__)
        self.enter = ways[self.source] + change
        self.from_unseen, self.from_seen = [0] * SIZE, [0] * SIZE

    def take(
        self, priors: list[float], local: list[float], here: set[int]
    ) -> tuple[list[float], list[float]]:
        """The new rows. The way is kept: state + 1 where another home was left, 0 or -1 where the home stays."""
        unseen, seen = [NEVER] * SIZE, [NEVER] * SIZE
        source = self.source
        for state in range(SIZE):
            enter = self.enter + priors[state]
            not_yet, was_seen = self.unseen[state], self.seen[state]
            if state in here:  # the tonic sounds now, so that both rows meet in `seen`
                stay = min(not_yet, was_seen)
                if enter < stay:
                    seen[state] = enter + local[state]
                    self.from_seen[state] = source + 1
                else:
                    seen[state] = stay + local[state]
                    self.from_seen[state] = -1 if was_seen <= not_yet else 0
                continue
            seen[state] = was_seen + local[state]
            self.from_seen[state] = -1
            if enter < not_yet:
                unseen[state] = enter + local[state]
                self.from_unseen[state] = source + 1
            else:
                unseen[state] = not_yet + local[state]
        return unseen, seen

    def left_seen(self, state: int) -> bool:
        return self.seen[state] <= self.unseen[state] + self.early


def _trace(
    unseen: list[float], seen: list[float], steps: Sequence[_Step], again: int | None
) -> tuple[list[int], float]:
    """The states from first to last, back along the cheapest way; the tonic of `again` sounds when the loop begins."""
    early = [0.0 if state == again else COSTS.unseen for state in range(SIZE)]
    ends = [
        min(was_seen, not_yet + more)
        for was_seen, not_yet, more in zip(seen, unseen, early, strict=True)
    ]
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
