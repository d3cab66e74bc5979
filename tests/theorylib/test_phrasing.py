"""Phrases: the shapes as rows of data, how they fit changes and hand, and what is said of them.

That a call stays open and an answer comes home, that what lasts is no half step over a chord tone, and which figure has
which name is common practice, no source; the expected values here are typed by hand or read from the rows' own text by
other means than ours. Chord tones are music21's (BSD-3), homes those of the table of changes.
"""

from __future__ import annotations

import os
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from support.changes import forms
from support.music21_chords import pitch_classes

from theorylib import Chart, Line, Scale, Tuning, finger
from theorylib.errors import DrillError
from theorylib.levels import LEVELS
from theorylib.playing.notation import written_bars
from theorylib.practice.devices import devices
from theorylib.practice.idioms import ROWS, STYLES, idioms, idioms_of
from theorylib.practice.phrasing import Chorus, phrases_over, with_joins
from workbook.kit import phrase_chorus, phrase_style

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SHUFFLE = "feel: shuffle\n| A7 | D7 | A7 | % | D7 | % | A7 | % | E7 | D7 | A7 | E7 |"
SHORT = replace(Tuning.parse("F#2 F#2 F#2 F#2"), frets=22)
TABLE = [[part.strip() for part in row.split(";")] for row in ROWS.strip().splitlines()]


def lengths(rhythm: str) -> list[list[Fraction]]:
    return [[Fraction(word) for word in bar.split()] for bar in rhythm.split("|")]


def test_the_rows_fill_their_bars_and_name_each_note_once() -> None:
    assert len({tuple(row[:4]) for row in TABLE}) == len(TABLE)
    assert len({(row[0], row[4], row[5]) for row in TABLE}) == len(TABLE), "no shape twice in a style"
    for row in TABLE:
        bars = lengths(row[4])
        assert [sum(map(abs, bar)) for bar in bars] == [4, 4], row
        assert sum(length > 0 for bar in bars for length in bar) == len(row[5].split()), row
        *before, length = bars[1] if bars[1][-1] > 0 else bars[1][:-1]
        assert sum(map(abs, before)) % 1 == 0, (row, "ends on a beat")
        assert length >= 1, (row, "and is held")
        ends = row[5].split()[-1].strip("h~',")
        assert ends in ("1", "3") if row[2] == "answer" else ends != "1", row
    for style in STYLES:
        for level in LEVELS:
            for role in ("call", "answer"):
                assert len(idioms_of(style, role, level)) == 2
    assert len(idioms()) == 12 * len(STYLES)


def test_each_style_has_what_makes_a_phrase() -> None:
    """Rests, a figure said twice, one that is moved, a goal from both sides, groups with gaps: read off the rows."""
    for style in STYLES:
        rows = [row for row in TABLE if row[0] == style]
        onsets = []
        for row in rows:
            bars = lengths(row[4])
            onsets.append([[sum(map(abs, bar[:index]), Fraction(0)) for index, one in enumerate(bar) if one > 0]
                           for bar in bars])
        assert any(one == two for one, two in onsets), style
        assert any(len(one) == len(two) > 1 and len({b - a for a, b in zip(one, two, strict=True)} - {0}) == 1
                   for one, two in onsets), style
        assert any("> <" in row[5] for row in rows), style
        assert all(any(length < 0 for bar in lengths(row[4]) for length in bar) for row in rows), style
        beginners = [row for row in rows if row[1] == "beginner"]
        assert all(abs(length) >= 1 for row in beginners for bar in lengths(row[4]) for length in bar)
    assert sum("^" in row[5] for row in TABLE if "blues" in row[0]) >= 5


def fitted(chart: Chart, style: str, level: str, position: int) -> tuple[Line, Chorus]:
    chorus = phrases_over(chart, style, level, position)
    line = with_joins(finger(chorus.line, chorus.line.tuning, position), chorus.joined)
    assert finger(line, line.tuning, position) == line, "the joins can be played as they stand"
    return line, chorus


