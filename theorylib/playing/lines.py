"""Lines: notes in time with their places, fingers and marks, over a chart; the value that everything later reads.

Conventions: onsets and durations are exact quarter-note beats from the start. Notes that share an onset sound
together. Whatever is not covered by a note is a rest. String 1 is the thinnest; finger 1 is the index, 4 the
little finger, 0 an open string.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from importlib import import_module
from types import ModuleType

from ..changes.charts import Chart, Event, as_chart
from ..errors import LineError, VampError, closest, listed, shown
from ..limits import METER_BEATS, MOST_BARS, TEMPO, number_in
from ..names.chords import Chord
from ..names.spelling import Interval, Pitch, as_pitch
from ..necks.tunings import STANDARD, Place, Tuning, as_tuning
from .line_text import StoredNote, read_line_text
from .marks import JOINING, MARKS, check_size
from .values import Rhythm

# Fret of a natural harmonic: semitones that it sounds above the open string (partials 2 to 5 of the string: physics).
NODES = {12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 9: 28, 4: 28, 16: 28}
# What a drill may promise of its notes; `Line.problems` holds it to that.
FEWEST_STRUMMED = 3  # strings of a stroke that is heard as one after the other
PROMISES = {
    "chord tones": "every note is a chord tone", "strong beats": "every note on a strong beat is a chord tone",
    "guide tones": "every note is a guide tone of its chord",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One technique on a note: its kind (a key of MARKS), value in its row's unit, start in beats after the onset."""

    kind: str
    value: Fraction = Fraction(0)
    at_beats: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if self.kind not in MARKS:
            raise LineError(f"“{self.kind}” is not a mark", value=self.kind, expected=f"one of {', '.join(MARKS)}",
                            nearest=closest(self.kind, MARKS))
        check_size(self.kind, self.value)
        if self.at_beats < 0:
            raise LineError(f"the {self.kind} begins {-self.at_beats} beats before its note", value=self.at_beats,
                            expected="a beat of 0 or more after the note's onset")


@dataclass(frozen=True, slots=True)
class Note:
    """A sounding note. `degree` is its function in the chord it is played over ("b3"), "" if unknown."""

    pitch: Pitch
    onset_beats: Fraction
    duration_beats: Fraction
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    degree: str = ""
    marks: tuple[Mark, ...] = ()

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.duration_beats

    @property
    def place(self) -> Place | None:
        return None if self.string is None or self.fret is None else Place(self.string, self.fret)

    @property
    def fretted_midi(self) -> int:
        """The MIDI number of the place under the finger: a harmonic sounds above it."""
        if self.marked("harmonic") and self.fret in NODES:
            return self.pitch.midi - NODES[self.fret] + self.fret
        return self.pitch.midi - (12 if self.marked("tapped harmonic") else 0)

    def marked(self, kind: str) -> Mark | None:
        return next((mark for mark in self.marks if mark.kind == kind), None)


