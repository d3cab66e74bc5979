"""A line from a file put on the neck: given places and fingers kept, the rest found, and what no hand can do said.

Common practice, no source: a hammer-on rises, a pull-off falls, both from the note right before; a grace note lies on
its note's string.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace

from theorylib.errors import FingeringError, MusicFileError
from theorylib.names.chords import NO_CHORD
from theorylib.names.scales import Scale
from theorylib.names.spelling import Interval, NoteName, Pitch
from theorylib.necks.tunings import Tuning
from theorylib.playing.fingering import finger, without_places
from theorylib.playing.lines import Line, Mark, Note

from .score_lines import Imported, sounds_on, with_true_degrees
from .scores import Ledger

_OCTAVES = (-2, -1, 1, 2)
_MOST_TOGETHER = 9  # notes of one onset: a neck has nine strings at most


def fitted(read: Imported, position: int | str | None = None) -> Imported:
    """The line fingered; raises FingeringError with the note where it cannot be had on the neck."""
    ledger = Ledger()
    ledger.add(read.said)
    joined = replace(read, line=_joined_truly(read, ledger))
    placed = replace(read, line=_fingered(joined.line, position, ledger))
    return replace(read, line=_with_graces(placed, ledger), said=ledger.said())


def in_key(read: Imported, key: Scale, keep_chart: bool) -> Imported:
    """The line moved from its own key to another, changes too unless they are the lesson's own.

    Places move along their strings where the neck has room for all of them; else they are found anew, and that is said.
    Raises MusicFileError where the line has no key to be moved from, or one of another kind.
    """
    line = read.line
    own = _own_key(read, key)
    size = Interval.of_fifths(key.tonic.fifths - own.tonic.fifths)
    shift, fits = _shift((key.tonic.pitch_class - own.tonic.pitch_class) % 12, line)
    ledger = Ledger()
    ledger.add(read.said)
    if shift and not fits:
        ledger.say(f"strings and frets cannot move to {key}: found anew")
    chart = line.chart if keep_chart else line.chart.up(size)
    position = None if line.position is None or not fits else max(1, line.position + shift)
    moved = line.with_notes(lambda note: _moved(note, size, shift, fits, line.tuning))
    return replace(read, line=with_true_degrees(replace(moved, chart=chart, position=position)), said=ledger.said())


def _own_key(read: Imported, key: Scale) -> Scale:
    own = read.line.chart.key if read.key is None else read.key
    if own is None:
        raise MusicFileError(f"the file is in no key, and cannot be moved to {key}", value=str(key),
                             expected="a key signature with its mode")
    if own.is_minor != key.is_minor:
        raise MusicFileError(f"the file is in {own}, and cannot be moved to {key}", value=str(key),
                             expected=f"a {'minor' if own.is_minor else 'major'} key")
    return own


def _shift(up: int, line: Line) -> tuple[int, bool]:
    """Half steps up or down, the nearer way first, and whether every place of the line can move so along its string."""
    ways = sorted((up, up - 12), key=abs)
    placed = [note.fret for note in line.notes if note.fret is not None]
    for shift in ways:
        if all(1 <= fret + shift <= line.tuning.last_fret for fret in placed):
            return shift, True
    return ways[0], False


def _moved(note: Note, size: Interval, shift: int, fits: bool, tuning: Tuning) -> Note:
    pitch = note.pitch.up(size)
    pitch = replace(pitch, octave=pitch.octave + (note.pitch.midi + shift - pitch.midi) // 12)
    if note.fret is not None and fits:
        return replace(note, pitch=pitch, fret=note.fret + shift)
    if not shift:
        return note
    away = replace(note, pitch=pitch, fret=None, finger=None)
    wished = note.fret is None and sounds_on(away, tuning)  # a string alone asks for no fret
    return away if wished else replace(away, string=None)


def spelled(line: Line) -> Line:
    """The line with each note named by its chord, else by the key, else as lies nearest to them; places stay."""
    events = line.chords()
    onsets = [event.onset_beats for event in events]

    def named(note: Note) -> Note:
        under = bisect_right(onsets, note.onset_beats)
        chord = events[under - 1].chord if under else NO_CHORD
        names = [*chord.names, *(line.chart.key.names if line.chart.key is not None else ())]
        near = names[0].fifths if names else 0
        all_names = [*names, *(NoteName.at(near + step) for step in (2, 3, 4, 5, 1, 0, -1, -2, -3, -4, -5, 6))]
        name = next(one for one in all_names if one.pitch_class == note.pitch.midi % 12)
        return replace(note, pitch=Pitch.of_midi(note.pitch.midi, name))

    return with_true_degrees(line.with_notes(named))


def _fingered(line: Line, position: int | str | None, ledger: Ledger) -> Line:
    """Fingered as it is; else without the fingers that were given, else without the places."""
    without_fingers = line.with_notes(lambda note: replace(note, finger=None))
    tries = ((line, ""), (without_fingers, "the fingers given cannot be held one after the other: found anew"),
             (without_places(line), "the places given cannot be held one after the other: found anew"))
    refused: FingeringError | None = None
    for one, said in tries:
        if said and one == line:
            continue
        try:
            found = finger(one, line.tuning, position)
        except FingeringError as error:
            refused = refused or error
        else:
            if said:
                ledger.say(said)
            return found
    assert refused is not None  # the first try has raised, or the function has returned
    raise _with_octave(refused, line) from refused


def _with_octave(error: FingeringError, line: Line) -> FingeringError:
    """The refusal, with the octaves by which all notes would be on the neck."""
    tuning, heights = line.tuning, [note.fretted_midi for note in line.notes]
    if tuning.lowest_midi <= min(heights) and max(heights) <= tuning.highest_midi:
        return error
    fits = [number for number in _OCTAVES if tuning.lowest_midi <= min(heights) + 12 * number
            and max(heights) + 12 * number <= tuning.highest_midi]
    nearest = [f"octaves {number}" for number in sorted(fits, key=abs)[:1]]
    return FingeringError(error.message, value=error.value, where=error.where, expected=error.expected,
                          nearest=nearest or error.nearest)


def _joined_truly(read: Imported, ledger: Ledger) -> Line:
    """The line without hammers, pulls and slides that do not fit the note before."""
    found: list[Note] = []
    for index, note in enumerate(read.line.notes):
        near = read.line.notes[max(0, index - _MOST_TOGETHER):index]
        before = [one for one in near if one.end_beats == note.onset_beats
                  and (None in (one.string, note.string) or one.string == note.string)]
        kept = tuple(mark for mark in note.marks if _holds(mark, note, before))
        if len(kept) < len(note.marks):
            lost = ", ".join(mark.kind for mark in note.marks if mark not in kept)
            ledger.say(f"a {lost} that does not fit the note before it is left out", read.label_at(note.onset_beats))
        found.append(replace(note, marks=kept))
    return replace(read.line, notes=tuple(found))


def _holds(mark: Mark, note: Note, before: list[Note]) -> bool:
    steps = [note.fretted_midi - one.fretted_midi for one in before]
    if mark.kind == "hammer":
        return any(step > 0 for step in steps)
    if mark.kind == "pull":
        return any(step < 0 for step in steps)
    if mark.kind in ("slide", "legato slide"):
        return any(step != 0 for step in steps)
    return True


def _with_graces(read: Imported, ledger: Ledger) -> Line:
    """The line without grace notes that have no fret on the string of their note."""
    last = read.line.tuning.last_fret

    def kept(note: Note) -> Note:
        grace = note.marked("grace")
        fret = 0 if note.fret is None else note.fret
        if grace is None or 0 <= fret + grace.value <= last:
            return note
        ledger.say("a grace note that its string does not have is left out", read.label_at(note.onset_beats))
        return replace(note, marks=tuple(mark for mark in note.marks if mark is not grace))

    return read.line.with_notes(kept)
