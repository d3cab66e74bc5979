"""Every drill in 12 keys, 4 tunings and 3 feels: its bars add up, its places sound, its promise holds, hands reach.

Each drill meets every key, every tuning and every feel; with VAMPBOOK_EXPLORE each key in each tuning and feel. A feel
moves no note, which a test of its own holds.
Sounds are checked by equal temperament (ISO 16, open strings tuned as named) and by music21's own chord tones; what a
hand can reach is the fingering's stated model, and a refusal must give its reason.
"""

from __future__ import annotations

import os
from fractions import Fraction
from functools import lru_cache
from itertools import product

import pytest
from support.drills import DRILLS, FEELS, KEYS, TUNINGS, made
from support.music21_chords import pitch_classes

from theorylib import FingeringError, Line, finger
from theorylib.errors import VampError
from theorylib.playing.notation import written_bars

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
# Semitones of the guide tones of the chords that these drills are made over (common practice, no source).
TELLING = {"7": {4, 10}, "m7": {3, 10}, "m7b5": {3, 10}, "7alt": {4, 10}}


def placed(line: Line) -> Line:
    return finger(line, line.tuning, line.position)


def check(line: Line, name: str) -> None:
    for bar in written_bars(line):
        assert sum((item.duration_beats for item in bar), Fraction(0)) == line.chart.bar_beats
    events = line.chords()
    for note in line.notes:
        assert note.place is not None
        open_hz = 440 * 2 ** ((line.tuning.open_strings[note.string - 1].midi - 69) / 12)
        assert 440 * 2 ** ((note.fretted_midi - 69) / 12) == pytest.approx(open_hz * 2 ** (note.fret / 12), rel=1e-9)
        assert note.finger is not None or note.marked("tap"), f"{name}: {note}"
        chord = next(event.chord for event in reversed(events) if event.onset_beats <= note.onset_beats)
        inside = note.pitch.midi % 12 in pitch_classes(chord)
        if line.promise == "chord tones" or (line.promise == "strong beats" and note.onset_beats % 2 == 0):
            assert inside, f"{name}: {note.pitch} over {chord}"
        if line.promise == "guide tones":
            above = (note.pitch.midi - chord.root.pitch_class) % 12
            assert above in TELLING[chord.suffix], f"{name}: {note.pitch} over {chord}"


@lru_cache(maxsize=1)
def outcomes() -> dict[tuple[str, str, str, str], Line | VampError]:
    """Each drill fingered, or the reason why not."""
    found: dict[tuple[str, str, str, str], Line | VampError] = {}
    for number, name in enumerate(DRILLS):
        for key, tuning, feel in tried(number):
            try:
                found[name, key, tuning, feel] = placed(made(name, key, tuning, feel))
            except VampError as error:
                found[name, key, tuning, feel] = error
    return found


def tried(number: int) -> list[tuple[str, str, str]]:
    """The keys, tunings and feels for a drill by its number: every key once, each tuning in three feels.

    The diagonals move on from drill to drill, so that together they meet every key in every tuning and feel.
    """
    if EXPLORE:
        return list(product(KEYS, TUNINGS, FEELS))
    feels = len(TUNINGS)  # the keys after which the next feel comes
    return [(key, TUNINGS[(index + number) % len(TUNINGS)], FEELS[(index // feels + number) % len(FEELS)])
            for index, key in enumerate(KEYS)]


def test_each_key_is_tried_in_each_tuning_and_feel() -> None:
    met = {case for number in range(len(DRILLS)) for case in tried(number)}
    assert met == set(product(KEYS, TUNINGS, FEELS))
    for number in range(len(DRILLS)):
        keys, *necks_and_feels = zip(*tried(number), strict=True)
        assert set(keys) == set(KEYS)
        assert set(zip(*necks_and_feels, strict=True)) == set(product(TUNINGS, FEELS))


@pytest.mark.parametrize("name", DRILLS)
def test_drill(name: str) -> None:
    rows = {case: outcome for case, outcome in outcomes().items() if case[0] == name}
    assert len(rows) == 12 * (4 * 3 if EXPLORE else 1)
    lines = {case: line for case, line in rows.items() if isinstance(line, Line)}
    for line in lines.values():
        assert line.problems() == ()
        check(line, name)
    # A refusal is honest only if it is rare and says why.
    refused = [error for error in rows.values() if isinstance(error, VampError)]
    assert len(lines) >= 0.75 * len(rows), f"{len(refused)} refused: {refused[0] if refused else ''}"
    for error in refused:
        assert str(error)
        assert error.expected or isinstance(error, FingeringError)


@pytest.mark.parametrize("name", DRILLS)
def test_feel_changes_nothing_that_is_written(name: str) -> None:
    for key in KEYS[:3]:
        assert len({made(name, key, "standard", feel).notes for feel in FEELS}) == 1


def test_share_of_refusals(capsys: pytest.CaptureFixture[str]) -> None:
    refused = [case for case, outcome in outcomes().items() if isinstance(outcome, VampError)]
    with capsys.disabled():
        print(f"\ndrills: {len(outcomes())} cases, {len(refused)} refused with a reason")
    assert len(refused) < 0.1 * len(outcomes())
