"""What the practice page plays: for each engraved line its sounding notes, its backing, its places and its plan.

Times are swung beats from the start of the line; the browser turns them into seconds at the tempo the student chooses.
All sounds of the page lie in one bank (play.bank).
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from theorylib.names.spelling import pretty_accidentals
from theorylib.playing.difficulty import notes_a_second
from theorylib.playing.lines import Line, Note
from theorylib.practice.drills import tempo_ladder
from theorylib.practice.ear_text import EarTask, Sound

from ..draw.markers import MARKERS, Marker
from ..draw.neck_board import Board, Sizes, board_data
from ..draw.neck_view import role_of
from ..draw.score import setting
from ..draw.screen import DIGIT_UNITS, ScreenScore
from ..listen.for_page import for_page
from ..play.asked import Asked, asked_of
from ..play.backing import BASS, COMP, DRUMS, Backing, Hit, backing
from ..play.band import USUAL, Band
from ..play.bank import HATS, Bank, Want, sample_seconds, wanted
from ..play.instruments import CLEAN, INSTRUMENTS
from ..play.parts import KIT_VOICE
from ..play.performance import VIBRATO_HZ, legato
from ..play.timing import swung, tuplet_pairs
from ..reader import reader
from .remembered import sounds_of

# Of a hit, by what the page calls its part: 0 is the line.
_NUMBER = {COMP: 1, BASS: 2, DRUMS: 3}
NECK = Sizes(fret=58.0, open=44.0, gap=17.0)  # units of the neck under the score
EAR_TEMPO, EAR_VELOCITY = 72, 90              # of tasks for the ear: quarter notes a minute, as loud as a line
STEPS = 4                                     # of a plan that the lesson does not print


@dataclass(frozen=True, slots=True)
class PageSound:
    """What a page sounds with: its own bank of sounds, from our voices or a SoundFont's, or none and all in silence.

    `under` its lines plays a band, or the recording that data (own_track.page_track) are of; None: the lesson's own.
    """

    bank: bool = True
    soundfont: Path | str | None = None
    under: Band | Mapping[str, Any] | None = None


SOUNDING, MUTE = PageSound(), PageSound(bank=False)


@dataclass(frozen=True, slots=True)
class Drill:
    """A line on the page: the number of its figure, its engravings, the tempos of its plan (none: the usual), and which
    of the lesson's lines it is, as `vampbook take --line` counts them."""

    number: int
    line: Line
    scores: tuple[ScreenScore, ...] = ()
    tempos: tuple[int, ...] = ()
    order: int = 1

    @property
    def key(self) -> str:
        """What its ticks and tempos are kept by: another line has another one."""
        return _digest(self.line.to_json())


def practice_data(drills: Sequence[Drill], about: Mapping[str, Any], ear: Sequence[EarTask] = (),
                  sound: PageSound = SOUNDING) -> str:
    """The page's data as JSON text, safe inside a script element; `about` is what the lesson says of itself, `ear` are
    the tasks for the ear that the page shows.
    """
    lengths: dict[Want, float] = {}  # what the lines and tasks below want to sound, and for how long
    band = sound.under or USUAL
    lines = _lines(drills, lengths, band.for_practice if isinstance(band, Band) else band)
    tasks = [_asked(task, lengths) for task in ear]
    sounds = sounds_of(lengths, sound.soundfont) if sound.bank else Bank(b"", dict.fromkeys(lengths, (0.0, 0.0)))
    index = {want: place for place, want in enumerate(sorted(sounds.places))}
    data = {
        "pack": pack_key(about, [drill.line for drill in drills]), "title": str(about.get("title", "Lesson")),
        "lines": [_with_samples(one, index) for one in lines],
        "ear": [_with_places(one, index) for one in tasks], "ear_tempo": EAR_TEMPO,
        "bank": base64.b64encode(sounds.flac).decode(), "samples": [list(sounds.places[want]) for want in index],
        "chokes": [place for want, place in index.items() if _is_hat(want)], "vibrato_hz": VIBRATO_HZ,
        "track": None if isinstance(band, Band) else dict(band), "hearing": for_page(),
        "signs": {role: _sign(marker) for role, marker in MARKERS.items()}, "digit": DIGIT_UNITS,
        "left": reader().left_handed, "large": bool(about.get("large_print")),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True).replace("<", "\\u003c")


def _lines(drills: Sequence[Drill], lengths: dict[Want, float], band: Band | Mapping[str, Any]) -> list[dict[str, Any]]:
    """Each line with what it is kept by: its own key, and which of several equal lines it is."""
    keys = [drill.key for drill in drills]
    return [_drill(drill, lengths, band) | {"key": f"{drill.key}-{keys[:place].count(drill.key)}"}
            for place, drill in enumerate(drills)]


