"""Backing tracks and takes for the listening tests, played by a band of the tests' own, everything about them known.

Nothing here is the product's: chords are spelled out in semitones by hand, the parts are written here, and the sound is
a SoundFont's (TimGM6mb, in the wheel of pretty_midi, unless another is named), which the chord model never heard.
`TRACKS` are the held-out tracks: walking bass, slash chords, drift, a room, noise, MP3, no drums, 3/4, 5/4, 7/8.
"""

from __future__ import annotations

import importlib.util
import io
import re
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import mido
import numpy as np
import soundfile
from support.timed_midi import TICKS, timed_midi

RATE = 48_000
STEPS = {"": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "maj7": (0, 4, 7, 11), "m7": (0, 3, 7, 10),
         "m7b5": (0, 3, 6, 10), "9": (0, 4, 7, 10, 14), "m9": (0, 3, 7, 10, 14), "7#9": (0, 4, 7, 10, 15),
         "7b9": (0, 4, 7, 10, 13), "6": (0, 4, 7, 9), "5": (0, 7), "maj9": (0, 4, 7, 11, 14), "13": (0, 4, 10, 14, 21)}
HARTE = {"": "maj", "m": "min", "7": "7", "maj7": "maj7", "m7": "min7", "m7b5": "hdim7", "9": "7", "m9": "min7",
         "7#9": "7", "7b9": "7", "6": "maj", "5": "maj", "maj9": "maj7", "13": "7"}
CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
BASS, COMP, LEAD, DRUM = 0, 1, 2, 9
KICK, SNARE, HAT, RIDE, RIM = 35, 40, 44, 53, 39


@dataclass(frozen=True)
class Track:
    """A track to be played. `changes` are bars parted by |, chords of a bar by spaces; `beats` of 1/`unit` a bar."""

    name: str
    tempo: float  # quarter notes a minute
    changes: str
    style: str
    passes: int = 4
    beats: int = 4
    unit: int = 4
    key: str = ""
    drums: bool = True
    drift: float = 0.0   # share by which the tempo wanders
    room: float = 0.0    # share of reverberation
    noise_db: float = 0.0  # below the music; 0 is none
    mp3: bool = False
    cents: float = 0.0
    programs: tuple[int, int] = (32, 0)  # bass and chords, General MIDI from 0


@dataclass
class Played:
    """A track as it sounds, with its truth: pulses, first beats of bars, chords as (start, end, Harte's name)."""

    audio: Any
    beats: list[float] = field(default_factory=list)
    downbeats: list[float] = field(default_factory=list)
    chords: list[tuple[float, float, str]] = field(default_factory=list)


def pitch_class(name: str) -> int:
    return (CLASSES[name[0]] + name.count("#") - name[1:].count("b")) % 12


def read_chord(text: str) -> tuple[int, str, int]:
    """(root, quality, bass) of a symbol."""
    root, quality, bass = re.fullmatch(r"([A-G][#b]?)([^/]*)(?:/([A-G][#b]?))?", text).groups()
    return pitch_class(root), quality, pitch_class(bass or root)


def timgm() -> Path:
    return Path(importlib.util.find_spec("pretty_midi").submodule_search_locations[0]) / "TimGM6mb.sf2"


@cache
def _font(path: Path) -> bytes:
    return path.read_bytes()


def sound_of(notes: list[tuple[float, float, int, int, int]], programs: dict[int, int], font: Path | None = None,
             bends: list[tuple[float, int, float]] = ()) -> Any:
    """(start, end, channel, midi, velocity) in seconds, and bends as (second, channel, cents), rendered: stereo."""
    import midirenderer

    events: list[tuple[int, int, Any]] = []
    for channel, program in programs.items():
        events.append((0, 0, mido.Message("program_change", channel=channel, program=program)))
        for control, value in ((101, 0), (100, 0), (6, 12), (38, 0)):
            events.append((0, 1, mido.Message("control_change", channel=channel, control=control, value=value)))
    for start, end, channel, midi, velocity in notes:
        at = max(0, round(start * TICKS))
        events.append((at, 3, mido.Message("note_on", channel=channel, note=midi, velocity=max(1, min(127, velocity)))))
        events.append((max(at + 20, round(end * TICKS)), 2, mido.Message("note_off", channel=channel, note=midi)))
    for at, channel, cents in bends:
        wheel = max(-8192, min(8191, round(cents / 1200 * 8192)))
        events.append((round(at * TICKS), 1, mido.Message("pitchwheel", channel=channel, pitch=wheel)))
    wave = midirenderer.render_wave_from(_font(font or timgm()), timed_midi(events))
    return soundfile.read(io.BytesIO(wave), dtype="float32", always_2d=True)[0]


