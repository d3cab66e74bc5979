"""What bands in MIDI files play, counted as support/band.py counts ours: `python tests/bench/band_outside.py FOLDER`.

The judge that was asked: Debian's package openttd-openmsx 0.4.2-1 (music of a free game by various authors, GPL-2; its
files are only read here), its folder /usr/share/games/openttd/baseset/openmsx. Drums are channel 10, the bass is who
plays General MIDI programs 33 to 40, comping who plays 1 to 8, 17 to 32 or 89 to 96 in chords. Bars are counted from
the file's own meters, places in the bar rounded to twelfths of a quarter note; files without bass or drums are
left out.
"""

from __future__ import annotations

import sys
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from statistics import median

import mido

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from support.band import entropy, share  # noqa: E402

DRUMS, BASSES = 9, range(32, 40)
COMPERS = (*range(8), *range(16, 32), *range(88, 96))
CHORUS, GRID = 8, 12


@dataclass(frozen=True)
class Note:
    """A note of a file, in quarter notes from its start."""

    channel: int
    program: int
    start: float
    midi: int
    velocity: int


def notes_of(file: mido.MidiFile) -> tuple[list[Note], list[float]]:
    """Its notes, and where each bar begins."""
    found, programs, meters, now = [], dict[int, int](), [(0.0, 4.0)], 0
    for message in mido.merge_tracks(file.tracks):
        now += message.time
        beat = now / file.ticks_per_beat
        if message.type == "program_change":
            programs[message.channel] = message.program
        elif message.type == "time_signature":
            meters.append((beat, 4 * message.numerator / message.denominator))
        elif message.type == "note_on" and message.velocity:
            found.append(Note(message.channel, programs.get(message.channel, 0), beat, message.note, message.velocity))
    return found, list(bars_of(meters, now / file.ticks_per_beat))


def bars_of(meters: Sequence[tuple[float, float]], end: float) -> Iterator[float]:
    at, starts = 0.0, [start for start, _ in meters]
    while at < end:
        yield at
        at += meters[bisect_right(starts, at + 0.01) - 1][1]


def by_bar(notes: Sequence[Note], bars: Sequence[float], keys: bool) -> list[frozenset[tuple[int, ...]]]:
    found: dict[int, set[tuple[int, ...]]] = {}
    for note in notes:
        number = bisect_right(bars, note.start + 0.5 / GRID) - 1
        place = round((note.start - bars[number]) * GRID)
        found.setdefault(number, set()).add((place, note.midi) if keys else (place,))
    return [frozenset(found.get(number, ())) for number in range(min(found), max(found) + 1)] if found else []


def repeats(bars: Sequence[frozenset[tuple[int, ...]]]) -> tuple[float, float, float]:
    """Share of the commonest bar, of bars like the one before, bits a chorus of eight bars."""
    choruses = [bars[at:at + CHORUS] for at in range(0, len(bars) - CHORUS + 1, CHORUS)] or [bars]
    return (max(Counter(bars).values()) / len(bars), share(one == two for one, two in pairwise(bars)),
            sum(map(entropy, choruses)) / len(choruses))


def bass_of(notes: Sequence[Note]) -> tuple[float, float, int, int]:
    """Share of leaps over a fifth that are no octave, of octaves; lowest and highest note."""
    line = [note.midi for note in sorted(notes, key=lambda note: note.start)]
    moves = [abs(two - one) for one, two in pairwise(line)]
    return (share(move > 7 and move != 12 for move in moves), share(move == 12 for move in moves), min(line), max(line))


def comper_of(notes: Sequence[Note]) -> list[Note]:
    """Who of a file's players strikes most chords of three notes and more."""
    chords = Counter((note.channel, note.program, round(note.start, 2)) for note in notes if note.program in COMPERS
                     and note.channel != DRUMS)
    struck = Counter((channel, program) for (channel, program, _), count in chords.items() if count >= 3)
    if not struck or struck.most_common(1)[0][1] < 16:
        return []
    best = struck.most_common(1)[0][0]
    return [note for note in notes if (note.channel, note.program) == best]


def main(folder: Path) -> None:
    table: dict[str, list[Sequence[float]]] = {"drums": [], "comping": [], "bass": []}
    for path in sorted(folder.glob("*.mid")):
        notes, bars = notes_of(mido.MidiFile(path))
        drums = [note for note in notes if note.channel == DRUMS]
        bass = [note for note in notes if note.program in BASSES and note.channel != DRUMS]
        if len(drums) < 64 or len(bass) < 32:
            continue
        table["drums"].append(repeats(by_bar(drums, bars, True)))
        table["bass"].append(bass_of(bass))
        comping = comper_of(notes)
        if comping:
            table["comping"].append(repeats(by_bar(comping, bars, False)))
    for part, rows in table.items():
        print(f"{part}: {len(rows)} files")
        for name, column in zip(("leaps", "octaves", "low", "high") if part == "bass" else
                                ("commonest", "like before", "bits"), zip(*rows, strict=True), strict=True):
            ordered = sorted(column)
            print(f"  {name:12} quarter {ordered[len(ordered) // 4]:.2f}  median {median(column):.2f}  "
                  f"three quarters {ordered[3 * len(ordered) // 4]:.2f}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
