"""Which notes of a score become the line: the part, the staff, the voice, the measures; every choice is said.

A part that is not asked for is chosen by what it has: strings and frets (or a TAB staff), else a guitar's name, else
single notes, else any notes at all; the first of those.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from theorylib.errors import MusicFileError, closest, shown
from theorylib.limits import is_whole

from .scores import Ledger, Measure, Part, Score, ScoreNote

# How scores name a guitar's part in the languages that music is printed in (common practice, no source).
_GUITAR = re.compile(r"guit|gitarre|chitarra|gtr|kitara|kytara|violão|\be\.? ?git", re.IGNORECASE)
_BARS = re.compile(r"\s*([^\s-]+)\s*(?:[-–]\s*([^\s-]+)\s*)?")


def chosen_part(score: Score, wanted: str | int | None, ledger: Ledger) -> int:
    """The index of the part that is read; raises MusicFileError where there is none such."""
    named = [f"{number} {part.name or 'without a name'}" for number, part in enumerate(score.parts, 1)]
    if wanted is None:
        index, why = _best_part(score)
        if len(score.parts) > 1:
            ledger.say(f"part {named[index]} of {len(named)} is read: {why}")
        return index
    if is_whole(wanted, 1, len(score.parts)):
        return int(wanted) - 1
    names = [part.name.lower() for part in score.parts]
    if isinstance(wanted, str) and wanted.strip().lower() in names:
        return names.index(wanted.strip().lower())
    raise MusicFileError(f"no part “{shown(wanted)}”", value=wanted, expected=f"one of {shown(', '.join(named), 300)}",
                         nearest=closest(str(wanted), [part.name for part in score.parts if part.name]))


def _best_part(score: Score) -> tuple[int, str]:
    reasons = (
        ("it has strings and frets", lambda part: part.places > 0),
        ("it has a TAB staff", lambda part: bool(part.tab_staves and part.notes)),
        ("its name says guitar", lambda part: bool(_GUITAR.search(part.name) and part.notes)),
        ("it sounds as a guitar", lambda part: part.is_guitar),
        ("it is the first of single notes", _single),
        ("it is the first that has notes", lambda part: bool(part.notes)),
    )
    for why, holds in reasons:
        for index, part in enumerate(score.parts):
            if holds(part):
                return index, why
    raise MusicFileError("the file holds no notes", value=score.title, expected="notes with a pitch")


def say_octave(part: Part, octaves: int, ledger: Ledger) -> None:
    """A guitar is written an octave above its sound: where a file says neither, who reads it must know."""
    if part.plain_octave and not part.places and not octaves and _GUITAR.search(part.name):
        ledger.say("neither clef nor transposition says that a guitar sounds an octave lower than it is written: read "
                   "as it stands (passage=\"octaves -1\" moves it)")


def _single(part: Part) -> bool:
    notes = part.notes
    if not notes or len({(note.staff, note.voice) for note in notes}) > 1:
        return False
    return all(len({note.onset_beats for note in measure.notes}) == len(measure.notes) for measure in part.measures)


def chosen_measures(part: Part, bars: str | int | None) -> tuple[Measure, ...]:
    """The measures from one number of the file to another ("5-8"), or all; raises MusicFileError."""
    if bars is None:
        return part.measures
    labels = [measure.label for measure in part.measures]
    match = _BARS.fullmatch(str(bars)) if isinstance(bars, str) or type(bars) is int else None
    ends = [] if match is None else [one for one in (match[1], match[2] or match[1]) if one in labels]
    if len(ends) == 2:
        first, last = labels.index(ends[0]), len(labels) - 1 - labels[::-1].index(ends[1])
        if first <= last:
            return part.measures[first:last + 1]
    raise MusicFileError(f"no bars “{shown(bars)}”", value=bars,
                         expected=f"numbers that the file prints, from {labels[0]} to {labels[-1]}, such as 5-8")


def chosen_voice(part: Part, measures: Sequence[Measure], staff: int | None, voice: str | int | None,
                 ledger: Ledger) -> tuple[int, str]:
    """(staff, voice) of the notes that are read; says so where others are not."""
    bars = _bars_of_voices(part, measures)
    chosen_staff = _chosen_staff(part, measures, staff, sorted({one for one, _ in bars}))
    chosen = chosen_staff, _chosen_of({name: count for (one, name), count in bars.items() if one == chosen_staff},
                                      chosen_staff, voice)
    # A TAB staff and the staff of notes are one music.
    if any(one != chosen and (one[0] == chosen_staff or not part.tab_staves) for one in bars):
        ledger.say(f"staff {chosen_staff}, voice {chosen[1]} is read")
    return chosen


def _bars_of_voices(part: Part, measures: Sequence[Measure]) -> Counter[tuple[int, str]]:
    """In how many bars each (staff, voice) has notes."""
    bars: Counter[tuple[int, str]] = Counter()
    for measure in measures:
        bars.update({(note.staff, note.voice) for note in measure.notes})
    if not bars:
        raise MusicFileError("these bars hold no notes", value=part.name, expected="notes with a pitch")
    return bars


def _chosen_staff(part: Part, measures: Sequence[Measure], asked: int | None, staves: list[int]) -> int:
    if asked is None:
        return _best_staff(part, measures, staves)
    if type(asked) is not int or asked not in staves:
        raise MusicFileError(f"no staff {shown(asked)} with notes", value=asked, expected=f"one of {staves}")
    return asked


def _chosen_of(voices: Mapping[str, int], staff: int, asked: str | int | None) -> str:
    """The voice asked for, else the staff's first, unless it sounds in less than half as many bars as the busiest."""
    if asked is None:
        most = max(voices.values())
        return next(name for name in sorted(voices, key=_voice_order) if 2 * voices[name] >= most)
    if str(asked) not in voices:
        raise MusicFileError(f"no voice {shown(asked)} with notes on staff {staff}", value=asked,
                             expected=f"one of {', '.join(sorted(voices))}")
    return str(asked)


