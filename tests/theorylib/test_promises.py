"""What the guide promises of public functions: a value or its text, and a VampError for whatever cannot be.

A row of CALLS is a function and its arguments, each with the kind of thing it asks for. A text stands for a value; the
call with values must answer as the call with texts. Each argument in turn is then replaced by what it cannot be.
"""

from __future__ import annotations

import doctest
import inspect
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
import soundfile
from support.documents import note, tune

import theorylib
import workbook.cells.drill
import workbook.cells.telling
import workbook.kit
import workbook.media.shown
from theorylib import Chart, Chord, Line, Meter, NoteName, Pitch, Scale, Tuning, VampError
from theorylib.changes import charts, excerpts, form
from theorylib.names import arpeggios, naming
from theorylib.necks import areas, blues_bends, grip_leading, grips, shapes
from theorylib.playing import difficulty, fingering, joins, note_uses
from theorylib.practice import (
    approaches,
    changes,
    devices,
    drills,
    landings,
    outline,
    pace,
    phrases,
    phrasing,
    sequences,
    solo_ends,
    subdivisions,
    superimposed,
    tapping,
    through,
    touch,
    variations,
)
from theorylib.reading import chordscales, harmony, hearing, numerals, substitutes, uses
from workbook import reader
from workbook.exchange.passages import Passage

CHART = "key: A minor\n| Am7 | D7 |"
LINE = drills.continuous_arpeggio(CHART)
PLACED = fingering.finger(LINE)
SHAPE = shapes.target_shapes("Am7", ["1", "5"])[0]
FILE = Path(tempfile.mkdtemp()) / "tune.musicxml"
FILE.write_text(tune(note("F3", 24) + note("A3", 24)), encoding="utf-8")
TRACK = FILE.with_name("clicks.wav")
soundfile.write(TRACK, [float(at % 4000 < 60) for at in range(32_000)], 8000)
PLAYED = workbook.kit.listen(PLACED, over_backing=False).save(FILE.with_name("take.wav"))
DOT = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'
PLAN = "bars 1-2: free; low; sparse\nending: 1 on beat 1 of bar 2"


@pytest.fixture(scope="module", autouse=True)
def _everyone_reads_again() -> Iterator[None]:
    """The kit's for_reader holds for the rest of a notebook, which here is every test that follows."""
    yield
    reader._kept.close()


# kind of argument: from a text to the value it stands for.
VALUES = {"chart": Chart.parse, "chord": Chord.parse, "scale": Scale.parse,
          "tuning": Tuning.parse, "pitch": Pitch.parse, "pitch-or-midi": Pitch.parse, "line": Line.from_json,
          "shape-or-chord": Chord.parse, "thing": Scale.parse,
          "degrees": str.split, "notes": str.split, "passage": Passage.parse, "arpeggio": arpeggios.as_arpeggio}
MUSIC = (7, [7], object(), "zz?", b"Am7")
NUMBERS = ("many", [], -1000, 10**6, 10**400, float("nan"), float("inf"), object())
# kind of argument: what it cannot be.
WRONG = {**dict.fromkeys(VALUES, MUSIC), "degrees": (7, [7], [None], object(), "zz?", "14", ["14"]),
         "whole": (*NUMBERS, 2.5, True), "number": NUMBERS, "place": NUMBERS, "shifts": ("many", [], object(), -1),
         "wholes": (object(), [[]], ["many"], [-1000], [10**6]), "word": (7, [], object(), "zz?"),
         "text": (7, [], "zz?", b""), "words": (7, [], b"", object()), "value": (7, object(), "zz?"),
         "pitch-or-midi": (-7, 700, [7], "zz?", b"A2", 7.5)}


@dataclass(frozen=True)
class Call:
    """A function, what it is asked with, and the kind of each argument ("tuning" of "tuning=..." as well)."""

    function: Any
    arguments: dict[str, tuple[str, Any]]

    def answer(self, *, as_values: bool, **changed: object) -> object:
        given = {name: VALUES[kind](value) if as_values and kind in VALUES and isinstance(value, str) else value
                 for name, (kind, value) in self.arguments.items()}
        return self.function(**{**given, **changed})

    def wrong(self) -> list[tuple[str, object]]:
        parameters = inspect.signature(self.function).parameters
        found = [(name, value) for name, (kind, _) in self.arguments.items() for value in WRONG[kind]]
        return found + [(name, None) for name in self.arguments
                        if "None" not in str(parameters[name].annotation)]


