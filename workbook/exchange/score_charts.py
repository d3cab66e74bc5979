"""The changes of a score as a chart: chord symbols on the bars of a line, keys, tempo, feel and sections.

Our own files keep their chart in words as well; it counts where what the file shows still says the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from theorylib.changes.bars import Bar, only_changes
from theorylib.changes.charts import Chart
from theorylib.changes.meters import Meter
from theorylib.errors import MusicFileError, VampError
from theorylib.names.chords import NO_CHORD, Chord

from .bar_grid import Placed
from .scores import Ledger, Measure, Score

DEFAULT_TEMPO = Fraction(100)


def labels_of(placed: Sequence[Placed], bar_beats: Fraction) -> dict[int, str]:
    """The file's number of each bar of the line."""
    found: dict[int, str] = {}
    for one in placed:
        found.setdefault(int(one.start_beats // bar_beats), one.measure.label)
    return found


def chart_of_bars(score: Score, part: int, placed: Sequence[Placed], meter: Meter, over: Chart | None,
                  ledger: Ledger) -> tuple[Chart, Fraction]:
    """The chart and the length of the line in beats; raises MusicFileError where `over` has another meter."""
    bar = meter.bar_beats
    last = placed[-1]
    length = -(-(last.start_beats + (last.measure.length_beats or bar)) // bar) * bar
    if over is not None:
        if over.meter.bar_beats != bar:
            raise MusicFileError(f"the chart is in {over.meter}, the file in {meter}", value=str(over.meter),
                                 expected=f"a chart in {meter}")
        _say_other(over, placed, ledger)
        return _after_pickup(over, placed, length, ledger), length
    chart = _chart(score, part, placed, meter, int(length / bar), ledger)
    return _own_chart(placed, chart, length) or chart, length


def _say_other(over: Chart, placed: Sequence[Placed], ledger: Ledger) -> None:
    """The lesson's changes have their own tempo and feel; where the file's differ, that is said."""
    tempo = next((one.measure.tempo for one in placed if one.measure.tempo is not None), over.tempo)
    feel = next((one.measure.feel for one in placed if one.measure.feel), over.feel)
    if feel != over.feel:
        ledger.say(f"the file is in {feel}, the changes are in {over.feel}: played as the changes say (feel: {feel})")
    if tempo != over.tempo:
        ledger.say(f"the file's tempo is {float(tempo):g}, that of the changes {float(over.tempo):g}, which counts")


def _after_pickup(over: Chart, placed: Sequence[Placed], length: Fraction, ledger: Ledger) -> Chart:
    """The lesson's changes, which begin with the first whole bar; the form is written as often as the line needs it."""
    if not placed[0].start_beats or not over.length_beats:
        return over
    ledger.say("the changes begin after the pickup", placed[0].measure.label)
    times = max(1, int(-(-(length - over.bar_beats) // over.length_beats)))
    return replace(over, bars=(Bar((NO_CHORD,)), *over.bars * times))


def _chart(score: Score, part: int, placed: Sequence[Placed], meter: Meter, count: int, ledger: Ledger) -> Chart:
    bar = meter.bar_beats
    symbols = _symbols(score, part, placed, ledger)
    labels = labels_of(placed, bar)
    by_bar: dict[int, dict[Fraction, Chord]] = {}
    for onset, chord in symbols:
        number = min(int(onset // bar), count - 1)
        by_bar.setdefault(number, {})[onset - number * bar] = chord
    at_bar: dict[int, Measure] = {}
    for one in placed:
        at_bar.setdefault(int(one.start_beats // bar), one.measure)
    bars: list[Bar] = []
    current = NO_CHORD
    key = placed[0].measure.key
    section: str | None = None
    for number in range(count):
        here = dict(sorted(by_bar.get(number, {}).items()))
        here.setdefault(Fraction(0), current)
        cells = _cells(here, meter, labels.get(number, ""), ledger)
        current = here[max(here)]
        measure = at_bar.get(number)
        key = measure.key if measure is not None else key
        section = measure.section or None if measure is not None else None
        bars.append(Bar(cells, section=section, key=key))
    first = placed[0].measure.key
    written = tuple(only_changes(bars, first)) if first is not None else tuple(
        replace(one, key=None) for one in bars)
    if first is None and any(one.measure.key is not None for one in placed):
        written = tuple(only_changes(bars, None))
    return Chart(written, key=first, meter=meter, tempo=_tempo(placed, ledger), feel=_feel(placed, ledger))


def _symbols(score: Score, part: int, placed: Sequence[Placed], ledger: Ledger) -> list[tuple[Fraction, Chord]]:
    """Chord symbols with their beat in the line: those of the part, else of the first part that has some."""
    found = [(one.start_beats + onset, chord) for one in placed for onset, chord in one.measure.chords]
    if found:
        return found
    starts = {id(measure): index for index, measure in enumerate(score.parts[part].measures)}
    for other in score.parts:
        found = [(one.start_beats + onset, chord) for one in placed
                 if (index := starts.get(id(one.measure))) is not None and index < len(other.measures)
                 for onset, chord in other.measures[index].chords]
        if found:
            ledger.say(f"the chord symbols are those of the part “{other.name}”")
            return found
    ledger.say("no chord symbols: give the changes with over=")
    return []


def _cells(here: dict[Fraction, Chord], meter: Meter, label: str, ledger: Ledger) -> tuple[Chord | str, ...]:
    """The cells of a bar: its chords as they share it or on its pulses; one between two counts for the pulse before."""
    onsets = sorted(here)
    if onsets == list(accumulate(meter.shared(len(onsets))[:-1], initial=Fraction(0))):
        return tuple(here[onset] for onset in onsets)
    cells: list[Chord | str] = ["/"] * meter.pulses
    for onset in onsets:
        number = min(int(onset // meter.pulse_beats), meter.pulses - 1)
        if onset % meter.pulse_beats:
            ledger.say(f"{here[onset]} between two beats is written on the beat before it", label)
        cells[number] = here[onset]
    return tuple(cells)


def _tempo(placed: Sequence[Placed], ledger: Ledger) -> Fraction:
    stated = [(one.measure.tempo, one.measure.label) for one in placed if one.measure.tempo is not None]
    if not stated:
        ledger.say(f"no tempo: {DEFAULT_TEMPO} is taken")
        return DEFAULT_TEMPO
    first, _ = stated[0]
    for tempo, label in stated[1:]:
        if tempo != first:
            ledger.say(f"the tempo changes; the line stays at {float(first):g}", label)
    return first


def _feel(placed: Sequence[Placed], ledger: Ledger) -> str:
    stated = [(one.measure.feel, one.measure.label) for one in placed if one.measure.feel]
    for feel, label in stated[1:]:
        if feel != stated[0][0]:
            ledger.say(f"the feel changes to {feel}; the line stays {stated[0][0]}", label)
    return stated[0][0] if stated else "straight 8"


def _own_chart(placed: Sequence[Placed], shown: Chart, length: Fraction) -> Chart | None:
    """The chart that our own file keeps in words, where it says what the file shows."""
    text = placed[0].measure.own.get("chart")
    if text is None:
        return None
    try:
        kept = Chart.parse(text)
    except VampError:
        return None
    if not kept.length_beats:
        return None
    theirs = [(event.chord, event.onset_beats) for event in shown.events]
    ours = [(event.chord, event.onset_beats + turn * kept.length_beats)
            for turn in range(int(-(-length // kept.length_beats))) for event in kept.events
            if event.onset_beats + turn * kept.length_beats < length]
    same_head = (kept.meter, kept.feel, f"{float(kept.tempo):g}") == (
        shown.meter, shown.feel, f"{float(shown.tempo):g}")
    return kept if same_head and _without_repeats(ours) == _without_repeats(theirs) else None


def _without_repeats(events: Sequence[tuple[Chord, Fraction]]) -> list[tuple[Chord, Fraction]]:
    return [event for index, event in enumerate(events) if index == 0 or events[index - 1][0] != event[0]]