@dataclass(frozen=True, slots=True)
class Line:
    """Notes over a chart for one instrument, to be shown, heard, varied or practised.

    `length_beats` is the whole length, rests at the end included. `promise` is a key of PROMISES, or empty.

    >>> [str(note.pitch) for note in Line.parse("q A3 C4 E4 G4").notes]
    ['A3', 'C4', 'E4', 'G4']
    """

    notes: tuple[Note, ...]
    chart: Chart
    tuning: Tuning = STANDARD
    title: str = ""
    length_beats: Fraction = Fraction(0)
    position: int | None = None
    promise: str = ""

    def __post_init__(self) -> None:
        if self.promise and self.promise not in PROMISES:
            raise LineError(f"“{self.promise}” is no promise", value=self.promise, expected=", ".join(PROMISES),
                            nearest=closest(self.promise, PROMISES))
        last = Fraction(0)
        for one, two in zip(self.notes, self.notes[1:], strict=False):
            together = one.onset_beats == two.onset_beats and one.duration_beats == two.duration_beats
            if not together and two.onset_beats < one.end_beats:
                raise LineError(f"{two.pitch} at beat {two.onset_beats} starts before {one.pitch} has ended",
                                value=str(two.pitch), expected="notes in order, or of one length when struck together")
        for note in self.notes:
            if note.onset_beats < 0 or note.duration_beats <= 0:
                raise LineError(f"{note.pitch} at beat {note.onset_beats} lasts {note.duration_beats} beats",
                                value=str(note.duration_beats), expected="an onset of 0 or more, a length above 0")
            last = max(last, note.end_beats)
        bar = self.chart.bar_beats
        if self.length_beats < 0:
            raise LineError(f"a line of {self.length_beats} beats", value=str(self.length_beats),
                            expected="a length of 0 beats or more")
        bars = -(-max(last, self.length_beats) // bar)
        if bars > MOST_BARS:
            raise LineError(f"a line of {bars} bars", value=bars, expected=f"0 to {MOST_BARS} bars")
        object.__setattr__(self, "length_beats", bars * bar)

    @property
    def bar_count(self) -> int:
        return int(self.length_beats / self.chart.bar_beats)

    def chords(self) -> tuple[Event, ...]:
        """The chart's events under this line; the form starts again where the line is longer than the chart."""
        found: list[Event] = []
        start = Fraction(0)
        while start < self.length_beats and self.chart.length_beats:
            bars = int(start / self.chart.bar_beats)
            found += [replace(event, onset_beats=event.onset_beats + start, bar=event.bar + bars)
                      for event in self.chart.events if event.onset_beats + start < self.length_beats]
            start += self.chart.length_beats
        return tuple(found)

    def joined_from(self, index: int) -> int | None:
        """The index of the note that note `index` is joined to: the last on its string, ending where it begins."""
        note = self.notes[index]
        if not any(mark.kind in JOINING for mark in note.marks):
            return None
        for before in range(index - 1, -1, -1):
            if self.notes[before].end_beats < note.onset_beats:  # and so all before it
                return None
            if self.notes[before].string == note.string and self.notes[before].end_beats == note.onset_beats:
                return before
        return None

    @classmethod
    def parse(cls, text: str, tuning: Tuning | str = STANDARD, chart: Chart | str | None = None, *,
              rhythm: Rhythm | Fraction | str = "even") -> Line:
        """A line from typed TAB, or from a line of words; with lines before it such as `over: | Am7 | D7 |`.

        TAB without a row of note values is read by its `rhythm`: "even" (the notes of a bar share it), "spacing" (by
        its columns), or the length of each note, in beats or as a letter ("e"). Raises LineError with the place.

        >>> print(Line.parse("e A3 C4 E4[~] over Am7").words())
        meter: 4/4
        tempo: 100
        feel: straight 8
        over: | Am7 |
        e A3 C4 E4[~] h~e r |
        """
        found: Line = _phrases().read_phrase(text, tuning, chart, rhythm=rhythm)
        return found

    def words(self) -> str:
        """The line in words, which `Line.parse` reads back to an equal line."""
        text: str = _phrases().write_phrase(self, tab=False)
        return text

    def tab(self) -> str:
        """The line as TAB with its note values; raises LineError for a note without a place."""
        text: str = _phrases().write_phrase(self, tab=True)
        return text

    def with_notes(self, change: Callable[[Note], Note]) -> Line:
        return replace(self, notes=tuple(change(note) for note in self.notes))

    def problems(self) -> tuple[str, ...]:
        """What is false in this line, in words (a place that does not sound its pitch ...); empty when it is true."""
        found = []
        for number, note in enumerate(self.notes, 1):
            where = f"note {number} ({note.pitch}, bar {int(note.onset_beats // self.chart.bar_beats) + 1})"
            chord = self.chart.chord_at(note.onset_beats)
            if note.degree and chord is not None and chord.root is not None:
                semitones = Interval.of_degree(note.degree).semitones
                if (note.pitch.midi - chord.root.pitch_class - semitones) % 12:
                    found.append(f"{where}: is not the {note.degree} of {chord}")
            if chord is not None and chord.root is not None and not self._keeps(note, chord):
                found.append(f"{where}: breaks the promise that {PROMISES[self.promise]} ({chord})")
            found += [f"{where}: its {mark.kind} begins after it has ended" for mark in note.marks
                      if mark.at_beats >= note.duration_beats]
            if note.place is not None:
                if note.place not in self.tuning.places(note.fretted_midi):
                    found.append(f"{where}: {note.place} does not sound {note.pitch}")
                if (note.fret == 0) != (note.finger == 0) and note.finger is not None:
                    found.append(f"{where}: finger {note.finger} at fret {note.fret}")
        return tuple(found)

    def _keeps(self, note: Note, chord: Chord) -> bool:
        if not self.promise or (self.promise == "strong beats" and not self.is_strong(note.onset_beats)):
            return True
        degrees = {tone.name.pitch_class: tone.degree for tone in chord.tones}
        degree = degrees.get(note.pitch.midi % 12)
        return degree in chord.guide_degrees if self.promise == "guide tones" else degree is not None

    def at_tempo(self, tempo: int | Fraction | str) -> Line:
        """The line at another tempo, in quarter notes a minute.

        >>> Line.parse("q A3 C4 D4 E4").at_tempo(72).chart.tempo
        Fraction(72, 1)
        """
        chart = replace(self.chart, tempo=number_in(tempo, TEMPO, "tempo in quarter notes a minute"))
        return replace(self, chart=chart)

    @property
    def is_rhythm_part(self) -> bool:
        """Is it made of strokes alone, each over three strings or more: chords in time, and no melody?"""
        stacks = Counter(note.onset_beats for note in self.notes)
        strokes = all(note.marked("pick down") or note.marked("pick up") for note in self.notes)
        return bool(stacks) and strokes and min(stacks.values()) >= FEWEST_STRUMMED

    def is_strong(self, onset_beats: Fraction) -> bool:
        """Is this a strong beat: the first of the bar, or the middle one of a bar of an even number of pulses?"""
        meter = self.chart.meter
        strong = meter.bar_beats / 2 if meter.pulses % 2 == 0 else meter.bar_beats
        return onset_beats % strong == 0

    def to_json(self) -> str:
        """Compact, stable text of the whole line; `Line.from_json` gives back an equal value."""
        import json  # only lines that are stored need it

        notes = [
            [str(note.pitch), str(note.onset_beats), str(note.duration_beats), note.string, note.fret, note.finger,
             note.degree, [[mark.kind, str(mark.value), str(mark.at_beats)] for mark in note.marks]]
            for note in self.notes
        ]
        head = {
            "title": self.title, "chart": str(self.chart), "length_beats": str(self.length_beats),
            "position": self.position,
            "tuning": {"strings": str(replace(self.tuning, capo=0)), "capo": self.tuning.capo,
                       "frets": self.tuning.frets, "scale_length_mm": self.tuning.scale_length_mm},
        }
        if self.promise:
            head["promise"] = self.promise
        return json.dumps(head | {"notes": notes}, ensure_ascii=False, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str) -> Line:
        """Read `to_json`'s text back; raises LineError with the field when it is not that."""
        head, rows = read_line_text(text)
        neck = head["tuning"]
        with _named("tuning"):
            tuning = replace(as_tuning(neck["strings"]), capo=neck["capo"], frets=neck["frets"],
                             scale_length_mm=neck["scale_length_mm"])
        with _named("chart"):
            chart = Chart.parse(head["chart"])
        notes = tuple(_stored(number, row) for number, row in enumerate(rows, 1))
        return cls(notes, chart, tuning, head["title"], head["length_beats"], head["position"], head.get("promise", ""))


def as_line(value: Line | str) -> Line:
    """A line, or one read from its text (TAB, words or what `Line.to_json` gives); raises LineError."""
    if isinstance(value, Line):
        return value
    if isinstance(value, str):
        return Line.from_json(value) if value.lstrip().startswith("{") else Line.parse(value)
    raise LineError(f"“{shown(value)}” is no line", value=value,
                    expected="a line as the drills make it, TAB, or a line of words")


def _phrases() -> ModuleType:
    """The readers and printers of typed phrases: they stand above this module, so it asks for them when needed."""
    return import_module(f"{__package__}.phrase_text")


def _stored(number: int, row: StoredNote) -> Note:
    with _named(f"note {number}"):
        if row.degree:
            Interval.of_degree(row.degree)
        return Note(Pitch.parse(row.pitch), row.onset_beats, row.duration_beats, row.string, row.fret, row.finger,
                    row.degree, tuple(Mark(*mark) for mark in row.marks))


@contextmanager
def _named(field: str) -> Iterator[None]:
    """Name the field of a stored line in which an error stands."""
    try:
        yield
    except VampError as error:
        raise LineError(error.message, value=error.value, where=", ".join(filter(None, (field, error.where))),
                        expected=error.expected, nearest=error.nearest) from error


def line_of(pitches: Iterable[Pitch | str] | str, chart: Chart | str, *,
            duration_beats: Fraction | str = "1/2", tuning: Tuning | str = STANDARD, title: str = "") -> Line:
    """A line of equal notes from the start of the chart."""
    written = pitches.split() if isinstance(pitches, str) else pitches
    said = listed(written, "list of pitches", "such as A2 C3", LineError)
    length = number_in(duration_beats, (Fraction(1, 64), METER_BEATS[1]), "length in beats")
    notes = tuple(Note(as_pitch(pitch), length * index, length) for index, pitch in enumerate(said))
    return Line(notes, as_chart(chart), as_tuning(tuning), title)
