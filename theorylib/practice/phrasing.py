"""Phrases over changes: shapes of a style as calls and answers, fitted to each chord and to the hand.

Which shape says which bars is planned in `phrase_plan`. What lasts, or falls on a strong beat without moving on, is a
tone or a colour of its chord; a bend ends there too. A statement ends on a beat and holds it. The chorus comes home on
the home chord; what follows that in the form leads back to its beginning. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, one_of
from ..levels import LEVELS, Level
from ..names.spelling import Pitch
from ..necks.positions import as_position
from ..necks.shapes import Target, bend_refused, reached, sour
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.context import Context, context_of, with_degrees
from ..playing.lines import Line, Mark, Note
from ..reading.harmony import Reading, harmony
from .drills import Reach, titled
from .idioms import ANSWER, BAR_BEATS, STYLES, Style, Token
from .phrase_plan import Plan, Run, Statement, bars_of_a_bar, beat_of_shapes, planned, runs_of
from .solo_ends import Rest
from .variations import numbered

CURL = Fraction(1, 2)  # semitones
VIBRATO_CENTS = 40
LASTING_BEATS = Fraction(1)
_BLUE = {"b3": 3, "b5": 6}  # semitones over the root of a chord with a major 3rd
_BENDING_STRINGS = (3, 2, 1, 4)
_SINGING_STRINGS = 4
_HAND_FRETS = 4
_STRETCH = 5  # semitones farther that a note may lie which needs no stretch
# Where a beat of three parts has the parts of a plain one.
_IN_THREES = {
    Fraction(0): Fraction(0),
    Fraction(1, 4): Fraction(1, 2),
    Fraction(1, 2): Fraction(1),
    Fraction(3, 4): Fraction(5, 4),
}


@dataclass(frozen=True, slots=True)
class Chorus:
    """A line of phrases, what each of its parts says, and which notes are joined to the one before (their indexes)."""

    line: Line
    statements: tuple[Statement, ...]
    joined: frozenset[int]


def phrases_over(
    chart: Chart | str,
    style: Style = "blues",
    level: Level = "intermediate",
    position: int = 5,
    *,
    tuning: Tuning | str = STANDARD,
    seed: int = 1,
) -> Chorus:
    """Calls and answers through the form, a short form often enough for one of each; the same for the same seed.

    Raises DrillError where a chord has no note within reach, or for an unknown style or level.

    >>> chorus = phrases_over("| A7 | D7 | A7 | A7 |", level="beginner")
    >>> [(one.first, one.last, one.idiom.role) for one in chorus.statements]
    [(1, 2, 'call'), (3, 4, 'answer')]
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    one_of(style, STYLES, "style", DrillError)
    one_of(level, LEVELS, "level", DrillError)
    if all(event.chord.root is None for event in chart.events):
        raise DrillError("no phrase without a chord", value=str(chart), expected="a chart with chords")
    reach = _upper_reach(tuning, position)
    for event in chart.events:
        reach.chord_pool(event)  # raises where a chord has no note there
    plan = planned(chart, style, level, seed)
    saying = _Saying.of(chart, reach, position)
    notes, joined = saying.whole(plan)
    length = max([plan.bars * chart.bar_beats, *(note.end_beats for note in notes)])
    title = titled(f"Phrases, {style}", position)
    line = with_degrees(Line(tuple(notes), chart, tuning, title, length, position))
    indexes = frozenset(index for index, note in enumerate(line.notes) if note.onset_beats in joined)
    return Chorus(line, plan.statements, indexes)


def _upper_reach(tuning: Tuning, position: int) -> Reach:
    """The thinner strings under a hand: where phrases are sung."""
    as_position(position, tuning, DrillError)
    lowest = tuning.midi(min(_SINGING_STRINGS, len(tuning.open_strings)), max(0, position - 1))
    return Reach.of(tuning, position, (Pitch.of_midi(lowest), Pitch.of_midi(tuning.highest_midi)))


