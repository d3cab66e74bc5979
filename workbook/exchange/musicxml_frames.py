"""A grip as MusicXML's diagram of a chord: the frets, the fingers and the barre of the grip that is taught first."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from theorylib.errors import NeckError
from theorylib.names.chords import Chord
from theorylib.necks.grips import ChordGrip, grips
from theorylib.necks.tunings import Tuning

from .musicxml_staves import add

FEWEST_FRETS = 4


def frame_of(chord: Chord, tuning: Tuning) -> ElementTree.Element | None:
    """The diagram of a chord; None where no hand can hold it on this neck."""
    try:
        found = grips(chord, tuning)
    except NeckError:
        return None
    return _frame(found[0], len(tuning.open_strings)) if found else None


def _frame(grip: ChordGrip, strings: int) -> ElementTree.Element:
    pressed = [place.fret for place in grip.places if place.fret]
    first = 1 if max(pressed, default=1) <= FEWEST_FRETS else min(pressed)
    frame = ElementTree.Element("frame")
    add(frame, "frame-strings", str(strings))
    add(frame, "frame-frets", str(max(FEWEST_FRETS, max(pressed, default=1) - first + 1)))
    if first > 1:
        add(frame, "first-fret", str(first))
    for place in sorted(grip.places, reverse=True):  # from the thickest string
        note = add(frame, "frame-note")
        add(note, "string", str(place.string))
        add(note, "fret", str(place.fret))
        if place.finger:
            add(note, "fingering", str(place.finger))
        barre = grip.barre
        if barre is not None and place.fret == barre.fret and place.string in (barre.thickest, barre.thinnest):
            add(note, "barre", type="start" if place.string == barre.thickest else "stop")
    return frame
