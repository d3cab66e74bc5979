"""What a phrase does, in words: a table of its notes over the chords, where it lands, how hard it is on the hands."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

from theorylib.errors import FingeringError
from theorylib.names.spelling import pretty_accidentals
from theorylib.playing.difficulty import MODERATE_STRETCH_MM, line_difficulty
from theorylib.playing.fingering import finger, without_places
from theorylib.playing.lines import Line
from theorylib.playing.note_uses import LEADING, Landing, NoteUse, landings, note_uses

from .care import CARE

_LAST_POSITION = 15
_PARTS = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}


def notes_table(line: Line) -> str:
    """A Markdown table of the line's notes, their degrees and what they do."""
    rows = ["| Bar | Beat | Note | Over | Degree | What it does |", "|---|---|---|---|---|---|"]
    return "\n".join([*rows, *(_row(line, one) for one in note_uses(line))])


def landings_list(line: Line) -> str:
    """A bullet for each change of chord: the note that the phrase lands on."""
    return "\n".join(dict.fromkeys(f"- {_landing(one)}" for one in landings(line)))


def hands_list(line: Line) -> str:
    """The figures of a fingered line, and the care text where a bound is passed."""
    found = line_difficulty(line)
    wide = found.stretch_mm > MODERATE_STRETCH_MM
    facts = [f"Widest stretch: {found.stretch_mm:.0f} mm."] if wide else []
    facts += [f"Shifts of the hand: {found.shifts}.",
              f"Fastest: {found.notes_a_second:.1f} notes a second at ♩ = {float(line.chart.tempo):g}.",
              f"Strings crossed: {found.crossings}.",
              f"Widest bend: {float(found.widest_bend):g} half steps." if found.widest_bend else "No bends."]
    words = "\n".join(f"- {fact}" for fact in facts)
    if not found.reasons:
        return words
    return f"{words}\n\nTake care with it: {', '.join(found.reasons)}.\n\n{CARE}"


def positions_of(line: Line) -> tuple[int, ...]:
    """The positions of the neck in which a line can be played."""
    bare = without_places(line)
    found = []
    for position in range(1, min(_LAST_POSITION, line.tuning.last_fret) + 1):
        with suppress(FingeringError):
            finger(bare, line.tuning, position, "never")
            found.append(position)
    return tuple(found)


def _row(line: Line, one: NoteUse) -> str:
    bar, late = divmod(one.note.onset_beats, line.chart.bar_beats)
    does = f"{one.use} to {one.to.pretty}" if one.to is not None and one.use in LEADING else one.use
    bent = f" bent to {pretty_accidentals(one.bent_degree)}" if one.bent_degree else ""
    degree = pretty_accidentals(one.degree) + bent
    chord = "–" if one.chord is None else one.chord.pretty
    beat = _mixed(late / line.chart.meter.pulse_beats + 1)
    return f"| {int(bar) + 1} | {beat} | {one.note.pitch.pretty} | {chord} | {degree or '–'} | {does} |"


def _landing(one: Landing) -> str:
    where = f"{one.chord.pretty} (bar {one.bar}, beat {_mixed(one.beat)})"
    if one.note is None:
        return f"{where}: it rests."
    in_chord = "a chord tone" if one.degree in one.chord.degrees else "no chord tone"
    kind = "a guide tone" if one.is_guide_tone else in_chord
    when = "on the change" if not one.late_beats else (
        f"struck {_mixed(-one.late_beats)} beats before and held" if one.late_beats < 0
        else f"{_mixed(one.late_beats)} beats after it")
    return f"{where}: {one.note.pitch.pretty}, the {pretty_accidentals(one.degree)}, {kind}, {when}."


def _mixed(value: Fraction) -> str:
    """A number of beats as people write it: 2, 1½, 1 1/3."""
    whole, rest = divmod(value, 1)
    if not rest:
        return str(int(whole))
    part = _PARTS.get(rest, f" {rest}")
    return f"{int(whole) or ''}{part}".strip()
