"""Charts: changes as people write them, read into bars and unrolled into chords at exact beats.

The text
--------
Header lines first, each `word: value` (title, key, meter, tempo, feel), then bars between bar lines::

    key: B minor
    [A] |: Bm7 | E9 :| x3
    [B] | Gmaj7 / F#7 / | % |1. Bm7 :|2. C#m7b5 F#7 ||   # two chords share a bar

`/` holds the chord for one more pulse (then every pulse of the bar is written), `%` repeats the bar before,
`|: :|` repeats twice or as often as `x3` says, `1.` and `2.` after a bar line are endings, `[A]` names a section (so
does `A:` before a bar line), and a `#` that stands alone starts a comment. In a chart without any bar line a comma
parts bars (`Am7, D7`); in one that has them it parts the chords of a bar, as a space does. A line `key: Eb major`
between bars (or `key:` after a bar line) states a change of key: it holds for the bars written after it, whatever
repeats play them, until the next. A new line ends a bar. Onsets and durations are quarter-note beats.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import accumulate, groupby, islice
from operator import attrgetter

from ..errors import ChartError, as_text, listed, one_of, shown
from ..limits import MOST_BARS, TEMPO, number_in
from ..names.chords import Chord, as_chord
from ..names.scales import Scale
from ..names.spelling import Interval, NoteName
from .bars import Bar, sources, unroll
from .chart_text import print_bars, print_tempo, read_chart
from .meters import COMMON_TIME, FEELS, Meter


@dataclass(frozen=True, slots=True)
class Event:
    """A chord sounding from `onset_beats` for `duration_beats`, in unrolled bar `bar` (from 0) of `section`."""

    chord: Chord
    onset_beats: Fraction
    duration_beats: Fraction
    bar: int
    section: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A named stretch of the unrolled form ("" where the chart names none)."""

    name: str
    onset_beats: Fraction
    duration_beats: Fraction


@dataclass(frozen=True, slots=True)
class Chart:
    """Changes to work from, with their meter, tempo, feel and key; `Chart.parse(text)` reads them.

    The tempo is in quarter notes a minute; `bars` are as written, `events` unrolled.

    >>> [(str(event.chord), int(event.onset_beats)) for event in Chart.parse("| Gm7 | C9 F7 |").events]
    [('Gm7', 0), ('C9', 4), ('F7', 6)]
    """

    bars: tuple[Bar, ...]
    title: str = ""
    key: Scale | None = None
    meter: Meter = COMMON_TIME
    tempo: Fraction = Fraction(100)
    feel: str = "straight 8"
    events: tuple[Event, ...] = field(init=False, repr=False, compare=False)
    # Written bar of each unrolled bar.
    order: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        number_in(self.tempo, TEMPO, "tempo in quarter notes a minute")
        one_of(self.feel, FEELS, "feel", ChartError)
        for value, kind, what in ((self.meter, Meter, "meter"), (self.key, Scale | None, "key")):
            if not isinstance(value, kind):
                raise ChartError(
                    f"“{shown(value)}” is no {what}",
                    value=value,
                    expected=f"a {what}; Chart.parse reads a text",
                )
        expected = "bars; Chart.parse reads a text"
        if not all(
            isinstance(bar, Bar) for bar in listed(self.bars, "row of bars", expected, ChartError)
        ):
            raise ChartError("a chart is made of bars", value=self.bars, expected=expected)
        if self.bars and self.bars[0].key is not None:  # a key at the first bar is the chart's own
            object.__setattr__(self, "key", self.bars[0].key)
            object.__setattr__(self, "bars", (replace(self.bars[0], key=None), *self.bars[1:]))
        order = tuple(islice(unroll(self.bars), MOST_BARS + 1))
        if len(order) > MOST_BARS:
            raise ChartError(
                f"the chart is longer than {MOST_BARS} bars, repeats counted",
                value=len(self.bars),
                expected=f"1 to {MOST_BARS} bars",
            )
        object.__setattr__(self, "order", order)
        object.__setattr__(self, "events", tuple(_events(self.bars, order, self.meter)))

    @classmethod
    def parse(cls, text: str, **headers: object) -> Chart:
        """Read a chart; raises ChartError naming line and column. `headers` count instead of the text's own.

        >>> Chart.parse("| Am7 | D7 |", key="A dorian", tempo=140).tempo
        Fraction(140, 1)
        """
        written = as_text(
            text, "chart", "chords between bar lines, such as | Am7 | D7 |", ChartError
        )
        read, bars = read_chart(written, headers)
        if not bars:
            raise ChartError(
                "no bars", value=text, expected="chords between bar lines, such as | Am7 | D7 |"
            )
        return cls(tuple(bars), **read)

    @property
    def bar_beats(self) -> Fraction:
        return self.meter.bar_beats

    @property
    def length_beats(self) -> Fraction:
        return self.bar_beats * len(self.order)

    @property
    def form_bars(self) -> int:
        """How many bars the form has as it sounds, repeats counted."""
        return len(self.order)

    def event_at(self, beat: Fraction) -> Event | None:
        """The event that sounds at a beat of any pass through the form, as it stands in the first; None without bars.

        >>> chart = Chart.parse("| Am7 | D7 |")
        >>> [str(chart.event_at(Fraction(beat)).chord) for beat in (0, 3, 4, 8)]
        ['Am7', 'Am7', 'D7', 'Am7']
        """
        if not self.events:
            return None
        inside = beat % self.length_beats
        return self.events[bisect_right(self.events, inside, key=attrgetter("onset_beats")) - 1]

    def chord_at(self, beat: Fraction) -> Chord | None:
        """The chord that sounds at a beat of any pass through the form; None without bars."""
        event = self.event_at(beat)
        return None if event is None else event.chord

    def events_in(self, bar: int) -> tuple[Event, ...]:
        """The events that begin in a bar (from 0) of any pass through the form: a bar has one at least.

        >>> [str(event.chord) for event in Chart.parse("| Am7 | D7 G7 |").events_in(3)]
        ['D7', 'G7']
        """
        inside = bar % self.form_bars
        first = bisect_left(self.events, inside, key=attrgetter("bar"))
        return self.events[first : bisect_right(self.events, inside, key=attrgetter("bar"))]

    @property
    def sections(self) -> tuple[Section, ...]:
        found: list[Section] = []
        labels = _labels(self.bars)
        for label, stretch in groupby(enumerate(self.order), lambda pair: labels[pair[1]]):
            bars = [number for number, _ in stretch]
            found.append(
                Section(
                    _name_at(self.bars, label), bars[0] * self.bar_beats, len(bars) * self.bar_beats
                )
            )
        return tuple(found)

    @property
    def stated_keys(self) -> tuple[Scale | None, ...]:
        """The key that the chart states for each unrolled bar, None where it says nothing."""
        written: list[Scale | None] = []
        for bar in self.bars:
            written.append(bar.key or (written[-1] if written else self.key))
        return tuple(written[index] for index in self.order)

    @property
    def sounded(self) -> tuple[Bar, ...]:
        """Each bar as it sounds: repeats unrolled, `%` written out, its key stated, no sign of the writing left.

        >>> [" ".join(map(str, bar.cells)) for bar in Chart.parse("|: Am7 | % :| D7 |").sounded]
        ['Am7', 'Am7', 'Am7', 'Am7', 'D7']
        """
        played = sources(self.bars)
        return tuple(
            Bar(self.bars[played[written]].cells, key=key)
            for written, key in zip(self.order, self.stated_keys, strict=True)
        )

    @property
    def changes_key(self) -> bool:
        """Does the chart state another key on its way?"""
        return any(bar.key is not None for bar in self.bars)

    def transpose(self, semitones: int) -> Chart:
        """The chart moved by half steps, into the spelling of the new key with the fewest accidentals."""
        return self.up(self.interval_to(semitones))

    def interval_to(self, semitones: int) -> Interval:
        """The spelled interval by which `transpose` moves the chart."""
        return _interval_for(semitones, self._reference())

    def up(self, interval: Interval) -> Chart:
        """The chart moved by a spelled interval."""
        bars = tuple(
            replace(
                bar,
                cells=tuple(
                    cell if isinstance(cell, str) else _written_simply(cell.up(interval))
                    for cell in bar.cells
                ),
                key=None if bar.key is None else bar.key.up(interval).simple(),
            )
            for bar in self.bars
        )
        return replace(
            self, bars=bars, key=None if self.key is None else self.key.up(interval).simple()
        )

    def _reference(self) -> NoteName:
        """A name on the line of fifths near which the chart's spelling lies."""
        if self.key is not None:
            return self.key.parent.tonic
        root = next((event.chord.root for event in self.events if event.chord.root), NoteName("C"))
        return root

    def __str__(self) -> str:
        head = [
            ("title", self.title),
            ("key", str(self.key or "")),
            ("meter", str(self.meter)),
            ("tempo", print_tempo(self.tempo)),
            ("feel", self.feel),
        ]
        return "\n".join(
            [f"{word}: {value}" for word, value in head if value] + list(print_bars(self.bars))
        )


