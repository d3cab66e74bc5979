"""What the explorer holds of some changes: how they are read, and of each chord all that a browser shows unasked.

Everything here is plain data for JSON, made from the values that the rest of the kit computes. A chord is worked out
when it is first asked for and then kept, by what it depends on: the same chord in the same place of a key is one view.
Notes are told by pitch class (0 is C); strings and frets are the browser's, from the tuning.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from theorylib.changes.charts import Chart, Event
from theorylib.errors import VampError
from theorylib.names.arpeggios import GROUPS, KINDS, LEARNT, Arpeggio, arpeggio
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, Pitch, pretty_accidentals
from theorylib.necks.tunings import Tuning, as_tuning
from theorylib.reading.chordscales import function_of, is_altered, scale_degrees
from theorylib.reading.harmony import Harmony, Move, Reading, harmony, next_chords
from theorylib.reading.substitutes import Substitute, substitutes

from ..draw.neck_view import role_of
from ..lesson.derived import target_degrees
from ..play.voice_leading import led


@dataclass(frozen=True, slots=True)
class View:
    """One chord of the changes as it is read there, and the chord to which it leads (None: it stands alone)."""

    reading: Reading
    following: Chord | None

    @property
    def chord(self) -> Chord:
        return self.reading.chord

    @property
    def known_by(self) -> tuple[Any, ...]:
        """What its data depend on."""
        read = self.reading
        return read.chord, read.home, read.key, read.scale, read.alternatives, read.role, self.following, _tongue()

    def substitutes(self) -> tuple[Substitute, ...]:
        """Every arpeggio over the chord, best first, judged in its home, in its own scale where it leaves that."""
        return substitutes(self.chord, self.reading.home, self.following, scale=self.reading.scale)

    def names(self) -> list[str]:
        """How the twelve pitch classes are spelled: as chord and scale have them, all others simply; C first."""
        held = {name.pitch_class: name for name in (*self.reading.scale.names, *self.chord.names)}
        return [str(held.get(pitch) or Pitch.of_midi(pitch).name) for pitch in range(12)]


@dataclass(frozen=True, slots=True)
class Explored:
    """Some changes in a key, as read: each event's view by its number, each different view once."""

    chart: Chart
    read: Harmony
    tuning: Tuning
    views: tuple[View, ...]
    view_of: tuple[int | None, ...]  # by event; None for no chord

    @classmethod
    def of(cls, changes: Chart | str, key: str = "", tuning: Tuning | str = "standard") -> Explored:
        """Read some changes; raises the error that says where they cannot be read."""
        chart = changes if isinstance(changes, Chart) else Chart.parse(changes)
        read = harmony(chart, key or None)
        numbers: dict[tuple[Any, ...], int] = {}
        views: list[View] = []
        view_of: list[int | None] = []
        for place, reading in enumerate(read.chords):
            if reading.chord.root is None:
                view_of.append(None)
                continue
            view = View(reading, next_chords(chart.events, place)[0])
            number = numbers.setdefault(view.known_by, len(views))
            if number == len(views):
                views.append(view)
            view_of.append(number)
        return cls(chart, read, as_tuning(tuning), tuple(views), tuple(view_of))

    def chart_data(self) -> dict[str, Any]:
        """The changes as they stand on top: events in bars, each with its numeral, scale and view."""
        chart = self.chart
        bars: list[list[int]] = [[] for _ in range(chart.form_bars)]
        for place, event in enumerate(chart.events):
            bars[event.bar].append(place)
        homes = {home.scale.pretty: None for home in self.read.homes}
        return {
            "bars": bars, "events": [self._event(place, event) for place, event in enumerate(chart.events)],
            "sections": [[int(one.onset_beats / chart.bar_beats), one.name] for one in chart.sections if one.name],
            "homes": list(homes), "title": chart.title, "tempo": round(float(chart.tempo)), "feel": chart.feel,
            "bar": float(chart.bar_beats), "pulse": float(chart.meter.pulse_beats), "meter": str(chart.meter),
            "strings": [[pitch.name.pretty, self.tuning.midi(string, 0)] for string, pitch in
                        enumerate(self.tuning.open_strings, 1)],
            "lastFret": self.tuning.last_fret,
        }

    def _event(self, place: int, event: Event) -> dict[str, Any]:
        reading = self.read.chords[place]
        return {"chord": event.chord.pretty, "bar": event.bar, "beats": float(event.duration_beats),
                "onset": float(event.onset_beats), "numeral": pretty_accidentals(reading.numeral),
                "scale": reading.scale.pretty if event.chord.root else "", "view": self.view_of[place],
                "pitches": sorted(event.chord.pitch_classes)}

    def view_data(self, number: int) -> dict[str, Any]:
        """All that is shown of a chord: reading, notes and every arpeggio; raises VampError for no such view."""
        return _view_data(self.view(number).known_by, self.view(number)) | {"view": number}

    def words_data(self, number: int, rows: Container[str]) -> dict[str, list[Any]]:
        """By row [reason, parts of the score] of some rows of a view: sentences take longer than all the rest."""
        return {row_id(one): [one.reason, [list(part) for part in one.parts]]
                for one in self.view(number).substitutes() if row_id(one) in rows}

    def view(self, number: int) -> View:
        if not 0 <= number < len(self.views):
            raise VampError(f"no chord {number} in these changes", value=number, expected=f"0 to {len(self.views) - 1}")
        return self.views[number]


