"""The explorer's lines: which drills there are over a stretch of changes, each as data to draw and hear, and as a cell.

Onsets and lengths are quarter-note beats; what is drawn is written time, what is heard is swung.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.changes.excerpts import excerpt
from theorylib.errors import DrillError, one_of
from theorylib.names.spelling import pretty_accidentals
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.fingering import finger
from theorylib.playing.lines import Line, Note
from theorylib.practice.approaches import approach_targets
from theorylib.practice.drills import continuous_arpeggio
from theorylib.practice.superimposed import superimposed_arpeggio
from theorylib.practice.through import against_substitute, continuous_scale, guide_tone_line

from ..draw.neck_view import role_of
from ..lesson.cells import block, literal
from ..play.performance import performance


@dataclass(frozen=True, slots=True)
class Asked:
    """What a line is made of: the stretch of changes, an arpeggio ("" for none), the hand's place and the neck."""

    chart: Chart
    arpeggio: str
    position: int
    tuning: Tuning


@dataclass(frozen=True, slots=True)
class Way:
    """A drill of the explorer: what it is called there, how it is made, and the call that a cell makes it by."""

    label: str
    make: Callable[[Asked], Line]
    call: str


def _superimposed(asked: Asked) -> Line:
    return superimposed_arpeggio(asked.chart, asked.arpeggio, asked.position, tuning=asked.tuning)


INTO = "into the next"
# In the order of the list; the first is over one chord, the others go through the whole stretch.
WAYS: Mapping[str, Way] = {
    INTO: Way("This arpeggio, into the next chord", _superimposed,
              "superimposed_arpeggio({chart}, {arpeggio}, {position}{tuning})"),
    "arpeggio": Way("The chords' own arpeggios, one line",
                    lambda asked: continuous_arpeggio(asked.chart, 8, asked.position, tuning=asked.tuning),
                    "continuous_arpeggio({chart}, 8, {position}{tuning})"),
    "scale": Way("The chord scales, one line",
                 lambda asked: continuous_scale(asked.chart, 8, asked.position, tuning=asked.tuning),
                 "continuous_scale({chart}, 8, {position}{tuning})"),
    "guide tones": Way("Guide tones", lambda asked: guide_tone_line(asked.chart, asked.position, tuning=asked.tuning),
                       "guide_tone_line({chart}, {position}{tuning})"),
    "targets": Way("Targets from both sides",
                   lambda asked: approach_targets(asked.chart, "both", asked.position, tuning=asked.tuning),
                   'approach_targets({chart}, "both", {position}{tuning})'),
    "substitute": Way("Each chord, then its best substitute",
                      lambda asked: against_substitute(asked.chart, 8, asked.position, tuning=asked.tuning),
                      "against_substitute({chart}, 8, {position}{tuning})"),
}


def stretch_of(chart: Chart, first: int, last: int) -> Chart:
    """The bars of a form from `first` to `last`, from 0, as a chart of their own."""
    if not 0 <= first <= last < chart.form_bars:
        raise DrillError(f"no bars {first + 1} to {last + 1} in these changes", value=[first, last],
                         expected=f"bars 1 to {chart.form_bars}")
    return replace(excerpt(chart, first + 1, last - first + 1), title="")


def pair_of(chart: Chart, event: int, following: int | None) -> Chart:
    """A chord for a bar, and for another the chord to which it leads (None: it stands alone)."""
    chords = [chart.events[event].chord] + ([] if following is None else [chart.events[following].chord])
    return Chart.parse("| " + " | ".join(map(str, chords)) + " |", meter=str(chart.meter), tempo=str(chart.tempo),
                       feel=chart.feel)


def line_data(way: str, asked: Asked) -> dict[str, Any]:
    """The drill as data: notes, sounds, and the code of its cell; raises its own error where it cannot be."""
    chosen = WAYS[one_of(way, WAYS, "line of the explorer", DrillError)]
    line = finger(chosen.make(asked), asked.tuning, asked.position)
    return shown(line) | {"code": f"as_drill({_call(chosen.call, asked)})"}


def shown(line: Line) -> dict[str, Any]:
    """A fingered line as a browser draws and plays it."""
    chart = line.chart
    return {
        "title": line.title, "length": float(line.length_beats), "bar": float(chart.bar_beats),
        "pulse": float(chart.meter.pulse_beats),
        "chords": [[float(event.onset_beats), event.chord.pretty] for event in line.chords()],
        "notes": [_drawn(line, note) for note in line.notes],
        "sounds": [[float(one.start_beats), float(one.end_beats), one.voice, one.midi, one.source]
                   for one in performance(line)],
    }


def _drawn(line: Line, note: Note) -> dict[str, Any]:
    chord = line.chart.chord_at(note.onset_beats)
    degree = note.degree
    role = role_of(degree, chord, colours=True) if chord is not None and degree else "scale"
    return {"onset": float(note.onset_beats), "beats": float(note.duration_beats), "string": note.string,
            "fret": note.fret, "finger": note.finger, "degree": pretty_accidentals(degree), "role": role,
            "name": note.pitch.name.pretty, "midi": note.pitch.midi, "over": "" if chord is None else chord.pretty}


def _call(call: str, asked: Asked) -> str:
    tuning = "" if asked.tuning == STANDARD else f", tuning={literal(asked.tuning.name)}"
    return call.format(chart=chart_code(asked.chart), arpeggio=literal(asked.arpeggio), position=asked.position,
                       tuning=tuning)


def chart_code(chart: Chart) -> str:
    """A chart's text as it stands in a cell, without the headings that say what holds for every chart."""
    usual = set(str(Chart(chart.bars)).splitlines()) - {line for line in str(chart).splitlines() if line[:1] == "|"}
    text = "\n".join(line for line in str(chart).splitlines() if line not in usual)
    return literal(text) if "\n" not in text else block("\n" + text + "\n")


def picked_line(picked: Sequence[tuple[int, int]], chart: Chart, tuning: Tuning,
                names: Callable[[int], Any]) -> Line:
    """The places that were clicked as a line of eighths over the changes, in their order."""
    notes = []
    for index, (string, fret) in enumerate(picked):
        midi = tuning.midi(string, fret)
        onset = Fraction(index, 2)
        notes.append(Note(tuning.pitch(string, fret, names(midi % 12)), onset, Fraction(1, 2), string, fret))
    return finger(Line(tuple(notes), chart, tuning, "Phrase"), tuning)


def phrase_code(line: Line) -> str:
    """The call of a cell that makes a phrase of a line; its heading is what the changes say."""
    heads = ("title:", "key:", "meter:", "tempo:", "feel:", "over:", "tuning:")
    said = "\n".join(row for row in line.words().splitlines() if not row.startswith(heads))
    text = literal(said) if "\n" not in said else block("\n" + said + "\n")
    tuning = "" if line.tuning == STANDARD else f", tuning={literal(line.tuning.name)}"
    return f"phrase({text}, over={chart_code(line.chart)}{tuning})"