def call(function: Any, **arguments: tuple[str, Any]) -> Call:
    return Call(function, arguments)


TUNE = {"tuning": ("tuning", "drop D")}
POSITION = {"position": ("whole", 5)}
OVER = {"chart": ("chart", CHART)}
CHORD, SCALE, KEY = ("chord", "Am7"), ("scale", "A dorian"), ("scale", "A minor")
BOTH = {"chord": CHORD, "scale": SCALE}
OF_LINE = {"line": ("line", PLACED.to_json())}

CALLS = [
    # theorylib's names and readings
    call(theorylib.scales_with, pitch_classes=("value", frozenset({0, 4, 7}))),
    call(naming.names_of, notes=("notes", "A C E"), bass=("word", "C")),
    call(chordscales.avoid_notes, **BOTH), call(chordscales.tensions, **BOTH), call(chordscales.scale_degrees, **BOTH),
    call(chordscales.chord_scales, chord=CHORD, home_mask=("whole", 0xFFF), prefer=("word", "dorian")),
    call(harmony.harmony, chart=("chart", CHART), key=KEY), call(hearing.readings, chart=("chart", CHART)),
    call(harmony.guide_tones, chord=CHORD), call(harmony.moves, chord=CHORD, following=("chord", "D7")),
    call(numerals.numeral, chord=CHORD, key=KEY),
    call(substitutes.substitutes, chord=CHORD, key=KEY, next_chord=("chord", "D7"), scale=SCALE,
         reach=("word", "inside"), weights=("value", substitutes.WEIGHTS)),
    call(substitutes.judge_one, value=("arpeggio", "C"), chord=CHORD, key=KEY, scale=SCALE),
    call(substitutes.candidate_count, chord=CHORD), call(uses.uses_of, value=("arpeggio", "C"), key=KEY),
    call(uses.common_arpeggios, chart=("chart", CHART), known=("value", ["Am7", "D7"]), key=KEY,
         most_shifts=("shifts", 2)),
    call(charts.chart_of, chords=("value", ["Am7", "D7"])), call(form.form_of, **OVER), call(form.shaped, **OVER),
    call(form.unrolled, **OVER),
    # the neck
    call(areas.degrees_of, what=("thing", "A dorian")),
    call(areas.in_position, what=("thing", "A dorian"), **POSITION, **TUNE),
    call(areas.per_string, what=("thing", "A dorian"), count=("whole", 3), fret=("whole", 3), **TUNE,
         strings=("wholes", [6, 5])),
    call(areas.layers, **BOTH, **POSITION, **TUNE),
    call(areas.nearest_tones, places=("value", SHAPE.places), following=CHORD, **TUNE),
    call(shapes.target_shapes, chord=CHORD, degrees=("degrees", "1 5"), **TUNE, span_frets=("whole", 4),
         span_mm=("number", 200)),
    call(shapes.target_moves, shape=("value", SHAPE), following=CHORD, degrees=("degrees", "1 5"), **TUNE,
         reach_frets=("whole", 3)),
    call(shapes.near_fret, shapes=("value", [SHAPE]), fret=("whole", 5)),
    call(shapes.by_geometry, shapes=("value", [SHAPE])),
    call(SHAPE.span_mm, **TUNE),
    call(grips.grips, chord=CHORD, **TUNE, level=("word", "beginner"), top=("word", "b3")),
    call(grip_leading.led_grips, chords=("value", ["Am7", "D7"]), **TUNE, level=("word", "beginner"),
         near=("whole", 5)),
    call(Tuning.parse("drop D").midi, string=("place", 1), fret=("place", 3)),
    call(Tuning.parse("drop D").places, pitch=("pitch-or-midi", "E4")),
    call(Tuning.parse("drop D").with_capo, capo=("whole", 2)),
    # what a hand does
    call(fingering.finger, line=("line", LINE.to_json()), tuning=("tuning", "standard"), position=("whole", 5),
         open_strings=("word", "allow"), weights=("value", fingering.DEFAULT_WEIGHTS)),
    call(fingering.without_places, **OF_LINE),
    call(joins.joins, what=("thing", "A dorian"), position_a=("whole", 5), position_b=("whole", 8), **TUNE),
    call(difficulty.line_difficulty, **OF_LINE, tempo=("number", 100)),
    # drills
    call(drills.continuous_arpeggio, **OVER, per_chord=("whole", 4), **POSITION, start=("pitch", "A2"),
         direction=("word", "up"), within=("value", ("A2", "C5")), passes=("whole", 1), **TUNE),
    call(drills.tempo_ladder, target=("number", 120), steps=("whole", 4)),
    call(through.continuous_scale, **OVER, per_chord=("whole", 4), **POSITION, start=("pitch", "A2"),
         direction=("word", "up"), passes=("whole", 1), tuning=("tuning", "standard")),
    call(through.guide_tone_line, **OVER, **POSITION, voices=("whole", 1), first=("word", "3"), **TUNE,
         passes=("whole", 1)),
    call(approaches.approach_targets, **OVER, **POSITION, approach=("word", "below"), every_beats=("number", 2),
         **TUNE, passes=("whole", 1)),
    call(superimposed.superimposed_arpeggio, **OVER, arpeggio=("arpeggio", "Em7"), **POSITION, per_chord=("whole", 4),
         **TUNE),
    call(through.against_substitute, **OVER, per_bar=("whole", 4), **POSITION, key=KEY, **TUNE),
    call(through.doubles_of, **OVER, key=KEY),
    call(through.doubled, **OVER),
    call(sequences.sequence, what=("thing", "A dorian"), pattern=("word", "thirds"), **POSITION, a_string=("whole", 3),
         way=("word", "up"), length_beats=("number", Fraction(1, 2)), chart=("chart", CHART), **TUNE,
         strings=("wholes", [6, 5])),
    call(variations.through_changes, **OF_LINE, changes=("chart", CHART)),
    call(variations.from_degree, **OF_LINE, steps=("whole", 2)), call(variations.backwards, **OF_LINE),
    call(variations.displaced, **OF_LINE, beats=("number", Fraction(1, 2))),
    call(variations.moved_by, **OF_LINE, semitones=("whole", 2), chart=("chart", CHART)),
    call(note_uses.note_uses, **OF_LINE), call(note_uses.landings, **OF_LINE),
    call(excerpts.excerpt, **OVER, from_bar=("whole", 1), bars=("whole", 1)),
    call(sequences.with_legato, **OF_LINE),
    call(sequences.with_strokes, **OF_LINE, rule=("word", "economy"), grid_beats=("number", Fraction(1, 2))),
    call(phrases.play_and_rest, **OF_LINE, play_bars=("whole", 1), rest_bars=("whole", 1)),
    call(phrases.motif, **OVER, rhythm=("word", "1 1 1 1"), contour=("word", "0 1"), **POSITION, **TUNE,
         passes=("whole", 1)),
    call(phrases.call_and_answer, **OVER, rhythm=("word", "1 1 1 1"), contour=("word", "0 1"), **POSITION, **TUNE,
         passes=("whole", 1)),
    call(subdivisions.bursts, what=("thing", "A minor pentatonic"), **POSITION, fast=("whole", 4), count=("whole", 5),
         bars=("whole", 2), level=("word", "beginner"), chart=("chart", CHART), **TUNE),
    call(subdivisions.subdivision_ladder, what=("thing", "A dorian"), **POSITION, rungs=("wholes", [1, 2]),
         bars=("whole", 1), level=("word", "beginner"), chart=("chart", CHART), **TUNE),
    call(subdivisions.displaced_accents, **OF_LINE, every=("whole", 3)),
    call(subdivisions.moving_rest, **OF_LINE, group=("whole", 4)),
    call(subdivisions.rates, rungs=("wholes", [1, 2]), tempo=("number", 100)),
    call(subdivisions.practice_schedule, shortest_beats=("number", Fraction(1, 2)), target=("number", 100),
         steps=("whole", 4), passes=("whole", 2)),
    call(pace.fast_value, chart=("chart", CHART), level=("word", "beginner")),
    call(tapping.tapped_arpeggio, **OVER, strings=("wholes", [5, 3, 1]), **POSITION, per_chord=("whole", 8),
         level=("word", "beginner"), **TUNE),
    call(touch.held_vibrato, **OVER, on=("word", "2"), degree=("word", "3"), **POSITION, width_cents=("whole", 40),
         **TUNE),
    call(touch.bend_drill, chord=CHORD, degrees=("degrees", "1 9"), near=("whole", 8), way=("word", "bend"),
         most=("whole", 2), **TUNE),
    call(changes.aim_at_changes, **OVER, **POSITION, **TUNE, passes=("whole", 1)),
    call(blues_bends.blues_area, chord=CHORD, near=("whole", 5), level=("word", "beginner"), **TUNE),
    call(phrasing.phrases_over, **OVER, style=("word", "blues"), level=("word", "beginner"), position=("whole", 5),
         **TUNE),
    call(devices.devices, **OF_LINE, first=("whole", 1), last=("whole", 1)),
    call(solo_ends.home_chords, **OVER),
    call(touch.slide_drill, what=("thing", "A dorian"), string=("whole", 2), kind=("word", "slide"),
         count=("whole", 8), fret=("whole", 3), **TUNE),
    call(touch.with_swell, **OF_LINE, soft=("whole", 50), loud=("whole", 110), bars=("whole", 2)),
    call(outline.outline, **OVER, minutes=("number", 1), bars=("whole", 8)),
    call(outline.read_outline, text=("word", PLAN), **OVER),
    # the kit
    call(workbook.kit.arpeggio_drill, **OVER, **POSITION, per_chord=("whole", 4), tuning=("tuning", "standard"),
         start=("pitch", "A2"), direction=("word", "up"), passes=("whole", 1)),
    call(workbook.kit.phrase, text=("text", "e 3/5 3/7 2/5"), over=("chart", CHART), position=("whole", 5),
         tuning=("tuning", "standard"), rhythm=("number", "even"), up=("whole", 0)),
    call(workbook.kit.phrases, words=("words", "dawn"), over=("chart", CHART), position=("whole", 5),
         level=("word", "beginner"), technique=("word", "bends")),
    call(workbook.kit.rhythm_part, **OVER, level=("word", "beginner"), **TUNE, near=("whole", 5), passes=("whole", 1)),
    call(workbook.kit.arpeggio, name=("arpeggio", "D quartal triad")),
    call(workbook.kit.explore, changes=("chart", CHART), key=KEY, **TUNE, position=("whole", 5)),
    call(workbook.kit.as_drill, line=("line", LINE.to_json())),
    call(workbook.kit.phrase_from, path=("text", str(FILE)), over=("chart", "| Dm7 |"),
         position=("whole", 5), passage=("passage", "bars 1, part Tune, staff 1, voice 1, octaves 1"),
         tuning=("tuning", "drop D"), key=("scale", "C major")),
    call(workbook.kit.from_bar, changes=("chart", CHART), bar=("whole", 2)),
    call(workbook.kit.picture, what=("value", DOT), alt=("words", "A dot"), caption=("words", "Here"),
         width_mm=("number", 20)),
    call(workbook.kit.outline_sheet, plan=("word", PLAN), **OVER),
    call(workbook.kit.lesson_chart, changes=("chart", "| Am7 | D7 |"), key=KEY,
         meter=("word", "3/4"), tempo=("number", 90), feel=("word", "swing")),
    call(workbook.kit.best_position, **OVER, kind=("word", "groove"), **TUNE, per_chord=("whole", 4),
         level=("word", "advanced")),
    call(workbook.kit.necks, read=("chart", CHART), **POSITION, **TUNE, most=("whole", 2)),
    call(workbook.kit.colour_necks, read=("chart", CHART), **POSITION, **TUNE, most=("whole", 2)),
    call(workbook.kit.two_chords, read=("chart", CHART)),
    call(workbook.kit.target_degrees, chord=CHORD),
    call(workbook.kit.target_area, chord=CHORD, near=("whole", 5), **TUNE),
    call(workbook.kit.bend_area, chord=CHORD, near=("whole", 5), level=("word", "beginner"), **TUNE),
    call(workbook.kit.change_area, chord=CHORD, near=("whole", 5), **TUNE),
    call(workbook.kit.phrase_style, read=("chart", CHART), kind=("word", "blues")),
    call(workbook.kit.phrase_position, read=("chart", CHART), kind=("word", "blues"), hand=("whole", 5), **TUNE),
    call(workbook.kit.phrase_chorus, **OVER, style=("word", "blues"), level=("word", "beginner"),
         position=("whole", 5), **TUNE),
    call(workbook.kit.pentatonic, home=SCALE),
    call(workbook.kit.colour_of, read=("chart", CHART)),
    call(workbook.kit.targets, chord=CHORD, degrees=("degrees", "1 5"), near=("whole", 5), **TUNE),
    call(workbook.kit.bends, shape=("value", SHAPE), most=("whole", 2), over=CHORD),
    call(workbook.kit.play_along, **OVER, level=("word", "beginner"), **TUNE, near=("whole", 5)),
    call(workbook.kit.target_steps, shape=("value", SHAPE), following=CHORD, degrees=("degrees", "1 5"), **TUNE),
    call(workbook.kit.other_colours, chord=CHORD, key=KEY, next_chord=("chord", "D7"), scale=SCALE, most=("whole", 6),
         kinds=("word", "triad seventh")),
    call(workbook.kit.moves, read=("chart", CHART)),
    call(workbook.kit.hear, track=("text", str(TRACK)), tempo=("number", 120), meter=("word", "4/4"),
         first_bar=("number", 0.5), key=KEY, chart=("chart", "| Am7 |")),
    call(workbook.kit.confirm, track=("text", str(TRACK))),
    call(workbook.kit.guide, words=("words", "tempo ladder")),
    call(workbook.kit.made, folder=("text", str(FILE.parent))),
    call(workbook.kit.in_folder, name=("words", "phrases/dawn.txt")),
    call(workbook.kit.ear_training, **OVER, level=("word", "beginner"), position=("whole", 5), seed=("whole", 1),
         **TUNE),
    call(workbook.kit.reading_line, **OVER, level=("word", "beginner"), **POSITION, **TUNE),
    call(workbook.kit.triads_over, read=("chart", CHART)),
    call(workbook.kit.triads_of, read=("chart", CHART)),
    call(workbook.kit.area_scale, read=("chart", CHART), kind=("word", "blues")),
    call(workbook.kit.areas, read=("chart", CHART), position=("whole", 5), kind=("word", "rock"),
         level=("word", "advanced"), **TUNE),
    call(workbook.kit.accents_across, line=("line", LINE.to_json())),
    call(workbook.kit.shape_position, home=SCALE, **TUNE),
    call(landings.steady_scale, what=SCALE, position=("whole", 5), **OVER, **TUNE),
    call(landings.landed, **OF_LINE),
    call(landings.landings, **OVER, degrees=("value", ("1", "5")), **POSITION, **TUNE),
    call(workbook.kit.mirror, recording=("text", str(PLAYED)), over=("chart", CHART), tempo=("number", 100),
         first_beat=("number", 2.4), latency_ms=("number", 5)),
    call(workbook.kit.take, recording=("text", str(PLAYED)), line=("line", PLACED), tempo=("number", 100),
         first_beat=("number", 2.4), latency_ms=("number", 5), student=("words", "Ada")),
    call(workbook.kit.backing, **OVER), call(workbook.kit.chart_picture, **OVER),
    call(workbook.kit.plot_neck, what=("shape-or-chord", "Am7"), **TUNE, over=CHORD, position=("whole", 5),
         next_chord=("chord", "D7")),
    call(workbook.kit.score, **OF_LINE),
    call(workbook.kit.tension_map, chord=CHORD, key=KEY, next_chord=("chord", "D7")),
    call(workbook.kit.tension_picture, chord=CHORD, key=KEY, next_chord=("chord", "D7")),
    call(workbook.kit.listen, what=("chart", CHART), passes=("whole", 1), tempo=("number", 100)),
    call(workbook.kit.for_reader, note_names=("word", "english"), tempos=("value", (60, 90)), steps=("whole", 4)),
    call(PLACED.__class__.from_json, text=("text", PLACED.to_json())),
    call(PLACED.__class__.parse, text=("text", "e 3/5 3/7 2/5"), tuning=("tuning", "drop D"), chart=("chart", CHART),
         rhythm=("number", "even")),
]
SLOW = {workbook.kit.listen, workbook.kit.tension_map, workbook.kit.explore,
        workbook.kit.confirm}  # without a value to compare
