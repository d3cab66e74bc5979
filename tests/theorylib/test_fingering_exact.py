"""Fingering against brute force: every place, finger and hand position of short random lines.

Sources: MIDI 1.0 numbers for what a place sounds; the costs are the hand's own, so that only the search is compared.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise, product

import pytest

from theorylib import Chart, FingeringError, Line, Mark, Note, Pitch, Tuning
from theorylib.playing.fingering import finger, fingering_cost
from theorylib.playing.hand import Grip, Hand, Step, hand_on
from theorylib.playing.lines import line_of
from theorylib.playing.marks import JOINING

CHART = Chart.parse("tempo: 100\n| Am7 | D7 |")
# Open strings as MIDI numbers, thinnest first (A4 is 69, equal temperament), beside the tuning as a player writes it.
NECKS = {
    "E2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 40),
    "D2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 38),
    "D2 A2 D3 G3 A3 D4": (62, 57, 55, 50, 45, 38),
    "E1 A1 D2 G2": (43, 38, 33, 28),
    "B1 E2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 40, 35),
}


def sounding(opens: tuple[int, ...], capo: int, frets: int, midi: int) -> list[tuple[int, int]]:
    """Every (string, fret) that sounds `midi`, by MIDI arithmetic; frets counted from the capo."""
    return [(string, midi - open_midi - capo) for string, open_midi in enumerate(opens, 1)
            if 0 <= midi - open_midi - capo <= frets - capo]


def every_grip(hand: Hand, group: list[Note], opens: tuple[int, ...], position: int | None,
               policy: str) -> list[tuple[Grip, int]]:
    """All places × fingers × hand positions for one onset, less what no hand can hold, in order."""
    tuning, ranges = hand.tuning, []
    for note in group:
        kinds = {mark.kind for mark in note.marks}
        places = sounding(opens, tuning.capo, tuning.frets, note.pitch.midi)
        if note.place is not None:
            places = [(note.string, note.fret)]
        elif policy == "never":
            places = [(string, fret) for string, fret in places if fret]
        if "tap" in kinds:
            ranges.append([(string, fret, None) for string, fret in places if fret])
        else:
            ranges.append([(string, fret, used) for string, fret in places for used in range(5)])
    hands = range(1, tuning.frets - tuning.capo + 1) if position is None else [position]
    found = []
    for at, notes in product(hands, product(*ranges)):
        strings, frets, fingers = zip(*notes, strict=True)
        grip = Grip(at, strings, frets, fingers)
        points = hand.hold_cost(grip, policy == "avoid")
        if points is not None:
            found.append((grip, points))
    return sorted(found)


def brute(made: Line, opens: tuple[int, ...], tuning: Tuning, position: int | None,
          policy: str | None) -> tuple[int, list[Grip]] | None:
    """The cheapest fingering by trying every one in order; a start that already costs as much as the best is left."""
    hand = hand_on(tuning)
    groups = [list(group) for _, group in groupby(made.notes, lambda note: note.onset_beats)]
    grips = []
    for group in groups:
        if policy is None and position not in (None, 1):  # open strings only where nothing else will do
            rows = every_grip(hand, group, opens, position, "never")
            rows = rows or every_grip(hand, group, opens, position, "allow")
        else:
            rows = every_grip(hand, group, opens, position, policy or "allow")
        grips.append(rows)
    steps = []
    for one, two in pairwise(groups):
        marks = tuple(tuple(mark.kind for mark in note.marks if mark.kind in JOINING) for note in two)
        gap = two[0].onset_beats - one[0].onset_beats
        alone = len(one) == len(two) == 1 and not any(mark.kind == "tap" for note in one + two for mark in note.marks)
        again = alone and one[0].pitch.midi == two[0].pitch.midi
        begins = two[0].onset_beats % 4 == 0  # charts of a chord a bar of 4/4
        steps.append(Step(int(gap * 60_000 / made.chart.tempo), gap > one[0].duration_beats,
                          marks if any(marks) else (), begins, again))
    best: list[tuple[int, list[Grip]]] = []

    def extend(path: list[Grip], spent: int) -> None:
        if best and spent >= best[0][0]:
            return
        if len(path) == len(groups):
            best[:] = [(spent, path)]
            return
        for grip, points in grips[len(path)]:
            moved = hand.move_cost(path[-1], grip, steps[len(path) - 1]) if path else 0
            if moved is not None:
                extend([*path, grip], spent + points + moved)

    extend([], 0)
    return best[0] if best else None


def random_line(rng: random.Random, opens: tuple[int, ...], tuning: Tuning) -> Line:
    """1 to 6 notes near each other: rests, double stops, legato, taps and fixed places among them."""
    low, high = min(opens) + tuning.capo, max(opens) + tuning.frets
    midi, onset, notes = rng.randint(low + 3, high - 5), Fraction(0), []
    count = rng.randint(1, 6)
    while len(notes) < count:
        before, length = midi, rng.choice([Fraction(1, 4), Fraction(1, 2), Fraction(1)])
        midi = min(high, max(low, midi + rng.choice([-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5])))
        marks: tuple[Mark, ...] = ()
        if notes and rng.random() < 0.3:
            way = "tie" if midi == before else "hammer" if midi > before else "pull"
            marks = (Mark(rng.choice([way, way, "slide", "legato slide"]) if midi != before else way),)
        elif rng.random() < 0.06:
            marks = (Mark("tap"),)
        note = Note(Pitch.of_midi(midi), onset, length, marks=marks)
        if not marks and rng.random() < 0.1:
            string, fret = rng.choice(sounding(opens, tuning.capo, tuning.frets, midi) or [(None, None)])
            note = replace(note, string=string, fret=fret)
        notes.append(note)
        if not marks and len(notes) < count and rng.random() < 0.15:
            notes.append(Note(Pitch.of_midi(min(high, midi + rng.choice([3, 4, 5, 7]))), onset, length))
        onset += length + (rng.choice([Fraction(1, 4), Fraction(2)]) if rng.random() < 0.15 else 0)
    return Line(tuple(notes), CHART, tuning)


def cases() -> Iterator[tuple[Line, tuple[int, ...], Tuning, int | None, str | None]]:
    rng = random.Random(20)
    for index in range(600):
        name = list(NECKS)[index % len(NECKS)]
        tuning = Tuning.parse(name, capo=rng.choice([0, 0, 0, 2, 4]), frets=rng.choice([9, 12, 15]))
        position = None if index % 2 else rng.randint(1, min(6, tuning.last_fret))
        yield (random_line(rng, NECKS[name], tuning), NECKS[name], tuning, position,
               rng.choice([None, "allow", "avoid", "never"]))


def test_equal_to_brute_force_on_random_lines() -> None:
    """Same cost, same places and fingers; where brute force finds nothing, a refusal. At least 200 lines compared."""
    compared = refused = legato = together = 0
    for made, opens, tuning, position, policy in cases():
        expected = brute(made, opens, tuning, position, policy)
        if expected is None:
            with pytest.raises(FingeringError, match=r"^notes? \d+"):
                finger(made, tuning, position, policy)
            refused += 1
            continue
        done = finger(made, tuning, position, policy)
        points, grips = expected
        assert [(note.string, note.fret, note.finger) for note in done.notes] == [
            row for grip in grips for row in zip(grip.strings, grip.frets, grip.fingers, strict=True)]
        assert fingering_cost(made, tuning, position, policy).total == points
        assert fingering_cost(done, tuning, position, policy).total == points
        assert all(opens[note.string - 1] + tuning.capo + note.fret == note.pitch.midi for note in done.notes)
        compared += 1
        legato += any(mark.kind in JOINING for note in made.notes for mark in note.marks)
        together += len({note.onset_beats for note in made.notes}) < len(made.notes)
    print(f"\n{compared} lines equal, {refused} refused by both; {legato} with legato, {together} with double stops")
    assert compared >= 200
    assert refused
    assert legato >= 40
    assert together >= 20


def test_brute_force_itself_leaves_nothing_out() -> None:
    """On three notes the bounded search finds what the bare product of all grips finds."""
    opens, tuning = NECKS["E1 A1 D2 G2"], Tuning.parse("E1 A1 D2 G2", frets=8)
    hand, made = hand_on(tuning), line_of(["A1", "C2", "F2"], CHART, tuning=tuning)
    rows = [every_grip(hand, [note], opens, None, "allow") for note in made.notes]
    step = Step(300)
    full = min((sum(points for _, points in path) + sum(
        hand.move_cost(one, two, step) or 0 for (one, _), (two, _) in pairwise(path)),
        [grip for grip, _ in path]) for path in product(*rows))
    assert brute(made, opens, tuning, None, "allow") == full
