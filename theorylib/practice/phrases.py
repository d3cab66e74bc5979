"""Drills of space: phrases with prescribed rests, a motif carried through the changes, call and answer.

A rhythm is text: lengths in quarter-note beats, rests with a minus ("1 1/2 1/2 -1 1"); a contour is steps between chord
tones ("0 1 1 -1"). Rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..changes.meters import Meter
from ..errors import DrillError, VampError, as_text
from ..limits import BARS, PASSES, exact
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note, as_line
from .drills import Pool, Reach, counted, nearest, note_of, titled

# What each beat of a bar does in turn: a note as long as the beat, the beat in two notes, or a rest.
_MOTIF, _CALL = ("long", "parted", "rest", "long"), ("long", "parted", "long", "rest")
HOME_DEGREES = ("1", "3", "b3")  # where an answer comes to rest (common practice, no source)


def play_and_rest(line: Line | str, play_bars: int = 2, rest_bars: int = 2) -> Line:
    """To practise leaving space: `play_bars` bars of a line, then `rest_bars` bars of silence.

    They come in turn; a note is cut at the silence.

    >>> play_and_rest("q A3 C4 D4 E4 | G4 E4 D4 C4", 1, 1).words().splitlines()[-1]
    'q A3 C4 D4 E4 | w r |'
    """
    line = as_line(line)
    counted(play_bars, BARS, "number of bars to play")
    counted(rest_bars, BARS, "number of bars to rest")
    bar = line.chart.bar_beats
    turn = (play_bars + rest_bars) * bar
    notes = []
    for note in line.notes:
        start = note.onset_beats // turn * turn
        silence = start + play_bars * bar
        if note.onset_beats < silence:
            end = min(note.end_beats, silence)
            notes.append(replace(note, duration_beats=end - note.onset_beats))
    return replace(
        line,
        notes=tuple(notes),
        title=f"{line.title}, play {play_bars}, rest {rest_bars}".strip(", "),
    )


def motif(
    chart: Chart | str,
    rhythm: str | None = None,
    contour: str = "0 1 1 -1",
    position: int | None = 5,
    *,
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To stay with one idea: one rhythm in every bar, its notes fitted to each chord.

    The contour counts steps between chord tones. Purpose: to say the same thing over every chord. Without a rhythm the
    bar's own beats make one: “1 1/2 1/2 -1 1” in 4/4. Each bar begins on the chord tone nearest to the first note of
    the bar before; at the edge of the reach the contour turns.

    >>> [str(note.duration_beats) for note in motif("| Am7 | D9 |").notes]
    ['1', '1/2', '1/2', '1', '1', '1/2', '1/2', '1']
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    rhythm = rhythm if rhythm is not None else beat_rhythm(chart.meter, _MOTIF)
    lengths, steps = read_rhythm(rhythm, chart.bar_beats), read_contour(contour)
    saying = _Saying(chart, Reach.of(tuning, position), tuple(lengths), tuple(steps))
    counted(passes, PASSES, "number of passes")
    bars = chart.form_bars * passes
    notes: list[Note] = []
    first: int | None = None
    for bar in range(bars):
        made = saying.bar(bar, first)
        first = made[0].pitch.midi if made else first
        notes += made
    title = titled("Motif", position)
    return Line(tuple(notes), chart, tuning, title, bars * chart.bar_beats, position, "chord tones")


def call_and_answer(
    chart: Chart | str,
    rhythm: str | None = None,
    contour: str = "0 1 1 -1",
    position: int | None = 5,
    *,
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To shape a phrase: two bars that ask and two that answer, home at the end.

    The rhythm is the same, the contour turned over, the last note held. The call is left open; the answer's last note
    goes to the nearest root or third of its chord and lasts to the end of the bar.

    >>> [str(note.duration_beats) for note in call_and_answer("| Am7 | D9 |").notes]
    ['1', '1/2', '1/2', '1', '1', '1/2', '1/2', '1']
    """
    chart = as_chart(chart)
    rhythm = rhythm if rhythm is not None else beat_rhythm(chart.meter, _CALL)
    line = motif(chart, rhythm, contour, position, tuning=tuning, passes=passes)
    turned_over = [-step for step in read_contour(contour)]
    lengths = read_rhythm(rhythm, chart.bar_beats)
    answer = _Saying(chart, Reach.of(line.tuning, position), tuple(lengths), tuple(turned_over))
    # Four bars a phrase: two that ask, two that answer with the contour turned over.
    bars: dict[int, list[Note]] = {}
    for note in line.notes:
        bars.setdefault(int(note.onset_beats // chart.bar_beats), []).append(note)
    for bar in sorted(bars):
        answers = bar % 4 >= 2
        comes_home = bar % 4 == 3
        if answers:
            called = bars.get(bar - 2)
            bars[bar] = answer.bar(bar, called[0].pitch.midi if called else None)
        if comes_home:
            bars[bar][-1] = answer.home(bars[bar][-1], bar)
    notes = tuple(note for bar in sorted(bars) for note in bars[bar])
    return replace(line, notes=notes, title=line.title.replace("Motif", "Call and answer"))


def beat_rhythm(meter: Meter, does: Sequence[str]) -> str:
    """A rhythm in a meter's own beats: what each does in turn, "long", "parted" or "rest" (a dotted beat 2 to 1).

    >>> beat_rhythm(Meter(7, 8), ("long", "parted", "rest", "long"))
    '1 1/2 1/2 -3/2'
    """
    words: list[str] = []
    for number, beat in enumerate(meter.felt_beats):
        do = does[number % len(does)]
        # An even share of a dotted beat would be dotted again.
        parts = (
            (beat * Fraction(2, 3), beat / 3) if beat.numerator % 3 == 0 else (beat / 2, beat / 2)
        )
        words += {
            "long": [f"{beat}"],
            "parted": [f"{part}" for part in parts],
            "rest": [f"-{beat}"],
        }[do]
    return " ".join(words)


def read_rhythm(text: str, bar_beats: Fraction) -> list[Fraction]:
    """Lengths that fill one bar, rests negative; raises DrillError."""
    try:
        found = [exact(word) for word in as_text(text, "rhythm", "beats", DrillError).split()]
    except VampError as error:
        raise DrillError(
            f"“{text}” is no rhythm", value=text, expected="beats such as “1 1/2 1/2 -1 1”"
        ) from error
    total = sum(map(abs, found), Fraction(0))
    has_a_note = any(length > 0 for length in found)
    if total != bar_beats or not has_a_note or 0 in found:
        raise DrillError(
            f"the rhythm “{text}” fills {total} beats of a bar of {bar_beats}",
            value=text,
            expected=f"lengths that add up to {bar_beats}, with at least one note",
        )
    return found


def read_contour(text: str) -> list[int]:
    """Steps from note to note, the first from where the bar begins; raises DrillError."""
    try:
        return [
            int(exact(word, "step"))
            for word in as_text(text, "contour", "steps", DrillError).split()
        ] or [0]
    except VampError as error:
        raise DrillError(
            f"“{text}” is no contour", value=text, expected="steps such as “0 1 1 -1”"
        ) from error


@dataclass(frozen=True, slots=True)
class _Saying:
    """A rhythm and a contour to be said over a chart, within reach of one hand."""

    chart: Chart
    reach: Reach
    lengths: tuple[Fraction, ...]
    steps: tuple[int, ...]

    def bar(self, bar: int, first: int | None) -> list[Note]:
        """One bar of it. `first` is the note that it begins near; without one, in the middle of the reach."""
        notes: list[Note] = []
        now = bar * self.chart.bar_beats
        for length in self.lengths:
            pool = self._pool_at(now)
            if length > 0 and pool:
                midi = self._next(pool, notes) if notes else self._first(pool, first)
                notes.append(note_of(pool, midi, now, length))
            now += abs(length)
        return notes

    def home(self, note: Note, bar: int) -> Note:
        """The note led to the nearest root or third of its chord and held to the end of the bar."""
        pool = self._pool_at(note.onset_beats)
        homes = [midi for midi, (_, degree) in pool.items() if degree in HOME_DEGREES]
        midi = nearest(homes or pool, note.pitch.midi)
        ends = (bar + 1) * self.chart.bar_beats
        found = note_of(pool, midi, note.onset_beats, ends - note.onset_beats)
        return replace(
            note, pitch=found.pitch, degree=found.degree, duration_beats=found.duration_beats
        )

    def _first(self, pool: Pool, first: int | None) -> int:
        order = list(pool)
        if first is not None:
            return nearest(order, first)
        at = len(order) // 2 + self.steps[0]
        return order[_within(at, len(order))]

    def _next(self, pool: Pool, notes: list[Note]) -> int:
        """The contour's next step from the last note; at the edge of the reach it turns."""
        order = list(pool)
        at = order.index(nearest(order, notes[-1].pitch.midi))
        step = self.steps[len(notes) % len(self.steps)]
        goal = at + step if 0 <= at + step < len(order) else at - step
        return order[_within(goal, len(order))]

    def _pool_at(self, beat: Fraction) -> Pool:
        event = self.chart.event_at(beat)
        return {} if event is None else self.reach.chord_pool(event)


def _within(index: int, count: int) -> int:
    return max(0, min(count - 1, index))