names = [f"{one.function.__module__.rpartition('.')[2]}.{one.function.__name__}" for one in CALLS]


def test_every_public_function_has_a_row():
    rows = {one.function for one in CALLS}
    for house in (theorylib, workbook.kit):
        public = [getattr(house, name) for name in house.__all__]
        writes = {workbook.kit.refresh}  # a file: see tests/workbook/test_refresh.py
        assert [one for one in public if inspect.isfunction(inspect.unwrap(one)) and one not in rows | writes] == []


@pytest.mark.parametrize("one", [one for one in CALLS if one.function not in SLOW],
                         ids=[name for one, name in zip(CALLS, names, strict=True) if one.function not in SLOW])
def test_a_value_and_its_text_give_the_same(one: Call):
    def shown(value: object) -> object:
        return value.markdown if isinstance(value, workbook.kit.Words) else value

    assert shown(one.answer(as_values=False)) == shown(one.answer(as_values=True))


@pytest.mark.parametrize("one", CALLS, ids=names)
def test_what_cannot_be_is_refused_in_our_own_words(one: Call):
    missed = []
    for name, value in one.wrong():
        try:
            one.answer(as_values=False, **{name: value})
            missed.append(f"{name}={value!r:.30} passes")
        except VampError as error:
            if not str(error):
                missed.append(f"{name}={value!r:.30} says nothing")
        except Exception as error:
            missed.append(f"{name}={value!r:.30} raises {type(error).__name__}: {error!s:.60}")
    assert not missed, "\n".join(missed)


