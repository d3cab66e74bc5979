"""Lines as MusicXML 4.0: a guitar's staff and TAB with strings, frets, fingers, chord symbols and sections.

Written with the standard library's ElementTree: importing music21 alone would cost more than a whole cold build. The
tests validate it against the W3C schema and read it back with music21 and Verovio. The staff has the 8vb treble clef
and sounding octaves and holds everything; the TAB staff under it, where any note has a place, holds strings and frets
once more, with the tuning in staff-details.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import lcm

from theorylib.changes.charts import Event
from theorylib.changes.meters import grid_beats, swing_ratio
from theorylib.names.chords import Chord
from theorylib.names.spelling import Pitch
from theorylib.playing.lines import Line, Note
from theorylib.playing.notation import Written, accidentals, signature_fifths, written_bars

from .musicxml_bars import MODES, own_text
from .musicxml_chords import harmony_element
from .musicxml_frames import frame_of
from .musicxml_marks import FORTE, HEADS, JOINED, add_marks
from .musicxml_staves import (
    STAFF,
    TAB,
    TAB_VOICE,
    add_pitch,
    add_tuning,
    add_tuplet,
    add_value,
    beams_of,
    say_staff,
    tab_notes,
)
from .musicxml_staves import add as _add

_DOCTYPE = ('<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
            '"http://www.musicxml.org/dtds/partwise.dtd">')
_SIGNS = {"#": "sharp", "b": "flat", "n": "natural", "##": "double-sharp", "bb": "flat-flat", "###": "triple-sharp",
          "bbb": "triple-flat"}


def musicxml_text(lines: Sequence[Line], *, title: str = "") -> str:
    """The lines one after the other, a bar of rest between, as a MusicXML document."""
    root = ElementTree.Element("score-partwise", version="4.0")
    if title:
        _add(_add(root, "work"), "work-title", title)
    encoding = _add(_add(root, "identification"), "encoding")
    _add(encoding, "software", "Vampbook")
    if title:
        credit = _add(root, "credit", page="1")
        _add(credit, "credit-type", "title")
        _add(credit, "credit-words", title, justify="center", valign="top")
    part = _add(_add(root, "part-list"), "score-part", id="P1")
    _add(part, "part-name", "Guitar")
    instrument = _add(part, "score-instrument", id="P1-I1")
    _add(instrument, "instrument-name", "Electric guitar")
    midi = _add(part, "midi-instrument", id="P1-I1")
    _add(midi, "midi-channel", "1")
    _add(midi, "midi-program", "28")
    music = _add(root, "part", id="P1")
    number = 0
    tab = any(note.place is not None for line in lines for note in line.notes)
    for index, line in enumerate(lines):
        if index:
            number += 1
            _rest_bar(_add(music, "measure", number=str(number)), line, tab)
        number = _Writer(line, tab).measures(music, number)
    ElementTree.indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{_DOCTYPE}\n{ElementTree.tostring(root, encoding="unicode")}\n'


class _Writer:
    """Writes the measures of one line; short-lived."""

    def __init__(self, line: Line, tab: bool) -> None:
        self.line, self.tab = line, tab
        self.bars = written_bars(line)
        self.shown: set[Chord] = set()  # chords whose diagram stands already
        self.joins = dict(_joins(line))
        self.stops: dict[int, dict[str, int]] = {}
        for ends in self.joins.values():
            for kind, (end, number) in ends.items():
                self.stops.setdefault(end, {})[kind] = number
        chords = line.chords()
        self.events: dict[int, list[Event]] = {}  # by bar
        for event in chords:
            self.events.setdefault(event.bar, []).append(event)
        self.names = {section.onset_beats: section.name for section in line.chart.sections if section.name}
        self.divisions = lcm(*(item.duration_beats.denominator for bar in self.bars for item in bar),
                             *(event.onset_beats.denominator for event in chords))

    def measures(self, music: ElementTree.Element, number: int) -> int:
        for index, bar in enumerate(self.bars):
            number += 1
            measure = _add(music, "measure", number=str(number))
            start = index * self.line.chart.bar_beats
            if index == 0:
                self._attributes(measure)
                self._tempo(measure)
                self._title(measure)
                self._own(measure)
            self._sections(measure, start)
            self._bar(measure, bar, self.events.get(index, []))
            if self.tab:
                say_staff(measure)
                length = int(self.line.chart.bar_beats * self.divisions)
                _add(_add(measure, "backup"), "duration", str(length))
                measure.extend(tab_notes(self.line, bar, self.divisions))
            if index == len(self.bars) - 1:
                _add(_add(measure, "barline", location="right"), "bar-style", "light-heavy")
        return number

    def _attributes(self, measure: ElementTree.Element) -> None:
        line, chart = self.line, self.line.chart
        found = _add(measure, "attributes")
        _add(found, "divisions", str(self.divisions))
        key = _add(found, "key")
        _add(key, "fifths", str(signature_fifths(line)))
        if chart.key is not None and chart.key.kind in MODES:
            _add(key, "mode", chart.key.kind)
        time = _add(found, "time")
        _add(time, "beats", str(chart.meter.beats))
        _add(time, "beat-type", str(chart.meter.unit))
        if self.tab:
            _add(found, "staves", TAB)
        clef = _add(found, "clef", number=STAFF)
        for name, value in (("sign", "G"), ("line", "2"), ("clef-octave-change", "-1")):
            _add(clef, name, value)
        if self.tab:
            below = _add(found, "clef", number=TAB)
            _add(below, "sign", "TAB")
            _add(below, "line", "5")
            add_tuning(found, line.tuning)

    def _tempo(self, measure: ElementTree.Element) -> None:
        chart = self.line.chart
        direction = _add(measure, "direction", placement="above")
        metronome = _add(_add(direction, "direction-type"), "metronome")
        _add(metronome, "beat-unit", "quarter")
        _add(metronome, "per-minute", f"{float(chart.tempo):g}")
        _add(_add(direction, "direction-type"), "words", chart.feel)
        sound = _add(direction, "sound", tempo=f"{float(chart.tempo):g}")
        swing = _add(sound, "swing")
        ratio = swing_ratio(chart.feel, chart.tempo)
        if ratio == 1:
            _add(swing, "straight")
        else:
            _add(swing, "first", str(ratio.numerator))
            _add(swing, "second", str(ratio.denominator))
            _add(swing, "swing-type", "eighth" if grid_beats(chart.feel) == Fraction(1, 2) else "16th")

    def _title(self, measure: ElementTree.Element) -> None:
        """Each line under its title, since a document may hold several."""
        if self.line.title:
            direction = _add(measure, "direction", placement="above")
            _add(_add(direction, "direction-type"), "words", self.line.title, **{"font-weight": "bold"})

    def _own(self, measure: ElementTree.Element) -> None:
        """What the standard has no element for, in words that print nothing and are read back while they hold."""
        line = self.line
        neck = f"{line.tuning.frets}, {line.tuning.scale_length_mm}"
        kept = {"title": line.title, "bars": str(len(self.bars)), "position": str(line.position or ""),
                "promise": line.promise, "neck": neck, "chart": str(line.chart),
                "tuning": "" if self.tab else str(line.tuning)}
        direction = _add(measure, "direction")
        for name, value in kept.items():
            if value:
                _add(_add(direction, "direction-type"), "other-direction", own_text(name, value),
                     **{"print-object": "no"})

    def _sections(self, measure: ElementTree.Element, start: Fraction) -> None:
        length = self.line.chart.length_beats
        name = self.names.get(start % length) if length else None
        if name:
            direction = _add(measure, "direction", placement="above")
            _add(_add(direction, "direction-type"), "rehearsal", name)

    def _bar(self, measure: ElementTree.Element, bar: Sequence[Written], events: Sequence[Event]) -> None:
        signs = accidentals(self.line, bar)
        beams = beams_of(bar)
        for number, item in enumerate(bar):
            end = item.onset_beats + item.duration_beats
            for event in [event for event in events if item.onset_beats <= event.onset_beats < end]:
                offset = (event.onset_beats - item.onset_beats) * self.divisions
                measure.append(harmony_element(event.chord, str(int(offset)) if offset else "", self._frame(event)))
            for note in self._notes(number, item, signs, beams.get(number, [])):
                measure.append(note)

    def _frame(self, event: Event) -> ElementTree.Element | None:
        """The diagram of a chord where it comes for the first time."""
        if event.chord in self.shown:
            return None
        self.shown.add(event.chord)
        return None if event.chord.root is None else frame_of(event.chord, self.line.tuning)

    def _notes(self, number: int, item: Written, signs: dict[tuple[int, int], str | None],
               beams: Sequence[str]) -> Iterator[ElementTree.Element]:
        """A rest, or the notes that are struck together, their grace notes before them."""
        if item.is_rest:
            yield self._rest(item)
        struck = () if item.tied_from else item.notes  # what is tied is not struck, and has no grace note
        for source in struck:
            grace = self.line.notes[source].marked("grace")
            if grace is not None:
                yield self._grace(self.line.notes[source], int(grace.value))
        for index, source in enumerate(item.notes):
            sign = signs[number, source]
            is_first = index == 0
            yield self._note(item, source, "" if sign is None else _SIGNS[sign], beams if is_first else None)

    def _rest(self, item: Written) -> ElementTree.Element:
        note = ElementTree.Element("note")
        _add(note, "rest")
        _add(note, "duration", self._duration(item))
        add_value(note, item, "1")
        self._staff(note)
        if item.tuplet_starts or item.tuplet_ends:
            add_tuplet(_add(note, "notations"), item)
        return note

    def _note(self, item: Written, source: int, sign: str, beams: Sequence[str] | None) -> ElementTree.Element:
        """One note; `beams` are those of the first of a chord, None for the others. The order is MusicXML's own."""
        played, is_first = self.line.notes[source], beams is not None
        note = ElementTree.Element("note")
        dynamic = played.marked("dynamic")
        if dynamic is not None:
            note.set("dynamics", f"{float(dynamic.value) * 100 / FORTE:.4g}")
        if not is_first:
            _add(note, "chord")
        add_pitch(note, played)
        _add(note, "duration", self._duration(item))
        for is_tied, kind in ((item.tied_from, "stop"), (item.tied_to, "start")):
            if is_tied:
                _add(note, "tie", type=kind)
        add_value(note, item, "1", sign)
        for kind, row in HEADS.items():
            if played.marked(kind):
                _add(note, "notehead", row.name, **({"parentheses": "yes"} if row.brackets else {}))
        self._staff(note)
        for level, beam in enumerate(beams or (), 1):
            _add(note, "beam", beam, number=str(level))
        self._notations(note, item, source, is_first)
        if played.marked("palm mute"):
            _add(_add(note, "play"), "mute", "palm")
        return note

    def _duration(self, item: Written) -> str:
        return str(int(item.duration_beats * self.divisions))

    def _grace(self, note: Note, semitones: int) -> ElementTree.Element:
        """The grace note before a note, slurred to it: no duration, an eighth with a stroke."""
        made = ElementTree.Element("note")
        _add(made, "grace", slash="yes")
        add_pitch(made, replace(note, pitch=Pitch.of_midi(note.pitch.midi + semitones)))
        _add(made, "voice", "1")
        _add(made, "type", "eighth")
        self._staff(made)
        if note.string is not None and note.fret is not None and note.fret + semitones >= 0:
            technical = _add(_add(made, "notations"), "technical")
            _add(technical, "string", str(note.string))
            _add(technical, "fret", str(note.fret + semitones))
        return made

    def _staff(self, note: ElementTree.Element) -> None:
        if self.tab:
            _add(note, "staff", STAFF)

    def _notations(self, note: ElementTree.Element, item: Written, source: int, first: bool) -> None:
        notations = ElementTree.Element("notations")
        for tied, kind in ((item.tied_from, "stop"), (item.tied_to, "start")):
            if tied:
                _add(notations, "tied", type=kind)
        if first:
            add_tuplet(notations, item)
        line_note = self.line.notes[source]
        technical = ElementTree.Element("technical")
        begins = item.onset_beats == line_note.onset_beats
        if line_note.finger is not None and begins:
            _add(technical, "fingering", str(line_note.finger))
        if line_note.string is not None:  # alone it is a wish: on this string, wherever the hand is
            _add(technical, "string", str(line_note.string))
            if line_note.fret is not None:
                _add(technical, "fret", str(line_note.fret))
        if len(technical):
            notations.append(technical)
        if begins:
            add_marks(line_note, notations, {kind: number for kind, (_, number) in self.joins.get(source, {}).items()},
                      self.stops.get(source, {}))
            _own_words(notations, line_note)
        if len(notations):
            note.append(notations)


