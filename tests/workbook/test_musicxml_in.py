"""MusicXML of other programs read into lines, as the W3C's standard describes each element.

Outside readers of the same files: music21 (BSD-3) and Verovio (its MEI), bar by bar; music21's own way through repeats.
"""

from __future__ import annotations

import io
import os
import xml.etree.ElementTree as ElementTree
import zipfile
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from support.documents import HEAD, document, harmony, note, place, tied, tune
from support.outside_notes import differences, music21_bars, our_bars, verovio_bars
from support.schema import schema_path

from theorylib import Chart, Chord
from theorylib.errors import MusicFileError
from workbook.exchange.music_files import line_of_text, read_music
from workbook.exchange.musicxml_in import score_of_musicxml
from workbook.exchange.passages import WHOLE, Passage
from workbook.exchange.playing_order import playing_order
from workbook.exchange.score_lines import Imported, line_of_score
from workbook.exchange.scores import Jumps

XSD = "{http://www.w3.org/2001/XMLSchema}"
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


def notes_of(text: str, passage: Passage = WHOLE) -> list[str]:
    """“A3 0 1/2” for each note: pitch, onset, length."""
    read = line_of_score(score_of_musicxml(text), passage)
    return [f"{one.pitch} {one.onset_beats} {one.duration_beats}" for one in read.line.notes]


def said_of(text: str, passage: Passage = WHOLE) -> list[str]:
    return [str(one) for one in line_of_score(score_of_musicxml(text), passage).said]


# --- other programs' files -----------------------------------------------------------------------------------------

def test_ties_and_tuplets_are_exact() -> None:
    text = tune(note("A3", 4) + note("B3", 4) + note("C4", 4) + tied("D4", 36, "start"), tied("D4", 48, "stop"))
    assert notes_of(text) == ["A3 0 1/3", "B3 1/3 1/3", "C4 2/3 1/3", "D4 1 7"]


def test_a_tie_whose_end_is_not_written_holds_and_rests_too_many_do_not() -> None:
    text = tune(tied("A3", 48, "start"), note("A3", 24) + note("", 24) + note("", 48), note("B3", 48))
    assert notes_of(text) == ["A3 0 6", "B3 8 4"]
    assert "bar 2: more rests than the bar holds are left out" in said_of(text)


def test_divisions_too_coarse_for_a_tuplet_give_way_to_what_is_written() -> None:
    seventh = ("<type>16th</type><time-modification><actual-notes>7</actual-notes><normal-notes>4</normal-notes>"
               "</time-modification>")
    group = "".join(note("A3", length, seventh) for length in (2, 2, 1, 2, 2, 2, 1))
    assert notes_of(tune(group + note("B3", 36)))[1::6] == ["A3 1/7 1/7", "B3 1 3"]


def test_a_length_counts_where_type_and_dots_say_otherwise() -> None:
    dotted = note("A3", 12, "<type>eighth</type><dot/>")
    assert notes_of(tune(dotted + note("B3", 36))) == ["A3 0 1", "B3 1 3"]


def test_the_guitar_sounds_an_octave_lower_by_its_transposition_and_not_by_its_clef() -> None:
    """MusicXML 4.0: `transpose` is added to what is written; under an octave clef what sounds is written."""
    lower = HEAD + "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    clef = HEAD + "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    bar = note("A4", 48)
    assert notes_of(tune(bar, head=lower)) == ["A3 0 4"]
    assert notes_of(tune(bar, head=clef)) == ["A4 0 4"]
    flat = HEAD + "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    assert notes_of(tune(note("C4", 48), head=flat)) == ["Bb3 0 4"]


def test_a_guitar_s_part_that_names_no_octave_is_said() -> None:
    said = said_of(document(("Guitar", [note("A4", 48)])))
    assert any('passage="octaves -1" moves it' in one for one in said)
    assert notes_of(document(("Guitar", [note("A4", 48)])), Passage(octaves=-1, bars=1)) == ["A3 0 4"]
    assert not any("octaves" in one for one in said_of(document(("Flute", [note("A4", 48)]))))


def test_strings_and_frets_tell_the_octave_where_nothing_else_does() -> None:
    text = tune(note("A4", 24, place(3, 2)) + note("C5", 24, place(2, 1)))
    assert notes_of(text) == ["A3 0 2", "C4 2 2"]
    assert "the pitches are moved an octave down, to where strings and frets sound" in said_of(text)


