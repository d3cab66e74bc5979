"""What the explorer shows of a chord on the neck: the boards of every position, target shapes with bends, grips.

Boards are draw.neck_board's numbers, so that the browser draws what a printed neck shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from theorylib.names.chords import Chord
from theorylib.names.spelling import Interval, pretty_accidentals
from theorylib.necks.grips import grips
from theorylib.necks.positions import covered, reached, whole_positions
from theorylib.necks.shapes import Shape, by_geometry, target_shapes
from theorylib.necks.tunings import Tuning

from ..draw.neck_board import Board, Sizes, board_data

SIZES = Sizes(fret=64.0, open=46.0, gap=44.0)  # units: a finger's width from string to string
WHOLE, LAST_FRET = 0, 17                       # position 0 is the whole neck
MOST_GRIPS = 8
MOST_BEND = 2  # semitones


def boards_data(tuning: Tuning) -> dict[str, Any]:
    """By position as text (0 is the whole neck) the window that is drawn, and the frets under the four fingers."""
    strings = len(tuning.open_strings)
    last = min(LAST_FRET, tuning.last_fret)
    found = {str(WHOLE): board_data(Board(0, last, strings, SIZES), tuning) | {"hand": [0, last]}}
    for position in whole_positions(tuning):
        frets, hand = reached(position, tuning), covered(position, tuning)
        first = 0 if frets[0] == 1 else frets[0]
        found[str(position)] = board_data(Board(first, frets[-1], strings, SIZES), tuning) | {
            "hand": [hand[0], hand[-1]]}
    return found


def shapes_data(chord: Chord, degrees: str, tuning: Tuning) -> list[dict[str, Any]]:
    """Every shape of some degrees along the neck with its bends; `family` is equal for the same shape elsewhere."""
    found = target_shapes(chord, degrees, tuning)
    families = {geometry: number for number, geometry in enumerate(by_geometry(found))}
    return [_shape(shape, families[shape.geometry], chord) for shape in found]


def _shape(shape: Shape, family: int, chord: Chord) -> dict[str, Any]:
    assert chord.root is not None
    return {
        "family": family, "low": shape.low_fret, "high": shape.high_fret,
        "places": [[place.string, place.fret, pretty_accidentals(place.degree),
                    chord.root.up(Interval.of_degree(place.degree)).pretty] for place in shape.places],
        "bends": [[bend.string, bend.fret, bend.semitones, pretty_accidentals(bend.degree), bend.finger]
                  for bend in shape.bends if bend.semitones <= MOST_BEND],
    }


def grips_data(chord: Chord, tuning: Tuning) -> Sequence[dict[str, Any]]:
    """The first grips of a chord, best first."""
    return [{"kind": grip.kind, "midis": list(grip.midis),
             "barre": None if grip.barre is None else [grip.barre.fret, grip.barre.thickest, grip.barre.thinnest],
             "places": [[place.string, place.fret, place.finger, pretty_accidentals(place.degree)]
                        for place in grip.places]} for grip in grips(chord, tuning)[:MOST_GRIPS]]
