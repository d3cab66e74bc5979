"""Fingering is exact, sounds what it should and comes out as players do it.

Sources: MIDI 1.0 numbers and equal temperament for what a place sounds; the fret rule 1 - 2^(-n/12) for distances;
fingerings named "common practice" have no source.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest

from theorylib import Chart, FingeringError, Line, Mark, Note, Pitch, Tuning
from theorylib.playing.efforts import DEFAULT_WEIGHTS, Cost, Weights
from theorylib.playing.fingering import FREE, finger, fingering_cost, steps_between, without_places
from theorylib.playing.hand import Step
from theorylib.playing.lines import line_of
from theorylib.practice.drills import continuous_arpeggio

CHART = Chart.parse("tempo: 100\n| Am7 | D7 |")
# Open strings as MIDI numbers, thinnest first (A4 is 69, equal temperament), beside the tuning as a player writes it.
NECKS = {
    "E2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 40),
    "D2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 38),
    "D2 A2 D3 G3 A3 D4": (62, 57, 55, 50, 45, 38),
    "E1 A1 D2 G2": (43, 38, 33, 28),
    "B1 E2 A2 D3 G3 B3 E4": (64, 59, 55, 50, 45, 40, 35),
}
PENTATONIC = "A2 C3 D3 E3 G3 A3 C4 D4 E4 G4 A4 C5"
G_MAJOR = "G2 A2 B2 C3 D3 E3 F#3 G3 A3 B3 C4 D4 E4 F#4 G4 A4"
C_MAJOR = "C3 D3 E3 F3 G3 A3 B3 C4"


def written(line: Line) -> str:
    """string:fret(finger) of each note."""
    return " ".join(f"{note.string}:{note.fret}({note.finger})" for note in line.notes)


def line(text: str, beats: str = "1/2", **marks: str) -> Line:
    """A line of equal notes; n2="hammer" marks the second."""
    made = line_of(text.split(), CHART, duration_beats=Fraction(beats))
    kinds = {int(key[1:]): kind for key, kind in marks.items()}
    return replace(made, notes=tuple(
        replace(note, marks=(Mark(kinds[number]),)) if number in kinds else note
        for number, note in enumerate(made.notes, 1)))


def shaken(pitch: str) -> Line:
    """A note with vibrato."""
    return line(pitch).with_notes(lambda note: replace(note, marks=(Mark("vibrato", Fraction(40)),)))


def chords(*texts: str) -> Line:
    return Line(tuple(Note(Pitch.parse(word), Fraction(beat), Fraction(1))
                      for beat, text in enumerate(texts) for word in text.split()), CHART)


# --- common practice (no source) ------------------------------------------------------------------------------------

@pytest.mark.parametrize("position", [5, None])
def test_a_minor_pentatonic_in_position_5(position: int | None) -> None:
    assert written(finger(line(PENTATONIC), position=position)) == (
        "6:5(1) 6:8(4) 5:5(1) 5:7(3) 4:5(1) 4:7(3) 3:5(1) 3:7(3) 2:5(1) 2:8(4) 1:5(1) 1:8(4)")


@pytest.mark.parametrize(("position", "policy"), [(2, None), (None, "never")])
def test_g_major_in_position_2(position: int | None, policy: str | None) -> None:
    assert written(finger(line(G_MAJOR), position=position, open_strings=policy)) == (
        "6:3(2) 6:5(4) 5:2(1) 5:3(2) 5:5(4) 4:2(1) 4:4(3) 4:5(4) 3:2(1) 3:4(3) 3:5(4) 2:3(2) 2:5(4) "
        "1:2(1) 1:3(2) 1:5(4)")


def test_c_major_in_open_position() -> None:
    """Frets 3, 0 2 3, 0 2, 0 1 with the finger of the same number as the fret: the first scale of most beginners."""
    assert written(finger(line(C_MAJOR))) == "5:3(3) 4:0(0) 4:2(2) 4:3(3) 3:0(0) 3:2(2) 2:0(0) 2:1(1)"


def test_two_octaves_of_c_major_need_no_shift() -> None:
    """Position 7, from string 6 fret 8 with finger 2: all of it lies under one hand."""
    done = finger(line(C_MAJOR + " D4 E4 F4 G4 A4 B4 C5"))
    assert written(done) == ("6:8(2) 6:10(4) 5:7(1) 5:8(2) 5:10(4) 4:7(1) 4:9(3) 4:10(4) 3:7(1) 3:9(3) 3:10(4) "
                             "2:8(2) 2:10(4) 1:7(1) 1:8(2)")
    assert fingering_cost(done).shifts == 0


@pytest.mark.parametrize(("pitches", "fingers"), [
    ("C3 E3 G3 C4 E4", "32010"), ("A2 E3 A3 C4 E4", "02310"), ("E2 B2 E3 G#3 B3 E4", "023100"),
    ("A2 E3 A3 C#4 E4", "01230"), ("D3 A3 D4 F#4", "0132"), ("F2 C3 F3 A3 C4 F4", "134211"),
    ("B2 F#3 B3 D4 F#4", "13421"),
])
def test_first_chords(pitches: str, fingers: str) -> None:
    """Low string to high (common practice, no source); the last two are barres of the index."""
    assert "".join(str(note.finger) for note in finger(chords(pitches)).notes) == fingers


def test_the_hand_shifts_when_there_is_time() -> None:
    """One line, a rest before its last note or none: the shift falls into the rest, at a lower cost."""
    low = Note(Pitch.parse("F2"), Fraction(0), Fraction(1, 4))
    high = Note(Pitch.parse("C6"), Fraction(1, 4), Fraction(1))
    hurried = fingering_cost(Line((low, high), CHART))
    rested = fingering_cost(Line((low, replace(high, onset_beats=Fraction(3))), CHART))
    assert hurried.shifts == rested.shifts == 1
    assert rested.shift < hurried.shift / 2


def test_open_strings_carry_the_hand() -> None:
    """The hand comes back to where it was: the open strings between cost no shift."""
    done = finger(line("A4 C5 E4 A4 C5"), open_strings="allow")
    placed = replace(done, notes=tuple(
        replace(note, string=1, fret=0, finger=0) if note.pitch == Pitch.parse("E4") else note for note in done.notes))
    assert written(finger(placed)) == "1:5(1) 1:8(4) 1:0(0) 1:5(1) 1:8(4)"
    assert fingering_cost(placed).shifts == 0


# --- promises -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("name", NECKS)
@pytest.mark.parametrize("capo", [0, 3])
def test_every_place_sounds_its_pitch(name: str, capo: int) -> None:
    opens, tuning, rng = NECKS[name], Tuning.parse(name, capo=capo), random.Random(name + str(capo))
    for _ in range(8):
        midis = [rng.randint(min(opens) + capo, max(opens) + 22) for _ in range(24)]
        done = finger(line_of([str(Pitch.of_midi(midi)) for midi in midis], CHART), tuning)
        assert [opens[note.string - 1] + capo + note.fret for note in done.notes] == midis
        assert all((note.fret == 0) == (note.finger == 0) and 0 <= note.finger <= 4 for note in done.notes)
        assert done.tuning == tuning
        assert done.problems() == ()


def test_same_line_same_fingering_and_once_is_enough() -> None:
    made = continuous_arpeggio("| Am7 | D7 |", position=5)
    done = finger(made)
    assert finger(made) == done == finger(done)
    assert finger(without_places(done)) == done
    assert fingering_cost(done) == fingering_cost(made)


def test_a_line_brings_its_own_tuning_and_position() -> None:
    made = continuous_arpeggio("| Dm7 | G7 |", position=5, tuning=Tuning.parse("drop D"))
    done = finger(made)
    assert (str(done.tuning), done.position) == ("D2 A2 D3 G3 B3 E4", 5)
    assert all(4 <= note.fret <= 9 for note in done.notes)
    assert finger(made, position=FREE).position is None
    assert finger(without_places(made), "standard", 7).position == 7


def test_a_position_is_a_hard_window_with_the_outer_fingers_stretched() -> None:
    """Position p: p - 1 is the index's, p + 4 the little finger's."""
    done = finger(line("G#2 A2 C#3 C5 C#5"), position=5)
    assert written(done) == "6:4(1) 6:5(1) 6:9(4) 1:8(4) 1:9(4)"
    assert fingering_cost(done).shifts == 0


def test_the_worked_drill_in_position_5() -> None:
    """Am7 | D7 of the continuous arpeggio: frets 4 to 9, nothing open."""
    done = finger(continuous_arpeggio("| Am7 | D7 |", position=5))
    assert all(4 <= note.fret <= 9 and note.finger for note in done.notes)
    assert all(note.finger == min(4, max(1, note.fret - 4)) for note in done.notes)


def test_open_string_policies() -> None:
    made = line("E3 G3 A3 G3 E3")
    opens = {policy: sum(note.fret == 0 for note in finger(made, open_strings=policy).notes)
             for policy in ("allow", "avoid", "never")}
    assert opens == {"allow": 2, "avoid": 0, "never": 0}
    assert written(finger(line("E2 A2"), position=5)) == "6:0(0) 6:5(1)"  # nothing else sounds E2
    assert written(finger(line("E4 A4"), position=5)) == "2:5(1) 1:5(1)"
    with_open = finger(line("E4 D4 E4 F4"), position=2, open_strings="allow")
    assert fingering_cost(with_open, open_strings="avoid").open_string > fingering_cost(with_open).open_string > 0


def test_places_that_are_given_stay() -> None:
    made = line(PENTATONIC)
    fixed = replace(made, notes=(replace(made.notes[0], string=5, fret=0), *made.notes[1:4],
                                 replace(made.notes[4], string=3), *made.notes[5:]))
    done = finger(fixed)
    assert (done.notes[0].string, done.notes[0].fret, done.notes[0].finger) == (5, 0, 0)
    assert done.notes[4].string == 3
    taught = replace(made.notes[0], string=6, fret=5, finger=3)
    assert finger(replace(made, notes=(taught,))).notes == (taught,)


@pytest.mark.parametrize("kind", ["hammer", "pull", "slide", "legato slide", "tie"])
def test_joined_notes_share_a_string(kind: str) -> None:
    """E3 and G3 lie best on two strings in position 5 and low; a joining mark keeps them on one."""
    pair = {"pull": "G3 E3", "tie": "G3 G3"}.get(kind, "E3 G3")
    one, two = finger(line(pair, n2=kind)).notes
    assert one.string == two.string
    if kind == "hammer":
        assert two.finger > one.finger
    elif kind == "pull":
        assert two.finger < one.finger
    else:
        assert two.finger == one.finger
    assert (one.fret == two.fret) == (kind == "tie")


def test_legato_runs_stay_on_a_string() -> None:
    done = finger(line("A3 B3 C4 B3 A3", "1/4", n2="hammer", n3="hammer", n4="pull", n5="pull"), open_strings="never")
    assert len({note.string for note in done.notes}) == 1
    fingers = [note.finger for note in done.notes]
    assert fingers == fingers[::-1] == sorted(fingers[:3]) + fingers[3:]
    assert len(set(fingers)) == 3


def test_a_tapped_note_takes_no_finger() -> None:
    done = finger(line("A4 C5 E5 C5 A4", "1/4", n2="hammer", n3="tap", n4="pull", n5="pull"))
    assert written(done).split()[2].endswith("(None)")
    assert len({note.string for note in done.notes}) == 1
    assert fingering_cost(done).shifts == 0
    assert written(finger(line("A4 A5", n2="tap"), position=5)) == "1:5(1) 1:17(None)"


def test_bends_are_never_open() -> None:
    bent = Note(Pitch.parse("E4"), Fraction(0), Fraction(1), marks=(Mark("bend", Fraction(2)),))
    assert finger(Line((bent,), CHART)).notes[0].fret == 5
    assert finger(Line((replace(bent, marks=()),), CHART)).notes[0].fret == 0


def test_notes_together_lie_on_strings_of_their_own() -> None:
    done = finger(chords("C4 E4", "D4 F4", "E4 G4", "F4 A4"), open_strings="never")
    for beat in range(4):
        one, two = (note for note in done.notes if note.onset_beats == beat)
        assert one.string != two.string
        assert one.finger != two.finger or one.fret == two.fret


def test_an_empty_line_stays_empty() -> None:
    assert finger(Line((), CHART), position=5).notes == ()
    assert fingering_cost(Line((), CHART)) == Cost()


# --- costs ----------------------------------------------------------------------------------------------------------

def test_the_causes_add_up() -> None:
    """The breakdown against the same sum by hand: two strings crossed, one shift, and the counts behind them."""
    made = replace(line("A2 C5"), notes=(
        replace(line("A2").notes[0], string=6, fret=5, finger=1),
        replace(line("A2 C5").notes[1], string=1, fret=8, finger=1)))
    cost = fingering_cost(made)
    travel = round(648.0 * (2 ** (-5 / 12) - 2 ** (-8 / 12)))
    assert (cost.shifts, cost.shift_mm, cost.strings_crossed, cost.stretch_mm) == (1, travel, 5, 0)
    assert cost.points() == {"shift": (60 + travel) * (100 + 100 * 250 // 300) // 100, "crossing": 20, "height": 4 + 7}
    assert cost.total == sum(cost.points().values())


def twice_elsewhere() -> Line:
    """One note on two strings by order of its writer."""
    made = line("A3 A3")
    places = ((3, 2), (4, 7))
    return finger(replace(made, notes=tuple(replace(note, string=string, fret=fret)
                                            for note, (string, fret) in zip(made.notes, places, strict=True))))


def test_no_two_weights_do_the_same_and_each_counts() -> None:
    """Every weight changes the cost of some line: none is written down for show."""
    lines = [finger(line(PENTATONIC + " C6")), finger(chords("F2 C3 F3 A3 C4 F4", "D3 A3 D4 F#4")),
             finger(line("D4 E3 A3 F3 F#3", "1/8"), position=3), finger(line("A3 D4 G4 G#4 A4"), position=5),
             finger(line("C6 E4 F2")), finger(line("F2 F5", "1/16")), finger(line("E2 E4"), position=5),
             finger(line("G#2 A2"), position=5), finger(shaken("C3"), position=5), twice_elsewhere()]
    policy = ["avoid" if index == 4 else None for index in range(len(lines))]

    def totals(weights: Weights) -> list[int]:
        return [fingering_cost(made, open_strings=ask, weights=weights).total
                for made, ask in zip(lines, policy, strict=True)]

    changed = {}
    for name in Weights.__slots__:
        changed[name] = totals(replace(DEFAULT_WEIGHTS, **{name: getattr(DEFAULT_WEIGHTS, name) * 2}))
        assert changed[name] != totals(DEFAULT_WEIGHTS), name
    for one, two in combinations(changed, 2):
        assert changed[one] != changed[two], (one, two)


def test_steps_know_time_rests_and_marks() -> None:
    made = line("A2 C3 D3", n2="hammer")
    made = replace(made, notes=(*made.notes[:2], replace(made.notes[2], onset_beats=Fraction(2))))
    assert steps_between(made) == (Step(300, False, (("hammer",),)), Step(900, True, ()))  # 600 ms a beat at 100


# --- refusals -------------------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("made", "arguments", "message"), [
    (line("A2 F2"), {"position": 5},
     (r"note 2 \(F2, bar 1\): F2 has no place in position 5 on strings 1 to 6; "
      r"expected a pitch found on frets 4 to 9; did you mean position 2\?")),
    (line("A2 E2"), {"position": 5, "open_strings": "never"}, r"note 2 \(E2, bar 1\): E2 has no place in position 5"),
    (line("A2 E2"), {"open_strings": "never"}, r"note 2 .*E2 can be had only from an open string"),
    (line("A2 D2"), {}, (r"note 2 \(D2, bar 1\): D2 has no place on this neck; expected a pitch from E2 to D6; "
                         r"did you mean D3")),
    (line("A2"), {"position": 40}, r"no position “40” on this neck; expected a fret from 1 to 22"),
    (line("A2"), {"position": 0}, r"no position “0”"),
    (line("A2"), {"position": "fifth"}, r"no position “fifth”"),
    (line("A2"), {"open_strings": "alow"}, r"“alow” is no way to treat open strings; .*did you mean allow"),
    (line("B2 C4", n2="hammer"), {}, r"note 2 \(C4, bar 1\): C4 cannot be reached from B2 by hammer; expected a"),
    (line("C3 A2", n2="hammer"), {}, r"A2 cannot be reached from C3 by hammer"),
    (line("C3 D3 C3", n2="pull"), {}, r"note 2 .* by pull; expected a lower finger"),
    (line("C3 D3", n2="tie"), {}, r"D3 cannot be reached from C3 by tie; expected the same pitch"),
    (line("A2 B2", n2="slide"), {"position": 5},
     (r"by slide in position 5; expected the same finger at another fret of the same string; "
      r"did you mean position “free”")),
    (chords("E2 F2"), {}, (r"notes 1 to 2 \(E2 F2, bar 1\): no hand can hold these notes together; "
                           r"expected different strings")),
    (chords("A2 E3", "A2 C3 B5"), {"position": 5}, r"notes 3 to 5 .*no hand can hold these notes together in position"),
])
def test_refusals_name_note_pitch_bar_and_what_would_do(made: Line, arguments: dict[str, object], message: str) -> None:
    with pytest.raises(FingeringError, match=message):
        finger(made, **arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize(("place", "message"), [
    ({"string": 6, "fret": 6}, r"string 6 fret 6 does not sound A2; expected string 5 fret 0 or string 6 fret 5"),
    ({"string": 1}, r"string 1 does not sound A2"),
    ({"string": 6, "fret": 5, "finger": 0}, r"finger 0 cannot take string 6 fret 5"),
    ({"string": 6, "fret": 5, "finger": 7}, r"finger 7 cannot take"),
])
def test_false_places_are_refused(place: dict[str, int], message: str) -> None:
    made = line("A2")
    with pytest.raises(FingeringError, match=message):
        finger(replace(made, notes=(replace(made.notes[0], **place),)))


def test_a_place_outside_the_position_is_refused_and_says_how_to_go_on() -> None:
    done = finger(line(PENTATONIC), position=5)
    with pytest.raises(FingeringError, match=r"string 6 fret 5 cannot be held in position 8; .*without_places"):
        finger(done, position=8)


def test_the_bar_is_counted_from_the_chart() -> None:
    made = line("A2 C3 D3 E3 A2 D2", "1")
    with pytest.raises(FingeringError, match=r"note 6 \(D2, bar 2\)"):
        finger(made)


def test_an_open_string_that_is_asked_for_stays_whatever_the_policy() -> None:
    line = line_of("E4 F4", CHART)
    asked = replace(line, notes=(replace(line.notes[0], string=1, fret=0), line.notes[1]))
    found = finger(asked, open_strings="never")
    assert (found.notes[0].string, found.notes[0].fret) == (1, 0)
    assert all(note.fret for note in finger(line, open_strings="never").notes)