def _with_places(task: dict[str, Any], index: Mapping[Want, int]) -> dict[str, Any]:
    """A task for the ear whose sounds are places of the bank."""
    return task | {part: [[start, end, index[want]] for start, end, want in task[part]] for part in ("sounds", "after")}


def _is_hat(want: Want) -> bool:
    """Is this a sound of the hi-hat, which is cut off where the next one of it begins?"""
    return want.voice in KIT_VOICE.values() and want.midi in HATS


def _sign(marker: Marker) -> dict[str, Any]:
    return {"size": marker.size, "text": marker.text, "corners": [list(one) for one in marker.corners]}


def pack_key(about: Mapping[str, Any], lines: Sequence[Line]) -> str:
    """The pack's own identity, by which a browser keeps what was done with it.

    Title and student alone would mix the ticks of two lessons of one title, so the changes count too; the drills' notes
    do not, so that a mended drill leaves the rest of what is kept in place.
    """
    changes = sorted({str(line.chart) for line in lines})
    return _digest(json.dumps([str(about.get("title", "")), str(about.get("student", "")), changes]))


def moments_of(line: Line) -> tuple[Fraction, ...]:
    """The written onsets of a line, each once: where its cursor stands."""
    return tuple(sorted({note.onset_beats for note in line.notes}))


def _turn(line: Line) -> Fraction:
    """The beat at which a line played again begins anew: its end, or where it rests in one bar after whole forms."""
    forms, more = divmod(line.length_beats, line.chart.length_beats)
    turn = line.length_beats - more
    rests = forms and 0 < more <= line.chart.bar_beats and sum(note.onset_beats >= turn for note in line.notes) == 1
    return turn if rests else line.length_beats


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _drill(drill: Drill, lengths: dict[Want, float], band: Band | Mapping[str, Any]) -> dict[str, Any]:
    """A drill as the page has it, with the sounds of its band; over a recording, with tempos at which it is played."""
    limits = None if isinstance(band, Band) or drill.order in band["others"] else band["limits"]
    line, chart = drill.line, drill.line.chart
    return {
        "figure": drill.number, "order": drill.order, "name": line.title or "Line", "setting": setting(line),
        "tempo": float(chart.tempo),
        "bar": _number(chart.bar_beats), "pulse": _number(chart.meter.pulse_beats),
        "length": _number(line.length_beats), "turn": _number(_turn(line)),
        "changes": list(_changes(line)), "steps": _steps(line),
        "notes": list(_notes(line, lengths)), "asked": asked_rows(line),
        "backing": list(_backing(line, lengths, band)) if isinstance(band, Band) else [],
        "places": [_place(line, note) for note in line.notes], "neck": _neck(line),
        "plan": [[tempo, round(notes_a_second(line, tempo), 1)] for tempo in _tempos(drill, limits)],
        "scores": {score.name: _score(score) for score in drill.scores},
    }


def _notes(line: Line, lengths: dict[Want, float]) -> Iterator[list[Any]]:
    """[start, end, sound, gain, path of its pitch, vibrato] of each note as it is played."""
    seconds = 60 / float(line.chart.tempo)
    for sound in legato(line):
        want = wanted(sound.voice, sound.midi, sound.velocity)
        _need(lengths, want, float(sound.end_beats - sound.start_beats) * seconds)
        path = [[_number(beat), _number(cents)] for beat, cents in sound.path]
        wave = None if sound.vibrato is None else [_number(sound.vibrato.start_beats), sound.vibrato.width_cents]
        yield [_number(sound.start_beats), _number(sound.end_beats), want,
               round((sound.velocity / 100) ** 0.5, 3), path, wave]


