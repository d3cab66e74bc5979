"""Standard MIDI Files read into a Score: quantised (see `grids`), and everything that was decided or left out said.

A part is a track of a file of several tracks, or a channel of a file of one; channel 10 is percussion and left out
(General MIDI). A line is one voice: notes of one onset end together, and a note ends where the next begins. Chord
symbols are read from text events where all texts of a track are chord symbols. Raises MusicFileError.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from typing import Any

from theorylib.changes.meters import COMMON_TIME, Meter
from theorylib.errors import MusicFileError, VampError, shown
from theorylib.limits import MOST_BARS, TEMPO
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Pitch

from .grids import WITHIN, Grid, GridName, laid
from .scores import Ledger, Measure, Part, Score, ScoreNote

MOST_BYTES = 8_000_000
MOST_MESSAGES = 400_000
PERCUSSION = 9                  # channel, counted from 0 (General MIDI)
GUITARS = range(24, 32)         # programs, counted from 0 (General MIDI)
_DRAWN_OUT = Fraction(1, 3)     # of the way to the next note: a player's gap below it is no rest
_OVERLAP = Fraction(1, 8)       # beats that one note may sound into the next without its being said


@dataclass(slots=True)
class _Track:
    """One part as it was played: (onset, end, key number) in beats."""

    name: str = ""
    guitar: bool = False
    notes: list[tuple[Fraction, Fraction, int]] = field(default_factory=list)
    texts: list[tuple[Fraction, str]] = field(default_factory=list)
    bends: list[Fraction] = field(default_factory=list)


@dataclass(slots=True)
class _Conductor:
    """What holds for all parts, by beat."""

    tempos: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    meters: list[tuple[Fraction, Meter]] = field(default_factory=list)
    keys: list[tuple[Fraction, Scale]] = field(default_factory=list)
    end: Fraction = Fraction(0)


def is_midi(content: bytes) -> bool:
    return content[:4] == b"MThd" or (content[:4] == b"RIFF" and content[8:12] == b"RMID")


def score_of_midi(content: bytes, grid: GridName | None = None) -> Score:
    """The parts of a MIDI file; `grid` is a key of `grids.WITHIN`, or None for the one that fits."""
    file = _opened(content)
    ledger = Ledger()
    conductor, tracks = _heard(file, ledger)
    sounding = [track for track in tracks if track.notes]
    if not sounding:
        raise MusicFileError("the file holds no notes", value="MIDI", expected="notes outside the percussion channel")
    bars = _bars(conductor, ledger)
    symbols = _symbols(tracks, ledger)
    parts, said = [], []
    for track in sounding:
        own = Ledger()
        own.add(ledger.said())
        parts.append(_part(track, conductor, bars, symbols, grid or "", own))
        said.append(own.said())
    title = tracks[0].name if tracks and not tracks[0].notes else ""
    return Score(tuple(parts), title, tuple(said))


def _opened(content: bytes) -> Any:
    import mido

    if len(content) > MOST_BYTES:
        raise MusicFileError("the MIDI file is too long", value=len(content), expected=f"{MOST_BYTES:,} bytes at most")
    if content[:4] == b"RIFF":
        content = content[content.find(b"MThd"):]
    try:
        file = mido.MidiFile(file=BytesIO(content), clip=True)
    except Exception as error:  # whatever a broken file makes the library stumble over
        raise MusicFileError(f"this MIDI file cannot be read: {shown(error, 80) or 'it breaks off'}", value="MIDI",
                             expected="a Standard MIDI File, whole") from error
    if not 0 < file.ticks_per_beat < 0x8000:
        raise MusicFileError("the file counts frames of film and not beats", value=file.ticks_per_beat,
                             expected="ticks of a quarter note")
    if sum(map(len, file.tracks)) > MOST_MESSAGES:
        raise MusicFileError(f"more than {MOST_MESSAGES:,} messages", value=sum(map(len, file.tracks)),
                             expected="music for one pair of hands")
    return file


def _heard(file: Any, ledger: Ledger) -> tuple[_Conductor, list[_Track]]:
    """Everything with its beat. A file of one track is parted by channels."""
    conductor, tracks = _Conductor(), []
    for messages in file.tracks:
        by_channel: dict[int, _Track] = {}
        whole = _Track()
        struck: dict[tuple[int, int], list[Fraction]] = {}
        ticks = 0
        for message in messages:
            ticks += message.time
            now = Fraction(ticks, file.ticks_per_beat)
            if message.is_meta:
                _meta(message, now, whole, conductor, ledger)
                continue
            channel = getattr(message, "channel", PERCUSSION)
            if channel == PERCUSSION:
                if message.type == "note_on":
                    ledger.say("percussion (channel 10) is left out")
                continue
            track = by_channel.setdefault(channel, _Track()) if len(file.tracks) == 1 else whole
            _channel(message, now, track, struck)
        conductor.end = max(conductor.end, Fraction(ticks, file.ticks_per_beat))
        if struck:
            ledger.say("notes that never end are left out")
        for channel, track in sorted(by_channel.items()):
            track.name = f"{whole.name} channel {channel + 1}".strip()
        tracks += [whole, *(track for _, track in sorted(by_channel.items()))]
    return conductor, tracks


def _meta(message: Any, now: Fraction, track: _Track, conductor: _Conductor, ledger: Ledger) -> None:
    if message.type == "track_name":
        track.name = " ".join(message.name.split())
    elif message.type == "text":
        track.texts.append((now, message.text))
    elif message.type == "set_tempo" and message.tempo:
        tempo = Fraction(60_000_000, message.tempo)
        # A tempo is written in microseconds: the whole or tenth that was meant is the nearest one.
        conductor.tempos.append((now, tempo.limit_denominator(10)))
    elif message.type == "time_signature":
        try:
            conductor.meters.append((now, Meter(message.numerator, message.denominator)))
        except VampError as error:
            ledger.say(f"{error.message}: passed over")
    elif message.type == "key_signature":
        conductor.keys.append((now, Scale.parse(message.key)))


def _channel(message: Any, now: Fraction, track: _Track, struck: dict[tuple[int, int], list[Fraction]]) -> None:
    if message.type == "program_change":
        track.guitar = track.guitar or message.program in GUITARS
    elif message.type == "pitchwheel" and message.pitch:
        track.bends.append(now)
    elif message.type in ("note_on", "note_off"):
        key = (message.channel, message.note)
        if key in struck:  # an off, or a second strike that ends the first
            start = struck[key].pop(0)
            if not struck[key]:
                del struck[key]
            if now > start:
                track.notes.append((start, now, message.note))
        if message.type == "note_on" and message.velocity:
            struck.setdefault(key, []).append(now)


def _bars(conductor: _Conductor, ledger: Ledger) -> list[tuple[Fraction, Fraction, Meter]]:
    """(start, length, meter) of every bar."""
    if not conductor.meters:
        ledger.say("no meter: 4/4 is taken")
    stated = sorted(dict(conductor.meters).items()) or [(Fraction(0), COMMON_TIME)]
    # A meter that is stated once more, as at a repeat, begins no new bar.
    changes = [one for index, one in enumerate(stated) if index == 0 or stated[index - 1][1] != one[1]]
    if changes[0][0] > 0:
        changes.insert(0, (Fraction(0), COMMON_TIME))
    found: list[tuple[Fraction, Fraction, Meter]] = []
    for (start, meter), (until, _) in pairwise([*changes, (max(conductor.end, changes[-1][0] + 1), COMMON_TIME)]):
        now = start
        while now < until:
            last = until < conductor.end  # another meter begins there: what is left of a bar is a short one
            length = min(meter.bar_beats, until - now) if last else meter.bar_beats
            found.append((now, length, meter))
            now += length
            if len(found) > MOST_BARS:
                raise MusicFileError(f"more than {MOST_BARS} bars", value=len(found), expected="a piece of that length")
    return found


def _symbols(tracks: Sequence[_Track], ledger: Ledger) -> list[tuple[Fraction, Chord]]:
    for track in tracks:
        try:
            found = [(beat, Chord.parse(text.strip())) for beat, text in track.texts]
        except VampError:
            continue
        if found:
            ledger.say(f"the chord symbols are the texts of the track “{track.name}”")
            return found
    return []


def _part(track: _Track, conductor: _Conductor, bars: Sequence[tuple[Fraction, Fraction, Meter]],
          symbols: Sequence[tuple[Fraction, Chord]], only: str, ledger: Ledger) -> Part:
    tempo = conductor.tempos[0][1] if conductor.tempos else Fraction(120)  # the standard's own, where none is given
    onsets = sorted({start for start, _, _ in track.notes})
    grid = laid(onsets, bars[0][2].pulse_beats, float(tempo), only)
    labels = _Labels(bars)
    _say_grid(grid, labels, ledger)
    for beat in track.bends:
        ledger.say("bends of the pitch wheel are left out", labels.at(beat))
    voice = _one_voice(track.notes, grid, labels, ledger)
    tempos = _by_bar(conductor.tempos, labels) or {"1": tempo}
    keys = dict(_by_bar(conductor.keys, labels))
    feel = {"8ths": "swing", "16ths": "swing 16"}.get(grid.unit, "straight 8")
    measures = []
    key: Scale | None = None
    for number, (start, length, meter) in enumerate(bars, 1):
        label = str(number)
        key = keys.get(label, key)
        chords = tuple((max(beat - start, Fraction(0)), chord) for beat, chord in symbols
                       if start <= beat < start + length)
        stated = tempos.get(label)
        measures.append(Measure(label, meter, length, tuple(_inside(voice, start, length)), chords, key,
                                _legal(stated, label, ledger), feel if number == 1 else ""))
    return Part(track.name, tuple(measures), is_guitar=track.guitar, plain_octave=False)


@dataclass(frozen=True, slots=True)
class _Labels:
    bars: Sequence[tuple[Fraction, Fraction, Meter]]

    def at(self, beat: Fraction) -> str:
        from bisect import bisect_right

        return str(max(1, bisect_right(self.bars, beat, key=lambda bar: bar[0])))


def _legal(tempo: Fraction | None, label: str, ledger: Ledger) -> Fraction | None:
    if tempo is None or TEMPO[0] <= tempo <= TEMPO[1]:
        return tempo
    ledger.say(f"a tempo of {float(tempo):g} quarter notes a minute is no tempo of ours", label)
    return None


def _by_bar(stated: Sequence[tuple[Fraction, Any]], labels: _Labels) -> dict[str, Any]:
    return {labels.at(beat): value for beat, value in sorted(stated, key=lambda one: one[0], reverse=True)}


def _say_grid(grid: Grid, labels: _Labels, ledger: Ledger) -> None:
    """The grid, where it is another, the swing, and how far notes were moved."""
    ledger.say(f"the grid is {grid.main or 'quarters'}")
    for number, name in sorted(grid.names.items()):
        if name != grid.main and not name.endswith("quarters") and not _coarser(name, grid.main):
            ledger.say(f"the grid is {name} in part", labels.at(number * grid.beat))
    if grid.unit:
        ledger.say(f"{grid.unit} are swung, {grid.ratio:.2g} to 1, and written even")
    moved = grid.moved or {}
    far = max(moved, key=lambda onset: moved[onset])
    if moved[far] > 0.005:
        middle = sorted(moved.values())[len(moved) // 2]
        ledger.say(f"notes are moved by {middle:.2f} beats in the middle, by {moved[far]:.2f} at most (bar "
                   f"{labels.at(far)})")


def _coarser(name: str, than: str) -> bool:
    return name in WITHIN.get(than, ())


def _one_voice(played: Sequence[tuple[Fraction, Fraction, int]], grid: Grid, labels: _Labels,
               ledger: Ledger) -> list[tuple[Fraction, Fraction, tuple[int, ...]]]:
    """(onset, end, key numbers) as written: chords end together, each ends where the next begins at the latest."""
    groups: dict[Fraction, list[tuple[Fraction, Fraction, int]]] = {}
    for start, end, key in played:
        groups.setdefault(max(Fraction(0), grid.written(start)), []).append((start, end, key))
    onsets = sorted(groups)
    exact = _ends_are_exact(played, grid)
    found = []
    for onset, following in zip(onsets, [*onsets[1:], None], strict=True):
        group = groups[onset]
        ends = sorted(_end(grid, end, onset) for _, end, _ in group)
        if len(group) > 1 and ends[-1] - ends[0] > grid.beat / 4:
            ledger.say("notes struck together end with the shortest", labels.at(onset))
        end = ends[0]
        if following is not None:
            if min(one for _, one, _ in group) > following + _OVERLAP and end > following:
                ledger.say("a note is cut short where the next begins", labels.at(onset))
            gap = (following - end) / (following - onset)
            legato = not exact and gap < _DRAWN_OUT and following - onset <= 2 * grid.beat
            end = following if end > following or legato else end
        found.append((onset, end, tuple(sorted({key for _, _, key in group}))))
    return found


def _end(grid: Grid, played: Fraction, onset: Fraction) -> Fraction:
    """Where a note ends that ends as played: one that is too short for its grid lasts to the next place on it."""
    written = grid.written(played, end=True)
    return written if written > onset else grid.after(onset)


def _ends_are_exact(played: Sequence[tuple[Fraction, Fraction, int]], grid: Grid) -> bool:
    """Do nearly all notes end on the grid as if a program had put them there?"""
    near = sum(abs(grid.written(end, end=True) - end) < Fraction(1, 100) for _, end, _ in played)
    return near >= 0.9 * len(played)


def _inside(voice: Sequence[tuple[Fraction, Fraction, tuple[int, ...]]], start: Fraction,
            length: Fraction) -> Iterator[ScoreNote]:
    """The notes of one bar; what reaches over a bar line is tied."""
    from bisect import bisect_left

    first = bisect_left(voice, start, key=lambda one: one[1])
    for onset, end, keys in voice[first:]:
        if onset >= start + length:
            return
        low, high = max(onset, start), min(end, start + length)
        if low < high:
            for key in keys:
                yield ScoreNote(low - start, high - low, Pitch.of_midi(key), tied_from=low > onset,
                                tied_to=high < end)
