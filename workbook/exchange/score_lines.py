"""A score's chosen notes as a Line over its changes, with everything that could not be kept said bar by bar.

What a line holds: one voice, in which notes that sound together begin and end together; a chart of one meter, tempo and
feel. A tie makes one note of two; a chord tied in part is struck again. A place that does not sound its pitch is taken
away, to be found anew. Nothing here finds places: `fingering.finger` does.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from theorylib.changes.charts import Chart
from theorylib.errors import LineError, VampError, shown
from theorylib.limits import GRACE
from theorylib.names.chords import NO_CHORD
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line, Mark, Note
from theorylib.playing.notation import written_bars
from theorylib.reading.chordscales import degree_over

from .bar_grid import Placed, placed_measures
from .choosing import chosen_measures, chosen_part, chosen_voice, of_voice, say_octave
from .passages import WHOLE, Passage
from .score_charts import chart_of_bars, labels_of
from .scores import Ledger, Measure, Part, Said, Score, ScoreNote


@dataclass(frozen=True, slots=True)
class Imported:
    """A line that came from a file, without places where the file gave none, and what is to be said of it.

    `labels` are the numbers that the file prints for the bars of the line, `key` is the one that it states first.
    """

    line: Line
    said: tuple[Said, ...] = ()
    labels: tuple[str, ...] = ()
    key: Scale | None = None

    def label_at(self, onset_beats: Fraction) -> str:
        number = int(onset_beats // self.line.chart.bar_beats)
        return self.labels[number] if number < len(self.labels) else str(number + 1)

    def __str__(self) -> str:
        return "\n".join([f"{len(self.line.notes)} notes in {self.line.bar_count} bars", *map(str, self.said)])


def line_of_score(score: Score, passage: Passage = WHOLE, over: Chart | None = None,
                  tuning: Tuning | None = None) -> Imported:
    """A passage of a score as a line, `over` a chart and on a neck in place of the score's own.

    Raises MusicFileError for choices that the score does not have.
    """
    ledger = Ledger()
    index = chosen_part(score, passage.part, ledger)
    part = score.parts[index]
    say_octave(part, passage.octaves, ledger)
    measures = _first_of_ours(chosen_measures(part, passage.bars), ledger)
    staff, voice = chosen_voice(part, measures, passage.staff, passage.voice, ledger)
    placed, meter = placed_measures(measures, ledger)
    read = {one.measure.label for one in placed}
    if score.said:
        ledger.add(replace(said, bars=kept) for said in score.said[index]
                   if (kept := tuple(bar for bar in said.bars if bar in read)) or not said.bars)
    gathered = _Gathered(part, ledger)
    notes = gathered.notes(placed, staff, voice, passage)
    chart, length = chart_of_bars(score, index, placed, meter, over, ledger)
    own = placed[0].measure.own
    neck = tuning or _own_tuning(part.tuning or _strings(own), own)
    notes = tuple(_placed_truly(notes, neck, chart, placed, ledger))
    line = Line(notes, chart, neck, own.get("title", score.title), length)
    ours = own.get("chart") == str(chart)  # then its degrees are meant as they are, the missing ones too
    line = with_true_degrees(line if ours else line.with_notes(lambda note: replace(note, degree="")), fill=not ours)
    line = _drawable(_with_own(line, own), placed, ledger)
    labels = labels_of(placed, chart.bar_beats)
    return Imported(line, ledger.said(), tuple(labels.get(number, "") for number in range(line.bar_count)),
                    placed[0].measure.key)


def _first_of_ours(measures: Sequence[Measure], ledger: Ledger) -> Sequence[Measure]:
    """Of several lines that a file of ours holds, the first."""
    own = measures[0].own
    later = [measure.label for measure in measures[1:] if "chart" in measure.own]
    if "chart" not in own or not later or not own.get("bars", "").isdecimal():
        return measures
    ledger.say(f"the first line of the file is read; others begin at bars {', '.join(later)} "
               "(ask with passage=\"bars …\")")
    return measures[:int(own["bars"][:5])]


@dataclass(slots=True)
class _Gathered:
    """Gathers the notes of a voice, measure by measure as they are played."""

    part: Part
    ledger: Ledger
    sounding_on: frozenset[int] = frozenset()  # pitches of the last notes that a tie leads away from

    def notes(self, placed: Sequence[Placed], staff: int, voice: str, passage: Passage) -> tuple[Note, ...]:
        found: list[Note] = []
        for one in placed:
            chosen = of_voice(one.measure, staff, voice, self.part.tab_staves, self.ledger)
            label = one.measure.label
            for _, group in groupby(chosen, lambda note: note.onset_beats):
                self._struck(self._together(list(group), label, passage.top), one, found, passage.octaves)
        return tuple(found)

    def _together(self, group: list[ScoreNote], label: str, top: bool) -> list[ScoreNote]:
        """Notes of one onset, each pitch once, all of the shortest one's length."""
        by_pitch = {note.pitch.midi: note for note in reversed(group)}
        kept = list(reversed(by_pitch.values()))
        if top and len(kept) > 1:
            self.ledger.say("of notes struck together the highest is kept", label)
            kept = [max(kept, key=lambda note: note.pitch.midi)]
        shortest = min(note.duration_beats for note in kept)
        if any(note.duration_beats != shortest for note in kept):
            self.ledger.say("notes struck together end with the shortest", label)
        return [replace(note, duration_beats=shortest) for note in kept]

    def _struck(self, group: list[ScoreNote], one: Placed, found: list[Note], octaves: int) -> None:
        """Add the notes of one onset, or hold on those that are tied."""
        onset = one.start_beats + group[0].onset_beats
        last = _last_group(found)
        made = [_note(note, onset, octaves, one.measure.label, self.ledger) for note in group]
        led_from, self.sounding_on = self.sounding_on, frozenset(note.pitch.midi for note in group if note.tied_to)
        # Some programs write where a tie begins and not where it ends.
        goes_on = all((note.tied_from or note.pitch.midi in led_from) and "tie" not in note.own for note in group)
        if goes_on and _are_the_same(last, made, onset):
            found[len(found) - len(last):] = [_held_on(note, made) for note in last]
            return
        if any(note.tied_from and "tie" not in note.own for note in group):
            self.ledger.say("a tie that holds a part of a chord, or comes from nowhere, is struck again",
                            one.measure.label)
        if last and last[0].end_beats > onset:
            self.ledger.say("a note is cut short where the next of its voice begins", one.measure.label)
            found[len(found) - len(last):] = [replace(note, duration_beats=onset - note.onset_beats) for note in last]
        found += made


