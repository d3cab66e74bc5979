"""What MusicXML says of whole bars: keys, meters, tempos, tunings, repeats; and the words by which our files keep more.

Sources: MusicXML 4.0 (W3C), the elements named in each function.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import lcm
from typing import Any

from theorylib.changes.meters import Meter
from theorylib.errors import VampError, shown
from theorylib.limits import METER_BEATS, exact
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName, Pitch
from theorylib.necks.tunings import Tuning

from .musicxml_chords import name_of
from .scores import Jumps, Ledger

# A mode of the standard: the steps along the line of fifths from the signature's major tonic to its own.
MODES = {"major": 0, "ionian": 0, "minor": 3, "aeolian": 3, "dorian": 2, "phrygian": 4, "lydian": -1, "mixolydian": 1,
         "locrian": 5}
_SCALE_OF = {"ionian": "major", "aeolian": "minor"}
_TYPES: dict[str, Fraction | int] = {
    "maxima": 32, "long": 16, "breve": 8, "whole": 4, "half": 2, "quarter": 1,
    **{name: Fraction(1, 2 ** power) for power, name in enumerate(
        ("eighth", "16th", "32nd", "64th", "128th", "256th", "512th", "1024th"), 1)}}
# Attributes of a sound element and what they set.
_SOUNDS: dict[str, dict[str, Any]] = {
    "segno": {"segno": True}, "coda": {"coda": True}, "tocoda": {"to_coda": True}, "fine": {"fine": True},
    "dacapo": {"back_to": "start"}, "dalsegno": {"back_to": "segno"},
}
MOST_PLAYS = 64  # of a repeat
_OWN = "vampbook "  # begins the words that our own files keep, which no other program shows


def own_text(name: str, value: str) -> str:
    """Words for an other-direction or other-notation that `own_words` reads back."""
    return f"{_OWN}{name}: {value}"


def own_words(text: str) -> Iterator[tuple[str, str]]:
    if text.startswith(_OWN):
        name, _, value = text.removeprefix(_OWN).partition(": ")
        yield name, value


def written_beats(note: ElementTree.Element) -> Fraction | None:
    """The length that type, dots and tuplet of a note say, in beats; None where it has no type."""
    kind = (note.findtext("type") or "").strip()
    if kind not in _TYPES:
        return None
    dots = min(4, len(note.findall("dot")))
    length = Fraction(_TYPES[kind]) * (2 - Fraction(1, 2 ** dots))
    actual, normal = note.findtext("time-modification/actual-notes"), note.findtext("time-modification/normal-notes")
    if actual and normal:
        over = exact(actual, "number of notes")
        length = length * exact(normal, "number of notes") / over if over else length
    return length


def key_of(element: ElementTree.Element, bar: str, ledger: Ledger) -> Scale | None:
    """The key of a signature and a mode; a signature without a mode is read as its major key, and that is said."""
    text, mode = element.findtext("fifths"), (element.findtext("mode") or "").strip().lower()
    if text is None:
        ledger.say("a key signature that is not made of fifths is left out", bar)
        return None
    fifths = int(exact(text, "key signature"))
    if abs(fifths) > 7:
        raise VampError(f"a signature of {shown(abs(fifths))} signs", value=fifths, expected="7 at most")
    if mode not in MODES:
        if fifths:
            ledger.say(f"the key signature names no mode: read as {NoteName.at(fifths)} major", bar)
        return Scale(NoteName.at(fifths), "major") if fifths else None
    return Scale(NoteName.at(fifths + MODES[mode]), _SCALE_OF.get(mode, mode))


def meter_of(element: ElementTree.Element, bar: str, ledger: Ledger) -> Meter | None:
    """The meter, compound ones added up; None where the bars are free of one."""
    if element.find("senza-misura") is not None:
        ledger.say("bars without a meter", bar)
        return None
    beats, units = element.findall("beats"), element.findall("beat-type")
    lengths = [(sum((exact(part, "number of beats") for part in (one.text or "").split("+")), Fraction(0)),
                exact(two.text or "", "beat")) for one, two in zip(beats, units, strict=False)]
    if not lengths or any(unit.denominator != 1 or unit <= 0 for _, unit in lengths):
        raise VampError("a meter without beats", value=element.tag, expected="beats and their value")
    unit = lcm(*(int(unit) for _, unit in lengths))
    count = sum((number * unit / one for number, one in lengths), Fraction(0))
    if unit > 16 or count.denominator != 1 or not METER_BEATS[0] <= count <= METER_BEATS[1]:
        raise VampError(f"a meter of {shown(count)}/{unit}", value=str(count), expected="1 to 32 beats, 16ths at least")
    return Meter(int(count), unit)


def tempo_of(metronome: ElementTree.Element) -> Fraction | None:
    """Quarter notes a minute of a metronome mark; None where it gives no plain number."""
    text = (metronome.findtext("per-minute") or "").strip()
    unit = (metronome.findtext("beat-unit") or "quarter").strip()
    try:
        number = exact(text, "tempo")
    except VampError:
        return None  # “c. 120”, or one note set against another
    dots = min(4, len(metronome.findall("beat-unit-dot")))
    length = Fraction(_TYPES.get(unit, 1)) * (2 - Fraction(1, 2 ** dots))
    return (number * length).limit_denominator(100)


def tuning_of(details: ElementTree.Element, bar: str, ledger: Ledger) -> Tuning | None:
    """The open strings and capo of a staff, which the standard counts from the lowest line up."""
    rows = [(exact(one.get("line", "0"), "line"), one) for one in details.findall("staff-tuning")]
    if not rows:
        return None
    try:
        strings = [Pitch(name_of(one, "tuning"), int(exact(one.findtext("tuning-octave", ""), "octave")))
                   for _, one in sorted(rows, key=lambda row: row[0])]
        return Tuning(tuple(reversed(strings)), int(exact(details.findtext("capo", "0"), "capo")))
    except VampError as error:
        ledger.say(f"the tuning of the staff cannot be read ({error.message})", bar)
        return None


def jumps_of(element: ElementTree.Element, jumps: Jumps) -> Jumps:
    """The repeats, endings and jumps of a barline or a sound element, added to those of the measure."""
    repeat, ending = element.find("repeat"), element.find("ending")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            jumps = replace(jumps, opens=True)
        else:
            times = exact(repeat.get("times", "2"), "number of repeats")
            jumps = replace(jumps, closes=min(max(int(times), 2), MOST_PLAYS))
    if ending is not None:
        turns = [int(word) for word in ending.get("number", "").replace(",", " ").split()
                 if word.isascii() and word.isdigit() and 0 < int(word[:3]) <= MOST_PLAYS]
        starts = ending.get("type") == "start"
        jumps = replace(jumps, endings=tuple(turns)) if starts else replace(jumps, ending_stops=True)
    for name, change in _SOUNDS.items():
        if element.tag == "sound" and element.get(name) not in (None, "", "no"):
            jumps = replace(jumps, **change)
    return jumps
