"""What each chord of some changes asks for beside scale and tones: its colours, what to pass through, its basses."""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.names.chords import Chord
from theorylib.names.spelling import NoteName
from theorylib.reading.chordscales import counted_degree
from theorylib.reading.harmony import Harmony, Reading

from .prose import (
    bars_of_readings,
    called,
    called_with_degrees,
    in_bars,
    is_power,
    listed,
    other_basses,
    readings,
)

WHY_PASSED = "a half step above a chord tone"


def chord_notes(harmony: Harmony, among: Sequence[Reading] | None = None, *, against_home: bool = False) -> list[str]:
    """An item for each chord of the changes (or those `among` them), each explained once: what the table of the changes
    does not say. Its scale and its tones stand there.

    `against_home` names the notes of its scale that the home has not. Why a note is only passed through is said once.
    """
    bars = bars_of_readings(harmony)
    chosen = readings(harmony) if among is None else list(among)
    chords = [reading.chord.without_bass() for reading in chosen]
    found: list[str] = []
    for reading, chord in zip(chosen, chords, strict=True):
        told = any(WHY_PASSED in item for item in found)
        lines = [_new_against_home(reading)] * against_home + _chord_lines(harmony, reading, told)
        if not lines:
            continue
        where = in_bars(bars[chord, reading.scale])
        several = against_home or chords.count(chord) > 1  # then the bars say which is meant
        head = f"**{reading.chord.pretty}**" + f" ({where})" * several
        found.append(f"- {head}: {lines[0]} " + " ".join(line[0].upper() + line[1:] for line in lines[1:]))
    return [item.strip() for item in found]


def _new_against_home(reading: Reading) -> str:
    """What the scale has and the home has not, by the names of the chord where it has them."""
    own = {name.pitch_class: name for name in reading.chord.names}
    new = [called(own.get(name.pitch_class, name)) for name in reading.scale.names
           if name.pitch_class not in reading.home.pitch_classes]
    return f"{listed(new)} {'is' if len(new) == 1 else 'are'} new against the home."


def _chord_lines(harmony: Harmony, reading: Reading, told: bool) -> list[str]:
    """What to know of one chord, a sentence an item; `told` is whether the lesson has said why notes are passed."""
    chord, scale = reading.chord, reading.scale
    if is_power(chord):
        return _of_a_power_chord(reading)
    lines = [f"the bass plays {chord.bass.pretty}."] if chord.bass is not None else []
    lines += [over_another_bass(other) for other in other_basses(harmony, reading)]
    odd = [tone.name for tone in chord.tones if abs(tone.name.accidental) > 1]
    if odd:
        lines.append(f"on the neck {listed(map(called, odd))}.")
    missing = [tone.name for tone in chord.tones if tone.name.pitch_class not in scale.pitch_classes]
    if missing:
        lines.append(f"its {listed(name.pretty for name in missing)} "
                     f"{'lies' if len(missing) == 1 else 'lie'} outside the scale: play "
                     f"{'it' if len(missing) == 1 else 'them'} with the arpeggio alone.")
    if reading.tensions:
        colours = [(name, counted_degree(degree, chord)) for name, degree in reading.tensions]
        lines.append(f"colour it with {called_with_degrees(colours)}.")
    passed = listed(map(called, passed_through(reading)))
    if passed:
        lines.append(f"pass through {passed} without resting." if told else
                     f"pass through {passed}, {WHY_PASSED}, without resting there.")
    if missing and reading.alternatives:
        others = other_scales(reading)
        lines.append(others[0].lower() + others[1:])
    return lines


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


def over_another_bass(other: Chord) -> str:
    return f"{other.pretty} is the same chord with {other.bass.pretty if other.bass else 'its root'} in the bass."


def missing_words(missing: Sequence[NoteName]) -> str:
    return (f"Its {listed(name.pretty for name in missing)} lies outside that scale: "
            "play it with the arpeggio and leave it out of the scale.")


def passed_through(reading: Reading) -> list[NoteName]:
    """The notes that are passed through: nobody passes through a chord tone."""
    own = {tone.name.pitch_class for tone in reading.chord.tones}
    return [note for note in reading.avoid if note.pitch_class not in own]


def other_scales(reading: Reading) -> str:
    others = [scale.pretty for scale in reading.alternatives[:2]]
    return f"{'Another choice is' if len(others) == 1 else 'Other choices are'} {listed(others)}."
