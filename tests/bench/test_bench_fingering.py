"""Fingering, timed: prints times and the ratio to brute force in the same run. Speed is never asserted."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, product

import pytest

from theorylib import Chart, Line, Mark, Pitch
from theorylib.playing import choices as under_test
from theorylib.playing.fingering import finger, fingering_cost, steps_between
from theorylib.playing.hand import Grip, hand_on
from theorylib.playing.lines import line_of

CHART = Chart.parse("tempo: 100\n| Am7 | D7 |")


def wandering(count: int, seed: int = 3) -> Line:
    """A line that leaps about the whole neck, so that little of it repeats."""
    rng, midi, pitches = random.Random(seed), 55, []
    for _ in range(count):
        midi = min(84, max(42, midi + rng.choice([-7, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 7])))
        pitches.append(str(Pitch.of_midi(midi)))
    return line_of(pitches, CHART)


def legato(count: int) -> Line:
    """The A minor pentatonic up and down, every second note hammered or pulled where it shares a string."""
    up = ["A2", "C3", "D3", "E3", "G3", "A3", "C4", "D4", "E4", "G4", "A4", "C5"]
    made = line_of(((up + up[::-1]) * 3)[:count], CHART)
    notes = [made.notes[0]]
    for index, (one, two) in enumerate(pairwise(made.notes), 1):
        way = "hammer" if two.pitch.midi > one.pitch.midi else "pull"
        joins = index % 2 and two.pitch != one.pitch
        notes.append(replace(two, marks=(Mark(way),)) if joins else two)
    return replace(made, notes=tuple(notes))


def brute_cost(made: Line) -> int:
    """The cheapest cost by the bare product of every grip of every note."""
    hand = hand_on(made.tuning)
    rows = [[(grip, points)
             for place in made.tuning.places(note.pitch) for at in range(1, hand.frets + 1) for used in range(5)
             if (points := hand.hold_cost(grip := Grip(at, (place.string,), (place.fret,), (used,)))) is not None]
            for note in made.notes]
    steps = steps_between(made)
    return min(sum(points for _, points in path) + sum(
        hand.move_cost(one, two, step) or 0
        for (one, _), (two, _), step in zip(path, path[1:], steps, strict=False)) for path in product(*rows))


def best_ms(run: Callable[[], object], count: int = 7) -> float:
    found = []
    for _ in range(count):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found) * 1000


LINES = {"wandering, free": (wandering(64), None), "wandering, never seen": (wandering(64), None),
         "legato, free": (legato(64), None), "pentatonic, position 5": (legato(64), 5)}


@pytest.mark.parametrize("name", LINES)
def test_64_notes(name: str, benchmark) -> None:  # type: ignore[no-untyped-def]
    made, position = LINES[name]
    forget = under_test.choices_for.cache_clear if name.endswith("never seen") else (lambda: None)
    done = benchmark.pedantic(finger, (made, None, position), setup=forget, rounds=15, warmup_rounds=1)
    assert all(note.string for note in done.notes)


def test_ratio_to_brute_force(capsys) -> None:  # type: ignore[no-untyped-def]
    """Both find the same cost; brute force grows with the power of the notes, so four notes are its share here."""
    made = wandering(4)
    start = time.perf_counter()
    least = brute_cost(made)  # seconds long: once is enough
    theirs = 1000 * (time.perf_counter() - start)
    assert fingering_cost(made).total == least
    under_test.choices_for.cache_clear()
    ours = best_ms(lambda: finger(made))
    with capsys.disabled():
        print(f"\n4 notes: fingering {ours:.2f} ms, brute force {theirs:.0f} ms, ratio {theirs / ours:.0f}; "
              f"64 notes: {best_ms(lambda: finger(wandering(64))):.1f} ms")
    assert ours > 0
