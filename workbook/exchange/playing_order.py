"""In which order the written measures of a part are played: repeats, endings, da capo, dal segno, coda, fine.

Common practice, no source: a repeat without a beginning goes back to the measure after the last repeat, or the first;
after a jump back the repeats are not played again and of several endings the last is taken; a jump back is taken once.
"""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.errors import MusicFileError
from theorylib.limits import MOST_BARS

from .scores import Jumps


def playing_order(jumps: Sequence[Jumps]) -> list[int]:
    """Indexes of the measures as they are played; raises MusicFileError beyond MOST_BARS."""
    return _Player(jumps).order()


def without_beginning(jumps: Sequence[Jumps]) -> list[tuple[int, int]]:
    """(closing measure, where it goes back to) of repeats that neither a sign nor the start of the music opens."""
    starts = _starts(jumps)
    return [(index, starts[index]) for index, one in enumerate(jumps)
            if one.closes and starts[index] and not jumps[starts[index]].opens]


class _Player:
    """Walks through the measures once; short-lived."""

    def __init__(self, jumps: Sequence[Jumps]) -> None:
        self.jumps = jumps
        self.endings = _endings(jumps)
        self.starts = _starts(jumps)
        self.turn = 1            # of the repeat that is being played
        self.jumped = False
        self.found: list[int] = []

    def order(self) -> list[int]:
        at: int | None = 0
        while at is not None and at < len(self.jumps):
            if self._sounds(at):
                self.found.append(at)
                if len(self.found) > MOST_BARS:
                    raise MusicFileError("the repeats never end", value=len(self.found),
                                         expected=f"{MOST_BARS} measures at most as played")
                at = self._next(at)
            else:
                at += 1
        return self.found

    def _sounds(self, at: int) -> bool:
        """Is the measure played in this turn? After a jump back the last ending alone is."""
        turns = self.endings[at]
        if not turns:
            return True
        if self.jumped:
            return not self._another_ending_follows(at)
        return self.turn in turns

    def _another_ending_follows(self, at: int) -> bool:
        here = self.endings[at]
        later = next((one for one in self.endings[at + 1:] if one != here), ())
        return bool(later)

    def _next(self, at: int) -> int | None:
        here = self.jumps[at]
        if here.fine and self.jumped:
            return None
        if here.to_coda and self.jumped:
            coda = next((index for index in range(at + 1, len(self.jumps)) if self.jumps[index].coda), None)
            if coda is not None:
                return coda
        if here.closes and not self.jumped:
            last = max((turn for turns in self._group(at) for turn in turns), default=here.closes)
            if self.turn < last:
                self.turn += 1
                return self.starts[at]
            self.turn = 1
        if here.back_to and not self.jumped:
            self.jumped, self.turn = True, 1
            segno = next((index for index in range(at, -1, -1) if self.jumps[index].segno), 0)
            return segno if here.back_to == "segno" else 0
        follows = at + 1
        if follows < len(self.jumps) and self.endings[at] and not self.endings[follows]:
            self.turn = 1  # the last ending is over, closed by a repeat or not
        return follows

    def _group(self, at: int) -> list[tuple[int, ...]]:
        """The turns of all endings that belong to the repeat which measure `at` closes."""
        if not self.endings[at]:
            return []
        first = at
        while first > 0 and self.endings[first - 1]:
            first -= 1
        last = at
        while last + 1 < len(self.jumps) and self.endings[last + 1]:
            last += 1
        return self.endings[first:last + 1]


def _endings(jumps: Sequence[Jumps]) -> list[tuple[int, ...]]:
    """For each measure the turns of the ending that it lies in, () outside of one."""
    found: list[tuple[int, ...]] = []
    current: tuple[int, ...] = ()
    for one in jumps:
        current = one.endings or current
        found.append(current)
        if one.ending_stops:
            current = ()
    return found


def _starts(jumps: Sequence[Jumps]) -> list[int]:
    """For each measure where a repeat closed by it would begin."""
    found: list[int] = []
    start = 0
    for index, one in enumerate(jumps):
        if one.opens:
            start = index
        found.append(start)
        later_ending = index + 1 < len(jumps) and jumps[index + 1].endings
        if one.closes and not later_ending:
            start = index + 1
    return found
