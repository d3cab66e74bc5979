"""MusicXML: valid by the W3C's 4.0 schema (from PyPI `musicxml` 1.6.3), and read back the same by music21 (BSD-3)."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import pytest
from hypothesis import given, settings
from support.music import INVENTED, arpeggio, line_of_durations, rhythms
from support.schema import validate

from theorylib import Chart, Line
from theorylib.names.qualities import QUALITIES
from workbook.exchange.musicxml import musicxml_text


def test_the_schema_can_refuse() -> None:
    with pytest.raises(AssertionError, match="dots"):
        validate(musicxml_text([INVENTED["eighths"]]).replace("<dot", "<dots").replace("<voice>", "<dots/><voice>"))


def read_back(line: Line) -> list[tuple[int, Fraction, Fraction, int | None, int | None, int | None]]:
    """(MIDI, onset, length, string, fret, finger) of each struck note as music21 reads it; ties joined."""
    from music21 import articulations, converter, harmony

    score = converter.parse(musicxml_text([line]), format="musicxml")
    found = []
    for element in score.parts[0].stripTies().flatten().notes:
        if isinstance(element, harmony.ChordSymbol):
            continue
        marks = element.articulations
        strings = [mark.number for mark in marks if isinstance(mark, articulations.StringIndication)]
        frets = [mark.number for mark in marks if isinstance(mark, articulations.FretIndication)]
        fingers = [mark.fingerNumber for mark in marks if isinstance(mark, articulations.Fingering)]
        for index, pitch in enumerate(element.pitches):
            found.append((pitch.midi, Fraction(element.offset).limit_denominator(5040),
                          Fraction(element.quarterLength).limit_denominator(5040),
                          strings[index] if index < len(strings) else None,
                          frets[index] if index < len(frets) else None,
                          fingers[index] if index < len(fingers) else None))
    return found


def ours(line: Line) -> list[tuple]:
    return [(note.pitch.midi, note.onset_beats, note.duration_beats, note.string, note.fret, note.finger or None)
            for note in line.notes]


@pytest.mark.parametrize("name", INVENTED)
def test_valid_and_the_same_in_music21(name: str) -> None:
    line = INVENTED[name]
    validate(musicxml_text([line], title="A lesson"))
    found = read_back(line)
    expected = ours(line)
    if name == "double stops":  # music21 keeps one list of marks for a chord: compare what it keeps in order
        assert [row[:3] for row in found] == [row[:3] for row in expected]
        return
    assert found == expected


@settings(max_examples=25, deadline=None)
@given(rhythms())
def test_random_rhythms_are_valid_and_come_back(lengths: list[Fraction]) -> None:
    if not any(length > 0 for length in lengths):
        return
    line = line_of_durations(lengths)
    validate(musicxml_text([line]))
    assert [row[:3] for row in read_back(line)] == [row[:3] for row in ours(line)]


def test_every_quality_is_a_valid_chord_symbol() -> None:
    from music21 import converter, harmony

    symbols = [f"C{quality}" for quality in QUALITIES] + ["F#m7b5/A", "Bb7b9#11", "C(b5)", "N.C.", "Eb7no5"]
    chart = Chart.parse("\n".join(f"| {symbol} |" for symbol in symbols))
    line = Line(arpeggio("| C |").notes, chart, length_beats=chart.length_beats)
    text = musicxml_text([line])
    validate(text)
    score = converter.parse(text, format="musicxml")
    assert len(list(score.recurse().getElementsByClass(harmony.Harmony))) == len(symbols)


@pytest.mark.parametrize(("feel", "tempo", "said"), [
    ("straight 8", 100, [("straight", None)]), ("rock", 100, [("straight", None)]),
    ("swing", 120, [("first", "2"), ("second", "1"), ("swing-type", "eighth")]),
    ("shuffle", 240, [("first", "2"), ("second", "1"), ("swing-type", "eighth")]),
    ("swing 16", 90, [("first", "2"), ("second", "1"), ("swing-type", "16th")]),
    ("swing", 300, [("first", "5"), ("second", "4"), ("swing-type", "eighth")])])
def test_swing_says_that_the_first_note_is_the_longer(feel: str, tempo: int, said: list) -> None:
    """The W3C's schema: "a first element with a value of 2 and a second element with a value of 1 [...] the first note
    is twice as long as the second note"."""
    text = musicxml_text([arpeggio(f"feel: {feel}\ntempo: {tempo}\n| C |")])
    validate(text)
    swing = ElementTree.fromstring(text).find(".//sound/swing")
    assert [(part.tag, part.text) for part in swing] == said


def test_beams_begin_and_end_with_their_beats() -> None:
    """Sixteenths by the beat, plain eighths by two beats (common practice), as the file and music21 say it."""
    from music21 import converter

    line = line_of_durations([Fraction(1, 4)] * 8 + [Fraction(1, 2)] * 4)
    text = musicxml_text([line])
    four = ["begin", "continue", "continue", "end"]
    assert [beam.text for beam in ElementTree.fromstring(text).iter("beam")] == four * 3
    notes = converter.parse(text, format="musicxml").parts[0].flatten().notes
    theirs = [one.beams.beamsList[0].type for one in notes if one.beams.beamsList]
    assert theirs == [{"end": "stop", "begin": "start"}.get(one, one) for one in four * 3]


def test_several_lines_stand_one_after_the_other() -> None:
    from music21 import converter

    lines = [INVENTED["eighths"], INVENTED["compound"]]
    text = musicxml_text(lines, title="Two")
    validate(text)
    assert musicxml_text(lines, title="Two") == text
    score = converter.parse(text, format="musicxml")
    assert len(score.parts[0].getElementsByClass("Measure")) == 4 + 1 + 2
    assert [one.content for one in score.recurse().getElementsByClass("RehearsalMark")] == ["A", "A"]