CONSTRUCTORS = [Chord, Scale, Chart, Tuning, Meter, NoteName, Pitch, Chord.parse, Scale.parse, Chart.parse,
                Tuning.parse, Meter.parse, Pitch.parse, theorylib.Interval.parse, theorylib.Interval.of_degree]


@pytest.mark.parametrize("make", CONSTRUCTORS, ids=lambda make: make.__qualname__)
@pytest.mark.parametrize("value", [7.5, [7], "zz?", b"A", object()], ids=["number", "list", "word", "bytes", "object"])
def test_what_is_made_of_nonsense_is_refused(make: Any, value: object):
    with pytest.raises(VampError):
        make(*([value, value] if make in (Scale, Pitch) else [value]))


def test_a_chord_made_of_its_symbol_says_how_to_read_one():
    with pytest.raises(VampError, match=r"Chord\.parse"):
        Chord("Cm7")


@pytest.mark.parametrize("tempo", [140, Fraction(140), 140.0, "140"])
def test_a_header_is_a_number_as_well(tempo: Any):
    assert Chart.parse("| Am7 |", tempo=tempo).tempo == 140


def test_a_header_takes_the_value_that_it_names():
    chart = Chart.parse("| Am7 |", key=Scale.parse("A dorian"), meter=Meter(3, 4), tempo=Fraction(185, 2))
    assert (str(chart.key), str(chart.meter), chart.tempo) == ("A dorian", "3/4", Fraction(185, 2))


