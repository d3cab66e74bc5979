"""Techniques in MusicXML: valid by the W3C 4.0 schema, seen by music21 (BSD-3), and read back to the same line."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from support.music import INVENTED, line_of_durations, rhythms
from support.schema import validate
from support.techniques import long_bend, mark, note, one_of_each, unison_bend

from theorylib import Chart, Line
from theorylib.errors import MusicFileError
from workbook.exchange.music_files import line_of_text
from workbook.exchange.musicxml import musicxml_text
from workbook.exchange.musicxml_in import score_of_musicxml

# music21's class for each of our marks on a note, as its own documentation names them.
SEEN = {"bend": "FretBend", "pre-bend": "FretBend", "release": "FretBend", "accent": "Accent", "staccato": "Staccato",
        "pick down": "DownBow", "pick up": "UpBow", "harmonic": "StringHarmonic", "tapped harmonic": "StringHarmonic",
        "tap": "FretTap"}
JOINS = {"hammer": "HammerOn", "pull": "PullOff", "slide": "Glissando", "legato slide": "Glissando",
         "vibrato": "TrillExtension"}


@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_techniques_are_valid_and_come_back(make: Callable[[], Line]) -> None:
    line = make()
    text = musicxml_text([line])
    validate(text)
    assert line_of_text(text).line == line


@pytest.mark.parametrize("name", INVENTED)
def test_lines_come_back(name: str) -> None:
    line = INVENTED[name]
    assert line_of_text(musicxml_text([line])).line == line


@settings(max_examples=60, deadline=None)
@given(rhythms())
def test_every_rhythm_comes_back(lengths: list[Fraction]) -> None:
    line = line_of_durations(lengths)
    back = line_of_text(musicxml_text([line])).line
    assert [(one.onset_beats, one.duration_beats) for one in back.notes] == [
        (one.onset_beats, one.duration_beats) for one in line.notes]


def test_music21_sees_the_same_techniques() -> None:
    from music21 import converter, harmony

    line = one_of_each()
    score = converter.parse(musicxml_text([line]), format="musicxml")
    heard = [one for one in score.parts[0].flatten().notes
             if not isinstance(one, harmony.ChordSymbol) and not one.duration.isGrace]
    for ours in line.notes:
        theirs = next(one for one in heard if Fraction(one.offset).limit_denominator(64) == ours.onset_beats)
        names = [type(each).__name__ for each in theirs.articulations]
        spanners = [type(each).__name__ for each in theirs.getSpannerSites()]
        for each in ours.marks:
            if each.kind in SEEN:
                assert SEEN[each.kind] in names, each
            if each.kind in JOINS:
                assert JOINS[each.kind] in spanners, each
            if each.kind in ("bend", "pre-bend", "release"):
                sizes = [abs(float(bend.bendAlter.semitones)) for bend in theirs.articulations
                         if type(bend).__name__ == "FretBend"]
                assert float(each.value) in sizes
        assert (theirs.notehead == "x") == (ours.marked("dead") is not None)
    graces = [one for one in score.parts[0].flatten().notes if one.duration.isGrace]
    assert len(graces) == sum(one.marked("grace") is not None for one in line.notes)


NO_DIVISIONS = ("<score-partwise><part><measure number='3'><attributes><divisions>0</divisions></attributes>"
                "</measure></part></score-partwise>")


@pytest.mark.parametrize(("text", "told"), [
    ("not xml", "no XML"), ("<opus/>", "holds no part"), (NO_DIVISIONS, "measure 3")])
def test_what_cannot_be_read_is_named(text: str, told: str) -> None:
    with pytest.raises(MusicFileError, match=told):
        line_of_text(text)


def test_joins_on_two_strings_at_once_stay_apart() -> None:
    notes = (note("C4", "0", "1", 3, 5), note("E4", "0", "1", 2, 5), note("D4", "1", "1", 3, 7, mark("hammer")),
             note("F4", "1", "1", 2, 6, mark("hammer")))
    line = Line(notes, Chart.parse("| C |"))
    text = musicxml_text([line])
    validate(text)
    assert line_of_text(text).line == line


@pytest.mark.parametrize("sign", ["segno", "coda"])
def test_a_sign_of_the_form_counts_without_a_sound(sign: str) -> None:
    """`<direction-type><coda/>` alone (MusicXML 4.0): a `<sound>` beside it says the same, where there is one."""
    note = "<note><rest/><duration>4</duration></note>"
    direction = f"<direction><direction-type><{sign}/></direction-type></direction>"
    text = ("<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>A</part-name></score-part>"
            "</part-list><part id='P1'><measure number='1'><attributes><divisions>1</divisions></attributes>"
            f"{direction}{note}</measure></part></score-partwise>")
    (measure,) = score_of_musicxml(text).parts[0].measures
    assert getattr(measure.jumps, sign)
