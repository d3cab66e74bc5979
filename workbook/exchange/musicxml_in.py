"""MusicXML read into a Score: every part, measure, voice and note, with what is passed over said bar by bar.

The standard is MusicXML 4.0 (W3C); files of 1.0 and later, partwise or timewise, plain or packed, are read. Pitches are
made to sound (`transpose`); a clef with an octave sign changes nothing, as files write what sounds under it. What a
line has no place for (lyrics, slurs, ornaments …) is named and left out. Raises MusicFileError with the measure for
what contradicts itself: lengths below nought, no divisions, no part.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NoReturn

from theorylib.changes.meters import COMMON_TIME, FEELS, Meter
from theorylib.errors import MusicFileError, VampError, shown
from theorylib.limits import MOST_BARS, TEMPO, exact
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, Pitch
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Mark

from .musicxml_bars import jumps_of, key_of, meter_of, own_words, tempo_of, tuning_of, written_beats
from .musicxml_chords import chord_of, name_of
from .musicxml_marks import joins_of, marks_of, unread_of
from .safe_xml import xml_tree
from .scores import Jumps, Ledger, Measure, Part, Score, ScoreNote

MOST_PARTS = 200
MOST_NOTES = 100_000      # of a part: hours of music
LONGEST_NOTE = 64         # beats: a dotted maxima has 48
# Of a note: element and what it is called; a line has no place for it.
_PASSED_OVER = {
    "lyric": "lyrics", "notations/fermata": "a fermata", "notations/dynamics": "dynamics",
    "notations/arpeggiate": "a spread chord", "notations/ornaments/tremolo": "a tremolo",
    "notations/ornaments/trill-mark": "a trill", "notations/ornaments/turn": "a turn",
    "notations/ornaments/inverted-turn": "a turn", "notations/ornaments/mordent": "a mordent",
    "notations/ornaments/inverted-mordent": "a mordent", "notations/glissando": "a glissando",
    "notations/articulations/tenuto": "a tenuto", "notations/articulations/strong-accent": "a strong accent",
    "notations/articulations/staccatissimo": "a staccatissimo",
    "notations/articulations/breath-mark": "a breath mark",
}
_DIRECTIONS = {"dynamics": "dynamics", "wedge": "dynamics", "pedal": "a pedal", "octave-shift": "an octave sign"}


def score_of_musicxml(content: bytes | str) -> Score:
    """Everything that a MusicXML document, plain or packed, holds of notes and changes."""
    root = xml_tree(content)
    if root.tag == "score-timewise":
        root = _by_parts(root)
    parts = root.findall("part")
    if root.tag != "score-partwise" or not parts:
        raise MusicFileError(f"<{shown(root.tag)}> holds no part", value=root.tag,
                             expected="a score-partwise document with a part")
    if len(parts) > MOST_PARTS:
        raise MusicFileError(f"{len(parts)} parts", value=len(parts), expected=f"{MOST_PARTS} at most")
    names = {one.get("id"): one.findtext("part-name", "").strip() for one in root.findall("part-list/score-part")}
    read = [_PartReader(names.get(part.get("id"), "")) for part in parts]
    found = tuple(reader.part(part) for reader, part in zip(read, parts, strict=True))
    title = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    return Score(found, " ".join(title.split()), tuple(reader.ledger.said() for reader in read))


def _by_parts(root: ElementTree.Element) -> ElementTree.Element:
    """A document by measures, turned into one by parts."""
    found = ElementTree.Element("score-partwise")
    found.extend(child for child in root if child.tag != "measure")
    parts: dict[str, ElementTree.Element] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            name = part.get("id", "")
            if name not in parts:
                parts[name] = ElementTree.SubElement(found, "part", id=name)
            made = ElementTree.SubElement(parts[name], "measure", measure.attrib)
            made.extend(part)
    return found


_NO_JUMPS = Jumps()


@dataclass(frozen=True, slots=True)
class _Grace:
    pitch: Pitch
    string: int | None


@dataclass(slots=True)
class _Bar:
    """What the measure that is being read has given so far."""

    label: str
    now: Fraction = Fraction(0)
    furthest: Fraction = Fraction(0)
    last_onset: Fraction = Fraction(0)
    notes: list[ScoreNote] = field(default_factory=list)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)
    graces: dict[str, list[_Grace]] = field(default_factory=dict)  # by voice, waiting for their note
    ready: list[_Grace] = field(default_factory=list)  # of the notes that are being struck
    tempo: Fraction | None = None
    feel: str = ""
    section: str = ""
    jumps: Jumps = _NO_JUMPS
    own: dict[str, str] = field(default_factory=dict)


class _PartReader:
    """Reads one part; keeps what the measures before have set."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.ledger = Ledger()
        self.divisions = Fraction(1)
        self.meter: Meter | None = COMMON_TIME
        self.key: Scale | None = None
        self.transposed = Interval(0, 0)
        self.tuning: Tuning | None = None
        self.tabs: set[int] = set()
        self.plain_octave = True
        self.count = 0
        self.ours = False  # written by `musicxml_text`

    def part(self, element: ElementTree.Element) -> Part:
        measures = element.findall("measure")
        if len(measures) > MOST_BARS:
            raise MusicFileError(f"a part of {len(measures)} measures", value=len(measures),
                                 expected=f"{MOST_BARS} at most")
        found = tuple(self._measure(measure, number) for number, measure in enumerate(measures, 1))
        return Part(self.name, found, self.tuning, frozenset(self.tabs), plain_octave=self.plain_octave)

    def _measure(self, element: ElementTree.Element, number: int) -> Measure:
        bar = _Bar(shown(element.get("number") or number, 12))
        readers = {"attributes": self._attributes, "note": self._note, "backup": self._move, "forward": self._move,
                   "direction": self._direction, "sound": self._sound, "harmony": self._harmony,
                   "barline": self._barline}
        try:
            for child in element:
                if child.tag in readers:
                    readers[child.tag](child, bar)
        except (VampError, ValueError, ArithmeticError) as error:
            self._refuse(error, bar)
        if any(bar.graces.values()):
            self.ledger.say("a grace note after its note is left out", bar.label)
        meter = self.meter or COMMON_TIME
        return Measure(bar.label, meter, bar.furthest, tuple(bar.notes), tuple(bar.chords), self.key, bar.tempo,
                       bar.feel, bar.section, bar.jumps, bar.own, self.meter is None)

    def _refuse(self, error: Exception, bar: _Bar) -> NoReturn:
        message = error.message if isinstance(error, VampError) else str(error)
        value, expected = (error.value, error.expected) if isinstance(error, VampError) else (None, "")
        raise MusicFileError(f"the measure cannot be read: {message}", value=value, where=f"measure {bar.label}",
                             expected=expected) from error

    def _attributes(self, element: ElementTree.Element, bar: _Bar) -> None:
        if (divisions := element.findtext("divisions")) is not None:
            self.divisions = exact(divisions, "number of divisions")
            if self.divisions <= 0:
                raise MusicFileError(f"{shown(divisions)} divisions of a quarter note", value=divisions,
                                     expected="more than none")
        if (key := element.find("key")) is not None:
            self.key = key_of(key, bar.label, self.ledger)
        if (time := element.find("time")) is not None:
            self.meter = meter_of(time, bar.label, self.ledger)
        for clef in element.findall("clef"):
            if clef.findtext("sign", "").strip() == "TAB":
                self.tabs.add(int(exact(clef.get("number", "1"), "number of a staff")))
            if clef.findtext("clef-octave-change", "0").strip() not in ("0", ""):
                self.plain_octave = False
        if (transpose := element.find("transpose")) is not None:
            self._transpose(transpose)
        for details in element.findall("staff-details"):
            self.tuning = tuning_of(details, bar.label, self.ledger) or self.tuning

    def _transpose(self, element: ElementTree.Element) -> None:
        octaves = int(exact(element.findtext("octave-change", "0") or "0", "change of octave"))
        semitones = int(exact(element.findtext("chromatic", "0") or "0", "transposition"))
        steps = element.findtext("diatonic")
        size = Interval.of_fifths((semitones * 7 + 5) % 12 - 5)  # the simplest spelling where the file gives none
        letters = size.steps + 7 * ((semitones - size.semitones) // 12) if steps is None else int(exact(steps, "step"))
        if abs(octaves) > 4 or abs(semitones) > 60 or abs(letters) > 40:
            raise MusicFileError(f"a transposition of {semitones} half steps, {octaves} octaves", value=semitones,
                                 expected="four octaves at most")
        self.transposed = Interval(letters + 7 * octaves, semitones + 12 * octaves)
        self.plain_octave = self.plain_octave and octaves == 0 and semitones == 0

    def _move(self, element: ElementTree.Element, bar: _Bar) -> None:
        length = self._length(element)
        bar.now += length if element.tag == "forward" else -length
        if bar.now < Fraction(1) / self.divisions:  # rounded lengths add up to a little less or more than the bar
            if bar.now < -1:
                raise MusicFileError(f"a step back of {length} beats, to before the measure", value=str(length),
                                     expected="a step within the measure")
            bar.now = Fraction(0)
        bar.furthest = max(bar.furthest, bar.now)

    def _length(self, element: ElementTree.Element) -> Fraction:
        length = exact(element.findtext("duration", ""), "length in divisions") / self.divisions
        if not 0 <= length <= LONGEST_NOTE:
            raise MusicFileError(f"a length of {shown(length)} beats", value=str(length),
                                 expected=f"0 to {LONGEST_NOTE} beats")
        return length

    def _direction(self, element: ElementTree.Element, bar: _Bar) -> None:
        for kind in element.findall("direction-type"):
            for child in kind:
                self._direction_type(child, bar)
        if (sound := element.find("sound")) is not None:
            self._sound(sound, bar)

    def _direction_type(self, child: ElementTree.Element, bar: _Bar) -> None:
        """One sign or word over the staff; what a line has no place for is said, what says nothing is passed over."""
        text = " ".join((child.text or "").split())
        match child.tag:
            case "words" if text.lower() in FEELS and not bar.feel:
                bar.feel = text.lower()
            case "rehearsal" if text:
                bar.section = text
            case "metronome":
                bar.tempo = bar.tempo or tempo_of(child)
            case "segno":
                bar.jumps = replace(bar.jumps, segno=True)
            case "coda":
                bar.jumps = replace(bar.jumps, coda=True)
            case "other-direction" if child.text:
                bar.own.update(own_words(child.text))
                self.ours = self.ours or bool(bar.own)
            case sign if sign in _DIRECTIONS:
                self.ledger.say(f"{_DIRECTIONS[sign]}: left out", bar.label)

    def _sound(self, element: ElementTree.Element, bar: _Bar) -> None:
        if tempo := element.get("tempo"):
            bar.tempo = exact(tempo, "tempo").limit_denominator(100)
        if bar.tempo is not None and not TEMPO[0] <= bar.tempo <= TEMPO[1]:
            self.ledger.say(f"a tempo of {bar.tempo} quarter notes a minute is no tempo of ours", bar.label)
            bar.tempo = None
        bar.jumps = jumps_of(element, bar.jumps)
        swing = element.find("swing")
        if swing is not None and not bar.feel:
            even = swing.find("straight") is not None or swing.findtext("first") == swing.findtext("second")
            bar.feel = "straight 8" if even else "swing 16" if swing.findtext("swing-type") == "16th" else "swing"

    def _harmony(self, element: ElementTree.Element, bar: _Bar) -> None:
        try:
            chord = chord_of(element)
        except VampError as error:
            self.ledger.say(f"{error.message}; the chord before sounds on", bar.label)
            return
        offset = exact(element.findtext("offset", "0"), "offset of a chord symbol") / self.divisions
        bar.chords.append((max(Fraction(0), bar.now + offset), chord))

    def _barline(self, element: ElementTree.Element, bar: _Bar) -> None:
        bar.jumps = jumps_of(element, bar.jumps)

    def _note(self, element: ElementTree.Element, bar: _Bar) -> None:
        voice = element.findtext("voice", "1").strip() or "1"
        grace = element.find("grace") is not None
        chord = element.find("chord") is not None
        length = Fraction(0) if grace else self._note_beats(element)
        onset = bar.last_onset if chord else bar.now
        if not chord and not grace:
            bar.last_onset, bar.now = bar.now, bar.now + length
            bar.furthest = max(bar.furthest, bar.now)
        if element.find("rest") is not None:
            return
        pitch = self._pitch(element, bar)
        if pitch is None:
            return
        if grace:
            bar.graces.setdefault(voice, []).append(_Grace(pitch, self._number(element, "string", bar)))
            return
        self.count += 1
        if self.count > MOST_NOTES:
            raise MusicFileError(f"a part of more than {MOST_NOTES:,} notes", value=self.count,
                                 expected="music for one pair of hands")
        if length == 0:
            self.ledger.say("a note without a length is left out", bar.label)
            return
        if not chord:
            bar.ready = bar.graces.pop(voice, [])
        self._passed_over(element, bar)
        bar.notes.append(self._score_note(element, bar, pitch, onset, length, voice))

    def _score_note(self, element: ElementTree.Element, bar: _Bar, pitch: Pitch, onset: Fraction, length: Fraction,
                    voice: str) -> ScoreNote:
        staff = int(exact(element.findtext("staff", "1"), "number of a staff"))
        string, fret, finger = (self._number(element, name, bar) for name in ("string", "fret", "fingering"))
        grace = self._grace_of(bar, string)
        ties = {tie.get("type") for tie in element.findall("tie")}
        own: dict[str, str] = {}
        for other in element.findall("notations/other-notation"):
            own.update(own_words(other.text or ""))
        return ScoreNote(onset, length, pitch, voice, staff, string, fret, finger, self._marks(element, bar),
                         "stop" in ties, "start" in ties, grace, own)

    def _grace_of(self, bar: _Bar, string: int | None) -> Pitch | None:
        """The last grace note before a note; in a chord the one on its string."""
        fits = [one for one in bar.ready if None in (string, one.string) or one.string == string]
        if not fits:
            return None
        bar.ready = [one for one in bar.ready if one not in fits]
        if len(fits) > 1:
            self.ledger.say("of several grace notes the last is kept", bar.label)
        return fits[-1].pitch

    def _note_beats(self, element: ElementTree.Element) -> Fraction:
        """The length that a note sounds; where divisions are too coarse for its tuplet, the one that is written."""
        length = self._length(element)
        written = written_beats(element) if element.find("time-modification") is not None else None
        rounded = written is not None and 0 < abs(length - written) < 1 / self.divisions
        return written if rounded and written is not None else length

    def _pitch(self, element: ElementTree.Element, bar: _Bar) -> Pitch | None:
        found = element.find("pitch")
        if element.get("print-object") == "no":  # an ornament written out for playing back, and the like
            self.ledger.say("notes that are not printed are left out", bar.label)
            return None
        if found is None or element.find("cue") is not None:
            self.ledger.say("notes of no pitch are left out" if found is None else "cue notes are left out", bar.label)
            return None
        octave = exact(found.findtext("octave", ""), "octave")
        alter = exact(found.findtext("alter", "0") or "0", "alteration")
        if alter.denominator != 1:
            self.ledger.say("quarter tones are left out", bar.label)
            return None
        pitch = Pitch(name_of(found, ""), int(octave)).up(self.transposed)
        if not 0 <= pitch.midi <= 127:
            raise MusicFileError(f"{pitch} is no pitch that can be played", value=str(pitch), expected="C-1 to G9")
        return Pitch.of_midi(pitch.midi) if abs(pitch.name.accidental) > 3 else pitch

    def _number(self, element: ElementTree.Element, name: str, bar: _Bar) -> int | None:
        """String, fret or finger, where the file gives one that we know."""
        text = element.findtext(f"notations/technical/{name}", "").strip()
        high = {"string": 9, "fret": 36, "fingering": 4}[name]
        if text.isascii() and text.isdigit() and int(text[:3]) <= high:
            return int(text) if name != "string" or text != "0" else None
        if text:
            self.ledger.say(f"“{shown(text)}” is no {name} of ours", bar.label)
        return None

    def _marks(self, element: ElementTree.Element, bar: _Bar) -> tuple[Mark, ...]:
        if not self.ours:
            element.attrib.pop("dynamics", None)  # how loud another program would play each note is no mark
        try:
            return (*marks_of(element), *(Mark(kind) for kind in joins_of(element)))
        except VampError as error:
            self.ledger.say(f"marks that cannot be read are left out ({error.message})", bar.label)
            return ()

    def _passed_over(self, element: ElementTree.Element, bar: _Bar) -> None:
        for what in dict.fromkeys(_met(element)):
            self.ledger.say(f"{what}: left out", bar.label)


def _met(element: ElementTree.Element) -> Iterator[str]:
    """What a note carries that a line has no place for."""
    for path, what in _PASSED_OVER.items():
        if element.find(path) is not None:
            yield what
    for name in unread_of(element):
        if not any(path.endswith(f"/{name}") for path in _PASSED_OVER):
            yield f"the sign “{shown(name)}”"
    if len(element.findall("notations/technical/fingering")) > 1:
        yield "all fingers on a note but the first"
    slides = element.find("notations/slide") is not None
    if element.find("notations/slur") is not None and not slides:
        yield "slurs"
