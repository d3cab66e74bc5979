"""The bends that blues players learn first: where they lie, where they arrive, by which finger, how they are drilled.

Which bends are classic, what is sour over a chord and where the places lie is common practice, no source: all typed
here by hand. Sounding pitches are worked out from the open strings of standard tuning (E2 A2 D3 G3 B3 E4, ISO 16).
"""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction

import pytest
from support.changes import forms
from support.drills import KEYS

from theorylib import Chart, Chord, Tuning, finger
from theorylib.errors import NeckError
from theorylib.levels import LEVELS
from theorylib.necks.blues_bends import CLASSIC, blues_area
from theorylib.necks.shapes import target_shapes
from theorylib.practice.changes import aim_at_changes
from theorylib.practice.touch import bend_drill
from workbook.cells.telling import bends
from workbook.lesson.derived import bend_area, target_degrees
from workbook.play.performance import performance

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
OPEN = {1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40}
ROOT_FRET = {key: (pitch_class - 4) % 12 or 12 for pitch_class, key in enumerate(KEYS)}  # on the lowest string
TUNINGS = ("standard", "drop D", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "bass")
SHORT = replace(Tuning.parse("standard"), frets=3)
# Semitones above the root on which no bend may rest.
SOUR = {"7": {1, 8, 11}, "9": {1, 8, 11}, "13": {1, 8, 11}, "m7": {1, 4, 6, 8, 11}, "m": {1, 4, 6, 8, 11},
        "m6": {1, 4, 6, 8, 11}, "": {1, 3, 6, 8, 11}, "m7b5": {1, 4, 7, 11}, "dim7": {1, 4, 7, 10, 11},
        "7b9": {2, 8, 11}, "7#5": {1, 7, 11}, "maj7": {1, 3, 6, 8, 10}, "7sus4": {1, 3, 4, 8, 11}}


def above(chord: str, string: int, fret: int, semitones: Fraction | int) -> Fraction:
    """Semitones over the root, from the open strings."""
    return (Fraction(OPEN[string] + fret) + semitones - Chord.parse(chord).root.pitch_class) % 12


@pytest.mark.parametrize("suffix", SOUR)
def test_no_bend_rests_on_a_sour_note(suffix: str) -> None:
    for key in KEYS:
        chord = f"{key}{suffix}"
        found = [bend for shape in target_shapes(chord, target_degrees(chord)) for bend in shape.bends]
        for level in LEVELS:
            found += bend_area(chord, ROOT_FRET[key], level).bends
        assert found
        for bend in found:
            if bend.semitones >= 1:
                assert above(chord, bend.string, bend.fret, bend.semitones) not in SOUR[suffix], (chord, bend)
                assert bend.finger >= 2, "a finger behind it helps"


@pytest.mark.parametrize("key", KEYS)
def test_the_classic_bends_are_there_in_every_key(key: str) -> None:
    """About the root on the lowest string: string 3 up a tone to the 5th, the curl, a unison, a double stop."""
    area = blues_area(f"{key}7", ROOT_FRET[key], "advanced")
    ends = {(bend.string, bend.semitones, above(f"{key}7", bend.string, bend.fret, bend.semitones))
            for bend in area.bends}
    assert any(string == 3 and size == 2 and end in (0, 7) for string, size, end in ends)
    assert any(size == Fraction(1, 2) and end == Fraction(7, 2) for _, size, end in ends), "between b3 and 3"
    beside = [(bend, place) for bend in area.bends for place in bend.held]
    gaps = {OPEN[place.string] + place.fret - OPEN[bend.string] - bend.fret - bend.semitones for bend, place in beside}
    assert 0 in gaps, "a unison bend sounds one pitch on two strings"
    minor = blues_area(f"{key}m7", ROOT_FRET[key], "advanced")
    assert all(bend.semitones >= 1 for bend in minor.bends), "the b3 of a minor chord is its own"
    assert {bend.degree for bend in minor.bends} <= {"1", "b3", "5"}
    assert any(bend.string == 3 and bend.semitones == 2 for bend in minor.bends)


def test_the_places_of_a_blues_in_a() -> None:
    found = {(bend.string, bend.fret, bend.semitones, bend.degree, bend.finger, *(
        (place.string, place.fret) for place in bend.held)) for bend in blues_area("A7", 5, "advanced").bends}
    assert found == {
        (3, 7, 2, "5", 3), (3, 5, Fraction(1, 2), "b3", 1), (2, 8, 2, "1", 4), (1, 7, 2, "3", 3), (2, 7, 1, "b7", 3),
        (3, 7, 2, "5", 3, (2, 5)), (2, 8, 2, "1", 4, (1, 5)), (3, 7, 2, "5", 3, (2, 8))}
    first = {(bend.string, bend.fret) for bend in blues_area("A7", 5, "beginner").bends}
    assert first == {(3, 7), (3, 5)}
    minor = {(bend.string, bend.fret, bend.degree) for bend in blues_area("Cm7", 8, "intermediate").bends}
    assert minor == {(3, 10, "5"), (2, 11, "1"), (1, 10, "b3")}