@pytest.mark.parametrize("headers", [{"tempo": 1000}, {"tempo": []}, {"key": 7}, {"meter": 3},
                                     {"feel": 4}, {"title": []}, {"tempo": float("nan")}, {"tempo": Fraction(1, 3)}],
                         ids=str)
def test_a_header_that_cannot_be_is_refused(headers: dict):
    with pytest.raises(VampError):
        Chart.parse("| Am7 |", **headers)


def test_the_examples_in_the_docstrings_of_the_kit_are_true():
    done = doctest.testmod(workbook.kit)
    for module in (workbook.cells.telling, workbook.cells.drill):  # whose examples use the kit's names
        assert doctest.testmod(module, extraglobs=vars(workbook.kit)).failed == 0
    assert doctest.testmod(workbook.media.shown).failed == 0
    assert done.attempted > 0
    assert done.failed == 0


# Names of the kit without an example: what is not ours or no call, and a panel that is used by ear.
WITHOUT_EXAMPLE = {"Fraction", "STANDARD", "confirm"}


def test_every_name_of_the_kit_has_an_example_that_runs():
    """Those of theorylib run in test_examples.py."""
    named = {name: getattr(workbook.kit, name) for name in workbook.kit.__all__ if name not in WITHOUT_EXAMPLE}
    assert [name for name, value in named.items() if ">>> " not in (value.__doc__ or "")] == []
    modules = {value.__module__ for value in named.values() if value.__module__.startswith("workbook")}
    for name in sorted(modules):
        done = doctest.testmod(import_module(name), extraglobs=vars(workbook.kit))
        assert done.attempted > 0, name
        assert done.failed == 0, name


def test_errors_name_value_expectation_and_the_nearest():
    with pytest.raises(VampError) as caught:
        shapes.target_shapes("Am7", ["14"])
    assert (caught.value.value, caught.value.nearest) == ("14", ("7",))
    assert "1 to 7, 9, 11 or 13" in caught.value.expected
    with pytest.raises(VampError) as caught:
        workbook.kit.arpeggio_drill(CHART, "3")
    assert (caught.value.value, caught.value.expected) == ("3", "a fret from 1 to 22")