def _voice_order(name: str) -> tuple[int, str]:
    return (int(name) if name.isascii() and name.isdigit() else 10**9, name)


def _best_staff(part: Part, measures: Sequence[Measure], staves: Sequence[int]) -> int:
    placed: Counter[int] = Counter()
    for measure in measures:
        placed.update(note.staff for note in measure.notes if note.string is not None and note.fret is not None)
    tabs = [staff for staff in staves if staff in part.tab_staves]
    most = max(sorted(placed), key=lambda one: placed[one], default=0)  # of equals the upper staff
    return most or (tabs[0] if tabs else staves[0])


def of_voice(measure: Measure, staff: int, voice: str, tabs: frozenset[int], ledger: Ledger) -> list[ScoreNote]:
    """The chosen notes of a measure in order of their onset; what other voices sound is said.

    Beside a TAB staff the staff of notes holds the same music once more: one adds to the other what it lacks.
    """
    chosen = [note for note in measure.notes if (note.staff, note.voice) == (staff, voice)]
    sounding = {(note.onset_beats, note.pitch.midi) for note in chosen}
    twins = {(note.onset_beats, note.pitch.midi): note for note in measure.notes if tabs and note.staff != staff}
    others: Counter[tuple[int, str]] = Counter()
    for note in measure.notes:
        twice = tabs and (note.onset_beats, note.pitch.midi) in sounding
        if (note.staff, note.voice) != (staff, voice) and not twice:
            others[note.staff, note.voice] += 1
    for one, name in others:
        ledger.say(f"the notes of staff {one}, voice {name} are left out", measure.label)
    whole = [_completed(note, twins.get((note.onset_beats, note.pitch.midi))) for note in chosen]
    return sorted(whole, key=lambda note: note.onset_beats)


def _completed(note: ScoreNote, twin: ScoreNote | None) -> ScoreNote:
    """A note with the place, finger and marks that its twin on the other staff has and it lacks."""
    if twin is None:
        return note
    has_place = note.string is not None and note.fret is not None
    source = note if has_place else twin
    kinds = {mark.kind for mark in note.marks}
    more = tuple(mark for mark in twin.marks if mark.kind not in kinds)
    return replace(note, string=source.string, fret=source.fret, marks=note.marks + more,
                   finger=twin.finger if note.finger is None else note.finger)
