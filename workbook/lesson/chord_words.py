"""What each chord of some changes asks for beside scale and tones: its colours, what to pass through, its basses."""

from __future__ import annotations

from collections.abc import Container, Sequence

from theorylib.names.chords import Chord
from theorylib.names.spelling import NoteName, pretty_accidentals
from theorylib.reading.chordscales import counted_degree, degree_over, scale_degrees
from theorylib.reading.harmony import Harmony, Reading

from .prose import (
    bars_of_readings,
    called,
    called_with_degrees,
    doubles,
    in_bars,
    is_power,
    listed,
    other_basses,
    readings,
)

WHY_PASSED = "a half step above a chord tone"
Called = tuple[NoteName, str]  # a note and what it is over the chord
_THIRDS = ("3", "b3")
_SUSPENDED = {"11": "4th", "9": "2nd"}  # what a sus chord has in the place of its 3rd


def chord_notes(harmony: Harmony, among: Sequence[Reading] | None = None, *, against_home: bool = False) -> list[str]:
    """An item for each chord of the changes (or those `among` them), each explained once: what the table of the changes
    does not say. Its scale and its tones stand there, and what their double accidentals sound as.

    `against_home` names the notes of its scale that the home has not. Why a note is only passed through is said once.
    """
    bars = bars_of_readings(harmony)
    chosen = readings(harmony) if among is None else list(among)
    chords = [reading.chord.without_bass() for reading in chosen]
    known = {name for some in doubles(harmony) for name in some}
    found: list[str] = []
    for reading, chord in zip(chosen, chords, strict=True):
        told = any(WHY_PASSED in item for item in found)
        new = _new_against_home(reading) if against_home else ()
        lines = _chord_lines(harmony, reading, new, known, told)
        if not lines:
            continue
        where = in_bars(bars[chord, reading.scale])
        several = against_home or chords.count(chord) > 1  # then the bars say which is meant
        head = f"**{reading.chord.pretty}**" + f" ({where})" * several
        found.append(f"- {head}: {lines[0]} " + " ".join(line[0].upper() + line[1:] for line in lines[1:]))
        known |= {name for name in reading.scale.names if f"sounds as {name.simple().pretty}" in found[-1]}
    return [item.strip() for item in found]


def _new_against_home(reading: Reading) -> tuple[Called, ...]:
    """What the scale has and the home has not, by the names of the chord where it has them."""
    own = {name.pitch_class: name for name in reading.chord.names}
    return tuple((own.get(name.pitch_class, name), counted_degree(degree, reading.chord))
                 for name, degree in scale_degrees(reading.chord, reading.scale)
                 if name.pitch_class not in reading.home.pitch_classes)


def _chord_lines(harmony: Harmony, reading: Reading, new: Sequence[Called], known: Container[NoteName],
                 told: bool) -> list[str]:
    """What to know of one chord, a sentence an item: `new` are the notes that the home has not, `known` the names of
    which the lesson has said what they sound as; `told` is whether it has said why notes are passed."""
    chord, scale = reading.chord, reading.scale
    if is_power(chord):
        return _of_a_power_chord(reading)
    lines = [f"{called_with_degrees(new, known)} {'is' if len(new) == 1 else 'are'} new against the home."] * bool(new)
    lines += _basses(harmony, reading)
    missing = [tone.name for tone in chord.tones if tone.name.pitch_class not in scale.pitch_classes]
    if missing:
        lines.append(f"its {listed(name.pretty for name in missing)} "
                     f"{'lies' if len(missing) == 1 else 'lie'} outside the scale: play "
                     f"{'it' if len(missing) == 1 else 'them'} with the arpeggio alone.")
    lines += _colours(reading, new, known)
    lines += _mode_note(reading)
    leant_on = reading.scale.names[1] if _is_phrygian_tonic(reading) else None
    passed = listed(called(name, known=known) for name in passed_through(reading) if name != leant_on)
    if passed:
        lines.append(f"pass through {passed}." if told else
                     f"pass through {passed}, {WHY_PASSED}, without resting there.")
    if missing and reading.alternatives:
        others = other_scales(reading)
        lines.append(others[0].lower() + others[1:])
    return lines