def _are_the_same(last: Sequence[Note], made: Sequence[Note], onset: Fraction) -> bool:
    """Do the last notes sound up to an onset, and are they the pitches that are struck there?"""
    return {note.pitch.midi for note in last if note.end_beats == onset} == {note.pitch.midi for note in made}


def _last_group(found: list[Note]) -> list[Note]:
    first = len(found)
    while first and found[first - 1].onset_beats == found[-1].onset_beats:
        first -= 1
    return found[first:]


def _held_on(note: Note, tied: Sequence[Note]) -> Note:
    """A note with the tied one's length and marks added."""
    more = next(one for one in tied if one.pitch.midi == note.pitch.midi)
    before = note.duration_beats
    later = tuple(replace(mark, at_beats=mark.at_beats + before) for mark in more.marks)
    return replace(note, duration_beats=before + more.duration_beats, marks=note.marks + later)


def _note(note: ScoreNote, onset: Fraction, octaves: int, label: str, ledger: Ledger) -> Note:
    marks = list(note.marks)
    if note.grace is not None:
        size = Fraction(note.grace.midi - note.pitch.midi)
        if GRACE[0] <= size <= GRACE[1] and size:
            marks.append(Mark("grace", size))
        else:
            ledger.say("a grace note too far from its note, or the same, is left out", label)
    if "tie" in note.own:
        marks.append(Mark("tie"))
    pitch = replace(note.pitch, octave=note.pitch.octave + octaves)
    placed = note.string is not None and note.fret is not None
    if note.finger is not None and not placed:
        ledger.say("a finger without a string and a fret is left out, to be found anew", label)
    return Note(pitch, onset, note.duration_beats, note.string, note.fret if placed else None,
                note.finger if placed else None, note.own.get("degree", ""), _in_order(marks, note.own))


def _in_order(marks: Sequence[Mark], own: dict[str, str]) -> tuple[Mark, ...]:
    """Marks in the order that our own file says, else as they were read."""
    order = own.get("marks", "").split(", ")
    rank = {kind: number for number, kind in enumerate(order)}
    return tuple(sorted(marks, key=lambda mark: rank.get(mark.kind, len(order))))


