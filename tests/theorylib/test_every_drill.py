"""Every drill in 12 keys, 4 tunings and 3 feels: its bars add up, its places sound, its promise holds, hands reach.

Each drill meets every key, every tuning and every feel; with VAMPBOOK_EXPLORE each key in each tuning and feel.
Sounds are checked by equal temperament (ISO 16, open strings tuned as named) and by music21's own chord tones; what a
hand can reach is the fingering's stated model, and a refusal must give its reason.
"""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import pytest
from support.drills import DRILLS, FEELS, KEYS, TUNINGS, made
from support.music21_chords import pitch_classes

from theorylib import FingeringError, Line, Note, finger
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
        for key, tuning in tried(number):
            known: dict[tuple[Note, ...], Line] = {}  # a feel moves no note, so the hands do the same
            for feel in FEELS:
                try:
                    line = made(name, key, tuning, feel)
                    if line.notes not in known:
                        known[line.notes] = placed(line)
                    found[name, key, tuning, feel] = replace(known[line.notes], chart=line.chart)
                except VampError as error:
                    found[name, key, tuning, feel] = error
    return found


def tried(number: int) -> list[tuple[str, str]]:
    """The keys and tunings for a drill by its number: every key in one tuning, each tuning in three keys.

    The diagonal moves on from drill to drill, so that together they meet every key in every tuning.
    """
    if EXPLORE:
        return [(key, tuning) for key in KEYS for tuning in TUNINGS]
    return [(key, TUNINGS[(index + number) % len(TUNINGS)]) for index, key in enumerate(KEYS)]


def test_each_key_is_tried_in_each_tuning() -> None:
    met = {case for number in range(len(DRILLS)) for case in tried(number)}
    assert met == {(key, tuning) for key in KEYS for tuning in TUNINGS}
    for number in range(len(DRILLS)):
        assert {key for key, _ in tried(number)} == set(KEYS)
        assert {tuning for _, tuning in tried(number)} == set(TUNINGS)


@pytest.mark.parametrize("name", DRILLS)
def test_drill(name: str) -> None:
    rows = {case: outcome for case, outcome in outcomes().items() if case[0] == name}
    assert len(rows) == 12 * 3 * (4 if EXPLORE else 1)
    lines = {case: line for case, line in rows.items() if isinstance(line, Line)}
    seen: set[tuple[str, str, tuple[Note, ...]]] = set()
    for (_, key, tuning, _), line in lines.items():
        assert line.problems() == ()
        if (key, tuning, line.notes) not in seen:  # with another feel the same notes are the same places
            check(line, name)
        seen.add((key, tuning, line.notes))
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
