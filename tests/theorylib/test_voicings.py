"""Voicings: found by search, complete on a small neck, named by their structure."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from theorylib import Chord, Tuning
from theorylib.errors import NeckError
from theorylib.necks.tunings import STANDARD
from theorylib.necks.voicings import string_sets, voicings


def test_complete_on_a_small_neck() -> None:
    """Brute force over every fret on three strings and five frets: tones only, all of them, at most three fingers."""
    neck = replace(Tuning.parse("bass"), frets=5)
    wanted = {pitch.pitch_class for pitch in Chord.parse("Am").names}
    expected = set()
    for frets in product(range(6), repeat=3):
        sounding = {neck.midi(string, fret) % 12 for string, fret in zip((3, 2, 1), frets, strict=True)}
        fretted = [fret for fret in frets if fret]
        if sounding <= wanted and {9, 0} <= sounding and (not fretted or max(fretted) - min(fretted) <= 4):
            expected.add(frets)
    found = {voicing.frets(neck)[1:] for voicing in voicings("Am", (3, 2, 1), neck, highest_fret=5)}
    assert found == expected


@pytest.mark.parametrize(("symbol", "strings", "frets", "kind"), [
    ("Cmaj7", (5, 4, 3, 2), (3, 5, 4, 5), "drop 2"),
    ("Dm7", (4, 3, 2, 1), (0, 2, 1, 1), "drop 2"),
    ("G7", (6, 4, 3, 2), (3, 3, 4, 3), "drop 3"),
    ("Am7", (6, 4, 3), (5, 5, 5), "shell"),
])
def test_usual_grips_are_found_and_named(symbol: str, strings: tuple[int, ...], frets: tuple[int, ...],
                                         kind: str) -> None:
    """Common practice, no source."""
    found = {tuple(fret for fret in voicing.frets(STANDARD) if fret is not None): voicing.kind
             for voicing in voicings(symbol, strings)}
    assert found[frets] == kind


def test_a_slash_bass_is_the_lowest_note() -> None:
    found = voicings("C/G", (6, 5, 4, 3))
    assert found
    assert all(STANDARD.midi(voicing.places[0].string, voicing.places[0].fret) % 12 == 7 for voicing in found)


def test_string_sets_and_refusal() -> None:
    assert string_sets(4) == ((6, 5, 4, 3), (5, 4, 3, 2), (4, 3, 2, 1))
    assert len(string_sets(3, neighbouring=False)) == 20
    with pytest.raises(NeckError, match="no voicing"):
        voicings("N.C.")