def _backing(line: Line, lengths: dict[Want, float], band: Band) -> Iterator[list[Any]]:
    """[start, end, sound, gain, part] of each sound of the backing under the line."""
    seconds = 60 / float(line.chart.tempo)
    passes = -(-line.bar_count // max(1, line.chart.form_bars))
    track = backing(line.chart, passes=max(1, passes), band=band)
    for hit in track.hits:
        if hit.start_beats < line.length_beats:
            want = wanted(track.voice(hit.part), hit.midi, hit.velocity)
            _need(lengths, want, float(hit.length_beats) * seconds)
            late = Fraction(round(hit.late_ms / 1000 / seconds * 1000), 1000)
            start = max(Fraction(0), hit.start_beats + late)
            yield [_number(start), _number(start + hit.length_beats), want, _gain(track, hit, want), _NUMBER[hit.part]]


def _gain(track: Backing, hit: Hit, want: Want) -> float:
    """A hit's share of the page's mix: its voice's, its part's in the style's mix, and its loudness for its sample's.

    Amplitude goes with the square of velocity, as General MIDI instruments have it (the MMA's recommendation).
    """
    voice = INSTRUMENTS[want.voice].page_gain * 10 ** (track.mix_db(hit.part) / 20)
    return round(voice * (hit.velocity / want.velocity) ** 2, 3)


def _asked(task: EarTask, lengths: dict[Want, float]) -> dict[str, Any]:
    """A task for the ear: [start, end, sound] of what is asked and of what is told, in beats, and the answer."""
    return {"sounds": list(_heard(task.sounds, lengths)), "after": list(_heard(task.after, lengths)),
            "answer": task.answer, "right": task.choices.index(task.answer) if task.choices else -1}


def _heard(sounds: Iterable[Sound], lengths: dict[Want, float]) -> Iterator[list[Any]]:
    for sound in sounds:
        want = wanted(CLEAN, sound.midi, EAR_VELOCITY)
        # At its own tempo alone: a sample need not last for a slower one.
        lengths[want] = max(lengths.get(want, 0.0), float(sound.duration_beats) * 60 / EAR_TEMPO)
        yield [_number(sound.onset_beats), _number(sound.onset_beats + sound.duration_beats), want]


def _need(lengths: dict[Want, float], want: Want, seconds: float) -> None:
    lengths[want] = max(lengths.get(want, 0.0), sample_seconds(want, seconds))


def _with_samples(made: dict[str, Any], index: Mapping[Want, int]) -> dict[str, Any]:
    for key in ("notes", "backing"):
        made[key] = [[*row[:2], index[row[2]], *row[3:]] for row in made[key]]
    return made


STRUCK, PITCHED, MOVING = 1, 2, 4  # what is true of a note that a take is held against


def asked_rows(line: Line) -> list[list[Any]]:
    """[index, start, length (swung beats), pitch at its start, fretted pitch, what is true of it, bar, beat] of each
    note that a take is held against."""
    return [_asked_row(one) for one in asked_of(line)]


def _asked_row(one: Asked) -> list[Any]:
    sound = one.sound
    cents = float(sound.path[0][1]) if sound.path else 0.0
    true = STRUCK * one.struck + PITCHED * one.pitched + MOVING * bool(sound.path or sound.vibrato)
    return [one.index, _number(sound.start_beats), _number(sound.end_beats - sound.start_beats),
            round(sound.midi + cents / 100), sound.midi, true, one.bar, _number(one.beat)]


def _changes(line: Line) -> Iterator[list[list[Any]]]:
    """Of each bar of the form as it sounds its chords: [beat within the bar, symbol]."""
    chart = line.chart
    for bar in range(min(chart.form_bars, line.bar_count)):
        start = bar * chart.bar_beats
        yield [[_number(event.onset_beats - start), event.chord.pretty] for event in chart.events_in(bar)]


def _steps(line: Line) -> list[list[Any]]:
    """[swung beat, note indexes] of each moment at which a note is written: where the cursor stands."""
    found: dict[Fraction, list[int]] = {moment: [] for moment in moments_of(line)}
    for index, note in enumerate(line.notes):
        found[note.onset_beats].append(index)
    straight = tuplet_pairs(line)
    return [[_number(swung(beat, line.chart, straight)), indexes] for beat, indexes in found.items()]


def _place(line: Line, note: Note) -> list[Any] | None:
    """[string, fret, degree, note name, role in the chord] of a note; None without a place."""
    if note.place is None:
        return None
    chord = line.chart.chord_at(note.onset_beats)
    role = role_of(note.degree, chord) if chord is not None and note.degree else "scale"
    return [note.string, note.fret, pretty_accidentals(note.degree), note.pitch.name.pretty, role]


def _neck(line: Line) -> dict[str, Any] | None:
    """The part of the neck that the line uses; None for a line without places."""
    frets = [note.fret for note in line.notes if note.fret is not None]
    if not frets or any(note.place is None for note in line.notes):
        return None
    fretted = [fret for fret in frets if fret] or [1]
    low = 0 if 0 in frets else max(1, min(fretted) - 1)
    high = max(max(fretted) + 1, min(fretted) + 4)
    return board_data(Board(low, high, len(line.tuning.open_strings), NECK), line.tuning)


def _tempos(drill: Drill, limits: Sequence[int] | None) -> Sequence[int]:
    steps = drill.tempos or tempo_ladder(Fraction(drill.line.chart.tempo), STEPS)
    if limits is None:
        return steps
    low, high = limits
    return tuple(dict.fromkeys(min(high, max(low, step)) for step in steps))


def _score(score: ScreenScore) -> dict[str, Any]:
    """Where everything stands in an engraving, in units of its viewBox."""
    return {
        "width": score.width, "height": score.height,
        "systems": [[one.top, one.bottom, [list(bar) for bar in one.bars]] for one in score.systems],
        "places": [list(place) for place in score.places],
    }


def _number(value: Fraction) -> float | int:
    return int(value) if value.denominator == 1 else round(float(value), 6)