def test_rows_of_the_table() -> None:
    assert len(set(CLASSIC)) == len(CLASSIC)
    assert {row.level for row in CLASSIC} == set(LEVELS)


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tuning", TUNINGS)
def test_the_drill_uses_the_places_of_the_picture_by_its_fingers(level: str, tuning: str) -> None:
    first = 0 if EXPLORE else (TUNINGS.index(tuning) + LEVELS.index(level)) % 3
    for key in KEYS[first :: 1 if EXPLORE else 3]:
        for suffix in ("7", "m7", "", "m6", "9", "dim7"):
            area = bend_area(f"{key}{suffix}", ROOT_FRET[key], level, tuning)
            line = finger(bend_drill(f"{key}{suffix}", area, tuning=tuning))
            assert line.problems() == ()
            shown = {(place.string, place.fret) for place in area.places}
            goals = {(bend.string, bend.fret + bend.semitones) for bend in area.bends}
            used = {(note.string, note.fret) for note in line.notes}
            assert used <= shown | goals
            bent = {(bend.string, bend.fret, bend.finger, bend.semitones) for bend in area.bends}
            marked = {(note.string, note.fret, note.finger, note.marks[0].value) for note in line.notes if note.marks}
            assert marked == bent
            if area.refused == ():  # an area of classic bends shows nothing that is not played
                assert used >= shown
            said = str(bends(area))
            assert all(f"string {bend.string} fret {bend.fret}" in said and f"finger {bend.finger}" in said
                       for bend in area.bends)


def test_a_bend_is_heard_where_it_says() -> None:
    """Cents over the struck note at the height of each bend, as MIDI and audio play it; a unison meets its string."""
    area = blues_area("A7", 5, "advanced")
    line = finger(bend_drill("A7", area))
    sounds = performance(line)
    heights = {}
    for sound in sounds:
        if sound.bent:
            note = line.notes[sound.source]
            heights[note.onset_beats] = (sound, sound.cents_at(note.onset_beats + Fraction(9, 10), 80))
    assert [round(cents) for _, cents in heights.values()] == [200, 50, 200, 200, 200, 200, 200, 100]
    for onset in (18, 22):  # bars 5 and 6: the unison bends
        bent, cents = heights[Fraction(onset)]
        (held,) = [one for one in sounds if line.notes[one.source].onset_beats == onset and one.source != bent.source]
        assert 100 * bent.midi + round(cents) == 100 * held.midi
    released = heights[Fraction(2)][0]
    assert released.cents_at(Fraction(39, 10), 80) == 0


def test_what_bends_are_called() -> None:
    said = str(bends(blues_area("A7", 5, "advanced"))).splitlines()
    assert ("- The 11 at string 3 fret 7 bends a tone to the 5 (finger 3), alone, against the 5 on string 2 fret 5 and "
            "against the ♭7 on string 2 fret 8.") in said
    assert "- The ♭3 at string 3 fret 5 curls up a quarter tone, no further (finger 1)." in said
    assert "- The 5 at string 2 fret 5 stays straight." in said


@pytest.mark.parametrize(("call", "told"), [
    (lambda: blues_area("N.C."), "without a chord"), (lambda: blues_area("A7", level="expert"), "level"),
    (lambda: blues_area("A7", 99), "99"), (lambda: blues_area("A7", 99, tuning="bass"), "99"),
    (lambda: blues_area("C7", 1, "beginner", tuning=SHORT), "no classic bend"),
])
def test_refusals(call, told: str) -> None:
    with pytest.raises(Exception, match=told) as caught:
        call()
    assert isinstance(caught.value, NeckError) or told in str(caught.value)


# Semitones of the tones that tell a chord: its 3rd (or the 4th or 2nd for it), its 7th or 6th.
TELLING = {2, 3, 4, 5, 9, 10, 11}


def test_every_change_is_met_on_a_third_or_a_seventh() -> None:
    """Over charts that others chose (the table of changes), each in a key of its own; with EXPLORE in all twelve."""
    tried = 0
    for number, form in enumerate(forms()):
        if number % 5 and not EXPLORE:
            continue
        for semitones in range(12) if EXPLORE else (number % 12,):
            chart = form.chart.transpose(semitones)
            line = aim_at_changes(chart, 5)
            tried += 1
            at = {note.onset_beats: note for note in line.notes}
            before = None
            for event in chart.events:
                if event.chord.root is None or event.chord == before:
                    before = event.chord
                    continue
                before = event.chord
                note = at[event.onset_beats]
                interval = (note.pitch.midi - event.chord.root.pitch_class) % 12
                assert interval in TELLING or not event.chord.guide_degrees, (form.name, str(event.chord), str(note))
                led = at.get(event.onset_beats - Fraction(1, 2))
                if led is not None and led.duration_beats == Fraction(1, 2) and led.end_beats - led.onset_beats < 1:
                    assert abs(led.pitch.midi - note.pitch.midi) in (1, 2) or event.onset_beats == 0
    assert tried >= 100


def test_a_target_is_led_to_from_both_sides_after_a_rest() -> None:
    """Over A7 the C#; D above and B below lead to the C of D7 (its 7th), over two beats of sound and one of rest."""
    line = aim_at_changes(Chart.parse("| A7 | D7 |"), 5)
    assert [(str(note.pitch), note.onset_beats, note.duration_beats) for note in line.notes] == [
        ("C#4", 0, 2), ("D4", 3, Fraction(1, 2)), ("B3", Fraction(7, 2), Fraction(1, 2)), ("C4", 4, 2)]
    short = aim_at_changes(Chart.parse("| A7 D7 G7 C7 |"), 5)
    assert [note.duration_beats for note in short.notes] == [1, 1, 1, 1]
    half = aim_at_changes(Chart.parse("meter: 3/4\n| Cm7 | Fm7 G7 | Cm7 |"), 8)
    assert [str(note.pitch) for note in half.notes] == ["Eb4", "F4", "D4", "Eb4", "G4", "E4", "F4", "Eb4"]