class _Held:
    """A view beside what it is known by, so that a cache looks at that alone."""

    __slots__ = ("known_by", "view")

    def __init__(self, known_by: tuple[Any, ...], view: View) -> None:
        self.known_by, self.view = known_by, view

    def __hash__(self) -> int:
        return hash(self.known_by)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and self.known_by == other.known_by


def _view_data(known_by: tuple[Any, ...], view: View) -> dict[str, Any]:
    return _kept_data(_Held(known_by, view))


@lru_cache(maxsize=256)
def _kept_data(held: _Held) -> dict[str, Any]:
    view = held.view
    reading, chord, following = view.reading, view.chord, view.following
    return {
        **_reading_data(reading), "chord": chord.pretty, "text": str(chord), "key": str(reading.home),
        "scaleText": str(reading.scale), "next": following.pretty if following else "",
        "nextText": str(following) if following else "",
        "notes": notes_over(chord, reading.scale, following),
        "nextNotes": notes_over(following, None, None) if following else [],
        "rows": list(rows_of(view.substitutes(), following)), "targets": " ".join(_targets(chord)),
        "sound": _heard(view),
    }


def _targets(chord: Chord) -> tuple[str, ...]:
    """The degrees to aim at unasked: a lesson's; an altered dominant has no plain 9 and 6, so its guide tones."""
    return ("1", *chord.guide_degrees) if is_altered(chord) else target_degrees(chord)


def _reading_data(reading: Reading) -> dict[str, Any]:
    """How the chord is read: its tones, its scale and what else would fit, and its way to the next chord."""
    chord = reading.chord
    return {
        "numeral": pretty_accidentals(reading.numeral), "role": reading.role, "home": reading.home.pretty,
        "scale": reading.scale.pretty,
        "tones": [[tone.name.pretty, pretty_accidentals(tone.degree), role_of(tone.degree, chord)]
                  for tone in chord.tones],
        "tensions": [[name.pretty, pretty_accidentals(degree)] for name, degree in reading.tensions],
        "avoid": [name.pretty for name in reading.avoid],
        "rivals": [[scale.pretty, rival_reason(chord, reading.scale, scale)] for scale in reading.alternatives[:4]],
        "moves": [_move(move) for move in reading.moves],
    }


def rival_reason(chord: Chord, first: Scale, other: Scale) -> str:
    """What another scale has in place of the first choice, by degrees over the chord."""
    here = {name.pitch_class: degree for name, degree in scale_degrees(chord, first)}
    there = {name.pitch_class: degree for name, degree in scale_degrees(chord, other)}
    gained = " ".join(pretty_accidentals(there[pitch]) for pitch in there if pitch not in here)
    lost = " ".join(pretty_accidentals(here[pitch]) for pitch in here if pitch not in there)
    if not gained:
        return f"the same notes without {lost}" if lost else "the same notes"
    return f"{gained} instead of {lost}" if lost else f"{gained} more"


def _move(move: Move) -> list[Any]:
    return [move.from_name.pretty, move.to_name.pretty, move.semitones]