def play(track: Track, font: Path | None = None, lead_in: float = 0.35) -> Played:
    """The track, beginning after `lead_in` seconds."""
    rng = Random(track.name)
    bars = [[read_chord(one) for one in bar.split()] for bar in track.changes.strip("| ").split("|")] * track.passes
    pulse = 60 / track.tempo * 4 / track.unit
    clock = _clock(len(bars) * track.beats, pulse, track.drift, lead_in)
    found = Played(None)
    notes: list[tuple[float, float, int, int, int]] = []

    def at(beat: float) -> float:
        return float(np.interp(beat, np.arange(len(clock)), clock))

    flat = [chord for bar in bars for chord in bar]
    number = 0
    for index, bar in enumerate(bars):
        first = index * track.beats
        found.beats += [at(first + step) for step in range(track.beats)]
        found.downbeats.append(at(first))
        edges = _edges(track.beats, len(bar))
        for chord, start, end in zip(bar, edges, edges[1:], strict=False):
            number += 1
            following = flat[number % len(flat)]
            found.chords.append((at(first + start), at(first + end), _harte(chord)))
            for one in _BASS[track.style](chord, following, end - start, rng):
                notes.append((at(first + start + one[0]), at(first + start + one[1]), BASS, one[2], one[3]))
            for one in _COMP[track.style](chord, end - start, rng):
                notes.append((at(first + start + one[0]), at(first + start + one[1]), COMP, one[2], one[3]))
        if track.drums:
            notes += [(at(first + when), at(first + when) + 0.1, DRUM, key, loud)
                      for when, key, loud in _drums(track, rng, index)]
    notes = [(start + rng.gauss(0, 0.004), end, *rest) for start, end, *rest in notes]
    bass, comp = track.programs
    bends = [(0.0, channel, track.cents) for channel in (BASS, COMP)] if track.cents else []
    found.audio = _treated(sound_of(notes, {BASS: bass, COMP: comp}, font, bends), track)
    return found


def _clock(beats: int, pulse: float, drift: float, lead_in: float) -> Any:
    """Seconds at each pulse: the tempo wanders slowly by `drift` to either side."""
    lengths = pulse * (1 + drift * np.sin(2 * np.pi * np.arange(beats + 8) / 61))
    return lead_in + np.concatenate([[0.0], np.cumsum(lengths)])


