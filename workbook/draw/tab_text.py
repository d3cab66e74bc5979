"""TAB in plain characters, for a terminal and a reader without pictures: string 1 on top, bar lines, chord names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from theorylib.playing.lines import Line, Note

WIDTH = 76  # characters a line


def tab_text(line: Line, width: int = WIDTH) -> str:
    """The line's places as text TAB, broken between bars to fit `width`; one column for each struck moment."""
    bar, chords = line.chart.bar_beats, {event.onset_beats: str(event.chord) for event in line.chords()}
    notes: dict[int, list[Note]] = {}
    for note in line.notes:
        notes.setdefault(int(note.onset_beats // bar), []).append(note)
    named: dict[int, list[Fraction]] = {}
    for onset in chords:
        named.setdefault(int(onset // bar), []).append(onset)
    blocks = [_bar(line, notes.get(number, []), {onset: chords[onset] for onset in named.get(number, ())})
              for number in range(line.bar_count)]
    names = [str(pitch.name) for pitch in line.tuning.open_strings]
    margin = max(map(len, names))
    rows: list[str] = []
    start = 0
    while start < len(blocks):
        end, used = start, margin + 1
        while end < len(blocks) and (end == start or used + len(blocks[end][0]) + 1 <= width):
            used += len(blocks[end][0]) + 1
            end += 1
        shown = blocks[start:end]
        rows.append(" " * (margin + 1) + " ".join(block[0] for block in shown).rstrip())
        for number, name in enumerate(names, 1):
            rows.append(f"{name:<{margin}}|" + "|".join(block[number] for block in shown) + "|")
        rows.append("")
        start = end
    return "\n".join([line.title, *rows] if line.title else rows).rstrip()


def _bar(line: Line, notes: Sequence[Note], chords: Mapping[Fraction, str]) -> list[str]:
    """One bar of its notes and chords: the row of chord names, then a row for each string, all of one width."""
    moments = sorted({note.onset_beats for note in notes} | chords.keys())
    rows = ["", *("-" for _ in line.tuning.strings)]
    rows[0] = " "
    for moment in moments:
        here = {note.string: str(note.fret) for note in notes if note.onset_beats == moment and note.string}
        chord = chords.get(moment, "")
        width = max([len(fret) for fret in here.values()] or [1])
        # A chord name may run on over the columns after it, but not over the next name.
        rows[0] = rows[0][: len(rows[1])].ljust(len(rows[1])) if chord or len(rows[0]) < len(rows[1]) else rows[0]
        if chord:
            rows[0] += chord + " "
        for string in line.tuning.strings:
            rows[string] += here.get(string, "").ljust(width, "-") + "-"
        while moment == moments[-1] and len(rows[1]) < len(rows[0]):
            for string in line.tuning.strings:
                rows[string] += "-"
    rows[0] = rows[0][: len(rows[1])].ljust(len(rows[1]))
    return rows