def _joins(line: Line) -> Iterator[tuple[int, dict[str, tuple[int, int]]]]:
    """(note index, kind of join: (the note it leads to, a number from 1 to 6)); hammers, pulls and slides."""
    found: dict[int, dict[str, tuple[int, int]]] = {}
    for index, note in enumerate(line.notes):
        before = line.joined_from(index)
        for mark in note.marks:
            if mark.kind in JOINED and before is not None:
                # Joins on different strings may overlap; those on one string follow each other.
                found.setdefault(before, {})[mark.kind] = (index, (note.string or 1) % 6 + 1)
    yield from found.items()


def _own_words(notations: ElementTree.Element, note: Note) -> None:
    """What a note of ours has beyond the standard: its degree, the order of its marks, a tie that begins a new note."""
    kept = {"degree": note.degree, "tie": "kept" if note.marked("tie") else "",
            "marks": ", ".join(mark.kind for mark in note.marks) if len(note.marks) > 1 else ""}
    for name, value in kept.items():
        if value:
            _add(notations, "other-notation", own_text(name, value), type="single", **{"print-object": "no"})


def _rest_bar(measure: ElementTree.Element, line: Line, tab: bool) -> None:
    """A whole bar of rest in the meter of the line that follows."""
    attributes = _add(measure, "attributes")
    _add(attributes, "divisions", str(line.chart.bar_beats.denominator))
    time = _add(attributes, "time")
    _add(time, "beats", str(line.chart.meter.beats))
    _add(time, "beat-type", str(line.chart.meter.unit))
    length = str(line.chart.bar_beats.numerator)
    for staff, voice in ((STAFF, "1"), (TAB, TAB_VOICE)) if tab else (("", "1"),):
        if staff == TAB:
            _add(_add(measure, "backup"), "duration", length)
        note = _add(measure, "note")
        _add(note, "rest", measure="yes")
        _add(note, "duration", length)
        _add(note, "voice", voice)
        if staff:
            _add(note, "staff", staff)
