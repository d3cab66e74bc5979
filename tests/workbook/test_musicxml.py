"""MusicXML: valid by the W3C's 4.0 schema (from PyPI `musicxml` 1.6.3), and read back the same by music21 (BSD-3)."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import pytest
from hypothesis import given, settings
from support.drills import DRILLS, KEYS, TUNINGS, made
from support.music import INVENTED, arpeggio, line_of_durations, rhythms
from support.outside_notes import verovio_bars, verovio_places
from support.schema import validate
from support.techniques import one_of_each

from theorylib import Chart, Line, finger
from theorylib.names.qualities import QUALITIES
from theorylib.playing.notation import written_bars
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
    written = [(beam.get("number"), beam.text) for beam in ElementTree.fromstring(text).iter("beam")]
    assert [word for level, word in written if level == "1"] == four * 3
    assert [word for level, word in written if level == "2"] == four * 2
    notes = converter.parse(text, format="musicxml").parts[0].flatten().notes
    theirs = [one.beams.beamsList[0].type for one in notes if one.beams.beamsList]
    assert theirs == [{"end": "stop", "begin": "start"}.get(one, one) for one in four * 3]


def test_a_lone_short_note_has_a_hook() -> None:
    """MusicXML 4.0, beam-value: a hook where the neighbours have fewer beams."""
    lengths = [Fraction(3, 4), Fraction(1, 4), Fraction(1, 4), Fraction(3, 4), Fraction(2)]
    text = musicxml_text([line_of_durations(lengths)])
    written = [(beam.get("number"), beam.text) for beam in ElementTree.fromstring(text).iter("beam")]
    assert [word for level, word in written if level == "2"] == ["backward hook", "forward hook"]


@pytest.mark.parametrize("name", [*DRILLS, "one of each"])
def test_verovio_reads_the_same_notes_places_and_fingers(name: str) -> None:
    """Pitches and onsets bar by bar, strings, frets and fingers, from Verovio's MEI of both staves."""
    number = ([*DRILLS, "one of each"]).index(name)
    line = one_of_each() if name not in DRILLS else finger(
        made(name, KEYS[number % 12], TUNINGS[number % len(TUNINGS)], "swing"))
    text = musicxml_text([line])
    bar = line.chart.bar_beats
    pitches = [{(onset, midi) for onset, midi in one} for one in verovio_bars(text)]
    assert len(pitches) == line.bar_count
    for note in line.notes:
        index = int(note.onset_beats // bar)
        assert (note.onset_beats - index * bar, note.pitch.midi) in pitches[index]
    assert verovio_places(text) == [
        (index, note.string, note.fret, note.finger if item.onset_beats == note.onset_beats else None)
        for index, written in enumerate(written_bars(line)) for item in written
        for note in (line.notes[source] for source in item.notes)]


def test_verovio_keeps_articulations_chord_symbols_and_the_title() -> None:
    """What Verovio 6 drops: palm mutes and the size of a bend."""
    import verovio

    tool = verovio.toolkit()
    assert tool.loadData(musicxml_text([one_of_each()], title="One of each"))
    mei = ElementTree.fromstring(tool.getMEI())
    tags = [one.tag.rpartition("}")[2] for one in mei.iter()]
    signs = {word for one in mei.iter() for word in (one.get("artic") or "").split()}
    assert {"acc", "stacc", "upbow", "dnbow", "bend"} <= signs
    assert tags.count("harm") == 4
    assert tags.count("gliss") == 2
    assert "One of each" in "".join(mei.itertext())


def test_several_lines_stand_one_after_the_other() -> None:
    from music21 import converter

    lines = [INVENTED["eighths"], INVENTED["compound"]]
    text = musicxml_text(lines, title="Two")
    validate(text)
    assert musicxml_text(lines, title="Two") == text
    score = converter.parse(text, format="musicxml")
    assert len(score.parts[0].getElementsByClass("Measure")) == 4 + 1 + 2
    assert [one.content for one in score.recurse().getElementsByClass("RehearsalMark")] == ["A", "A"]
    words = [one.content for one in score.recurse().getElementsByClass("TextExpression")]
    assert [word for word in words if "arpeggio" in word] == [line.title for line in lines]
    assert [one.find("credit-words").text for one in ElementTree.fromstring(text).iter("credit")] == ["Two"]


def test_chords_have_diagrams_that_music21_reads() -> None:
    """The open grips of Am7 and D7 as every primer has them (common practice, no source), once for each chord; music21
    takes both for chords with a fretboard (of which it keeps no frets)."""
    text = musicxml_text([arpeggio("| Am7 | D7 | Am7 | D7 |")])
    validate(text)
    frames = ElementTree.fromstring(text.split("\n", 2)[2]).findall(".//frame")
    found = [{int(one.findtext("string", "")): int(one.findtext("fret", "")) for one in frame.findall("frame-note")}
             for frame in frames]
    assert found == [{5: 0, 4: 2, 3: 0, 2: 1, 1: 0}, {4: 0, 3: 2, 2: 1, 1: 2}]
    import music21

    read = music21.converter.parseData(text).recurse().getElementsByClass("ChordSymbol")
    assert sum(isinstance(one, music21.tablature.ChordWithFretBoard) for one in read) == 2
