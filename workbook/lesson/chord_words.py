"""Sentences on each chord of some changes: its scale, its tones and colours, what to pass through, its basses."""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.names.chords import Chord
from theorylib.names.spelling import NoteName
from theorylib.reading.harmony import Harmony, Reading

from .prose import (
    bars_of_readings,
    called,
    called_with_degrees,
    in_bars,
    is_power,
    listed,
    origin,
    other_basses,
    readings,
)

WHY_PASSED = "a half step above a chord tone"


def chord_paragraphs(harmony: Harmony, among: Sequence[Reading] | None = None) -> list[str]:
    """A paragraph for each chord of the changes (or those `among` them), each explained once, with its bars.

    Why a note is only passed through is said once.
    """
    bars = bars_of_readings(harmony)
    grouped: dict[Chord, list[Reading]] = {}
    for reading in readings(harmony) if among is None else among:
        grouped.setdefault(reading.chord.without_bass(), []).append(reading)
    found: list[str] = []
    for chord, of_it in grouped.items():
        told = any(WHY_PASSED in paragraph for paragraph in found)
        lines = _chord_lines(of_it[0], other_basses(harmony, of_it[0]), bars[chord, of_it[0].scale], told)
        lines += [f"In {in_bars(bars[chord, other.scale])} it takes **{other.scale.pretty}** ({origin(other.scale)})."
                  for other in of_it[1:]]
        found.append(" ".join(lines))
    return found


def _chord_lines(reading: Reading, basses: Sequence[Chord], bars: str, told: bool) -> list[str]:
    """What to know of one chord, a sentence an item; `told` is whether the lesson has said why notes are passed."""
    chord, scale = reading.chord, reading.scale
    if is_power(chord):
        return _of_a_power_chord(reading, bars)
    lines = [f"**{chord.pretty}** ({in_bars(bars)}) takes **{scale.pretty}** ({origin(scale)}).",
             f"The chord sounds {called_with_degrees((tone.name, tone.degree) for tone in chord.tones)}."]
    if chord.bass is not None:
        lines.append(f"The bass plays {chord.bass.pretty}.")
    lines += [over_another_bass(other) for other in basses]
    missing = [tone.name for tone in chord.tones if tone.name.pitch_class not in scale.pitch_classes]
    if missing:
        lines.append(missing_words(missing))
    if reading.tensions:
        lines.append(f"Colour it with {called_with_degrees(reading.tensions)}.")
    passed = listed(map(called, passed_through(reading)))
    if passed:
        lines.append(f"Pass through {passed} without resting." if told else
                     f"Pass through {passed}, {WHY_PASSED}, without resting there.")
    if missing and reading.alternatives:
        lines.append(other_scales(reading))
    return lines


def _of_a_power_chord(reading: Reading, bars: str) -> list[str]:
    """A root and its 5th ask for no scale of their own: the home's stays, whose 3rd says what the chord could be."""
    chord, home = reading.chord, reading.home
    assert chord.root is not None
    fifth = listed(tone.name.pretty for tone in chord.tones)
    third = {3: "dark", 4: "bright"}
    heard = [(name, third[step]) for name in home.names
             if (step := (name.pitch_class - chord.root.pitch_class) % 12) in third]
    lines = [f"**{chord.pretty}** ({in_bars(bars)}) is {fifth} and nothing else, so **{home.pretty}** stays over it."]
    if len(heard) == 1:
        name, sounds = heard[0]
        lines.append(f"Its 3rd there is {name.pretty}: whoever plays it makes the chord {sounds}.")
    return lines


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