def test_a_place_that_does_not_sound_its_note_is_found_anew() -> None:
    text = tune("7|" + note("A3", 24, place(3, 2, 1)) + note("C4", 24, place(2, 5)))
    assert "bar 7: a string and fret that do not sound their note are left out, to be found anew" in said_of(text)
    line = read(text).line
    assert (line.notes[0].string, line.notes[0].fret) == (3, 2)
    assert not line.problems()


def test_a_string_alone_is_a_wish_where_it_has_its_note() -> None:
    """A circled number without a fret, as players of gut strings write it; an octave above the open string is at 12."""
    low, high, middle = (f"<notations><technical><string>{string}</string></technical></notations>"
                         for string in (6, 1, 5))
    text = tune(note("E3", 24, low) + note("A3", 24, high), note("A3", 48, middle))
    assert [one.string for one in line_of_text(text).line.notes] == [6, None, 5]
    wished = read(text).line.notes[::2]
    assert [(one.string, one.fret) for one in wished] == [(6, 12), (5, 12)]
    lower = read(text, key="B major").line.notes[::2]
    assert [(one.string, one.fret) for one in lower] == [(6, 11), (5, 11)]
    assert "bar 1: a string that does not have its note is left out" in said_of(text)


def read(text: str, **wanted: str) -> Imported:
    """The text as a file, fingered."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "tune.xml"
        file.write_text(text, encoding="utf-8")
        return read_music(file, **wanted)  # type: ignore[arg-type]


def test_a_pickup_stands_at_the_end_of_its_bar() -> None:
    text = tune("0|" + note("E4", 12), note("A4", 48))
    assert notes_of(text) == ["E4 3 1", "A4 4 4"]
    assert "bar 0: a pickup of 1 beat, written at the end of a bar" in said_of(text)


def test_the_lesson_s_changes_begin_after_the_pickup() -> None:
    text = tune("0|" + note("E4", 12), note("A4", 48), note("D4", 48), note("A4", 48))
    read_line = line_of_score(score_of_musicxml(text), over=Chart.parse("| Am7 | D7 |")).line
    assert [str(event.chord) for event in read_line.chords()] == ["N.C.", "Am7", "D7", "Am7"]
    assert [one.degree for one in read_line.notes] == ["", "1", "1", "1"]


def test_a_bar_that_the_print_splits_is_one() -> None:
    text = tune(note("A3", 36), note("B3", 12), note("C4", 48))
    assert notes_of(text) == ["A3 0 3", "B3 3 1", "C4 4 4"]


def test_where_the_meter_changes_the_line_ends_and_says_how_to_read_on() -> None:
    waltz = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    text = tune(note("A3", 48), waltz + note("B3", 36), note("C4", 36))
    assert notes_of(text) == ["A3 0 4"]
    assert 'bar 2: the meter changes to 3/4: the line ends before it (read on with passage="bars 2-3")' in said_of(text)
    assert notes_of(text, Passage(bars="2-3")) == ["B3 0 3", "C4 3 3"]


def test_what_a_line_cannot_hold_is_said_bar_by_bar() -> None:
    lyric, slur = "<lyric><text>la</text></lyric>", '<notations><slur type="start" number="1"/></notations>'
    trill = "<notations><ornaments><trill-mark/></ornaments></notations>"
    second = f"<backup><duration>48</duration></backup>{note('E2', 48, voice='2')}"
    text = tune(note("A3", 48, lyric) + second, note("B3", 48, slur), note("C4", 48, trill), note("C4", 48, lyric))
    assert said_of(text)[:5] == [
        "staff 1, voice 1 is read", "bars 1, 4: lyrics: left out", "bar 2: slurs: left out",
        "bar 3: a trill: left out", "bar 1: the notes of staff 1, voice 2 are left out"]
    assert notes_of(text, Passage(voice="2")) == ["E2 0 4"]


def test_signs_that_no_mark_stands_for_are_said_by_their_names() -> None:
    """Every element that the standard allows in technical, articulations and ornaments (W3C, musicxml_4_0.xsd)."""
    root = ElementTree.parse(schema_path()).getroot()
    marks = {"up-bow", "down-bow", "harmonic", "hammer-on", "pull-off", "bend", "tap", "accent", "staccato",
             "wavy-line", "string", "fret", "fingering", "other-technical"}
    worded = {"trill-mark", "turn", "inverted-turn", "mordent", "inverted-mordent", "tremolo", "tenuto",
              "strong-accent", "staccatissimo", "breath-mark"}
    count = 0
    for parent in ("technical", "articulations", "ornaments"):
        (group,) = (one for one in root.findall(f"{XSD}complexType") if one.get("name") == parent)
        for sign in {str(one.get("name")) for one in group.iter(f"{XSD}element")} - marks:
            said = said_of(tune(note("A3", 48, f"<notations><{parent}><{sign}/></{parent}></notations>")))
            assert sum("left out" in one for one in said) == 1, (sign, said)
            assert (f"bar 1: the sign “{sign}”: left out" in said) is (sign not in worded)
            count += 1
    assert count > 40


def test_a_finger_without_a_place_is_said() -> None:
    alone = "<notations><technical><fingering>2</fingering></technical></notations>"
    text = tune(note("A3", 24, alone) + note("B3", 24, place(2, 0, 0)))
    read = line_of_score(score_of_musicxml(text))
    assert [one.finger for one in read.line.notes] == [None, 0]
    assert "bar 1: a finger without a string and a fret is left out, to be found anew" in map(str, read.said)
    two = place(3, 2, 2).replace("<string>", "<fingering>3</fingering><string>")
    read = line_of_score(score_of_musicxml(tune(note("A3", 48, two))))
    assert read.line.notes[0].finger == 2
    assert "bar 1: all fingers on a note but the first: left out" in map(str, read.said)


def test_stacked_notes_stay_together_and_a_partial_tie_is_struck_again() -> None:
    chord = note("C4", 24) + note("E4", 24, '<tie type="start"/>', chord=True)
    text = tune(chord + note("D4", 24) + note("E4", 24, '<tie type="stop"/>', chord=True))
    assert notes_of(text) == ["C4 0 2", "E4 0 2", "D4 2 2", "E4 2 2"]
    assert any("struck again" in one for one in said_of(text))
    assert notes_of(text, Passage(top=True)) == ["E4 0 4"]


def test_notes_that_are_not_printed_are_left_out() -> None:
    hidden = note("B3", 24).replace("<note>", '<note print-object="no">')
    text = tune(note("A3", 24) + hidden)
    assert notes_of(text) == ["A3 0 2"]
    assert "bar 1: notes that are not printed are left out" in said_of(text)


def test_a_note_that_overlaps_the_next_of_its_voice_is_cut() -> None:
    text = tune(note("A3", 48) + "<backup><duration>24</duration></backup>" + note("C4", 24))
    assert notes_of(text) == ["A3 0 2", "C4 2 2"]
    assert "bar 1: a note is cut short where the next of its voice begins" in said_of(text)


def test_a_grace_note_leads_into_its_note() -> None:
    grace = "<note><grace/><pitch><step>B</step><octave>3</octave></pitch><voice>1</voice></note>"
    line = line_of_text(tune(grace + note("C4", 48))).line
    assert [(mark.kind, mark.value) for mark in line.notes[0].marks] == [("grace", Fraction(-1))]


def test_the_part_with_places_then_the_guitar_then_single_notes() -> None:
    bar, placed = [note("A3", 48)], [note("A3", 48, place(3, 2))]
    chords = [note("A3", 48) + note("C4", 48, chord=True)]
    said = said_of(document(("Flute", bar), ("Gitarre", bar), ("Lead", placed)))
    assert "part 3 Lead of 3 is read: it has strings and frets" in said
    assert "part 2 Gitarre of 2 is read: its name says guitar" in said_of(document(("Flute", bar), ("Gitarre", bar)))
    assert "part 2 Flute of 2 is read: it is the first of single notes" in said_of(
        document(("Piano", chords), ("Flute", bar)))
    assert notes_of(document(("Piano", chords), ("Flute", bar)), Passage(part="piano")) == ["A3 0 4", "C4 0 4"]
    with pytest.raises(MusicFileError, match=r"no part “Flut”.*did you mean Flute"):
        line_of_score(score_of_musicxml(document(("Flute", bar))), Passage(part="Flut"))


def test_a_tab_staff_tells_a_guitar_s_part() -> None:
    clef = "<attributes><clef><sign>TAB</sign></clef></attributes>"
    said = said_of(document(("One", [note("A3", 48)]), ("Two", [clef + note("A3", 48)])))
    assert "part 2 Two of 2 is read: it has a TAB staff" in said


@pytest.mark.parametrize(("fifths", "mode", "key"), [
    (0, "minor", "A minor"), (-3, "minor", "C minor"), (2, "major", "D major"), (1, "dorian", "A dorian"),
    (-1, "mixolydian", "C mixolydian"), (0, "", None), (3, "", "A major")])
def test_keys(fifths: int, mode: str, key: str | None) -> None:
    """Signatures and modes from any textbook: A dorian has the one sharp of G major."""
    head = HEAD.replace("<fifths>0", f"<fifths>{fifths}").replace("<mode>major</mode>", f"<mode>{mode}</mode>")
    chart = line_of_text(tune(note("A3", 48), head=head)).line.chart
    assert (None if chart.key is None else str(chart.key)) == key


def test_tempos_count_quarter_notes_and_changes_are_said() -> None:
    def mark(unit: str, number: str) -> str:
        return (f"<direction><direction-type><metronome><beat-unit>{unit}</beat-unit><per-minute>{number}</per-minute>"
                "</metronome></direction-type></direction>")
    text = tune(mark("half", "60") + note("A3", 48), mark("quarter", "90") + note("A3", 48))
    assert line_of_text(text).line.chart.tempo == 120
    assert "bar 2: the tempo changes; the line stays at 120" in said_of(text)
    dotted = mark("quarter</beat-unit><beat-unit-dot/><beat-unit>", "60").replace("<beat-unit></beat-unit>", "")
    assert line_of_text(tune(dotted + note("A3", 48))).line.chart.tempo == 90


def test_chord_symbols_stand_on_their_beats() -> None:
    text = tune(harmony("C", "major") + note("E4", 36) + harmony("G", "dominant") + note("F4", 12))
    assert [(str(event.chord), event.onset_beats) for event in line_of_text(text).line.chart.events] == [
        ("C", 0), ("G7", 3)]
    between = tune(harmony("C", "major") + note("E4", 18) + harmony("G", "dominant") + note("F4", 30))
    assert [(str(event.chord), event.onset_beats) for event in line_of_text(between).line.chart.events] == [
        ("C", 0), ("G7", 1)]
    assert "bar 1: G7 between two beats is written on the beat before it" in said_of(between)


def test_a_tab_staff_beside_the_notes_is_the_same_music_once() -> None:
    head = HEAD + '<staves>2</staves><clef number="1"><sign>G</sign></clef><clef number="2"><sign>TAB</sign></clef>'
    above = note("A3", 48, "<staff>1</staff>")
    below = note("A3", 48, "<staff>2</staff>" + place(3, 2, 1), voice="5")
    text = tune(above + "<backup><duration>48</duration></backup>" + below, head=head)
    line = line_of_text(text).line
    assert [(one.string, one.fret, one.finger) for one in line.notes] == [(3, 2, 1)]
    assert not [one for one in said_of(text) if "left out" in one]


# The standard's kinds with their degrees (MusicXML 4.0, `kind-value`), and the symbol that guitarists read (common
# practice, no source).
@pytest.mark.parametrize(("kind", "more", "symbol"), [
    ("minor-seventh", "", "Cm7"), ("half-diminished", "", "Cm7b5"), ("major-minor", "", "CmMaj7"),
    ("dominant-13th", "", "C13"), ("suspended-fourth", "", "Csus4"), ("none", "", "N.C."),
    ("dominant", "9 -1 add", "C7b9"), ("dominant", "9 1 add,5 1 alter", "C7#5#9"), ("major", "9 0 add", "Cadd9"),
    ("minor-seventh", "5 -1 add", "Cm7b5"), ("dominant-ninth", "11 1 add", "C9#11"), ("major", "2 0 add", "Cadd9")])
def test_chord_symbols_of_other_programs(kind: str, more: str, symbol: str) -> None:
    degrees = ""
    for one in filter(None, more.split(",")):
        value, alter, way = one.split()
        degrees += (f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
                    f"<degree-type>{way}</degree-type></degree>")
    line = line_of_text(tune(harmony("C", kind, degrees) + note("E4", 48))).line
    assert line.chart.events[0].chord == Chord.parse(symbol)


def test_a_chord_symbol_that_has_no_name_here_is_said() -> None:
    text = tune(harmony("C", "major") + note("E4", 48), harmony("C", "Tristan") + note("E4", 48))
    assert any(one.startswith("bar 2: no chord symbol of ours for C Tristan") for one in said_of(text))
    assert [str(event.chord) for event in line_of_text(text).line.chart.events] == ["C", "C"]


def test_changes_may_come_from_another_part_or_from_the_lesson() -> None:
    text = document(("Piano", [harmony("D", "minor-seventh") + note("C3", 48) + note("F3", 48, chord=True)]),
                    ("Guitar", [note("F4", 48)]))
    read_line = line_of_text(text).line
    assert (str(read_line.chart.events[0].chord), read_line.notes[0].degree) == ("Dm7", "b3")
    over = line_of_score(score_of_musicxml(text), over=Chart.parse("| Bb7 |")).line
    assert over.notes[0].degree == "5"
    with pytest.raises(MusicFileError, match="the chart is in 3/4, the file in 4/4"):
        line_of_score(score_of_musicxml(text), over=Chart.parse("| C |", meter="3/4"))


# --- repeats -------------------------------------------------------------------------------------------------------

OPENS, CLOSES = Jumps(opens=True), Jumps(closes=2)
FORMS = {
    "repeat": ([OPENS, Jumps(), CLOSES, Jumps()], "0 1 2 0 1 2 3"),
    "from the start": ([Jumps(), CLOSES, Jumps(), CLOSES], "0 1 0 1 2 3 2 3"),
    "endings": ([OPENS, Jumps(closes=2, endings=(1,), ending_stops=True),
                 Jumps(endings=(2,), ending_stops=True), Jumps()], "0 1 0 2 3"),
    "three times, two endings": ([OPENS, Jumps(closes=2, endings=(1, 2), ending_stops=True),
                                  Jumps(endings=(3,), ending_stops=True)], "0 1 0 1 0 2"),
    "da capo al fine": ([Jumps(), Jumps(fine=True), Jumps(back_to="start")], "0 1 2 0 1"),
    "da capo takes the last ending": ([OPENS, Jumps(closes=2, endings=(1,), ending_stops=True),
                                       Jumps(endings=(2,), ending_stops=True, back_to="start")], "0 1 0 2 0 2"),
    "dal segno al coda": ([Jumps(), Jumps(segno=True), Jumps(to_coda=True), Jumps(back_to="segno"),
                           Jumps(coda=True)],
                          "0 1 2 3 1 2 4"),
}


@pytest.mark.parametrize("name", FORMS)
def test_repeats_are_played_in_order(name: str) -> None:
    """Typed from common practice; those of barlines as music21 unrolls them."""
    jumps, order = FORMS[name]
    assert playing_order(jumps) == [int(word) for word in order.split()]
    if any(one.back_to for one in jumps) or name == "from the start":  # music21 goes back to the first bar each time
        return
    from music21 import converter

    measures = []
    for index, one in enumerate(jumps):
        ending = f'<ending number="{", ".join(map(str, one.endings))}" type="start"/>' if one.endings else ""
        left = ('<barline location="left">' + ending + ('<repeat direction="forward"/>' if one.opens else "")
                + "</barline>") if ending or one.opens else ""
        stop = f'<ending number="{", ".join(map(str, one.endings))}" type="stop"/>' if one.endings else ""
        right = ('<barline location="right">' + stop + ('<repeat direction="backward"/>' if one.closes else "")
                 + "</barline>") if stop or one.closes else ""
        measures.append(left + note("CDEFG"[index] + "4", 48) + right)
    theirs = converter.parse(tune(*measures), format="musicxml").parts[0].expandRepeats()
    names = [one.pitch.name for one in theirs.flatten().notes]
    assert names == ["CDEFG"[int(word)] for word in order.split()]
    assert [one.split()[0][0] for one in notes_of(tune(*measures))] == names


def test_a_repeat_without_a_beginning_is_said() -> None:
    close = '<barline location="right"><repeat direction="backward"/></barline>'
    bars = [note("A3", 48), note("B3", 48) + close, note("C4", 48) + close]
    assert "bar 3: the repeat has no beginning: it goes back to bar 3" in said_of(tune(*bars))


# --- outside readers -----------------------------------------------------------------------------------------------

def corpus_files(seed: int, count: int) -> list[Path]:
    from music21 import corpus

    paths = sorted(path for path in corpus.corpora.CoreCorpus().getPaths()
                   if path.suffix in (".mxl", ".xml") and path.stat().st_size < 40_000)
    Random(seed).shuffle(paths)
    return paths[:count]


def plain_text(path: Path) -> str:
    content = path.read_bytes()
    if content[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            name = next(one for one in packed.namelist() if one.endswith("xml") and "META" not in one)
            content = packed.read(name)
    return content.decode("utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8")


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("number", range(60 if EXPLORE else 5))
def test_every_bar_is_as_music21_and_verovio_read_it(number: int) -> None:
    path = corpus_files(11, 60)[number]
    ours = our_bars(score_of_musicxml(path.read_bytes()))
    assert sum(sum(bar.values()) for bar in ours) > 20
    assert differences(ours, verovio_bars(plain_text(path))) == []
    if EXPLORE or number < 2:
        assert differences(ours, music21_bars(str(path))) == []


def test_the_comparison_can_fail() -> None:
    path = corpus_files(11, 1)[0]
    text = plain_text(path)
    changed = text.replace("<octave>4</octave>", "<octave>5</octave>", 1)
    assert differences(our_bars(score_of_musicxml(changed)), verovio_bars(text))