def _placed_truly(notes: Sequence[Note], tuning: Tuning, chart: Chart, placed: Sequence[Placed],
                  ledger: Ledger) -> Iterator[Note]:
    """The notes with those places that sound their pitch; where all are an octave off, the pitches are moved."""
    off = [_off_by(note, tuning) for note in notes if note.place is not None]
    shift = off[0] if off and off[0] in (-12, 12) and off.count(off[0]) * 10 >= len(off) * 9 else 0
    if shift:
        ledger.say(f"the pitches are moved an octave {'down' if shift < 0 else 'up'}, to where strings and frets sound")
    labels = labels_of(placed, chart.bar_beats)
    for note in notes:
        if shift:
            note = replace(note, pitch=replace(note.pitch, octave=note.pitch.octave + shift // 12))
        if note.place is not None and _off_by(note, tuning) != 0:
            ledger.say("a string and fret that do not sound their note are left out, to be found anew",
                       labels.get(int(note.onset_beats // chart.bar_beats), ""))
            note = replace(note, string=None, fret=None, finger=None)
        elif note.fret is None and not sounds_on(note, tuning):
            ledger.say("a string that does not have its note is left out",
                       labels.get(int(note.onset_beats // chart.bar_beats), ""))
            note = replace(note, string=None)
        yield note


def sounds_on(note: Note, tuning: Tuning) -> bool:
    """Whether the note can be had on the string that it asks for; true of one that asks for none."""
    return note.string is None or any(place.string == note.string for place in tuning.places(note.fretted_midi))


def _off_by(note: Note, tuning: Tuning) -> int | None:
    """Half steps from the written pitch to the one that its place sounds; None where the neck has no such place."""
    try:
        return tuning.midi(note.string or 0, note.fret or 0) - note.fretted_midi
    except VampError:
        return None


def _strings(own: dict[str, str]) -> Tuning:
    """The tuning that our own file keeps in words, where it has no TAB staff; else the standard one."""
    try:
        return Tuning.parse(own.get("tuning", str(STANDARD)))
    except VampError:
        return STANDARD


def _own_tuning(tuning: Tuning, own: dict[str, str]) -> Tuning:
    """The tuning with the neck that our own file tells of."""
    frets, scale, _ = (own.get("neck", "") + ",,").split(",", 2)
    try:
        return replace(tuning, frets=int(frets), scale_length_mm=float(scale)) if frets and scale else tuning
    except (VampError, ValueError):
        return tuning


def _with_own(line: Line, own: dict[str, str]) -> Line:
    """The line with the position and promise that our own file keeps, where they still hold."""
    position = own.get("position", "")
    if position.isascii() and position.isdigit():
        line = replace(line, position=int(position[:4]))
    if "promise" in own:
        try:
            kept = replace(line, promise=own["promise"])
        except LineError:
            return line
        line = kept if not kept.problems() else line
    return line


def with_true_degrees(line: Line, *, fill: bool = True) -> Line:
    """The line with the degree of every note over its chord; one that is given and true is kept.

    Without `fill` a note that has none keeps none, as the approach notes of our own drills do.
    """
    events = line.chords()
    onsets = [event.onset_beats for event in events]

    def degree(note: Note) -> str:
        under = bisect_right(onsets, note.onset_beats)
        chord = events[under - 1].chord if under else NO_CHORD
        if chord.root is None or not (fill or note.degree):
            return ""
        above = (note.pitch.midi - chord.root.pitch_class) % 12
        try:
            if note.degree and Interval.of_degree(note.degree).semitones % 12 == above:
                return note.degree
        except VampError:
            pass  # a word of another's that is no degree
        return degree_over(chord, note.pitch.name.fifths, note.pitch.midi % 12)

    return line.with_notes(lambda note: replace(note, degree=degree(note)))


def _drawable(line: Line, placed: Sequence[Placed], ledger: Ledger) -> Line:
    """The line without the bars whose rhythm no note values write."""
    try:
        written_bars(line)
    except LineError:
        pass
    else:
        return line
    bar = line.chart.bar_beats
    labels = labels_of(placed, bar)
    wrong = set()
    for number in range(line.bar_count):
        start, end = number * bar, (number + 1) * bar
        inside = [replace(note, onset_beats=max(note.onset_beats, start) - start,
                          duration_beats=min(note.end_beats, end) - max(note.onset_beats, start), marks=())
                  for note in line.notes if note.onset_beats < end and note.end_beats > start]
        try:
            written_bars(Line(tuple(inside), line.chart, line.tuning, length_beats=bar))
        except LineError as error:
            ledger.say(f"{shown(error.message, 80)}: its notes are left out", labels.get(number, ""))
            wrong.add(number)
    kept = tuple(note for note in line.notes if not wrong & set(range(int(note.onset_beats // bar),
                                                                     int(-(-note.end_beats // bar)))))
    return replace(line, notes=kept)
