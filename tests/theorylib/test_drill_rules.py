"""What each drill's rule says beyond its promise: steps, strokes, counts, rests, refusals. Common practice."""

from __future__ import annotations

import os
from fractions import Fraction
from itertools import pairwise

import pytest
from support.changes import forms

from theorylib import STANDARD, Chart, DrillError, Scale, continuous_arpeggio, finger, harmony
from theorylib.practice.approaches import approach_targets
from theorylib.practice.drills import Reach
from theorylib.practice.outline import LIMITS, OutlineError, outline, read_outline
from theorylib.practice.phrases import call_and_answer, motif, play_and_rest
from theorylib.practice.sequences import sequence, with_legato, with_strokes
from theorylib.practice.subdivisions import (
    bursts,
    displaced_accents,
    moving_rest,
    practice_schedule,
    rates,
    subdivision_ladder,
)
from theorylib.practice.superimposed import superimposed_arpeggio
from theorylib.practice.tapping import PAIR_MM, tapped_arpeggio
from theorylib.practice.through import against_substitute, continuous_scale, doubles_of, guide_tone_line, scale_pool
from theorylib.practice.touch import beat_of, bend_drill, held_vibrato, slide_drill, with_swell

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
PENTATONIC = Scale.parse("D minor pentatonic")
CHANGES = Chart.parse("key: F major\ntempo: 90\n| Gm7 | C7 | Fmaj7 | D7alt |")


def names(line) -> str:
    return " ".join(str(note.pitch) for note in line.notes)


def test_thirds_of_c_major_in_second_position():
    line = sequence("C major", "thirds", 2)
    assert names(line).startswith("F2 A2 G2 B2 A2 C3 B2 D3 C3 E3 D3 F3 E3 G3")


def test_groups_and_ways():
    up = sequence(PENTATONIC, "1 2 3", 5)
    down = sequence(PENTATONIC, "1 2 3", 5, way="down")
    both = sequence(PENTATONIC, "1 2 3", 5, way="up and down")
    assert [note.pitch.midi for note in down.notes] == [note.pitch.midi for note in up.notes][::-1] or (
        down.notes[0].pitch.midi == max(note.pitch.midi for note in up.notes))
    assert len(both.notes) in (2 * len(up.notes), 2 * len(up.notes) - 1)
    assert all(one.pitch.midi < two.pitch.midi < three.pitch.midi
               for one, two, three in zip(up.notes[::3], up.notes[1::3], up.notes[2::3], strict=True))


def test_legato_picks_the_first_note_on_each_string_and_joins_the_rest():
    line = with_legato(sequence("D dorian", "straight", 5, a_string=3))
    assert [note.string for note in line.notes] == [6, 6, 6, 5, 5, 5, 4, 4, 4, 3, 3, 3, 2, 2, 2, 1, 1, 1]
    kinds = ["".join(mark.kind for mark in note.marks) for note in line.notes]
    assert kinds == ["", "hammer", "hammer"] * 6
    down = with_legato(sequence("D dorian", "straight", 5, a_string=3, way="down"))
    assert ["".join(mark.kind for mark in note.marks) for note in down.notes] == ["", "pull", "pull"] * 6


def test_economy_strokes_follow_the_strings():
    line = with_strokes(sequence("D dorian", "straight", 5, a_string=3), "economy")
    strokes = [note.marks[0].kind for note in line.notes]
    assert strokes == ["pick down", "pick up", "pick down"] * 6
    down = with_strokes(sequence("D dorian", "straight", 5, a_string=3, way="down"), "economy")
    assert [note.marks[0].kind for note in down.notes] == ["pick down", "pick up", "pick down",
                                                           *["pick up", "pick down", "pick up"] * 5]


def test_alternate_strokes_keep_the_beat_through_a_rest():
    line = with_strokes(moving_rest(subdivision_ladder(PENTATONIC, 5, (2,), bars=2)))
    for note in line.notes:
        assert note.marks[0].kind == ("pick down" if note.onset_beats % 1 == 0 else "pick up")