def _edges(beats: int, chords: int) -> list[float]:
    halves = {1: [0, beats], 2: [0, (beats + 1) // 2, beats]}
    return halves.get(chords) or [round(beats * step / chords) for step in range(chords + 1)]


def _harte(chord: tuple[int, str, int]) -> str:
    root, quality, _ = chord
    name = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")[root]
    return f"{name}:{HARTE[quality]}"


def _low(pitch: int, floor: int = 28) -> int:
    return floor + (pitch - floor) % 12


def _walking(chord: Any, following: Any, beats: float, rng: Random) -> Any:
    root, quality, bass = chord
    tones, goal = STEPS[quality], _low(following[2])
    for beat in range(int(beats)):
        if beat == 0:
            midi = _low(bass)
        elif beat == int(beats) - 1:
            midi = goal + rng.choice((-1, 1, -2, 2, 7))
        else:
            midi = _low(root + rng.choice(tones[1:4] if len(tones) > 2 else tones))
        yield beat, beat + 0.92, max(28, midi), 92 + 6 * (beat == 0)
        if rng.random() < 0.15:
            yield beat + 0.66, beat + 0.9, _low(root), 60


def _roots(chord: Any, following: Any, beats: float, rng: Random) -> Any:
    root, _, bass = chord
    yield 0, 1.4, _low(bass), 100
    if beats > 1.5:
        yield 1.5, 1.95, _low(bass), 80
    for beat in range(2, int(beats)):
        yield beat, beat + 0.9, _low(root + (7 if beat % 2 == 0 else 0)), 90


def _eighths(chord: Any, following: Any, beats: float, rng: Random) -> Any:
    for half in range(int(2 * beats)):
        yield half / 2, half / 2 + 0.45, _low(chord[2]), 100 - 14 * (half % 2)


def _boogie(chord: Any, following: Any, beats: float, rng: Random) -> Any:
    for beat in range(int(beats)):
        step = (0, 4, 7, 9)[beat % 4] if "m" not in chord[1] else (0, 3, 7, 10)[beat % 4]
        yield beat, beat + 0.6, _low(chord[2] + step if beat else chord[2]), 98
        yield beat + 2 / 3, beat + 0.95, _low(chord[2] + step if beat else chord[2]), 74


def _funk(chord: Any, following: Any, beats: float, rng: Random) -> Any:
    for when, step, loud in ((0, 0, 106), (0.75, 0, 70), (1.5, 12, 84), (1.75, 0, 68), (2.5, 7, 80), (3.25, 10, 76)):
        if when < beats:
            yield when, when + 0.22, _low(chord[2]) + step, loud


def _voiced(chord: Any) -> list[int]:
    root, quality, _ = chord
    return sorted(52 + (root + step - 52) % 12 for step in STEPS[quality])


def _stabs(*times: float) -> Any:
    def comp(chord: Any, beats: float, rng: Random) -> Any:
        for when in times:
            if when < beats:
                for midi in _voiced(chord):
                    yield when, when + 0.35, midi, 70 + rng.randrange(12)
    return comp


def _held(chord: Any, beats: float, rng: Random) -> Any:
    for midi in _voiced(chord):
        yield 0, beats - 0.1, midi, 72


def _picked(chord: Any, beats: float, rng: Random) -> Any:
    voices = _voiced(chord)
    for half in range(int(2 * beats)):
        yield half / 2, half / 2 + 1.2, voices[(0, 2, 1, 2)[half % 4] % len(voices)] + 12 * (half % 8 == 6), 78


def _strum(chord: Any, beats: float, rng: Random) -> Any:
    for half in range(int(2 * beats)):
        if half % 4 != 1:
            for place, midi in enumerate(_voiced(chord)):
                yield half / 2 + 0.012 * place, half / 2 + 0.45, midi, 82 - 12 * (half % 2)


_BASS = {"walking": _walking, "groove": _funk, "shuffle": _boogie, "rock": _eighths, "ballad": _roots, "waltz": _roots,
         "folk": _roots}
_COMP = {"walking": _stabs(0.66, 2.0, 2.66), "groove": _stabs(0.5, 1.25, 2.75, 3.5), "shuffle": _stabs(1, 1.66, 3),
         "rock": _strum, "ballad": _held, "waltz": _stabs(1, 2), "folk": _picked}


def _drums(track: Track, rng: Random, bar: int) -> Any:
    swung = 2 / 3 if track.style in ("walking", "shuffle") else 0.5
    beats, eighth = track.beats, track.unit == 8
    for beat in range(beats):
        yield beat, RIDE if track.style == "walking" else HAT, 74 + 14 * (beat == 0)
        if not eighth and (track.style != "walking" or beat % 2):
            yield beat + swung, RIDE if track.style == "walking" else HAT, 50
    backs = {(4, 4): (1, 3), (3, 4): (1, 2), (5, 4): (3,), (7, 8): (4,), (6, 8): (3,)}.get((beats, track.unit), (2,))
    kicks = {(4, 4): (0, 2.5 if track.style == "rock" else 2), (5, 4): (0, 2), (7, 8): (0, 2)}.get((beats, track.unit),
                                                                                               (0,))
    for beat in kicks:
        if track.style != "walking" or rng.random() < 0.5:
            yield beat, KICK, 104 if beat == 0 else 90
    for beat in backs:
        if track.style != "walking":
            yield beat, SNARE if track.style != "ballad" else RIM, 96
    if bar % 8 == 7:
        yield from ((beats - 1 + step / 4, SNARE, 60 + 10 * step) for step in range(4))


def _treated(audio: Any, track: Track) -> Any:
    rng = np.random.default_rng(len(track.name))
    if track.room:
        from scipy.signal import fftconvolve

        tail = np.exp(-np.arange(int(0.9 * RATE)) / (0.22 * RATE)) * rng.normal(size=int(0.9 * RATE)) * 0.03
        tail[0] = 1.0 / track.room
        audio = np.stack([fftconvolve(audio[:, one], tail)[:len(audio)] for one in (0, 1)], axis=1)
    audio = audio / np.abs(audio).max() * 0.8
    if track.noise_db:
        audio = audio + rng.normal(size=audio.shape) * np.std(audio) * 10 ** (-track.noise_db / 20)
    audio = np.clip(audio, -1, 1).astype(np.float32)
    if track.mp3:
        written = io.BytesIO()
        soundfile.write(written, audio, RATE, format="MP3", subtype="MPEG_LAYER_III", bitrate_mode="CONSTANT",
                        compression_level=0.7)
        audio = soundfile.read(io.BytesIO(written.getvalue()), dtype="float32", always_2d=True)[0]
    return audio


TRACKS = (
    Track("minor groove", 96, "Am7 | D9 | Am7 | D9", "groove", 6, key="A dorian", programs=(33, 4)),
    Track("slash loop", 74, "Dm7 | Dm7/C | Bbmaj7 | A7#9", "ballad", 6, key="D minor", programs=(32, 5)),
    Track("shuffle blues", 112, "G7 | C7 | G7 | G7 | C7 | C7 | G7 | G7 | D7 | C7 | G7 | D7", "shuffle", 3,
          key="G blues", programs=(33, 27)),
    Track("fast rock", 168, "Em | C | G | D", "rock", 10, key="E minor", programs=(34, 29)),
    Track("modern minor", 88, "Fm9 | Dbmaj7 | Abmaj7 | Eb Gm7", "groove", 5, key="F minor", programs=(38, 4)),
    Track("swing twos", 140, "Dm7 G7 | Cmaj7 A7 | Dm7 G7 | Cmaj7", "walking", 8, key="C major", programs=(32, 0)),
    Track("swing minor", 176, "Cm7 | Fm7 | Dm7b5 G7 | Cm7", "walking", 9, key="C minor", programs=(32, 26)),
    Track("swing alone", 120, "Gm7 | C7 | Fmaj7 | D7", "walking", 6, key="F major", drums=False, programs=(32, 0)),
    Track("waltz", 132, "Bm7 | E7 | Amaj7 | F#7", "waltz", 7, 3, key="A major", programs=(32, 0)),
    Track("waltz room", 104, "G | Em | C | D7", "waltz", 6, 3, key="G major", room=0.5, programs=(32, 24)),
    Track("five", 126, "Ebm7 | Ab7 | Ebm7 | B", "ballad", 6, 5, key="Eb minor", programs=(33, 4)),
    Track("seven", 108, "Em7 | A7 | Em7 | C", "rock", 8, 7, 8, key="E minor", programs=(33, 25)),
    Track("drifting", 100, "C | Am | F | G", "folk", 7, drift=0.03, key="C major", programs=(32, 24)),
    Track("drifting swing", 150, "Bbmaj7 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7", "walking", 7, drift=0.02, key="Bb major"),
    Track("noisy", 120, "Am | F | C | G", "rock", 7, key="A minor", noise_db=20, programs=(33, 30)),
    Track("roomy", 92, "F#m7 | B7 | E | C#7", "groove", 5, key="E major", room=0.8, programs=(33, 5)),
    Track("mp3", 104, "Dm | Bb | F | C", "rock", 6, key="D minor", mp3=True, programs=(34, 27)),
    Track("strings alone", 80, "Em7 | Cmaj7 | G | B7", "folk", 5, key="E minor", drums=False, programs=(32, 25)),
    Track("flat tape", 116, "Abmaj7 | Fm7 | Bbm7 | Eb7", "groove", 6, key="Ab major", cents=-35, programs=(33, 4)),
    Track("slow", 60, "Cm7 | Abmaj7 | Fm7 | G7b9", "ballad", 4, key="C minor", programs=(35, 4)),
    Track("quick swing", 208, "F6 | D7 | Gm7 | C7", "walking", 12, key="F major", programs=(32, 0)),
    Track("two and two", 132, "Am | Am | Dm | E7", "folk", 7, key="A minor", programs=(32, 24)),
    Track("hard rock", 144, "D5 | C | G | D5", "rock", 9, key="D mixolydian", programs=(34, 30)),
    Track("long form", 110, "Gm7 | C7 | Fmaj7 | Bbmaj7 | Em7b5 | A7 | Dm7 | Dm7 | Gm7 | C7 | Am7 | D7 | "
          "Gm7 | A7 | Dm7 | D7", "walking", 2, key="D minor", programs=(32, 26)),
)


@dataclass
class PlayedTake:
    """A take and what went wrong in it: ms late by index, indices missing, index: pitch played instead, extras."""

    audio: Any
    late_ms: dict[int, float]
    missing: set[int]
    wrong: dict[int, int]
    extras: list[float]


def play_take(notes: list[Any], seed: int, *, program: int = 27, slips: float = 0.06, spread_ms: float = 12.0,
              start: float = 1.5, font: Path | None = None) -> PlayedTake:
    """`notes` (each with index, midi, onset_seconds, length_seconds, cents_at, vibrato_seconds) played with slips."""
    rng = Random(seed)
    found = PlayedTake(None, {}, set(), {}, [])
    struck, bends = [], []
    for note in notes:
        moving = bool(note.path) or note.vibrato_seconds is not None
        fate = rng.random()
        if fate < slips and not moving:
            found.missing.add(note.index)
            continue
        midi = note.midi
        if fate < 2 * slips and not moving:
            midi += rng.choice((-2, -1, 1, 2, 3))
            found.wrong[note.index] = midi
        late = rng.gauss(0, spread_ms)
        found.late_ms[note.index] = late
        at = start + note.onset_seconds + late / 1000
        struck.append((at, at + 0.94 * note.length_seconds, LEAD, midi, rng.randrange(74, 104)))
        if moving:
            bends += [(at + second, LEAD, cents_of(note, second)) for second in
                      np.arange(0, note.length_seconds, 0.004)]
            bends.append((at + note.length_seconds, LEAD, 0.0))
        if rng.random() < slips / 2 and not moving and note.length_seconds > 0.3:
            extra = at + note.length_seconds / 2
            found.extras.append(extra - start)
            struck.append((extra, extra + 0.1, LEAD, midi + rng.choice((3, 5, 7)), 80))
    found.audio = sound_of(struck, {LEAD: program}, font, bends)
    return found


def cents_of(note: Any, second: float) -> float:
    """The pitch that a take plays: the path written, and a vibrato of 5.2 Hz and 40 cents, 0.1 s after its start."""
    wave = 0.0
    if note.vibrato_seconds is not None and second > note.vibrato_seconds + 0.1:
        wave = 20 * (1 - np.cos(2 * np.pi * 5.2 * (second - note.vibrato_seconds - 0.1)))
    return note.cents_at(second) + wave


# Tracks that nothing was tried on while the listening was written; see test_the_held_out_tracks.
HELD_OUT = (
    Track("held groove", 84, "Cm7 | F9 | Cm7 | Fm7", "groove", 6, key="C dorian", programs=(36, 16)),
    Track("held slash", 68, "Em | Em/D | Cmaj7 | B7b9", "ballad", 6, key="E minor", programs=(33, 1)),
    Track("held blues", 124, "A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7", "shuffle", 3, key="A blues",
          programs=(32, 7)),
    Track("held rock", 152, "Bm | G | D | A", "rock", 9, key="B minor", programs=(34, 30)),
    Track("held swing", 164, "Fmaj7 D7 | Gm7 C7 | Am7 D7 | Gm7 C7", "walking", 8, key="F major", programs=(32, 26)),
    Track("held no drums", 96, "Abm7 | Db7 | Gbmaj7 | Eb7", "walking", 6, key="Gb major", drums=False),
    Track("held waltz", 116, "Dm | Gm | A7 | Dm", "waltz", 7, 3, key="D minor", programs=(32, 21)),
    Track("held five", 138, "Am7 | Fmaj7 | Dm7 | E7", "ballad", 6, 5, key="A minor", programs=(33, 4)),
    Track("held seven", 100, "G | F | C | G", "rock", 8, 7, 8, key="G mixolydian", programs=(33, 27)),
    Track("held drift", 90, "Bb | Gm7 | Eb | F7", "folk", 6, drift=0.03, key="Bb major", programs=(32, 25)),
    Track("held noise and room", 108, "F#m | D | A | E", "rock", 7, key="F# minor", room=0.6, noise_db=18,
          programs=(33, 28)),
    Track("held mp3", 128, "Cmaj7 | Am7 | Dm7 | G13", "groove", 7, key="C major", mp3=True, cents=25,
          programs=(37, 11)),
)
OTHER_FONTS = ("/usr/share/sounds/sf2/sf_GMbank.sf2", "/usr/share/sounds/sf2/OPL-3_FM_128M.sf2")


def other_font() -> Path | None:
    """A SoundFont of Debian's (csound-soundfont, opl3-soundfont) where one is installed; else that of pretty_midi."""
    return next((path for path in map(Path, OTHER_FONTS) if path.is_file()), None)