def notes_over(chord: Chord, scale: Scale | None, following: Chord | None) -> list[dict[str, Any]]:
    """What each of the twelve pitch classes is over a chord: name, degree, role, and whether chord or scale hold it.

    `laid` is its role in an arpeggio laid over the chord and `function` its degree there; `way` its half step into the
    next. A note that neither chord nor scale holds has the name of its degree.
    """
    tones = chord.pitch_classes
    held = frozenset() if scale is None else scale.pitch_classes
    ahead = frozenset() if following is None else following.pitch_classes
    found = []
    for pitch, (name, degree) in sorted(spelled_over(chord, scale).items()):
        found.append({"name": name.pretty, "degree": pretty_accidentals(degree), "role": role_of(degree, chord),
                      "chord": pitch in tones, "scale": pitch in held, "way": half_step(pitch, ahead),
                      **_laid_over(chord, pitch)})
    return found


def _laid_over(chord: Chord, pitch: int) -> dict[str, str]:
    assert chord.root is not None
    function = function_of(chord, (pitch - chord.root.pitch_class) % 12)
    return {"function": pretty_accidentals(function), "laid": role_of(function, chord, colours=True)}


def spelled_over(chord: Chord, scale: Scale | None) -> dict[int, tuple[NoteName, str]]:
    """Each pitch class with its name and degree over a chord: as the chord has it, else its scale, else its degree."""
    root = chord.root
    assert root is not None
    degrees = (function_of(chord, step) for step in range(12))
    spelled = {(root.pitch_class + step) % 12: (root.up(Interval.of_degree(degree)), degree)
               for step, degree in enumerate(degrees)}
    in_scale = () if scale is None else scale_degrees(chord, scale)
    return spelled | {name.pitch_class: (name, degree) for name, degree in in_scale} | {
        tone.name.pitch_class: (tone.name, tone.degree) for tone in chord.tones}


def rows_of(found: Sequence[Substitute], following: Chord | None) -> Iterator[dict[str, Any]]:
    """Each arpeggio as a row of the list and a cell of the map, best first.

    What its notes are over the chord, `notes_over` says by pitch class.
    """
    ahead = frozenset() if following is None else following.pitch_classes
    ways = [half_step(pitch, ahead) for pitch in range(12)]
    for one in found:
        value = one.arpeggio
        laid = _laid(value, _tongue())
        yield laid | {
            "id": row_id(one), "kind": one.kind, "step": one.step, "reach": one.reach, "score": one.score,
            "halves": sum(ways[pitch] != 0 for pitch in laid["pitches"]),
        }


def row_id(one: Substitute) -> str:
    """By what a row of the list is the same as a cell of the map: its root above the chord's, and its kind."""
    return f"{one.step}:{one.kind}"


@lru_cache(maxsize=2048)
def _laid(value: Chord | Arpeggio, tongue: str) -> dict[str, Any]:
    """What an arpeggio is, whatever it is laid over."""
    names = value.names
    return {"name": value.pretty, "text": str(value), "pitches": [name.pitch_class for name in names],
            "names": [name.pretty for name in names]}


def _tongue() -> str:
    """What tells the language of the note names apart: B, H or Si."""
    return NoteName("B").pretty


def half_step(pitch: int, ahead: frozenset[int]) -> int:
    """The half step by which a note goes into a chord with these pitch classes: -1 before 1; 0 where it does not.

    A note that the chord shares stays, and so has none.
    """
    if pitch in ahead:
        return 0
    return next((step for step in (-1, 1) if (pitch + step) % 12 in ahead), 0)


def _heard(view: View) -> dict[str, Any]:
    """MIDI numbers of the chord's voicing and bass and of the next chord's; the scale's pitch classes in order."""
    chord, following = view.chord, view.following
    voicings = led([chord] if following is None else [chord, following])
    return {"chord": list(voicings[0]), "next": list(voicings[1]) if following is not None else [],
            "bass": _low(chord), "nextBass": _low(following) if following is not None else None,
            "scale": [name.pitch_class for name in view.reading.scale.names]}


def _low(chord: Chord) -> int:
    """The chord's bass from E1 up."""
    name = chord.bass or chord.root
    assert name is not None
    return 28 + (name.pitch_class - 28) % 12


def kinds_data() -> list[dict[str, Any]]:
    """The kinds of arpeggio, rows of the map: name, group and how soon it is learnt (3 the soonest)."""
    return [{"kind": kind, "group": GROUPS[kind], "learnt": LEARNT.get(kind, 0), "name": _kind_name(kind)}
            for kind in KINDS]


def _kind_name(kind: str) -> str:
    return arpeggio(NoteName("C"), kind).pretty.removeprefix("C").strip() or "major"
