"""Spelling around a reading: signatures on the staff, chromatic notes beside a target, keys of a lesson."""

from __future__ import annotations

from itertools import pairwise

import pytest

from theorylib import Chart, Line, harmony
from theorylib.playing.notation import signature_fifths
from theorylib.practice.approaches import approach_targets
from workbook.lesson.derived import with_key


@pytest.mark.parametrize(("key", "fifths"), [
    ("A harmonic minor", 0), ("C harmonic minor", -3), ("E harmonic minor", 1), ("F# harmonic minor", 3),
    ("A melodic minor", 0), ("C minor", -3), ("C major", 0), ("G dorian", -1), ("D mixolydian", 1), ("E phrygian", 0),
    ("E phrygian dominant", 0), ("A phrygian dominant", -1), ("Db minor", -7), ("Gb minor", -7), ("Db major", -5),
])
def test_signatures(key: str, fifths: int) -> None:
    """Common practice, no source: a harmonic minor has its natural minor's signature, its fifth mode too; no more than
    seven signs stand on a staff."""
    assert signature_fifths(Line((), Chart.parse(f"key: {key}\n| C |"))) == fifths


@pytest.mark.parametrize(("approach", "sign"), [("below", "#"), ("above", "b")])
def test_a_chromatic_note_is_a_semitone_from_its_goal_and_on_the_next_letter(approach: str, sign: str) -> None:
    """Common practice, no source: D# rises to E, Bb falls to A. Names and MIDI numbers are compared by hand's rule."""
    semitones = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    checked = 0
    for changes in ("| Cmaj7 | Dm7 | G7 | Cmaj7 |", "| Am7 | D7 | Gmaj7 | E7 |", "| Fmaj7 | Gm7 | C7 | F6 |"):
        notes = approach_targets(changes, approach, 5).notes
        for one, goal in pairwise(notes):
            name = str(one.pitch.name)
            assert one.pitch.midi % 12 == (semitones[name[0]] + name.count("#") - name.count("b")) % 12
            if one.degree:  # a chord tone or a note of the scale
                continue
            checked += 1
            assert abs(goal.pitch.midi - one.pitch.midi) == 1
            if len(name) > 1:
                assert name[1:] == sign
    assert checked >= 6


def test_a_lesson_on_changes_that_modulate_states_each_key_and_reads_the_same() -> None:
    chart = Chart.parse("| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | % | Fm7 | Bb7 | Ebmaj7 | Cm7 | Fm7 | Bb7 | Ebmaj7 | % |")
    keyed = with_key(chart)
    assert [str(key) for key in keyed.stated_keys] == ["C major"] * 6 + ["Eb major"] * 8
    assert [one.numeral for one in harmony(keyed).chords] == [one.numeral for one in harmony(chart).chords]
    assert Chart.parse(str(keyed)) == keyed


def test_a_repeat_that_passes_through_keys_is_written_out_only_where_it_must() -> None:
    same = with_key(Chart.parse("[A] |: Cmaj7 | Am7 | Dm7 | G7 :| x3\n[B] |: Ebmaj7 | Cm7 | Fm7 | Bb7 :| x3"))
    assert len(same.bars) == 8
    assert {str(key) for key in same.stated_keys} == {"C major", "Eb major"}


def test_a_stated_key_is_seen_and_read_aloud() -> None:
    from workbook.draw.chart import alt_text, chart_picture

    chart = Chart.parse("key: C major\n[A] | Cmaj7 | G7 |\nkey: Eb major\n[B] | Ebmaj7 | Bb7 |")
    assert "section B, in E flat major, bar 3" in alt_text(chart)
    assert "in E♭ major" in chart_picture(chart).svg
