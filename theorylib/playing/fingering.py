"""Fingering: string, fret and finger for every note of a line, the cheapest that the hand can play.

Model (common practice, no source)
----------------------------------
Behind the line stands a hidden hand position, the fret under the index finger; `hand` says what a hand can hold and
what each move costs. Notes of one onset are held together on different strings. Open strings, rests and tapped notes
carry the hand position through and give it time to travel. The choice is exact, by dynamic programming over every
place, finger and hand position. Of equally cheap fingerings the one with the lowest grip on the first note counts
(by hand position, then string from the thinnest, then finger), then on the second, and so on.

A position is a hard window: the hand stays there, on the frets that its fingers reach (see `necks.positions`). Tapped
notes stand outside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby, pairwise, product
from operator import add
from typing import NoReturn

from ..errors import FingeringError, closest, shown
from ..names.spelling import Pitch
from ..necks.positions import FIRST_OFFSET, LAST_OFFSET, NATURAL_FINGER, is_position, reached
from ..necks.tunings import Place, Tuning, as_tuning
from .hand import (
    DEFAULT_WEIGHTS,
    IMPOSSIBLE,
    Cost,
    Grip,
    Hand,
    Step,
    Weights,
    hand_on,
    rising_fingers,
    strings_between,
)
from .lines import Line, Note, as_line
from .marks import FRETTED, JOIN_NEEDS, JOINING, MARKS, TAPPED

OPEN_STRINGS = ("allow", "avoid", "never")
FREE = "free"  # as a position: the hand may go anywhere, even on a line that has a position of its own
_SPARE = "spare"  # the default policy within a position: open strings only where no fretted place lies in it


def finger(line: Line | str, tuning: Tuning | str | None = None, position: int | str | None = None,
           open_strings: str | None = None, weights: Weights = DEFAULT_WEIGHTS) -> Line:
    """The line with string, fret and finger on every note; its tuning and position follow the arguments.

    `tuning` and `position` default to the line's own (standard tuning and a free hand where it names none); position
    "free" lets the hand go anywhere. `open_strings` is "allow", "avoid" (each costs) or "never"; by default they are
    allowed to a free hand, and within a position serve only a note that has no fretted place there. Notes that
    already have string and fret keep them, and their finger if they have one, whatever the policy says; a note with
    a string alone stays on that string. Tapped notes get a place and no finger. Raises FingeringError with note,
    pitch and bar where that cannot be played.
    """
    line = as_line(line)
    task = _Task.of(line, tuning, position, open_strings, weights)
    notes: list[Note] = []
    for group, grip in zip(task.groups, task.solve(), strict=True):
        notes += [replace(note, string=string, fret=fret, finger=used) for note, string, fret, used
                  in zip(group, grip.strings, grip.frets, grip.fingers, strict=True)]
    return replace(line, notes=tuple(notes), tuning=task.hand.tuning, position=task.position)


def fingering_cost(line: Line | str, tuning: Tuning | str | None = None, position: int | str | None = None,
                   open_strings: str | None = None, weights: Weights = DEFAULT_WEIGHTS) -> Cost:
    """What the line's fingering costs, by cause; places and fingers that it lacks are chosen as `finger` would."""
    task = _Task.of(as_line(line), tuning, position, open_strings, weights)
    grips = task.solve()
    return sum(
        (task.hand.explain(one, two, step, task.open_strings == "avoid")
         for one, two, step in zip([None, *grips], grips, [None, *task.steps], strict=False)), Cost())


def without_places(line: Line | str) -> Line:
    """The line with no string, fret or finger, to be fingered afresh."""
    return as_line(line).with_notes(lambda note: replace(note, string=None, fret=None, finger=None))


def steps_between(line: Line) -> tuple[Step, ...]:
    """The steps from each onset of the line to the next: time at the chart's tempo, rests, joining marks."""
    groups, found = _groups(line), []
    for one, two in pairwise(groups):
        time_ms = int((two[0].onset_beats - one[0].onset_beats) * 60_000 / line.chart.tempo)
        kinds = tuple(tuple(mark.kind for mark in note.marks if mark.kind in JOINING) for note in two)
        found.append(Step(time_ms, two[0].onset_beats > one[0].end_beats, kinds if any(kinds) else ()))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Want:
    """What one note asks for; equal wants share their choices."""

    midi: int
    string: int | None
    fret: int | None
    finger: int | None
    tapped: bool
    pressed: bool