def as_chart(value: Chart | str) -> Chart:
    return value if isinstance(value, Chart) else Chart.parse(value)


def chart_of(chords: Iterable[Chord | str], **headers: object) -> Chart:
    """A chart of one chord a bar."""
    found = listed(chords, "list of chords", "chords or their symbols", ChartError)
    return Chart(tuple(Bar((as_chord(chord),)) for chord in found), **headers)  # type: ignore[arg-type]


def _labels(bars: tuple[Bar, ...]) -> list[int]:
    """For each written bar, the bar that carries its section's label (-1 before the first label)."""
    return list(
        accumulate(
            (index if bar.section is not None else -1 for index, bar in enumerate(bars)), max
        )
    )


def _name_at(bars: tuple[Bar, ...], label: int) -> str:
    return (bars[label].section or "") if label >= 0 else ""


def _events(bars: tuple[Bar, ...], order: tuple[int, ...], meter: Meter) -> Iterator[Event]:
    labels = _labels(bars)
    played = sources(bars)
    for number, written in enumerate(order):
        section = _name_at(bars, labels[written])
        cells = bars[played[written]].cells
        onset = number * meter.bar_beats
        lengths: list[Fraction] = []
        chords: list[Chord] = []
        for cell, part in zip(cells, meter.shared(len(cells)), strict=True):
            if isinstance(cell, Chord):
                lengths.append(part)
                chords.append(cell)
            else:
                lengths[-1] += part
        for chord, length in zip(chords, lengths, strict=True):
            yield Event(chord, onset, length, number, section)
            onset += length


def _interval_for(semitones: int, near: NoteName) -> Interval:
    """An upward interval of `semitones` (within the octave) that leaves `near` with the fewest accidentals."""
    fifths = 7 * semitones % 12
    choice = min((fifths, fifths - 12), key=lambda move: (abs(near.fifths + move), -move))
    return Interval.of_fifths(choice)


def _written_simply(chord: Chord) -> Chord:
    """A far-off key's double accidentals are written as everyday names."""
    root, bass = chord.root, chord.bass
    if root is not None and abs(root.accidental) > 1:
        root = root.simple()
    if bass is not None and abs(bass.accidental) > 1:
        bass = bass.simple()
    return replace(chord, root=root, bass=bass)