def check(line: Line, position: int) -> None:
    assert line.problems() == ()
    for bar in written_bars(line):
        assert sum((item.duration_beats for item in bar), Fraction(0)) == line.chart.bar_beats
    for note in line.notes:
        assert position - 1 <= note.fret <= position + 4 or note.fret == 0
        chord = line.chart.chord_at(note.onset_beats)
        tones = pitch_classes(chord)
        bend = note.marked("bend")
        ends = note.pitch.midi + int(bend.value if bend else 0)
        if bend is not None:
            assert note.finger >= 2 or bend.value < 1
            above = (ends - chord.root.pitch_class) % 12
            assert bend.value < 1 or ends % 12 in tones or above in (2, 3, 5, 7, 9, 10), (note, chord)
        elif note.duration_beats >= 1:
            half_step_over_a_tone = (ends - 1) % 12 in tones
            assert ends % 12 in tones or not half_step_over_a_tone, (str(note.pitch), str(chord))


def test_phrases_fit_charts_that_others_chose() -> None:
    """Over forms of one key in the table of changes, each in a key of its own; with EXPLORE all of them in twelve.

    What lasts and where bends end is right over its chord, the hand keeps to its position, the last note is on the
    tonic chord that the table names, but for what leads back from there to the beginning.
    """
    tried, away = 0, set()
    for number, form in enumerate(forms()):
        tonics = {Scale.parse(home).tonic.pitch_class for home in form.home}
        roots = {event.chord.root.pitch_class for event in form.chart.events if event.chord.root is not None}
        if len(form.keys) != 1 or not tonics & roots or (number % 3 and not EXPLORE):
            continue
        for semitones in range(12) if EXPLORE else (number % 12,):
            chart = form.chart.transpose(semitones)
            style, level = STYLES[(number // 3) % len(STYLES)], LEVELS[(number + semitones) % 3]
            line, chorus = fitted(chart, style, level, 2 + (number + semitones) % 9)
            check(line, line.position)
            tried += 1
            back = min((one.first for one in chorus.statements if one.leads_back), default=line.bar_count + 1)
            home = [note for note in line.notes if note.onset_beats < (back - 1) * chart.bar_beats][-1]
            last = chart.chord_at(home.onset_beats)
            if (last.root.pitch_class - semitones) % 12 not in tonics:
                away.add(form.name)
    assert tried >= 100
    assert away <= {"pop: vi IV I V in major by its section"}


@pytest.mark.parametrize("meter", ["3/4", "6/8", "12/8", "5/4", "7/8", "2/4", "3/8"])
def test_phrases_keep_to_every_meter(meter: str) -> None:
    chart = Chart.parse("| Am7 | D7 | Am7 | E7 |", meter=meter)
    for number, style in enumerate(STYLES):
        for level in LEVELS if EXPLORE else (LEVELS[(number + len(meter)) % 3],):
            line, _ = fitted(chart, style, level, 5)
            check(line, 5)
            assert len(line.notes) >= 4
            ends = [note.end_beats for note in line.notes]
            assert all(two.onset_beats >= end for end, two in zip(ends, line.notes[1:], strict=False))


def test_at_the_end_of_the_neck_notes_are_those_of_the_chord() -> None:
    for position in (17, 19, 20):
        line = phrases_over("| Am7 | D7 | Am7 | E7 |", "rock", "beginner", position).line
        for note in line.notes:
            assert note.pitch.midi % 12 in pitch_classes(line.chart.chord_at(note.onset_beats)) | {11, 4, 6}
            assert note.degree


def test_a_beat_of_three_has_its_parts_where_a_plain_beat_has_them() -> None:
    """Halves on the third eighth, as swing puts them; quarters before and after: by hand from one shape."""
    chart = Chart.parse("| Am7 | % | % | % |", meter="12/8")
    onsets = set()
    for seed in range(4):
        onsets |= {note.onset_beats % Fraction(3, 2) for note in phrases_over(
            chart, "groove", "advanced", 5, seed=seed).line.notes}
    assert onsets == {0, Fraction(1, 2), 1, Fraction(5, 4)}


def test_a_blues_is_sung_twice_and_then_answered_with_something_new() -> None:
    chorus = phrases_over(SHUFFLE, "blues", "intermediate", 5)
    names = [one.idiom.name for one in chorus.statements]
    assert names[0] == names[2] != names[4]
    assert names[1] == names[3] != names[5]
    assert [(one.first, one.last) for one in chorus.statements] == [
        (1, 2), (3, 4), (5, 6), (7, 8), (9, 10), (11, 12)]
    rhythm = [[note.onset_beats % 16 for note in chorus.line.notes if note.onset_beats // 16 == phrase]
              for phrase in (0, 1)]
    assert rhythm[0] == rhythm[1]
    last = chorus.line.notes[-1]
    assert (last.onset_beats, last.degree in ("1", "3")) == (48, True), "the first beat after the chorus"
    assert last.marked("vibrato")
    sounding = sum(note.duration_beats for note in chorus.line.notes)
    assert sounding < Fraction(3, 4) * 48, "a phrase breathes"


@pytest.mark.parametrize("style", STYLES)
def test_levels_play_different_phrases(style: str) -> None:
    chart = Chart.parse("| Am7 | D7 | Am7 | E7 |")
    lines = [phrases_over(chart, style, level, 5).line for level in LEVELS]
    assert all(note.duration_beats >= 1 for note in lines[0].notes)
    assert len({line.notes for line in lines}) == 3
    fast = phrases_over(Chart.parse(str(chart), tempo=180), style, "advanced", 5).line
    assert min(note.duration_beats for note in fast.notes) >= Fraction(1, 2)
    assert phrases_over(chart, style, "advanced", 5, seed=1) == phrases_over(chart, style, "advanced", 5)


def test_the_bends_of_a_blues_phrase() -> None:
    """In A: D up to E on string 3 and G up to A on string 2, by ring and little finger; the curl is of the C."""
    found = set()
    for seed in range(6):
        for level in LEVELS[1:]:
            line = finger(phrases_over("| A7 | % | % | % |", "blues", level, 5, seed=seed).line)
            found |= {(str(note.pitch.name), note.string, note.fret, note.finger, note.marked("bend").value)
                      for note in line.notes if note.marked("bend")}
    assert {("D", 3, 7, 3, 2), ("G", 2, 8, 4, 2)} <= found
    assert any(name == "C" and size == Fraction(1, 2) for name, *_, size in found)
    minor = phrases_over("| Am7 | % | % | % |", "minor blues", "advanced", 5).line
    assert not any(bend.value < 1 for note in minor.notes if (bend := note.marked("bend")))


def test_hammers_lie_on_one_string_and_rise() -> None:
    joined = 0
    for seed in range(4):
        for key in ("A7", "C7", "E7", "G7"):
            line = phrase_chorus(f"| {key} | % | % | % |", "blues", "intermediate", 5, seed=seed).line
            for one, two in pairwise(line.notes):
                if two.marked("hammer") or two.marked("pull"):
                    joined += 1
                    assert (one.string, one.end_beats) == (two.string, two.onset_beats)
                    assert (two.fret > one.fret) == bool(two.marked("hammer"))
                    assert one.finger != two.finger
    assert joined


@pytest.mark.parametrize(("words", "said"), [
    ("q A3 C4 h r | q A3 E4 h r", ("one figure comes twice in the same rhythm", "half of the time is silence")),
    ("q A3 C4 D4 r | e r A3 q E4 e C4 r q A3", ()),
    ("e A3 C4 h. r | e r A3 C4 e r h r",
     ("the figure comes again half a beat later in its bar", "more than half of the time is silence")),
    ("e A3 C4 D4 E4 D4 C4 q A3 | h A3 r", ("a run of 8 notes without a rest",)),
    ("e A3 C4 r A3 C4 r A3 C4 | e r q A3 C4 q. r", ("groups of two with a gap after each",)),
    ("q A3 r e B3 G#3 q A3 | h A3 r",
     ("a goal is met from both sides, the note above and the half step below",)),
    ("h A3 q C4 e r B3 | h C4 r", ("a half step below leads to a longer note",)),
    ("h D4[b2] q C4 A3 | h A3 r", ("a bend reaches the 5th",)),
])
def test_what_a_phrase_does_is_read_from_its_notes(words: str, said: tuple[str, ...]) -> None:
    assert devices(Line.parse(words, chart="| Am7 | % |"), 1, 2) == said


def test_a_shift_is_told_in_the_beats_that_a_foot_taps() -> None:
    """In 12/8 a dotted quarter is a beat, an eighth a third of one."""
    first = "q. A3 C4 D4 r"
    for second, said in (("q. r A3 C4 D4", "a beat"), ("e r q. A3 C4 D4 q r", "a third of a beat")):
        line = Line.parse(f"{first} | {second}", chart=Chart.parse("| Am7 | % |", meter="12/8"))
        assert devices(line, 1, 2)[0] == f"the figure comes again {said} later in its bar"


def test_what_is_said_of_a_chorus() -> None:
    told = str(phrase_chorus(SHUFFLE, "blues", "advanced", 5).told()).splitlines()
    assert len(told) == 6
    assert told[2] == "- **Bars 5–8** say bars 1–4 again, fitted to their chords."
    assert told[5].startswith("- **Bar 13** comes home. The last note is the ")
    assert told[5].endswith(" of A7.")
    long = "".join(f"| {chord} | % | % | % " for chord in ("Am7", "D7", "Am7", "E7", "Am7", "D7", "Am7", "Am7")) + "|"
    told = str(phrase_chorus(long, "rock", "intermediate", 5).told()).splitlines()
    assert [row for row in told if "again" in row] == [
        f"- **Bars {now}** say {was} again, fitted to their chords." for now, was in (
            ("5–8", "bars 1–4"), ("13–16", "bars 1–4"), ("17–20", "bars 1–4"), ("21–24", "bars 1–4"),
            ("25–28", "bars 9–12"), ("29–32", "bars 1–4"))]
    early = str(phrase_chorus("key: Eb major\n| Fm7 | % | Bb9 | % | Ebmaj7 | % | C7#9 | % |", "groove",
                              "advanced", 1).told()).splitlines()
    assert early[-2].startswith("- **Bars 5–6** begin as bars 1–2 and come home. The last note is the ")
    assert early[-2].endswith(" of E♭maj7.")
    assert early[-1].startswith("- **Bars 7–8** lead back to the beginning. The last note is the ")
    assert early[-1].endswith(" of C7♯9.")
    open_end = str(phrase_chorus("| A7 | % | % | % |", "blues", "intermediate", 5, seed=2).told())
    assert "The last note is" in open_end


@pytest.mark.parametrize(("changes", "kind", "style"), [
    (SHUFFLE, "blues", "blues"), ("| Cm7 | Fm7 | Cm7 | G7 |", "blues", "minor blues"),
    ("| Cm7 | Fm7 | Cm7 | G7 |", "rock", "rock"), ("| Cm7 | F7 |", "phrase", "groove"),
])
def test_the_style_of_a_lesson(changes: str, kind: str, style: str) -> None:
    assert phrase_style(changes, kind) == style


@pytest.mark.parametrize(("call", "told"), [
    (lambda: phrases_over("| A7 |", "polka"), "polka"), (lambda: phrases_over("| A7 |", level="expert"), "expert"),
    (lambda: phrases_over("| N.C. |"), "without a chord"), (lambda: idioms_of("blues", "shout", "beginner"), "shout"),
    (lambda: devices("q A3 over Am7", 1, 9), "bars 1 to 9"),
    (lambda: phrases_over("| F |", position=22, tuning=SHORT), "no note of F lies within reach"),
])
def test_refusals(call, told: str) -> None:
    with pytest.raises(DrillError, match=told):
        call()


@pytest.mark.parametrize("up", range(12))
def test_no_phrase_rests_on_the_leading_note_of_a_power_chord(up: int) -> None:
    """Eleven semitones over a root that has its 5th alone: it asks to go on (common practice, no source)."""
    chart = Chart.parse("| D5 | F5 | C5 | G5 A5 |").transpose(up)
    for level in LEVELS:
        line = phrases_over(chart, "rock", level, 5).line
        for note in line.notes:
            chord = chart.chord_at(note.onset_beats)
            up_from_root = (note.pitch.midi - chord.root.pitch_class) % 12
            assert up_from_root != 11 or note.duration_beats < 1 or note.marks, (level, note)