class _Choices:
    """Every grip for one onset, in order, with its cost, and the ways in which the search looks them up."""

    __slots__ = ("by_hand", "by_strings", "costs", "free", "grips")

    def __init__(self, hand: Hand, grips: Iterable[Grip], avoid_open: bool) -> None:
        costed = sorted((grip, points) for grip in grips if (points := hand.hold_cost(grip, avoid_open)) is not None)
        self.grips = [grip for grip, _ in costed]
        self.costs = [points for _, points in costed]
        self.free = [grip.free for grip in self.grips]
        self.by_hand: dict[int, list[int]] = {}
        self.by_strings: dict[tuple[int, ...], list[tuple[int, int]]] = {}
        for index, grip in enumerate(self.grips):
            self.by_hand.setdefault(grip.hand, []).append(index)
            self.by_strings.setdefault(grip.strings, []).append((grip.hand, index))


@dataclass(frozen=True, slots=True)
class _Task:
    """A line to be fingered and everything that bounds it, checked."""

    line: Line
    hand: Hand
    position: int | None
    open_strings: str
    groups: tuple[tuple[Note, ...], ...]
    steps: tuple[Step, ...]

    @classmethod
    def of(cls, line: Line, tuning: Tuning | str | None, position: int | str | None, open_strings: str | None,
           weights: Weights) -> _Task:
        if not isinstance(weights, Weights):
            raise FingeringError(f"“{shown(weights)}” are no weights", value=weights, expected="Weights")
        hand = hand_on(line.tuning if tuning is None else as_tuning(tuning), weights)
        place = line.position if position is None else None if position == FREE else position
        if place is not None and not is_position(place, hand.tuning):
            raise FingeringError(f"no position “{shown(place)}” on this neck", value=place,
                                 expected=f"a fret from 1 to {hand.frets}, or “{FREE}”")
        if open_strings is not None and open_strings not in OPEN_STRINGS:
            raise FingeringError(f"“{shown(open_strings)}” is no way to treat open strings", value=open_strings,
                                 expected=f"one of {', '.join(OPEN_STRINGS)}",
                                 nearest=closest(str(open_strings), OPEN_STRINGS))
        policy = open_strings or ("allow" if place is None else _SPARE)
        return cls(line, hand, place, policy, _groups(line), steps_between(line))  # type: ignore[arg-type]

    def solve(self) -> list[Grip]:
        """The cheapest grips, one an onset, by dynamic programming from the end."""
        if not self.groups:
            return []
        choices = [self.choices(index) for index in range(len(self.groups))]
        values = [choices[-1].costs]  # cheapest points from each grip to the end, its own included
        for here, there, step in zip(choices[-2::-1], choices[:0:-1], self.steps[::-1], strict=True):
            values.append(_toward_end(self.hand, here, there, values[-1], step))
        values.reverse()
        best = min(values[0])
        if best >= IMPOSSIBLE:
            self._refuse_join(choices)
        chosen = [values[0].index(best)]
        for here, there, step, now, later in zip(choices, choices[1:], self.steps, values, values[1:], strict=False):
            left = now[chosen[-1]] - here.costs[chosen[-1]]
            chosen.append(_first_of(self.hand, here.grips[chosen[-1]], there.grips, later, step, left))
        return [each.grips[index] for each, index in zip(choices, chosen, strict=True)]

    def choices(self, index: int) -> _Choices:
        group = self.groups[index]
        wants = tuple(_want(note, index > 0) for note in group)
        found = _choices(self.hand, wants, self.position, self.open_strings)
        if not found.grips:
            self._refuse_grip(group, wants)
        return found

    def _where(self, group: Sequence[Note]) -> str:
        first = self.line.notes.index(group[0]) + 1
        bar = int(group[0].onset_beats // self.line.chart.bar_beats) + 1
        if len(group) == 1:
            return f"note {first} ({group[0].pitch}, bar {bar})"
        return f"notes {first} to {first + len(group) - 1} ({_said(group)}, bar {bar})"

    def _refuse_grip(self, group: tuple[Note, ...], wants: tuple[_Want, ...]) -> NoReturn:
        where, hand, window = self._where(group), self.hand, ""
        for note in group:
            self._refuse_place(note)
        nearest: list[str] = []
        if self.position is not None:
            frets = reached(self.position, hand.tuning)
            low, high = frets[0], frets[-1]
            window = f" in position {self.position}"
            fits = [p for p in range(1, hand.frets + 1) if _choices(hand, wants, p, self.open_strings).grips]
            nearest = [f"position {p}" for p in sorted(fits, key=lambda p: (abs(p - (self.position or 0)), p))[:1]]
        strings = f"strings 1 to {len(hand.tuning.open_strings)}"
        if len(group) > 1:
            raise FingeringError(f"no hand can hold these notes together{window}", where=where, value=_said(group),
                                 expected=f"different strings of {strings}, within the reach of four fingers",
                                 nearest=nearest)
        pitch, place = group[0].pitch, group[0].place
        if self.position is not None and place is not None:
            raise FingeringError(f"{place} cannot be held{window}", value=str(place), where=where, nearest=nearest,
                                 expected=f"frets {low} to {high}, or a note without a place (see without_places)")
        if self.position is not None:
            raise FingeringError(f"{pitch} has no place{window} on {strings}", value=str(pitch), where=where,
                                 expected=f"a pitch found on frets {low} to {high}", nearest=nearest)
        raise FingeringError(f"{pitch} can be had only from an open string", value=str(pitch), where=where,
                             expected="a fretted place, or open strings allowed and no bend or join into them")

    def _refuse_place(self, note: Note) -> None:
        """Raise when the note cannot be had on this neck at all, or not at the place that it asks for."""
        tuning, where, pitch = self.hand.tuning, self._where([note]), note.pitch
        places = tuning.places(note.fretted_midi)
        if not places:
            low, high = Pitch.of_midi(tuning.lowest_midi), Pitch.of_midi(tuning.highest_midi)
            octaves = [Pitch(pitch.name, pitch.octave + up) for up in range(-9, 10)]
            fits = [str(other) for other in sorted(octaves, key=lambda other: abs(other.octave - pitch.octave))
                    if tuning.places(other)]
            raise FingeringError(f"{pitch} has no place on this neck", value=str(pitch), where=where,
                                 expected=f"a pitch from {low} to {high}", nearest=fits[:1])
        if note.place is not None and note.place not in places:
            raise FingeringError(f"{note.place} does not sound {pitch}", value=str(note.place), where=where,
                                 expected=" or ".join(map(str, places)))
        if note.string is not None and all(place.string != note.string for place in places):
            raise FingeringError(f"string {note.string} does not sound {pitch}", value=note.string, where=where,
                                 expected=" or ".join(map(str, places)))
        if note.place is not None and note.finger is not None:
            want = replace(_want(note, False), pressed=False)
            if not _choices(self.hand, (want,), None, "allow").grips:
                raise FingeringError(f"finger {note.finger} cannot take {note.place}", value=note.finger, where=where,
                                     expected="finger 0 for an open string, 1 (index) to 4 (little) for a fret")

    def _refuse_join(self, choices: list[_Choices]) -> NoReturn:
        """Name the first note that no fingering of the notes before it can reach."""
        reached = choices[0].grips
        index = 0
        while reached:
            step, index = self.steps[index], index + 1
            reached = [grip for grip in choices[index].grips
                       if any(self.hand.move_cost(one, grip, step) is not None for one in reached)]
        before, group = self.groups[index - 1], self.groups[index]
        note, kinds = next((note, kinds) for note, kinds in zip(group, step.joins, strict=True) if kinds)
        within = "" if self.position is None else f" in position {self.position}"
        raise FingeringError(
            f"{note.pitch} cannot be reached from {_said(before)} by {kinds[0]}{within}",
            value=str(note.pitch), where=self._where(group), expected=JOIN_NEEDS[MARKS[kinds[0]].joins],
            nearest=[f"position “{FREE}”"] if self.position is not None and self._free_hand_can() else [])

    def _free_hand_can(self) -> bool:
        with suppress(FingeringError):
            return bool(replace(self, position=None, open_strings="allow").solve())
        return False


def _said(group: Iterable[Note]) -> str:
    return " ".join(str(note.pitch) for note in group)


def _groups(line: Line) -> tuple[tuple[Note, ...], ...]:
    return tuple(tuple(group) for _, group in groupby(line.notes, lambda note: note.onset_beats))


def _want(note: Note, may_join: bool) -> _Want:
    kinds = {mark.kind for mark in note.marks}
    placed = note.string is not None and note.fret is not None
    tapped = bool(kinds & TAPPED)
    pressed = bool(kinds & (FRETTED if may_join else FRETTED - JOINING))
    used = note.finger if placed and not tapped else None
    return _Want(note.fretted_midi, note.string, note.fret, used, tapped, pressed)


@lru_cache(maxsize=4096)
def _choices(hand: Hand, wants: tuple[_Want, ...], position: int | None, open_strings: str) -> _Choices:
    if open_strings == _SPARE:
        fretted = _choices(hand, wants, position, "never")
        return fretted if fretted.grips else _choices(hand, wants, position, "allow")
    return _Choices(hand, _grips(hand, wants, position, open_strings), open_strings == "avoid")


def _grips(hand: Hand, wants: tuple[_Want, ...], position: int | None, open_strings: str) -> Iterator[Grip]:
    """Every way to place the wanted notes; what no hand can hold is left in and sorted out by its cost."""
    hands = range(1, hand.frets + 1) if position is None else (position,)
    for places in product(*(_places(hand.tuning, want, open_strings) for want in wants)):
        strings, frets = tuple(place.string for place in places), tuple(place.fret for place in places)
        if len(set(strings)) < len(strings):
            continue
        held = [fret for fret, want in zip(frets, wants, strict=True) if fret and not want.tapped]
        low, high = (max(held) - LAST_OFFSET, min(held) - FIRST_OFFSET) if held else (1, hand.frets)
        for at in hands:
            if low <= at <= high and len(wants) == 1:
                for only in _fingers(wants[0], frets[0] - at, False) if frets[0] else (0,):
                    yield Grip(at, strings, frets, (only,))
            elif low <= at <= high:
                fingers = [_fingers(want, fret - at, len(held) > 1) if fret else (0,)
                           for fret, want in zip(frets, wants, strict=True)]
                yield from (Grip(at, strings, frets, used) for used in rising_fingers(fingers, frets, strings))


def _places(tuning: Tuning, want: _Want, open_strings: str) -> list[Place]:
    def fits(place: Place) -> bool:
        if want.string not in (None, place.string) or want.fret not in (None, place.fret):
            return False
        if place.fret > 0:
            return True
        return not (want.pressed or want.tapped) and (open_strings != "never" or want.fret == 0)

    return [place for place in tuning.places(want.midi) if fits(place)]


def _fingers(want: _Want, offset: int, chord: bool) -> tuple[int | None, ...]:
    if want.tapped:
        return (None,)
    natural = NATURAL_FINGER[offset]
    beside = range(max(1, natural - 1), min(4, natural + 1) + 1) if chord else (natural,)
    return tuple(used for used in beside if want.finger in (None, used))


def _toward_end(hand: Hand, here: _Choices, there: _Choices, values: list[int], step: Step) -> list[int]:
    """Cheapest points from each grip of `here` to the end, given those of `there`.

    Without a joining mark, a move that shifts the hand depends on the strings and the hand positions alone, so grips
    of `there` that share a hand position are first reduced to the best for each starting string.
    """
    if step.joined:
        return _toward_join(hand, here, there, values, step)
    still = len(here.by_hand) == 1 and here.by_hand.keys() == there.by_hand.keys()
    shifts, free_shifts = hand.shifts(step.time_ms, step.rest), hand.shifts(step.time_ms, True)
    found = [IMPOSSIBLE] * len(here.grips)
    for strings, members in here.by_strings.items():
        row = None if still else _best_by_hand(hand, strings, there, values)
        for at, index in members:
            grip, best = here.grips[index], IMPOSSIBLE
            if row is not None:
                best = min(map(add, row, (free_shifts if here.free[index] else shifts)[at]))
            for other in there.by_hand.get(at, ()):
                if values[other] < best:
                    points = values[other] + hand.stay_cost(grip, there.grips[other])
                    if points < best:
                        best = points
            best += here.costs[index]
            if best < IMPOSSIBLE:
                found[index] = best
    return found


def _best_by_hand(hand: Hand, strings: tuple[int, ...], there: _Choices, values: list[int]) -> list[int]:
    """For each hand position, the cheapest way on from `strings`, the shift itself not counted."""
    row = [IMPOSSIBLE] * (hand.frets + 1)
    for other, members in there.by_strings.items():
        crossing = hand.weights.crossing * strings_between(strings, other)
        for at, index in members:
            points = values[index] + crossing
            if points < row[at]:
                row[at] = points
    return row


def _toward_join(hand: Hand, here: _Choices, there: _Choices, values: list[int], step: Step) -> list[int]:
    """The same through joining marks: every pair of grips, of those that share the joined strings."""
    found = [IMPOSSIBLE] * len(here.grips)
    for strings, members in here.by_strings.items():
        within = [index for others, rows in there.by_strings.items()
                  if all(other in strings for other, kinds in zip(others, step.joins, strict=True) if kinds)
                  for _, index in rows]
        for _, index in members:
            best = IMPOSSIBLE - here.costs[index]
            for other in within:
                if values[other] < best:
                    moved = hand.move_cost(here.grips[index], there.grips[other], step)
                    if moved is not None and moved + values[other] < best:
                        best = moved + values[other]
            found[index] = best + here.costs[index]
    return found


def _first_of(hand: Hand, grip: Grip, grips: list[Grip], values: list[int], step: Step, left: int) -> int:
    """The first grip on a cheapest way to the end when `left` points remain."""
    return next(index for index, value in enumerate(values)
                if value <= left and (moved := hand.move_cost(grip, grips[index], step)) is not None
                and moved + value == left)
