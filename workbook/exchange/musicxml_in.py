"""Reading a guitar part of a MusicXML file back into a line: notes, places, fingers, marks and the changes.

Reads the standard's partwise form, the first part, its first voice. What a line cannot hold (lyrics, several voices) is
passed over; tied notes become one note. Raises LineError with the measure for what is no MusicXML or no guitar part.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, field, replace
from fractions import Fraction

from theorylib.changes.bars import Bar
from theorylib.changes.charts import Chart
from theorylib.changes.meters import FEELS, Meter
from theorylib.errors import LineError, VampError
from theorylib.limits import exact
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName, Pitch
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line, Mark, Note

from .musicxml_marks import joins_of, marks_of

_ALTERS = {0: "", 1: "#", 2: "##", -1: "b", -2: "bb", 3: "###", -3: "bbb"}


@dataclass(slots=True)
class _State:
    """What the measures before have set."""

    divisions: int = 1
    meter: Meter = field(default_factory=Meter)
    tempo: Fraction = Fraction(100)
    fifths: int = 0
    feel: str = "straight 8"
    tuning: Tuning = STANDARD
    now: Fraction = Fraction(0)
    last_onset: Fraction = Fraction(0)
    grace: Pitch | None = None
    notes: list[Note] = field(default_factory=list)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)


def line_of_musicxml(text: str, *, title: str = "") -> Line:
    """The first part as one line over its own changes."""
    try:
        root = ElementTree.fromstring(text)
    except (ElementTree.ParseError, UnicodeEncodeError) as error:
        raise LineError(f"this is no MusicXML: {error}", value=text[:40],
                        expected="a score-partwise document") from error
    part = root.find("part")
    if root.tag != "score-partwise" or part is None:
        raise LineError(f"a {root.tag} holds no part", value=root.tag, expected="a score-partwise document with a part")
    state = _State()
    measures = part.findall("measure")
    for measure in measures:
        try:
            _measure(measure, state)
        except (VampError, ValueError, KeyError, ArithmeticError) as error:
            raise LineError(f"a measure cannot be read: {error}", value=measure.get("number"),
                            where=f"measure {measure.get('number')}") from error
    chart = _chart(state, len(measures))
    return Line(tuple(state.notes), chart, state.tuning, title or root.findtext("work/work-title", ""),
                len(measures) * chart.bar_beats)


def _measure(measure: ElementTree.Element, state: _State) -> None:
    for element in measure:
        if element.tag == "attributes":
            _attributes(element, state)
        elif element.tag == "direction":
            sound = element.find("sound")
            if sound is not None and sound.get("tempo"):
                state.tempo = exact(sound.get("tempo", "100"), "tempo").limit_denominator(100)
            words = [one.text for one in element.findall("direction-type/words")]
            state.feel = next((word for word in words if word in FEELS), state.feel)
        elif element.tag == "harmony":
            offset = Fraction(int(element.findtext("offset", "0")), state.divisions)
            state.chords.append((state.now + offset, _chord(element)))
        elif element.tag == "note":
            _note(element, state)
        elif element.tag in ("backup", "forward"):
            length = Fraction(int(element.findtext("duration", "0")), state.divisions)
            state.now += length if element.tag == "forward" else -length


def _attributes(element: ElementTree.Element, state: _State) -> None:
    state.divisions = int(element.findtext("divisions", str(state.divisions)))
    state.fifths = int(element.findtext("key/fifths", str(state.fifths)))
    if element.find("time") is not None:
        state.meter = Meter(int(element.findtext("time/beats", "4")), int(element.findtext("time/beat-type", "4")))
    strings = [Pitch(_name(one, "tuning-step", "tuning-alter"), int(one.findtext("tuning-octave", "0")))
               for one in element.findall("staff-details/staff-tuning")]
    if strings:
        state.tuning = Tuning(tuple(reversed(strings)), int(element.findtext("staff-details/capo", "0")))


def _note(element: ElementTree.Element, state: _State) -> None:
    found = element.find("pitch")
    pitch = None if found is None else Pitch(_name(found, "step", "alter"), int(found.findtext("octave", "4")))
    if element.find("grace") is not None:
        state.grace = pitch
        return
    length = Fraction(int(element.findtext("duration", "0")), state.divisions)
    onset = state.last_onset if element.find("chord") is not None else state.now
    if element.find("chord") is None:
        state.last_onset, state.now = state.now, state.now + length
    if pitch is None:
        return
    marks = [*marks_of(element), *(Mark(kind) for kind in joins_of(element))]
    if state.grace is not None:
        marks.append(Mark("grace", Fraction(state.grace.midi - pitch.midi)))
        state.grace = None
    technical = "notations/technical"
    string, fret = element.findtext(f"{technical}/string"), element.findtext(f"{technical}/fret")
    finger = element.findtext(f"{technical}/fingering")
    used = int(finger) if finger and finger.isdigit() else 0 if fret == "0" else None
    if any(tie.get("type") == "stop" for tie in element.findall("tie")):
        before = next((index for index in range(len(state.notes) - 1, -1, -1)
                       if state.notes[index].pitch == pitch and state.notes[index].end_beats == onset), None)
        if before is not None:
            held = state.notes[before]
            later = tuple(replace(mark, at_beats=mark.at_beats + onset - held.onset_beats) for mark in marks)
            state.notes[before] = replace(held, duration_beats=held.duration_beats + length, marks=held.marks + later)
            return
    state.notes.append(Note(pitch, onset, length, int(string) if string else None, int(fret) if fret else None, used,
                            marks=tuple(marks)))


def _chord(element: ElementTree.Element) -> Chord:
    kind = element.find("kind")
    words = "" if kind is None else kind.get("text", "")
    if kind is not None and kind.text == "none":
        return Chord.parse("N.C.")
    root = element.find("root")
    bass = element.find("bass")
    over = "" if bass is None else f"/{_name(bass, 'bass-step', 'bass-alter')}"
    return Chord.parse(f"{'C' if root is None else _name(root, 'root-step', 'root-alter')}{words}{over}")


def _name(element: ElementTree.Element, step: str, alter: str) -> NoteName:
    return NoteName(element.findtext(step, "C") + _ALTERS[int(float(element.findtext(alter, "0")))])


def _chart(state: _State, count: int) -> Chart:
    """Bars of changes: each bar's chords evenly or on its pulses, a bar without one sounds on."""
    bar, pulses = state.meter.bar_beats, state.meter.pulses
    bars: list[Bar] = []
    current: Chord = Chord.parse("N.C.")
    for number in range(count):
        here = {onset - number * bar: chord for onset, chord in state.chords
                if number * bar <= onset < (number + 1) * bar}
        here.setdefault(Fraction(0), current)
        onsets = sorted(here)
        current = here[onsets[-1]]
        even = all(onset == index * bar / len(onsets) for index, onset in enumerate(onsets))
        if even:
            bars.append(Bar(tuple(here[onset] for onset in onsets)))
            continue
        cells: list[Chord | str] = []
        for pulse in range(pulses):
            inside = [onset for onset in onsets if onset == pulse * state.meter.pulse_beats]
            cells.append(here[inside[0]] if inside else "/")
        bars.append(Bar(tuple(cells)))
    key = Scale(NoteName.at(state.fifths), "major")
    return Chart(tuple(bars), key=key, meter=state.meter, tempo=state.tempo, feel=state.feel)