def test_the_ladder_counts():
    line = subdivision_ladder(PENTATONIC, 5)
    per_bar = [sum(note.onset_beats // 4 == bar for note in line.notes) for bar in range(6)]
    assert per_bar == [4, 8, 12, 16, 20, 24]
    assert rates((1, 2, 3, 4, 5, 6), 60) == tuple((rung, float(rung)) for rung in range(1, 7))


def test_bursts_land_on_the_last_beat():
    line = bursts(PENTATONIC, 5, fast=4, count=5, bars=3)
    assert [note.onset_beats for note in line.notes if note.duration_beats == 1] == [3, 7, 11]
    assert sum(note.duration_beats == Fraction(1, 4) for note in line.notes) == 12


def test_accents_and_the_moving_rest_move():
    accents = [index for index, note in enumerate(displaced_accents(subdivision_ladder(PENTATONIC, 5, (4,))).notes)
               if note.marked("accent")]
    assert accents == [0, 3, 6, 9, 12, 15]
    kept = {note.onset_beats for note in moving_rest(subdivision_ladder(PENTATONIC, 5, (4,)), 4).notes}
    missing = [Fraction(index, 4) for index in range(16) if Fraction(index, 4) not in kept]
    assert missing == [0, Fraction(5, 4), Fraction(10, 4), Fraction(15, 4)]


@pytest.mark.parametrize(("text", "beats"), [("2", "1"), ("and of 2", "3/2"), ("e of 1", "1/4"), ("A of 4", "15/4")])
def test_beats_as_counted(text, beats):
    assert beat_of(text) == Fraction(beats)


def test_vibrato_waits_for_its_beat():
    for note in held_vibrato(CHANGES, "and of 3").notes:
        assert (note.onset_beats % 4, note.duration_beats) == (0, 4)
        (mark,) = note.marks
        assert (mark.kind, mark.at_beats) == ("vibrato", Fraction(5, 2))


@pytest.mark.parametrize("way", ["bend", "bend and release", "pre-bend and release"])
def test_a_bend_reaches_the_check_note_before_it(way):
    line = bend_drill("C7", way=way, near=8)
    for check, bent in zip(line.notes[::2], line.notes[1::2], strict=True):
        up = next(mark for mark in bent.marks if mark.kind in ("bend", "pre-bend"))
        assert check.pitch.midi == bent.pitch.midi + up.value
        assert check.string == bent.string
        assert (check.onset_beats % 4, bent.onset_beats % 4) == (0, 2)


def test_slides_take_the_same_finger_along():
    line = finger(slide_drill("E minor", 2, kind="legato slide"))
    for one, two in pairwise(line.notes):
        if two.marks:
            assert (one.string, one.finger) == (two.string, two.finger)
            assert one.fret != two.fret


def test_a_swell_rises_and_falls():
    line = with_swell(continuous_arpeggio(CHANGES), 40, 100, bars=2)
    levels = [note.marks[0].value for note in line.notes]
    assert levels[0] == 40
    assert levels[16] == max(levels) == 100
    assert levels[:17] == sorted(levels[:17])
    assert levels[16:] == sorted(levels[16:], reverse=True)


def test_guide_tones_move_least():
    line = guide_tone_line(CHANGES)
    degrees = [note.degree for note in line.notes]
    assert set(degrees) <= {"3", "b3", "7", "b7"}
    assert max(abs(one.pitch.midi - two.pitch.midi) for one, two in pairwise(line.notes[:3])) <= 1
    # ii V I: the 7th of the ii falls to the 3rd of the V (common practice, no source)
    seventh = guide_tone_line(CHANGES, first="7")
    assert [str(note.pitch.name) for note in seventh.notes[:3]] == ["F", "E", "E"]


@pytest.mark.parametrize(("approach", "step"), [("below", -1), ("above", 1), ("both", -1)])
def test_targets_are_approached_from_the_side_asked_for(approach, step):
    line = approach_targets(CHANGES, approach)
    by_onset = {note.onset_beats: note for note in line.notes}
    approached = [(by_onset[onset - Fraction(1, 2)].pitch.midi, by_onset[onset].pitch.midi)
                  for onset in by_onset if onset % 2 == 0 and onset]
    hits = [before - target == step for before, target in approached]
    assert sum(hits) >= 0.9 * len(hits)  # where the edge of the position cuts the approach off, another note stands


def test_scale_and_substitute_lines_change_with_the_chord():
    line = continuous_scale(CHANGES)
    for one, two in pairwise(line.notes):
        assert 1 <= abs(one.pitch.midi - two.pitch.midi) <= 4
    both = against_substitute(Chart.parse("key: E minor\n| B7alt | Em7 |"))
    assert both.bar_count == 4
    own, other = both.notes[:8], both.notes[8:16]
    assert {note.degree for note in own} <= set(both.chart.events[0].chord.degrees)
    assert {note.pitch.midi % 12 for note in other} != {note.pitch.midi % 12 for note in own}


@pytest.mark.parametrize(("changes", "other", "position", "degrees"), [
    # the half-diminished on the b7 of an altered dominant, and what its notes are there (common practice, no source)
    ("| Bb7#9 | Ebm7 |", "Abm7b5", 6, {"b7", "b9", "3", "b13"}),
    ("| E7b9 | Am7 |", "Dm7b5", 5, {"b7", "b9", "3", "b13"}),
    ("| C9 | Fmaj7 |", "Em7b5", 5, {"3", "5", "b7", "9"}),
])
def test_a_superimposed_arpeggio_is_led_home_by_a_half_step(changes, other, position, degrees):
    line = superimposed_arpeggio(changes, other, position)
    *run, before, landing = line.notes
    assert {note.degree for note in (*run, before)} == degrees
    assert abs(before.pitch.midi - landing.pitch.midi) == 1
    assert (landing.onset_beats, landing.duration_beats) == (4, 4)
    pitches = sorted({note.pitch.midi for note in (*run, before)})
    for one, two in pairwise((*run, before)):
        assert abs(pitches.index(one.pitch.midi) - pitches.index(two.pitch.midi)) == 1, "no note is left out"
    assert all(position - 1 <= note.fret <= position + 4 for note in finger(line, line.tuning, position).notes)


def test_a_superimposed_arpeggio_over_one_chord_ends_with_its_run():
    line = superimposed_arpeggio("| C9 |", "Em7", 5)
    assert len(line.notes) == 8
    assert line.notes[0].pitch.name == "E"
    with pytest.raises(DrillError, match="no chord"):
        superimposed_arpeggio("| C9 |", "N.C.")
    with pytest.raises(DrillError, match="no position"):
        superimposed_arpeggio("| C9 |", "Em7", 0)


def test_tapping_keeps_hands_apart_and_pairs_narrow():
    line = tapped_arpeggio(CHANGES, (6, 4, 2), 5)
    for one, two in pairwise(line.notes):
        if two.marked("tap") and one.string == two.string:
            assert two.fret > one.fret
        if two.marked("hammer") and one.string == two.string and not one.marked("tap"):
            assert line.tuning.span_mm(one.fret, two.fret) <= PAIR_MM
    assert {note.string for note in line.notes} == {6, 4, 2}
    assert not any(one.string != two.string and two.marked("hammer") for one, two in pairwise(line.notes))


# meter: the lengths that a motif has of itself, and those of a call; rests are left out (typed by hand).
OWN_RHYTHMS = {"4/4": ("1 1/2 1/2 1", "1 1/2 1/2 1"), "3/4": ("1 1/2 1/2", "1 1/2 1/2 1"),
               "6/8": ("3/2 1 1/2", "3/2 1 1/2"), "5/4": ("1 1/2 1/2 1 1", "1 1/2 1/2 1 1"),
               "7/8": ("1 1/2 1/2", "1 1/2 1/2 3/2"), "12/8": ("3/2 1 1/2 3/2", "3/2 1 1/2 3/2")}


@pytest.mark.parametrize("meter", OWN_RHYTHMS)
def test_a_motif_has_a_rhythm_of_its_own_in_every_meter(meter):
    chart = Chart.parse("| Am7 | D7 | Am7 | D7 |", meter=meter)
    for make, lengths in zip((motif, call_and_answer), OWN_RHYTHMS[meter], strict=True):
        first = [note.duration_beats for note in make(chart).notes if note.onset_beats < chart.bar_beats]
        assert first == [Fraction(length) for length in lengths.split()]


def test_rests_and_answers():
    line = play_and_rest(continuous_arpeggio(CHANGES), 1, 1)
    assert {note.onset_beats // 4 for note in line.notes} == {0, 2}
    same = motif(CHANGES, "1 1/2 1/2 -1 1", "0 1 1 -1")
    onsets = [[note.onset_beats % 4 for note in same.notes if note.onset_beats // 4 == bar] for bar in range(4)]
    assert onsets == [[0, 1, Fraction(3, 2), 3]] * 4
    answer = call_and_answer(CHANGES)
    last = answer.notes[-1]
    assert last.end_beats == 16
    assert last.degree in ("1", "3", "b3")


@pytest.mark.parametrize(("call", "told"), [
    (lambda: sequence(PENTATONIC, "thrids"), "thirds"), (lambda: sequence(PENTATONIC, "groups of 6", 5, a_string=1,
                                                                          strings=(1, 2)), "longer|shorter|steps"),
    (lambda: held_vibrato(CHANGES, "5"), "after Gm7 has ended"), (lambda: beat_of("two"), "no beat"),
    (lambda: motif(CHANGES, "1 1"), "fills 2 beats"), (lambda: motif(CHANGES, "1 x"), "no rhythm"),
    (lambda: approach_targets(CHANGES, "belo"), "below"),
    (lambda: with_strokes(slide_drill("E minor"), "sweep"), "pick"),
    (lambda: tapped_arpeggio(CHANGES, (9,)), "strings 9"), (lambda: subdivision_ladder(PENTATONIC, 5, (7,)), "7 notes"),
    (lambda: bend_drill("C7", way="bendd"), "no way to bend"), (lambda: guide_tone_line("| C5 |"), "no guide tone"),
    (lambda: bursts(PENTATONIC, count=30), "does not fit"), (lambda: slide_drill("E minor", kind="slip"), "no slide"),
])
def test_refusals_name_what_is_wrong(call, told):
    with pytest.raises(DrillError, match=told):
        call()


def test_the_schedule_states_its_steps():
    steps = practice_schedule(Fraction(1, 4), 140)
    assert [step.tempo for step in steps] == [84, 103, 121, 140]
    assert [round(step.notes_a_second, 2) for step in steps] == [5.6, 6.87, 8.07, 9.33]
    assert [step.care for step in steps] == [False, False, True, True]


BLUES = "| C7 | F7 | C7 | % | F7 | % | C7 | % | G7 | F7 | C7 | G7 |"
SONG = "\n".join(f"[{name}] {bars}" for name, bars in (
    ("A", "| Dm | % | Gm | A7 |"), ("A", "| Dm | % | Gm | A7 |"), ("B", "| F | C | Gm | A7 |"),
    ("A", "| Dm | % | Gm | A7 |")))


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("bars", ["| Gm7 | C9 |", BLUES, SONG])
def test_an_outline_covers_the_form_and_reads_back(bars, seed):
    chart = Chart.parse(bars, tempo="100")
    plan = outline(chart, 1.5, seed=seed)
    assert plan == outline(chart, 1.5, seed=seed)
    assert read_outline(str(plan), chart) == plan
    assert plan.phrases[0].first == 1
    assert all(two.first == one.last + 1 for one, two in pairwise(plan.phrases))
    *whole, last = [phrase.last - phrase.first + 1 for phrase in plan.phrases]
    assert {*whole, last} <= {4, 6, 8} or ({*whole} <= {4, 6, 8} and last in (5, 7, 9))
    assert plan.bars % len(chart.order) in (0, 1)
    assert all(phrase.limit in LIMITS for phrase in plan.phrases)
    assert all(one.limit != two.limit for one, two in pairwise(plan.phrases))
    seconds = plan.bars * float(chart.bar_beats) * 60 / 100
    assert abs(seconds - 90) <= (max(len(chart.order), 4) + 1) * 4 * 60 / 100


# The tonic of each, typed by hand: a form, and the chord on which a player comes to rest (common practice, no source).
AT_HOME = {
    "| Gm7 | C9 |": "Gm7", BLUES: "C7", SONG: "Dm", "| Am7 | D7 |": "Am7", "| Dm7 | G7 | Cmaj7 | A7 |": "Cmaj7",
    "| Am | F | C | G |": "Am", "| Em | C | G | D |": "Em", "| Cm7 | Fm7 | Dm7b5 | G7#9 |": "Cm7",
    "| C | G | Am | F |": "C", "| Fmaj7 | G7 | Cmaj7 | C7 |": "Cmaj7",
    "| A7 | D7 | A7 | E7 |": "A7", "| Cmaj7 | C7 | Fmaj7 | G7 |": "Cmaj7",
    "| Cm7 | % | % | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | G7 |": "Cm7", "| F | Bb | F C | F |": "F",
    "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | D7b9 | Gm7 | C7 | F7 D7 | Gm7 C7 |": "F7",
}


@pytest.mark.parametrize("bars", AT_HOME)
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "5/4"])
def test_a_solo_ends_at_home(bars, meter):
    """On the home chord, in a bar and on a beat where it sounds, in every key; common practice, no source."""
    for semitones in range(12):
        chart = Chart.parse(bars, meter=meter).transpose(semitones)
        home = Chart.parse(f"| {AT_HOME[bars]} |").transpose(semitones).events[0].chord.root.pitch_class
        plan = outline(chart, 1, seed=semitones)
        unit = chart.bar_beats / chart.meter.beats
        first, last = [chart.chord_at((one.bar - 1) * chart.bar_beats + (one.beat - 1) * unit)
                       for one in (plan.beginning, plan.ending)]
        assert last.root.pitch_class == home
        assert last.suffix == AT_HOME[bars].lstrip("ABCDEFG").lstrip("b#")
        assert plan.ending.degree in last.degrees
        assert plan.beginning.degree in first.degrees
        assert (plan.beginning.bar, plan.beginning.beat > 1) == (1, True)
        assert plan.ending.bar in (plan.bars, plan.bars - 1)
        assert read_outline(str(plan), chart) == plan


def test_a_solo_ends_at_home_over_forms_that_others_named():
    """Over forms of one key in the table of changes, whose home was typed with it; with EXPLORE all, in every key."""
    away, tried = set(), 0
    for number, form in enumerate(forms()):
        if number % 3 and not EXPLORE:
            continue
        tonics = {Scale.parse(home).tonic.pitch_class for home in form.home}
        roots = {event.chord.root.pitch_class for event in form.chart.events if event.chord.root is not None}
        if len(form.keys) != 1 or not tonics & roots:
            continue
        for semitones in range(12) if EXPLORE else (number % 12,):
            chart = form.chart.transpose(semitones)
            plan = outline(chart, 1)
            chord = chart.chord_at((plan.ending.bar - 1) * chart.bar_beats
                                   + (plan.ending.beat - 1) * chart.bar_beats / chart.meter.beats)
            tried += 1
            if (chord.root.pitch_class - semitones) % 12 not in tonics:
                away.add(form.name)
    assert tried >= 100
    assert away <= {"pop: vi IV I V in major by its section"}


def test_a_solo_ends_where_the_backing_track_does():
    """Bar 25 of two choruses of a blues whose last bar leads back; bar 8 where the last bar is home."""
    assert outline(BLUES, bars=24).ending.bar == 25
    assert outline(BLUES, bars=24).ending.beat == 1
    assert outline("| Am | F | G | Am |", bars=8).ending.bar == 8
    assert outline("| Dm7 | G7 | Cmaj7 | A7 |", bars=8).ending.bar == 7
    text = "bars 1-4: free; low; sparse\nending: 1 on beat 1 of bar 4"
    assert read_outline(text, BLUES).beginning is None
    with pytest.raises(OutlineError, match="the beginning lies in bar 9 of 4"):
        read_outline(f"beginning: 1 on beat 1 of bar 9\n{text}", BLUES)


@pytest.mark.parametrize(("change", "told"), [
    (("one string", "won string"), "one string"), (("bars 5-8", "bars 6-8"), "do not follow"),
    (("; low", ""), "2 things"),
    (("ending: 1", "ending: #11"), "has no #11"), (("of bar 8", "of bar 80"), "bar 80 of 8"),
    (("ending", "finish"), "no part")])
def test_a_bad_outline_is_named(change, told):
    text = "bars 1-4: one string; low; sparse\nbars 5-8: free; high; dense\nending: 1 on beat 1 of bar 8"
    chart = Chart.parse("| Gm7 | C9 |")
    assert read_outline(text, chart).ending.bar == 8
    with pytest.raises(OutlineError, match=told):
        read_outline(text.replace(*change), chart)


def test_targets_lie_a_tone_apart_or_more() -> None:
    """A semitone apart, one would sound like an approach to the next: Cmaj7 holds B and C, Fmaj7 E and F."""
    line = approach_targets("| Cmaj7 | Fmaj7 | Cmaj7 | Fmaj7 |", "below", None, passes=2)
    targets = [note.pitch.midi for note in line.notes if note.onset_beats % 2 == 0]
    assert len(targets) == 16
    assert all(abs(one - two) >= 2 for one, two in pairwise(targets))


def test_what_takes_a_chords_place_brings_a_note_and_is_the_one_that_is_named() -> None:
    """D flat diminished 7 over E diminished 7 is the same four notes (typed by hand)."""
    for changes in ("| Fmaj7 | Edim7 | Dm7 | Bbm7 Eb7 |", "| Dbmaj7 | Ebm7 Ab7#9 | Fm7 Bb7b9 |",
                    "| Em7 | D#dim7 | Am7/G | B7alt |"):
        chart = Chart.parse(changes)
        line, named = against_substitute(chart, position=5), doubles_of(chart)
        heard: dict[Fraction, set[int]] = {}
        for note in line.notes[:-1]:
            event = line.chart.event_at(note.onset_beats)
            if event.bar % 2:
                heard.setdefault(event.onset_beats, set()).add(note.pitch.midi % 12)
        assert len(heard) == len(named)
        for played, (chord, one) in zip(heard.values(), named, strict=True):
            notes = {name.pitch_class for name in one.arpeggio.names}
            assert played <= notes, chord
            assert notes - {name.pitch_class for name in chord.names}, chord
            assert one.arpeggio.root.pitch_class != chord.root.pitch_class


def test_a_run_over_a_chord_has_the_chords_own_names():
    """E diminished 7 is E G B flat D flat; B7 altered has D sharp and A, where F major would say E flat (typed)."""
    for changes, bar, right, wrong in (("| Fmaj7 | Edim7 | Dm7 |", 1, {"Db", "Bb"}, {"C#", "A#"}),
                                       ("| Em9 | B7alt |", 1, {"D#", "A"}, {"Eb", "G##"})):
        pool = scale_pool(harmony(changes).chords[bar], Reach.of(STANDARD, 5))
        named = {str(name) for name, _ in pool.values()}
        assert right <= named
        assert not wrong & named