# -- the notes ---------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class _Saying:
    """A chart and what can be said over it within reach of the hand."""

    chart: Chart
    reach: Reach
    position: int
    readings: dict[Fraction, Reading]
    context: Context
    under: frozenset[int]  # notes that lie under the four fingers

    @classmethod
    def of(cls, chart: Chart, reach: Reach, position: int) -> _Saying:
        readings = {one.onset_beats: one for one in harmony(chart).chords}
        tuning = reach.tuning
        frets = range(position, min(position + _HAND_FRETS, tuning.last_fret + 1))
        under = {tuning.midi(string, fret) for string in tuning.strings for fret in frets}
        return cls(chart, reach, position, readings, context_of(chart), frozenset(under))

    @property
    def middle(self) -> int:
        """Where a phrase begins that follows nothing."""
        return self.reach.midis[len(self.reach.midis) // 2]

    def _nearest(self, midis: Iterable[int], goal: int) -> int:
        """The nearest of some notes, one under the four fingers before one that takes a stretch."""
        return min(midis, key=lambda midi: (abs(midi - goal) + _STRETCH * (midi not in self.under), midi))

    def whole(self, plan: Plan) -> tuple[list[Note], list[Fraction]]:
        """All notes of a plan, and where those begin that are joined to the one before."""
        notes: list[Note] = []
        joined: list[Fraction] = []
        starts: dict[str, int] = {}
        back = [one for one in plan.statements if one.leads_back]
        before = plan.statements[: len(plan.statements) - len(back)]
        for statement in (*before, None, *back):
            if statement is None:
                notes = self._at_home(notes, before[-1] if before else None, plan.home)
                continue
            near = starts.get(statement.idiom.name, self.middle if not notes else notes[-1].pitch.midi)
            made = list(self.said(statement, near))
            if made:
                starts.setdefault(statement.idiom.name, made[0][0].pitch.midi)
            notes += [note for note, _ in made]
            joined += [note.onset_beats for note, is_joined in made if is_joined]
        return self._nothing_left_out(notes, plan.bars), joined

    def said(self, statement: Statement, near: int) -> Iterator[tuple[Note, bool]]:
        """The notes of a statement, each with whether it is joined to the one before; none where no chord sounds."""
        times = list(self._times(statement))
        now = near
        for index, (token, onset, length) in enumerate(times):
            midi = self._pitch(times, index, now)
            if midi is None:
                continue
            note = None
            if token.goal is not None:
                note = self._bent(midi, token.goal, onset, length)
            if note is None:
                if self._must_settle(times, index, midi):
                    midi = self._settled(midi, onset)
                note = Note(self.context.pitch(midi, onset), onset, length)
            now = note.pitch.midi
            yield (_swinging(note) if token.vibrato else note), token.joined

    def _times(self, statement: Statement) -> Iterator[tuple[Token, Fraction, Fraction]]:
        """(token, onset, length) of each note in the chart's meter; what a short bar has no room for is left out."""
        start = (statement.first - 1) * self.chart.bar_beats
        end = statement.last * self.chart.bar_beats
        beat = beat_of_shapes(self.chart)
        bar = self.chart.bar_beats * bars_of_a_bar(self.chart)
        idiom = statement.idiom
        found = []
        for token, (onset, length) in zip(idiom.contour, idiom.rhythm, strict=True):
            number, inside = divmod(onset, BAR_BEATS)
            at = _in_meter(inside, beat)
            until = _in_meter(inside + length, beat)
            begins = start + number * bar + at
            if at < bar and begins < end:
                found.append((token, begins, min(until, bar) - at))
        yield from self._landed(found, end)

    def _landed(
        self, times: list[tuple[Token, Fraction, Fraction]], end: Fraction
    ) -> list[tuple[Token, Fraction, Fraction]]:
        """A statement that a short bar has cut, ended on a beat: its last note on the next one, where there is room to
        hold it, else on the beat before."""
        if not times:
            return times
        token, onset, length = times[-1]
        meter = self.chart.meter
        start = onset // meter.bar_beats * meter.bar_beats
        beats = [start + beat for beat in meter.beat_onsets]
        if onset not in beats:
            before = max(beat for beat in beats if beat < onset)
            after = min((beat for beat in beats if beat > onset), default=end)
            onset = after if after < end else before
        bar_ends = start + meter.bar_beats
        following = min((beat for beat in beats if beat > onset), default=bar_ends)
        kept = [
            (one, at, min(lasts, onset - at))
            for one, at, lasts in times[:-1]
            if at < onset
        ]
        a_beat = following - onset
        lasts = min(length, end - onset)
        return [*kept, (token, onset, max(lasts, a_beat))]

    def _event(self, onset: Fraction) -> Event | None:
        event = self.chart.event_at(onset)
        return None if event is None or event.chord.root is None else event

    def _pitch(self, times: list[tuple[Token, Fraction, Fraction]], index: int, now: int) -> int | None:
        """The MIDI number of a token, from the note before; None without a chord."""
        token, onset, _ = times[index]
        if self._event(onset) is None:
            return None
        if token.name == "=":
            return now
        if token.name in "<>":
            after = next((at for at in range(index + 1, len(times)) if times[at][0].name not in "<>"), None)
            goal = None if after is None else self._pitch(times, after, now)
            if goal is None:
                return self._settled(now, onset)
            return self._beside(goal, token.name, times[after][1])  # type: ignore[index]
        pitch_class = self._pitch_class(token.name, onset)
        found = [midi for midi in self.reach.midis if midi % 12 == pitch_class]
        ahead = {"'": [midi for midi in found if midi > now], ",": [midi for midi in found if midi < now]}
        if not found:  # at the end of the neck: what the chord has there
            return self._nearest(self.reach.chord_pool(self._event(onset)), now)  # type: ignore[arg-type]
        return self._nearest(ahead.get(token.way) or found, now)

    def _pitch_class(self, name: str, onset: Fraction) -> int:
        """The pitch class of a number over the chord of a beat; the blue 3rd is that of a chord with a major one."""
        event = self._event(onset)
        assert event is not None
        chord = event.chord
        assert chord.root is not None
        if name in _BLUE and (name == "b5" or "3" in chord.degrees):
            return (chord.root.pitch_class + _BLUE[name]) % 12
        by_number = numbered(chord, self.readings[event.onset_beats].scale)
        number = int(name.lstrip("b"))
        return by_number.get(number, by_number.get(1, chord.root.pitch_class))

    def _beside(self, goal: int, side: str, onset: Fraction) -> int:
        """The half step below a goal, or the note of its chord's scale above it."""
        if side == "<":
            return goal - 1 if goal - 1 in self.reach.midis else goal + 1
        event = self._event(onset)
        scale = self.readings[event.onset_beats].scale.pitch_classes if event else frozenset()
        above = [midi for midi in (goal + 1, goal + 2) if midi % 12 in scale and midi in self.reach.midis]
        return above[0] if above else goal - 1

    def _must_settle(self, times: list[tuple[Token, Fraction, Fraction]], index: int, midi: int) -> bool:
        """Does a note last, end the statement, or stand on a strong beat without moving on by step?"""
        token, onset, length = times[index]
        if index + 1 == len(times) or length >= LASTING_BEATS or token.goal is not None:
            return True
        bar = self.chart.bar_beats
        strong = onset % bar == 0 or onset % bar == bar / 2
        if not strong or token.name in "<>":
            return False
        following = self._pitch(times, index + 1, midi)
        return following is None or not 0 < abs(following - midi) <= 2

    def _settled(self, midi: int, onset: Fraction) -> int:
        """The note itself where it is a tone or colour of its chord, else the nearest tone."""
        event = self._event(onset)
        if event is None:
            return midi
        reading = self.readings[event.onset_beats]
        tones = {tone.name.pitch_class for tone in event.chord.tones}
        # A half step over a tone is a colour to pass through, not one to rest on.
        # Over a root and its 5th alone a leading note asks to go on.
        colours = {name.pitch_class for name, degree in reading.tensions if len(tones) > 2 or degree != "7"}
        colours = {one for one in colours if (one - 1) % 12 not in tones}
        if midi % 12 in tones | colours:
            return midi
        return self._nearest([one for one in self.reach.midis if one % 12 in tones] or [midi], midi)

    def _bent(self, midi: int, goal: str, onset: Fraction, length: Fraction) -> Note | None:
        """A note bent up to its goal or curled; None where chord or hand have no such bend."""
        event = self._event(onset)
        assert event is not None
        chord = event.chord
        if not goal:
            is_blue = "3" in chord.degrees and self._pitch_class("b3", onset) == midi % 12
            sizes: tuple[int | Fraction, ...] = (CURL,) if is_blue else ()
        else:
            up = (self._pitch_class(goal, onset) - midi) % 12
            sizes = (up,) if up in (1, 2) else ()
        for size in sizes:
            place = self._place(midi, size)
            if place is None or (goal and sour(chord, reached(chord, self.reach.tuning, place, int(size)))):
                continue
            finger = place.fret - self.position + 1
            pitch = self.context.pitch(midi, onset)
            bend = (Mark("bend", Fraction(size)),)
            return Note(pitch, onset, length, place.string, place.fret, finger, marks=bend)
        return None

    def _place(self, midi: int, size: int | Fraction) -> Target | None:
        """Where under the hand a note can be bent so far."""
        tuning = self.reach.tuning
        for string in _BENDING_STRINGS:
            if string > len(tuning.open_strings):
                continue
            fret = midi - tuning.midi(string, 0)
            finger = fret - self.position + 1
            under = 1 <= finger <= _HAND_FRETS and fret + size <= tuning.last_fret
            if under and not bend_refused(tuning, string, fret, size, finger):
                return Target(string, fret, "")
        return None

    def _at_home(self, notes: list[Note], last: Statement | None, home: Rest | None) -> list[Note]:
        """The notes up to where the form comes home, the last of them there: held, a root or a 3rd.

        Where the last statement is an answer that has come home by itself, it stays as it is.
        """
        if home is None:
            return notes
        onset, bar = home.onset_beats, self.chart.bar_beats
        homes = {self._pitch_class(name, onset) for name in ("1", "3")}
        answered = last is not None and last.idiom.role == ANSWER and last.last * bar > onset
        at_rest = bool(notes) and notes[-1].pitch.midi % 12 in homes
        if answered and at_rest and self.chart.chord_at(notes[-1].onset_beats) == home.chord:
            return notes
        kept = [note for note in notes if note.onset_beats < onset]
        near = kept[-1].pitch.midi if kept else self.middle
        midi = self._nearest([one for one in self.reach.midis if one % 12 in homes] or [near], near)
        length = min(home.duration_beats, 2 * beat_of_shapes(self.chart))
        return [*_up_to(onset, kept), _swinging(Note(self.context.pitch(midi, onset), onset, length))]

    def _nothing_left_out(self, notes: list[Note], bars: int) -> list[Note]:
        """The notes, with one that tells the chord, held, over each chord of a bar or more that would have none."""
        found = list(notes)
        for run in runs_of(self.chart, bars):
            lasts = run.end_beats - run.onset_beats
            is_silent = not any(run.onset_beats <= note.onset_beats < run.end_beats for note in found)
            if lasts >= self.chart.bar_beats and is_silent:
                before = [note for note in found if note.onset_beats < run.onset_beats]
                after = [note for note in found if note.onset_beats >= run.end_beats]
                telling = self._telling(run, before[-1].pitch.midi if before else self.middle)
                found = [*_up_to(run.onset_beats, before), telling, *after]
        return found

    def _telling(self, run: Run, near: int) -> Note:
        """The nearest note that tells a chord, held from where it comes in."""
        pool = self.reach.chord_pool(run.event)
        guides = run.event.chord.guide_degrees
        telling = [midi for midi, (_, degree) in pool.items() if degree in guides]
        midi = self._nearest(telling or pool, near)
        longest = 2 * beat_of_shapes(self.chart)
        lasts = min(run.end_beats - run.onset_beats, longest)
        return Note(self.context.pitch(midi, run.onset_beats), run.onset_beats, lasts)


def _up_to(onset: Fraction, notes: Iterable[Note]) -> list[Note]:
    """The notes, none of them longer than to a moment."""
    return [
        replace(note, duration_beats=min(note.duration_beats, onset - note.onset_beats))
        for note in notes
    ]


def _in_meter(place: Fraction, beat: Fraction) -> Fraction:
    """A place in a bar of four plain beats, in beats of the chart."""
    if beat == 1:
        return place
    whole, part = divmod(place, 1)
    return whole * beat + _IN_THREES[part]


def _swinging(note: Note) -> Note:
    """The note with a vibrato that waits until its second half, where it is long enough; a bent one is left alone."""
    if note.marks:
        return note
    waits = note.duration_beats / 2 if note.duration_beats > 1 else Fraction(0)
    return replace(note, marks=(Mark("vibrato", Fraction(VIBRATO_CENTS), waits),))


def with_joins(line: Line, joined: frozenset[int]) -> Line:
    """A fingered line with hammers and pulls where the notes of these indexes lie on the string of the one before."""
    notes = list(line.notes)
    for index, (one, two) in enumerate(pairwise(line.notes), 1):
        if index not in joined or one.string != two.string or one.end_beats != two.onset_beats or one.marks:
            continue
        fingers = (one.finger or 0, two.finger or 0)
        rises = (two.fret or 0) > (one.fret or 0) and fingers[0] < fingers[1]
        falls = (two.fret or 0) < (one.fret or 0) and fingers[0] > fingers[1]
        if rises or falls:
            notes[index] = replace(two, marks=(Mark("hammer" if rises else "pull"), *two.marks))
    return replace(line, notes=tuple(notes))
