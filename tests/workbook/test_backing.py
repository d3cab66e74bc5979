"""Backing tracks as data: every feel and meter, the chart's harmony in every part, form, fills, ladder and ending.

Chord tones come from music21's intervals (BSD-3, support.music21_chords); percussion keys from General MIDI 1.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

import pytest
from support.music21_chords import pitch_classes

from theorylib import Chart, Chord
from theorylib.changes.meters import FEELS
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, PAD, PARTS, Backing, BackingError, backing, passes_in
from workbook.play.band import Band
from workbook.play.ladder import Ladder, LadderError
from workbook.play.style import DRUM_KEYS
from workbook.play.style_text import style_named
from workbook.play.timing import swung
from workbook.play.voice_leading import HIGHEST, LOWEST, candidates, led, mean_motion, motion

CHANGES = """key: D minor
tempo: 110
feel: {feel}
meter: {meter}
[A] | Dm9 | Bbmaj7/D | Em7b5 | A7#9 |
[B] | Gm7 | C13 | Fmaj7 | A7b9 |"""


def track(feel: str = "straight 8", meter: str = "4/4", ending: bool = True, **options: object) -> Backing:
    band = Band(ending=ending, parts=PARTS)
    return backing(Chart.parse(CHANGES.format(feel=feel, meter=meter)), band, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "5/4", "7/8", "12/8"])
@pytest.mark.parametrize("feel", FEELS)
def test_every_feel_in_every_meter(feel: str, meter: str) -> None:
    made = track(feel, meter, passes=2, click=True)
    chart = made.chart
    assert {hit.part for hit in made.hits} == {*PARTS, CLICK}
    for hit in made.hits:
        assert 1 <= hit.velocity <= 127
        assert hit.length_beats > 0
        assert -made.count_in_beats <= hit.start_beats < made.length_beats
    assert list(made.hits) == sorted(made.hits, key=lambda hit: (hit.start_beats, hit.part, hit.midi))
    assert {hit.midi for hit in made.of(DRUMS)} <= set(DRUM_KEYS.values())
    bars = {hit.start_beats // chart.bar_beats for hit in made.of(DRUMS)}
    assert bars == set(range(17)), "no bar without drums, and one for the ending"


NINTH, THIRTEENTH = 2, 9  # semitones over the root: the colours that a rootless voicing may add


@pytest.mark.parametrize("feel", FEELS)
def test_comping_and_pad_sound_only_the_chord(feel: str) -> None:
    """And, in styles that colour, 9th and 13th. A chord that is pushed sounds up to a beat before its bar."""
    made = track(feel, passes=2, ending=False)
    colours = style_named(feel).voicing == "rootless"
    struck = 0
    for part in (COMP, PAD):
        for at in sorted({hit.start_beats for hit in made.of(part)}):
            notes = {hit.midi % 12 for hit in made.of(part) if hit.start_beats == at}
            chords = {made.chart.chord_at(at), made.chart.chord_at(at + Fraction(1, 2))}
            allowed = [pitch_classes(chord) | ({(chord.root.pitch_class + by) % 12 for by in (NINTH, THIRTEENTH)}
                                               if colours else set()) for chord in chords if chord and chord.root]
            assert any(notes <= one for one in allowed), (part, at)
            assert len(notes) >= 3
            struck += 1
    assert struck >= 32, "every chord of both passes, in both parts"


@pytest.mark.parametrize("feel", FEELS)
def test_the_bass_begins_every_chord_on_its_root_or_slash_bass(feel: str) -> None:
    """On its beat, or pushed by up to half a beat; E1 to G3."""
    made = track(feel, passes=2, ending=False)
    for turn in range(2):
        for event in made.chart.events:
            at = swung(event.onset_beats + turn * made.chart.length_beats, made.chart)
            here = [hit for hit in made.of(BASS) if at - Fraction(1, 2) <= hit.start_beats <= at]
            wanted = event.chord.bass or event.chord.root
            assert wanted is not None
            assert here[-1].midi % 12 == wanted.pitch_class, event.chord
    assert all(28 <= hit.midi <= 55 for hit in made.of(BASS))


def test_an_octave_in_a_bass_row_is_an_octave() -> None:
    style = replace(style_named("rock"), bass={"main": ("R- R8 R- 8-",)})
    made = backing("| Am7 | Dm7 |", passes=2, band=Band(style=style, ending=False))
    moves = [two.midi - one.midi for one, two in pairwise(made.of(BASS)) if two.start_beats % 4 in (Fraction(3, 2), 3)]
    assert moves == [12] * 8


def test_the_silence_of_a_comping_row_is_kept() -> None:
    """A written off-beat rhythm sounds as written, and is not filled where a chord begins."""
    style = replace(style_named("funk"), comp={"main": ("..x. .x.. ..x. ..x.",)})
    made = backing("| Am7 | D9 | Am7 | D9 |", passes=1, band=Band(style=style, density="main", ending=False))
    places = [Fraction(1, 2), Fraction(5, 4), Fraction(5, 2), Fraction(7, 2)]
    first = {hit.start_beats for hit in made.of(COMP) if hit.start_beats < 12}  # before the bar with a fill
    assert sorted(first) == [bar * 4 + place for bar in range(3) for place in places]


def test_a_push_is_the_next_chord_early_and_held_into_its_bar() -> None:
    style = replace(style_named("rock"), comp={"main": ("x- -- -. .P",)})
    made = backing("| Am7 | Dm7 | Am7 | Dm7 |", Band(style=style, density="main", ending=False), passes=1)
    for bar, (here, following) in ((1, ("Am7", "Dm7")), (2, ("Dm7", "Am7"))):
        early = [hit for hit in made.of(COMP) if hit.start_beats == 4 * bar - Fraction(1, 2)]
        notes = {hit.midi % 12 for hit in early}
        assert notes <= pitch_classes(Chord.parse(following))
        assert not notes <= pitch_classes(Chord.parse(here))
        assert all(hit.start_beats + hit.length_beats > 4 * bar for hit in early)
        assert not [hit for hit in made.of(COMP) if hit.start_beats == 4 * bar], "it sounds already"


def test_what_is_swung_and_what_swings_by_itself() -> None:
    """In 12/8 the pulse is dotted already; a bar of 7/8 is no whole number of pairs: its first beat must not move."""
    for meter in ("12/8", "6/8", "7/8"):
        made = track("swing", meter, passes=2, ending=False)
        assert all((hit.start_beats * 2).denominator in (1, 2, 4) for hit in made.of(DRUMS)), meter


def test_swung_steps_fall_late_and_straight_ones_do_not() -> None:
    for feel, late in (("swing", Fraction(2, 3)), ("shuffle", Fraction(2, 3)), ("rock", Fraction(1, 2))):
        places = {hit.start_beats % 1 for hit in track(feel, passes=4, ending=False).of(DRUMS)}
        assert late in places
        assert places - {Fraction(0)} == {late}, feel


def test_fills_come_before_a_section_and_a_crash_answers_at_long_ones() -> None:
    made = track("rock", passes=4)
    drums = made.of(DRUMS)
    crash = [hit.start_beats / 4 for hit in drums if hit.midi == DRUM_KEYS["crash"]]
    assert crash == [8, 16, 24, 32], "at choruses and at the ending, not every four bars"
    for bar in (15, 23, 31):
        last = [hit for hit in drums if bar * 4 + 2 <= hit.start_beats < bar * 4 + 4]
        assert {hit.midi for hit in last} - {DRUM_KEYS["hat"], DRUM_KEYS["ride"]}, f"bar {bar + 1} has its fill"
        assert not [hit for hit in last if hit.midi == DRUM_KEYS["hat"]]


def test_the_same_changes_give_the_same_track_and_others_another() -> None:
    chart = Chart.parse("| Am7 | D7 |")
    assert backing(chart, passes=4).hits == backing(chart, passes=4).hits
    assert backing(chart, passes=4).hits != backing(replace(chart, title="Low tide"), passes=4).hits


def test_count_in_and_click() -> None:
    made = track(meter="3/4", passes=1, count_in_bars=2, click=True)
    clicks = made.of(CLICK)
    assert [hit.start_beats for hit in clicks] == [Fraction(beat) for beat in range(-6, 27)]
    strong = [hit.start_beats for hit in clicks if hit.velocity == max(one.velocity for one in clicks)]
    assert strong == [Fraction(beat) for beat in range(-6, 27, 3)]
    silent = track(meter="3/4", passes=1, count_in_bars=2).of(CLICK)
    assert [hit.start_beats for hit in silent] == [Fraction(beat) for beat in range(-6, 0)]


def test_length_and_ladder() -> None:
    made = track(passes=passes_in(Chart.parse(CHANGES.format(feel="straight 8", meter="4/4")), 5.0))
    assert made.seconds == pytest.approx(300, rel=0.04)
    ladder = track(passes=3, ladder=Ladder(8), count_in_bars=0, ending=False)
    assert [tempo for _, tempo in ladder.tempos] == [110, 118, 126]
    expected = sum(32 * 60 / tempo for tempo in (110, 118, 126))
    assert ladder.seconds == pytest.approx(expected, abs=1e-9)
    assert ladder.seconds_at(Fraction(48)) == pytest.approx(32 * 60 / 110 + 16 * 60 / 118, abs=1e-9)


@pytest.mark.parametrize("step", [1, 5, 40, -4])
def test_a_ladder_keeps_the_minutes_and_its_top(step: int) -> None:
    """A chorus of 32 beats at 110: the length asked, to half a chorus; half as fast again at most, a half at least."""
    passes = passes_in(Chart.parse(CHANGES.format(feel="straight 8", meter="4/4")), 5.0, Ladder(step))
    made = track(passes=passes, ladder=Ladder(step), count_in_bars=0, ending=False)
    assert made.seconds == pytest.approx(300, abs=16 * 60 / 55)
    tempos = [tempo for _, tempo in made.tempos]
    assert max(tempos) <= 165
    assert min(tempos) >= 55
    assert tempos == sorted(tempos, reverse=step < 0)


def test_a_ladder_rises_every_few_passes_or_bars_up_to_its_top() -> None:
    made = track(passes=7, ladder=Ladder(6, passes=2, top=Fraction(120)))
    assert made.tempos == ((0, 110), (64, 116), (128, 120))
    made = track(passes=2, ladder=Ladder(6, bars=4))
    assert made.tempos == ((0, 110), (16, 116), (32, 122), (48, 128))


@pytest.mark.parametrize(("values", "words"), [((500,), "step"), ((4, 0), "passes"), ((4, 1, -1), "bars"),
                                               ((4, 1, 0, Fraction(500)), "20 to 400")])
def test_a_ladder_that_cannot_be_climbed_is_refused(values: tuple[object, ...], words: str) -> None:
    with pytest.raises(LadderError, match=words):
        Ladder(*values)  # type: ignore[arg-type]


@pytest.mark.parametrize(("changes", "home"), [
    ("| Dm7 | G7 | Cmaj7 | A7b9 |", "Cmaj7"), ("key: D minor\n| Dm9 | Gm7 | A7 |", "Dm9"),
    ("key: G major\n| Am7 | D7 |", "G"),
])
def test_the_ending_is_the_held_home(changes: str, home: str) -> None:
    made = backing(changes, passes=2, band=Band(density="main", parts=PARTS))
    start = 2 * made.chart.length_beats
    end = [hit for hit in made.hits if hit.start_beats >= start and hit.part != CLICK]
    assert {hit.start_beats for hit in end} == {start}
    assert {hit.part for hit in end} == set(PARTS)
    assert all(hit.length_beats >= Fraction(7, 2) for hit in end if hit.part != DRUMS)
    chord = Chord.parse(home)
    assert {hit.midi % 12 for hit in end if hit.part == COMP} <= pitch_classes(chord)
    assert chord.root is not None
    assert {hit.midi % 12 for hit in end if hit.part == BASS} == {chord.root.pitch_class}


def test_a_slowing_ending_slows() -> None:
    made = backing("feel: ballad\ntempo: 80\n| Dm7 | G7 | Cmaj7 | Cmaj7 |", passes=1)
    tempos = [tempo for _, tempo in made.tempos]
    assert tempos[0] == 80
    assert tempos == sorted(tempos, reverse=True)
    assert tempos[-1] == 56
    assert {beat for beat, _ in made.tempos[1:]} == {12, 13, 14, 15, 16}


def test_a_bar_without_a_chord_is_left_to_the_drums() -> None:
    made = backing("| Am7 | N.C. |", passes=1, band=Band(ending=False))
    silent = [hit for hit in made.hits if hit.start_beats >= 4]
    assert {hit.part for hit in silent} == {DRUMS}
    assert backing("| N.C. |", passes=1).of(BASS) == ()


@pytest.mark.parametrize(("options", "words"), [
    ({"passes": 0}, "0 passes"), ({"passes": 5000}, "1 to 2000 bars"),
    ({"count_in_bars": 99}, "0 to 16"),
])
def test_what_cannot_be_made_is_refused(options: dict[str, object], words: str) -> None:
    with pytest.raises(BackingError) as found:
        backing("| Am7 | D7 |", **options)  # type: ignore[arg-type]
    assert words in str(found.value)
    with pytest.raises(BackingError, match="more than 0"):
        passes_in(Chart.parse("| Am7 | D7 |"), 0)
    with pytest.raises(BackingError, match="did you mean Drums"):
        Band(parts=("Drum",))


# -- voice leading ---------------------------------------------------------------------------------------------------
TWO_FIVE = ["Dm7", "G7", "Cmaj7", "Am7"]


def test_voicings_move_little_and_lie_in_range() -> None:
    voicings = led([Chord.parse(name) for name in TWO_FIVE])
    steps = [abs(a - b) for one, two in zip(voicings, [*voicings[1:], voicings[0]], strict=True)
             for a, b in zip(one, two, strict=True)]
    assert mean_motion(voicings) <= 1.5  # common practice, no source
    assert max(steps) <= 4
    for name, voicing in zip(TWO_FIVE, voicings, strict=True):
        assert {midi % 12 for midi in voicing} <= pitch_classes(Chord.parse(name))
        assert LOWEST <= voicing[0] < voicing[-1] <= HIGHEST


def test_the_path_is_the_best_of_all() -> None:
    """Against every combination of candidates, tried one by one, on three chords that lead round."""
    chords = [Chord.parse(name) for name in ("Am7", "D7", "Gmaj7")]
    choices = [candidates(chord) for chord in chords]
    best = min(motion(a, b) + motion(b, c) + motion(c, a) for a, b, c in product(*choices))
    a, b, c = led(chords)
    assert motion(a, b) + motion(b, c) + motion(c, a) == best


@pytest.mark.parametrize(("one", "two", "semitones"), [
    ((60, 64, 67), (60, 64, 72), 5), ((60, 64, 67), (60, 64, 73), 6 + 1), ((60, 64, 67), (60, 64, 74), 7 + 2),
    ((60, 64, 67), (54, 57, 61), 6 + 1 + 7 + 2 + 6 + 1), ((60, 64, 67), (64, 67), 2),
    ((52, 60), (48, 59, 60), 7 + 2 + 2),
])
def test_what_a_leap_counts(one: tuple[int, ...], two: tuple[int, ...], semitones: int) -> None:
    """Each semitone beyond a fourth (5) counts twice, a voice more or less as two; voices are told from the top."""
    assert motion(one, two) == motion(two, one) == semitones


# In the second, the way that is the first in order is not the one that ends lowest.
@pytest.mark.parametrize(("names", "around"), [
    ("Ebm Amaj7 C", False), ("F#aug Dmaj7 F#maj7", True), ("Aaug F#maj7 Eb", True), ("F#m Eb7 Cm", True),
    ("Ebm F#aug F#m", False), ("C F# C", True)])
def test_of_equal_ways_the_first_in_order_is_played(names: str, around: bool) -> None:
    chords = [Chord.parse(name) for name in names.split()]

    def cost(way: tuple[tuple[int, ...], ...]) -> int:
        total = 0
        for one, two in pairwise([*way, way[0]] if around else way):
            moves = [abs(a - b) for a, b in zip(reversed(one), reversed(two), strict=False)]
            total += sum(moves) + sum(move - 5 for move in moves if move > 5) + 2 * abs(len(one) - len(two))
        return total

    costs = {way: cost(way) for way in product(*map(candidates, chords))}
    equals = sorted(way for way in costs if costs[way] == min(costs.values()))
    assert len(equals) > 1
    assert tuple(led(chords, around=around)) == equals[0]


@pytest.mark.parametrize(("name", "must"), [
    ("E7alt", {"3", "b7"}), ("A7#9", {"3", "b7", "#9"}), ("A7b9", {"3", "b7", "b9"}), ("C13", {"3", "b7", "13"}),
    ("Fmaj9", {"3", "7", "9"}), ("Dm7b5", {"b3", "b7", "b5"}),
])
def test_what_names_the_chord_is_voiced(name: str, must: set[str]) -> None:
    chord = Chord.parse(name)
    classes = {tone.degree: tone.name.pitch_class for tone in chord.tones}
    for voicing in candidates(chord):
        assert {classes[degree] for degree in must} <= {midi % 12 for midi in voicing}
    if name == "E7alt":
        altered = {classes[degree] for degree in ("b9", "#9", "#5", "b5", "b13") if degree in classes}
        assert all(altered & {midi % 12 for midi in voicing} for voicing in candidates(chord))