def _basses(harmony: Harmony, reading: Reading) -> list[str]:
    """What the bass of a chord over another note is in it, here and elsewhere in the changes."""
    own = reading.chord
    here = [] if own.bass is None else [f"its {_bass_degree(own)} is in the bass."]
    others = [chord for chord in other_basses(harmony, reading) if chord.bass is not None]
    return here + [f"{chord.pretty} has its {_bass_degree(chord)} in the bass." for chord in others]


def _bass_degree(chord: Chord) -> str:
    assert chord.bass is not None
    degree = degree_over(chord.without_bass(), chord.bass.fifths, chord.bass.pitch_class)
    return pretty_accidentals(counted_degree(degree, chord.without_bass()))


def _colours(reading: Reading, new: Sequence[Called], known: Container[NoteName]) -> list[str]:
    """What colours the chord, from its 7th up: notes named as `new` are not named again, nor is the bass a colour."""
    chord = reading.chord
    held = chord.bass.pitch_class if chord.bass is not None else None
    named = {name.pitch_class for name, _ in new}
    instead = _instead_of_a_third(chord)
    every = ((name, counted_degree(degree, chord)) for name, degree in reading.tensions)
    free = sorted(((name, degree) for name, degree in every if name.pitch_class != held),
                  key=lambda one: int(one[1].lstrip("b#")))
    thirds = [one for one in free if instead and one[1] in _THIRDS]  # no colour: there it goes home
    colours = [one for one in free if one[0].pitch_class not in named and one not in thirds]
    lines = []
    if colours and new:
        lines.append(f"{called_with_degrees(colours, known)}, which the home has too, "
                     f"{'colours' if len(colours) == 1 else 'colour'} it.")
    elif colours:
        lines.append(f"colour it with {called_with_degrees(colours, known)}.")
    lines += [f"its {instead} wants to go on to {called_with_degrees(thirds, known)}."] * bool(thirds)
    return lines


def _instead_of_a_third(chord: Chord) -> str:
    """“4th” or “2nd” of a sus chord; nothing of a chord with a 3rd."""
    if set(_THIRDS) & set(chord.degrees):
        return ""
    return next((word for degree, word in _SUSPENDED.items() if degree in chord.degrees), "")


def _mode_note(reading: Reading) -> list[str]:
    """The note that makes a phrygian home what it is: elsewhere a half step above a chord tone is passed through."""
    if not _is_phrygian_tonic(reading):
        return []
    root, second = reading.scale.names[:2]
    degree = counted_degree("b9", reading.chord)
    return [f"{called(second, degree)} is the sound of {reading.home.pretty}: let it fall to {root.pretty}."]


def _is_phrygian_tonic(reading: Reading) -> bool:
    return reading.home.kind == "phrygian" and reading.scale == reading.home


def _of_a_power_chord(reading: Reading) -> list[str]:
    """A root and its 5th ask for no scale of their own: the home's stays, whose 3rd says what the chord could be."""
    chord, home = reading.chord, reading.home
    assert chord.root is not None
    third = {3: "dark", 4: "bright"}
    heard = [(name, third[step]) for name in home.names
             if (step := (name.pitch_class - chord.root.pitch_class) % 12) in third]
    if len(heard) != 1:
        return [f"no 3rd of its own: {home.pretty} stays over it."]
    name, sounds = heard[0]
    return [f"its 3rd in the home is {name.pretty}: whoever plays it makes the chord {sounds}."]


def passed_through(reading: Reading) -> list[NoteName]:
    """The notes that are passed through: nobody passes through a chord tone."""
    own = {tone.name.pitch_class for tone in reading.chord.tones}
    return [note for note in reading.avoid if note.pitch_class not in own]


def other_scales(reading: Reading) -> str:
    others = [scale.pretty for scale in reading.alternatives[:2]]
    return f"{'Another choice is' if len(others) == 1 else 'Other choices are'} {listed(others)}."
